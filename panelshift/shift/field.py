"""The fields that carry the drafts of all panels to layers."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from ..body.turn import TurnOfCloth
from ..outline import FloatArray
from ..outline.bezier import IntArray
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

        *points*, *speeds*: ndarray, shape (k, 2). In panel coordinates. *layer*: ndarray of int,
        shape (k,) or (layers, 1). Layer that each is carried to; or the layers that all are carried
        to. *panel*: ndarray of int, shape (k,). Panel that each lies on. *pinned*: ndarray, shape
        (k,). 0 for points of the front edge, 1 for points of the back edge, else `FREE`.

        Returns: ndarray, shape (k, 2) or (layers, k, 2).
        """
        edges, count = self.turn.profile, len(points)
        u, v = points[:, 0], points[:, 1]
        du, dv = speeds[:, 0], speeds[:, 1]
        edge, both = np.concatenate([2 * panel, 2 * panel + 1]), np.concatenate([v, v])
        spots = edges.at_heights(both, edge)
        sides, side_rates, rises = edges.across(both, spots)
        front, front_rate = sides[:count], side_rates[:count]
        width, width_rate = sides[count:] - front, side_rates[count:] - front_rate
        d = self.distances[layer, panel]
        growth, tilts = self.turn.grown_and_tilts(v, panel)
        grown, grown_rate = (d * part for part in growth)
        layers = layer if layer.ndim == 2 else np.concatenate([layer, layer])
        tilted = tilts[0].ravel(), tilts[1].ravel()
        moved, rates = self.lengthening.read(layers, edge, both, spots, rises, tilted)
        low, low_rate = moved[..., :count], rates[..., :count]
        spread, spread_rate = moved[..., count:] - low, rates[..., count:] - low_rate

        free = pinned == FREE
        q = np.where(free, (u - front) / width, pinned)
        across = du - dv * (front_rate + q * width_rate)
        dq = np.where(free, across / width, 0.0)
        held = q - self.anchors[panel]
        images = np.empty((*low.shape, 2))
        images[..., 0] = u + grown * held
        images[..., 1] = v + low + q * spread
        image_speeds = np.empty_like(images)
        image_speeds[..., 0] = du + grown_rate * dv * held + grown * dq
        image_speeds[..., 1] = dv + (low_rate + q * spread_rate) * dv + spread * dq
        return images, image_speeds

    def narrow(self, heights: FloatArray) -> npt.NDArray[np.bool_]:
        """Where panels would have no width left, shape (layers, panels, m)."""
        grown = self.distances[:, :, None] * self.turn.growth_on(heights)
        result: npt.NDArray[np.bool_] = self.turn.profile.widths_at(heights) + grown <= 0.0
        return result
