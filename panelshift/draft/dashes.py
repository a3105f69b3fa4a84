"""Dashed lines that a program cut into their dashes, joined again into the lines they were."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from ..outline import Curve, FloatArray
from ..outline.bezier import CUBIC, LINE, line_control
from ..outline.many import share_tangents
from ..outline.nearness import near_pairs
from ..pattern.drawing import LineStyle, Shape
from .draft import REACH_MM, Draft
from .names import given_name

LONGEST_DASH_MM: Final = 25.0
WIDEST_SPACE_MM: Final = 10.0
"""Dashes and the spaces between them are shorter; common practice, no source."""

MOST_ENDS: Final = 400_000
"""Pairs of ends near each other at most; beyond, nothing is joined, and hatching is found."""

_LEAST_DASHES: Final = 4
"""Dashes of which one line at least is made up, before shorter ones are told by its spaces."""

_TURN: Final = np.radians(25.0)
"""How far a line may turn over a space: 4 mm along a circle of 10 mm."""

_EVEN: Final = 0.15
_ROUND_MM: Final = 0.05
"""Spaces of one line differ by no more than that share, and what rounding adds."""

_STRAIGHT_MM: Final = 0.02

_WHOLE: Final = 0.98
"""A last dash that is shorter than this part of the others ends where its line did."""


@dataclass(frozen=True, eq=False)
class _Train:
    """Dashes in a row: which shapes, whether each runs backwards, and the spaces between."""

    members: list[int]
    backwards: list[bool]
    spaces: list[float]


def join_dashes(draft: Draft) -> Draft:
    """Join trains of short pieces, on one straight or smooth line, into dashed lines.

    A piece belongs to a train if the next one lies straight ahead of its end, and if the spaces
    are all alike. Letters drawn as lines and hatching have no such neighbours. Short trains are
    told by the spaces of long ones in the same style.
    """
    families: dict[tuple[object, ...], list[Shape]] = {}
    for shape in draft.shapes:
        if _may_be_dash(draft, shape):
            key = (shape.groups, shape.style.colour, shape.style.width, _name(draft, shape))
            families.setdefault(key, []).append(shape)
    joined: dict[str, Shape] = {}
    gone: set[str] = set()
    for members in families.values():
        trains = _trains(members) if len(members) >= _LEAST_DASHES else []
        lines = [_line([members[k] for k in train.members], train) for train in trains]
        for train, line in zip(trains, _met_at_corners(lines), strict=True):
            pieces = [members[k] for k in train.members]
            line = _as_long_as_it_may_be(line, pieces)
            named = [piece.ident for piece in pieces if piece.ident in draft.reading.waistlines]
            line = replace(line, ident=(named or [line.ident])[0])
            joined[pieces[0].ident] = line
            gone |= {piece.ident for piece in pieces}
            draft.ledger.note(
                "dashes-joined",
                f"{line.ident}: {len(pieces)} short pieces in a row are taken for one dashed line",
                *(piece.ident for piece in pieces),
            )
    if not gone:
        return draft
    shapes = tuple(
        joined.get(shape.ident, shape)
        for shape in draft.shapes
        if shape.ident not in gone or shape.ident in joined
    )
    return replace(draft, shapes=shapes)


def _name(draft: Draft, shape: Shape) -> tuple[object, ...]:
    """What dashes of one line have in common: their role, and a name but for its number."""
    # A waistline may be given by the id of any of its dashes.
    given = shape.ident in draft.reading.waistlines
    role = None if given else draft.role(shape)
    if shape.element:
        return (role, shape.element)
    # A program that numbers what it cuts up leaves the rest of the name.
    return (role, given_name(shape.names).rstrip("0123456789-_#. "))


def _may_be_dash(draft: Draft, shape: Shape) -> bool:
    if shape.curve.closed or draft.kind(shape) in ("notch", "hatching", "aside"):
        return False
    low, high = shape.curve.hull_box
    return 0.0 < float(np.hypot(*(high - low))) <= LONGEST_DASH_MM


def _trains(shapes: Sequence[Shape]) -> list[_Train]:
    """Rows of pieces that lie ahead of each other at even spaces."""
    share_tangents([shape.curve for shape in shapes])
    # Of piece k, end 2 k is its start and 2 k + 1 its end; directions point out of it.
    points = np.array([p for s in shapes for p in (s.curve.start, s.curve.end)])
    out = np.array(
        [d for s in shapes for t in (s.curve.end_tangents(),) for d in (-t[0, 0], t[-1, 1])]
    )
    pairs = near_pairs(points, WIDEST_SPACE_MM, MOST_ENDS)
    if len(pairs) > MOST_ENDS:
        return []
    pairs = pairs[pairs[:, 0] // 2 != pairs[:, 1] // 2]
    step = points[pairs[:, 1]] - points[pairs[:, 0]]
    space = np.hypot(step[:, 0], step[:, 1])
    bound = np.cos(_TURN)
    ahead = (out[pairs[:, 0]] * step).sum(axis=1) >= bound * space
    ahead &= -(out[pairs[:, 1]] * step).sum(axis=1) >= bound * space
    ahead &= (space > _ROUND_MM) & (space <= WIDEST_SPACE_MM)
    # Where another piece goes on from an end there is no space: a line in pieces is no dashed one.
    on = (space <= _ROUND_MM) & ((out[pairs[:, 0]] * out[pairs[:, 1]]).sum(axis=1) <= -bound)
    ahead &= ~np.isin(pairs, pairs[on]).any(axis=1)
    nearest: dict[int, tuple[float, int]] = {}
    for (one, two), size in zip(pairs[ahead].tolist(), space[ahead].tolist(), strict=True):
        nearest[one] = min(nearest.get(one, (np.inf, -1)), (size, two))
        nearest[two] = min(nearest.get(two, (np.inf, -1)), (size, one))
    links = {
        end: (other, size) for end, (size, other) in nearest.items() if nearest[other][1] == end
    }
    rows = [part for row in _rows(len(shapes), links) for part in _even_parts(row)]
    known = [row for row in rows if len(row.members) >= _LEAST_DASHES]
    spaces = [float(np.median(row.spaces)) for row in known]
    short = [
        row
        for row in rows
        if 2 <= len(row.members) < _LEAST_DASHES
        and any(_alike(float(np.median(row.spaces)), space) for space in spaces)
    ]
    return [*known, *short]


def _rows(count: int, links: dict[int, tuple[int, float]]) -> list[_Train]:
    """Follow links from piece to piece."""
    rows, seen = [], set[int]()
    # Open rows from their ends first, then rings from anywhere.
    starts = [k for k in range(2 * count) if k not in links and k ^ 1 in links]
    for start in [*starts, *range(2 * count)]:
        if start // 2 in seen or (start ^ 1) not in links:
            continue
        members, backwards, spaces = [start // 2], [bool(start % 2)], list[float]()
        seen.add(start // 2)
        end = start ^ 1
        while end in links:
            other, size = links[end]
            if other // 2 in seen:
                if other == start:
                    spaces.append(size)
                break
            members.append(other // 2)
            backwards.append(bool(other % 2))
            spaces.append(size)
            seen.add(other // 2)
            end = other ^ 1
        rows.append(_Train(members, backwards, spaces))
    return rows


def _alike(one: float, two: float) -> bool:
    return abs(one - two) <= _EVEN * max(one, two) + _ROUND_MM


def _even_parts(row: _Train) -> list[_Train]:
    """Cut a row where a space is unlike the others: there another line begins."""
    if not row.spaces:
        return []
    usual = float(np.median(row.spaces))
    if all(_alike(space, usual) for space in row.spaces):
        return [row]
    parts, first = [], 0
    inner = row.spaces[: len(row.members) - 1]
    for k in range(len(inner) + 1):
        if k == len(inner) or not _alike(inner[k], usual):
            part = slice(first, k + 1)
            if k > first:
                spaces = inner[first:k]
                parts.append(_Train(row.members[part], row.backwards[part], spaces))
            first = k + 1
    return parts


def _line(pieces: Sequence[Shape], train: _Train) -> Shape:
    """The line that the dashes of a train were."""
    curves = [
        piece.curve.reversed() if back else piece.curve
        for piece, back in zip(pieces, train.backwards, strict=True)
    ]
    ring = len(train.spaces) == len(train.members)
    dash = (
        float(np.median([np.hypot(*(c.end - c.start)) for c in curves])),
        float(np.median(train.spaces)),
    )
    style = LineStyle(pieces[0].style.colour, pieces[0].style.width, dash)
    first = pieces[0]
    return replace(first, curve=_bridged(curves, ring), style=style)


def _bridged(curves: Sequence[Curve], ring: bool) -> Curve:
    """Dashes with the spaces between them filled, smoothly; one straight line if they lie on it."""
    start, end = curves[0].start, curves[-1].end
    chord = end - start
    size = float(np.hypot(*chord))
    # Dashes that come back to where they began have no direction from end to end.
    if not ring and size > 0.0:
        along = chord / size
        points = np.concatenate([curve.control.reshape(-1, 2) for curve in curves]) - start
        if np.abs(points @ np.array([-along[1], along[0]])).max() <= _STRAIGHT_MM:
            return Curve.polyline([start, end])
    control, degree = [curves[0].control], [curves[0].degree]
    following = [*curves[1:], curves[0]] if ring else curves[1:]
    for one, two in zip(curves, following, strict=False):
        bridge = _bridge(one, two)
        straight = np.allclose(bridge, line_control(bridge[:, 0], bridge[:, 3]), atol=1e-9)
        control.append(bridge)
        degree.append(np.array([LINE if straight else CUBIC]))
        if two is not curves[0]:
            control.append(two.control)
            degree.append(two.degree)
    return Curve(np.concatenate(control), np.concatenate(degree), ring)


def _met_at_corners(lines: list[Shape]) -> list[Shape]:
    """Lines drawn on to the corner in the space between them, if it is there that they meet."""
    tips = [
        (k, end, (line.curve.start, line.curve.end)[end], _out(line.curve, end))
        for k, line in enumerate(lines)
        if not line.curve.closed
        for end in (0, 1)
    ]
    corners: dict[tuple[int, int], FloatArray] = {}
    for index, (k, end, point, out) in enumerate(tips):
        for other, far, place, towards in tips[index + 1 :]:
            space = max(lines[k].style.dash[1], lines[other].style.dash[1])
            step = place - point
            if (k, end) in corners or (other, far) in corners or np.hypot(*step) > 1.2 * space:
                continue
            turn = float(out[0] * towards[1] - out[1] * towards[0])
            if abs(turn) < np.sin(_TURN):
                # Where a line begins, its last space is cut short.
                if float(step @ out) >= np.cos(_TURN) * float(np.hypot(*step)) > 0.0:
                    corners[k, end], corners[other, far] = place, place
                continue
            ahead = float(step[0] * towards[1] - step[1] * towards[0]) / turn
            back = float(step[0] * out[1] - step[1] * out[0]) / turn
            # The space runs round the corner: its two parts come to what it is elsewhere.
            # Or a dash begins right at the corner, after a space that is cut short.
            short = min(ahead, back) <= _ROUND_MM and ahead + back <= space
            if min(ahead, back) >= -_ROUND_MM and (short or _alike(ahead + back, space)):
                corners[k, end] = corners[other, far] = point + ahead * out
    return [
        replace(
            line,
            curve=_drawn_on(line.curve, corners.get((k, 0)), corners.get((k, 1))),
        )
        for k, line in enumerate(lines)
    ]


def _as_long_as_it_may_be(line: Shape, pieces: Sequence[Shape]) -> Shape:
    """A straight line drawn on where it ended in a space wider than a line may stop short."""
    curve, (dash, space) = line.curve, line.style.dash
    more = space - REACH_MM
    if len(curve) > 1 or more <= 0.0:
        return line
    along = _out(curve, 1)
    whole = [
        float(np.hypot(*(piece.curve.end - piece.curve.start))) >= _WHOLE * dash
        for piece in (pieces[0], pieces[-1])
    ]
    start, end = curve.start - more * whole[0] * along, curve.end + more * whole[1] * along
    return replace(line, curve=Curve.polyline([start, end]))


def _out(curve: Curve, end: int) -> FloatArray:
    """The direction in which a curve would go on from its start (0) or its end (1)."""
    tangents = curve.end_tangents()
    result: FloatArray = tangents[-1, 1] if end else -tangents[0, 0]
    return result


def _drawn_on(curve: Curve, before: FloatArray | None, after: FloatArray | None) -> Curve:
    parts, degrees = [curve.control], [curve.degree]
    if before is not None and (before != curve.start).any():
        parts.insert(0, line_control(before[None], curve.start[None]))
        degrees.insert(0, np.array([LINE]))
    if after is not None and (after != curve.end).any():
        parts.append(line_control(curve.end[None], after[None]))
        degrees.append(np.array([LINE]))
    return Curve(np.concatenate(parts), np.concatenate(degrees), curve.closed)


def _bridge(one: Curve, two: Curve) -> FloatArray:
    """A cubic from the end of one curve to the start of the next, in their directions there."""
    space = two.start - one.end
    third = float(np.hypot(*space)) / 3.0
    leaving, arriving = one.end_tangents()[-1, 1], two.end_tangents()[0, 0]
    return np.array([[one.end, one.end + third * leaving, two.start - third * arriving, two.start]])
