"""Gores in slits: lines along which a panel is cut open from its top or its bottom."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from ..errors import PatternError, few
from ..outline import FloatArray
from ..outline.crossing import crossings
from ..outline.measure import length
from ..outline.nearness import apart
from ..outline.planar import distance
from ..pattern.drawing import Shape
from ..pattern.panel import Panel, Slit
from ..pattern.pattern import Pattern
from ..pattern.profile import SIDES
from .draft import REACH_MM, Draft, FoundGore
from .gore_shapes import unfit, upright
from .marks import edge_at, part_between
from .names import described, given_name, is_called, listed, says_slit

_LEAST_MM: Final = 5.0
"""What must be left of a panel beside a slit and beyond it: less cannot be sewn."""

_EASED_MM: Final = 5.0
"""A gore's edge may be longer or shorter than its slit by so much, as with any seam."""

_LEAST_RISE: Final = 0.2
"""Every part of a slit rises by at least this part of its length."""

_AS_A_LINE: Final = (
    "Draw it as one open line from the panel's top or bottom edge to the point where the gore ends."
)


def part_slits(draft: Draft) -> Draft:
    """Part the lines that the maker calls slits from all else that is drawn.

    Raises `PatternError` if there is no such line, or several, or one has two gores.
    """
    found: dict[str, Shape] = {}
    for gore in draft.reading.gores:
        wanted = gore.slit
        if bool(wanted) == bool(gore.between) or (wanted and (gore.tip or gore.opens_at)):
            raise PatternError(
                f"of the gore {gore.panel!r:.60} it is to be said where it stands, either in a "
                "seam (between, and tip or opens_at if need be) or in a slit",
                remedy="Give between, the two panels on either side of the seam; or slit, the line "
                "that it is cut open along, at whose end the tip lies.",
                element=gore.panel,
            )
        if not wanted:
            continue
        shape = _called(draft, wanted)
        if any(shape is other for other in found.values()):
            raise PatternError(
                f"two gores are to stand in the slit {wanted!r:.60}",
                remedy="Draw a slit for each, or the two as one gore.",
                element=shape.ident,
            )
        found[wanted] = shape
    return replace(draft.without(found.values()), slits=found)


def _called(draft: Draft, wanted: str) -> Shape:
    """The open line that the maker means by a label or an id."""
    exact = [shape for shape in draft.shapes if shape.ident == wanted]
    found = exact or [shape for shape in draft.shapes if is_called(shape, wanted)]
    lines = [shape for shape in found if not shape.curve.closed]
    if len(lines) == 1:
        return lines[0]
    if lines:
        problem = f"{len(lines)} lines are called {wanted!r:.60}: {listed(lines)}"
        remedy = "Give the id of one in the job file, or delete the others."
    elif found:
        problem = f"{wanted!r:.60}, which the job file names as a slit, is a closed outline"
        remedy = _AS_A_LINE
    else:
        every = [
            given_name(shape.names) or shape.ident
            for shape in draft.shapes
            if not shape.curve.closed
        ]
        problem = f"there is no line called {wanted!r:.60}, which the job file names as a slit"
        remedy = (
            f"Give the id or the label of an open line. Those here: {few(dict.fromkeys(every))}."
        )
    raise PatternError(problem, remedy=remedy, element=wanted)


def tell_slits_alone(draft: Draft) -> None:
    """Say of lines that are called slits, and in which no gore is set."""
    for shape in draft.shapes:
        if not shape.curve.closed and any(map(says_slit, (shape.ident, *shape.names))):
            draft.ledger.warn(
                "slit-alone",
                f"{described(shape)} is called {given_name(shape.names) or shape.ident}, but no "
                "gore is set in it: it is drawn as a mark, and nothing opens there; a gore in it "
                "needs a table [[gore]] that names it as its slit",
                shape.ident,
            )


@dataclass(frozen=True, eq=False)
class SlitSeat:
    """A gore in a slit of the panel *first*.

    *across*, *height*: u of the slit's open end and v of its tip on that panel, in mm.
    """

    panel: Panel
    first: int
    slit: Slit
    across: float
    height: float
    by_line: bool


def seat_in_slit(draft: Draft, gore: FoundGore, pattern: Pattern) -> SlitSeat:
    """Find the panel of a gore's slit, and set the gore's tip at the slit's end.

    Raises `PatternError` if the slit is none, or the gore is not as long as it is.
    """
    shape = draft.slits[gore.said.slit]
    first, slit = _slit(draft, gore, shape, pattern)
    panel = pattern.panels[first]
    height = float(panel.frame.to_panel(slit.tip)[1])
    if pattern.full and 2 * first + 1 == len(pattern):
        raise unfit(
            gore,
            f"{panel.name} lies across the centre front, and cannot have a slit",
            "Draw it as two panels, with a seam at the centre front.",
        )
    if height * (1.0 if slit.opens_at == "bottom" else -1.0) > -_LEAST_MM or (
        panel.waist is not None and len(crossings(panel.waist.curve, slit.curve))
    ):
        raise unfit(
            gore,
            f"{_its_slit(gore)} reaches the waist of {panel.name}",
            f"End the slit {_LEAST_MM:.0f} mm before the waistline; a gore that reaches over the "
            "waist is better set in a seam, with the panel drawn as two.",
        )
    piece, by_line = upright(draft, gore, panel.frame, slit.opens_at)
    if piece.waist is not None:
        raise unfit(
            gore,
            "a waistline crosses it, but its slit ends short of the waist",
            "Move it to where no waistline crosses it in the drawing.",
        )
    long = length(slit.curve)
    for side in SIDES:
        own = length(piece.edge(side))
        if abs(own - long) > _EASED_MM:
            raise unfit(
                gore,
                f"its {side} edge is {own:.1f} mm long, {_its_slit(gore)} {long:.1f} mm",
                "Draw the slit as long as the gore's edges are from the tip on.",
            )
    at = piece.edge("front").end if piece.pointed == "top" else piece.edge("front").start
    frame = replace(piece.frame, origin=at - height * piece.frame.up)
    end = slit.curve.start if slit.opens_at == "bottom" else slit.curve.end
    across = float(panel.frame.to_panel(end)[0])
    return SlitSeat(replace(piece, frame=frame), first, slit, across, height, by_line)


def _slit(draft: Draft, gore: FoundGore, shape: Shape, pattern: Pattern) -> tuple[int, Slit]:
    """The panel that a line lies on, and the line as its slit, cut off at its edge."""
    what = _its_slit(gore)
    met = [(k, draft.meetings.of(panel.outline, shape.curve)) for k, panel in enumerate(pattern)]
    met = [(k, found) for k, found in met if len(found)]
    if not met:
        raise unfit(gore, f"{what} reaches no edge of a panel", _AS_A_LINE)
    first, found = met[0]
    panel = pattern.panels[first]
    if len(met) > 1 or len(found) > 1:
        names = few(pattern.panels[k].name for k, _ in met)
        raise unfit(
            gore,
            f"{what} meets edges of {names} more than once",
            f"{_AS_A_LINE} A line right across a panel parts it in two: draw those as panels.",
        )
    side = edge_at(panel.corners, len(panel.outline), float(found.positions[0]))
    if side != "top" and side != "bottom":
        raise unfit(gore, f"{what} begins at the {side} edge of {panel.name}", _AS_A_LINE)
    line = shape.curve
    total, begins = length(line), float(found.along[0])
    # Of two ends within, the other one is drawn just short of the edge.
    inner = max(
        (
            (abs(at - begins), at)
            for at, end in ((0.0, line.start), (total, line.end))
            if distance(panel.outline, end) == 0.0
        ),
        default=None,
    )
    if inner is None or inner[0] < REACH_MM:
        raise unfit(gore, f"{what} does not lead into {panel.name}", _AS_A_LINE)
    at_start = inner[1] == 0.0
    ends = (line.start, found.points[0]) if at_start else (found.points[0], line.end)
    along = (0.0, begins) if at_start else (begins, total)
    curve = part_between(line, np.array(along), np.array(ends))
    if panel.frame.to_panel(curve.start)[1] > panel.frame.to_panel(curve.end)[1]:
        curve = curve.reversed()
    _refuse_crooked(gore, what, panel, panel.frame.to_panel(curve.flatten()))
    for edge in SIDES:
        if float(apart(curve.flatten(), panel.edge(edge))[0].min()) < _LEAST_MM:
            raise unfit(
                gore,
                f"{what} runs into the {edge} edge of {panel.name}",
                f"Keep it {_LEAST_MM:.0f} mm away from the side edges, or set the gore in the seam "
                "(between).",
            )
    return first, Slit(gore.name, curve, side, shape.ident)


def _its_slit(gore: FoundGore) -> str:
    """The slit for a message, as the maker calls it."""
    return f"its slit {gore.said.slit!r:.60}"


def _refuse_crooked(gore: FoundGore, what: str, panel: Panel, points: FloatArray) -> None:
    steps = np.diff(points, axis=0)
    if bool((steps[:, 1] < _LEAST_RISE * np.hypot(*steps.T)).any()):
        raise unfit(
            gore,
            f"{what} turns back, or lies flat, on {panel.name}",
            "Draw it so that it goes up, or down, all the way.",
        )


def refuse_near(seats: Sequence[SlitSeat]) -> None:
    """Refuse slits of one panel that meet."""
    for one, two in itertools.combinations(seats, 2):
        if one.first == two.first and (
            len(crossings(one.slit.curve, two.slit.curve))
            or float(apart(one.slit.curve.flatten(), two.slit.curve)[0].min()) < _LEAST_MM
        ):
            raise PatternError(
                f"the slits of the gores {one.panel.name!r} and {two.panel.name!r} meet, or all "
                "but meet",
                remedy=f"Keep them {_LEAST_MM:.0f} mm apart: less cannot be sewn.",
                element=two.slit.ident,
            )
