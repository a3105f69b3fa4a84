"""Find the panels of a drawing: closed outlines that a waistline crosses exactly twice."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from ..errors import CurveError, PatternError
from ..outline.crossing import SAME_POINT_MM, Crossings, crossings
from ..outline.measure import length
from ..outline.planar import area, contains, self_crossing
from .drawing import Drawing, LeftOut, Shape
from .found import Candidate, FoundPanel
from .joining import JOIN_TOLERANCE_MM, Joining, join_outlines
from .nearby import REACH_MM, Boxes, NearLines
from .nesting import sort_nested
from .roles import Role, roles_of

_PANEL_AREA_SHARE: Final = 0.25

MOST_PANELS: Final = 500
"""Crossed outlines at most: sixty panels, each with its allowance, would be a lot."""


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
) -> Findings:
    """Sort the shapes of a drawing into panels and the rest.

    Parameters
    ----------
    drawing : Drawing
    waistlines : tuple of str
        Ids of the waistlines, where their names do not say it.
    join_tolerance : float
        Largest distance in mm between ends of outline pieces that belong together.

    Raises
    ------
    PatternError
        If there is no waistline, a waistline crosses an outline once or more than twice, an
        outline is open, crosses itself or could be joined in several ways, or no panel is
        found.
    """
    roles = _roles(drawing, waistlines)
    candidates, joining, rest = _outline_candidates(drawing, roles, join_tolerance)
    lines, waist_notes = _waistlines(drawing, rest, candidates, roles, waistlines)
    waist_ids = {shape.ident for shape in lines}
    rest = [shape for shape in rest if shape.ident not in waist_ids]
    _refuse_gaps(drawing, joining, lines, join_tolerance)
    _refuse_tangles(drawing, joining, lines)
    panels, uncrossed = _crossed(drawing, candidates, lines)
    panels, aside, inner = sort_nested(panels)
    for panel in panels:
        _refuse_self_crossing(drawing, panel)
    if not panels:
        raise PatternError(
            f"no panel found: {len(candidates)} closed outline(s), {len(lines)} waistline(s), "
            "but no waistline crosses an outline twice",
            remedy="Draw a waistline right across every panel, from side edge to side edge.",
            source=drawing.source,
        )
    notes = list(waist_notes)
    for candidate in candidates:
        if len(candidate.shapes) > 1:
            notes.append(
                f"{candidate.ident}: outline joined from {len(candidate.shapes)} pieces, "
                f"largest gap {candidate.gap:.3f} mm"
            )
    unused = _unused(lines, panels)
    warnings = [f"{item.ident}: {item.reason}; is a panel missing?" for item in unused]
    warnings += _large_uncrossed(uncrossed, panels)
    aside += unused
    kept = [(shape, roles.get(shape.ident)) for shape in rest]
    kept += [
        (shape, roles.get(shape.ident)) for found in uncrossed + inner for shape in found.shapes
    ]
    return Findings(tuple(panels), tuple(kept), tuple(aside), tuple(notes), tuple(warnings))


def _roles(drawing: Drawing, waistlines: tuple[str, ...]) -> dict[str, Role | None]:
    known = {shape.ident for shape in drawing.shapes}
    for ident in waistlines:
        if ident not in known:
            raise PatternError(
                f"waistline {ident!r} is not in the drawing",
                remedy="Give ids of lines in the drawing; panelshift check lists what it read.",
                source=drawing.source,
                element=ident,
            )
    given = {ident: Role("waist", "waist") for ident in waistlines}
    return {**roles_of(drawing.shapes), **given}


_NEVER_OUTLINE: Final = frozenset({"notch", "bone", "grainline", "aside", "allowance"})


def _outline_candidates(
    drawing: Drawing, roles: dict[str, Role | None], join_tolerance: float
) -> tuple[list[Candidate], Joining, list[Shape]]:
    """Closed shapes, and open pieces joined; then all shapes that are neither."""
    candidates, pieces, rest = [], [], []
    for shape in drawing.shapes:
        role = roles[shape.ident]
        if role and role.kind in _NEVER_OUTLINE:
            rest.append(shape)
        elif shape.curve.closed:
            candidates.append(Candidate(shape.curve, (shape,)))
        elif role and role.kind in ("waist", "level"):
            rest.append(shape)
        else:
            pieces.append(shape)
    joining = join_outlines(tuple(pieces), join_tolerance)
    candidates += [Candidate(j.curve, j.parts, j.gap) for j in joining.outlines]
    return candidates, joining, rest + list(joining.rest)


def _waistlines(
    drawing: Drawing,
    rest: list[Shape],
    candidates: list[Candidate],
    roles: dict[str, Role | None],
    given: tuple[str, ...],
) -> tuple[list[Shape], list[str]]:
    """Lines named as waistlines; else the only line across each outline."""
    named = [
        shape
        for shape in rest
        if shape.ident in given
        or (not given and (role := roles[shape.ident]) is not None and role.kind == "waist")
    ]
    if named:
        return named, []
    unnamed = [shape for shape in rest if not shape.curve.closed and roles[shape.ident] is None]
    across: list[Shape] = []
    near = NearLines(unnamed, drawing.source)
    for candidate in candidates:
        mine = [s for s, found in near.crossing(candidate.curve) if len(found) == 2]
        if len(mine) > 1:
            raise PatternError(
                f"no line is marked as the waistline, and {len(mine)} lines cross the outline "
                f"{candidate.ident} twice: {', '.join(s.ident for s in mine)}",
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
            )


def _refuse_tangles(drawing: Drawing, joining: Joining, lines: list[Shape]) -> None:
    near = NearLines(lines, drawing.source)
    for pieces in joining.tangles:
        if any(True for piece in pieces for _ in near.crossing(piece.curve)):
            raise PatternError(
                "more than two pieces of an outline meet in one point, so that it is not plain "
                f"which belong together: {', '.join(piece.ident for piece in pieces)}",
                remedy="Draw the panels apart from each other, or each outline as one closed path.",
                source=drawing.source,
                element=pieces[0].ident,
            )


def _crossed(
    drawing: Drawing, candidates: list[Candidate], lines: list[Shape]
) -> tuple[list[FoundPanel], list[Candidate]]:
    panels, uncrossed = [], []
    near = NearLines(lines, drawing.source)
    for candidate in candidates:
        hits = [*near.crossing(candidate.curve)]
        if not hits:
            uncrossed.append(candidate)
            continue
        hits = _without_strays(hits)
        for line, found in hits:
            if len(found) != 2:
                _refuse_crossing(drawing, candidate, line, len(found))
        line, found = hits[0]
        for other, again in hits[1:]:
            apart = float(np.abs(again.points - found.points).max())
            if apart > REACH_MM:
                raise PatternError(
                    f"two waistlines cross this outline: {line.ident} and {other.ident}",
                    remedy="Keep one waistline a panel; name the others for their own level.",
                    source=drawing.source,
                    element=candidate.ident,
                )
        panels.append(FoundPanel(candidate.curve, candidate.shapes, line, found))
        if len(panels) > MOST_PANELS:
            raise PatternError(
                f"waistlines cross more than {MOST_PANELS} outlines",
                remedy="Keep the panels of one garment and one size on a sheet.",
                source=drawing.source,
            )
    return panels, uncrossed


def _without_strays(hits: list[tuple[Shape, Crossings]]) -> list[tuple[Shape, Crossings]]:
    """Leave out a neighbour's waistline that only just pokes over this outline's edge.

    Panels may lie edge to edge; an outline with a waistline of its own cannot be lost so.
    """
    own = [(line, found) for line, found in hits if len(found) == 2]

    def stray(line: Shape, found: Crossings) -> bool:
        size = length(line.curve)
        near_end = (found.along <= REACH_MM) | (found.along >= size - REACH_MM)
        return len(found) == 1 and bool(near_end.all())

    return [hit for hit in hits if not (own and stray(*hit))]


def _unused(lines: list[Shape], panels: list[FoundPanel]) -> list[LeftOut]:
    used = {panel.waistline.ident for panel in panels}
    boxes = Boxes([panel.outline for panel in panels])
    result = []
    for line in lines:
        if line.ident in used:
            continue
        near = boxes.near(line.curve.hull_box, REACH_MM + SAME_POINT_MM)
        twice = any(len(crossings(panels[k].outline, line.curve, reach=REACH_MM)) for k in near)
        why = "lies on top of another waistline" if twice else "crosses no outline"
        result.append(LeftOut(line.ident, f"a waistline that {why}"))
    return result


def _large_uncrossed(uncrossed: list[Candidate], panels: list[FoundPanel]) -> list[str]:
    """Closed shapes of a panel's size that no waistline crosses: perhaps panels."""
    if not panels:
        return []
    smallest = min(area(panel.outline) for panel in panels)
    boxes = Boxes([panel.outline for panel in panels])
    return [
        f"{found.ident}: as large as a panel, but no waistline crosses it, so it is none"
        for found in uncrossed
        if area(found.curve) >= _PANEL_AREA_SHARE * smallest
        and not any(
            contains(panels[k].outline, found.curve)
            for k in boxes.near(found.curve.hull_box, REACH_MM)
        )
    ]


def _refuse_crossing(drawing: Drawing, candidate: Candidate, line: Shape, count: int) -> None:
    if count == 1:
        remedy = (
            "Draw the waistline from side edge to side edge: it ends inside the panel, "
            f"more than {REACH_MM:g} mm short of the outline."
        )
    else:
        remedy = "A panel is crossed twice, once at each side edge: look for a doubled or folded "
        remedy += "outline, or a waistline that wanders over the edge."
    times = "once" if count == 1 else f"{count} times"
    raise PatternError(
        f"waistline {line.ident} crosses this outline {times}, not twice",
        remedy=remedy,
        source=drawing.source,
        element=candidate.ident,
    )


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
        )
