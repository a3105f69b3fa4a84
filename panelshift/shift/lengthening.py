"""How far side edges are displaced along their panels: what both sides of a seam share."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from ..body.turn import TurnOfCloth
from ..construction.growth import Growth
from ..outline import FloatArray
from ..outline.bezier import IntArray
from ..pattern.profile import Profile, Spots


@dataclass(frozen=True, eq=False)
class ToldStrain:
    """Strain of some of all nodes of the edges, (layers, k), which is not that of two mates."""

    at: IntArray
    strain: FloatArray


_STEEP_ENOUGH = 0.2
"""An edge that rises by less than this part of its length cannot take up a strain by
moving along the panel; there the natural lengthening stays."""

_LEAST_RISE = 0.05
"""Every part of an edge goes on rising by at least this part of what it rose in the draft."""

_NODES: Final = 0.5 + np.sqrt(0.15) * np.array([-1.0, 0.0, 1.0])
"""Gauss's three places in a piece: a parabola through them is integrated as a quintic is."""

_PARABOLA: Final = np.linalg.inv(np.vander(_NODES, increasing=True))
"""From values at the nodes to the coefficients of 1, t and t^2."""

_CHECKED_MM: Final = 1.0
"""Spacing of the heights at which edges are looked at beyond their ends."""


@dataclass(frozen=True, eq=False)
class Lengthening:
    """Displacement along the panel at the side edges of every panel, in every layer.

    *distances*: ndarray, shape (layers, panels). Distance d of each layer on each panel at the
    waist, in mm. *upright*: ndarray, shape (edges,). Tilt of each edge at the waist in radians.
    *shared*: ndarray, shape (layers, 4, k). What sharing adds to the natural displacement over each
    piece of the edges, in mm: its value at the lower end, and the coefficients of t, t^2 and t^3.
    *rises*: ndarray, shape (layers, 3, k). What is left of dv / dt at the nodes of each piece.

    Notes
    -----
    By itself an edge is displaced by d (tilt(0) - tilt(v)) along the panel and by its part
    of the growth across it. Two mates that lean differently would then stretch by slightly
    different amounts, though on the body they are one line. So both take the mean of their
    strains at equal distance from the waist, and each solves for the displacement along the
    panel that gives just that strain. For gores that mirror each other, as on any surface
    of revolution, nothing changes. Over ridges a seam lies out further than the flat cloths do,
    and differently at different heights: its strain is that of its own distance, and what panels
    need besides to ride over ridges strains no seam.

    Where the body model knows how the seams run, it tells the strain itself, and every edge
    takes that: a seam that slants across the surface is stretched round the body as well.
    """

    turn: TurnOfCloth
    distances: FloatArray
    upright: FloatArray
    shared: FloatArray
    rises: FloatArray

    @classmethod
    def of(
        cls,
        turn: TurnOfCloth,
        growth: Growth,
        anchors: FloatArray,
        told: ToldStrain | None = None,
    ) -> Lengthening:
        """Find it for layers that grow so.

        *anchors*: ndarray, shape (panels,). Part of the growth that falls on the front edge's side,
        0 to 1. *told*: strain that is known of some edges.
        """
        distances = growth.distances
        edges = turn.profile
        shape = len(distances), 3, len(edges.owner)
        change, natural, rise = _changes(turn, every_node(edges), growth, anchors, told)
        powers = np.einsum("pn,lnk->lpk", _PARABOLA, (change - natural).reshape(shape))
        powers /= np.array([1.0, 2.0, 3.0])[:, None]
        total = np.zeros((shape[0], shape[2] + 1))
        np.cumsum(powers.sum(axis=1), axis=1, out=total[:, 1:])
        shared = np.concatenate([total[:, None, :-1], powers], axis=1)
        # Sums run on through all edges; what counts is the difference from the waist's.
        all_edges = np.arange(2 * len(anchors))
        # A gore's edges are laid at its tip, which both have.
        waist = edges.at_heights(np.nan_to_num(edges.tips).repeat(2), all_edges)
        shared[:, 0] -= _cubic(shared.take(waist.piece, axis=2), waist.t).take(edges.owner, axis=1)
        upright, _ = turn.tilts_at(np.zeros(len(all_edges)), all_edges)
        if edges.pointed is not None:
            # Both edges of a gore begin at its tip, displaced as far as its neighbours are there.
            there, _ = turn.tilts_at(np.repeat(np.nan_to_num(edges.tips), 2), all_edges)
            both = (upright - there).reshape(-1, 2).mean(axis=1).repeat(2)
            upright = np.where(np.isnan(edges.tips).repeat(2), upright, there + both)
        return cls(turn, distances, upright, shared, rise.reshape(shape))

    def at(
        self, layer: IntArray, edge: IntArray, heights: FloatArray
    ) -> tuple[FloatArray, FloatArray]:
        """Displacement in mm at heights, and its change for each mm of height, shapes (k,).

        Beyond the ends of an edge tilt alone goes on.
        """
        spots = self.turn.profile.at_heights(heights, edge)
        _, _, rise = self.turn.profile.across(heights, spots)
        tilts = self.turn.tilts_at(heights, edge)
        return self.read(layer, edge, heights, spots, rise, tilts)

    def read(
        self,
        layer: IntArray,
        edge: IntArray,
        heights: FloatArray,
        spots: Spots,
        rise: FloatArray,
        tilts: tuple[FloatArray, FloatArray],
    ) -> tuple[FloatArray, FloatArray]:
        """What `at` gives, where the edges' spots at these heights, dv/dt and tilts are known.

        With layers of shape (layers, 1) it is found for all of them, shapes (layers, k).
        """
        edges = self.turn.profile
        d, (tilt, slope) = self.distances[layer, edge // 2], tilts
        pieces, t = self.shared.shape[2], spots.t
        flat, first = self.shared.ravel(), 4 * layer * pieces + spots.piece
        start, a, b, c = (flat.take(first + power * pieces) for power in range(4))
        value = d * (self.upright[edge] - tilt) + start + t * (a + t * (b + t * c))
        low, high = edges.ends[edge].T
        still = (heights < low) | (heights > high) | (rise <= 0.0)
        rate = (a + t * (2.0 * b + 3.0 * t * c)) / np.where(still, np.inf, rise)
        return value, rate - d * slope

    def turned(self, low: FloatArray, high: FloatArray) -> FloatArray:
        """Lowest height at which an edge of a panel turns back on itself, (layers, panels).

        *low*, *high*: ndarray, shape (panels,). How far each panel reaches, in mm: its top may rise
        above the ends of its edges.

        Returns: nan where none does.
        """
        edges = self.turn.profile
        result = np.full(self.distances.shape, np.inf)
        layer, _, piece = np.nonzero(self.rises <= 0.0)
        np.minimum.at(result, (layer, edges.owner[piece] // 2), edges.control[piece, 0, 1])
        first, last = edges.ends.T
        starts = np.concatenate([np.repeat(low, 2), last])
        counts = np.ceil((np.concatenate([first, np.repeat(high, 2)]) - starts) / _CHECKED_MM)
        counts = np.maximum(counts, 0.0).astype(np.int64)
        beyond = np.repeat(np.arange(len(starts)), counts)
        steps = np.arange(len(beyond)) - np.repeat(np.cumsum(counts) - counts, counts)
        heights, edge = starts[beyond] + _CHECKED_MM * steps, beyond % len(first)
        _, slope = self.turn.tilts_at(heights, edge)
        layer, found = np.nonzero(self.distances[:, edge // 2] * slope >= 1.0)
        np.minimum.at(result, (layer, edge[found] // 2), heights[found])
        return np.where(np.isfinite(result), result, np.nan)


def _cubic(powers: FloatArray, t: FloatArray) -> FloatArray:
    """Values of cubics of coefficients of shape (layers, 4, k)."""
    start, a, b, c = powers.transpose(1, 0, 2)
    return np.asarray(start + t * (a + t * (b + t * c)))


def every_node(edges: Profile) -> Spots:
    """The nodes of all pieces, the first of each first."""
    count = len(edges.owner)
    return Spots(np.tile(np.arange(count), 3), np.repeat(_NODES, count))


def _changes(
    turn: TurnOfCloth,
    nodes: Spots,
    growth: Growth,
    anchors: FloatArray,
    told: ToldStrain | None,
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Change of displacement for each unit of the pieces' parameters, by sharing and by itself.

    The third is what v then changes by.

    What it does by itself is reckoned with its distance at the waist. Shapes (layers, nodes).
    """
    edges = turn.profile
    edge = edges.owner[nodes.piece]
    mate, offset = edges.mates.edge[nodes.piece], edges.mates.offset[nodes.piece]
    mate = np.where(mate < 0, edge, mate)
    shared = (mate != edge) | turn.knows_seams
    if told is not None:
        shared[told.at] = True
    seamed = np.flatnonzero(shared)
    arcs = edges.arc_at(Spots(nodes.piece[seamed], nodes.t[seamed]))
    other = edges.at_arcs(arcs + offset[seamed], mate[seamed])
    spots = Spots(np.concatenate([nodes.piece, other.piece]), np.concatenate([nodes.t, other.t]))
    owner = edges.owner[spots.piece]
    du, dv = edges.velocity(spots)
    _, v = edges.point(spots)
    share = np.stack([-anchors, 1.0 - anchors], axis=1).ravel()[owner]
    turned, (_, tilting) = turn.grown_and_tilts(v, owner // 2)
    across = share * turned[1] * dv
    along = -np.where(owner % 2 == 0, tilting[0], tilting[1]) * dv
    size = np.hypot(du, dv)
    size = np.where(size > 0.0, size, 1.0)
    d = growth.at_edges(owner, v)
    aside = (du + d * across) ** 2
    natural = growth.distances.take(owner // 2, axis=1) * along
    own = d * along
    known = turn.strains_at(v, owner)
    strain = np.sqrt(aside + (dv + own) ** 2) / size - 1.0 if known is None else d * known
    if growth.spline is not None:
        # Carried across as the panels grow, whatever for.
        layers = np.arange(len(d))[:, None]
        aside = (du + share * growth.grown(layers, owner // 2, v, turned)[1] * dv) ** 2
    # The smallest strain that its displacement across leaves room for: a thick layer in a
    # sharp hollow is to shrink by more than half; a leaning edge that is also carried
    # sideways cannot.
    least = np.sqrt(aside + (_LEAST_RISE * dv) ** 2) / size - 1.0
    count = len(edge)
    mean = 0.5 * (strain[:, seamed] + strain[:, count:])
    if told is not None:
        mean[:, np.searchsorted(seamed, told.at)] = told.strain
    np.maximum(mean, np.maximum(least[:, seamed], least[:, count:]), out=mean)
    wanted = (size[seamed] * (1.0 + mean)) ** 2 - aside[:, seamed]
    steep = (dv[seamed] > _STEEP_ENOUGH * size[seamed]) & (wanted > 0.0)
    # Where both sides lie in the drafted layer nothing may change, not even by rounding.
    steep &= (d[:, seamed] != 0.0) | (d[:, count:] != 0.0)
    change = own[:, :count].copy()
    alike = np.sqrt(np.maximum(wanted, 0.0)) - dv[seamed]
    change[:, seamed] = np.where(steep, alike, change[:, seamed])
    rise = dv[:count] + change
    if known is not None:
        # Such an edge would have no length left, whatever its displacement came to.
        rise[d[:, :count] * known[:count] <= -1.0] = 0.0
    return change, natural[:, :count], rise
