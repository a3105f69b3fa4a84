"""The fields that carry the drafts of all panels to one layer."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from ..outline import FloatArray
from ..outline.curve import IntArray

FREE: Final = -1.0
"""Stands for `pinned` where a point's place across the panel is to be computed."""


@dataclass(frozen=True, eq=False)
class Fields:
    """u' = u + g(v) (q - a), v' = v + (1 - q) l_front(v) + q l_back(v), panel by panel.

    Here q runs from 0 at the front edge to 1 at the back edge at the point's height, g is
    the growth, a the anchor and l the lengthening at each edge.

    Parameters
    ----------
    heights : ndarray, shape (m,)
        Evenly spaced, in mm.
    rows : ndarray, shape (panels, m, 5)
        Front edge u, back edge u, growth, lengthening at the front and at the back, in mm.
    anchors : ndarray, shape (panels,)
        q of the line that stays where it is.
    rates : ndarray, shape (panels, m, 5)
        Change of the rows for each mm of height.
    """

    heights: FloatArray
    rows: FloatArray
    anchors: FloatArray
    rates: FloatArray

    @classmethod
    def of(cls, heights: FloatArray, rows: FloatArray, anchors: FloatArray) -> Fields:
        """Make fields; the rates of change are differences between heights."""
        step = float(heights[1] - heights[0])
        rates = np.zeros_like(rows)
        rates[:, :-1] = np.diff(rows, axis=1) / step
        return cls(heights, rows, anchors, rates)

    def carry(
        self, points: FloatArray, speeds: FloatArray, panel: IntArray, pinned: FloatArray
    ) -> tuple[FloatArray, FloatArray]:
        """Images of points and of vectors at them.

        Parameters
        ----------
        points, speeds : ndarray, shape (m, 2)
            In panel coordinates.
        panel : ndarray of int, shape (m,)
            Index of the panel that each lies on.
        pinned : ndarray, shape (m,)
            0 for points of the front edge, 1 for points of the back edge, else `FREE`.

        Returns
        -------
        images, image_speeds : ndarray, shape (m, 2)
        """
        u, v = points[:, 0], points[:, 1]
        du, dv = speeds[:, 0], speeds[:, 1]
        step = self.heights[1] - self.heights[0]
        place = np.clip((v - self.heights[0]) / step, 0.0, len(self.heights) - 1.001)
        index = place.astype(np.int64)
        rate = self.rates[panel, index]
        row = self.rows[panel, index] + rate * ((place - index) * step)[:, None]
        front, width = row[:, 0], row[:, 1] - row[:, 0]
        free = pinned == FREE
        q = np.where(free, (u - front) / width, pinned)
        across = du - dv * (rate[:, 0] + q * (rate[:, 1] - rate[:, 0]))
        dq = np.where(free, across / width, 0.0)
        growth, spread, held = row[:, 2], row[:, 4] - row[:, 3], q - self.anchors[panel]
        images = np.empty_like(points)
        images[:, 0] = u + growth * held
        images[:, 1] = v + row[:, 3] + q * spread
        image_speeds = np.empty_like(points)
        image_speeds[:, 0] = du + rate[:, 2] * dv * held + growth * dq
        along = rate[:, 3] + q * (rate[:, 4] - rate[:, 3])
        image_speeds[:, 1] = dv + along * dv + spread * dq
        return images, image_speeds
