"""Alterations drawn as lines beside the edges that are to move."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from ..errors import AlterationError
from ..outline import Curve, FloatArray
from ..outline.measure import points_evenly
from ..outline.nearness import apart
from ..outline.splines import Spline
from ..pattern.panel import EDGE_NAMES, EdgeName
from ..pattern.pattern import Pattern
from .alteration import Alteration

_FARTHEST_MM: Final = 60.0
"""No fitting moves an edge further: the line belongs to nothing."""

_TOUCHES_MM: Final = 1.0
"""A line that ends so near its edge runs out there: a thick pencil's line."""

_AT_END_MM: Final = 6.0
"""A line that ends so near the end of its edge, or beyond it, goes all the way."""

_CLEAR: Final = 1.5
"""The next edge has to be so many times as far away, or it is not plain which one is meant."""

_PLACES: Final = 33
_WITHIN_MM: Final = 0.2
_STEP_MM: Final = 1.0
_APART_MM: Final = 4.0


@dataclass(frozen=True)
class _Beside:
    """An edge beside which a line is drawn, the mean distance between them in mm, and heights."""

    panel: int
    edge: EdgeName
    away: float


def drawn_alterations(pattern: Pattern, lines: Sequence[tuple[str, Curve]]) -> list[Alteration]:
    """What lines say that are drawn beside side edges: where those are to lie.

    *lines*: with the name of each, on the draft's sheet. A line is of that edge alone to which it
    is nearest, from height to height; where it meets the edge it runs out.

    Raises `AlterationError` if it is not plain which edge a line is of, or what it says beyond its
    ends, or if two lines are of one edge at the same height.
    """
    found: list[Alteration] = []
    taken: dict[tuple[int, EdgeName], list[tuple[str, float, float]]] = {}
    for name, line in lines:
        beside = _edge_of(pattern, name, line)
        heights, amounts = _amounts(pattern, name, line, beside)
        low, high = float(heights[0]), float(heights[-1])
        others = taken.setdefault((beside.panel, beside.edge), [])
        for other, first, last in others:
            if low < last and first < high:
                raise _fault(
                    name,
                    f"{other!r} is drawn beside the same edge at the same height",
                    "Leave one of the two.",
                )
        others.append((name, low, high))
        found.append(_altered(pattern, beside, heights, amounts))
    return found


def _fault(name: str, problem: str, remedy: str) -> AlterationError:
    return AlterationError(f"a line of the fitting: {problem}", remedy=remedy, element=name)


def _edge_of(pattern: Pattern, name: str, line: Curve) -> _Beside:
    """The edge nearest to a line; refused if there is none, or another is nearly as near."""
    if line.closed:
        raise _fault(name, "it is closed", "Draw an open line beside the edge that is to move.")
    points = points_evenly(line, _PLACES)
    every = sorted(
        (
            _Beside(k, edge, float(np.mean(apart(points, panel.edge(edge))[0])))
            for k, panel in enumerate(pattern)
            for edge in EDGE_NAMES
        ),
        key=lambda beside: beside.away,
    )
    best, second = every[:2]
    panel = pattern.panels[best.panel].name
    if best.away > _FARTHEST_MM:
        raise _fault(
            name, f"it lies {best.away:.0f} mm from the nearest edge", "Draw it beside its edge."
        )
    if best.edge in ("top", "bottom"):
        raise _fault(
            name,
            f"it lies beside the {best.edge} edge of panel {panel!r}",
            f'Only side edges are altered by lines; say it in words: edge = "{best.edge}".',
        )
    if second.away < _CLEAR * best.away:
        other = pattern.panels[second.panel].name
        raise _fault(
            name,
            f"it may be of the {best.edge} edge of panel {panel!r} or of the {second.edge} edge of "
            f"{other!r}: they are {best.away:.1f} and {second.away:.1f} mm away",
            "Draw it nearer to its edge, or move the panels apart.",
        )
    return best


def _rising(points: FloatArray) -> FloatArray | None:
    """Points (u, v) from the lowest up; None if they go up and down."""
    points = points if points[-1, 1] > points[0, 1] else points[::-1]
    kept = np.concatenate([[True], np.diff(points[:, 1]) != 0.0])
    rising: FloatArray = points[kept]
    return rising if len(rising) > 1 and bool((np.diff(rising[:, 1]) > 0.0).all()) else None


def _amounts(
    pattern: Pattern, name: str, line: Curve, beside: _Beside
) -> tuple[FloatArray, FloatArray]:
    """How far a line lies outside its edge, by height, from where it begins to count."""
    panel = pattern.panels[beside.panel]
    drawn = _rising(panel.frame.to_panel(line.flatten()))
    edge = _rising(panel.frame.to_panel(panel.edge(beside.edge).flatten()))
    if drawn is None or edge is None:
        raise _fault(
            name, "it, or its edge, turns back on itself", "Draw it from the top down in one way."
        )
    low, high = max(drawn[0, 1], edge[0, 1]), min(drawn[-1, 1], edge[-1, 1])
    heights = np.linspace(low, high, max(int((high - low) / _STEP_MM), 2) + 1)
    out = 1.0 if beside.edge == "back" else -1.0
    amounts = out * (
        np.interp(heights, drawn[:, 1], drawn[:, 0]) - np.interp(heights, edge[:, 1], edge[:, 0])
    )
    for place, end in ((0, edge[0, 1]), (-1, edge[-1, 1])):
        if abs(heights[place] - end) <= _AT_END_MM:
            continue
        if abs(amounts[place]) > _TOUCHES_MM:
            raise _fault(
                name,
                f"it ends {abs(amounts[place]):.1f} mm beside its edge, "
                f"{abs(heights[place] - end):.0f} mm before the edge's own end",
                "Draw it on to where it meets the edge, or to the end of the edge.",
            )
        amounts[place] = 0.0
    if np.abs(amounts).max() < _WITHIN_MM:
        raise _fault(name, "it lies on its edge", "Take it out: it alters nothing.")
    return heights, amounts


def _altered(
    pattern: Pattern, beside: _Beside, heights: FloatArray, amounts: FloatArray
) -> Alteration:
    """The alteration, by as few heights as tell it within a fifth of a millimetre."""
    knots = {0, len(heights) - 1}
    while True:
        own = sorted(knots)
        off = np.abs(Spline.monotone(heights[own], amounts[own]).at(heights) - amounts)
        # No two so near that cloth could not follow.
        free = np.abs(heights[:, None] - heights[own]).min(axis=1) >= _APART_MM
        off = np.where(free, off, 0.0)
        if off.max() <= _WITHIN_MM:
            break
        knots.add(int(np.argmax(off)))
    amount = {f"{heights[k]:+.2f} mm": round(float(amounts[k]), 3) for k in own}
    panel = pattern.panels[beside.panel].name
    return Alteration(next(_seams(pattern, beside)), amount, on=panel)


def _seams(pattern: Pattern, beside: _Beside) -> Iterator[str]:
    """The name of the seam that an edge is of."""
    at = beside.panel, beside.edge
    for walked in pattern.walk():
        seam = walked.seam
        if at in ((seam.first, seam.first_edge), (seam.second, seam.second_edge)):
            yield walked.name
    yield f"centre {beside.edge}"
