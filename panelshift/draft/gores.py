"""Gores: pieces that end in a point, set in the seam between two panels or in a panel's slit.

The maker names each and the two panels that it stands between, or the slit. Where it opens its
edges reach the end of the seam, as cut lines of one length do; its tip then lies on the seam as far
from there as its edges are long.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Final, Literal

import numpy as np

from ..errors import PatternError, few
from ..outline import FloatArray
from ..outline.measure import length, position_at_length
from ..pattern.edge_pieces import profile
from ..pattern.panel import EdgeName, Panel, TipPoint
from ..pattern.pattern import Pattern
from ..pattern.profile import SIDES
from .draft import Draft, FoundGore
from .gore_shapes import UP_THE_SHEET, unfit, upright
from .slits import refuse_near, seat_in_slit
from .unplaced import called, level_lines, piece_name

_LEAST_SEAM_MM: Final = 5.0
"""What must be left of the seam beyond a tip: less cannot be sewn."""

_UNEVEN_MM: Final = 3.0
"""How far a gore's tip and level lines may miss those of the panels beside it before it is told:
as with waistlines (common practice, no source)."""

_WAIST_FAULT_MM: Final = 10.0

_ALIKE: Final = 0.87
"""Cosine of 30 degrees: panels that lean by less stand alike on the sheet."""


def part_gores(draft: Draft) -> Draft:
    """Part the outlines that the maker calls gores from those that may be panels.

    Raises `PatternError` if there is no such outline, several, or something that cannot be done.
    """
    if not draft.reading.gores:
        return draft
    if draft.reading.takes_off:
        raise PatternError(
            "the outlines have a seam allowance in them, which cannot be taken off a draft with "
            "gores",
            remedy="Draw the net outlines (stitch lines), and take allowance_drawn out.",
            element="pattern.allowance_drawn",
        )
    every = [(said, called(draft, said.panel, "a gore")) for said in draft.reading.gores]
    gores = tuple(FoundGore(said, found, piece_name(said.panel, found)) for said, found in every)
    for k, gore in enumerate(gores):
        if any(gore.found is other.found or gore.name == other.name for other in gores[:k]):
            raise PatternError(
                f"the gore {gore.name!r} is named twice",
                remedy="Draw it once for each seam that it is set in, each with its own id or "
                "label: layers differ from seam to seam.",
                element=gore.found.ident,
            )
    return replace(draft.without_outlines(gore.found for gore in gores), gores=gores)


def set_gores(draft: Draft, panels: tuple[Panel, ...], full: bool) -> tuple[Panel, ...]:
    """Panels in order with the gores between them, and on their edges where tips lie.

    Raises `PatternError` if a gore has no tip, or does not fit where it is to stand.
    """
    if not draft.gores:
        return panels
    pattern = Pattern(panels, full)
    seats = [_seat(draft, gore, pattern) for gore in draft.gores if not gore.said.slit]
    in_slits = [seat_in_slit(draft, gore, pattern) for gore in draft.gores if gore.said.slit]
    refuse_near(in_slits)
    _refuse_crowds(seats)
    places = [seat.first + 1.0 for seat in seats] + [one.first + 0.5 for one in in_slits]
    _refuse_uneven(places, pattern)
    order = sorted(seats, key=lambda seat: (seat.first, seat.opens_at == "top"))
    tips: dict[int, list[TipPoint]] = {}
    found = []
    for seat in order:
        for k, edge, point in zip(
            (seat.first, seat.first + 1), seat.edges, seat.points, strict=True
        ):
            tips.setdefault(k, []).append(TipPoint(edge, point, seat.panel.name))
    for k, panel in enumerate(panels):
        own = sorted((one for one in in_slits if one.first == k), key=lambda one: one.across)
        slits = tuple(one.slit for one in own)
        found.append(replace(panel, tips=tuple(tips.get(k, ())), slits=slits))
        found += [one.panel for one in own]
        found += [seat.panel for seat in order if seat.first == k]
    _tell(draft, order, pattern)
    for one in in_slits:
        where = f"a slit of {pattern.panels[one.first].name}, open at the {one.slit.opens_at}"
        _tell_seat(draft, one.panel, where, one.height, one.by_line)
    return tuple(found)


@dataclass(frozen=True, eq=False)
class _Seat:
    """A gore in its seam: after the panel `first`, whose edge and whose neighbour's it is sewn to.

    *points*: where its tip lies on each, in sheet mm; *heights*: mm above the waist there.
    *lengths*: of its own edges, the one to the first panel first.
    """

    panel: Panel
    first: int
    opens_at: Literal["top", "bottom"]
    edges: tuple[EdgeName, EdgeName]
    points: tuple[FloatArray, FloatArray]
    heights: tuple[float, float]
    lengths: tuple[float, float]
    by_line: bool


def _seat(draft: Draft, gore: FoundGore, pattern: Pattern) -> _Seat:
    first = _first_of(gore, pattern)
    beside = pattern.panels[first : first + 2]
    edges = pattern.ends(first)[1], pattern.ends(first + 1)[0]
    if edges[0] == edges[1]:
        raise unfit(
            gore,
            f"{beside[0].name} and {beside[1].name} meet at the {edges[0]} of the body, where a "
            "corset opens",
            "Set the gore in a seam, between a panel's back edge and the next one's front edge.",
        )
    panel, by_line = upright(draft, gore, beside[0].frame, up=_up(pattern))
    opens_at: Literal["top", "bottom"] = "bottom" if panel.pointed == "top" else "top"
    _refuse_levels_beyond_the_waist(draft, gore, panel, beside)
    # In a seam the gore lies behind the first panel and before the second, as each is to the other.
    own = edges[1], edges[0]
    lengths = length(panel.edge(own[0])), length(panel.edge(own[1]))
    points, heights = [], []
    for one, edge, long in zip(beside, edges, lengths, strict=True):
        point = _on_edge(gore, pattern, one, edge, long, opens_at)
        points.append(point)
        heights.append(float(one.frame.to_panel(point)[1]))
    height = 0.5 * sum(heights)
    at = panel.edge("front").end if panel.pointed == "top" else panel.edge("front").start
    if panel.waist is not None:
        own_height = float(panel.frame.to_panel(at)[1])
        if abs(own_height - height) > _WAIST_FAULT_MM:
            raise unfit(
                gore,
                f"a waistline crosses it {abs(own_height):.1f} mm from its tip, which lies "
                f"{abs(height):.1f} mm from the waist in the seam that it is set in",
                "If it does not reach the waist, move it to where no waistline crosses it in the "
                "drawing; else look at its length.",
            )
    else:
        if height * (1.0 if opens_at == "bottom" else -1.0) > _UNEVEN_MM:
            raise unfit(
                gore,
                f"it would reach {abs(height):.0f} mm across the waist",
                "Draw the waistline across it too, in one with the waist of the panels, so that "
                "it counts there.",
            )
        frame = replace(panel.frame, origin=at - height * panel.frame.up)
        panel = replace(panel, frame=frame)
    return _Seat(
        panel,
        first,
        opens_at,
        edges,
        (points[0], points[1]),
        (heights[0], heights[1]),
        lengths,
        by_line,
    )


def _up(pattern: Pattern) -> FloatArray:
    """What is up on the sheet: as its panels stand, where all stand alike."""
    ups = np.array([panel.frame.up for panel in pattern.panels])
    mean = ups.mean(axis=0)
    size = float(np.hypot(*mean))
    if size > 0.0 and float((ups @ mean).min()) > _ALIKE * size:
        return np.asarray(mean / size)
    return UP_THE_SHEET


def _refuse_levels_beyond_the_waist(
    draft: Draft, gore: FoundGore, panel: Panel, beside: Iterable[Panel]
) -> None:
    """The lines across it tell where it is taken to open at the wrong end."""
    opens_at, way = ("bottom", -1.0) if panel.pointed == "top" else ("top", 1.0)
    own = {level.name for level in level_lines(draft, panel)}
    for one in beside:
        for level in level_lines(draft, one):
            if level.name in own and level.height * way < -_UNEVEN_MM:
                side, other = ("below", "bottom") if level.height < 0.0 else ("above", "top")
                raise unfit(
                    gore,
                    f"it is taken to open at the {opens_at}, but the line {level.name!r} across it "
                    f"lies {side} the waist in {one.name}",
                    f'Give opens_at = "{other}" if it does; else look at the name of that line.',
                )


def _first_of(gore: FoundGore, pattern: Pattern) -> int:
    """Index of the first of the two panels that it stands between."""
    assert gore.said.between is not None  # else it stands in a slit
    names = [panel.name for panel in pattern.panels]
    idents = [panel.ident for panel in pattern.panels]
    places = []
    for name in gore.said.between:
        if name not in names and name not in idents:
            raise unfit(
                gore,
                f"there is no panel {name!r:.60} for it to stand beside",
                f"Give two neighbours as between: {few(names)}.",
            )
        places.append(names.index(name) if name in names else idents.index(name))
    if abs(places[0] - places[1]) != 1:
        one, two = gore.said.between
        seams = few(f"{a} and {b}" for a, b in itertools.pairwise(names))
        raise unfit(
            gore,
            f"{one!r:.60} and {two!r:.60} are not sewn to each other",
            f"Give two neighbours as between: {seams}.",
        )
    return min(places)


def _on_edge(
    gore: FoundGore,
    pattern: Pattern,
    panel: Panel,
    edge: EdgeName,
    long: float,
    opens_at: Literal["top", "bottom"],
) -> FloatArray:
    """Where its tip lies on a panel's edge, in sheet mm."""
    curve = panel.edge(edge)
    whole = length(curve)
    if gore.said.tip:
        height = pattern.height_of(gore.said.tip)
        if height is None:
            raise unfit(
                gore,
                f"its tip is to lie at {gore.said.tip!r:.40}, which is no level and no height",
                'Give a height such as "-40 mm" (from the waist, negative below it), or one of '
                f"the levels: {few(pattern.level_names())}.",
            )
        edges = profile(pattern)
        which = np.array([2 * pattern.index(panel.name) + SIDES.index(edge)])
        low, high = edges.ends[which[0]]
        least, most = low + _LEAST_SEAM_MM, high - _LEAST_SEAM_MM
        if not least <= height <= most:
            raise unfit(
                gore,
                f"its tip is to lie {height:+.0f} mm from the waist, but the {edge} edge of "
                f"{panel.name} runs from {low:+.0f} to {high:+.0f} mm, of which "
                f"{_LEAST_SEAM_MM:.0f} mm must be left beyond the tip",
                f"Give a height from {least:+.0f} to {most:+.0f} mm.",
            )
        u, _ = edges.point(edges.at_heights(np.array([height]), which))
        return panel.frame.to_sheet(np.array([u[0], height]))
    if long > whole - _LEAST_SEAM_MM:
        raise unfit(
            gore,
            f"it is longer than the seam that it is to stand in: its edge is {long:.1f} mm long, "
            f"the {edge} edge of {panel.name} {whole:.1f} mm",
            "Shorten the gore, or name other panels as between.",
        )
    at = long if opens_at == "bottom" else whole - long
    return np.asarray(curve.points(position_at_length(curve, [at]))[0])


def _refuse_crowds(seats: Sequence[_Seat]) -> None:
    """One gore opens at each end of a seam."""
    taken: dict[tuple[int, str], _Seat] = {}
    for seat in seats:
        other = taken.setdefault((seat.first, seat.opens_at), seat)
        if other is not seat:
            raise PatternError(
                f"the gores {other.panel.name!r} and {seat.panel.name!r} are set in one seam and "
                f"both open at the {seat.opens_at}",
                remedy="Set each in a seam of its own, or draw the two as one gore.",
                element=seat.panel.ident,
            )
    for (first, opens_at), seat in taken.items():
        below = taken.get((first, "bottom"))
        if opens_at == "top" and below is not None:
            room = min(a - b for a, b in zip(seat.heights, below.heights, strict=True))
            if room < _LEAST_SEAM_MM:
                raise PatternError(
                    f"the gores {below.panel.name!r} and {seat.panel.name!r} meet or overlap in "
                    "the seam that both are set in",
                    remedy="Shorten one of them, or set it in another seam.",
                    element=seat.panel.ident,
                )


def _refuse_uneven(places: Sequence[float], pattern: Pattern) -> None:
    """In a full pattern each half has as many gores, whose places are counted in panels."""
    middle = 0.5 * len(pattern)
    halves = [sum(at < middle for at in places), sum(at > middle for at in places)]
    if pattern.full and halves[0] != halves[1]:
        raise PatternError(
            f"one half of the pattern has {halves[0]} gore{'s' * (halves[0] != 1)}, "
            f"the other {halves[1]}",
            remedy="Draw and name the gores of both halves.",
            element="gore",
        )


def _tell(draft: Draft, seats: Sequence[_Seat], pattern: Pattern) -> None:
    """How each was placed, and what does not fit."""
    for seat in seats:
        panel, (one, two) = seat.panel, pattern.panels[seat.first : seat.first + 2]
        where = f"the seam {one.name} to {two.name}, open at the {seat.opens_at}"
        _tell_seat(draft, panel, where, 0.5 * sum(seat.heights), seat.by_line)
        if abs(seat.heights[0] - seat.heights[1]) > _UNEVEN_MM:
            draft.ledger.warn(
                "gore-uneven",
                f"{panel.name}: its tip meets {one.name} {seat.heights[0]:+.1f} mm from the waist "
                f"and {two.name} {seat.heights[1]:+.1f} mm: its edges are {seat.lengths[0]:.1f} "
                f"and {seat.lengths[1]:.1f} mm long",
                panel.ident,
            )


def _tell_seat(draft: Draft, gore: Panel, where: str, tip: float, by_line: bool) -> None:
    upright = (
        "its level line says what is upright"
        if by_line
        else "its upright runs from its tip to the middle of the edge opposite"
    )
    draft.ledger.note(
        "gore",
        f"{gore.name}: a gore in {where}; its tip lies {tip:+.1f} mm from the waist; {upright}",
        gore.ident,
    )


def tell_levels_apart(draft: Draft, pattern: Pattern) -> None:
    """Say of each gore whose level lines do not meet those of the panels beside it."""
    # The gore of a slit has one panel on both sides.
    for pair in dict.fromkeys(frozenset((seam.first, seam.second)) for seam in pattern.seams):
        gore, other = (pattern.panels[k] for k in sorted(pair))
        if gore.pointed is None:
            gore, other = other, gore
        if gore.pointed is None:
            continue
        for level in gore.level_lines:
            mate = other.level(level.name)
            if mate is not None and abs(mate.height - level.height) > _UNEVEN_MM:
                draft.ledger.warn(
                    "gore-uneven",
                    f"{gore.name}: its {level.name} line lies {level.height:+.1f} mm from the "
                    f"waist, that of {other.name} {mate.height:+.1f} mm: look whether the gore is "
                    "as long as the seam that it is set in",
                    gore.ident,
                )
