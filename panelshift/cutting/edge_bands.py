"""All panels of a layer along its top or bottom edge, in one piece: a facing is cut from them."""

from __future__ import annotations

from dataclasses import replace
from typing import Final, Literal

import numpy as np

from ..errors import StackError
from ..outline import Curve, FloatArray
from ..outline.measure import length, position_at_length
from ..pattern.panel import Corners, EdgeName, Level, Panel
from ..pattern.pattern import Pattern
from ..shift import LayerPattern
from ..shift.cut_in_one import pieces_of
from ..shift.joined_piece import JoinedPiece
from ..stack.fabric import MOST_DART_MM

End = Literal["top", "bottom"]

_SPARE_MM: Final = 8.0
"""Beyond a facing's own width: it is cut off along a line that runs beside the whole edge."""

_SIDES: Final[tuple[EdgeName, ...]] = ("front", "back")


def edge_bands(
    layer: LayerPattern, end: End, width: float
) -> tuple[Pattern, tuple[JoinedPiece, ...]]:
    """The panels along an edge, joined from one opening to the next, and what that distorts.

    They are a pattern whose panels reach a little further than the width, in mm, from that edge.

    Raises `StackError` if they are not so high, or pieces are set in between them. Raises
    `ShiftError` if they cannot be joined.
    """
    whole = layer.whole
    for panel in whole:
        if panel.waist is None or panel.pieces:
            raise StackError(
                f"no facing along the {end} edge is drawn where pieces are set in or "
                f"stand on each other: {panel.name!r}",
                remedy="Cut it from the sewn layer, or leave it out of [extras].",
                element=f"extras.{end}_facing",
            )
    depth = width + _SPARE_MM + max(_hollow(panel, end) for panel in whole)
    bands = replace(whole, panels=tuple(_band(panel, end, depth) for panel in whole))
    before = whole.front_place
    names = [panel.name for panel in whole]
    halves = [names[: int(before)], names[int(before) :]]
    split = whole.full and before == int(before)
    groups = [tuple(half) for half in (halves if split else [names])]
    own = replace(
        layer.fabric,
        panels=None,
        cut_in_one=tuple(group for group in groups if len(group) > 1),
        darts_from=MOST_DART_MM,
    )
    return pieces_of(bands, own)


def _hollow(panel: Panel, end: End) -> float:
    """How far an edge lies further in than the line between its ends, in mm."""
    u, v = panel.frame.to_panel(panel.edge(end).flatten()).T
    line = np.interp(u, u[[0, -1]], v[[0, -1]])
    return max(float(((line - v) if end == "top" else (v - line)).max()), 0.0)


def _band(panel: Panel, end: End, depth: float) -> Panel:
    """What of a panel lies within a depth from an edge, along its sides; its waist is halfway."""
    parts: dict[EdgeName, Curve] = {}
    middles: list[FloatArray] = []
    for side in _SIDES:
        edge = panel.edge(side)
        size = length(edge)
        if size <= depth:
            raise StackError(
                f"the facing along the {end} edge is wider than panel {panel.name!r} is high",
                remedy="Make the facing narrower.",
                element=f"extras.{end}_facing",
            )
        ends = (size - depth, size) if end == "top" else (0.0, depth)
        low, high = position_at_length(edge, ends).tolist()
        parts[side] = edge.piece(low, high)
        at = position_at_length(parts[side], 0.5 * depth)
        middles.append(parts[side].points(at)[0])
    front, back = parts["front"], parts["back"]
    near = panel.edge(end)
    if end == "top":
        far = Curve.polyline([front.start, back.start])
        bottom, top = far, near
    else:
        far = Curve.polyline([front.end, back.end])
        bottom, top = near, far
    outline, corners = Corners.between(front, top, back, bottom)
    waist = Curve.polyline(middles)
    height = float(panel.frame.to_panel(waist.vertices)[:, 1].mean())
    return replace(
        panel,
        outline=outline,
        corners=corners,
        waist=Level("middle", waist, height),
        levels=(),
        marks=tuple(mark for mark in panel.marks if mark.kind == "grainline"),
        texts=(),
    )
