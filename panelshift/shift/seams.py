"""Lengthening along side edges, shared by both sides of a seam so that it still walks."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..body.turn import TurnOfCloth
from ..outline import FloatArray
from ..outline.bezier import IntArray
from ..outline.places import Places
from ..pattern.panel import EdgeName
from .edges import EDGE_NAMES, SideEdges

_STEEP_ENOUGH = 0.2
"""An edge that rises by less than this part of its length cannot take up a strain by
moving along the panel; there the natural lengthening stays."""

_LEAST_RISE = 0.05
"""Every part of an edge goes on rising by at least this part of what it rose in the draft."""


@dataclass(frozen=True, eq=False)
class Lengthening:
    """Displacement along the panel at the side edges of every panel, in every layer.

    Parameters
    ----------
    turn : TurnOfCloth
    edges : SideEdges
    distances : ndarray, shape (layers, panels)
        Distance d of each layer on each panel, in mm.
    along : ndarray, shape (layers, n)
        Displacement in mm at each sample of the edges.

    Notes
    -----
    By itself an edge is displaced by d (tilt(0) - tilt(v)) along the panel and by its part
    of the growth across it. Two mates that lean differently would then stretch by slightly
    different amounts, though on the body they are one line. So both take the mean of their
    strains at equal distance from the waist, and each solves for the displacement along the
    panel that gives just that strain. For gores that mirror each other, as on any surface
    of revolution, nothing changes.

    Where the body model knows how the seams run, it tells the strain itself, and every edge
    takes that: a seam that slants across the surface is stretched round the body as well.
    """

    turn: TurnOfCloth
    edges: SideEdges
    distances: FloatArray
    along: FloatArray

    @classmethod
    def of(cls, turn: TurnOfCloth, distances: FloatArray, anchors: FloatArray) -> Lengthening:
        """Find it for layers at distances from the drafted one.

        Parameters
        ----------
        turn : TurnOfCloth
        distances : ndarray, shape (layers, panels)
        anchors : ndarray, shape (panels,)
            Part of the growth that falls on the front edge's side, 0 to 1.
        """
        edges = SideEdges.of(turn, anchors)
        d = np.repeat(distances, 2, axis=1)
        mate = np.arange(edges.count)
        for seam in turn.pattern.seams:
            one = 2 * seam.first + EDGE_NAMES.index(seam.first_edge)
            two = 2 * seam.second + EDGE_NAMES.index(seam.second_edge)
            mate[one], mate[two] = two, one
        # Where both sides lie in the drafted layer nothing may change, not even by rounding.
        sewn = mate != np.arange(edges.count)
        away = (sewn | (edges.strain is not None)) & ((d != 0.0) | (d[:, mate] != 0.0))
        natural = d.take(edges.owner, axis=1) * edges.along
        shared = edges.summed(_steps(edges, d, mate))
        return cls(
            turn, edges, distances, np.where(away.take(edges.owner, axis=1), shared, natural)
        )

    def at(
        self, layer: IntArray, edge: IntArray, heights: FloatArray
    ) -> tuple[FloatArray, FloatArray]:
        """Displacement in mm at heights, and its change for each mm of height, shapes (k,).

        Beyond the ends of an edge tilt alone goes on.
        """
        edges = self.edges
        at = edges.at_heights(heights, edge)
        value, rate = at.read_rows(self.along, layer)
        low, high = edges.v[edges.starts[edge]], edges.v[edges.starts[edge + 1] - 1]
        past = np.flatnonzero((heights < low) | (heights > high))
        if len(past):
            ends = np.clip(heights[past], low[past], high[past])
            d = self.distances[layer[past], edge[past] // 2]
            tilt, slope = self._tilt(edge[past], heights[past])
            value[past] += d * (self._tilt(edge[past], ends)[0] - tilt)
            rate[past] = -d * slope
        return value, rate

    def on_grid(self, layer: int, name: EdgeName) -> FloatArray:
        """Displacement in mm of every panel's edge at the profile's heights, (panels, m)."""
        heights = self.turn.profile.heights
        panels, side = self.distances.shape[1], EDGE_NAMES.index(name)
        edge = np.repeat(2 * np.arange(panels) + side, len(heights))
        value, _ = self.at(np.full_like(edge, layer), edge, np.tile(heights, panels))
        return value.reshape(panels, -1)

    def turned(self, low: FloatArray, high: FloatArray) -> FloatArray:
        """Lowest height at which an edge of a panel turns back on itself, (layers, panels).

        Parameters
        ----------
        low, high : ndarray, shape (panels,)
            How far each panel reaches, in mm: its top may rise above the ends of its edges.

        Returns
        -------
        ndarray
            nan where none does.
        """
        edges, heights = self.edges, self.turn.profile.heights
        rise = edges.dv + np.diff(self.along, axis=1).take(edges.lefts, axis=1)
        layer, interval = np.nonzero(rise <= 0.0)
        result = np.full(self.distances.shape, np.inf)
        panel, height = edges.interval_owner[interval] // 2, edges.v[edges.lefts[interval]]
        np.minimum.at(result, (layer, panel), height)
        for side, name in enumerate(EDGE_NAMES):
            first = edges.v[edges.starts[side:-1:2], None]
            last = edges.v[edges.starts[side + 1 :: 2] - 1, None]
            here, above = heights[:-1], heights[1:]
            past = ((here >= low[:, None]) & (here < first)) | (
                (above <= high[:, None]) & (above > last)
            )
            panel, level = np.nonzero(past)
            tilt = self.turn.tilt[name]
            fall = self.distances[:, panel] * (tilt[panel, level + 1] - tilt[panel, level])
            layer, found = np.nonzero(fall >= heights[1] - heights[0])
            np.minimum.at(result, (layer, panel[found]), heights[level[found]])
        return np.where(np.isfinite(result), result, np.nan)

    def _tilt(self, edge: IntArray, heights: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Tilt at heights and its change for each mm of height."""
        at = Places.even(heights, self.turn.profile.heights)
        front = at.read_rows(self.turn.tilt["front"], edge // 2)
        back = at.read_rows(self.turn.tilt["back"], edge // 2)
        value, slope = (np.where(edge % 2 == 0, f, b) for f, b in zip(front, back, strict=True))
        return value, slope


def _steps(edges: SideEdges, d: FloatArray, mate: IntArray) -> FloatArray:
    """How far each interval is to lengthen along the panel, shape (layers, intervals)."""
    d = d.take(edges.interval_owner, axis=1)
    du = edges.du + d * edges.across_step
    natural = d * edges.along_step
    across = du * du
    if edges.strain is None:
        strain = np.sqrt(across + (edges.dv + natural) ** 2) / edges.chords - 1.0
    else:
        strain = d * edges.strain
    # The smallest strain that its displacement across leaves room for: a thick layer in a
    # sharp hollow is to shrink by more than half; a leaning edge that is also carried
    # sideways cannot.
    least = np.sqrt(across + (_LEAST_RISE * edges.dv) ** 2) / edges.chords - 1.0
    seen = edges.across_mates(mate)
    strain = 0.5 * (strain + seen.read(strain))
    np.maximum(strain, np.maximum(least, seen.read(least)), out=strain)
    wanted = (edges.chords * (1.0 + strain)) ** 2 - across
    steep = (edges.dv > _STEEP_ENOUGH * edges.chords) & (wanted > 0.0)
    return np.where(steep, np.sqrt(np.maximum(wanted, 0.0)) - edges.dv, natural)
