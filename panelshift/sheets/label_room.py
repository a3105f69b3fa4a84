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

_Spot = tuple[FloatArray, float]
"""A middle in mm, and how far it is from what is asked for."""


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
        self._about_middle: dict[tuple[int, int], _Spot | None] = {}
        self._margin = np.zeros_like(self._taken)
        for outline in outlines:
            self._taken |= self._outside(outline)
        for outline in inner:
            self._margin |= self._outside(outline)
        self._take_lines([*outlines, *inner, *lines])

    def copy(self) -> LabelRoom:
        """The same room, to be taken in trial."""
        other = object.__new__(LabelRoom)
        other._low, other._margin = self._low, self._margin
        other._sums, other._about_middle = {}, {}
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
        cell = row * (columns + 1) + np.clip(column, 0, columns)
        turns = np.bincount(cell, minlength=rows * (columns + 1)).astype(np.uint8)
        # Wrapping round at 256 leaves odd and even as they are.
        run = np.cumsum(turns.reshape(rows, columns + 1), axis=1, dtype=np.uint8)
        outside: _Squares = (run[:, :-1] & 1) == 0
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
        self._sums, self._about_middle = {}, {}

    def middle(self) -> FloatArray:
        """Middle of the panel's box."""
        middle: FloatArray = self._low + 0.5 * self._square * np.array(self._taken.shape[::-1])
        return middle

    @property
    def tall(self) -> bool:
        """Whether the panel's box is taller than wide."""
        down, across = self._taken.shape
        return down > across

    def place(self, across: float, down: float, near: FloatArray | None = None) -> _Spot | None:
        """Middle of a free box of a size in mm, the nearest to a point, and how far from it.

        *near*: the middle of the piece if not given.
        """
        box = self._box(across, down)
        if near is not None:
            return self._nearest(*box, near)
        # Words set in several ways often come to a box of as many squares.
        if box not in self._about_middle:
            self._about_middle[box] = self._nearest(*box, self.middle())
        return self._about_middle[box]

    def _nearest(self, w: int, h: int, near: FloatArray) -> _Spot | None:
        sums = self._summed(False)
        # Nothing is left of these where the box is larger than the room.
        held = sums[h:, w:] - sums[:-h, w:]
        held += sums[:-h, :-w] - sums[h:, :-w]
        row, column = (held == 0).nonzero()
        if len(row) == 0:
            return None
        middles = self._low + self._square * (np.column_stack([column + 0.5 * w, row + 0.5 * h]))
        away = np.hypot(*(middles - near).T)
        k = int(away.argmin())
        return middles[k], float(away[k])

    def first(
        self, across: float, down: float, spots: FloatArray, reach: float, *, inside: bool = False
    ) -> FloatArray | None:
        """Middle of a free box of a size in mm beside the first spot with one within reach.

        *spots*: shape (n, 2), all looked at in one pass: a job asks for hundreds. *inside*:
        whether within the inner polylines only.
        """
        box = np.array(self._box(across, down))
        ends = np.array(self._taken.shape[::-1]) - box
        far = reach / self._square
        corners = (spots - self._low) / self._square - 0.5 * box
        around = np.arange(math.floor(2.0 * far) + 2)
        x, y = (np.floor(corners - far).astype(int)[:, :, None] + around).transpose(1, 0, 2)
        x, y = x[:, None, :], y[:, :, None]
        there = (x >= 0) & (x <= ends[0]) & (y >= 0) & (y <= ends[1])
        away = np.hypot(
            self._low[0] + self._square * (x + 0.5 * box[0]) - spots[:, 0, None, None],
            self._low[1] + self._square * (y + 0.5 * box[1]) - spots[:, 1, None, None],
        )
        spot, row, column = (there & (away <= reach)).nonzero()
        x, y, away = x[spot, 0, column], y[spot, row, 0], away[spot, row, column]
        sums = self._summed(inside)
        held = sums[y + box[1], x + box[0]] - sums[y, x + box[0]] + sums[y, x] - sums[y + box[1], x]
        free = np.flatnonzero(held == 0)
        if len(free) == 0:
            return None
        own = free[spot[free] == spot[free[0]]]
        k = own[away[own].argmin()]
        middle: FloatArray = self._low + self._square * (np.array([x[k], y[k]]) + 0.5 * box)
        return middle

    def _box(self, across: float, down: float) -> tuple[int, int]:
        """Squares that a box in mm touches, wherever it begins: one more than it is long."""
        w, h = (math.ceil((side + 2.0 * _CLEAR_MM) / self._square) + 1 for side in (across, down))
        return w, h

    def _summed(self, inside: bool) -> _Counts:
        """How many squares are taken above and left of each corner: kept until more are."""
        if inside not in self._sums:
            rows, columns = self._taken.shape
            taken = self._taken | self._margin if inside else self._taken
            sums = np.zeros((rows + 1, columns + 1), dtype=np.int32)
            sums[1:, 1:] = taken.cumsum(axis=0, dtype=np.int32).cumsum(axis=1)
            self._sums[inside] = sums
        return self._sums[inside]
