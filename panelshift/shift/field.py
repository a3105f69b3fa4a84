"""The fields that carry the drafts of all panels to layers."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import numpy as np
import numpy.typing as npt

from ..body.turn import TurnOfCloth
from ..construction.growth import Growth
from ..outline import FloatArray
from ..outline.bezier import IntArray
from ..pattern.profile import Profile, Spots
from .lengthening import Lengthening, ToldStrain, every_node

_TIP_MM: Final = 12.0
"""Over so many mm from its tip a gore begins to grow as the body turns under it."""

_LEAST_WIDTH_MM: Final = 1e-6

FREE: Final = -1.0
"""Stands for `pinned` where a point's place across the panel is to be computed."""


@dataclass(frozen=True, eq=False)
class Fields:
    """u' = u + g(v) (q - a), v' = v + (1 - q) l_front(v) + q l_back(v), for layers and panels.

    Here q runs from 0 at the front edge to 1 at the back edge at the point's height, g is
    the growth, a the anchor and l the lengthening at each edge.

    *turn*: Its profile holds the edges' u. *growth*: g, and how far the layers lie out at the
    edges. *anchors*: ndarray, shape (panels,). q of the line that stays where it is. *lengthening*:
    l at both edges. *at_tips*: ndarray, shape (layers, panels). What a smooth growth leaves in mm
    at the tip of a gore, where there is nothing to grow: it is taken off there, and less and less
    beside it.
    """

    turn: TurnOfCloth
    growth: Growth
    anchors: FloatArray
    lengthening: Lengthening
    at_tips: FloatArray | None = None

    @property
    def count(self) -> int:
        """Layers that they carry to."""
        return len(self.growth.distances)

    @classmethod
    def of(cls, turn: TurnOfCloth, growth: Growth, anchors: FloatArray) -> Fields:
        """Make the fields of layers that grow so."""
        at_tips = None
        if turn.profile.pointed is not None:
            tips = turn.profile.tips
            heights, panel = np.nan_to_num(tips), np.arange(len(tips))
            layers = np.arange(len(growth.distances))[:, None]
            grown, _ = growth.grown(layers, panel, heights, turn.grown(heights, panel))
            at_tips = np.where(np.isnan(tips), 0.0, grown)
        fields = cls(turn, growth, anchors, Lengthening.of(turn, growth, anchors), at_tips)
        if turn.places.lines is None:
            return fields
        told = fields._in_slits(turn.places.lines)
        return replace(fields, lengthening=Lengthening.of(turn, growth, anchors, told))

    def _in_slits(self, lines: Profile) -> ToldStrain:
        """The strain of slits as their panels are carried, where gores are sewn to them."""
        edges, places = self.turn.profile, self.turn.places
        slit = np.array([places.edges_in_slits.get(k, -1) for k in range(len(edges.starts) - 1)])
        nodes = every_node(edges)
        own = np.flatnonzero(slit[edges.owner[nodes.piece]] >= 0)
        nodes = Spots(nodes.piece[own], nodes.t[own])
        slit = slit[edges.owner[nodes.piece]]
        # Both are counted from the gore's tip.
        spots = lines.at_arcs(edges.arc_at(nodes), slit)
        points, speeds = np.stack(lines.point(spots), 1), np.stack(lines.velocity(spots), 1)
        layers, free = np.arange(self.count)[:, None], np.full(len(own), FREE)
        _, carried = self.carry(points, speeds, layers, places.slit_panels[slit], free)
        size = np.hypot(*speeds.T)
        return ToldStrain(own, np.hypot(carried[..., 0], carried[..., 1]) / size - 1.0)

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
        turned, tilts = self.turn.grown_and_tilts(v, panel)
        grown, grown_rate = self.growth.grown(layer, panel, v, turned)
        if self.at_tips is not None:
            left, left_rate = self._left_at_tips(layer, panel, v)
            grown, grown_rate = grown - left, grown_rate - left_rate
            width = np.maximum(width, _LEAST_WIDTH_MM)
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

    def _left_at_tips(
        self, layer: IntArray, panel: IntArray, v: FloatArray
    ) -> tuple[FloatArray, FloatArray]:
        """What is to be taken off growth near tips, and its rate, as `Growth.grown` has them."""
        assert self.at_tips is not None
        past = v - np.nan_to_num(self.turn.profile.tips)[panel]
        left = self.at_tips[layer, panel] * np.exp(-np.abs(past) / _TIP_MM)
        return left, -np.sign(past) / _TIP_MM * left

    def narrow(self, heights: FloatArray) -> npt.NDArray[np.bool_]:
        """Where panels would have no width left, shape (layers, panels, m)."""
        grown = self.growth.on(heights)
        edges = self.turn.profile
        result: npt.NDArray[np.bool_] = edges.widths_at(heights) + grown <= 0.0
        # Whether the edges of a gore cross near its tip is seen on its outline.
        return result & edges.there(heights, _TIP_MM)
