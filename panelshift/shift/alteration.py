"""What a fitting changed, as the maker says it, and what that is at the edges of the panels."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final, Literal

import numpy as np

from ..errors import AlterationError, UnknownNameError
from ..files.plain_values import refuse_misfits
from ..outline.by_value import fix_mappings
from ..outline.splines import Spline
from ..pattern.panel import EdgeName, Panel
from ..pattern.pattern import Pattern
from ..pattern.two_sides import SIDES_OF_BODY, Side, side_of, sided
from ..units import LONGEST_MM, refuse_other_units, shown_length

CENTRES: Final = ("centre front", "centre back")
ENDS: Final[tuple[EdgeName, EdgeName]] = ("top", "bottom")
"""Where a seam ends, whatever its height: an amount that counts up to there is held beyond."""

_SIDE: Final[dict[EdgeName, int]] = {"front": 0, "back": 1}

_FAR_MM: Final = 10.0 * LONGEST_MM
"""Beyond all panels: what is held there is level, so that nothing bends where it begins."""

_NEARLY_MM: Final = 20.0
"""So far beyond its end a height may be told for a seam; farther off, its unit is another one."""

_LEAST_APART_MM: Final = 1.0
"""Two levels nearer to each other are one: no cloth goes from one amount to another so fast."""


@dataclass(frozen=True)
class Alteration:
    """A seam let out or taken in.

    Parameters
    ----------
    seam : str
        Two panels that are sewn together, by name ("side to side back") or by their places from 1
        at the centre front on ("3 to 4"); or "centre front", "centre back".
    amount : float or mapping of str to float
        How much wider the sewn corset becomes there, in mm, negative where it becomes narrower: one
        for the whole seam, or by level, or height from the waist such as "+120 mm". Between levels
        it goes over smoothly and never beyond the two; beyond the outermost it is held.
    run_out : float, optional
        Length in mm over which it runs out to nothing beyond the outermost levels instead.
    from_, to : str, optional
        Level or height from which and to which one amount counts; "top" and "bottom" are the
        seam's own ends. Both are given, or neither.
    on : str
        Panel that takes all of it; both panels take half each if none is named.
    side : {"", "left", "right", "both"}
        Of a full draft: "both" alters the seam that mirrors it as well; left and right are held
        against the panels' names. A half draft is both sides, until it is drawn out by
        `both_sides`.

    Raises
    ------
    AlterationError
        If an amount is too large, or it says too little, or two things at once.

    Examples
    --------
    >>> Alteration("side to side back", {"waist": 0.0, "hip": 6.0}).said()
    'side to side back: 0 at waist, +6 at hip'
    """

    seam: str
    amount: float | Mapping[str, float]
    run_out: float | None = None
    from_: str | None = None
    to: str | None = None
    on: str = ""
    side: Literal["", "left", "right", "both"] = ""

    def __post_init__(self) -> None:
        refuse_misfits(self, "an alteration")
        fix_mappings(self)
        _refuse_unclear(self)

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
        if isinstance(self.amount, Mapping):
            words = by_place(self.amount, unit)
        else:
            words = _signed(self.amount, unit)
            if self.from_ is not None:
                words += f" from {self.from_} to {self.to}"
        if self.run_out is not None:
            words += f", run out over {shown_length(self.run_out, unit)}"
        if self.on:
            words += f", all on {self.on}"
        return f"{self.seam}{f' ({self.side})' if self.side else ''}: {words}"


def _fault(one: Alteration, problem: str, remedy: str) -> AlterationError:
    """The error of an alteration that cannot be made, named by its seam."""
    return AlterationError(problem, remedy=remedy, element=one.seam)


def _refuse_unclear(one: Alteration) -> None:
    """Refuse an alteration that says too little, or what cannot be."""
    amounts = one.amount.values() if isinstance(one.amount, Mapping) else [one.amount]
    for value in amounts:
        if not abs(value) <= _MOST_MM:
            raise _fault(one, f"an amount of {value:g} mm", f"Give it in mm, {_MOST_MM:g} at most.")
    if one.run_out is not None and not 1.0 <= one.run_out <= LONGEST_MM:
        raise _fault(
            one, f"a run-out of {one.run_out:g} mm", "Give the length it takes, 1 mm or more."
        )
    band = one.from_ is not None or one.to is not None
    if band and (one.from_ is None or one.to is None):
        raise _fault(
            one,
            "from without to, or to without from",
            "Give both; the seam's own ends are called top and bottom.",
        )
    if isinstance(one.amount, Mapping):
        if band:
            raise _fault(
                one,
                "amounts by level, and from or to beside them",
                "Levels say from where to where already: leave from and to out.",
            )
        if len(one.amount) < (1 if one.run_out is not None else 2):
            raise _fault(
                one,
                "an amount at one level does not say what it is elsewhere",
                "Name the level where it is nothing as well, such as { waist = 0, hip = 6 }, "
                "or the length run_out over which it runs out to nothing.",
            )
    elif band != (one.run_out is not None):
        raise _fault(
            one,
            "from and to without run_out" if band else "run_out, but neither from nor to",
            "from and to are where the whole amount counts, run_out the length over which it "
            "runs out to nothing beyond them; give amounts by level otherwise, such as "
            "{ waist = 0, hip = 6 }.",
        )


_MOST_MM: Final = 500.0
"""No fitting finds more: it is another corset."""


def by_place(amounts: Mapping[str, float], unit: str) -> str:
    """Amounts in mm by level or place, in words and in a unit."""
    return ", ".join(f"{_signed(mm, unit)} at {key}" for key, mm in amounts.items())


def _signed(value: float, unit: str) -> str:
    return f"{'+' if value > 0.0 else ''}{shown_length(value, unit)}"


def of_both_sides(half: Pattern, alterations: Sequence[Alteration]) -> list[Alteration]:
    """What alterations of a half pattern are when it is drawn out by `both_sides`.

    One that names no side is made on both, as far on each as the half has it.

    Raises `AlterationError` or `UnknownNameError` for a seam or panel that is not.
    """
    found = []
    for one in alterations:
        edges = edges_at(half, one)
        names = [half.panels[k].name for k, _ in edges]
        on = half.panels[_panel(half, one.on)].name if one.on else ""
        sides: tuple[Side, ...] = SIDES_OF_BODY
        if one.side == "left" or one.side == "right":
            sides = (one.side,)
        for side in sides:
            seam = " to ".join(sided(side, name) for name in names)
            if len(edges) == 1:
                seam = f"centre {edges[0][1]}"
            own = replace(one, seam=seam, side=side, on=sided(side, on) if on else "")
            found.append(own)
    return found


@dataclass(frozen=True, eq=False)
class EdgeChange:
    """How far one edge moves away from its panel's middle, in mm by height from the waist."""

    edge: int
    amount: Spline


def edge_changes(pattern: Pattern, alterations: Sequence[Alteration]) -> list[EdgeChange]:
    """What alterations come to at the side edges, which are numbered as `Profile` does.

    Raises `AlterationError` or `UnknownNameError` for a seam, panel, level or side that is not.
    """
    return [change for one in alterations for change in _changes(pattern, one)]


def _changes(pattern: Pattern, one: Alteration) -> list[EdgeChange]:
    edges = edges_at(pattern, one)
    if one.on:
        names = [pattern.panels[k].name for k, _ in edges]
        at = _panel(pattern, one.on)
        own = [(k, e) for k, e in edges if k == at]
        if not own:
            raise _fault(
                one, f"panel {one.on!r} is not at this seam", f"Name one of: {', '.join(names)}."
            )
        others = [(k, e) for k, e in edges if k != at]
        shares = [(own[0], 1.0), *((edge, 0.0) for edge in others)]
    else:
        shares = [(edge, 1.0 / len(edges)) for edge in edges]
    if _both(pattern, one):
        last = len(pattern.panels) - 1
        mirrored = [((last - k, e), share) for (k, e), share in shares]
        if {edge for edge, _ in mirrored} != {edge for edge, _ in shares}:
            shares += mirrored
    return [
        EdgeChange(2 * k + _SIDE[e], _amounts(pattern, one, k, e, share))
        for (k, e), share in shares
        if share
    ]


def _both(pattern: Pattern, one: Alteration) -> bool:
    """Whether the mirrored seam of a full draft is altered as well; refuses one side of a half."""
    if one.side in ("left", "right"):
        if not pattern.full:
            raise _fault(
                one,
                f"altered on the {one.side} only, but one half of the body is drawn for both sides",
                "Draw it out to both sides first: both_sides(pattern); then name the seam of that "
                "side.",
            )
        sides = {side_of(pattern.panels[k].name) for k, _ in edges_at(pattern, one)}
        if sides != {one.side}:
            raise _fault(
                one,
                f"the names of its panels do not say that it lies on the {one.side}",
                "Put left and right into the panels' names; or leave side out: in a full draft "
                "only the seam that is named is altered.",
            )
    return pattern.full and one.side == "both"


def edges_at(pattern: Pattern, one: Alteration) -> list[tuple[int, EdgeName]]:
    """The edges that an alteration's seam has, one or two, by panel.

    Raises `AlterationError` or `UnknownNameError` for a seam that is not.
    """
    wanted = " ".join(one.seam.lower().replace("center", "centre").split())
    if wanted in CENTRES:
        edge: EdgeName = "front" if wanted == CENTRES[0] else "back"
        found = sorted((k, e) for k, e in pattern.open_edges() if e == edge)
        if pattern.full and one.side in SIDES_OF_BODY:
            found = [(k, e) for k, e in found if side_of(pattern.panels[k].name) == one.side]
        if not found:
            raise _fault(
                one,
                f"no edge of the draft lies at the {wanted}",
                "Name the seam by its two panels.",
            )
        return found
    for between in re.finditer(r" to | ?/ ?", one.seam):
        ends = (one.seam[: between.start()], one.seam[between.end() :])
        places = [_place(pattern, end) for end in ends]
        for seam in pattern.seams:
            if {seam.first, seam.second} == set(places):
                return [(seam.first, seam.first_edge), (seam.second, seam.second_edge)]
    known = (*(walked.name for walked in pattern.walk()), *CENTRES)
    raise UnknownNameError.of("seam", one.seam, known)


def _place(pattern: Pattern, name: str) -> int | None:
    """Index of a panel by its name, or by its place from 1 on."""
    names = [panel.name.lower() for panel in pattern.panels]
    wanted = name.strip().lower()
    if names.count(wanted) == 1:
        return names.index(wanted)
    if wanted.isdecimal() and 1 <= int(wanted) <= len(names):
        return int(wanted) - 1
    return None


def _panel(pattern: Pattern, name: str) -> int:
    place = _place(pattern, name)
    return pattern.index(name) if place is None else place


def level_at_edge(pattern: Pattern, key: str, index: int, edge: EdgeName) -> float | None:
    """Height in mm above the waist at which a level meets an edge; None if it is no level.

    The level's own line on that panel counts, where it is drawn; else its mean on the others.
    """
    panel = pattern.panels[index]
    if (level := panel.level(key)) is not None:
        end = level.curve.start if edge == "front" else level.curve.end
        return float(panel.frame.to_panel(end)[1])
    return pattern.height_of(key)


def _refuse_beyond(one: Alteration, key: str, height: float, panel: Panel, edge: EdgeName) -> None:
    """Refuse a typed height far beyond the seam: what it says would count in a small part only."""
    ends = panel.frame.to_panel(panel.edge(edge).flatten())[:, 1]
    low, high = float(ends.min()), float(ends.max())
    if not low - _NEARLY_MM <= height <= high + _NEARLY_MM:
        raise _fault(
            one,
            f"{key} is {height:+.0f} mm from the waist, and the seam reaches from {low:+.0f} to "
            f"{high:+.0f} mm",
            "Give a height that the seam reaches, in mm or with its unit: the amount there counts "
            "on to the seam's end.",
        )


def _amounts(pattern: Pattern, one: Alteration, index: int, edge: EdgeName, share: float) -> Spline:
    """The amount of one edge by height."""
    if isinstance(one.amount, Mapping):
        given = dict(one.amount)
    else:
        levels = [key for key in (one.from_, one.to) if key is not None and key not in ENDS]
        given = dict.fromkeys(levels or ["waist"], one.amount)
    knots = []
    for key, value in given.items():
        height = level_at_edge(pattern, key, index, edge)
        if height is None:
            raise UnknownNameError.of("level", key, pattern.level_names())
        if key not in pattern.level_names():
            _refuse_beyond(one, key, height, pattern.panels[index], edge)
        knots.append((height, share * value))
    knots.sort()
    heights = [height for height, _ in knots]
    close = np.diff(heights) < _LEAST_APART_MM
    if close.any():
        raise _fault(
            one,
            f"two of its levels lie at one height, {heights[int(close.argmax())]:+.1f} mm",
            "Name each height once.",
        )
    values = [value for _, value in knots]
    told = (one.from_, one.to)
    open_above, open_below = (one.run_out is None or end in told for end in ENDS)
    # Held levels need a knot of their own beyond: there the curve has come level.
    for place, sign, held in ((0, -1.0, open_below), (-1, 1.0, open_above)):
        value = values[place] if held else 0.0
        more = [heights[place] + sign * one.run_out] if one.run_out and not held else []
        more.append(sign * _FAR_MM)
        heights = [*more[::-1], *heights] if place == 0 else [*heights, *more]
        values = [value] * len(more) + values if place == 0 else values + [value] * len(more)
    return Spline.monotone(heights, values)
