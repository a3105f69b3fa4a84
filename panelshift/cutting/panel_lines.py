"""All lines of panels of layers, in the draft's own coordinates."""

from __future__ import annotations

import itertools
from collections.abc import Mapping, Sequence
from typing import Final

import numpy as np

from ..outline import Curve, FloatArray
from ..outline.many import share_polylines
from ..pattern.panel import EdgeName, MarkKind, Panel
from ..sheets.palette import LineKind
from ..sheets.sheet import Stroke
from ..shift import LayerPattern
from .allowance import cut_lines, straight, straights
from .plan import CutPlan

NOTCH_MM: Final = 6.0
_GRAIN_SHARE = 0.5
_ARROW_MM = 4.0
_FLATNESS_MM: Final = 0.1
"""Flatness of the outline within which a grainline is set."""

_KIND_OF_MARK: Final[dict[MarkKind, LineKind]] = {
    "notch": "notches",
    "grainline": "grainlines",
    "bone": "bone-channels",
    "level": "level-lines",
    "mark": "marks",
}


def panel_strokes(drawn: Sequence[tuple[LayerPattern, int]], plan: CutPlan) -> list[list[Stroke]]:
    """Lines to draw for panels of layers.

    *drawn*: sequence of (LayerPattern, int). A layer, for its allowances, and the index of the
    panel.
    """
    panels = [layer.pattern.panels[index] for layer, index in drawn]
    unmarked = [panel for panel in panels if not _has_grain(panel)]
    share_polylines([panel.outline for panel in unmarked], _FLATNESS_MM)
    allowances = [plan.edges(layer.pattern, index, layer.fabric.name) for layer, index in drawn]
    cut = cut_lines(panels, allowances, mitre_limit=plan.mitre_limit, corners=plan.corners)
    notches = _waist_notches(drawn, allowances)
    return [
        _strokes(panel, line, own) for panel, line, own in zip(panels, cut, notches, strict=True)
    ]


def _has_grain(panel: Panel) -> bool:
    return any(mark.kind == "grainline" for mark in panel.marks)


def _strokes(panel: Panel, cut: Curve, notches: Sequence[Curve]) -> list[Stroke]:
    """All lines of one panel, kind by kind."""
    name = panel.name
    strokes = [
        Stroke("cut-line", cut, name),
        Stroke("stitch-line", panel.outline, name),
        Stroke("waistline", panel.waist.curve, name),
    ]
    strokes += [Stroke("level-lines", level.curve, name) for level in panel.levels]
    strokes += [Stroke("notches", notch, name) for notch in notches]
    strokes += [Stroke(_KIND_OF_MARK[mark.kind], mark.curve, name) for mark in panel.marks]
    if not _has_grain(panel):
        strokes += [Stroke("grainlines", curve, name) for curve in _grainline(panel)]
    return strokes


_SIDES: Final[tuple[tuple[EdgeName, float], ...]] = (("front", -1.0), ("back", 1.0))


def _waist_notches(
    drawn: Sequence[tuple[LayerPattern, int]], allowances: Sequence[Mapping[EdgeName, float]]
) -> list[list[Curve]]:
    """A short line from each seam at the waist into its allowance, or inwards where it has none."""
    counts, starts, across = [], [], []
    sizes: list[float] = []
    for (layer, index), own in zip(drawn, allowances, strict=True):
        panel, before = layer.pattern.panels[index], len(sizes)
        for edge, sense in _SIDES:
            if layer.pattern.edge_kind(index, edge) == "seam":
                waist = panel.waist.curve
                size = min(own[edge], NOTCH_MM) if own[edge] > 0.0 else -0.5 * NOTCH_MM
                starts.append(waist.start if edge == "front" else waist.end)
                sizes.append(sense * size)
                across.append(panel.frame.across)
        counts.append(len(sizes) - before)
    if not sizes:
        return [[] for _ in drawn]
    at = np.array(starts)
    ends = at + np.array(sizes)[:, None] * np.array(across)
    notches = iter(straights(list(np.stack([at, ends], axis=1))))
    return [list(itertools.islice(notches, count)) for count in counts]


def _grainline(panel: Panel) -> list[Curve]:
    """A double-headed arrow up the panel, a fifth of the way from front to back."""
    points = panel.frame.to_panel(panel.outline.flatten(_FLATNESS_MM))
    low, high = float(points[:, 1].min()), float(points[:, 1].max())
    middle = 0.5 * (low + high)
    half = 0.5 * _GRAIN_SHARE * (high - low)
    u = _clear_line(points, middle - half, middle + half)
    shaft = np.array([[u, middle - half], [u, middle + half]])
    heads = [
        np.array([[u - 0.4 * _ARROW_MM, v + s], [u, v], [u + 0.4 * _ARROW_MM, v + s]])
        for v, s in ((middle - half, _ARROW_MM), (middle + half, -_ARROW_MM))
    ]
    return [straight(panel.frame.to_sheet(part)) for part in (shaft, *heads)]


def _clear_line(points: FloatArray, low: float, high: float) -> float:
    """A u that keeps inside the panel between two heights, near its front edge."""
    a, b = points[:-1], points[1:]
    left, right = -np.inf, np.inf
    for v in np.linspace(low, high, 9):
        cross = (a[:, 1] - v) * (b[:, 1] - v) < 0.0
        t = (v - a[cross, 1]) / (b[cross, 1] - a[cross, 1])
        hits = a[cross, 0] + t * (b[cross, 0] - a[cross, 0])
        if len(hits) >= 2:
            left, right = max(left, float(hits.min())), min(right, float(hits.max()))
    if not (np.isfinite(left) and np.isfinite(right)) or right <= left:
        return 0.0
    return left + 0.2 * (right - left)
