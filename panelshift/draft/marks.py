"""Level lines, marks and texts: each on the panel that it lies on."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Final

import numpy as np

from ..errors import PatternError, few
from ..outline import Curve, FloatArray
from ..outline.bezier import LINE, line_control, of_degree
from ..outline.crossing import Crossings, crossings
from ..outline.measure import length, position_at_length
from ..outline.nearness import Boxes, apart
from ..outline.planar import Areas
from ..pattern.drawing import Shape, Text
from ..pattern.panel import Corners, EdgeName, Frame, Level, Mark, MarkKind, Panel
from ..pattern.pattern import Pattern
from .draft import NEAR_MM, TOUCHES_MM, Draft, homes_of
from .names import Role, described
from .order import NamedPanel

SHORT_MARK_MM: Final = 20.0
"""An unnamed line shorter than this that touches an outline is a notch; common practice, no
source: notches are drawn 3 to 10 mm long."""

_NOTCH_ENDS_MM: Final = 3.0
"""What is called a notch and ends no further from the outline belongs to it as it is."""

_ALONG: Final = 9
"""Points of a short line whose distances are looked at."""

MOST_SLANT: Final = np.radians(20.0)
"""An unnamed line that leans further from the waist's direction is no level line."""

_WIDEST_MM: Final = 250.0
"""No panel of a half pattern is wider at the waist; common practice, no source."""

_LEVEL_SHARE: Final = 0.5
"""What covers this part of a panel's waist is meant to lie across it, unlike a bust point."""

_SAME_HEIGHT_MM: Final = 0.05

_NO_PART: Final = {"aside": "a sheet mark", "allowance": "a seam allowance or cut line"}


@dataclass
class _Collected:
    levels: list[Level] = field(default_factory=list)
    marks: list[Mark] = field(default_factory=list)
    texts: list[Text] = field(default_factory=list)


def make_panel(named: NamedPanel, corners: Corners) -> Panel:
    """Put a panel together, still without its marks.

    Raises `PatternError` if its waistline does not run from side edge to side edge.
    """
    found = named.found
    waist = level_across(found.waistline, found.waist, "waist", found.outline, named.frame, corners)
    if waist is None:
        raise PatternError(
            f"waistline {described(found.waistline)} does not run from side edge to side edge",
            remedy="The side edges run from the waist to the next corners; draw the waist "
            "between them, or name unusual corners in the job file.",
            element=found.ident,
        )
    return Panel(named.name, found.ident, found.outline, named.frame, corners, waist)


def assign_marks(draft: Draft, panels: tuple[Panel, ...]) -> tuple[Panel, ...]:
    """Return the panels with their level lines, marks and texts; say what fits none.

    A line that crosses a panel from its front edge to its back edge is a level line; it may
    run over several panels and is then cut off at each one's edges. Every other shape or
    text belongs to the panel it lies on, or touches within 2 mm.
    """
    collected = [_Collected() for _ in panels]
    shapes = []
    for shape in draft.shapes:
        if draft.kind(shape) == "split":
            continue
        if (what := _NO_PART.get(draft.kind(shape))) is not None:
            why = f"named as {what}; not part of a net panel"
            draft.ledger.leave_out("set-aside", why, shape.ident)
        else:
            shapes.append(shape)
    shapes = _assign_levels(draft, shapes, panels, collected)
    _assign_to_homes(draft, shapes, panels, collected)
    _tell_short_levels(draft, shapes, panels, collected)
    finished, twins = [], dict[str, str]()
    for panel, found in zip(panels, collected, strict=True):
        levels, again = _sorted_levels(found.levels, panel)
        finished.append(
            replace(panel, levels=levels, marks=tuple(found.marks), texts=tuple(found.texts))
        )
        twins |= again
    # A line over several panels may be a twin on one and the only level line on another.
    used = {level.ident for panel in finished for level in panel.level_lines}
    for ident, other in twins.items():
        if ident not in used:
            draft.ledger.leave_out("copy", f"lies on top of {other}", ident)
    _tell_levels_twice(draft, finished)
    return tuple(finished)


def _tell_levels_twice(draft: Draft, panels: Sequence[Panel]) -> None:
    """Warn of lines on one panel that are called after one level: one of them only can be it."""
    twice: dict[str, list[tuple[str, Level]]] = {}
    for panel in panels:
        for level in panel.levels:
            name, _, number = level.name.rpartition("~")
            # Those that only their heights name may well be as high.
            if number.isdecimal() and name != _by_height(level.height):
                twice.setdefault(level.name, []).append((panel.name, level))
    for called, found in twice.items():
        name = called.rpartition("~")[0]
        where = ", ".join(panel for panel, _ in found)
        draft.ledger.warn(
            "level-twice",
            f"{where}: more than one line is called after the level {name}; the one at "
            f"{found[0][1].height:+.0f} mm from the waist is called {called}. Give it a "
            "name of its own, or delete it",
            *dict.fromkeys(level.ident for _, level in found),
        )


def _by_height(height: float) -> str:
    return f"level {height:+.0f}"


def _assign_levels(
    draft: Draft, shapes: Sequence[Shape], panels: Sequence[Panel], collected: list[_Collected]
) -> list[Shape]:
    """Give panels their level lines; the other shapes are returned."""
    lines = [
        shape
        for shape in shapes
        if not shape.curve.closed and draft.kind(shape) in ("", "level", "waist")
    ]
    crossed = draft.meetings.across([panel.outline for panel in panels], lines, bounded=False)
    used = set()
    for panel, hits, mine in zip(panels, crossed, collected, strict=True):
        for shape, found in hits:
            level = _level(shape, found, draft.role(shape), panel)
            if level is not None:
                mine.levels.append(level)
                used.add(shape.ident)
    return [shape for shape in shapes if shape.ident not in used]


def _assign_to_homes(
    draft: Draft, shapes: Sequence[Shape], panels: Sequence[Panel], collected: list[_Collected]
) -> None:
    """Give shapes and texts to the panel that holds most of each, or else touches it."""
    boxes, areas = Boxes([p.outline for p in panels]), Areas([p.outline for p in panels])
    near = boxes.all_near(np.array([shape.curve.hull_box for shape in shapes]), NEAR_MM)
    which = [k for homes in near for k in homes]
    curves = [shape.curve for shape, homes in zip(shapes, near, strict=True) for _ in homes]
    shares = iter(areas.shares(which, curves))
    for shape, homes in zip(shapes, near, strict=True):
        held = {k: next(shares) for k in homes}
        home = max(held, key=held.__getitem__, default=None)
        if home is None or held[home] == 0.0:
            # A notch in the seam allowance lies outside, but for the end that touches the outline.
            count = len(shape.curve)
            home = areas.touched(
                homes, shape.curve.points([0.0, 0.5 * count, float(count)]), TOUCHES_MM
            )
        if home is None:
            draft.ledger.leave_out("nowhere", _why_nowhere(shape, draft.role(shape)), shape.ident)
        else:
            kind, curve = _kind(shape, draft.role(shape), panels[home])
            collected[home].marks.append(Mark(kind, curve, shape.ident))
    texts = draft.drawing.texts
    for text, home in zip(texts, homes_of(texts, boxes, areas), strict=True):
        if home is None:
            draft.ledger.leave_out("nowhere", "text outside every panel", text.ident)
        else:
            collected[home].texts.append(text)


def _tell_short_levels(
    draft: Draft, shapes: Sequence[Shape], panels: Sequence[Panel], collected: list[_Collected]
) -> None:
    """Warn of lines that are called after a level, and do not run from side edge to side edge."""
    known = {shape.ident: shape for shape in shapes}
    short: dict[str, list[tuple[str, list[str]]]] = {}
    for panel, found in zip(panels, collected, strict=True):
        drawn: dict[str, list[Shape]] = {}
        for mark in found.marks:
            role = draft.role(known[mark.ident])
            if role and role.level and mark.kind == "level" and not mark.curve.closed:
                drawn.setdefault(role.level, []).append(known[mark.ident])
        for name, lines in drawn.items():
            steps = [shape.curve.end - shape.curve.start for shape in lines]
            across = sum(abs(float(step @ panel.frame.across)) for step in steps)
            there = any(level.name == name for level in found.levels)
            if across >= _LEVEL_SHARE * panel.waist_width and not there:
                ids = [shape.ident for shape in lines]
                short.setdefault(name, []).append((panel.name, ids))
    for name, places in short.items():
        idents = [ident for _, lines in places for ident in lines]
        draft.ledger.warn(
            "level-unused",
            f"{few(idents)}: called {name}, but not drawn from side edge to side edge, so that "
            f"no such level is read on {few(panel for panel, _ in places)}; draw it across in "
            "one line",
            *idents,
        )


def tell_undivided(draft: Draft, pattern: Pattern) -> None:
    """Say that several panels may be drawn as one, with lines that they share between them.

    No panel of a corset is that wide; lines from its top to its bottom that bear no name may then
    be its panels' edges.
    """
    for panel in pattern.panels:
        if panel.waist is None or panel.waist.width <= _WIDEST_MM:
            continue
        ends = [panel.edge(name) for name in ("top", "bottom")]
        through = [
            mark
            for mark in panel.marks
            if mark.kind == "mark" and not mark.curve.closed and _joins(mark.curve, *ends)
        ]
        if through:
            draft.ledger.fault(
                "shared-edges",
                f"panel {panel.name} is {panel.waist.width:.0f} mm wide at the waist, and "
                f"{len(through)} lines run from its top to its bottom: "
                f"{few(mark.ident for mark in through)}. They look like edges that "
                f"{len(through) + 1} panels share",
                panel.ident,
                remedy="Draw each panel as a closed outline of its own: divide the shape along "
                "these lines (drawing programs call it division, or cut path), and move the parts "
                "apart. If it is one panel all the same, give the lines a name, such as channel.",
            )


def _joins(line: Curve, one: Curve, two: Curve) -> bool:
    """Whether a line runs from one edge to another."""
    ends = np.array([line.start, line.end])
    gaps = np.array([apart(ends, edge)[0] for edge in (one, two)]) <= TOUCHES_MM
    return bool((gaps[0, 0] and gaps[1, 1]) or (gaps[0, 1] and gaps[1, 0]))


def _level(shape: Shape, found: Crossings, role: Role | None, panel: Panel) -> Level | None:
    name = role.level if role and role.level else ""
    if not name and _slants(shape.curve, panel.frame):
        return None
    level = level_across(shape, found, name, panel.outline, panel.frame, panel.corners)
    if level is None or level.name:
        return level
    return replace(level, name=_by_height(level.height))


def level_across(
    shape: Shape, found: Crossings, name: str, outline: Curve, frame: Frame, corners: Corners
) -> Level | None:
    """Cut a line off at a panel's side edges; None if it does not run from edge to edge."""
    if len(found) != 2:
        return None
    sides = [edge_at(corners, len(outline), s) for s in found.positions.tolist()]
    if set(sides) != {"front", "back"}:
        return None
    curve = part_between(shape.curve, found.along, found.points)
    if sides[0] == "back":
        curve = curve.reversed()
    heights = frame.to_panel(found.points)[:, 1]
    return Level(name, curve, float(heights.mean()) + 0.0, shape.ident)


def _slants(curve: Curve, frame: Frame) -> bool:
    """Whether a line runs too far from the waist's direction to be at a level."""
    step = curve.end - curve.start
    return bool(abs(step @ frame.up) > np.tan(MOST_SLANT) * abs(step @ frame.across))


def edge_at(c: Corners, count: int, position: float) -> EdgeName:
    """Name the edge that holds a position on an outline of `count` segments."""
    ring: list[tuple[EdgeName, float, float]] = [
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


def part_between(line: Curve, along: FloatArray, points: FloatArray) -> Curve:
    """The part of a line between two crossings, its ends put exactly on them."""
    if len(line) == 1 and line.degree[0] == LINE:
        return Curve.trusted(line_control(points[:1], points[1:]), line.degree)
    s0, s1 = position_at_length(line, np.clip(along, 0.0, length(line)))
    piece = line.piece(float(s0), float(s1))
    control = piece.control.copy()
    control[0, 0], control[-1, 3] = points[0], points[1]
    return Curve(of_degree(control, piece.degree), piece.degree)


def _kind(shape: Shape, role: Role | None, panel: Panel) -> tuple[MarkKind, Curve]:
    """What a shape is on a panel, and its line: a notch right across the edge begins at it."""
    curve = shape.curve
    if role is not None and role.kind in ("grainline", "bone", "level"):
        return role.kind, curve
    called: MarkKind = "mark" if role is None or role.kind != "notch" else "notch"
    if called == "mark" and length(curve, 1e-3) >= SHORT_MARK_MM:
        return called, curve
    away = apart(curve.points(np.linspace(0.0, len(curve), _ALONG)), panel.outline)[0]
    if min(away[0], away[-1]) <= (TOUCHES_MM if called == "mark" else _NOTCH_ENDS_MM):
        return "notch", curve
    size = length(curve, 1e-3)
    # What is farther off than it is long cannot cross; in uneven pieces no place may be near.
    if not curve.closed and size < SHORT_MARK_MM and away.min() <= size:
        at = crossings(curve, panel.outline).positions.tolist()
        if len(at) == 1:
            parts = curve.piece(0.0, at[0]), curve.piece(at[0], float(len(curve)))
            return "notch", max(parts, key=length)
    return called, curve


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
    waist = [] if panel.waist is None else [panel.waist]
    named = Counter(level.name for level in waist)
    for level in sorted(levels, key=lambda item: -item.height):
        # From the top down, the one kept last is the nearest but for the waist.
        before = (*kept[-1:], *waist)
        twin = next((o for o in before if abs(level.height - o.height) < _SAME_HEIGHT_MM), None)
        if twin is not None:
            twins[level.ident] = twin.ident
            continue
        named[level.name] += 1
        same = named[level.name]
        kept.append(replace(level, name=f"{level.name}~{same}") if same > 1 else level)
    return tuple(kept), twins
