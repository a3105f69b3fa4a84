"""Place panels so that few pages are needed, or few pages are cut through by a panel."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from ..cutting.placement import SPACE_MM, rows
from ..cutting.sheets import Arrange
from ..outline import FloatArray
from .paper import Paper
from .tiling import PageOptions

_CLEAR_MM: Final = 2.0
"""Room between a page's border and a panel that begins with the page."""


@dataclass(frozen=True)
class _Pages:
    """One way of laying pages: what each shows and how far apart they begin, in mm."""

    tile: tuple[float, float]
    step: tuple[float, float]

    @classmethod
    def of(cls, paper: Paper, options: PageOptions) -> _Pages:
        tile = paper.width - 2.0 * options.margin, paper.height - 2.0 * options.margin
        return cls(tile, (tile[0] - options.overlap, tile[1] - options.overlap))

    def span(self, low: float, high: float, axis: int) -> tuple[int, int]:
        """First and last page along an axis that a stretch needs, seams shown on one page."""
        first = max(int(np.floor(low / self.step[axis] + 1e-9)), 0)
        last = first
        while last * self.step[axis] + self.tile[axis] < high - 1e-9:
            last += 1
        return first, last

    def fewest(self, size: float, axis: int) -> int:
        """Fewest pages along an axis that a stretch of a size can need."""
        first, last = self.span(_CLEAR_MM, _CLEAR_MM + size, axis)
        return last - first + 1


def arrange_for_pages(
    boxes: Sequence[FloatArray], options: PageOptions, *, keep_together: bool
) -> tuple[Arrange, bool]:
    """Choose the orientation and width that need the fewest pages.

    Parameters
    ----------
    boxes : sequence of ndarray, shape (2, 2)
        Of the panels, about their waists' middles, in mm.
    options : PageOptions
    keep_together : bool
        Whether to put each panel on as few pages as can be, before counting pages.

    Returns
    -------
    arrange : callable
        Places the panels.
    turned : bool
        Whether the paper is to lie on its side.
    """
    upright = options.paper
    best: tuple[tuple[float, ...], Arrange, bool] | None = None
    for turned in (False, True):
        paper = upright.turned() if turned else upright
        pages = _Pages.of(paper, options)
        total = sum(float(box[1, 0] - box[0, 0]) + SPACE_MM for box in boxes) + SPACE_MM
        for columns in range(1, max(int(np.ceil(total / pages.step[0])), 1) + 2):
            arrange = _arranger(pages, columns, options.overlap, keep_together)
            places, width, height = arrange(boxes)
            cost = _cost(boxes, places, pages, keep_together)
            # Of equal choices the squarer sheet, which is easier to tape and to lay out.
            merit = (*cost, abs(float(np.log(width / height))))
            if best is None or merit < best[0]:
                best = merit, arrange, turned
    assert best is not None  # there is always one column
    return best[1], best[2]


def _arranger(pages: _Pages, columns: int, overlap: float, keep_together: bool) -> Arrange:
    width = columns * pages.step[0] + overlap
    if keep_together:
        return lambda boxes: _snapped(boxes, pages, width)
    return lambda boxes: rows(boxes, width)


def _cost(
    boxes: Sequence[FloatArray], places: Sequence[FloatArray], pages: _Pages, keep_together: bool
) -> tuple[float, ...]:
    touched: set[tuple[int, int]] = set()
    crossings = 0
    for box, place in zip(boxes, places, strict=True):
        low, high = box[0] + place, box[1] + place
        c0, c1 = pages.span(float(low[0]), float(high[0]), 0)
        r0, r1 = pages.span(float(low[1]), float(high[1]), 1)
        touched |= {(r, c) for r in range(r0, r1 + 1) for c in range(c0, c1 + 1)}
        crossings += (c1 - c0 + 1) * (r1 - r0 + 1)
    if keep_together:
        return float(crossings), float(len(touched))
    return float(len(touched)), float(crossings)


def _snapped(
    boxes: Sequence[FloatArray], pages: _Pages, width: float
) -> tuple[list[FloatArray], float, float]:
    """Rows in which a panel moves on to the next page where that saves it a page."""
    lines: list[list[tuple[int, float]]] = [[]]
    run = _CLEAR_MM
    for index, box in enumerate(boxes):
        size = float(box[1, 0] - box[0, 0])
        x = _start(run, size, pages, 0)
        if lines[-1] and x + size + _CLEAR_MM > width:
            lines.append([])
            x = _start(_CLEAR_MM, size, pages, 0)
        lines[-1].append((index, x))
        run = x + size + SPACE_MM
    places: list[FloatArray] = [np.zeros(2)] * len(boxes)
    top, widest = _CLEAR_MM, 0.0
    for line in lines:
        heights = [float(boxes[i][1, 1] - boxes[i][0, 1]) for i, _ in line]
        # Hung from one line, not levelled at the waist: a panel that fits a page stays on it.
        top = max(_start(top, height, pages, 1) for height in heights)
        for i, x in line:
            places[i] = np.array([x - float(boxes[i][0, 0]), top - float(boxes[i][0, 1])])
            widest = max(widest, x + float(boxes[i][1, 0] - boxes[i][0, 0]))
        top += max(heights) + SPACE_MM
    return places, widest + _CLEAR_MM, top - SPACE_MM + _CLEAR_MM


def _start(at: float, size: float, pages: _Pages, axis: int) -> float:
    """Where a stretch begins: at once, or with the next page if it then needs fewer."""
    first, last = pages.span(at, at + size, axis)
    if last - first + 1 <= pages.fewest(size, axis):
        return at
    return (first + 1) * pages.step[axis] + _CLEAR_MM
