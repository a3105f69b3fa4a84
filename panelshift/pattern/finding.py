"""Find the panels of a drawing: closed outlines that a waistline crosses exactly twice."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from ..errors import CurveError, PatternError
from ..outline import Curve, FloatArray
from ..outline.crossing import Crossings, crossings
from ..outline.measure import length
from ..outline.planar import area, contains, self_crossing
from .drawing import Drawing, LeftOut, Shape
from .joining import JOIN_TOLERANCE_MM, Joining, join_outlines
from .roles import Role, roles_of

REACH_MM: Final = 2.0
"""How far short of an outline a level line may stop and still count as crossing it."""

_PANEL_WIDTH_MM: Final = 20.0
"""Closed shapes narrower than this at the waist inside another are bone channels and the
like; common practice, no source: channels run from 6 to 15 mm, panels from 25 mm."""

_PANEL_AREA_SHARE: Final = 0.25

_NET_SHARE: Final = 0.5
"""A single outline of at least this part of the area round it is the net outline inside its
seam allowance."""


@dataclass(frozen=True, eq=False)
class FoundPanel:
    """An outline with its waistline, before its front is known."""

    outline: Curve
    shapes: tuple[Shape, ...]
    waistline: Shape
    waist: Crossings

    @property
    def ident(self) -> str:
        """Id of the element that the outline was drawn with (the first of several)."""
        return self.shapes[0].ident


@dataclass(frozen=True, eq=False)
class Findings:
    """Panels and what remains for marks, with all that is to be said about the rest."""

    panels: tuple[FoundPanel, ...]
    rest: tuple[tuple[Shape, Role | None], ...]
    left_out: tuple[LeftOut, ...]
    notes: tuple[str, ...]
    warnings: tuple[str, ...]


@dataclass(frozen=True, eq=False)
class _Candidate:
    curve: Curve
    shapes: tuple[Shape, ...]
    gap: float = 0.0

    @property
    def ident(self) -> str:
        return self.shapes[0].ident


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
    panels, aside, inner = _sort_nested(panels)
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
) -> tuple[list[_Candidate], Joining, list[Shape]]:
    """Closed shapes, and open pieces joined; then all shapes that are neither."""
    candidates, pieces, rest = [], [], []
    for shape in drawing.shapes:
        role = roles[shape.ident]
        if role and role.kind in _NEVER_OUTLINE:
            rest.append(shape)
        elif shape.curve.closed:
            candidates.append(_Candidate(shape.curve, (shape,)))
        elif role and role.kind in ("waist", "level"):
            rest.append(shape)
        else:
            pieces.append(shape)
    joining = join_outlines(tuple(pieces), join_tolerance)
    candidates += [_Candidate(j.curve, j.parts, j.gap) for j in joining.outlines]
    return candidates, joining, rest + list(joining.rest)


def _waistlines(
    drawing: Drawing,
    rest: list[Shape],
    candidates: list[_Candidate],
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
    for candidate in candidates:
        mine = [s for s in unnamed if len(crossings(candidate.curve, s.curve, reach=REACH_MM)) == 2]
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
    for gap in joining.gaps:
        if any(len(crossings(gap.curve, waist.curve, reach=REACH_MM)) for waist in lines):
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
    for pieces in joining.tangles:
        if any(
            len(crossings(piece.curve, waist.curve, reach=REACH_MM))
            for piece in pieces
            for waist in lines
        ):
            raise PatternError(
                "more than two pieces of an outline meet in one point, so that it is not plain "
                f"which belong together: {', '.join(piece.ident for piece in pieces)}",
                remedy="Draw the panels apart from each other, or each outline as one closed path.",
                source=drawing.source,
                element=pieces[0].ident,
            )


def _crossed(
    drawing: Drawing, candidates: list[_Candidate], lines: list[Shape]
) -> tuple[list[FoundPanel], list[_Candidate]]:
    panels, uncrossed = [], []
    for candidate in candidates:
        hits = [
            (line, found)
            for line in lines
            if len(found := crossings(candidate.curve, line.curve, reach=REACH_MM))
        ]
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
    result = []
    for line in lines:
        if line.ident in used:
            continue
        twice = any(len(crossings(p.outline, line.curve, reach=REACH_MM)) for p in panels)
        why = "lies on top of another waistline" if twice else "crosses no outline"
        result.append(LeftOut(line.ident, f"a waistline that {why}"))
    return result


def _large_uncrossed(uncrossed: list[_Candidate], panels: list[FoundPanel]) -> list[str]:
    """Closed shapes of a panel's size that no waistline crosses: perhaps panels."""
    if not panels:
        return []
    smallest = min(area(panel.outline) for panel in panels)
    return [
        f"{found.ident}: as large as a panel, but no waistline crosses it, so it is none"
        for found in uncrossed
        if area(found.curve) >= _PANEL_AREA_SHARE * smallest
        and not any(contains(panel.outline, found.curve) for panel in panels)
    ]


def _refuse_crossing(drawing: Drawing, candidate: _Candidate, line: Shape, count: int) -> None:
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


def _waist_width(panel: FoundPanel) -> float:
    step: FloatArray = panel.waist.points[1] - panel.waist.points[0]
    return float(np.hypot(*step))


def _sort_nested(
    panels: list[FoundPanel],
) -> tuple[list[FoundPanel], list[LeftOut], list[_Candidate]]:
    """Part net outlines from seam-allowance lines, sheet frames and shapes inside panels."""
    boxes = [panel.outline.bounds() for panel in panels]
    inside: dict[int, list[int]] = {i: [] for i in range(len(panels))}
    for i, outer in enumerate(panels):
        for j, inner in enumerate(panels):
            fits = bool(
                (boxes[i][0] <= boxes[j][0] + 0.01).all()
                and (boxes[i][1] >= boxes[j][1] - 0.01).all()
            )
            twin = j < i and bool(np.abs(boxes[i] - boxes[j]).max() < 0.01)
            if i != j and fits and not twin and contains(outer.outline, inner.outline):
                inside[i].append(j)
    dropped: dict[int, str] = {}
    marks: set[int] = set()
    for i in sorted(inside, key=lambda k: len(inside[k])):
        wide = [
            j
            for j in inside[i]
            if j not in dropped and j not in marks and _waist_width(panels[j]) >= _PANEL_WIDTH_MM
        ]
        if len(wide) > 1:
            dropped[i] = f"a frame round {len(wide)} panels"
        elif wide:
            net = panels[wide[0]]
            share = area(net.outline) / area(panels[i].outline)
            if share >= _NET_SHARE:
                what = "drawn twice" if share > 0.9999 else "the seam allowance"
                dropped[i] = f"{what} round {net.ident}, which is taken as the net outline"
        if i not in dropped:
            marks |= set(inside[i]) - set(dropped)
    keep = [p for i, p in enumerate(panels) if i not in dropped and i not in marks]
    aside = [LeftOut(panels[i].ident, why) for i, why in sorted(dropped.items())]
    inner_shapes = [_Candidate(panels[i].outline, panels[i].shapes) for i in sorted(marks)]
    return keep, aside, inner_shapes
