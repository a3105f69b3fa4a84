"""One tiled page: its window on the sheet, and the marks that help to tape it."""

from __future__ import annotations

from typing import Final

import numpy as np

from ..cutting.sheet import Label, Style
from ..outline import Curve, FloatArray
from .content import PAGE_LAYER, Content
from .fonts import width
from .tiling import Grid

FRAME: Final = Style("page frame", 0.15, "#777777")
GLUE_LINE: Final = Style("glue line", 0.15, "#777777", (1.0, 1.0))
CROSS: Final = Style("matching mark", 0.25, "#000000")

NAME_SIZE_MM: Final = 6.0
SMALL_SIZE_MM: Final = 3.5
_CROSS_AT: Final = (0.25, 0.75)


def page_labels(grid: Grid, row: int, column: int, title: str) -> list[Label]:
    """Name of the page and of its neighbours, in page mm from the top left."""
    m, (across, down) = grid.margin, grid.tile
    name = grid.name(row, column)
    labels = [Label(name, np.array([m + 2.0, m + 6.6]), NAME_SIZE_MM, bold=True)]
    beside = m + 4.0 + width(name) * NAME_SIZE_MM * 1.05
    labels.append(Label(title, np.array([beside, m + 6.4]), SMALL_SIZE_MM))
    sides = (
        (row, column + 1, m + across - 3.0, m + 0.5 * down, -0.5 * np.pi),
        (row, column - 1, m + 4.5, m + 0.5 * down, -0.5 * np.pi),
        (row - 1, column, m + 0.5 * across, m + 5.0, 0.0),
        (row + 1, column, m + 0.5 * across, m + down - 3.0, 0.0),
    )
    for r, c, x, y, angle in sides:
        if 0 <= r < grid.rows and 0 <= c < grid.columns:
            blank = "" if grid.used[r, c] else " (blank)"
            labels.append(
                Label(
                    f"{grid.name(r, c)}{blank}",
                    np.array([x, y]),
                    SMALL_SIZE_MM,
                    angle=angle,
                    align="middle",
                )
            )
    return labels


def draw_page(
    content: Content, grid: Grid, row: int, column: int, *, title: str, sheet_height: float
) -> None:
    """Draw the page's window on the sheet and its marks; the sheet is resource /Sheet.

    Parameters
    ----------
    content : Content
        Of the page, in mm.
    grid : Grid
    row, column : int
    title : str
        What the pages belong to.
    sheet_height : float
        In mm.
    """
    m, (across, down) = grid.margin, grid.tile
    corner = grid.corner(row, column)
    content.add("q")
    content.box(m, m, across, down, "W n")
    content.place_form("Sheet", m - float(corner[0]), m - float(corner[1]), sheet_height, 1.0)
    content.add("Q")
    content.begin_layer(PAGE_LAYER.resource)
    content.add("q")
    content.style(FRAME)
    content.box(m, m, across, down)
    content.style(GLUE_LINE)
    for line in _glue_lines(grid, row, column):
        content.curve(line)
    content.style(CROSS)
    for at in matching_marks(grid, row, column):
        _cross(content, at, grid)
    content.add("Q")
    for label in page_labels(grid, row, column, title):
        content.text(label)
    content.end_layer()


def _glue_lines(grid: Grid, row: int, column: int) -> list[Curve]:
    """Inner borders of the strips that the neighbours to the right and below also show."""
    m, (across, down) = grid.margin, grid.tile
    lines = []
    if grid.overlap > 0.0:
        if column + 1 < grid.columns:
            x = m + across - grid.overlap
            lines.append(Curve.polyline([(x, m), (x, m + down)]))
        if row + 1 < grid.rows:
            y = m + down - grid.overlap
            lines.append(Curve.polyline([(m, y), (m + across, y)]))
    return lines


def matching_marks(grid: Grid, row: int, column: int) -> list[FloatArray]:
    """Centres of the crosses on a page, in page mm.

    Each lies in the middle of a strip that two pages show, at the same point of the sheet on
    both, so that it is still there when either page's margin has been trimmed.
    """
    m, (across, down) = grid.margin, grid.tile
    half = 0.5 * grid.overlap
    marks = []
    for part in _CROSS_AT:
        x, y = m + part * across, m + part * down
        if column > 0:
            marks.append(np.array([m + half, y]))
        if column + 1 < grid.columns:
            marks.append(np.array([m + across - half, y]))
        if row > 0:
            marks.append(np.array([x, m + half]))
        if row + 1 < grid.rows:
            marks.append(np.array([x, m + down - half]))
    return marks


def _cross(content: Content, at: FloatArray, grid: Grid) -> None:
    arm = min(max(0.4 * grid.overlap, 1.5), 4.0)
    x, y = float(at[0]), float(at[1])
    content.curve(Curve.polyline([(x - arm, y), (x + arm, y)]))
    content.curve(Curve.polyline([(x, y - arm), (x, y + arm)]))
    ring = 0.5 * arm * np.array([[1, 0], [0, 1], [-1, 0], [0, -1]])
    content.curve(Curve.polyline(at + ring, closed=True))
