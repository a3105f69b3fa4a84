"""Hatching: many parallel lines at one distance from each other, which mark nothing."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from ..outline import FloatArray
from ..outline.bezier import IntArray
from ..outline.nearness import linked
from ..pattern.drawing import Shape

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
            hit = np.flatnonzero((beside > 0.0) & (gap > 1e-3))
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
