"""Panels of several pieces that stand on each other: yokes, bands, pieces above or below a seam.

Each piece is drawn by itself. Turned and moved so that the ends of their common seam meet, they are
one panel, which is turned and shifted as any other; its pieces come along.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Final

import numpy as np

from ..errors import PanelshiftError, PatternError, few
from ..outline import Curve, FloatArray
from ..outline.crossing import nearest_position
from ..outline.measure import length, position_at_length
from ..pattern.drawing import Shape
from ..pattern.panel import Corners, EdgeName, Level, Panel, TipPoint
from ..pattern.pattern import Pattern
from .draft import Draft
from .unplaced import called, piece_name, standing

_ENDS_MM: Final = 1.0
"""Two edges of a seam across whose ends lie further apart than that on the one than on the other
are not sewn together: eased it is worked into a seam, but not into its ends (common practice, no
source)."""

UNEVEN_MM: Final = 3.0
"""Seams across that end further apart than that on a seam do not meet there."""

_SIDES: Final[tuple[EdgeName, ...]] = ("front", "back")
_MADE_OF: Final = "[[stands_on]]"


def part_pieces(draft: Draft) -> Draft:
    """Part the outlines that stand on panels, or under them, from those that may be panels.

    Raises `PatternError` if an outline is not there, or a piece is named twice.
    """
    said = draft.reading.stands_on
    if not said:
        return draft
    if draft.reading.takes_off:
        raise _fault(
            "the outlines have a seam allowance in them, which cannot be taken off panels of "
            "several pieces",
            "Draw the net outlines (stitch lines), and take allowance_drawn out.",
            "pattern.allowance_drawn",
        )
    for where, names in (("on", [s.lower for s in said]), ("under", [s.upper for s in said])):
        for name in names:
            if names.count(name) > 1:
                raise _fault(
                    f"two pieces are to stand {where} {name!r:.60}",
                    "Name each once as upper and once as lower, and what stands beside as a panel.",
                    name,
                )
    crossed = {name for panel in draft.panels for name in _names_of(panel.shapes)}
    for one in said:
        if one.upper in crossed and one.lower in crossed:
            raise _fault(
                f"{one.upper!r} is to stand on {one.lower!r}, and a waistline crosses both",
                "A waistline crosses one of the pieces that stand on each other, and one only: "
                f"take it off the other, or take this table {_MADE_OF} out.",
                one.upper,
            )
    pieces = []
    for name in dict.fromkeys(name for one in said for name in (one.lower, one.upper)):
        if name not in crossed:
            found = called(draft, name, "a piece that others stand on or under")
            pieces.append((piece_name(name, found), found))
    return replace(draft.without_outlines(found for _, found in pieces), pieces=tuple(pieces))


def _names_of(shapes: Sequence[Shape]) -> set[str]:
    return {
        name for s in shapes for name in (s.ident, s.element, *s.names, s.data.get("panel", ""))
    }


def upright_pieces(draft: Draft, panels: Sequence[Panel]) -> tuple[Panel, ...]:
    """The pieces that no waistline crosses, upright as the panels are that they belong to.

    Raises `PatternError` if one has no four corners, or stands on nothing.
    """
    if not draft.pieces:
        return ()
    chains = _chains(draft, panels)
    of = {name: panels[k] for k, chain in chains.items() for name in chain}
    found = []
    for name, piece in draft.pieces:
        frame = replace(of[name].frame, origin=piece.outline.hull_box.mean(axis=0))
        panel = standing(draft, piece, name, frame)
        if panel is None:
            raise _fault(
                f"{name!r} is crossed more than twice half way up",
                "Draw it as one piece with two side edges.",
                piece.ident,
            )
        found.append(panel)
    return tuple(found)


def _chains(draft: Draft, panels: Sequence[Panel]) -> dict[int, list[str]]:
    """Names of the pieces of each panel that has several, from the bottom up, by its index."""
    every = {panel.name: {panel.name, panel.ident} for panel in panels}
    every |= {name: {name, *_names_of(found.shapes)} for name, found in draft.pieces}

    def known(name: str) -> str:
        own = [piece for piece, names in every.items() if name in names]
        if len(own) != 1:
            raise _fault(
                f"{name!r:.60} is no piece, or several",
                f"Give labels or ids of: {few(every)}.",
                name,
            )
        return own[0]

    above = {known(one.lower): known(one.upper) for one in draft.reading.stands_on}
    below = {upper: lower for lower, upper in above.items()}
    chains = {}
    for k, panel in enumerate(panels):
        chain = [panel.name]
        while chain[0] in below and below[chain[0]] not in chain:
            chain.insert(0, below[chain[0]])
        while chain[-1] in above and above[chain[-1]] not in chain:
            chain.append(above[chain[-1]])
        if chain[0] in below or chain[-1] in above:
            raise _fault(
                f"{chain[0]!r} and {chain[-1]!r} stand on each other, each on the other",
                "Name the piece that is nearer to the top as upper.",
                chain[0],
            )
        if len(chain) > 1:
            chains[k] = chain
    used = [name for chain in chains.values() for name in chain]
    for name in (*above, *below):
        if used.count(name) != 1:
            raise _fault(
                f"{name!r} stands on or under no panel that a waistline crosses, or on two",
                "A waistline crosses one of the pieces that stand on each other, and one only.",
                name,
            )
    return chains


def stand(draft: Draft, panels: tuple[Panel, ...], full: bool) -> tuple[Panel, ...]:
    """Panels with their levels and marks, those of several pieces put together.

    *panels*: in order, then the pieces that no waistline crosses.

    Raises `PatternError` if the ends of a seam do not meet.
    """
    if not draft.pieces:
        return panels
    count = len(panels) - len(draft.pieces)
    mains, loose = panels[:count], {panel.name: panel for panel in panels[count:]}
    chains = _chains(draft, mains)
    found = list(mains)
    for k, chain in chains.items():
        own = [loose.get(name, mains[k]) for name in chain]
        found[k] = _column(draft, own, own.index(mains[k]))
    return met(Pattern(tuple(found), full), _fault).panels


def _column(draft: Draft, pieces: Sequence[Panel], waist: int) -> Panel:
    """One panel of pieces from the bottom up, of which one has the waist."""
    main = pieces[waist]
    if main.pointed or main.tips or main.slits:
        raise _fault(
            f"{main.name!r} has a gore in its seam or its slit, and pieces that stand on it",
            "One of them is possible, not both: draw the panel in one piece.",
            main.ident,
        )
    placed = {waist: main}
    for k in range(waist + 1, len(pieces)):
        placed[k] = _placed(pieces[k], "bottom", placed[k - 1], "top", main)
    for k in range(waist - 1, -1, -1):
        placed[k] = _placed(pieces[k], "top", placed[k + 1], "bottom", main)
    column = [
        replace(placed[k], made_of=(main.name,), parted=_parted(k, len(pieces)))
        for k in range(len(pieces))
    ]
    sewn = [
        f"the top of {one.name}, {length(one.edge('top')):.1f} mm, to the bottom of {two.name}, "
        f"{length(two.edge('bottom')):.1f} mm"
        for one, two in itertools.pairwise(column)
    ]
    words = f"{main.name}: one panel of pieces that stand on each other: {'; '.join(sewn)}"
    draft.ledger.note("pieces", words, main.ident)
    outline, corners = _outline(column)
    levels: dict[str, Level] = {}
    for level in sorted((lv for p in column for lv in p.levels), key=lambda lv: -lv.height):
        levels.setdefault(level.name, level)
    return replace(
        main,
        outline=outline,
        corners=corners,
        levels=tuple(levels.values()),
        marks=tuple(mark for piece in column for mark in piece.marks),
        texts=tuple(text for piece in column for text in piece.texts),
        pieces=tuple(column),
    )


def _parted(place: int, count: int) -> frozenset[EdgeName]:
    """At which edges a piece is sewn to those above and below, of so many from the bottom up."""
    ends: tuple[EdgeName, EdgeName] = ("bottom", "top")
    return frozenset(e for e, there in zip(ends, (place, count - 1 - place), strict=True) if there)


def _placed(piece: Panel, edge: EdgeName, onto: Panel, its_edge: EdgeName, main: Panel) -> Panel:
    """A piece turned and moved so that the ends of its edge lie on those of another piece's."""
    own, its = piece.edge(edge), onto.edge(its_edge)
    step, wanted = own.end - own.start, its.end - its.start
    apart = float(np.hypot(*step) - np.hypot(*wanted))
    if abs(apart) > _ENDS_MM:
        raise _fault(
            f"the {edge} of {piece.name!r} is to be sewn to the {its_edge} of {onto.name!r}, but "
            f"its ends lie {np.hypot(*step):.1f} mm apart, those of the other "
            f"{np.hypot(*wanted):.1f} mm",
            "True the two edges, so that their ends meet; between them they may bulge differently.",
            piece.ident,
        )
    angle = np.arctan2(wanted[1], wanted[0]) - np.arctan2(step[1], step[0])
    turn = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    move = 0.5 * (its.start + its.end) - turn @ (0.5 * (own.start + own.end))
    moved = piece.moved(np.column_stack([turn, move]), main.frame)
    # A level without a name is called after its height, which is known only now.
    levels = [
        replace(new, name=f"level {new.height:+.0f}")
        if old.name == f"level {old.height:+.0f}"
        else new
        for old, new in zip(piece.levels, moved.levels, strict=True)
    ]
    return replace(moved, levels=tuple(levels))


def _outline(column: Sequence[Panel]) -> tuple[Curve, Corners]:
    """The outline of all pieces together, up the front, and its corners; ends that all but meet
    are one."""
    front, back = (Curve.chain([piece.edge(side) for piece in column]) for side in _SIDES)
    return Corners.between(front, column[-1].edge("top"), back, column[0].edge("bottom"))


def met(pattern: Pattern, fault: Callable[[str, str, str], PanelshiftError]) -> Pattern:
    """The same with points on the edges of panels where a neighbour's seam across ends.

    *fault*: of a problem, a remedy and an element: what is raised if two neighbours have seams
    across that do not meet.
    """
    panels = pattern.panels
    tips: dict[int, list[TipPoint]] = {}
    for seam in pattern.seams:
        sides = ((seam.first, seam.first_edge), (seam.second, seam.second_edge))
        joints = [_joints(panels[k], edge) for k, edge in sides]
        if joints[0] and joints[1]:
            one, two = (panels[k] for k, _ in sides)
            if (
                len(joints[0]) != len(joints[1])
                or max(abs(a - b) for (a, _), (b, _) in zip(*joints, strict=True)) > UNEVEN_MM
            ):
                ends = " and ".join(
                    ", ".join(f"{arc:+.1f} mm" for arc, _ in own) + f" on {panel.name}"
                    for own, panel in zip(joints, (one, two), strict=True)
                )
                raise fault(
                    f"the seams across {one.name!r} and {two.name!r} do not meet on the seam "
                    f"between the two panels: from the waist they end {ends}",
                    "Let them end as far from the waist on both, each panel with a line or edge "
                    "of its own, or divide only one of the two.",
                    one.ident,
                )
            continue
        for mine, (k, edge) in zip(joints[::-1], sides, strict=True):
            known = [(tip.edge, tip.piece) for tip in panels[k].tips]
            for arc, name in mine:
                if (edge, name) not in known:
                    at = at_arc(panels[k], edge, arc)
                    tips.setdefault(k, []).append(TipPoint(edge, at, name))
    return replace(
        pattern,
        panels=tuple(
            replace(panel, tips=(*panel.tips, *tips.get(k, ()))) for k, panel in enumerate(panels)
        ),
    )


def _joints(panel: Panel, edge: EdgeName) -> list[tuple[float, str]]:
    """How far from the waist its seams across end on an edge, in mm, and the piece above each."""
    if not panel.pieces:
        return []
    found, run = [], -waist_arc(panel, edge)
    for one, above in itertools.pairwise(panel.pieces):
        run += length(one.edge(edge))
        found.append((run, above.name))
    return found


def waist_arc(panel: Panel, edge: EdgeName) -> float:
    """Length of an edge below the waist in mm."""
    at = panel.waist_end(edge)
    assert at is not None
    curve = panel.edge(edge)
    return length(curve.piece(0.0, nearest_position(curve, at)[0]))


def at_arc(panel: Panel, edge: EdgeName, arc: float) -> FloatArray:
    """The point of an edge so far from the waist along it, in sheet mm."""
    curve = panel.edge(edge)
    return np.asarray(curve.points(position_at_length(curve, [arc + waist_arc(panel, edge)]))[0])


def _fault(problem: str, remedy: str, element: str) -> PatternError:
    return PatternError(
        problem, remedy=f"{remedy} See {_MADE_OF} in the job file.", element=element
    )
