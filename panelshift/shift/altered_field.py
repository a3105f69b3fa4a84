"""The map that carries a draft whose edges are let out or taken in: seams still walk."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from ..errors import AlterationError
from ..outline import FloatArray
from ..outline.bezier import IntArray
from ..outline.splines import Spline
from ..pattern.edge_pieces import profile
from ..pattern.pattern import Pattern
from ..pattern.profile import SIDES, Profile, Spots, run_out
from .alteration import EdgeChange
from .field import FREE

_NO_WIDTH_MM: Final = 1e-9
_STEEP: Final = 0.2
"""An edge that rises by less than this part of its length cannot take up a strain."""


@dataclass(frozen=True, eq=False)
class AlteredField:
    """u' = u - (1 - q) a_front(v) + q a_back(v), v' = v + (1 - q) l_front(v) + q l_back(v).

    q runs from 0 at a panel's front edge to 1 at its back edge, a is how far an edge moves
    outwards, l how far along the panel, so that both edges of a seam change their lengths alike.
    """

    profile: Profile
    changes: tuple[EdgeChange, ...]
    along: dict[int, Spline]

    @classmethod
    def of(cls, pattern: Pattern, changes: Sequence[EdgeChange]) -> AlteredField:
        """Find how far edges must move along their panels."""
        bare = cls(profile(pattern), tuple(changes), {})
        touched = {change.edge for change in changes}
        along = {}
        for seam in pattern.seams:
            one = 2 * seam.first + SIDES.index(seam.first_edge)
            two = 2 * seam.second + SIDES.index(seam.second_edge)
            if touched & {one, two}:
                along[one], along[two] = bare.shared(one, two), bare.shared(two, one)
        return replace(bare, along=along)

    @property
    def count(self) -> int:
        """One map."""
        return 1

    @property
    def moved(self) -> frozenset[int]:
        """Panels of which anything moves."""
        edges = {change.edge for change in self.changes if change.amount.values.any()}
        edges |= {edge for edge, spline in self.along.items() if spline.values.any()}
        return frozenset(edge // 2 for edge in edges)

    def outwards(self, edge: IntArray, v: FloatArray) -> tuple[FloatArray, FloatArray]:
        """How far edges move outwards at heights, and the rate of it for each mm, shapes (k,)."""
        value, rate = np.zeros_like(v), np.zeros_like(v)
        for change in self.changes:
            here = edge == change.edge
            value[here] += change.amount.at(v[here])
            rate[here] += change.amount.rates(v[here])
        return value, rate

    def lengthening(self, edge: IntArray, v: FloatArray) -> tuple[FloatArray, FloatArray]:
        """How far edges move along their panels at heights, and the rate of it, shapes (k,)."""
        value, rate = np.zeros_like(v), np.zeros_like(v)
        for own, spline in self.along.items():
            here = edge == own
            within = np.clip(v[here], *self.profile.ends[own])
            beyond, slowing = run_out(v[here] - within)
            slope = spline.rates(within)
            value[here] = spline.at(within) + slope * beyond
            rate[here] = slope * slowing
        return value, rate

    def shared(self, edge: int, mate: int) -> Spline:
        """How far an edge moves along its panel, so that it is strained as its mate is."""
        pieces = np.arange(self.profile.starts[edge], self.profile.starts[edge + 1])
        half = np.sqrt(0.15)
        # Gauss's three places in each piece: strains are smooth along it.
        t = np.array([0.5 - half, 0.5, 0.5 + half])
        weights = np.array([5.0, 8.0, 5.0]) / 18.0
        spots = Spots(np.repeat(pieces, 3), np.tile(t, len(pieces)))
        du, dv = self.profile.velocity(spots)
        arcs = self.profile.arc_at(spots)
        size = np.hypot(du, dv)
        own, across = self._strain(edge, spots)
        other = self.profile.at_arcs(arcs, np.full(len(arcs), mate))
        strain = 0.5 * (own + self._strain(mate, other)[0])
        wanted = (size * (1.0 + strain)) ** 2 - across**2
        steep = (dv > _STEEP * size) & (wanted > 0.0) & (strain != own)
        more = np.where(steep, np.sqrt(np.maximum(wanted, 0.0)) - dv, 0.0)
        total = np.concatenate([[0.0], np.cumsum(more.reshape(-1, 3) @ weights)])
        control = self.profile.control[pieces]
        heights = np.append(control[:, 0, 1], control[-1, 3, 1])
        rising = np.append(True, np.diff(np.maximum.accumulate(heights)) > 1e-6)
        heights, total = heights[rising], total[rising]
        total -= np.interp(0.0, heights, total)
        return Spline.monotone(heights, total)

    def _strain(self, edge: int, spots: Spots) -> tuple[FloatArray, FloatArray]:
        """Strain of an edge that moves across only, and what u then changes by with t."""
        du, dv = self.profile.velocity(spots)
        _, v = self.profile.point(spots)
        sign = 1.0 if edge % 2 else -1.0
        _, rate = self.outwards(np.full(len(v), edge), v)
        across = du + sign * rate * dv
        size = np.hypot(du, dv)
        safe = np.where(size > 0.0, size, 1.0)
        strain = np.where(rate == 0.0, 0.0, np.hypot(across, dv) / safe - 1.0)
        return strain, across

    def carry(
        self,
        points: FloatArray,
        speeds: FloatArray,
        layer: IntArray,
        panel: IntArray,
        pinned: FloatArray,
    ) -> tuple[FloatArray, FloatArray]:
        """Images of points and of vectors at them: see `Fields.carry`."""
        edges, count = self.profile, len(points)
        u, v = points.T
        du, dv = speeds.T
        edge, both = np.concatenate([2 * panel, 2 * panel + 1]), np.concatenate([v, v])
        sides, side_rates, _ = edges.across(both, edges.at_heights(both, edge))
        front, front_rate = sides[:count], side_rates[:count]
        width, width_rate = sides[count:] - front, side_rates[count:] - front_rate
        # A gore that stays has no width at its tip.
        width = np.where(np.abs(width) > _NO_WIDTH_MM, width, 1.0)
        free = pinned == FREE
        q = np.where(free, (u - front) / width, pinned)
        dq = np.where(free, (du - dv * (front_rate + q * width_rate)) / width, 0.0)
        out, out_rate = self.outwards(edge, both)
        out[:count] *= -1.0
        out_rate[:count] *= -1.0
        along, along_rate = self.lengthening(edge, both)
        images, image_speeds = np.empty((count, 2)), np.empty((count, 2))
        for axis, (old, old_rate, value, rate) in enumerate(
            ((u, du, out, out_rate), (v, dv, along, along_rate))
        ):
            low, spread = value[:count], value[count:] - value[:count]
            low_rate, spread_rate = rate[:count], rate[count:] - rate[:count]
            images[:, axis] = old + low + q * spread
            image_speeds[:, axis] = old_rate + (low_rate + q * spread_rate) * dv + spread * dq
        return (images[None], image_speeds[None]) if layer.ndim == 2 else (images, image_speeds)


def refuse_gored(pattern: Pattern, changes: Sequence[EdgeChange]) -> None:
    """Refuse to move edges that a gore is sewn to, or panels with one in a slit.

    One amount does not say which edges of the gore change.
    """
    edges = {change.edge for change in changes}
    moved = {edge // 2 for edge in edges}
    for seam in pattern.seams:
        sides = (seam.first, seam.first_edge), (seam.second, seam.second_edge)
        if edges & {2 * k + SIDES.index(edge) for k, edge in sides if edge in SIDES}:
            moved |= {seam.first, seam.second}
    for k in sorted(moved):
        panel = pattern.panels[k]
        gores = [panel.name] if panel.pointed else [slit.piece for slit in panel.slits]
        if gores:
            raise AlterationError(
                f"{gores[0]!r} is a gore in a seam or a panel that is to be altered: which of its "
                "edges change is not told by one amount",
                remedy="Alter another seam; or in the drawing the edges of the gore and those that "
                "it is sewn to.",
                element=gores[0],
            )
