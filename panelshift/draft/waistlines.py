"""Which lines are waistlines, and which may be: those named so, or else the only line across
each outline."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from ..errors import PatternError
from ..outline import Curve, FloatArray
from ..outline.crossing import nearest_position
from ..pattern.drawing import Drawing, Shape, Text, spaced
from .causes import FROM_PDF, how_to_name, is_nameless
from .draft import Candidate, Draft
from .names import Role, described, first_role, level_role, listed, looks, roles_of
from .tidy import extent

_LETTER_SHARE: Final = 0.1
"""Outlines smaller than this part of the largest, a frame perhaps, have no say in which line is
the waistline."""

_WIDER: Final = 0.95
"""Panels together are hardly wider at the waist than anywhere near: common practice, no source."""

_INNER: Final = 0.8
_HEIGHTS: Final = 33
"""Where widths are taken, of what all panels reach: not at the ends, which may be pointed."""

_ACROSS_SHARE: Final = 0.4
"""Pieces at one height that cover this part of a panel's width are a line across it."""


def name_roles(drawing: Drawing, waistlines: Sequence[str]) -> dict[str, Role | None]:
    """What names make of each shape, with the waistlines that the maker has given.

    Raises `PatternError` if one of them is not in the drawing.
    """
    named = roles_of(drawing.shapes)
    if not waistlines:
        waists = [s for s in drawing.shapes if (role := named[s.ident]) and role.kind == "waist"]
        others = [s for s in waists if not s.curve.closed and _is_called_otherwise(s)]
        # A low waist, or the edge of a tape, is the waistline only where nothing else is.
        if len(others) == len(waists):
            return named
        return named | {s.ident: level_role(s) for s in others}
    known: dict[str, list[str]] = {}
    for shape in drawing.shapes:
        known.setdefault(shape.ident, []).append(shape.ident)
        if shape.element:
            known.setdefault(shape.element, []).append(shape.ident)
    for ident in waistlines:
        if ident not in known:
            raise PatternError(
                f"waistline {ident!r:.60} is not in the drawing",
                remedy="Select the waistline in the drawing program and copy its id from the "
                f"object properties. Ids of open lines here: {_open_lines(drawing)}.",
                source=drawing.source,
                element=ident,
            )
    given = {part: Role("waist", "waist") for ident in waistlines for part in known[ident]}
    # Lines that are called a waist all the same are levels like any other.
    levels = {
        shape.ident: level_role(shape)
        for shape in drawing.shapes
        if (role := named[shape.ident]) and role.kind == "waist"
    }
    return {**named, **levels, **given}


def _is_called_otherwise(shape: Shape) -> bool:
    """Whether a line is called a low or a high waist, or after the tape that lies on the waist."""
    names = (*shape.names, *shape.groups[-1:])
    words = {word for name in names for word in spaced(name).split()}
    return not words.isdisjoint({"tape", "stay", "ribbon", "low", "high"})


def _open_lines(drawing: Drawing) -> str:
    return listed([shape for shape in drawing.shapes if not shape.curve.closed]) or "none"


def find_waistlines(draft: Draft) -> Draft:
    """Tell the waistlines from the other lines.

    Raises `PatternError` if no line is one, or several may be.
    """
    lines = [shape for shape in draft.shapes if draft.kind(shape) == "waist"]
    if not lines and not draft.reading.waistlines:
        lines = _only_lines_across(draft)
        idents = [shape.ident for shape in lines]
        draft.ledger.note(
            "waistline-alone",
            f"taken as waistline, being the only line across each panel: {', '.join(idents)}",
            *idents,
        )
    return replace(draft.without(lines), waistlines=tuple(lines))


def _only_lines_across(draft: Draft) -> list[Shape]:
    """Unnamed lines of which one crosses each outline."""
    unnamed = [s for s in draft.shapes if not s.curve.closed and draft.role(s) is None]
    least = _LETTER_SHARE * max((extent(found.outline) for found in draft.outlines), default=0.0)
    candidates = [found for found in draft.outlines if extent(found.outline) >= least]
    crossed = draft.meetings.across([found.outline for found in candidates], unnamed)
    across: dict[str, Shape] = {}
    taken: list[tuple[Candidate, Shape]] = []
    for candidate, hits in zip(candidates, crossed, strict=True):
        mine = [shape for shape, found in hits if len(found) == 2]
        if len(mine) > 1:
            raise PatternError(
                _nameless(draft) + f"no line is marked as the waistline, and {len(mine)} lines "
                f"cross the outline {described(candidate.shapes[0])} from side to side: "
                f"{listed(mine)}",
                remedy=how_to_name("the line at the waist of each panel", "waist")
                + "Or give the ids of the waistlines in the job file: [pattern] waistlines = "
                f'["{mine[0].ident}", ...].',
                element=candidate.ident,
                key="waistlines",
            )
        if mine and (others := _others_across(candidate, mine[0], unnamed)):
            raise PatternError(
                _nameless(draft) + f"no line is marked as the waistline; {mine[0].ident} crosses "
                f"the outline {described(candidate.shapes[0])}, but other lines lie across it as "
                f"well: {listed(others)}",
                remedy=how_to_name("the line at the waist of each panel", "waist")
                + "Or give the ids of the waistlines in the job file: [pattern] waistlines = "
                f'["{others[0].ident}", ...].',
                element=candidate.ident,
                key="waistlines",
            )
        across |= {shape.ident: shape for shape in mine}
        taken += [(candidate, shape) for shape in mine]
    if not across:
        raise PatternError(
            _nameless(draft) + "no waistline found: no open line crosses a closed outline from "
            "side to side",
            remedy="Draw a line across every panel at the waist, from side edge to side edge, and "
            "put the word waist in its id or label. Two short marks will do, one at either side "
            "edge, with the word waist in both their names.",
            key="waistlines" if lines_across(draft) else "",
        )
    _refuse_other_levels(draft, taken)
    return list(across.values())


def _refuse_other_levels(draft: Draft, taken: Sequence[tuple[Candidate, Shape]]) -> None:
    """The only lines across may be another level: by a word, or by what panels measure there."""
    line = taken[0][1]
    problem = ""
    for _, shape in taken:
        word = word_near(shape.curve, draft.drawing.texts)
        role = first_role((word,)) if word else None
        if role and role.kind == "level":
            problem = f"beside {described(shape)}, the only line across, stands {word!r}"
            break
    else:
        at, least, height = _narrowest(taken)
        if least < _WIDER * at:
            problem = (
                f"the only line across the panels, such as {described(line)}, lies where they are "
                f"{at:.0f} mm wide together; {abs(height):.0f} mm "
                f"{'above' if height > 0.0 else 'below'} it they are {least:.0f} mm"
            )
    if problem:
        raise PatternError(
            f"no line is marked as the waistline: {problem}, so that it may be another level",
            remedy=how_to_name("the line at the waist of each panel", "waist")
            + "If it is the waistline all the same, give its id in the job file: [pattern] "
            f'waistlines = ["{line.ident}", ...].',
            element=line.ident,
            key="waistlines",
        )


def _narrowest(taken: Sequence[tuple[Candidate, Shape]]) -> tuple[float, float, float]:
    """Width of all panels together along their lines, the least one beside, and how far above."""
    reaches, outlines = [], []
    for candidate, shape in taken:
        along = shape.curve.end - shape.curve.start
        along = along / max(float(np.hypot(*along)), 1e-9)
        up = np.array([along[1], -along[0]])
        up = -up if up[1] > 0.0 else up
        points = candidate.outline.flatten() - 0.5 * (shape.curve.start + shape.curve.end)
        outlines.append(np.column_stack([points @ along, points @ up]))
        reaches.append((float(outlines[-1][:, 1].min()), float(outlines[-1][:, 1].max())))
    low, high = max(low for low, _ in reaches), min(high for _, high in reaches)
    heights = np.append(np.linspace(_INNER * low, _INNER * high, _HEIGHTS), 0.0)
    widths = np.zeros(len(heights))
    for points in outlines:
        u, v = points.T
        for k, height in enumerate(heights):
            met = (np.minimum(v[:-1], v[1:]) <= height) & (np.maximum(v[:-1], v[1:]) >= height)
            at = np.flatnonzero(met)
            steps = np.where(v[at + 1] == v[at], 1.0, v[at + 1] - v[at])
            cut = u[at] + np.clip((height - v[at]) / steps, 0.0, 1.0) * (u[at + 1] - u[at])
            widths[k] += float(np.ptp(cut)) if len(cut) else 0.0
    best = int(np.argmin(widths))
    return float(widths[-1]), float(widths[best]), float(heights[best])


def _others_across(candidate: Candidate, line: Shape, unnamed: Sequence[Shape]) -> list[Shape]:
    """Pieces that make up another line across an outline, beside the only whole one."""
    chord = line.curve.end - line.curve.start
    along = chord / max(float(np.hypot(*chord)), 1e-9)
    low, high = candidate.outline.hull_box
    reach = candidate.outline.flatten() @ along
    rows: dict[int, list[tuple[float, Shape]]] = {}
    for shape in unnamed:
        step = shape.curve.end - shape.curve.start
        size = float(abs(step @ along))
        middle = 0.5 * (shape.curve.end + shape.curve.start)
        inside = (middle >= low).all() and (middle <= high).all()
        if shape is line or not inside or abs(step @ [-along[1], along[0]]) > 0.1 * size:
            continue
        rows.setdefault(round(float(middle @ [-along[1], along[0]])), []).append((size, shape))
    for row in rows.values():
        if sum(size for size, _ in row) >= _ACROSS_SHARE * float(np.ptp(reach)):
            return [shape for _, shape in row]
    return []


def _nameless(draft: Draft) -> str:
    """That no line has a name, where that is the cause."""
    return f"{FROM_PDF}: " if is_nameless(draft.drawing) else ""


_NEAR_MM: Final = 12.0
"""A word about a line stands no further from it."""

_LEVEL_MM: Final = 3.0
"""Lines drawn at one height on the sheet lie within."""

_LONGEST_WORD: Final = 40


@dataclass(frozen=True, eq=False)
class LineAcross:
    """A line that crosses an outline from side to side, and where a maker finds it.

    *ident*: Of the line. *panel*: Id of the outline. *place*: Of the outline, counted from the
    left, from 1. *height*: Of the line's middle above the lowest point of the outline, in mm.
    *sheet*: Height of its middle on the sheet, in mm. *look*: How it is drawn: dashed or solid,
    colour, width. *word*: Written near it; may be empty.
    """

    ident: str
    panel: str
    place: int
    height: float
    sheet: float
    look: str
    word: str


def lines_across(draft: Draft) -> tuple[LineAcross, ...]:
    """All lines without a name across each outline, from the left and from the bottom up.

    Raises `PatternError` if there are no outlines to be crossed.
    """
    unnamed = [s for s in draft.shapes if not s.curve.closed and draft.role(s) is None]
    least = _LETTER_SHARE * max((extent(found.outline) for found in draft.outlines), default=0.0)
    outlines = [found for found in draft.outlines if extent(found.outline) >= least]
    outlines.sort(key=lambda found: float(found.outline.hull_box[0, 0]))
    crossed = draft.meetings.across([found.outline for found in outlines], unnamed)
    found: list[LineAcross] = []
    words: dict[str, str] = {}
    place = 0
    for outline, hits in zip(outlines, crossed, strict=True):
        lines = []
        for shape, points in hits:
            if len(points) != 2:
                continue
            if shape.ident not in words:
                words[shape.ident] = word_near(shape.curve, draft.drawing.texts)
            middle = points.points.mean(axis=0)
            height = _above_bottom(outline.outline, points.points)
            lines.append((height, float(-middle[1]), shape))
        place += bool(lines)
        found += [
            LineAcross(s.ident, outline.ident, place, height, sheet, looks(s), words[s.ident])
            for height, sheet, s in sorted(lines, key=lambda item: item[:2])
        ]
    return tuple(found)


def alike(lines: Sequence[LineAcross]) -> tuple[tuple[LineAcross, ...], ...]:
    """Lines that may together be the waistline: one across each panel, from the bottom up.

    Lines go together by what is written near them, by how they are drawn, by their height on
    the sheet, or, where all panels have equally many, by their rank from the bottom.
    """
    panels = list(dict.fromkeys(line.panel for line in lines))
    ranks, levels = _ranks(lines), _levels(lines)
    kinds: list[Callable[[int], object]] = [
        lambda k: spaced(lines[k].word) or None,
        lambda k: lines[k].look,
        lambda k: levels[k],
    ]
    if len({ranks.count(rank) for rank in set(ranks)}) == 1:
        kinds.append(lambda k: ranks[k])
    found: dict[frozenset[str], tuple[LineAcross, ...]] = {}
    for kind in kinds:
        groups: dict[object, list[LineAcross]] = {}
        for k, line in enumerate(lines):
            if (value := kind(k)) is not None:
                groups.setdefault(value, []).append(line)
        for group in groups.values():
            if [line.panel for line in group] == panels:
                found.setdefault(frozenset(line.ident for line in group), tuple(group))
    return tuple(sorted(found.values(), key=lambda group: np.mean([x.height for x in group])))


def _ranks(lines: Sequence[LineAcross]) -> list[int]:
    """How many lines of the same panel lie below each."""
    return [sum(other.panel == line.panel for other in lines[:k]) for k, line in enumerate(lines)]


def _levels(lines: Sequence[LineAcross]) -> list[int]:
    """Number of each line's height on the sheet; those less than a hair apart share one."""
    heights = np.array([line.sheet for line in lines])
    by_height = np.argsort(heights, kind="stable")
    steps = np.diff(heights[by_height], prepend=heights[by_height[:1]]) > _LEVEL_MM
    levels = np.empty(len(lines), dtype=np.int64)
    levels[by_height] = np.cumsum(steps)
    return [int(level) for level in levels]


def _above_bottom(outline: Curve, ends: FloatArray) -> float:
    """Height of a line's middle above an outline's lowest point, seen with the line level."""
    step = ends[1] - ends[0]
    up = np.array([-step[1], step[0]]) / max(float(np.hypot(*step)), 1e-9)
    if up[1] > 0.0:
        up = -up
    return float(((ends.mean(axis=0) - outline.flatten()) @ up).max())


def word_near(line: Curve, texts: Sequence[Text]) -> str:
    """The text that begins nearest to a line; empty if none is near."""
    best, word = _NEAR_MM, ""
    low, high = line.hull_box
    for text in texts:
        if (text.anchor < low - _NEAR_MM).any() or (text.anchor > high + _NEAR_MM).any():
            continue
        _, apart = nearest_position(line, text.anchor)
        if apart < best and text.content.strip():
            best, word = apart, " ".join(text.content.split())[:_LONGEST_WORD]
    return word
