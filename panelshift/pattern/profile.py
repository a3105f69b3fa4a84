"""Side edges as functions of height: how wide each panel is at every level."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from ..outline import FloatArray
from ..outline.measure import arc_table
from .panel import EdgeName, Panel
from .pattern import Pattern

HEIGHT_STEP_MM: Final = 0.25
"""Spacing of the height grid; linear interpolation on it errs by less than 1e-4 mm on any
edge with a radius above 80 mm."""

_EDGE_STEP_MM: Final = 0.5
"""Spacing of the samples along an edge: chords between them miss an edge of radius 80 mm by up to
4e-4 mm."""
_MARGIN_MM: Final = 80.0
_RUN_OUT_MM: Final = 25.0
"""Beyond its end an edge goes on along its tangent, bending upright over this length."""


@dataclass(frozen=True, eq=False)
class EdgeRun:
    """A side edge sampled along its length, in panel coordinates.

    Parameters
    ----------
    arc : ndarray, shape (m,)
        Arc length in mm from the waist, negative below it, increasing.
    u, v : ndarray, shape (m,)
        Panel coordinates in mm; v increases.
    """

    arc: FloatArray
    u: FloatArray
    v: FloatArray

    @property
    def reach(self) -> tuple[float, float]:
        """Lowest and highest v in mm."""
        return float(self.v[0]), float(self.v[-1])

    def across(self, heights: FloatArray) -> FloatArray:
        """u at heights in mm; beyond the ends the edge runs out upright, smoothly."""
        low, high = self.reach
        result = np.interp(heights, self.v, self.u)
        for end, beyond in ((0, heights < low), (-1, heights > high)):
            inner = 1 if end == 0 else -2
            slope = (self.u[end] - self.u[inner]) / (self.v[end] - self.v[inner])
            past = np.abs(heights[beyond] - self.v[end])
            bend = _RUN_OUT_MM * -np.expm1(-past / _RUN_OUT_MM)
            result[beyond] = self.u[end] + np.sign(heights[beyond] - self.v[end]) * slope * bend
        return result


@dataclass(frozen=True, eq=False)
class Profile:
    """All panels' side edges on one grid of heights.

    Parameters
    ----------
    heights : ndarray, shape (m,)
        Evenly spaced from below the lowest to above the highest point of any panel, in mm.
    front, back : ndarray, shape (panels, m)
        u of the front and back edges in mm, run out beyond their ends.
    runs : tuple of mapping from "front" and "back" to EdgeRun
        The sampled edges of each panel.
    """

    heights: FloatArray
    front: FloatArray
    back: FloatArray
    runs: tuple[dict[EdgeName, EdgeRun], ...]

    @property
    def widths(self) -> FloatArray:
        """Width in mm of each panel at each height, shape (panels, m)."""
        return np.asarray(self.back - self.front)

    @property
    def drawn(self) -> tuple[float, float]:
        """Lowest and highest v in mm that any side edge reaches."""
        ends = [run.reach for panel in self.runs for run in panel.values()]
        return min(low for low, _ in ends), max(high for _, high in ends)


def sample_edge(panel: Panel, name: EdgeName) -> EdgeRun:
    """Sample a front or back edge in panel coordinates."""
    edge = panel.edge(name)
    positions, arc = arc_table(edge, _EDGE_STEP_MM)
    uv = panel.frame.to_panel(edge.points(positions))
    # Edges rise all the way (they end where they lean over), but for rounding.
    v = np.maximum.accumulate(uv[:, 1])
    keep = np.concatenate([[True], np.diff(v) > 0.0])
    arc, u, v = arc[keep], uv[keep, 0], v[keep]
    return EdgeRun(arc - np.interp(0.0, v, arc), u, v)


def profile(pattern: Pattern) -> Profile:
    """Sample the side edges of all panels of a pattern."""
    low, high = np.inf, -np.inf
    runs: list[dict[EdgeName, EdgeRun]] = []
    for panel in pattern.panels:
        v = panel.frame.to_panel(panel.outline.control.reshape(-1, 2))[:, 1]
        low, high = min(low, float(v.min())), max(high, float(v.max()))
        runs.append({"front": sample_edge(panel, "front"), "back": sample_edge(panel, "back")})
    first = np.floor((low - _MARGIN_MM) / HEIGHT_STEP_MM)
    last = np.ceil((high + _MARGIN_MM) / HEIGHT_STEP_MM)
    # Whole multiples of the step, so that the waist itself is on the grid.
    heights = np.arange(first, last + 1) * HEIGHT_STEP_MM
    front = np.array([run["front"].across(heights) for run in runs])
    back = np.array([run["back"].across(heights) for run in runs])
    return Profile(heights, front, back, tuple(runs))
