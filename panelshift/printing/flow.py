"""Text that runs on from page to page."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Final

import numpy as np

from ..outline import Curve, FloatArray
from ..sheets.lettering import fitted, width, wrapped
from ..sheets.palette import Style
from ..sheets.sheet import Label, Stroke

_LEAD: Final = 1.4
_SAMPLE_MM: Final = 24.0
"""Length of a line sample: the longest dash pattern shows once and a half."""


@dataclass(frozen=True, eq=False)
class Leaf:
    """What lies on one page, in mm from its top left.

    Parameters
    ----------
    strokes : list of Stroke
        Test squares.
    samples : list of (Style, Curve)
        Samples of line styles.
    """

    labels: list[Label] = field(default_factory=list)
    strokes: list[Stroke] = field(default_factory=list)
    samples: list[tuple[Style, Curve]] = field(default_factory=list)

    def moved(self, by: FloatArray) -> Leaf:
        """Return the leaf's content moved by a vector in mm."""
        matrix = np.array([[1.0, 0.0, by[0]], [0.0, 1.0, by[1]]])
        return Leaf(
            [replace(label, at=label.at + by) for label in self.labels],
            [replace(s, curve=s.curve.transformed(matrix)) for s in self.strokes],
            [(style, curve.transformed(matrix)) for style, curve in self.samples],
        )


@dataclass(frozen=True)
class Sample:
    """A line style and its name."""

    style: Style
    name: str


class Flow:
    """Lays text and blocks below each other in a column, and goes on on further pages.

    Parameters
    ----------
    left, top : float
        Where the column begins on each page, in mm.
    across, down : float
        Its size in mm.
    """

    def __init__(self, left: float, top: float, across: float, down: float) -> None:
        self._left, self._top, self._across, self._bottom = left, top, across, top + down
        self._leaves = [Leaf()]
        self.y = top
        """Height in mm that is reached on the last page."""

    def leaves(self) -> tuple[Leaf, ...]:
        """The pages so far."""
        return tuple(self._leaves)

    def space(self, height: float) -> None:
        """Leave room of a height in mm."""
        self.y += height

    def _take(self, height: float) -> float:
        """Take a height and return where it begins, on a new page if it does not fit."""
        if self.y + height > self._bottom and self.y > self._top:
            self._leaves.append(Leaf())
            self.y = self._top
        at = self.y
        self.y += height
        return at

    def text(self, texts: Sequence[str], size: float, *, bold: bool = False) -> None:
        """Add texts, each beginning a line, wrapped to the column's width."""
        room = self._across / size * (0.97 if bold else 1.0)
        for text in texts:
            for line in wrapped(text, room):
                y = self._take(size * _LEAD)
                at = np.array([self._left, y + 1.1 * size])
                self._leaves[-1].labels.append(Label(line, at, size, bold=bold))

    def block(self, leaf: Leaf, across: float, down: float) -> None:
        """Add a block of a size in mm that is not broken, drawn from (0, 0)."""
        y = self._take(down)
        # A line's half width inside the column, so that a margin never cuts it.
        moved = leaf.moved(np.array([self._left + min(0.5, max(self._across - across, 0.0)), y]))
        self._leaves[-1].labels.extend(moved.labels)
        self._leaves[-1].strokes.extend(moved.strokes)
        self._leaves[-1].samples.extend(moved.samples)

    def samples(self, entries: Sequence[Sample], size: float) -> None:
        """Add line samples with their names, as many beside each other as there is room for."""
        if not entries:
            return
        names = [fitted(entry.name, (self._across - _SAMPLE_MM - 3.0) / size) for entry in entries]
        widest = _SAMPLE_MM + 8.0 + size * max(width(name) for name in names)
        columns = max(int((self._across + 5.0) // widest), 1)
        for first in range(0, len(entries), columns):
            y = self._take(size * _LEAD) + 1.1 * size
            for place, entry in enumerate(entries[first : first + columns]):
                x = self._left + place * widest
                line = Curve.polyline([(x, y - 0.35 * size), (x + _SAMPLE_MM, y - 0.35 * size)])
                at = np.array([x + _SAMPLE_MM + 3.0, y])
                self._leaves[-1].samples.append((entry.style, line))
                self._leaves[-1].labels.append(Label(names[first + place], at, size))
