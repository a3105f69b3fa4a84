"""Lengthening along side edges, shared by both sides of a seam so that it still walks."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..outline import FloatArray
from ..pattern.panel import EdgeName
from ..pattern.profile import EdgeRun
from ..turn import TurnOfCloth

_STEEP_ENOUGH = 0.2
"""An edge that rises by less than this part of its length cannot take up a strain by
moving along the panel; there the natural lengthening stays."""

_LEAST_RISE = 0.05
"""Every part of an edge goes on rising by at least this part of what it rose in the draft."""


@dataclass(frozen=True, eq=False)
class _Strained:
    """An edge's intervals and what the layer's own displacement does to them."""

    run: EdgeRun
    across: FloatArray
    """Displacement across at the samples, shape (m,)."""
    along: FloatArray
    """Natural displacement along the panel at the samples, shape (m,)."""

    @property
    def chords(self) -> FloatArray:
        return np.hypot(np.diff(self.run.u), np.diff(self.run.v))

    @property
    def strain(self) -> FloatArray:
        moved = np.hypot(np.diff(self.run.u + self.across), np.diff(self.run.v + self.along))
        return np.asarray(moved / self.chords - 1.0)

    @property
    def least(self) -> FloatArray:
        """The smallest strain that its displacement across leaves room for.

        A thick layer in a sharp hollow is to shrink by more than half; a leaning edge that is
        also carried sideways cannot.
        """
        across = np.diff(self.run.u + self.across)
        return np.asarray(np.hypot(across, _LEAST_RISE * np.diff(self.run.v)) / self.chords - 1.0)

    @property
    def middles(self) -> FloatArray:
        return np.asarray(0.5 * (self.run.arc[1:] + self.run.arc[:-1]))


def edge_lengthening(
    turn: TurnOfCloth, distances: FloatArray, anchors: FloatArray
) -> dict[EdgeName, FloatArray]:
    """Displacement along the panel at both side edges of every panel.

    Parameters
    ----------
    turn : TurnOfCloth
    distances : ndarray, shape (panels,)
        Distance d of the layer on each panel, in mm.
    anchors : ndarray, shape (panels,)
        Part of the growth that falls on the front edge's side, 0 to 1.

    Returns
    -------
    dict of "front" and "back" to ndarray, shape (panels, m)
        In mm, on the profile's heights.

    Notes
    -----
    By itself an edge is displaced by d (tilt(0) - tilt(v)) along the panel and by its part
    of the growth across it. Two mates that lean differently would then stretch by slightly
    different amounts, though on the body they are one line. So both take the mean of their
    strains at equal distance from the waist, and each solves for the displacement along the
    panel that gives just that strain. For gores that mirror each other, as on any surface
    of revolution, nothing changes.
    """
    natural = {
        edge: {
            i: _natural(turn, edge, i, float(distances[i]), float(anchors[i]))
            for i in range(len(distances))
        }
        for edge in ("front", "back")
    }
    shared = {
        "front": {i: item.along for i, item in natural["front"].items()},
        "back": {i: item.along for i, item in natural["back"].items()},
    }
    for seam in turn.pattern.seams:
        one = natural[seam.first_edge][seam.first]
        two = natural[seam.second_edge][seam.second]
        if not (distances[seam.first] or distances[seam.second]):
            continue
        shared[seam.first_edge][seam.first] = _along_for(one, _shared_strain(one, two))
        shared[seam.second_edge][seam.second] = _along_for(two, _shared_strain(two, one))
    return {
        edge: np.array(
            [
                _on_grid(turn, item.run, shared[edge][i], float(distances[i]), edge, i)
                for i, item in natural[edge].items()
            ]
        )
        for edge in ("front", "back")
    }


def _natural(
    turn: TurnOfCloth, edge: EdgeName, panel: int, distance: float, anchor: float
) -> _Strained:
    run = turn.profile.runs[panel][edge]
    heights = turn.profile.heights
    share = -anchor if edge == "front" else 1.0 - anchor
    across = share * distance * np.interp(run.v, heights, turn.growth[panel])
    tilt = turn.tilt[edge][panel]
    along = distance * (np.interp(0.0, heights, tilt) - np.interp(run.v, heights, tilt))
    return _Strained(run, across, along)


def _shared_strain(mine: _Strained, other: _Strained) -> FloatArray:
    """Mean strain of two mates on the intervals of the first, or the least both can follow."""

    def seen(values: FloatArray) -> FloatArray:
        return np.interp(mine.middles, other.middles, values)

    mean = 0.5 * (mine.strain + seen(other.strain))
    return np.maximum(mean, np.maximum(mine.least, seen(other.least)))


def _along_for(edge: _Strained, strain: FloatArray) -> FloatArray:
    """Displacement along the panel that gives each interval the strain asked for."""
    du = np.diff(edge.run.u + edge.across)
    dv = np.diff(edge.run.v)
    wanted = (edge.chords * (1.0 + strain)) ** 2 - du**2
    steep = (dv > _STEEP_ENOUGH * edge.chords) & (wanted > 0.0)
    step = np.where(steep, np.sqrt(np.maximum(wanted, 0.0)) - dv, np.diff(edge.along))
    total = np.concatenate([[0.0], np.cumsum(step)])
    return np.asarray(total - np.interp(0.0, edge.run.arc, total))


def _on_grid(
    turn: TurnOfCloth,
    run: EdgeRun,
    along: FloatArray,
    distance: float,
    edge: EdgeName,
    panel: int,
) -> FloatArray:
    """Bring edge samples on to the height grid; beyond the ends tilt alone goes on."""
    heights, tilt = turn.profile.heights, turn.tilt[edge][panel]
    result = np.interp(heights, run.v, along)
    for end in (0, -1):
        beyond = heights < run.v[0] if end == 0 else heights > run.v[-1]
        change = np.interp(run.v[end], heights, tilt) - tilt[beyond]
        result[beyond] = along[end] + distance * change
    return result
