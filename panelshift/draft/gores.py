"""Gores: pieces that end in a point, set in the seam between two panels.

The maker names each and the two panels that it stands between. Where it opens its edges reach the
end of the seam, as cut lines of one length do; its tip then lies on the seam as far from there as
its edges are long.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final, Literal

import numpy as np

from ..errors import PatternError, few
from ..outline import Curve, FloatArray
from ..outline.measure import (
    CORNER_ANGLE,
    area_and_centroid,
    breaks,
    length,
    position_at_length,
)
from ..pattern.panel import EdgeName, Frame, Panel, TipPoint
from ..pattern.pattern import Pattern
from ..pattern.profile import SIDES, profile
from .draft import Draft, FoundGore
from .names import described
from .unplaced import called, level_lines, piece_name, standing

_LEAST_SEAM_MM: Final = 5.0
"""What must be left of the seam beyond a tip: less cannot be sewn."""

_UNEVEN_MM: Final = 3.0
"""How far a gore's tip and level lines may miss those of the panels beside it before it is told:
as with waistlines (common practice, no source)."""

_WAIST_FAULT_MM: Final = 10.0

_SIDEWAYS: Final = 0.3


def part_gores(draft: Draft) -> Draft:
    """Part the outlines that the maker calls gores from those that may be panels.

    Raises `PatternError` if there is no such outline, several, or something that cannot be done.
    """
    if not draft.reading.gores:
        return draft
    if draft.reading.allowance_drawn is not None:
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

    Raises `PatternError` if a gore has no tip, or does not fit the seam that it is to stand in.
    """
    if not draft.gores:
        return panels
    pattern = Pattern(panels, full)
    seats = [_seat(draft, gore, pattern) for gore in draft.gores]
    _refuse_crowds(seats, pattern)
    order = sorted(seats, key=lambda seat: (seat.first, seat.opens_at == "top"))
    tips: dict[int, list[TipPoint]] = {}
    found = []
    for seat in order:
        for k, edge, point in zip(
            (seat.first, seat.first + 1), seat.edges, seat.points, strict=True
        ):
            tips.setdefault(k, []).append(TipPoint(edge, point, seat.panel.name))
    for k, panel in enumerate(panels):
        found.append(replace(panel, tips=tuple(tips.get(k, ()))))
        found += [seat.panel for seat in order if seat.first == k]
    _tell(draft, order, pattern)
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
        raise _unfit(
            gore,
            f"{beside[0].name} and {beside[1].name} meet at the {edges[0]} of the body, where a "
            "corset opens",
            "Set the gore in a seam, between a panel's back edge and the next one's front edge.",
        )
    panel, by_line = _upright(draft, gore, beside[0].frame)
    opens_at: Literal["top", "bottom"] = "bottom" if panel.pointed == "top" else "top"
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
            raise _unfit(
                gore,
                f"a waistline crosses it {abs(own_height):.1f} mm from its tip, which lies "
                f"{abs(height):.1f} mm from the waist in the seam that it is set in",
                "If it does not reach the waist, move it to where no waistline crosses it in the "
                "drawing; else look at its length.",
            )
    else:
        if height * (1.0 if opens_at == "bottom" else -1.0) > _UNEVEN_MM:
            raise _unfit(
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


def _first_of(gore: FoundGore, pattern: Pattern) -> int:
    """Index of the first of the two panels that it stands between."""
    names = [panel.name for panel in pattern.panels]
    idents = [panel.ident for panel in pattern.panels]
    places = []
    for name in gore.said.between:
        if name not in names and name not in idents:
            raise _unfit(
                gore,
                f"there is no panel {name!r:.60} for it to stand beside",
                f"Give two neighbours as between: {few(names)}.",
            )
        places.append(names.index(name) if name in names else idents.index(name))
    if abs(places[0] - places[1]) != 1:
        one, two = gore.said.between
        seams = few(f"{a} and {b}" for a, b in itertools.pairwise(names))
        raise _unfit(
            gore,
            f"{one!r:.60} and {two!r:.60} are not sewn to each other",
            f"Give two neighbours as between: {seams}.",
        )
    return min(places)


def _upright(draft: Draft, gore: FoundGore, beside: Frame) -> tuple[Panel, bool]:
    """The gore as a panel whose tip is its frame's origin, and whether a line said its upright.

    A level line that is drawn right across it says what is level; else its upright runs from the
    tip to the middle of the edge opposite. A waistline gives it its height as well.
    """
    outline = gore.found.outline
    tip = _tip(gore, outline)
    _, middle = area_and_centroid(outline)
    axis = tip - middle
    down = _opens_upwards(gore, axis)
    axis = -axis if down else axis
    named = _named(draft, gore, axis, beside)
    across = sorted(level_lines(draft, named), key=lambda found: found.name != "waist")
    line = across[0] if across else None
    if line is None:
        ends = [named.edge(name) for name in SIDES]
        hem = [edge.end if down else edge.start for edge in ends]
        axis = 0.5 * (hem[0] + hem[1]) - tip
        axis = axis if down else -axis
    else:
        step = line.curve.end - line.curve.start
        normal = np.array([-step[1], step[0]])
        axis = normal if normal @ axis > 0.0 else -normal
    panel = _named(draft, gore, axis, beside)
    if line is not None and line.name == "waist":
        frame = replace(panel.frame, origin=0.5 * (line.curve.start + line.curve.end))
        panel = replace(panel, frame=frame, waist=replace(line, height=0.0))
    return panel, line is not None


def _tip(gore: FoundGore, outline: Curve) -> FloatArray:
    """The sharpest of its corners."""
    turned = np.abs(breaks(outline))
    sharpest = int(np.argmax(turned))
    others = np.delete(turned, sharpest)
    if turned[sharpest] < CORNER_ANGLE:
        raise _unfit(gore, "its outline has no corner", _TO_A_POINT)
    if others.max(initial=0.0) > turned[sharpest] - np.radians(5.0):
        raise _unfit(
            gore,
            "two of its corners are equally sharp, so that it cannot be told which is its tip",
            f"{_TO_A_POINT} It is to be longer than it is wide: a piece that is not is better "
            "drawn as a panel of its own that reaches the waist.",
        )
    return np.asarray(outline.points([float(sharpest)])[0])


_TO_A_POINT: Final = (
    "Draw its two side edges until they meet in a point: there three pieces are sewn together. "
    "Cut the point off, or round it, when you cut the cloth."
)


def _opens_upwards(gore: FoundGore, axis: FloatArray) -> bool:
    """Whether it opens at the top: as the job file says, else as it lies on the sheet."""
    if gore.said.opens_at:
        return gore.said.opens_at == "top"
    if abs(axis[1]) < _SIDEWAYS * float(np.hypot(*axis)):
        raise _unfit(
            gore,
            "it lies on its side in the drawing, so that it cannot be told where it opens",
            'Give opens_at = "bottom" for a gore over the hip, or "top" for one over the bust.',
        )
    return bool(axis[1] > 0.0)


def _named(draft: Draft, gore: FoundGore, axis: FloatArray, beside: Frame) -> Panel:
    """The gore as a panel that stands upright along an axis."""
    up = axis / np.hypot(*axis)
    right = np.array([-up[1], up[0]])
    left_handed = float(beside.across @ np.array([-beside.up[1], beside.up[0]])) < 0.0
    frame = Frame(_tip(gore, gore.found.outline), -right if left_handed else right, up)
    panel = standing(draft, gore.found, gore.name, frame, pointed=True)
    if panel is None:
        raise _unfit(
            gore,
            "half way up its outline is crossed more than twice",
            "Draw it as one piece that grows wider from its tip on.",
        )
    if panel.pointed is None:
        wide = min(length(panel.edge("top")), length(panel.edge("bottom")))
        raise _unfit(
            gore, f"it does not come to a point: its tip is {wide:.1f} mm wide", _TO_A_POINT
        )
    return panel


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
            raise _unfit(
                gore,
                f"its tip is to lie at {gore.said.tip!r:.40}, which is no level and no height",
                'Give a height such as "-40 mm" (from the waist, negative below it), or one of '
                f"the levels: {few(pattern.level_names())}.",
            )
        edges = profile(pattern)
        which = np.array([2 * pattern.index(panel.name) + SIDES.index(edge)])
        low, high = edges.ends[which[0]]
        if not low + _LEAST_SEAM_MM <= height <= high - _LEAST_SEAM_MM:
            raise _unfit(
                gore,
                f"its tip is to lie {height:+.0f} mm from the waist, but the {edge} edge of "
                f"{panel.name} runs from {low:+.0f} to {high:+.0f} mm",
                "Give a height on that edge.",
            )
        u, _ = edges.point(edges.at_heights(np.array([height]), which))
        return panel.frame.to_sheet(np.array([u[0], height]))
    if long > whole - _LEAST_SEAM_MM:
        raise _unfit(
            gore,
            f"it is longer than the seam that it is to stand in: its edge is {long:.1f} mm long, "
            f"the {edge} edge of {panel.name} {whole:.1f} mm",
            "Shorten the gore, or name other panels as between.",
        )
    at = long if opens_at == "bottom" else whole - long
    return np.asarray(curve.points(position_at_length(curve, [at]))[0])


def _refuse_crowds(seats: Sequence[_Seat], pattern: Pattern) -> None:
    """One gore opens at each end of a seam; in a full pattern each half has as many."""
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
    count = len(pattern.panels)
    halves = [
        sum(seat.first + 1 < 0.5 * count for seat in seats),
        sum(seat.first + 1 > 0.5 * count for seat in seats),
    ]
    if pattern.full and halves[0] != halves[1]:
        raise PatternError(
            f"one half of the pattern has {halves[0]} gores, the other {halves[1]}",
            remedy="Draw and name the gores of both halves.",
            element="gore",
        )


def _tell(draft: Draft, seats: Sequence[_Seat], pattern: Pattern) -> None:
    """How each was placed, and what does not fit."""
    for seat in seats:
        panel, (one, two) = seat.panel, pattern.panels[seat.first : seat.first + 2]
        apart = abs(seat.heights[0] - seat.heights[1])
        upright = (
            "its level line says what is upright"
            if seat.by_line
            else "its upright runs from its tip to the middle of the edge opposite"
        )
        draft.ledger.note(
            "gore",
            f"{panel.name}: a gore in the seam {one.name} to {two.name}, open at the "
            f"{seat.opens_at}; its tip lies {0.5 * sum(seat.heights):+.1f} mm from the waist; "
            f"{upright}",
            panel.ident,
        )
        if apart > _UNEVEN_MM:
            draft.ledger.warn(
                "gore-uneven",
                f"{panel.name}: its tip meets {one.name} {seat.heights[0]:+.1f} mm from the waist "
                f"and {two.name} {seat.heights[1]:+.1f} mm: its edges are {seat.lengths[0]:.1f} "
                f"and {seat.lengths[1]:.1f} mm long",
                panel.ident,
            )


def tell_levels_apart(draft: Draft, pattern: Pattern) -> None:
    """Say of each gore whose level lines do not meet those of the panels beside it."""
    for seam in pattern.seams:
        gore, other = (pattern.panels[k] for k in (seam.first, seam.second))
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


def _unfit(gore: FoundGore, problem: str, remedy: str) -> PatternError:
    shape = gore.found.shapes[0]
    return PatternError(
        f"the gore {gore.name!r} ({described(shape)}): {problem}",
        remedy=remedy,
        element=gore.found.ident,
    )
