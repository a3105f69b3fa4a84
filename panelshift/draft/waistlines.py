"""Which lines are waistlines: those named so, or else the only line across each outline."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Final

import numpy as np

from ..errors import PatternError
from ..pattern.drawing import Drawing, Shape
from .causes import FROM_PDF, how_to_name, is_nameless
from .draft import Candidate, Draft
from .places import described, listed
from .roles import Role, roles_of
from .tidy import extent

_LETTER_SHARE: Final = 0.1
"""Outlines smaller than this part of the largest, a frame perhaps, have no say in which line is
the waistline."""

_ACROSS_SHARE: Final = 0.4
"""Pieces at one height that cover this part of a panel's width are a line across it."""


def name_roles(drawing: Drawing, waistlines: Sequence[str]) -> dict[str, Role | None]:
    """What names make of each shape, with the waistlines that the maker has given.

    Raises `PatternError` if one of them is not in the drawing.
    """
    named = roles_of(drawing.shapes)
    if not waistlines:
        return named
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
    level = Role("level")
    named = {
        ident: level if role and role.kind == "waist" else role for ident, role in named.items()
    }
    return {**named, **given}


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
    if not across:
        raise PatternError(
            _nameless(draft) + "no waistline found: no open line crosses a closed outline from "
            "side to side",
            remedy="Draw a line across every panel at the waist, from side edge to side edge, and "
            "put the word waist in its id or label.",
        )
    return list(across.values())


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
