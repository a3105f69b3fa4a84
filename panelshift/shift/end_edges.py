"""The top or the bottom edge raised or lowered after a fitting, smoothly from seam to seam."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Final, Literal

import numpy as np

from ..errors import AlterationError, UnknownNameError
from ..files.plain_values import refuse_misfits
from ..outline import Curve, FloatArray
from ..outline.bezier import IntArray, bezier_derivatives, bezier_points
from ..outline.by_value import fix_mappings
from ..outline.crossing import nearest_position
from ..outline.measure import arc_table, length, position_at_length
from ..outline.planar import contains, self_crossings
from ..outline.refit import refit
from ..outline.splines import Spline
from ..pattern.panel import Corners, EdgeName, Mark, Panel
from ..pattern.pattern import Pattern
from ..pattern.two_sides import SIDES_OF_BODY, sided
from ..units import LONGEST_MM, refuse_other_units, shown_length
from .alteration import CENTRES, by_place

_SIDES: Final[tuple[EdgeName, ...]] = ("front", "back")
_MOST_MM: Final = 300.0
"""No fitting finds more: it is another corset."""

_LEFT_MM: Final = 10.0
"""So much of a side edge has to be left beyond the waist."""

_OFF_MM: Final = 0.5
"""A level line whose end comes to lie further from the side edge does not end there any more."""

_ENDS_NEAR_MM: Final = 40.0
"""A bone channel that ends so near the edge ends at it."""

_FAR_MM: Final = 1.0e5
_NOTHING_MM: Final = 1e-6
"""What is left of a place that is to stay: a line so short would be a corner of its own."""

_TOLERANCE_MM: Final = 0.0005


@dataclass(frozen=True)
class EndAlteration:
    """The top or the bottom edge raised or lowered.

    Parameters
    ----------
    edge : {"top", "bottom"}
    amount : mapping of str to float
        By how much it is raised, in mm along the seams, negative where it is lowered, by place: a
        seam by its two panels' names or places ("3 to 4"), or "centre front", "centre back". It
        goes over smoothly between two places and never beyond their amounts; beyond the outermost
        it is held.
    run_out : float, optional
        Length in mm along the edge over which it runs out to nothing beyond the outermost places
        instead.

    Raises
    ------
    AlterationError
        If an amount is too large, or it says too little.

    Examples
    --------
    >>> EndAlteration("top", {"centre front": -10.0, "2 to 3": 0.0}).said()
    'top edge: -10 at centre front, 0 at 2 to 3'
    """

    edge: Literal["top", "bottom"]
    amount: Mapping[str, float]
    run_out: float | None = None

    def __post_init__(self) -> None:
        refuse_misfits(self, "an alteration")
        fix_mappings(self)
        _refuse_unsaid(self)

    def said(self, unit: str = "mm") -> str:
        """The alteration in a few words.

        Parameters
        ----------
        unit : {"mm", "cm", "in"}
            Of the amounts.

        Returns
        -------
        str

        Raises
        ------
        UnknownNameError
            If there is no such unit.
        """
        refuse_other_units(unit)
        out = self.run_out
        more = "" if out is None else f", run out over {shown_length(out, unit)}"
        return f"{self.edge} edge: {by_place(self.amount, unit)}{more}"


def _refuse_unsaid(one: EndAlteration) -> None:
    """Refuse an alteration that says too little, or what cannot be."""
    for value in one.amount.values():
        if not abs(value) <= _MOST_MM:
            raise _fault(one, f"an amount of {value:g} mm", f"Give it in mm, {_MOST_MM:g} at most.")
    if one.run_out is not None and not 1.0 <= one.run_out <= LONGEST_MM:
        raise _fault(
            one, f"a run-out of {one.run_out:g} mm", "Give the length it takes, 1 mm or more."
        )
    if len(one.amount) < (1 if one.run_out is not None else 2):
        raise _fault(
            one,
            "an amount at one place does not say what it is elsewhere",
            'Name the place where it is nothing as well, such as { "centre front" = 10, '
            '"3 to 4" = 0 }, or the length run_out over which it runs out to nothing.',
        )


def _fault(one: EndAlteration, problem: str, remedy: str) -> AlterationError:
    """The error of an alteration that cannot be made, named by its edge."""
    return AlterationError(problem, remedy=remedy, element=f"{one.edge} edge")


def moved_ends(pattern: Pattern, alterations: Sequence[EndAlteration]) -> Pattern:
    """The pattern with its top and bottom edges moved.

    Side edges are cut off, or prolonged straight on, by the amount of their seam: the two edges of
    a seam alike, so that they still walk. In between the edge moves with the panel's own upright.

    Raises `AlterationError` if a panel would be too short, or what is drawn on it would lie beyond
    the edge, or pieces are set in between panels. Raises `UnknownNameError` for a place that is
    not.
    """
    for one in alterations:
        for panel in pattern:
            if panel.waist is None or panel.pieces:
                what = "made of several pieces" if panel.pieces else "set in between panels"
                raise _fault(
                    one,
                    f"{panel.name!r} is {what}: the edge does not go on over it",
                    f"Alter the {one.edge} edges of such a draft in the drawing program; seams can "
                    "be altered.",
                )
        lengths = [length(panel.edge(one.edge)) for panel in pattern]
        ends = np.concatenate([[0.0], np.cumsum(lengths)])
        raised = _by_run(pattern, one, ends)
        panels = tuple(
            _moved(panel, one, raised, ends[k], pattern.ends(k)[0] == "back")
            for k, panel in enumerate(pattern)
        )
        if any(new is not old for new, old in zip(panels, pattern, strict=True)):
            pattern = replace(pattern, panels=panels)
    return pattern


def _by_run(pattern: Pattern, one: EndAlteration, ends: FloatArray) -> Spline:
    """The amount by how far a point lies along the edge, from its first corner on."""
    knots = sorted(
        (run, mm) for name, mm in one.amount.items() for run in _runs_of(pattern, name, ends)
    )
    runs, values = (list(column) for column in zip(*knots, strict=True))
    for low, high in pairwise(runs):
        if high - low < 1.0:
            raise _fault(one, "two of its places are one", "Name each place once.")
    if one.run_out is not None:
        runs = [runs[0] - one.run_out, *runs, runs[-1] + one.run_out]
        values = [0.0, *values, 0.0]
    runs = [runs[0] - _FAR_MM, *runs, runs[-1] + _FAR_MM]
    return Spline.monotone(runs, [values[0], *values, values[-1]])


def _runs_of(pattern: Pattern, place: str, ends: FloatArray) -> list[float]:
    """How far a place lies along the edge; both ends are the centre back of both halves."""
    wanted = " ".join(place.lower().replace("center", "centre").split())
    if wanted == CENTRES[0]:
        front = pattern.front_place if pattern.full else 0.0
        return [float(np.interp(front, np.arange(len(ends)), ends))]
    if wanted == CENTRES[1]:
        return [float(ends[k]) for k in ((0, -1) if pattern.full else (-1,))]
    names = [panel.name.lower() for panel in pattern]
    numbers = [str(k + 1) for k in range(len(names))]
    for k in range(len(names) - 1):
        for known in (names, numbers):
            pair = known[k : k + 2]
            if wanted in (" to ".join(pair), " to ".join(pair[::-1])):
                return [float(ends[k + 1])]
    raise UnknownNameError.of("place", place, (*CENTRES, *(w.name for w in pattern.walk())))


def ends_of_both_sides(half: Pattern, one: EndAlteration) -> EndAlteration:
    """What an alteration of a half pattern is when it is drawn out by `both_sides`."""
    amount: dict[str, float] = {}
    ends = np.arange(len(half) + 1.0)
    for place, mm in one.amount.items():
        (at,) = map(int, _runs_of(half, place, ends))
        names = [panel.name for panel in half.panels[at - 1 : at + 1]]
        if 0 < at < len(half):
            for side in SIDES_OF_BODY:
                amount[" to ".join(sided(side, name) for name in names)] = mm
        else:
            amount[CENTRES[at > 0]] = mm
    return replace(one, amount=amount)


def _moved(
    panel: Panel, one: EndAlteration, raised: Spline, first: float, backwards: bool
) -> Panel:
    """A panel with one of its end edges moved, which begins so far along the whole edge."""
    edge = panel.edge(one.edge)
    positions, runs = arc_table(edge, 1.0)
    whole = float(runs[-1])
    along = first + (whole - runs if backwards else runs)
    amounts = raised.at(along)
    if not amounts.any():
        return panel
    further = amounts if one.edge == "top" else -amounts
    sides = {
        side: _prolonged(panel, one, side, float(further[place]))
        for side, place in zip(_SIDES, (0, -1), strict=True)
    }
    corners = [side.end if one.edge == "top" else side.start for side in sides.values()]
    up = panel.frame.up
    off = [
        corner - end - up * amounts[place]
        for corner, end, place in zip(corners, (edge.start, edge.end), (0, -1), strict=True)
    ]
    sign = -1.0 if backwards else 1.0

    def image(index: IntArray, t: FloatArray) -> tuple[FloatArray, FloatArray]:
        own = edge.control[index]
        points, speeds = bezier_points(own, t), bezier_derivatives(own, t)
        run = np.interp(index + t, positions, runs)
        rate = np.hypot(*speeds.T)
        at = first + (whole - run if backwards else run)
        share = (run / whole)[:, None]
        moved = points + raised.at(at)[:, None] * up + (1.0 - share) * off[0] + share * off[1]
        turned = (sign * rate * raised.rates(at))[:, None] * up
        return moved, speeds + turned + (rate / whole)[:, None] * (off[1] - off[0])

    (new,) = refit([edge], image, _TOLERANCE_MM)
    top, bottom = (new, panel.edge("bottom")) if one.edge == "top" else (panel.edge("top"), new)
    front, back = sides["front"], sides["back"]
    outline, own_corners = Corners.between(front, top, back, bottom)

    def amount_at(point: FloatArray) -> float:
        at, away = nearest_position(edge, point)
        run = float(np.interp(at, positions, runs))
        held = raised.at([first + (whole - run if backwards else run)])
        return float(held[0]) if away <= _ENDS_NEAR_MM else 0.0

    result = replace(
        panel,
        outline=outline,
        corners=own_corners,
        marks=tuple(_with_edge(panel, mark, one, amount_at) for mark in panel.marks),
    )
    _refuse_beyond(panel, result, one)
    return result


def _with_edge(
    panel: Panel, mark: Mark, one: EndAlteration, amount_at: Callable[[FloatArray], float]
) -> Mark:
    """A bone channel that ends near the edge, as much longer or shorter; other marks as they are.

    It is drawn out along itself, so that it stays as wide and as straight as it was.
    """
    if mark.kind != "bone":
        return mark
    points = mark.curve.flatten()
    heights = panel.frame.to_panel(points)[:, 1]
    far = heights.argmax() if one.edge == "top" else heights.argmin()
    near = heights.argmin() if one.edge == "top" else heights.argmax()
    amount = amount_at(points[far])
    tall = float(abs(heights[far] - heights[near]))
    if amount == 0.0 or tall <= abs(amount):
        return mark
    way = np.array(points[far] - points[near])
    # Of a strip's outline two corners are its end: their sides run along it, not across.
    sides = np.diff(mark.curve.vertices, axis=0)
    way = sides[int(np.argmax(np.hypot(*sides.T)))] if mark.curve.closed else way
    way = way / np.hypot(*way)
    way = way if (way @ panel.frame.up > 0.0) == (one.edge == "top") else -way
    along = (points - points[near]) @ way
    more = amount if one.edge == "top" else -amount
    by = more / float(np.ptp(along))
    linear = np.eye(2) + by * np.outer(way, way)
    base = points[near] + along.min() * way
    return replace(
        mark, curve=mark.curve.transformed(np.column_stack([linear, base - linear @ base]))
    )


def _prolonged(panel: Panel, one: EndAlteration, side: EdgeName, more: float) -> Curve:
    """A side edge longer or shorter at the end that it has in common with the altered edge."""
    edge, waist = panel.edge(side), panel.waist_end(side)
    assert waist is not None  # as `moved_ends` has seen to
    at_top = one.edge == "top"
    if abs(more) < _NOTHING_MM:
        return edge
    if more > 0.0:
        ways = edge.end_tangents()
        if at_top:
            return Curve.chain([edge, Curve.polyline([edge.end, edge.end + more * ways[-1, 1]])])
        return Curve.chain([Curve.polyline([edge.start - more * ways[0, 0], edge.start]), edge])
    whole, (at, _) = length(edge), nearest_position(edge, waist)
    low = length(edge.piece(0.0, at))
    room = whole - low if at_top else low
    if -more > room - _LEFT_MM:
        raise _fault(
            one,
            f"panel {panel.name!r} would end {room + more:.1f} mm from the waist",
            "Move the edge by less.",
        )
    cut = position_at_length(edge, whole + more if at_top else -more).tolist()[0]
    return edge.piece(0.0, cut) if at_top else edge.piece(cut, float(len(edge)))


def _refuse_beyond(old: Panel, new: Panel, one: EndAlteration) -> None:
    """Refuse an edge that crosses others, or comes to lie within what is drawn on the panel."""
    if self_crossings([new.outline]):
        raise _fault(
            one, f"the edges of panel {old.name!r} would cross", "Move the edge by less there."
        )
    for level in new.level_lines:
        ends = zip(_SIDES, (level.curve.start, level.curve.end), strict=True)
        further = (
            nearest_position(new.edge(side), end)[1] - nearest_position(old.edge(side), end)[1]
            for side, end in ends
        )
        if max(further) > _OFF_MM:
            raise _fault(
                one,
                f"level {level.name!r} of panel {old.name!r} would lie beyond the edge",
                "Take the level line out of the draft, or move the edge by less.",
            )
    for mark in new.marks:
        if contains(old.outline, mark.curve) and not contains(new.outline, mark.curve):
            raise _fault(
                one,
                f"a {mark.kind} of panel {old.name!r} would reach beyond the edge"
                + (f" ({mark.ident})" if mark.ident else ""),
                "Shorten it in the draft first.",
            )
