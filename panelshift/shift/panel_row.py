"""Neighbouring panels in a row: where they meet, and points all over them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np

from ..errors import ShiftError
from ..outline import Curve, FloatArray
from ..outline.crossing import nearest_position
from ..outline.measure import length, position_at_length
from ..pattern.panel import EdgeName, Mark, Panel
from ..pattern.pattern import Pattern

_ROW_MM: Final = 10.0
_COLUMN_MM: Final = 15.0
"""Size of a grid's cells: halved, the widths of the samples' pieces change by less than 0.05 mm."""

_FEWEST: Final = 4
_NOTCH_MM: Final = 3.0
"""A notch so near a seam that is not there any more belonged to it."""

ROW_ENDS: Final[tuple[EdgeName, ...]] = ("bottom", "top")
SEAM_SAMPLES: Final = 201
"""Points of an edge that is held against its mate: its lower and its upper half from the waist have
as many each."""


@dataclass(frozen=True, eq=False)
class PanelRow:
    """Panels from the first to the last of a piece, each with its way and its two sewn edges.

    `sides` are the edges by which each begins and ends; `signs` are 1 where u runs along the row.
    """

    pattern: Pattern
    layer: str
    panels: tuple[Panel, ...]
    sides: tuple[tuple[EdgeName, EdgeName], ...]
    signs: tuple[float, ...]

    @classmethod
    def of(cls, pattern: Pattern, indices: Sequence[int], layer: str) -> PanelRow:
        """Panels of a pattern, from front to back unless they lie on both sides of the front."""
        ends = [pattern.ends(k) for k in indices]
        if all(end == ("back", "front") for end in ends):
            indices, ends = indices[::-1], [("front", "back")] * len(ends)
        return cls(
            pattern,
            layer,
            tuple(pattern.panels[k] for k in indices),
            tuple(ends),
            tuple(1.0 if end[0] == "front" else -1.0 for end in ends),
        )

    @property
    def name(self) -> str:
        """Names of all its panels."""
        return " + ".join(panel.name for panel in self.panels)

    def matrix(self, place: int) -> FloatArray:
        """Affine map from the sheet to a panel's axes, u along the row."""
        return np.array([[self.signs[place]], [1.0]]) * self.panels[place].frame.matrix

    def _edge(self, place: int, edge: EdgeName) -> Curve:
        """An edge in the panel's axes; top and bottom along the row."""
        curve = self.panels[place].edge(edge).transformed(self.matrix(place))
        back = edge in ("top", "bottom") and self.signs[place] < 0.0
        return curve.reversed() if back else curve

    def straight(self) -> tuple[bool, bool]:
        """Whether the outer edges are straight ones at the centre front or back."""
        first, last = (
            self.pattern.edge_kind(self.pattern.index(own.name), edge) != "seam"
            and own.is_straight(edge)
            for own, edge in (
                (self.panels[0], self.sides[0][0]),
                (self.panels[-1], self.sides[-1][1]),
            )
        )
        return first, last

    def along(self, place: int, side: int) -> FloatArray:
        """Points of a side edge, as far from the waist along it as those of its mate."""
        edge = self.sides[place][side]
        return self._points(place, edge, np.linspace(0.0, 2.0, SEAM_SAMPLES))

    def _points(self, place: int, edge: EdgeName, shares: FloatArray) -> FloatArray:
        """Points of a side edge by shares of the way, from 0 to 1 below the waist, then to 2."""
        curve = self._edge(place, edge)
        at = self.lengths_at(place, edge, shares)
        return curve.points(position_at_length(curve, at))

    def lengths_at(self, place: int, edge: EdgeName, shares: FloatArray) -> FloatArray:
        """Lengths along a side edge from its bottom, by such shares of the way."""
        whole = length(self.panels[place].edge(edge))
        low = self._waists[place][edge]
        return np.asarray(np.interp(shares, [0.0, 1.0, 2.0], [0.0, low, whole]))

    def width(self, level: str) -> float:
        """Sum of its panels' widths along a level, in mm."""
        return sum(length(own.curve) for p in self.panels if (own := p.level(level)) is not None)

    @property
    def middle(self) -> int:
        """The panel over which the middle of the waist lies: its grain is the piece's."""
        ends = np.cumsum([panel.waist_width for panel in self.panels])
        return int(np.searchsorted(ends, 0.5 * ends[-1]))

    @cached_property
    def _waists(self) -> list[dict[EdgeName, float]]:
        """Length along each panel's two sewn edges from the bottom to the waist."""
        found: list[dict[EdgeName, float]] = []
        for panel, sides in zip(self.panels, self.sides, strict=True):
            own: dict[EdgeName, float] = {}
            for edge in sides:
                end, line = panel.waist_end(edge), panel.edge(edge)
                assert end is not None  # as `refuse_unjoinable` has seen to
                at, _ = nearest_position(line, end)
                own[edge] = length(line.piece(0.0, at))
            found.append(own)
        return found

    def grids(self) -> list[FloatArray]:
        """Points all over every panel, in rows that go on from one to the next."""
        lows, highs = [], []
        for place, sides in enumerate(self.sides):
            for edge in sides:
                low = self._waists[place][edge]
                lows.append(low)
                highs.append(length(self.panels[place].edge(edge)) - low)
        counts = [max(round(float(np.mean(own)) / _ROW_MM), _FEWEST) for own in (lows, highs)]
        up = np.linspace(1.0, 2.0, counts[1] + 1)
        rows = np.concatenate([np.linspace(0.0, 1.0, counts[0] + 1), up[1:]])
        waist = sum(lows) / (sum(lows) + sum(highs))
        heights = np.asarray(np.interp(rows, [0.0, 1.0, 2.0], [0.0, waist, 1.0]))
        return [self._grid(place, rows, heights) for place in range(len(self.panels))]

    def _grid(self, place: int, rows: FloatArray, heights: FloatArray) -> FloatArray:
        """Points all over a panel, between its four edges (Coons 1967)."""
        panel = self.panels[place]
        lines = [self._points(place, edge, rows) for edge in self.sides[place]]
        columns = max(math.ceil(panel.waist_width / _COLUMN_MM), _FEWEST) + 1
        across = np.linspace(0.0, 1.0, columns)
        ends = []
        for edge in ROW_ENDS:
            curve = self._edge(place, edge)
            at = position_at_length(curve, across * length(curve))
            ends.append(curve.points(at))
        s, t = across[None, :, None], heights[:, None, None]
        begin, end = (line[:, None] for line in lines)
        low, high = (line[None] for line in ends)
        grid = (1.0 - s) * begin + s * end + (1.0 - t) * low + t * high
        grid -= (1.0 - t) * ((1.0 - s) * begin[0] + s * end[0])
        grid -= t * ((1.0 - s) * begin[-1] + s * end[-1])
        self._refuse_folded(grid, panel)
        return np.asarray(grid)

    def _refuse_folded(self, grid: FloatArray, panel: Panel) -> None:
        one, two = np.diff(grid, axis=1)[:-1], np.diff(grid, axis=0)[:, :-1]
        if (one[..., 0] * two[..., 1] - one[..., 1] * two[..., 0]).min() <= 0.0:
            raise self.fault(f"panel {panel.name!r} is too hollow along an edge")

    def fault(self, problem: str) -> ShiftError:
        """The error of a piece that cannot be."""
        return ShiftError(
            f"layer {self.layer!r}, {self.name} in one piece: {problem}",
            remedy="Join fewer panels of this layer, or leave its panels apart.",
            source=self.pattern.source,
            element=self.layer,
        )

    def kept(self, place: int, shared: Sequence[str]) -> list[Mark]:
        """Marks of a panel that the piece has: no notches of seams that it lacks, one grainline.

        Levels that other panels of the piece lack are lines as well.
        """
        panel = self.panels[place]
        inner = (place > 0, place < len(self.panels) - 1)
        gone = [
            panel.edge(edge) for edge, there in zip(self.sides[place], inner, strict=True) if there
        ]
        kept = [
            Mark("level", level.curve, level.ident)
            for level in panel.levels
            if level.name not in shared
        ]
        for mark in panel.marks:
            ends = mark.curve.start, mark.curve.end
            aside = mark.kind == "grainline" and place != self.middle
            if mark.kind == "notch":
                aside = any(nearest_position(e, end)[1] <= _NOTCH_MM for e in gone for end in ends)
            if not aside:
                kept.append(mark)
        return kept
