"""Give every remaining shape and text to the panel it lies on."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Final

import numpy as np

from ..outline import Curve, FloatArray
from ..outline.bezier import straighten
from ..outline.crossing import crossings
from ..outline.measure import length, position_at_length
from ..outline.planar import distance, overlap_share
from ..pattern.drawing import LeftOut, Shape, Text
from ..pattern.panel import Corners, Frame, Level, Mark, MarkKind, Panel
from .closeness import apart
from .nearby import REACH_MM, Boxes
from .roles import Role

SHORT_MARK_MM: Final = 20.0
"""An unnamed line shorter than this that touches an outline is a notch; common practice, no
source: notches are drawn 3 to 10 mm long."""

MOST_SLANT: Final = np.radians(20.0)
"""An unnamed line that leans further from the waist's direction is no level line."""

_TOUCHES_MM: Final = 2.0
_SAME_HEIGHT_MM: Final = 0.05

_NEAR_MM: Final = REACH_MM + _TOUCHES_MM
"""No panel further from a shape than this can have to do with it."""


@dataclass
class _Collected:
    levels: list[Level] = field(default_factory=list)
    marks: list[Mark] = field(default_factory=list)
    texts: list[Text] = field(default_factory=list)


def assign_marks(
    panels: tuple[Panel, ...],
    rest: tuple[tuple[Shape, Role | None], ...],
    texts: tuple[Text, ...],
) -> tuple[tuple[Panel, ...], tuple[LeftOut, ...]]:
    """Return the panels with their level lines, marks and texts, and what fits none.

    A line that crosses a panel from its front edge to its back edge is a level line; it may
    run over several panels and is then cut off at each one's edges. Every other shape or
    text belongs to the panel it lies on, or touches within 2 mm.
    """
    collected = [_Collected() for _ in panels]
    boxes = Boxes([panel.outline for panel in panels])
    left_out = []
    for shape, role in rest:
        if role and role.kind in ("aside", "allowance"):
            what = "a sheet mark" if role.kind == "aside" else "a seam allowance or cut line"
            left_out.append(LeftOut(shape.ident, f"named as {what}; not part of a net panel"))
            continue
        near = boxes.near(shape.curve.hull_box, _NEAR_MM)
        if not _assign(shape, role, {k: panels[k] for k in near}, collected):
            left_out.append(LeftOut(shape.ident, _why_nowhere(shape, role)))
    for text in texts:
        near = boxes.near(np.array([text.anchor, text.anchor]), _NEAR_MM)
        home = _nearest({k: panels[k] for k in near}, text.anchor)
        if home is None:
            left_out.append(LeftOut(text.ident, "text outside every panel"))
        else:
            collected[home].texts.append(text)
    finished, twins = [], dict[str, str]()
    for panel, found in zip(panels, collected, strict=True):
        levels, again = _sorted_levels(found.levels, panel)
        finished.append(
            replace(panel, levels=levels, marks=tuple(found.marks), texts=tuple(found.texts))
        )
        twins |= again
    # A line over several panels may be a twin on one and the only level line on another.
    used = {level.ident for panel in finished for level in (panel.waist, *panel.levels)}
    left_out += [
        LeftOut(ident, f"lies on top of {other}")
        for ident, other in twins.items()
        if ident not in used
    ]
    return tuple(finished), tuple(left_out)


def _assign(
    shape: Shape, role: Role | None, near: Mapping[int, Panel], collected: list[_Collected]
) -> bool:
    may_be_level = not shape.curve.closed and (role is None or role.kind in ("level", "waist"))
    placed = False
    if may_be_level:
        for index, panel in near.items():
            level = _level(shape, role, panel)
            if level is not None:
                collected[index].levels.append(level)
                placed = True
    if placed:
        return True
    home = _home(shape.curve, near)
    if home is None:
        return False
    kind = _kind(shape, role, near[home])
    collected[home].marks.append(Mark(kind, shape.curve, shape.ident))
    return True


def level_across(
    shape: Shape, name: str, outline: Curve, frame: Frame, corners: Corners
) -> Level | None:
    """Cut a line off at a panel's side edges; None if it does not run from edge to edge."""
    found = crossings(outline, shape.curve, reach=REACH_MM)
    if len(found) != 2:
        return None
    sides = [_side(corners, len(outline), float(s)) for s in found.positions]
    if set(sides) != {"front", "back"}:
        return None
    curve = _between(shape.curve, found.along, found.points)
    if sides[0] == "back":
        curve = curve.reversed()
    heights = frame.to_panel(found.points)[:, 1]
    return Level(name, curve, float(heights.mean()) + 0.0, shape.ident)


def _level(shape: Shape, role: Role | None, panel: Panel) -> Level | None:
    name = role.level if role and role.level else ""
    if not name and _slants(shape.curve, panel.frame):
        return None
    level = level_across(shape, name, panel.outline, panel.frame, panel.corners)
    if level is None or level.name:
        return level
    return replace(level, name=f"level {level.height:+.0f}")


def _slants(curve: Curve, frame: Frame) -> bool:
    """Whether a line runs too far from the waist's direction to be at a level."""
    step = curve.end - curve.start
    return bool(abs(step @ frame.up) > np.tan(MOST_SLANT) * abs(step @ frame.across))


def _side(c: Corners, count: int, position: float) -> str:
    """Name the edge that holds a position on an outline of `count` segments."""
    ring = [
        ("front", c.front_bottom, c.front_top),
        ("top", c.front_top, c.back_top),
        ("back", c.back_top, c.back_bottom),
        ("bottom", c.back_bottom, c.front_bottom),
    ]
    for name, start, end in ring:
        low, high = (start, end) if c.runs_up_front else (end, start)
        if (position - low) % count <= (high - low) % count:
            return name
    return "bottom"


def _between(line: Curve, along: FloatArray, points: FloatArray) -> Curve:
    """The part of a line between two crossings, its ends put exactly on them."""
    s0, s1 = position_at_length(line, np.clip(along, 0.0, length(line)))
    piece = line.piece(float(s0), float(s1))
    control = piece.control.copy()
    control[0, 0], control[-1, 3] = points[0], points[1]
    return Curve(straighten(control, piece.degree), piece.degree)


def _home(curve: Curve, near: Mapping[int, Panel]) -> int | None:
    """Index of the panel that holds most of a curve, or else touches it."""
    shares = {index: overlap_share(panel.outline, curve) for index, panel in near.items()}
    best = max(shares, key=shares.__getitem__, default=None)
    if best is not None and shares[best] > 0.0:
        return best
    # A notch in the seam allowance lies outside, but for the end that touches the outline.
    count = len(curve)
    return _nearest(near, *curve.points([0.0, 0.5 * count, float(count)]))


def _nearest(near: Mapping[int, Panel], *points: FloatArray) -> int | None:
    apart = {
        index: min(distance(panel.outline, point) for point in points)
        for index, panel in near.items()
    }
    best = min(apart, key=apart.__getitem__, default=None)
    return best if best is not None and apart[best] <= _TOUCHES_MM else None


def _kind(shape: Shape, role: Role | None, panel: Panel) -> MarkKind:
    if role is not None and role.kind in ("notch", "grainline", "bone", "level"):
        return role.kind
    if length(shape.curve, 1e-3) < SHORT_MARK_MM:
        ends = np.array([shape.curve.start, shape.curve.end])
        if apart(ends, panel.outline)[0].min() <= _TOUCHES_MM:
            return "notch"
    return "mark"


def _why_nowhere(shape: Shape, role: Role | None) -> str:
    if shape.curve.closed:
        return "closed, but no waistline crosses it and it lies on no panel"
    if role is not None and role.kind == "waist":
        return "a waistline that crosses no outline"
    return "lies on no panel"


def _sorted_levels(levels: list[Level], panel: Panel) -> tuple[tuple[Level, ...], dict[str, str]]:
    """Levels from the top down, and those drawn twice with the line that they lie on.

    A line drawn twice counts once, and names stay unique.
    """
    kept: list[Level] = []
    twins: dict[str, str] = {}
    named = Counter([panel.waist.name])
    for level in sorted(levels, key=lambda item: -item.height):
        # From the top down, the one kept last is the nearest but for the waist.
        before = (*kept[-1:], panel.waist)
        twin = next((o for o in before if abs(level.height - o.height) < _SAME_HEIGHT_MM), None)
        if twin is not None:
            twins[level.ident] = twin.ident
            continue
        named[level.name] += 1
        same = named[level.name]
        kept.append(replace(level, name=f"{level.name}~{same}") if same > 1 else level)
    return tuple(kept), twins
