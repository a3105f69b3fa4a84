"""What drawing and exporting leave behind: hatching, copies on top of others, specks."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
import numpy.typing as npt

from ..errors import PatternError
from ..outline import Curve, FloatArray
from ..outline.bezier import IntArray, of_degree
from ..outline.many import boxes, gathered
from ..outline.nearness import COPY_MM, Boxes, is_copy, linked, near_pairs
from ..pattern.drawing import Shape
from .draft import Draft
from .names import Role, given_name

MOST_COPIES: Final = 250_000
"""Pairs of lines in one place at most: 700 copies of one line."""

SPECK_MM: Final = 0.5
"""Unnamed lines shorter than this, by themselves, mark nothing: a slip of the pen."""

STRAY_PIECE_MM: Final = 0.05
"""Pieces of a line shorter than this, beside longer ones, are where a program failed to meet a
point: less than a printed hairline."""

_BOX_MM: Final = COPY_MM + 0.02
_ALONE: Final = frozenset({"allowance", "aside"})


def tidy(draft: Draft) -> Draft:
    """Part shapes from hatching and from copies on top of others.

    Raises `PatternError` if thousands of lines lie in one place.
    """
    named: dict[tuple[object, ...], list[Shape]] = {}
    for shape in draft.shapes:
        if draft.kind(shape) == "hatching":
            named.setdefault((shape.groups, shape.element), []).append(shape)
    draft = _drop_copies(draft.without(shape for family in named.values() for shape in family))
    found = find_hatching(
        [
            s
            for s in draft.shapes
            if draft.role(s) is None and not given_name(s.names) and not s.data
        ]
    )
    for family in (*named.values(), *found):
        more = f", and {len(family) - 1} lines more" if len(family) > 1 else ""
        draft.ledger.leave_out("hatching", f"hatching{more}", *(shape.ident for shape in family))
    if found:
        draft.ledger.warn(
            "hatching",
            f"{sum(map(len, found))} parallel lines at equal distances are taken for hatching and "
            f"passed over (the first is {found[0][0].ident}); give lines that mean something a "
            "name, such as channel",
            *(family[0].ident for family in found),
        )
    return draft.without(shape for family in found for shape in family)


def _drop_copies(draft: Draft) -> Draft:
    """Keep one of several lines that lie on top of each other: the one with most to its name.

    Lines of two different names that both say what they are, such as a bust line on a hip
    line, are no copies.
    """
    shapes, roles = draft.shapes, draft.roles
    places = boxes([shape.curve for shape in shapes]).reshape(-1, 4)
    pairs = near_pairs(places, _BOX_MM, MOST_COPIES)
    if len(pairs) > MOST_COPIES:
        raise PatternError(
            "thousands of lines lie on top of each other",
            remedy="Delete the copies.",
            element=shapes[0].ident,
        )
    near: dict[int, list[int]] = {}
    for i, j in pairs.tolist():
        near.setdefault(i, []).append(j)
        near.setdefault(j, []).append(i)
    kept_for: dict[int, int] = {}
    for i in sorted(near, key=lambda i: (-_worth(shapes[i], roles), i)):
        if i in kept_for:
            continue
        for j in near[i]:
            if j in kept_for or _worth(shapes[j], roles) > _worth(shapes[i], roles):
                continue
            one, two = roles[shapes[i].ident], roles[shapes[j].ident]
            if _agree(one, two) and is_copy(shapes[i].curve, shapes[j].curve):
                kept_for[j] = i
        kept_for[i] = i
    gone = [i for i in sorted(kept_for) if kept_for[i] != i]
    for i in gone:
        _tell_copy(draft, shapes[i].ident, shapes[kept_for[i]].ident)
    return draft.without(shapes[i] for i in gone)


def drop_joined_copies(draft: Draft) -> Draft:
    """Part outlines from those that pieces make up on top of a closed shape of another kind."""
    closed = [shape for shape in draft.shapes if shape.curve.closed]
    places = Boxes([shape.curve for shape in closed])
    kept = []
    for candidate in draft.outlines:
        twin = None
        if len(candidate.shapes) > 1:
            near = places.near(candidate.outline.hull_box, COPY_MM)
            twin = next((k for k in near if is_copy(closed[k].curve, candidate.outline)), None)
        if twin is None:
            kept.append(candidate)
        else:
            pieces = f" ({len(candidate.shapes)} pieces)"
            _tell_copy(draft, candidate.ident, closed[twin].ident, pieces)
    return replace(draft, outlines=tuple(kept))


def _tell_copy(draft: Draft, ident: str, other: str, more: str = "") -> None:
    draft.ledger.leave_out("copy", f"drawn twice: it lies on top of {other}{more}", ident)


def name_worth(shape: Shape) -> int:
    """How much a shape's own names say of the panel that it may be the outline of."""
    return 2 * bool(shape.data) + bool(given_name(shape.names))


def _worth(shape: Shape, roles: Mapping[str, Role | None]) -> int:
    return 4 * (roles[shape.ident] is not None) + name_worth(shape)


def _agree(one: Role | None, two: Role | None) -> bool:
    if one == two:
        return True
    known = one or two
    return (one is None or two is None) and known is not None and known.kind not in _ALONE


def drop_specks(draft: Draft) -> Draft:
    """Part shapes from unnamed specks, which are told in one line."""
    specks = [
        shape
        for shape in draft.shapes
        if extent(shape.curve) < SPECK_MM and not given_name(shape.names) and not shape.data
    ]
    if specks:
        more = f", and {len(specks) - 1} more like it" if len(specks) > 1 else ""
        draft.ledger.leave_out(
            "speck",
            f"a stray line shorter than {SPECK_MM:g} mm{more}",
            *(shape.ident for shape in specks),
        )
    return draft.without(specks)


def extent(curve: Curve) -> float:
    """Diagonal in mm of the box round a curve's control points."""
    (left, top), (right, bottom) = curve.hull_box.tolist()
    return math.hypot(right - left, bottom - top)


def without_stray_pieces(curves: Sequence[Curve]) -> list[Curve]:
    """Curves without the stray pieces before, after and between their longer ones.

    The piece before is drawn on to where the stray one ends, or the piece after is drawn back
    to where it begins, whichever turns less. Runs of short pieces that come to more than
    `STRAY_PIECE_MM` together, as in a curve drawn as many short lines, stay.
    """
    if not curves:
        return []
    control, owner = gathered(curves)
    reach = control.max(axis=1) - control.min(axis=1)
    sizes = np.hypot(reach[:, 0], reach[:, 1])
    short = np.bincount(owner, sizes < STRAY_PIECE_MM, len(curves))
    result = list(curves)
    for k in np.flatnonzero((short > 0) & (short < np.bincount(owner))).tolist():
        result[k] = _without_stray_pieces(curves[k], sizes[owner == k])
    return result


def _without_stray_pieces(curve: Curve, sizes: FloatArray) -> Curve:
    short = sizes < STRAY_PIECE_MM
    control, tangents = curve.control.copy(), curve.end_tangents()
    drop = np.zeros(len(curve), dtype=np.bool_)
    long = np.flatnonzero(~short)
    # Runs of short pieces lie between one long piece and the next, round the end as well.
    for one, two in zip(long, np.roll(long, -1), strict=True):
        run = np.arange(one + 1, two if two > one else two + len(curve)) % len(curve)
        if len(run) == 0 or sizes[run].sum() >= STRAY_PIECE_MM:
            continue
        drop[run] = True
        if not curve.closed and two <= one:
            _move(control[one, :1:-1], curve.end)
            _move(control[two, :2], curve.start)
            continue
        step = curve.control[two, 0] - curve.control[one, 3]
        if _aside(step, tangents[one, 1]) <= _aside(step, tangents[two, 0]):
            _move(control[one, :1:-1], curve.control[two, 0])
        else:
            _move(control[two, :2], curve.control[one, 3])
    keep = np.flatnonzero(~drop)
    degree = curve.degree[keep]
    return Curve(of_degree(control[keep], degree), degree, curve.closed)


def _aside(step: FloatArray, tangent: FloatArray) -> float:
    return abs(float(step[0] * tangent[1] - step[1] * tangent[0]))


def _move(end_and_handle: FloatArray, point: FloatArray) -> None:
    """Move an end of a piece to a point; its handle goes with it, so that the tangent stays."""
    end_and_handle += point - end_and_handle[0]


LEAST_LINES: Final = 20
"""Parallel lines at equal distances from which on they are hatching; common practice, no
source: a panel has up to a dozen level lines or bone channels."""

_LEAST_LENGTH_MM: Final = 0.5
_STRAIGHT_MM: Final = 0.05
_PARALLEL: Final = 0.002
"""Difference of direction in radians at which lines are parallel; short lines are rounded more."""

_LENGTH_PITCHES: Final = 2.0
"""Hatching is longer than the lines are apart, unlike a row of notches or eyelets."""


@dataclass(frozen=True, eq=False)
class _Lines:
    """Straight lines of one direction: the heights at which they lie, and from where to where."""

    height: FloatArray
    low: FloatArray
    high: FloatArray

    def neighbours(self) -> tuple[IntArray, IntArray]:
        """The next line above and below each that it lies beside, -1 for none; rising heights."""
        count = len(self.height)
        above, below = np.full(count, -1), np.full(count, -1)
        for i in range(count):
            above[i] = self._first(i, range(i + 1, count, _WINDOW), count)
        for i in range(count):
            below[i] = self._first(i, range(i - 1, -1, -_WINDOW), -1)
        return above, below

    def _first(self, i: int, starts: range, stop: int) -> int:
        step = 1 if starts.step > 0 else -1
        for start in starts:
            end = min(start + _WINDOW, stop) if step > 0 else max(start - _WINDOW, stop)
            others = np.arange(start, end, step)
            gap = np.abs(self.height[others] - self.height[i])
            beside = np.minimum(self.high[others], self.high[i]) + gap
            beside -= np.maximum(self.low[others], self.low[i])
            # Pieces of one line lie as far aside as two directions that count as one make them.
            hit = np.flatnonzero((beside > 0.0) & (gap > _STRAIGHT_MM))
            if len(hit):
                return int(others[hit[0]])
        return -1


_WINDOW: Final = 64


def find_hatching(shapes: Sequence[Shape]) -> list[tuple[Shape, ...]]:
    """Find sets of at least `LEAST_LINES` straight parallel lines at one distance.

    *shapes*: without those whose names say what they are.

    Notes
    -----
    Nothing needs to be known of the panels. Lines cut in two by a hollow edge, and the short
    ones in a corner, belong to their set.
    """
    straight = [shape for shape in shapes if _is_straight(shape)]
    if len(straight) < LEAST_LINES:
        return []
    ends = np.array([(shape.curve.start, shape.curve.end) for shape in straight])
    found = []
    for members in _parallel(ends):
        if len(members) >= LEAST_LINES:
            found += [members[rows] for rows in _evenly_spaced(ends[members])]
    return [tuple(straight[i] for i in sorted(rows)) for rows in found]


def _is_straight(shape: Shape) -> bool:
    curve = shape.curve
    step = curve.end - curve.start
    size = float(np.hypot(*step))
    if curve.closed or size < _LEAST_LENGTH_MM:
        return False
    offset = curve.control.reshape(-1, 2) - curve.start
    return bool(np.abs(offset @ np.array([-step[1], step[0]])).max() <= _STRAIGHT_MM * size)


def _parallel(ends: FloatArray) -> list[IntArray]:
    """Rows of lines of one direction, the longest first to say which."""
    steps = ends[:, 1] - ends[:, 0]
    sizes = np.hypot(steps[:, 0], steps[:, 1])
    angles = np.arctan2(steps[:, 1], steps[:, 0])
    directions = np.zeros(0)
    rows: list[list[int]] = []
    for i in np.argsort(-sizes, kind="stable"):
        apart = np.abs((directions - angles[i] + 0.5 * np.pi) % np.pi - 0.5 * np.pi)
        best = int(np.argmin(apart)) if len(apart) else -1
        if best >= 0 and apart[best] <= max(_PARALLEL, _STRAIGHT_MM / sizes[i]):
            rows[best].append(int(i))
        else:
            directions = np.append(directions, angles[i])
            rows.append([int(i)])
    return [np.array(row) for row in rows]


def _evenly_spaced(ends: FloatArray) -> list[IntArray]:
    """Rows of parallel lines, ends of shape (n, 2, 2), that lie at one distance beside each other.

    The first line gives the direction.
    """
    along = ends[0, 1] - ends[0, 0]
    along = along / np.hypot(*along)
    height = ends.mean(axis=1) @ np.array([-along[1], along[0]])
    order = np.argsort(height, kind="stable")
    reach = (ends @ along)[order]
    lines = _Lines(height[order], reach.min(axis=1), reach.max(axis=1))
    above, below = lines.neighbours()
    both = np.flatnonzero((above >= 0) & (below >= 0))
    rise = lines.height[above[both]] - lines.height[both]
    fall = lines.height[both] - lines.height[below[both]]
    even = np.abs(rise - fall) <= np.maximum(0.05 * rise, 0.04)
    middle = both[even]
    found: list[IntArray] = []
    taken = np.zeros(len(ends), dtype=np.bool_)
    for rows in _linked(len(ends), middle, above[middle], below[middle]):
        pitch = float(np.median(rise[even][np.isin(middle, rows)]))
        levels = 1 + int((np.diff(lines.height[rows]) > 0.5 * pitch).sum())
        long = float(np.median(lines.high[rows] - lines.low[rows])) >= _LENGTH_PITCHES * pitch
        if levels >= LEAST_LINES and long:
            taken[rows] = True
            found.append(rows)
    return [order[np.concatenate([rows, _left_over(lines, rows, taken)])] for rows in found]


def _left_over(lines: _Lines, rows: IntArray, taken: npt.NDArray[np.bool_]) -> IntArray:
    """Rows in a set's area, on its raster, that no neighbour links to it: bits in corners."""
    height = lines.height[rows]
    pitch = float(np.median(np.diff(height)[np.diff(height) > 1e-3]))
    slack = 0.1 * pitch + _STRAIGHT_MM
    free = ~taken & (np.abs(lines.height - height.mean()) <= 0.5 * np.ptp(height) + 2.0 * pitch)
    free &= lines.low >= lines.low[rows].min() - 2.0 * pitch
    free &= lines.high <= lines.high[rows].max() + 2.0 * pitch
    which: IntArray = np.flatnonzero(free)
    nearest = height[np.argmin(np.abs(lines.height[which, None] - height), axis=1)]
    off = lines.height[which] - nearest
    fits: IntArray = which[np.abs(off - pitch * np.round(off / pitch)) <= slack]
    taken[fits] = True
    return fits


def _linked(
    count: int, middle: IntArray, above: IntArray, below: IntArray
) -> list[npt.NDArray[np.int64]]:
    """Sets of rows that hang together through evenly spaced threes, each in rising order."""
    if len(middle) == 0:
        return []
    start, end = np.concatenate([middle, middle]), np.concatenate([above, below])
    label = linked(count, np.stack([start, end], axis=1))
    used = np.zeros(count, dtype=np.bool_)
    used[start], used[end] = True, True
    return [np.flatnonzero((label == one) & used) for one in np.unique(label[used])]
