"""Neighbouring panels of a layer as one piece: sewn together in the mind, and laid flat."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise
from typing import Final

import numpy as np

from ..errors import StackError
from ..outline import Curve
from ..outline.measure import length
from ..outline.nearness import apart
from ..outline.planar import area
from ..pattern.panel import EdgeName, Panel
from ..pattern.pattern import Pattern
from ..stack import Fabric
from .drawn_row import DrawnRow
from .flattened import SheetMap, lay_flat
from .joined_piece import JoinedLength, JoinedPiece
from .panel_row import PanelRow
from .seam_darts import side_by_side

_FLAT_MM: Final = 1.0
"""Edges nearer to each other than that are one line: a cut with shears is no finer."""

_SIDES: Final[tuple[EdgeName, ...]] = ("front", "back")


def refuse_unjoinable(pattern: Pattern, fabric: Fabric) -> None:
    """Refuse panels that cannot be cut in one: unknown, named twice, or not beside each other.

    Raises `StackError`.
    """
    names = [panel.name for panel in pattern.panels]
    groups, layer = fabric.cut_in_one, fabric.name
    taken: dict[str, Sequence[str]] = {}

    def fault(problem: str, remedy: str) -> StackError:
        return StackError(problem, remedy=remedy, source=pattern.source, element=layer)

    for group in groups:
        said = ", ".join(group)
        for name in group:
            if name not in names:
                raise fault(
                    f"panels of {layer!r} to be cut in one: the pattern has no panel {name!r:.80}",
                    f"Use the pattern's panel names: {', '.join(names)}.",
                )
            if not fabric.covers(name):
                raise fault(
                    f"panel {name!r} is to be cut in one with others of {layer!r}, which does not "
                    "lie on it",
                    "Name it among the panels of the fabric as well, or take it out of the piece.",
                )
            if name in taken:
                raise fault(
                    f"panel {name!r} of {layer!r} is to be cut in one with "
                    f"{', '.join(taken[name])}, and again in {said}",
                    "Name each panel once: all that make one piece stand in one list.",
                )
            taken[name] = group
            panel = pattern[name]
            if panel.slits:
                raise fault(
                    f"{name!r} of {layer!r} is to be cut in one with others, but a gore is set in "
                    "its slit",
                    "Leave such panels apart.",
                )
            for lower, upper in pairwise(panel.pieces):
                if _bulge(lower.edge("top"), upper.edge("bottom")) > _FLAT_MM:
                    raise fault(
                        f"{name!r} of {layer!r} is to be cut in one, but the seam between "
                        f"{lower.name!r} and {upper.name!r} bulges differently on both: in one "
                        "piece they do not lie flat",
                        "Leave that panel in its pieces on this layer as well.",
                    )
            if panel.waist is None or panel.pointed:
                raise fault(
                    f"{name!r} of {layer!r} is to be cut in one with others, but does not reach "
                    "the waist, from which they are laid beside each other",
                    "Leave such pieces apart, and those that they are set in between.",
                )
        if len(group) < 2 and not any(pattern[name].pieces for name in group):
            raise fault(
                f"a piece of {layer!r} is to be cut in one of {said or 'no panel'}",
                "Name two neighbours or more, or a panel of several pieces; one that is not named "
                "stays as it is.",
            )
        places = sorted(names.index(name) for name in group)
        for one, two in pairwise(places):
            between = pattern.panels[one + 1 : two]
            if between:
                raise fault(
                    f"panels {names[one]!r} and {names[two]!r} of {layer!r} are to be cut in one, "
                    f"but {', '.join(panel.name for panel in between)} lies between them",
                    "Only neighbours are sewn to each other: name those between as well."
                    if all(panel.waist for panel in between)
                    else "Leave panels apart between which a gore is set in.",
                )


def pieces_of(pattern: Pattern, fabric: Fabric) -> tuple[Pattern, tuple[JoinedPiece, ...]]:
    """A layer's pattern with some of its panels joined, and what that distorts.

    *fabric*: names neighbours, as `refuse_unjoinable` has found them good; and the width in mm from
    which on darts are sewn: a piece of which none is so wide is distorted instead.

    Raises `ShiftError` if the panels cannot be laid flat in one piece without folding.
    """
    of = {
        pattern.index(name): place
        for place, group in enumerate(fabric.cut_in_one)
        for name in group
    }
    panels: list[Panel] = []
    joined: list[JoinedPiece] = []
    done: set[int] = set()
    for index, panel in enumerate(pattern.panels):
        if index not in of:
            panels.append(panel)
        elif of[index] not in done:
            done.add(of[index])
            own = sorted(k for k, place in of.items() if place == of[index])
            if len(own) == 1:
                panels.append(replace(panel, pieces=()))
                continue
            joined.append(_piece(PanelRow.of(pattern, own, fabric.name), fabric.darts_from))
            panels.append(joined[-1].panel)
    # Seams across that are gone end on no neighbour.
    there = {panel.name for panel in pattern if panel.pointed}
    there |= {piece.name for panel in panels for piece in panel.pieces[1:]}
    panels = [
        replace(panel, tips=tuple(tip for tip in panel.tips if tip.piece in there))
        for panel in panels
    ]
    return replace(pattern, panels=tuple(panels), centre=_centre(pattern, panels)), tuple(joined)


def _bulge(one: Curve, two: Curve) -> float:
    """How far two edges that are sewn together lie from each other at most, in mm."""
    both = (one, two), (two, one)
    return max(float(apart(own.flatten(), other)[0].max()) for own, other in both)


def _centre(pattern: Pattern, panels: Sequence[Panel]) -> float | None:
    """How many pieces of a full pattern come before the centre front."""
    if not pattern.full:
        return None
    half = pattern.front_place
    ends = np.cumsum([max(len(panel.made_of), 1) for panel in panels])
    before = int((ends <= half).sum())
    return float(before) if half in ends else before + 0.5


def _piece(row: PanelRow, darts_from: float) -> JoinedPiece:
    """The panels in one piece: with darts if one is as wide as said, else distorted."""
    beside = [
        side_by_side(row.along(place, 1), row.along(place + 1, 0))
        for place in range(len(row.panels) - 1)
    ]
    sewn = any(dart.width >= darts_from for own in beside for dart in own.darts)
    stretch = np.ones((1, 2))
    if sewn:
        maps = [SheetMap(1.0 + 0.0j, 0.0j, None)]
        for own in beside:
            last = maps[-1]
            maps.append(SheetMap(last.turn * own.turn, last.turn * own.step + last.step, None))
    else:
        flat = lay_flat(row.grids(), row.straight())
        maps, stretch = flat.carriers(), flat.stretch
    drawn = DrawnRow(row, [_after(one, maps[row.middle]) for one in maps])
    panel, smoothed = drawn.panel([own.darts for own in beside] if sewn else [])
    levels = tuple(
        JoinedLength(
            level.name,
            drawn_width := row.width(level.name),
            drawn_width if sewn else length(level.curve),
        )
        for level in sorted(panel.level_lines, key=lambda own: -own.height)
    )
    ends = (row.panels[0], row.sides[0][0]), (row.panels[-1], row.sides[-1][1])
    seams, darts = [], []
    for place, own in enumerate(beside):
        name = f"{row.panels[place].name} to {row.panels[place + 1].name}"
        edges = [row.panels[place].edge(row.sides[place][1])]
        edges.append(row.panels[place + 1].edge(row.sides[place + 1][0]))
        before = 0.5 * sum(length(edge) for edge in edges)
        seams.append(JoinedLength(name, before, before if sewn else drawn.seam_length(place)))
        darts += [(name, dart) for dart in own.darts]
    whole = sum(area(own.outline) for own in row.panels)
    return JoinedPiece(
        panel,
        tuple(own.name for own in row.panels),
        levels,
        tuple(seams),
        tuple(
            JoinedLength(new, length(own.edge(old)), length(panel.edge(new)))
            for new, (own, old) in zip(_SIDES, ends, strict=True)
        ),
        JoinedLength("area", whole, whole if sewn else area(panel.outline)),
        # The cloth goes from the piece to the panels' shape.
        (float(1.0 / stretch[:, 1].max() - 1.0), float(1.0 / stretch[:, 0].min() - 1.0)),
        tuple(darts),
        sewn,
        smoothed,
    )


def _after(map_: SheetMap, middle: SheetMap) -> SheetMap:
    """A map in the axes of the middle panel, which its own rigid motion leaves alone."""
    back = 1.0 / middle.turn
    turn, step = back * map_.turn, back * (map_.step - middle.step)
    return replace(map_, turn=turn, step=step, after=back * map_.after)
