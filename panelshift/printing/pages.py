"""One tiled page: its window on the sheet, and the marks that help to tape it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from ..outline import FloatArray
from ..sheets.lettering import fitted, width
from ..sheets.palette import GLUE_LINE, MATCHING_MARK, PAGE_FRAME
from ..sheets.sheet import Label
from .content import PAGE_LAYER, Content
from .tiling import PageGrid

NAME_SIZE_MM: Final = 7.0
"""Capitals of 5 mm: read at arm's length."""

NEIGHBOUR_SIZE_MM: Final = 4.5
TITLE_SIZE_MM: Final = 3.5
_SMALLEST_TITLE_MM: Final = 2.6
_CROSS_AT: Final = (0.25, 0.75)
_ARM_MM: Final = 4.0
"""How far a cross runs on beyond the strip that two pages share."""


@dataclass(frozen=True, eq=False)
class MatchingMark:
    """A matching mark.

    Parameters
    ----------
    at : ndarray, shape (2,)
        Its centre, in page mm from the top left.
    axis : {0, 1}
        Direction in which the two pages follow each other: 0 across, 1 down.
    """

    at: FloatArray
    axis: int


def page_labels(grid: PageGrid, row: int, column: int, title: str) -> list[Label]:
    """Name of the page and of its neighbours, in page mm from the top left."""
    m, (across, down) = grid.margin, grid.tile
    name = grid.name(row, column)
    labels = [Label(name, np.array([m + 2.0, m + 7.2]), NAME_SIZE_MM, bold=True)]
    labels += _title(grid, title)
    sides = (
        (row, column + 1, m + across - 3.2, m + 0.5 * down, -0.5 * np.pi),
        (row, column - 1, m + 6.4, m + 0.5 * down, -0.5 * np.pi),
        (row - 1, column, m + 0.5 * across, m + 6.4, 0.0),
        (row + 1, column, m + 0.5 * across, m + down - 3.2, 0.0),
    )
    for r, c, x, y, angle in sides:
        if 0 <= r < grid.rows and 0 <= c < grid.columns:
            blank = "" if grid.used[r, c] else " (blank)"
            words = f"{grid.name(r, c)}{blank}"
            at = np.array([x, y])
            labels.append(Label(words, at, NEIGHBOUR_SIZE_MM, angle=angle, align="middle"))
    return labels


def _title(grid: PageGrid, title: str) -> list[Label]:
    """The title on the longer side, clear of the first cross and the neighbour's name."""
    m, (across, down) = grid.margin, grid.tile
    longer = max(across, down)
    first, last = _CROSS_AT[0] * longer + 4.0, 0.5 * longer - 10.0
    room, middle = last - first, m + 0.5 * (first + last)
    size = min(TITLE_SIZE_MM, room / max(width(title), 1e-9))
    if size < _SMALLEST_TITLE_MM:
        size = _SMALLEST_TITLE_MM
        title = fitted(title, room / size)
    if across > down:
        return [Label(title, np.array([middle, m + 6.0]), size, align="middle")]
    return [Label(title, np.array([m + 6.0, middle]), size, angle=-0.5 * np.pi, align="middle")]


def draw_page(
    content: Content, grid: PageGrid, row: int, column: int, *, title: str, sheet_height: float
) -> None:
    """Draw the page's window on the sheet and its marks; the sheet is resource /Sheet.

    *content*: of the page, in mm. *title*: what the pages belong to. *sheet_height*: in mm.
    """
    m, (across, down) = grid.margin, grid.tile
    corner = grid.corner(row, column)
    content.add("q")
    content.box(m, m, across, down, "W n")
    content.begin_layer(PAGE_LAYER.resource)
    # Below the sheet: the white edge of a page's name must never hide a line to be cut.
    for label in page_labels(grid, row, column, title):
        content.text(label)
    content.end_layer()
    content.place_form("Sheet", m - float(corner[0]), m - float(corner[1]), sheet_height, 1.0)
    content.add("Q")
    content.begin_layer(PAGE_LAYER.resource)
    content.add("q")
    content.style(PAGE_FRAME)
    content.box(m, m, across, down)
    # Nothing is drawn into the margin: printers would cut it off anywhere.
    content.box(m, m, across, down, "W n")
    content.style(GLUE_LINE)
    for start, end in _glue_lines(grid, row, column):
        content.line(start, end)
    content.style(MATCHING_MARK)
    for mark in matching_marks(grid, row, column):
        _cross(content, mark, grid.overlap)
    content.add("Q")
    content.end_layer()


def _follows(grid: PageGrid, row: int, column: int) -> bool:
    return row < grid.rows and column < grid.columns and bool(grid.used[row, column])


_Point = tuple[float, float]


def _glue_lines(grid: PageGrid, row: int, column: int) -> list[tuple[_Point, _Point]]:
    """Inner borders of the strips that the neighbours to the right and below also show."""
    m, (across, down) = grid.margin, grid.tile
    lines = []
    if grid.overlap > 0.0:
        if _follows(grid, row, column + 1):
            x = m + across - grid.overlap
            lines.append(((x, m), (x, m + down)))
        if _follows(grid, row + 1, column):
            y = m + down - grid.overlap
            lines.append(((m, y), (m + across, y)))
    return lines


def matching_marks(grid: PageGrid, row: int, column: int) -> list[MatchingMark]:
    """Crosses on a page, where a page that is printed lies beside it.

    Each lies in the middle of a strip that two pages show, at the same point of the sheet on
    both, and its long arm runs on beyond the strip: when one page has been trimmed to its
    frame and lies on the other, the arm runs on from paper to paper, and the trimmed edge
    lies along the bar that ends the strip.
    """
    m, (across, down) = grid.margin, grid.tile
    half = 0.5 * grid.overlap
    marks = []
    for part in _CROSS_AT:
        x, y = m + part * across, m + part * down
        if column > 0 and grid.used[row, column - 1]:
            marks.append(MatchingMark(np.array([m + half, y]), 0))
        if _follows(grid, row, column + 1):
            marks.append(MatchingMark(np.array([m + across - half, y]), 0))
        if row > 0 and grid.used[row - 1, column]:
            marks.append(MatchingMark(np.array([x, m + half]), 1))
        if _follows(grid, row + 1, column):
            marks.append(MatchingMark(np.array([x, m + down - half]), 1))
    return marks


def _cross(content: Content, mark: MatchingMark, overlap: float) -> None:
    x, y = (float(v) for v in mark.at)

    def line(*steps: tuple[float, float], closed: bool = False) -> None:
        """Lines given by steps along and beside the way from page to page."""
        turned = steps if mark.axis == 0 else [(b, a) for a, b in steps]
        content.line(*((x + a, y + b) for a, b in turned), closed=closed)

    half, short = 0.5 * overlap, 2.5
    reach = half + _ARM_MM
    line((-reach, 0.0), (reach, 0.0))
    for end in sorted({-half, 0.0, half}):
        line((end, -short), (end, short))
    ring = 0.8 * min(max(half, 1.5), 2.0)
    line((ring, 0.0), (0.0, ring), (-ring, 0.0), (0.0, -ring), closed=True)
