"""All lines of panels of layers, in the draft's own coordinates."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from typing import Final

import numpy as np

from ..outline import Curve, FloatArray
from ..outline.many import share_polylines
from ..outline.measure import length, position_at_length
from ..pattern.panel import EDGE_NAMES, EdgeName, Mark, MarkKind, Panel, Span, grain_of
from ..pattern.pattern import Pattern
from ..sheets.palette import LineKind
from ..sheets.sheet import Stroke
from ..shift import LayerPattern
from .allowance import cut_lines, straight, up_to_fold
from .extras import Extras
from .plan import CutPlan

NOTCH_MM: Final = 6.0
"""Length of a notch that stands on the cut edge or has no allowance to run through, at most."""

_APART_MM: Final = 6.0
"""Between the two strokes of a double notch: the first is at the level, the other below it."""

_EYELET_MM: Final = 2.0
"""Arm of the cross at an eyelet."""

_NEAR_MM: Final = 3.0
"""A drafted notch that ends so near the outline belongs to it."""

_GRAIN_SHARE = 0.5
_ARROW_MM = 4.0
_FLATNESS_MM: Final = 0.1
"""Flatness of the outline within which a grainline is set."""

_BRACKET_MM: Final = 8.0
_FOOT_MM: Final = 0.02
_SIDES: Final[tuple[EdgeName, ...]] = ("front", "back")

_KIND_OF_MARK: Final[dict[MarkKind, LineKind]] = {
    "notch": "notches",
    "grainline": "grainlines",
    "bone": "bone-channels",
    "level": "level-lines",
    "mark": "marks",
    "dart": "stitch-line",
}

Drawn = tuple[LayerPattern, int]
"""A layer, for its allowances, and the index of a panel."""


def panel_strokes(drawn: Sequence[Drawn], plan: CutPlan, draft: Pattern) -> list[list[Stroke]]:
    """Lines to draw for panels of layers of a draft."""
    panels = [layer.whole_as_cut.panels[index] for layer, index in drawn]
    share_polylines([panel.outline for panel in panels], _FLATNESS_MM)
    allowances = [plan.edges(layer.whole, index, layer.fabric.name) for layer, index in drawn]
    cut = cut_lines(panels, allowances, mitre_limit=plan.mitre_limit, corners=plan.corners)
    return [
        _strokes(one, line, own, plan, draft)
        for one, line, own in zip(drawn, cut, allowances, strict=True)
    ]


def _strokes(
    drawn: Drawn,
    cut: Curve,
    allowances: Mapping[EdgeName, float],
    plan: CutPlan,
    draft: Pattern,
) -> list[Stroke]:
    """All lines of one panel, kind by kind."""
    layer, index = drawn
    panel = layer.whole_as_cut.panels[index]
    fold = plan.cutting(layer.whole, index).fold
    found: list[tuple[LineKind, Curve]] = []
    if fold is not None and panel.is_straight(fold):
        open_line, bracket = on_the_fold(panel, fold, cut)
        found += [("cut-line", open_line), *(("fold-line", curve) for curve in bracket)]
    else:
        found.append(("cut-line", cut))
    found.append(("stitch-line", panel.outline))
    if panel.waist is not None:
        found.append(("waistline", panel.waist.curve))
    found += [("notches", curve) for curve in _notches(drawn, allowances, plan)]
    found += _slits(layer, panel)
    found += [
        (_KIND_OF_MARK[mark.kind], mark.curve) for mark in panel.marks if mark.kind != "split"
    ]
    found += [
        ("grainlines", curve) for curve in _grain(panel, fold, layer.fabric.name in plan.napped)
    ]
    for edge in _SIDES:
        if layer.whole.edge_kind(index, edge) == "centre_back":
            crosses = eyelet_marks(layer.whole_as_cut, index, edge, draft, plan.extras)
            found += [("marks", curve) for curve in crosses]
    levels = [Stroke("level-lines", lv.curve, panel.name, level=lv.name) for lv in panel.levels]
    return [*(Stroke(kind, curve, panel.name) for kind, curve in found), *levels]


def _slits(layer: LayerPattern, panel: Panel) -> list[tuple[LineKind, Curve]]:
    """Stitch lines of the gores that a layer has in slits, a short line across at each tip."""
    found: list[tuple[LineKind, Curve]] = []
    for slit in panel.slits:
        if layer.fabric.covers(slit.piece):
            across = 0.5 * NOTCH_MM * panel.frame.across
            bar = straight(np.array([slit.tip - across, slit.tip + across]))
            found += [("stitch-line", slit.curve), ("notches", bar)]
    return found


def on_the_fold(panel: Panel, fold: EdgeName, cut: Curve) -> tuple[Curve, list[Curve]]:
    """The cut line without what lies on the fold, and the bracket that stands there instead."""
    edge = panel.edge(fold)
    along = (edge.end - edge.start) / np.hypot(*(edge.end - edge.start))
    across = np.array([-along[1], along[0]])
    open_line = up_to_fold(cut, edge)
    inward = across if (panel.frame.origin - edge.start) @ across > 0.0 else -across
    ends_at = sorted((open_line.end, open_line.start), key=lambda point: float(point @ along))
    low, high = (ends_at[0] + part * (ends_at[1] - ends_at[0]) for part in (0.3, 0.7))
    bracket = np.array([low, low + _BRACKET_MM * inward, high + _BRACKET_MM * inward, high])
    heads = [
        np.array([at + 2.5 * inward + along, at, at + 2.5 * inward - along]) for at in (low, high)
    ]
    return open_line, [straight(points) for points in (np.array(ends_at), bracket, *heads)]


def _notches(drawn: Drawn, allowances: Mapping[EdgeName, float], plan: CutPlan) -> list[Curve]:
    """Short lines across the allowance of each seam at the waist, and on from drafted notches."""
    layer, index = drawn
    panel = layer.whole_as_cut.panels[index]
    wanted: list[tuple[EdgeName, FloatArray]] = []
    for edge in _SIDES:
        if layer.whole.edge_kind(index, edge) != "seam":
            continue
        waist = panel.waist_end(edge)
        if waist is not None:
            double = edge == "back" and plan.mates == "single and double"
            for down in (0.0, _APART_MM)[: 1 + double]:
                wanted.append((edge, waist - down * panel.frame.up))
        # Where a gore's tip goes; the tip itself is its own mark.
        wanted += [(edge, tip.point) for tip in panel.tips if tip.edge == edge]
    drafted = _edges_of(panel, [mark for mark in panel.marks if mark.kind == "notch"])
    wanted += [(edge, at) for edge, at in drafted if allowances[edge] > 0.0]
    feet: dict[EdgeName, Iterator[tuple[FloatArray, FloatArray]]] = {}
    for edge in EDGE_NAMES:
        own = [at for side, at in wanted if side == edge]
        if own:
            at, normals, _ = _feet(panel, edge, np.array(own))
            feet[edge] = zip(at, normals, strict=True)
    return [_notch(*next(feet[edge]), allowances[edge], plan) for edge, _ in wanted]


def _edges_of(panel: Panel, notches: Sequence[Mark]) -> list[tuple[EdgeName, FloatArray]]:
    """The edges that drafted notches are drawn at, and their ends there."""
    if not notches:
        return []
    ends = np.array([(mark.curve.start, mark.curve.end) for mark in notches])
    sewn = [edge for edge in EDGE_NAMES if edge in _SIDES or edge in panel.parted]
    away = [_feet(panel, edge, ends.reshape(-1, 2))[2].reshape(-1, 2) for edge in sewn]
    found: list[tuple[EdgeName, FloatArray]] = []
    for own, apart in zip(ends, np.stack(away, axis=1), strict=True):
        side, end = divmod(int(np.argmin(apart)), 2)
        if apart[side, end] <= _NEAR_MM:
            found.append((sewn[side], own[end]))
    return found


def _notch(foot: FloatArray, normal: FloatArray, allowance: float, plan: CutPlan) -> Curve:
    if allowance <= 0.0:
        return straight(np.array([foot, foot - 0.5 * NOTCH_MM * normal]))
    begin = max(allowance - NOTCH_MM, 0.0) if plan.notches == "edge" else 0.0
    return straight(np.array([foot + begin * normal, foot + allowance * normal]))


def _feet(
    panel: Panel, edge: EdgeName, at: FloatArray, span: Span | None = None
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Nearest points of an edge to points, (n, 2), its outward normals there, and distances."""
    points = panel.stretch(edge, span).flatten(_FOOT_MM)
    start, step = points[:-1], np.diff(points, axis=0)
    size = np.maximum((step * step).sum(axis=1), 1e-30)
    share = np.clip(((at[:, None] - start) * step).sum(axis=2) / size, 0.0, 1.0)
    feet = start + share[:, :, None] * step
    away = np.hypot(*(feet - at[:, None]).transpose(2, 0, 1))
    each, k = np.arange(len(at)), np.argmin(away, axis=1)
    normals = np.column_stack([-step[k, 1], step[k, 0]]) / np.sqrt(size[k])[:, None]
    out = panel.frame.across if edge in _SIDES else panel.frame.up
    outward = -out if edge in ("front", "bottom") else out
    normals[normals @ outward <= 0.0] *= -1.0
    return feet[each, k], normals, away[each, k]


def eyelet_count(draft: Pattern, extras: Extras) -> int:
    """Eyelets along each centre back edge, on all layers alike: as many as the draft asks for."""
    every = ((k, edge) for k in range(len(draft.panels)) for edge in _SIDES)
    backs = [item for item in every if draft.edge_kind(*item) == "centre_back"]
    if not backs or extras.eyelet_spacing <= 0.0:
        return 0
    whole = max(length(draft.panels[k].edge(edge)) for k, edge in backs)
    return max(math.ceil(whole / extras.eyelet_spacing - 1e-9), 1)


def eyelet_places(whole: float, count: int) -> FloatArray:
    """Distances of eyelets from the bottom of an edge of a length, along it, in mm.

    The first and the last lie half as far from the ends as eyelets from each other.
    """
    return (np.arange(count) + 0.5) * whole / max(count, 1)


def eyelet_marks(
    pattern: Pattern, index: int, edge: EdgeName, draft: Pattern, extras: Extras
) -> list[Curve]:
    """A cross at each eyelet, the inset away from the edge; none if none are asked for.

    A piece that stands on others has those of its own part of the whole edge.
    """
    count, panel = eyelet_count(draft, extras), pattern.panels[index]
    line, column = panel.edge(edge), pattern.stacked(index)
    ends = np.cumsum([0.0, *(length(pattern.panels[k].edge(edge)) for k in column)])
    low, high = ends[column.index(index)], ends[column.index(index) + 1]
    places = eyelet_places(float(ends[-1]), count)
    here = places[(places >= low) & (places < high)] - low
    if not len(here):
        return []
    at = position_at_length(line, here)
    marks = []
    feet, normals, _ = _feet(panel, edge, line.points(at))
    for foot, normal in zip(feet, normals, strict=True):
        middle, along = foot - extras.eyelet_inset * normal, np.array([-normal[1], normal[0]])
        # In one stroke: across, back to the middle, then along.
        steps = ((-1, 0), (1, 0), (0, 0), (0, -1), (0, 1))
        path = [middle + _EYELET_MM * (a * normal + b * along) for a, b in steps]
        marks.append(straight(np.array(path)))
    return marks


def _edge_points(edge: Curve, shares: Sequence[float]) -> FloatArray:
    """Points of an edge at parts of its length from its bottom, shape (n, 2)."""
    points = edge.flatten(_FOOT_MM)
    run = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))])
    at = np.array(shares) * run[-1]
    return np.column_stack([np.interp(at, run, points[:, axis]) for axis in (0, 1)])


_NOTCH_ROOM_MM: Final = 22.0


def clear_spot(
    panel: Panel, edge: EdgeName, *, inside: bool = False, span: Span | None = None
) -> FloatArray:
    """A point of an edge that is far from its waist and its notches, and inside from levels too.

    *span*: the part of it that is meant.
    """
    notches = [
        mark.curve.points(0.5 * len(mark.curve))[0] for mark in panel.marks if mark.kind == "notch"
    ]
    levels = [end for lv in panel.levels for end in (lv.curve.start, lv.curve.end)]
    waist = panel.waist_end(edge)
    marked = [tip.point for tip in panel.tips] + ([] if waist is None else [waist])
    taken = np.array([*marked, *notches, *(levels if inside else [])]).reshape(-1, 2)
    # Within the bracket of a fold, which has the middle of its edge.
    shares = (0.57, 0.43, 0.5, 0.4, 0.6) if inside else (0.72, 0.8, 0.64, 0.3, 0.22, 0.88, 0.4)
    spots = _edge_points(panel.stretch(edge, span), shares)
    away = np.hypot(*(taken - spots[:, None]).T).min(axis=0, initial=np.inf)
    clear = np.flatnonzero(away >= _NOTCH_ROOM_MM)
    spot: FloatArray = spots[clear[0] if len(clear) else int(np.argmax(away))]
    return spot


def edge_spot(
    panel: Panel, edge: EdgeName, at: FloatArray, offset: float, span: Span | None = None
) -> tuple[FloatArray, FloatArray]:
    """A point beside an edge, offset mm outwards, and the edge's way upwards there."""
    (foot,), (normal,), _ = _feet(panel, edge, at[None], span)
    along = np.array([normal[1], -normal[0]])
    return foot + offset * normal, along if along @ panel.frame.up > 0.0 else -along


def _grain(panel: Panel, fold: EdgeName | None, nap: bool) -> list[Curve]:
    """What the draft lacks of a grainline: the line, its heads, or nothing.

    Two heads where a piece may be turned round, one at the top where the cloth has a nap.
    """
    drawn = grain_of(panel)
    if drawn is None:
        shaft = set_grain(panel, fold)
    elif drawn[1]:
        shaft = drawn[0]
    else:
        return []
    if np.hypot(*(shaft[1] - shaft[0])) <= 0.0:
        return []
    along = (shaft[1] - shaft[0]) / np.hypot(*(shaft[1] - shaft[0]))
    beside = 0.4 * _ARROW_MM * np.array([-along[1], along[0]])
    heads = [
        straight(
            np.array(
                [
                    end - sense * _ARROW_MM * along + beside,
                    end,
                    end - sense * _ARROW_MM * along - beside,
                ]
            )
        )
        for end, sense in ((shaft[1], 1.0), (shaft[0], -1.0))[: 1 if nap else 2]
    ]
    return heads if drawn else [straight(shaft), *heads]


_IN_GORE: Final = 0.4
_TIP_SHARES: Final = {"bottom": 0.36, "top": 0.64}
"""How far up a gore the middle of its grainline is, by where its tip is."""


def set_grain(panel: Panel, fold: EdgeName | None) -> FloatArray:
    """Ends of a grainline up the panel, a fifth of the way from front to back, bottom first.

    Half way on a panel that lies on the fold: the fold's bracket stands by its edge. In a gore
    towards the tip, where there is no room for words.
    """
    points = panel.frame.to_panel(panel.outline.flatten(_FLATNESS_MM))
    low, high = float(points[:, 1].min()), float(points[:, 1].max())
    tip = panel.pointed
    middle = 0.5 * (low + high) if tip is None else low + _TIP_SHARES[tip] * (high - low)
    half = 0.5 * (_GRAIN_SHARE if tip is None else _IN_GORE) * (high - low)
    u = _clear_line(points, middle - half, middle + half, 0.5 if fold or tip else 0.2)
    return panel.frame.to_sheet(np.array([[u, middle - half], [u, middle + half]]))


def _clear_line(points: FloatArray, low: float, high: float, share: float) -> float:
    """A u that keeps inside the panel between two heights, a share of the way from its front."""
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
    return left + share * (right - left)
