"""The fields that carry the drafts of all panels to layers."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from ..body.turn import TurnOfCloth
from ..outline import FloatArray
from ..outline.bezier import IntArray
from ..outline.places import Places
from .seams import Lengthening

FREE: Final = -1.0
"""Stands for `pinned` where a point's place across the panel is to be computed."""


@dataclass(frozen=True, eq=False)
class Fields:
    """u' = u + g(v) (q - a), v' = v + (1 - q) l_front(v) + q l_back(v), for layers and panels.

    Here q runs from 0 at the front edge to 1 at the back edge at the point's height, g is
    the growth, a the anchor and l the lengthening at each edge.

    Parameters
    ----------
    turn : TurnOfCloth
        Its profile holds the edges' u.
    distances : ndarray, shape (layers, panels)
        In mm.
    anchors : ndarray, shape (panels,)
        q of the line that stays where it is.
    lengthening : Lengthening
        l at both edges.
    """

    turn: TurnOfCloth
    distances: FloatArray
    anchors: FloatArray
    lengthening: Lengthening

    @classmethod
    def of(cls, turn: TurnOfCloth, distances: FloatArray, anchors: FloatArray) -> Fields:
        """Make the fields of layers at distances from the drafted one."""
        return cls(turn, distances, anchors, Lengthening.of(turn, distances, anchors))

    def carry(
        self,
        points: FloatArray,
        speeds: FloatArray,
        layer: IntArray,
        panel: IntArray,
        pinned: FloatArray,
    ) -> tuple[FloatArray, FloatArray]:
        """Images of points and of vectors at them.

        Parameters
        ----------
        points, speeds : ndarray, shape (k, 2)
            In panel coordinates.
        layer, panel : ndarray of int, shape (k,)
            Layer that each is carried to, and panel that it lies on.
        pinned : ndarray, shape (k,)
            0 for points of the front edge, 1 for points of the back edge, else `FREE`.

        Returns
        -------
        images, image_speeds : ndarray, shape (k, 2)
        """
        edges, growth = self.turn.profile, self.turn.growth
        u, v = points[:, 0], points[:, 1]
        du, dv = speeds[:, 0], speeds[:, 1]
        at = Places.even(v, edges.heights)
        front, front_rate = at.read_rows(edges.front, panel)
        back, back_rate = at.read_rows(edges.back, panel)
        width, width_rate = back - front, back_rate - front_rate
        d = self.distances[layer, panel]
        grown, grown_rate = (d * part for part in at.read_rows(growth, panel))
        low, low_rate = self.lengthening.at(layer, 2 * panel, v)
        high, high_rate = self.lengthening.at(layer, 2 * panel + 1, v)
        spread, spread_rate = high - low, high_rate - low_rate

        free = pinned == FREE
        q = np.where(free, (u - front) / width, pinned)
        across = du - dv * (front_rate + q * width_rate)
        dq = np.where(free, across / width, 0.0)
        held = q - self.anchors[panel]
        images = np.empty_like(points)
        images[:, 0] = u + grown * held
        images[:, 1] = v + low + q * spread
        image_speeds = np.empty_like(points)
        image_speeds[:, 0] = du + grown_rate * dv * held + grown * dq
        image_speeds[:, 1] = dv + (low_rate + q * spread_rate) * dv + spread * dq
        return images, image_speeds

    def narrow(self) -> npt.NDArray[np.bool_]:
        """Where panels would have no width left, shape (layers, panels, m)."""
        grown = self.distances[:, :, None] * self.turn.growth
        result: npt.NDArray[np.bool_] = self.turn.profile.widths + grown <= 0.0
        return result
