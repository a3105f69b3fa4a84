"""Panels: closed outlines that a waistline crosses exactly twice."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Final

import numpy as np

from ..errors import CurveError, PatternError
from ..outline import Curve, FloatArray
from ..outline.crossing import Crossings
from ..outline.measure import CORNER_ANGLE, breaks
from ..outline.nearness import Boxes, apart, spread
from ..outline.planar import area, contains, distance, self_crossings
from ..pattern.drawing import Shape
from .draft import REACH_MM, Candidate, Draft, FoundPanel
from .names import described, listed, says_gore
from .nested import PANEL_HEIGHT_MM, PANEL_WIDTH_MM, height, is_rectangle, is_straight
from .written_names import sheet_words

MOST_PANELS: Final = 500
"""Crossed outlines at most: sixty panels, each with its allowance, would be a lot."""

_LEAST_HEIGHT_SHARE: Final = 0.25
"""Panels are sewn to each other along their sides, so none is less high than this part of the
highest; letters and logos are."""

_PANEL_AREA_SHARE: Final = 0.15
"""Yokes, gores and cups are smaller than panels, but not by more."""

_GORE_AREA_SHARE: Final = 0.04
"""A gore 60 mm long and 30 wide beside panels of 25 to 30 thousand square mm."""

_SQUARE_MM: Final = 0.5
"""Sides of a test square differ by less."""

_LONG_MARGIN_MM: Final = 50.0
"""Lines of a seam allowance run along an outline within that distance."""

_REMEDY: Final = "leave_out in the job file takes ids; what it names is not cut."


def cross(draft: Draft) -> Draft:
    """Cross outlines with waistlines.

    Raises `PatternError` if waistlines cross an open outline or a tangle of pieces, or more than
    `MOST_PANELS` outlines.
    """
    _refuse_gaps(draft)
    _refuse_tangles(draft)
    panels, uncrossed, doubtful = [], [], []
    crossed = draft.meetings.across([c.outline for c in draft.outlines], draft.waistlines)
    for candidate, hits in zip(draft.outlines, crossed, strict=True):
        if not hits:
            uncrossed.append(candidate)
            continue
        hits = _without_strays(hits)
        fault = _fault(candidate, hits)
        if fault is not None:
            doubtful.append((candidate, fault))
            continue
        line, found = hits[0]
        panels.append(
            FoundPanel(
                candidate.outline, candidate.shapes, candidate.gap, waistline=line, waist=found
            )
        )
    if len(panels) > MOST_PANELS:
        raise PatternError(
            f"waistlines cross more than {MOST_PANELS} outlines",
            remedy="Keep the panels of one garment and one size on a sheet.",
        )
    for candidate in draft.outlines:
        if (count := len(candidate.shapes)) > 1:
            draft.ledger.note(
                "joined",
                f"{candidate.ident}: outline joined from {count} pieces, "
                f"largest gap {candidate.gap:.3f} mm",
                *(shape.ident for shape in candidate.shapes),
            )
    return replace(draft, panels=tuple(panels), outlines=tuple(uncrossed), doubtful=tuple(doubtful))


def settle(draft: Draft) -> Draft:
    """Part panels from small shapes that a waistline happens to cross, such as letters.

    Raises `PatternError` if an outline of a panel's size is not crossed as a panel is, crosses
    itself or another, or if there is no panel at all.
    """
    highest = max((height(panel) for panel in draft.panels), default=0.0)
    least = _LEAST_HEIGHT_SHARE * highest
    panels = [panel for panel in draft.panels if height(panel) >= least]
    boxes = Boxes([panel.outline for panel in panels])
    small: list[Candidate] = [p for p in draft.panels if height(p) < least]
    marks = []
    for candidate, fault in draft.doubtful:
        near = boxes.near(candidate.outline.hull_box, 0.0)
        if any(contains(panels[k].outline, candidate.outline) for k in near):
            marks.append(candidate)
        elif float(np.ptp(candidate.outline.hull_box, axis=0).max()) < least:
            small.append(candidate)
        elif (count := sum(contains(candidate.outline, panels[k].outline) for k in near)) > 1:
            draft.ledger.leave_out("frame", f"a frame round {count} panels", candidate.ident)
        else:
            raise fault
    _tell_small(draft, small, panels)
    _refuse_overlaps(panels)
    _refuse_self_crossings(panels)
    if not panels:
        raise _no_panel(draft)
    _tell_open(draft, panels)
    _tell_unused(draft, panels)
    _tell_uncrossed(draft, panels)
    closed = [shape for found in (*draft.outlines, *marks) for shape in found.shapes]
    return replace(
        draft,
        panels=tuple(panels),
        shapes=(*draft.shapes, *closed),
        outlines=(),
        doubtful=(),
        open_chains=(),
        tangles=(),
    )


def _fault(candidate: Candidate, hits: list[tuple[Shape, Crossings]]) -> PatternError | None:
    """What is wrong with an outline for a panel, None if one waistline crosses it twice."""
    for line, found in hits:
        if len(found) != 2:
            return _wrong_crossing(candidate, line, len(found))
    line, found = hits[0]
    for other, again in hits[1:]:
        if float(np.abs(again.points - found.points).max()) > REACH_MM:
            return PatternError(
                f"two waistlines cross this outline: {described(line)} and {described(other)}",
                remedy="Keep one waistline a panel; name the others for their own level.",
                element=candidate.ident,
            )
    return None


def _without_strays(hits: list[tuple[Shape, Crossings]]) -> list[tuple[Shape, Crossings]]:
    """Leave out waistlines that only poke over the edge of an outline that has one of its own.

    Panels may lie edge to edge, and smaller sizes inside it.
    """
    own = any(len(found) == 2 for _, found in hits)
    return [(line, found) for line, found in hits if len(found) != 1 or not own]


def _wrong_crossing(candidate: Candidate, line: Shape, count: int) -> PatternError:
    if count == 1:
        remedy = (
            "Draw the waistline from side edge to side edge: it ends inside the panel, "
            f"more than {REACH_MM:g} mm short of the outline."
        )
    else:
        remedy = "A panel is crossed twice, once at each side edge: look for a doubled or folded "
        remedy += "outline, or a waistline that wanders over the edge."
    times = "once" if count == 1 else f"{count} times"
    return PatternError(
        f"waistline {described(line)} crosses this outline {times}, not twice",
        remedy=remedy,
        element=candidate.ident,
    )


def _refuse_gaps(draft: Draft) -> None:
    chains = draft.open_chains
    hits = draft.meetings.across([chain.curve for chain in chains], draft.waistlines)
    for chain, crossed in zip(chains, hits, strict=True):
        if crossed:
            x, y = chain.at
            raise PatternError(
                f"this outline is open: a gap of {chain.size:.2f} mm at ({x:.1f}, {y:.1f}) mm "
                f"(ends within {draft.reading.join_tolerance:g} mm are joined)",
                remedy="Close the outline in the drawing, or raise join_tolerance in the job "
                "file if the gap means nothing.",
                element=chain.pieces[0].ident,
                at=chain.at,
                key="join_tolerance",
            )


def _refuse_tangles(draft: Draft) -> None:
    for pieces in draft.tangles:
        if any(draft.meetings.across([piece.curve for piece in pieces], draft.waistlines)):
            raise PatternError(
                "more than two pieces of an outline meet in one point, so that it is not plain "
                f"which belong together: {listed(pieces)}",
                remedy="Draw the panels apart from each other, or each outline as one closed path.",
                element=pieces[0].ident,
            )


def _tell_small(draft: Draft, small: Sequence[Candidate], panels: Sequence[FoundPanel]) -> None:
    """Crossed outlines that are far less high than the panels: letters, or short panels."""
    letters = []
    smallest = min((area(panel.outline) for panel in panels), default=0.0)
    for found in small:
        if _looks_like_panel(found.outline, smallest):
            draft.ledger.fault(
                "short-panel",
                f"{found.ident}: it looks like a panel and a waistline crosses it, but it is far "
                "shorter than the others, so that it is none",
                found.ident,
                remedy=f"If it is no panel, name it as leave_out. {_REMEDY}",
            )
        else:
            letters.append(found.ident)
    why = "crossed by a waistline, but far too small for a panel"
    for ident in letters:
        draft.ledger.leave_out("too-small", why, ident)
    if letters:
        more = f" and {len(letters) - 1} more closed shapes" if len(letters) > 1 else ""
        draft.ledger.warn("too-small", f"{letters[0]}{more}: {why}", *letters)


def _tell_open(draft: Draft, panels: Sequence[FoundPanel]) -> None:
    """Open lines beside the panels that waistlines cross: outlines that are not closed, perhaps."""
    lines = [
        shape
        for shape in draft.shapes
        if not shape.curve.closed
        and not draft.kind(shape)
        and float(np.ptp(shape.curve.hull_box, axis=0).max()) >= PANEL_HEIGHT_MM
        and not is_straight(shape.curve)
    ]
    hits = draft.meetings.across([s.curve for s in lines], draft.waistlines, bounded=False)
    found = [
        shape
        for shape, crossed in zip(lines, hits, strict=True)
        if crossed and not _lies_along(shape.curve, [hit.points for _, hit in crossed], panels)
    ]
    if found:
        draft.ledger.fault(
            "open-outline",
            f"{found[0].ident}: a waistline crosses this open line beside the panels, so that it "
            f"may be a piece of a panel's outline that does not close: {listed(found)}",
            *(shape.ident for shape in found),
            remedy="Close the outline: in the drawing program, join the end nodes of its pieces, "
            "and draw what is missing. Where two panels share a line, draw it once for each. If it "
            f"is no outline, name it as leave_out. {_REMEDY}",
        )


def _lies_along(curve: Curve, points: Sequence[FloatArray], panels: Sequence[FoundPanel]) -> bool:
    """Whether a line meets waistlines only inside panels, or runs along one as a cut line does."""
    met = np.concatenate(points)
    inside = [min(distance(panel.outline, point) for panel in panels) for point in met]
    if max(inside) <= REACH_MM:
        return True
    margins = (apart(spread(curve), panel.outline)[0] for panel in panels)
    return any(m.max() <= _LONG_MARGIN_MM and np.ptp(m) <= REACH_MM for m in margins)


def _tell_unused(draft: Draft, panels: Sequence[FoundPanel]) -> None:
    """Waistlines that became no panel's."""
    used = {panel.waistline.ident for panel in panels}
    unused = [line for line in draft.waistlines if line.ident not in used]
    if not unused:
        return
    used |= {
        line.ident
        for crossed in draft.meetings.across([gore.found.outline for gore in draft.gores], unused)
        for line, _ in crossed
    }
    unused = [line for line in unused if line.ident not in used]
    hits = draft.meetings.across([panel.outline for panel in panels], unused)
    twice = {line.ident for crossed in hits for line, _ in crossed}
    for line in unused:
        why = "lies on top of another waistline" if line.ident in twice else "crosses no panel"
        draft.ledger.leave_out("waistline-unused", f"a waistline that {why}", line.ident)
        draft.ledger.warn(
            "waistline-unused",
            f"{line.ident}: a waistline that {why}; is a panel missing?",
            line.ident,
        )


def _tell_uncrossed(draft: Draft, panels: Sequence[FoundPanel]) -> None:
    """Closed shapes that look like panels and that no waistline crosses."""
    if not draft.outlines:
        return
    smallest = min(area(panel.outline) for panel in panels)
    boxes = Boxes([panel.outline for panel in panels])
    for found in draft.outlines:
        if (
            _looks_like_panel(found.outline, smallest) or _looks_like_gore(found, smallest)
        ) and not any(
            contains(panels[k].outline, found.outline)
            for k in boxes.near(found.outline.hull_box, REACH_MM)
        ):
            if is_rectangle(found.outline) and (words := sheet_words(draft, found.outline, panels)):
                why = f"a low rectangle that holds words of the sheet ({words:.40})"
                draft.ledger.leave_out("set-aside", why, found.ident)
                continue
            draft.ledger.fault(
                "no-waistline",
                f"{found.ident}: it looks like a panel, but no waistline crosses it, so that it "
                "would not be cut",
                found.ident,
                remedy="Draw a waistline right across it. If it is a gore, give it a table "
                "[[gore]] in the job file that says between which panels it stands; if it is no "
                f"panel or has its waist elsewhere, name it as leave_out, or put the word frame "
                f"into its name. {_REMEDY}",
            )


def _looks_like_panel(outline: Curve, smallest: float) -> bool:
    """Whether a closed shape may be a piece to cut, given the area of the smallest panel."""
    low, high = outline.hull_box
    short, long = sorted((high - low).tolist())
    test_square = is_rectangle(outline) and long - short < _SQUARE_MM
    return (
        long >= PANEL_HEIGHT_MM
        and short >= PANEL_WIDTH_MM
        and not test_square
        and area(outline) >= _PANEL_AREA_SHARE * smallest
    )


def _looks_like_gore(found: Candidate, smallest: float) -> bool:
    """Whether a closed shape may be a gore: it is called so, or is a triangle of that size."""
    if any(says_gore(name) for shape in found.shapes for name in (shape.ident, *shape.names)):
        return True
    corners = int((np.abs(breaks(found.outline)) >= CORNER_ANGLE).sum())
    low, high = found.outline.hull_box
    tall = float((high - low).max()) >= PANEL_HEIGHT_MM
    return corners == 3 and tall and area(found.outline) >= _GORE_AREA_SHARE * smallest


def _refuse_self_crossings(panels: Sequence[FoundPanel]) -> None:
    try:
        found = self_crossings([panel.outline for panel in panels])
    except CurveError:
        # One by one, to say which.
        for panel in panels:
            try:
                panel.outline.flatten()
            except CurveError as error:
                raise error.located(element=panel.ident) from None
        raise
    for index, at in found:
        raise PatternError(
            f"this outline crosses itself at ({at[0]:.1f}, {at[1]:.1f}) mm",
            remedy="Untangle the outline there; look for a loop, a spike or doubled points.",
            element=panels[index].ident,
            at=(float(at[0]), float(at[1])),
        )


def _refuse_overlaps(panels: Sequence[FoundPanel]) -> None:
    """Two outlines, of which neither holds the other, that share the middle of their waists."""
    boxes = Boxes([panel.outline for panel in panels])
    middles = np.array([panel.waist.points.mean(axis=0) for panel in panels]).reshape(-1, 2)
    near = boxes.all_near(np.stack([middles, middles], axis=1), 0.0)
    for i, panel in enumerate(panels):
        for j in near[i]:
            if i < j and not any(
                distance(one.outline, middle)
                for one, middle in ((panels[j], middles[i]), (panel, middles[j]))
            ):
                raise PatternError(
                    "two outlines lie on top of each other and cross: "
                    f"{described(panel.shapes[0])} and {described(panels[j].shapes[0])}",
                    remedy="Delete one of them, or draw the panels apart from each other; or "
                    f"leave one out. {_REMEDY}",
                    element=panels[j].ident,
                )


def _no_panel(draft: Draft) -> PatternError:
    count = len(draft.outlines) + len(draft.doubtful) + len(draft.panels)
    cut = [s for s in draft.shapes if s.curve.closed and draft.kind(s) == "allowance"]
    met = draft.meetings.across([s.curve for s in cut], draft.waistlines)
    cut = [shape for shape, hit in zip(cut, met, strict=True) if hit]
    if cut:
        return PatternError(
            f"all outlines that a waistline crosses are called cut lines or seam allowance, and no "
            f"net outline is drawn: {listed(cut)}",
            remedy="Draw the net outlines as well. Or take the words allowance and cut line out of "
            "the names, also of the layer, and say in the job file how wide the allowance is: "
            "[pattern] allowance_drawn = 10 takes off 10 mm.",
            element=cut[0].ident,
        )
    problem = (
        f"no panel found: {count} closed outline(s), {len(draft.waistlines)} waistline(s), but no "
        "waistline crosses an outline twice"
    )
    remedy = "Draw a waistline right across every panel, from side edge to side edge."
    lines = [s for s in draft.shapes if not s.curve.closed and draft.may_be_outline(s)]
    hits = draft.meetings.across([shape.curve for shape in lines], draft.waistlines)
    pieces = [shape for shape, crossed in zip(lines, hits, strict=True) if crossed]
    if pieces:
        problem += f"; {len(pieces)} open lines do, such as {described(pieces[0])}"
        remedy += (
            f" Close the outlines: ends within {draft.reading.join_tolerance:g} mm are joined "
            "(join_tolerance in the job file)."
        )
    return PatternError(problem, remedy=remedy)
