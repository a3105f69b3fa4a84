"""Room for words on a piece, clear of every line.

The room is kept as squares of a millimetre or so, taken or free; a box of words has room where no
square below it is taken, which sums over the squares tell for all places at once.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

import numpy as np

from ..outline import FloatArray
from .sheet import Label, label_corners

_SQUARE_MM: Final = 1.5
_MOST_SQUARES: Final = 1_200
"""On a side at most: of pieces beyond 1.8 m, which no panel is, the squares are larger."""

_CLEAR_MM: Final = 1.0
"""Between words and lines, at least."""

_Squares = np.ndarray[tuple[int, ...], np.dtype[np.bool_]]
_Counts = np.ndarray[tuple[int, ...], np.dtype[np.int32]]


class LabelRoom:
    """What is free of one piece, in mm, y downwards.

    *outlines*: closed polylines, one for each layer: words keep within all of them. *lines*:
    polylines that they keep clear of. *inner*: closed polylines within which words may be asked
    to keep.
    """

    def __init__(
        self,
        outlines: Sequence[FloatArray],
        lines: Sequence[FloatArray],
        inner: Sequence[FloatArray] = (),
    ) -> None:
        points = np.concatenate(outlines)
        self._low = points.min(axis=0)
        size = points.max(axis=0) - self._low
        self._square = max(_SQUARE_MM, float(size.max()) / _MOST_SQUARES)
        across, down = np.ceil(size / self._square).astype(int) + 1
        self._taken = np.zeros((int(down), int(across)), dtype=bool)
        self._sums: dict[bool, _Counts] = {}
        self._margin = np.zeros_like(self._taken)
        for outline in outlines:
            self._taken |= self._outside(outline)
        for outline in inner:
            self._margin |= self._outside(outline)
        self._take_lines([*outlines, *inner, *lines])

    def copy(self) -> LabelRoom:
        """The same room, to be taken in trial."""
        other = object.__new__(LabelRoom)
        other._low, other._margin, other._sums = self._low, self._margin, {}
        other._taken, other._square = self._taken.copy(), self._square
        return other

    def _outside(self, outline: FloatArray) -> _Squares:
        rows, columns = self._taken.shape
        y = self._low[1] + (np.arange(rows) + 0.5) * self._square
        met = (outline[:-1, 1:] <= y) != (outline[1:, 1:] <= y)
        edge, row = np.nonzero(met)
        a, b = outline[edge], outline[edge + 1]
        x = a[:, 0] + (y[row] - a[:, 1]) / (b[:, 1] - a[:, 1]) * (b[:, 0] - a[:, 0])
        column = np.ceil((x - self._low[0]) / self._square - 0.5).astype(int)
        turns = np.zeros((rows, columns + 1), dtype=int)
        np.add.at(turns, (row, np.clip(column, 0, columns)), 1)
        outside: _Squares = (np.cumsum(turns, axis=1)[:, :-1] % 2) == 0
        return outside

    def _take_lines(self, lines: Sequence[FloatArray]) -> None:
        """Take the squares that polylines run through."""
        starts = np.concatenate([line[:-1] for line in lines])
        steps = np.concatenate([line[1:] for line in lines]) - starts
        counts = np.maximum(np.ceil(np.hypot(*steps.T) / (0.5 * self._square)), 1).astype(int)
        which = np.repeat(np.arange(len(counts)), counts)
        part = (np.arange(len(which)) - np.repeat(np.cumsum(counts) - counts, counts)) / counts[
            which
        ]
        ends = [line[-1:] for line in lines]
        places = np.concatenate([starts[which] + part[:, None] * steps[which], *ends])
        column, row = ((places - self._low) / self._square).astype(int).T
        rows, columns = self._taken.shape
        inside = (row >= 0) & (row < rows) & (column >= 0) & (column < columns)
        self._taken[row[inside], column[inside]] = True

    def take(self, label: Label) -> None:
        """Take the room of a label."""
        corners = label_corners(label)
        self.take_box(corners.min(axis=0), corners.max(axis=0))

    def take_box(self, low: FloatArray, high: FloatArray) -> None:
        """Take the room between two corners."""
        first = np.maximum(((low - self._low) / self._square).astype(int), 0)
        last = np.maximum(((high - self._low) / self._square).astype(int) + 1, 0)
        self._taken[first[1] : last[1], first[0] : last[0]] = True
        self._sums = {}

    def middle(self) -> FloatArray:
        """Middle of the panel's box."""
        middle: FloatArray = self._low + 0.5 * self._square * np.array(self._taken.shape[::-1])
        return middle

    def place(
        self,
        across: float,
        down: float,
        near: FloatArray | None = None,
        reach: float | None = None,
        *,
        inside: bool = False,
    ) -> tuple[FloatArray, float] | None:
        """Middle of a free box of a size in mm, the nearest to a point, and how far from it.

        *reach*: in mm, how far from the point it is looked for; everywhere if not given.
        *inside*: whether within the inner polylines only.
        """
        # Numbers one by one: this is asked a thousand times a job, mostly of a few squares.
        square, (low_x, low_y) = self._square, self._low.tolist()
        rows, columns = self._taken.shape
        # A box touches one square more than it is long, wherever it begins.
        w, h = (math.ceil((side + 2.0 * _CLEAR_MM) / square) + 1 for side in (across, down))
        aim_x, aim_y = (self.middle() if near is None else near).tolist()
        # Corners (column, row) at which a box may begin, and how many.
        x, y, right_end, lower_end = 0, 0, columns - w + 1, rows - h + 1
        if reach is not None:
            far = reach / square
            left, top = (aim_x - low_x) / square - 0.5 * w, (aim_y - low_y) / square - 0.5 * h
            x, y = max(0, math.floor(left - far)), max(0, math.floor(top - far))
            right_end = min(right_end, math.ceil(left + far) + 1)
            lower_end = min(lower_end, math.ceil(top + far) + 1)
        if right_end <= x or lower_end <= y:
            return None
        left_side, right_side = slice(x, right_end), slice(x + w, right_end + w)
        upper, lower = slice(y, lower_end), slice(y + h, lower_end + h)
        sums = self._summed(inside)
        held = sums[lower, right_side] - sums[upper, right_side]
        held += sums[upper, left_side] - sums[lower, left_side]
        row, column = (held == 0).nonzero()
        if len(row) == 0:
            return None
        middles_x = low_x + square * (column + (x + 0.5 * w))
        middles_y = low_y + square * (row + (y + 0.5 * h))
        away = np.hypot(middles_x - aim_x, middles_y - aim_y)
        k = int(away.argmin())
        if reach is not None and away[k] > reach:
            return None
        return np.array([middles_x[k], middles_y[k]]), float(away[k])

    def _summed(self, inside: bool) -> _Counts:
        """How many squares are taken above and left of each corner: kept until more are."""
        if inside not in self._sums:
            rows, columns = self._taken.shape
            taken = self._taken | self._margin if inside else self._taken
            sums = np.zeros((rows + 1, columns + 1), dtype=np.int32)
            sums[1:, 1:] = taken.cumsum(axis=0, dtype=np.int32).cumsum(axis=1)
            self._sums[inside] = sums
        return self._sums[inside]
