"""Find the panels of a drawing: closed outlines that a waistline crosses exactly twice."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from ..errors import CurveError, PatternError
from ..outline.crossing import SAME_POINT_MM, crossings
from ..outline.planar import area, contains, distance, self_crossing
from ..pattern.drawing import Drawing, LeftOut, Shape
from .copies import drop_joined_copies
from .crossed import cross, settle
from .enclosing import NetOutline
from .found import Candidate, FoundPanel
from .joining import JOIN_TOLERANCE_MM, Joining, join_outlines
from .nearby import REACH_MM, Boxes, NearLines
from .nesting import sort_nested
from .residue import drop_residue, drop_specks, extent, without_stray_pieces
from .roles import Role, roles_of

OUTLINE_CHOSEN: Final = "of two outlines round each other the"
"""How the note begins that tells which was chosen by its place alone."""

_PANEL_AREA_SHARE: Final = 0.25

_LETTER_SHARE: Final = 0.1
"""Outlines smaller than this part of the largest, a frame perhaps, have no say in which line is
the waistline."""

_MOST_NAMED: Final = 12
"""Elements listed in a message."""


@dataclass(frozen=True, eq=False)
class Findings:
    """Panels and what remains for marks, with all that is to be said about the rest."""

    panels: tuple[FoundPanel, ...]
    rest: tuple[tuple[Shape, Role | None], ...]
    left_out: tuple[LeftOut, ...]
    notes: tuple[str, ...]
    warnings: tuple[str, ...]


def find_panels(
    drawing: Drawing,
    *,
    waistlines: tuple[str, ...] = (),
    join_tolerance: float = JOIN_TOLERANCE_MM,
    net_outline: NetOutline = "inner",
) -> Findings:
    """Sort the shapes of a drawing into panels and the rest.

    Parameters
    ----------
    drawing : Drawing
    waistlines : tuple of str
        Ids of the waistlines, where their names do not say it.
    join_tolerance : float
        Largest distance in mm between ends of outline pieces that belong together.
    net_outline : {"inner", "outer"}
        Which of two outlines round each other is the net outline, where names do not say it.

    Raises
    ------
    PatternError
        If there is no waistline, a waistline crosses an outline once or more than twice, an
        outline is open, crosses itself or could be joined in several ways, or no panel is
        found.
    """
    try:
        return _found(drawing, waistlines, join_tolerance, net_outline)
    except PatternError as error:
        raise error.located(source=drawing.source) from None


def _found(
    drawing: Drawing,
    waistlines: tuple[str, ...],
    join_tolerance: float,
    net_outline: NetOutline,
) -> Findings:
    roles = _roles(drawing, waistlines)
    shapes, aside, warnings = drop_residue(drawing.shapes, roles)
    candidates, joining, rest = _outline_candidates(shapes, roles, join_tolerance)
    candidates, copies = drop_joined_copies(candidates, rest)
    rest, specks = drop_specks(rest)
    lines, notes = _waistlines(drawing, rest, candidates, roles, bool(waistlines))
    waist_ids = {shape.ident for shape in lines}
    rest = [shape for shape in rest if shape.ident not in waist_ids]
    _refuse_gaps(drawing, joining, lines, join_tolerance)
    _refuse_tangles(drawing, joining, lines)
    crossed = cross(drawing, candidates, lines)
    nested = sort_nested(crossed.panels, crossed.uncrossed, net=net_outline)
    panels, small = settle(crossed, nested)
    _refuse_overlaps(drawing, panels)
    for panel in panels:
        _refuse_self_crossing(drawing, panel)
    if not panels:
        raise _no_panel(candidates, lines, joining, join_tolerance)
    notes += _joined_notes(candidates)
    if paired := [p.ident for p, count in zip(nested.panels, nested.rings, strict=True) if count]:
        notes.append(
            f"{OUTLINE_CHOSEN} {net_outline} one is taken as the net outline (net_outline in the "
            f"job file, or names, say otherwise): {', '.join(paired)}"
        )
    unused = _unused(lines, panels)
    warnings += [f"{item.ident}: {item.reason}; is a panel missing?" for item in unused]
    warnings += nested.warnings + small.warnings + _large_uncrossed(nested.uncrossed, panels)
    marks = nested.uncrossed + nested.inner + small.marks
    kept = [*rest, *(shape for found in marks for shape in found.shapes)]
    return Findings(
        tuple(panels),
        tuple((shape, roles[shape.ident]) for shape in kept),
        (*aside, *copies, *specks, *nested.aside, *small.aside, *unused),
        tuple(notes),
        tuple(warnings),
    )


def _roles(drawing: Drawing, waistlines: tuple[str, ...]) -> dict[str, Role | None]:
    known: dict[str, list[str]] = {}
    for shape in drawing.shapes:
        known.setdefault(shape.ident, []).append(shape.ident)
        if shape.element:
            known.setdefault(shape.element, []).append(shape.ident)
    for ident in waistlines:
        if ident not in known:
            raise PatternError(
                f"waistline {ident!r} is not in the drawing",
                remedy="Give ids of lines in the drawing; panelshift check lists what it read.",
                source=drawing.source,
                element=ident,
            )
    given = {part: Role("waist", "waist") for ident in waistlines for part in known[ident]}
    named = roles_of(drawing.shapes)
    if waistlines:
        # Lines that are called a waist all the same are levels like any other.
        level = Role("level")
        named = {
            ident: level if role and role.kind == "waist" else role for ident, role in named.items()
        }
    return {**named, **given}


_NEVER_OUTLINE: Final = frozenset({"notch", "bone", "grainline", "aside", "allowance"})


def _outline_candidates(
    shapes: Sequence[Shape], roles: dict[str, Role | None], join_tolerance: float
) -> tuple[list[Candidate], Joining, list[Shape]]:
    """Closed shapes, and open pieces joined; then all shapes that are neither."""
    candidates, pieces, rest = [], [], []
    for shape in shapes:
        role = roles[shape.ident]
        if role and role.kind in _NEVER_OUTLINE:
            rest.append(shape)
        elif shape.curve.closed:
            candidates.append(Candidate(without_stray_pieces(shape.curve), (shape,)))
        elif role and role.kind in ("waist", "level"):
            rest.append(shape)
        else:
            pieces.append(shape)
    joining = join_outlines(tuple(pieces), join_tolerance)
    candidates += [
        Candidate(without_stray_pieces(joined.curve), joined.parts, joined.gap)
        for joined in joining.outlines
    ]
    # Not before: the short piece at an outline's joint is a part of it.
    rest = [replace(s, curve=without_stray_pieces(s.curve)) for s in (*rest, *joining.rest)]
    return candidates, joining, rest


def _waistlines(
    drawing: Drawing,
    rest: list[Shape],
    candidates: list[Candidate],
    roles: dict[str, Role | None],
    given: bool,
) -> tuple[list[Shape], list[str]]:
    """Lines named as waistlines; else the only line across each outline."""
    named = [s for s in rest if (role := roles[s.ident]) is not None and role.kind == "waist"]
    if named or given:
        return named, []
    unnamed = [shape for shape in rest if not shape.curve.closed and roles[shape.ident] is None]
    across: list[Shape] = []
    near = NearLines(unnamed, drawing.source)
    least = _LETTER_SHARE * max((extent(found.outline) for found in candidates), default=0.0)
    for candidate in candidates:
        if extent(candidate.outline) < least:
            continue
        mine = [s for s, found in near.crossing(candidate.outline) if len(found) == 2]
        if len(mine) > 1:
            raise PatternError(
                f"no line is marked as the waistline, and {len(mine)} lines cross the outline "
                f"{candidate.ident} twice: {_listed(mine)}",
                remedy="Put the word waist in the id or label of the waistline, or name its "
                "id as waistlines in the job file.",
                source=drawing.source,
                element=candidate.ident,
            )
        across += [s for s in mine if s not in across]
    if not across:
        raise PatternError(
            "no waistline found",
            remedy="Draw a line across every panel at the waist and put the word waist in its "
            "id or label.",
            source=drawing.source,
        )
    idents = ", ".join(shape.ident for shape in across)
    return across, [f"taken as waistline, being the only line across each panel: {idents}"]


def _refuse_gaps(drawing: Drawing, joining: Joining, lines: list[Shape], tolerance: float) -> None:
    near = NearLines(lines, drawing.source)
    for gap in joining.gaps:
        if any(True for _ in near.crossing(gap.curve)):
            x, y = gap.at
            raise PatternError(
                f"this outline is open: a gap of {gap.size:.2f} mm at ({x:.1f}, {y:.1f}) mm "
                f"(ends within {tolerance:g} mm are joined)",
                remedy="Close the outline in the drawing, or raise join_tolerance in the job "
                "file if the gap means nothing.",
                source=drawing.source,
                element=gap.parts[0].ident,
                at=(float(x), float(y)),
            )


def _refuse_tangles(drawing: Drawing, joining: Joining, lines: list[Shape]) -> None:
    near = NearLines(lines, drawing.source)
    for pieces in joining.tangles:
        if any(True for piece in pieces for _ in near.crossing(piece.curve)):
            raise PatternError(
                "more than two pieces of an outline meet in one point, so that it is not plain "
                f"which belong together: {_listed(pieces)}",
                remedy="Draw the panels apart from each other, or each outline as one closed path.",
                source=drawing.source,
                element=pieces[0].ident,
            )


def _unused(lines: list[Shape], panels: list[FoundPanel]) -> list[LeftOut]:
    used = {panel.waistline.ident for panel in panels}
    boxes = Boxes([panel.outline for panel in panels])
    result = []
    for line in lines:
        if line.ident in used:
            continue
        near = boxes.near(line.curve.hull_box, REACH_MM + SAME_POINT_MM)
        twice = any(len(crossings(panels[k].outline, line.curve, reach=REACH_MM)) for k in near)
        why = "lies on top of another waistline" if twice else "crosses no panel"
        result.append(LeftOut(line.ident, f"a waistline that {why}"))
    return result


def _large_uncrossed(uncrossed: list[Candidate], panels: list[FoundPanel]) -> list[str]:
    """Closed shapes of a panel's size that no waistline crosses: perhaps panels."""
    smallest = min(area(panel.outline) for panel in panels)
    boxes = Boxes([panel.outline for panel in panels])
    return [
        f"{found.ident}: as large as a panel, but no waistline crosses it, so it is none"
        for found in uncrossed
        if area(found.outline) >= _PANEL_AREA_SHARE * smallest
        and not any(
            contains(panels[k].outline, found.outline)
            for k in boxes.near(found.outline.hull_box, REACH_MM)
        )
    ]


def _refuse_self_crossing(drawing: Drawing, panel: FoundPanel) -> None:
    try:
        at = self_crossing(panel.outline)
    except CurveError as error:
        raise error.located(source=drawing.source, element=panel.ident) from None
    if at is not None:
        raise PatternError(
            f"this outline crosses itself at ({at[0]:.1f}, {at[1]:.1f}) mm",
            remedy="Untangle the outline there; look for a loop, a spike or doubled points.",
            source=drawing.source,
            element=panel.ident,
            at=(float(at[0]), float(at[1])),
        )


def _refuse_overlaps(drawing: Drawing, panels: list[FoundPanel]) -> None:
    """Two outlines, of which neither holds the other, that share the middle of their waists."""
    boxes = Boxes([panel.outline for panel in panels])
    middles = [panel.waist.points.mean(axis=0) for panel in panels]
    for i, panel in enumerate(panels):
        for j in boxes.near(np.array([middles[i], middles[i]]), 0.0):
            if i < j and not any(
                distance(one.outline, middle)
                for one, middle in ((panels[j], middles[i]), (panel, middles[j]))
            ):
                raise PatternError(
                    f"two outlines lie on top of each other and cross: {panel.ident} and "
                    f"{panels[j].ident}",
                    remedy="Delete one of them, or draw the panels apart from each other.",
                    source=drawing.source,
                    element=panels[j].ident,
                )


def _no_panel(
    candidates: list[Candidate], lines: list[Shape], joining: Joining, tolerance: float
) -> PatternError:
    problem = (
        f"no panel found: {len(candidates)} closed outline(s), {len(lines)} waistline(s), but no "
        "waistline crosses an outline twice"
    )
    remedy = "Draw a waistline right across every panel, from side edge to side edge."
    near = NearLines(lines, "")
    pieces = [s for s in joining.rest if any(True for _ in near.crossing(s.curve))]
    if pieces:
        problem += f"; {len(pieces)} open lines do, such as {pieces[0].ident}"
        remedy += (
            f" Close the outlines: ends within {tolerance:g} mm are joined (join_tolerance in "
            "the job file)."
        )
    return PatternError(problem, remedy=remedy)


def _joined_notes(candidates: list[Candidate]) -> list[str]:
    return [
        f"{candidate.ident}: outline joined from {len(candidate.shapes)} pieces, "
        f"largest gap {candidate.gap:.3f} mm"
        for candidate in candidates
        if len(candidate.shapes) > 1
    ]


def _listed(shapes: Sequence[Shape]) -> str:
    names = [shape.ident for shape in shapes[:_MOST_NAMED]]
    more = len(shapes) - len(names)
    return ", ".join(names) + (f" and {more} more" if more else "")
