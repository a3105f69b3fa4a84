"""The field that carries the draft of one panel to one layer."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from ..outline import Curve, FloatArray
from ..outline.curve import IntArray, bezier_derivatives, bezier_points
from ..outline.refit import REFIT_TOLERANCE_MM, refit
from ..pattern.panel import Frame

FREE: Final = -1.0
"""Stands for `pinned` where a point's place across the panel is to be computed."""


@dataclass(frozen=True, eq=False)
class Field:
    """u' = u + g(v) (q - a), v' = v + (1 - q) l_front(v) + q l_back(v).

    Here q runs from 0 at the front edge to 1 at the back edge at the point's height, g is
    the growth, a the anchor and l the lengthening at each edge.

    Parameters
    ----------
    frame : Frame
    heights : ndarray, shape (m,)
        Evenly spaced, in mm.
    rows : ndarray, shape (m, 5)
        Front edge u, back edge u, growth, lengthening at the front and at the back, in mm.
    anchor : float
        q of the line that stays where it is.
    """

    frame: Frame
    heights: FloatArray
    rows: FloatArray
    anchor: float
    steps: FloatArray

    @classmethod
    def of(cls, frame: Frame, heights: FloatArray, rows: FloatArray, anchor: float) -> Field:
        """Make a field; the rates of change are differences between heights."""
        step = float(heights[1] - heights[0])
        return cls(frame, heights, rows, anchor, np.diff(rows, axis=0, append=rows[-1:]) / step)

    def _at(self, v: FloatArray) -> tuple[FloatArray, FloatArray]:
        step = self.heights[1] - self.heights[0]
        place = np.clip((v - self.heights[0]) / step, 0.0, len(self.heights) - 1.001)
        index = place.astype(np.int64)
        rates = self.steps[index]
        return self.rows[index] + rates * ((place - index) * step)[:, None], rates

    def carry(
        self, points: FloatArray, speeds: FloatArray, pinned: float = FREE
    ) -> tuple[FloatArray, FloatArray]:
        """Images of points and of vectors at them.

        Parameters
        ----------
        points, speeds : ndarray, shape (m, 2)
            In panel coordinates.
        pinned : float
            0 for points of the front edge, 1 for points of the back edge, else `FREE`.

        Returns
        -------
        images, image_speeds : ndarray, shape (m, 2)
        """
        u, v = points[:, 0], points[:, 1]
        du, dv = speeds[:, 0], speeds[:, 1]
        row, rate = self._at(v)
        front, back, growth, l_front, l_back = row.T
        if pinned == FREE:
            width = back - front
            q = (u - front) / width
            dq = (du - dv * (rate[:, 0] + q * (rate[:, 1] - rate[:, 0]))) / width
        else:
            q = np.full_like(u, pinned)
            dq = np.zeros_like(u)
        along = l_front + q * (l_back - l_front)
        images = np.column_stack([u + growth * (q - self.anchor), v + along])
        d_along = rate[:, 3] + q * (rate[:, 4] - rate[:, 3])
        image_speeds = np.column_stack(
            [
                du + rate[:, 2] * dv * (q - self.anchor) + growth * dq,
                dv + d_along * dv + (l_back - l_front) * dq,
            ]
        )
        return images, image_speeds

    def carry_points(self, points: FloatArray) -> FloatArray:
        """Images of sheet points, shape (m, 2), in sheet coordinates."""
        inner = self.frame.to_panel(points)
        images, _ = self.carry(inner, np.zeros_like(inner))
        return self.frame.to_sheet(images)

    def carry_curve(
        self, curve: Curve, pinned: float = FREE, tolerance: float = REFIT_TOLERANCE_MM
    ) -> Curve:
        """Image of a curve in sheet coordinates, fitted within `tolerance` mm."""
        inner = curve.transformed(self.frame.matrix)

        def image(index: IntArray, t: FloatArray) -> tuple[FloatArray, FloatArray]:
            control = inner.control[index]
            return self.carry(bezier_points(control, t), bezier_derivatives(control, t), pinned)

        fitted = refit(inner, image, tolerance)
        axes = np.stack([self.frame.across, self.frame.up], axis=1)
        return fitted.transformed(np.column_stack([axes, self.frame.origin]))
