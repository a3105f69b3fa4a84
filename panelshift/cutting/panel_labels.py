"""Words on panels: where there is room for them, clear of every line.

The room of a panel is kept as squares of a millimetre or so, taken or free; a box of words has
room where no square below it is taken, which sums over the squares tell for all places at once.
All layers of a panel take room together, so that their words stand in one place.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np

from ..outline import FloatArray
from ..sheets.lettering import width, wrapped
from ..sheets.sheet import Label, label_corners

NAME_SIZE_MM: Final = 11.0
TEXT_SIZES_MM: Final = (5.0, 4.3, 3.7, 3.2, 2.8, 2.4, 2.0)
"""Sizes that are tried: capitals of 2.3 mm are read easily at 70 cm (from memory: 1/300 of the
distance for x-height); smaller only where a panel has no room."""

NAME_OVER_TEXT: Final = 1.9
"""How much larger a panel's name is set than the words below it."""

LABEL_FLATNESS_MM: Final = 0.1
"""Flatness of the lines that words keep clear of."""

WIDEST_FACE: Final = 1.23
"""A drawing program takes the first face of `svg_writer.FONT_FAMILY` that it has. The widest of
them, DejaVu Sans Bold, is 1.18 to 1.23 times as wide as the face that words are measured by, on
names of the samples; words as large as the measured face allows would hide the stitch line."""

_SQUARE_MM: Final = 1.5
_CLEAR_MM: Final = 1.0
"""Between words and lines, at least."""

_LINE: Final = 1.25
_COLUMNS: Final = (90.0, 60.0, 44.0, 34.0, 26.0, 19.0)
"""Widths in mm of the block of words that are tried."""

_MOST_BREAKS: Final = 3
"""So many lines more than there are things to say are still easy to read."""

_DEEPEST: Final = 0.22
"""How far letters reach below their line, as a part of the font size."""


_Squares = np.ndarray[tuple[int, ...], np.dtype[np.bool_]]
_Counts = np.ndarray[tuple[int, ...], np.dtype[np.int32]]


class LabelRoom:
    """What is free of one panel, in mm about its waist's middle, y downwards.

    *outlines*: closed polylines, one for each layer: words keep within all of them. *lines*:
    polylines that they keep clear of.
    """

    def __init__(self, outlines: Sequence[FloatArray], lines: Sequence[FloatArray]) -> None:
        points = np.concatenate(outlines)
        self._low = points.min(axis=0)
        across, down = np.ceil((points.max(axis=0) - self._low) / _SQUARE_MM).astype(int) + 1
        self._taken = np.zeros((int(down), int(across)), dtype=bool)
        self._sums: _Counts | None = None
        for outline in outlines:
            self._taken |= self._outside(outline)
        self._take_lines([*outlines, *lines])

    def _outside(self, outline: FloatArray) -> _Squares:
        rows, columns = self._taken.shape
        y = self._low[1] + (np.arange(rows) + 0.5) * _SQUARE_MM
        met = (outline[:-1, 1:] <= y) != (outline[1:, 1:] <= y)
        edge, row = np.nonzero(met)
        a, b = outline[edge], outline[edge + 1]
        x = a[:, 0] + (y[row] - a[:, 1]) / (b[:, 1] - a[:, 1]) * (b[:, 0] - a[:, 0])
        column = np.ceil((x - self._low[0]) / _SQUARE_MM - 0.5).astype(int)
        turns = np.zeros((rows, columns + 1), dtype=int)
        np.add.at(turns, (row, np.clip(column, 0, columns)), 1)
        outside: _Squares = (np.cumsum(turns, axis=1)[:, :-1] % 2) == 0
        return outside

    def _take_lines(self, lines: Sequence[FloatArray]) -> None:
        """Take the squares that polylines run through."""
        starts = np.concatenate([line[:-1] for line in lines])
        steps = np.concatenate([line[1:] for line in lines]) - starts
        counts = np.maximum(np.ceil(np.hypot(*steps.T) / (0.5 * _SQUARE_MM)), 1).astype(int)
        which = np.repeat(np.arange(len(counts)), counts)
        part = (np.arange(len(which)) - np.repeat(np.cumsum(counts) - counts, counts)) / counts[
            which
        ]
        ends = [line[-1:] for line in lines]
        places = np.concatenate([starts[which] + part[:, None] * steps[which], *ends])
        column, row = ((places - self._low) / _SQUARE_MM).astype(int).T
        rows, columns = self._taken.shape
        inside = (row >= 0) & (row < rows) & (column >= 0) & (column < columns)
        self._taken[row[inside], column[inside]] = True

    def take(self, label: Label) -> None:
        """Take the room of a label."""
        low, high = (end(label_corners(label), axis=0) for end in (np.min, np.max))
        first = np.maximum(((low - self._low) / _SQUARE_MM).astype(int), 0)
        last = np.maximum(((high - self._low) / _SQUARE_MM).astype(int) + 1, 0)
        self._taken[first[1] : last[1], first[0] : last[0]] = True
        self._sums = None

    def middle(self) -> FloatArray:
        """Middle of the panel's box."""
        middle: FloatArray = self._low + 0.5 * _SQUARE_MM * np.array(self._taken.shape[::-1])
        return middle

    def place(
        self,
        across: float,
        down: float,
        near: FloatArray | None = None,
        reach: float | None = None,
    ) -> tuple[FloatArray, float] | None:
        """Middle of a free box of a size in mm, the nearest to a point, and how far from it.

        *reach*: in mm, how far from the point it is looked for; everywhere if not given.
        """
        # A box touches one square more than it is long, wherever it begins.
        box = np.ceil((np.array([across, down]) + 2.0 * _CLEAR_MM) / _SQUARE_MM).astype(int) + 1
        aim = self.middle() if near is None else near
        rows, columns = self._taken.shape
        # Corners (column, row) at which a box may begin.
        first, last = np.zeros(2, dtype=int), np.array([columns, rows]) - box + 1
        if reach is not None:
            corner = (aim - self._low) / _SQUARE_MM - 0.5 * box
            first = np.maximum(first, np.floor(corner - reach / _SQUARE_MM).astype(int))
            last = np.minimum(last, np.ceil(corner + reach / _SQUARE_MM).astype(int) + 1)
        if (last <= first).any():
            return None
        (x, y), (wide, high), (w, h) = first.tolist(), (last - first).tolist(), box.tolist()
        left, right = slice(x, x + wide), slice(x + w, x + w + wide)
        upper, lower = slice(y, y + high), slice(y + h, y + h + high)
        sums = self._summed()
        held = sums[lower, right] - sums[upper, right] - sums[lower, left] + sums[upper, left]
        row, column = np.nonzero(held == 0)
        if len(row) == 0:
            return None
        steps = np.stack([column + (x + 0.5 * w), row + (y + 0.5 * h)], axis=1)
        middles = self._low + _SQUARE_MM * steps
        away = np.hypot(*(middles - aim).T)
        k = int(np.argmin(away))
        if reach is not None and away[k] > reach:
            return None
        return middles[k], float(away[k])

    def _summed(self) -> _Counts:
        """How many squares are taken above and left of each corner: kept until more are."""
        if self._sums is None:
            rows, columns = self._taken.shape
            self._sums = np.zeros((rows + 1, columns + 1), dtype=np.int32)
            self._sums[1:, 1:] = self._taken.cumsum(axis=0, dtype=np.int32).cumsum(axis=1)
        return self._sums


def short_label(
    room: LabelRoom,
    text: str,
    near: FloatArray,
    panel: str,
    *,
    size: float,
    reach: float,
    turned: bool = False,
    bold: bool = False,
) -> Label | None:
    """A word near a point, within a reach in mm, level or read upwards; the room is taken."""
    for smaller in (1.0, 0.8):
        own = smaller * size
        across, down = WIDEST_FACE * width(text, bold=bold) * own, 1.1 * own
        size_of_box = (down, across) if turned else (across, down)
        spot = room.place(*size_of_box, near, reach)
        if spot is not None:
            label = _level(text, spot[0], own, panel, bold=bold, turned=turned)
            room.take(label)
            return label
    return None


def _level(
    text: str, middle: FloatArray, size: float, panel: str, *, bold: bool, turned: bool
) -> Label:
    """A line of words about its middle, level or read upwards."""
    down = (0.5 - _DEEPEST) * size + 0.1 * size
    step = np.array([down, 0.0]) if turned else np.array([0.0, down])
    angle = -0.5 * np.pi if turned else 0.0
    return Label(text, middle + step, size, angle, "middle", bold, panel)


def blocks(room: LabelRoom, panel: str, texts: Sequence[Sequence[str]]) -> list[list[Label]]:
    """The block of words of a panel for each of its layers, all in one place.

    *texts*: for each layer its lines, the first of them the panel's name. As large as there is
    room for; the smallest size stands in the middle even where there is none.
    """
    best = None
    for size in TEXT_SIZES_MM:
        for column in _COLUMNS:
            set_lines = [_set(lines, size, column) for lines in texts]
            across = max(_wide(lines) for lines in set_lines)
            count = max(len(lines) for lines in set_lines)
            if count > _MOST_BREAKS + max(map(len, texts)) and size > TEXT_SIZES_MM[-1]:
                continue
            down = max(_LINE * sum(own for _, own in lines) for lines in set_lines)
            for turned in (False, True):
                spot = room.place(*((down, across) if turned else (across, down)))
                if spot is not None and (best is None or (count, spot[1]) < best[0]):
                    best = (count, spot[1]), spot[0], turned, set_lines
        if best is not None:
            break
    if best is None:
        middle = room.middle()
        best = (0, 0.0), middle, False, [_set(lines, TEXT_SIZES_MM[-1], 26.0) for lines in texts]
    _, middle, turned, set_lines = best
    return [_stack(panel, lines, middle, turned) for lines in set_lines]


_SetLine = tuple[str, float]


def _set(lines: Sequence[str], size: float, column: float) -> list[_SetLine]:
    """Lines of words with their sizes, wrapped to a column; the name is as large as it can be."""
    widest = WIDEST_FACE * max(width(lines[0], bold=True), 0.1)
    name = max(min(NAME_SIZE_MM, NAME_OVER_TEXT * size, column / widest), size)
    found = [(text, name) for text in wrapped(lines[0], column / (WIDEST_FACE * name))]
    for line in lines[1:]:
        found += [(text, size) for text in wrapped(line, column / (WIDEST_FACE * size))]
    return found


def _wide(lines: Sequence[_SetLine]) -> float:
    return max(
        WIDEST_FACE * width(text, bold=k == 0) * size for k, (text, size) in enumerate(lines)
    )


def _stack(panel: str, lines: Sequence[_SetLine], middle: FloatArray, turned: bool) -> list[Label]:
    down = -0.5 * _LINE * sum(size for _, size in lines)
    labels = []
    for k, (text, size) in enumerate(lines):
        down += _LINE * size
        base = down - 0.28 * size
        step = np.array([base, 0.0]) if turned else np.array([0.0, base])
        angle = -0.5 * np.pi if turned else 0.0
        labels.append(Label(text, middle + step, size, angle, "middle", k == 0, panel))
    return labels
