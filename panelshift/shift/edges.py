"""All side edges of a pattern in flat arrays, and what one mm of distance does to them."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np

from ..body.turn import TurnOfCloth
from ..outline import FloatArray
from ..outline.bezier import IntArray
from ..outline.places import Places
from ..pattern.panel import EdgeName
from ..units import LONGEST_MM

EDGE_NAMES: Final[tuple[EdgeName, EdgeName]] = ("front", "back")
"""Edges are numbered panel by panel: 2 i is panel i's front edge, 2 i + 1 its back edge."""

_APART: Final = 8.0 * LONGEST_MM
"""Farther than any two numbers of one edge: with it one sorted array serves for all edges."""


@dataclass(frozen=True, eq=False)
class SideEdges:
    """The sampled side edges of all panels, one after the other.

    Samples are numbered through all edges (n of them), and so are the intervals between
    neighbouring samples of one edge (k of them).

    Parameters
    ----------
    starts : ndarray of int, shape (edges + 1,)
        First sample of each edge.
    owner : ndarray of int, shape (n,)
        Edge of each sample.
    v, arc : ndarray, shape (n,)
        Height above the waist and arc length from it in mm, both increasing along an edge.
    along : ndarray, shape (n,)
        Natural displacement along the panel for each mm of distance.
    lefts : ndarray of int, shape (k,)
        Sample at which each interval begins.
    du, dv, across_step, along_step : ndarray, shape (k,)
        Change over each interval of the draft's u and v in mm, and of the displacement
        across and along for each mm of distance.
    strain : ndarray, shape (k,), optional
        Relative change of length of each interval for each mm of distance, where the body
        tells it.
    """

    starts: IntArray
    owner: IntArray
    v: FloatArray
    arc: FloatArray
    along: FloatArray
    lefts: IntArray
    du: FloatArray
    dv: FloatArray
    across_step: FloatArray
    along_step: FloatArray
    strain: FloatArray | None

    @classmethod
    def of(cls, turn: TurnOfCloth, anchors: FloatArray) -> SideEdges:
        """Gather the edges of a pattern.

        Parameters
        ----------
        turn : TurnOfCloth
        anchors : ndarray, shape (panels,)
            Part of the growth that falls on the front edge's side, 0 to 1.
        """
        runs = [panel[name] for panel in turn.profile.runs for name in EDGE_NAMES]
        starts = np.concatenate([[0], np.cumsum([len(run.v) for run in runs])])
        owner = np.repeat(np.arange(len(runs)), np.diff(starts))
        u, v, arc = (
            np.concatenate([getattr(run, name) for run in runs]) for name in ("u", "v", "arc")
        )
        at = Places.even(v, turn.profile.heights)
        tilt = np.stack([turn.tilt[name] for name in EDGE_NAMES], axis=1).reshape(len(runs), -1)
        upright = Places.even(np.zeros(1), turn.profile.heights).read(tilt)[:, 0]
        share = np.stack([-anchors, 1.0 - anchors], axis=1).ravel()
        across = share[owner] * at.read_rows(turn.growth, owner // 2)[0]
        along = upright[owner] - at.read_rows(tilt, owner)[0]
        lefts = np.delete(np.arange(len(v)), starts[1:] - 1)
        du, dv, across_step, along_step = (
            values[lefts + 1] - values[lefts] for values in (u, v, across, along)
        )
        strain = None
        if turn.strain is not None:
            rows = np.stack([turn.strain[name] for name in EDGE_NAMES], axis=1)
            there = at.read_rows(rows.reshape(len(runs), -1), owner)[0]
            strain = 0.5 * (there[lefts] + there[lefts + 1])
        return cls(starts, owner, v, arc, along, lefts, du, dv, across_step, along_step, strain)

    @property
    def count(self) -> int:
        """Number of edges."""
        return len(self.starts) - 1

    @cached_property
    def chords(self) -> FloatArray:
        """Length of each interval in mm, shape (k,)."""
        return np.hypot(self.du, self.dv)

    @cached_property
    def interval_owner(self) -> IntArray:
        """Edge of each interval, shape (k,)."""
        return self.owner[self.lefts]

    @cached_property
    def _by_height(self) -> FloatArray:
        return self.owner * _APART + self.v

    @cached_property
    def waist(self) -> Places:
        """Where each edge crosses the waist."""
        edges = np.arange(self.count)
        key = self.owner * _APART + self.arc
        return Places.among(np.zeros(self.count), edges, self.arc, key, self.starts)

    def at_heights(self, heights: FloatArray, edge: IntArray) -> Places:
        """Where edges (one for each height in mm) have a height; their ends if nowhere."""
        return Places.among(heights, edge, self.v, self._by_height, self.starts)

    def across_mates(self, mate: IntArray) -> Places:
        """Where each interval lies among its mate's, at equal distance from the waist.

        Parameters
        ----------
        mate : ndarray of int, shape (edges,)
        """
        middles = 0.5 * (self.arc[self.lefts + 1] + self.arc[self.lefts])
        key = self.interval_owner * _APART + middles
        first = self.starts - np.arange(self.count + 1)
        return Places.among(middles, mate[self.interval_owner], middles, key, first)

    def summed(self, steps: FloatArray) -> FloatArray:
        """Sums of steps over intervals from the waist to each sample, shape (..., n)."""
        before = np.concatenate([np.zeros((*steps.shape[:-1], 1)), steps], axis=-1)
        np.cumsum(before, axis=-1, out=before)
        # Sums run on through all edges; what counts is the difference from the waist's.
        total = before.take(np.arange(len(self.owner)) - self.owner, axis=-1)
        total -= self.waist.read(total).take(self.owner, axis=-1)
        return total
