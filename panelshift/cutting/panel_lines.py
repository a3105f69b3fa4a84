"""All lines of one panel of one layer, in the draft's own coordinates."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Final

import numpy as np

from ..outline import Curve, FloatArray
from ..outline.many import share_polylines
from ..pattern.panel import EdgeName, Level, MarkKind, Panel
from ..pattern.pattern import Pattern
from ..sheets.palette import LineKind
from ..sheets.sheet import Stroke
from .allowance import CutLine, cut_lines, straight
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


def panel_strokes(
    pattern: Pattern, indices: Sequence[int], fabric: str, plan: CutPlan
) -> list[tuple[list[Stroke], bool]]:
    """Lines to draw for each panel, and whether its cut line had to be flattened.

    Parameters
    ----------
    pattern : Pattern
        Of the layer.
    indices : sequence of int
        Of the panels.
    fabric : str
        Name of the layer's fabric, for its allowances.
    plan : CutPlan
    """
    share_polylines([pattern.panels[index].outline for index in indices], _FLATNESS_MM)
    allowances = [plan.edges(pattern, index, fabric) for index in indices]
    cut = cut_lines(
        [pattern.panels[index] for index in indices], allowances, mitre_limit=plan.mitre_limit
    )
    return [
        (_strokes(pattern, index, line, own), line.flattened)
        for index, line, own in zip(indices, cut, allowances, strict=True)
    ]


def _strokes(
    pattern: Pattern, index: int, cut: CutLine, allowances: Mapping[EdgeName, float]
) -> list[Stroke]:
    panel = pattern.panels[index]
    name = panel.name
    strokes = [
        Stroke("cut-line", cut.curve, name),
        Stroke("stitch-line", panel.outline, name),
        Stroke("waistline", panel.waist.curve, name),
    ]
    strokes += [Stroke("level-lines", level.curve, name) for level in panel.levels]
    for edge, end, sense in (("front", 0, -1.0), ("back", -1, 1.0)):
        if pattern.edge_kind(index, "front" if edge == "front" else "back") == "seam":
            allowance = allowances["front" if edge == "front" else "back"]
            strokes.append(
                Stroke("notches", _waist_notch(panel.waist, end, sense, allowance, panel), name)
            )
    strokes += [Stroke(_KIND_OF_MARK[mark.kind], mark.curve, name) for mark in panel.marks]
    if not any(mark.kind == "grainline" for mark in panel.marks):
        strokes += [Stroke("grainlines", curve, name) for curve in _grainline(panel)]
    return strokes


def _waist_notch(level: Level, end: int, sense: float, allowance: float, panel: Panel) -> Curve:
    """A short line from the stitch line into the allowance, or inwards where there is none."""
    at = level.curve.start if end == 0 else level.curve.end
    size = min(allowance, NOTCH_MM) if allowance > 0.0 else -0.5 * NOTCH_MM
    return straight(np.array([at, at + sense * size * panel.frame.across]))


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
