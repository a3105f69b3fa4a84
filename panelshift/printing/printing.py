"""Print a sheet: to tiled pages, or to one page as long as it needs."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from ..cutting.sheet import Label, Sheet
from ..errors import PrintError
from .content import PAGE_LAYER, Content, Letters, note_letters, sheet_layers
from .cover import Cover, draw_cover, draw_map, map_labels, map_scale, plan_cover
from .document import Document
from .pages import draw_page, page_labels
from .paper import LARGEST_PAPER_MM
from .tiling import Grid, PageOptions, grid_for


@dataclass(frozen=True, eq=False)
class Printed:
    """A finished print.

    Parameters
    ----------
    data : bytes
        The PDF document.
    pages : int
        Number of pages in it, the first page with the map among them.
    grid : Grid or None
        The tiles; None for a single page.
    size : tuple of float
        Width and height in mm: taped together, or of the single page.
    """

    data: bytes
    pages: int
    grid: Grid | None
    size: tuple[float, float]


def print_tiles(
    sheet: Sheet, options: PageOptions, about: Sequence[str], *, turned: bool | None = None
) -> Printed:
    """Print a sheet on pages to be taped together.

    Parameters
    ----------
    sheet : Sheet
    options : PageOptions
        Its paper is not a roll.
    about : sequence of str
        Lines for the first page.
    turned : bool, optional
        Whether the paper lies on its side; whichever needs fewer pages if not given.

    Raises
    ------
    PrintError
        If the sheet is empty or would need too many pages.
    """
    _refuse_empty(sheet)
    grid = grid_for(sheet, options, turned=turned)
    cover = plan_cover(sheet, grid, about)
    letters = Letters()
    for labels in _all_labels(sheet, grid, cover):
        note_letters(letters, labels)
    layers = [*sheet_layers(sheet), PAGE_LAYER]
    document = Document(sheet.title, layers, letters.fonts())
    form = document.form(sheet)
    wide, high = grid.paper.width, grid.paper.height
    first = Content(document.fonts, high)
    draw_cover(first, cover, grid)
    if not cover.on_second:
        draw_map(first, sheet, grid, cover)
    document.page(wide, high, first, form)
    if cover.on_second:
        second = Content(document.fonts, high)
        draw_map(second, sheet, grid, cover)
        document.page(wide, high, second, form)
    for row, column in grid.printed():
        content = Content(document.fonts, high)
        draw_page(content, grid, row, column, title=sheet.title, sheet_height=sheet.height)
        document.page(wide, high, content, form)
    pages = grid.pages + (2 if cover.on_second else 1)
    return Printed(document.data(), pages, grid, grid.taped)


def _all_labels(sheet: Sheet, grid: Grid, cover: Cover) -> list[Sequence[Label]]:
    """Every text that any page will show, so that the fonts hold all letters."""
    x, y, across, down = cover.map_at
    squares = [Label("50 mm 2 in measure me", sheet.labels[0].at, 1.0)] if sheet.labels else []
    everything: list[Sequence[Label]] = [sheet.labels, cover.labels, squares]
    everything.append(map_labels(grid, map_scale(sheet, grid, across, down), x, y))
    everything += [page_labels(grid, r, c, sheet.title) for r, c in grid.printed()]
    return everything


def print_roll(sheet: Sheet, options: PageOptions) -> Printed:
    """Print a sheet on one long page of a roll's width.

    Parameters
    ----------
    sheet : Sheet
        With its head, and no wider than the roll less its margins.
    options : PageOptions
        Its paper is a roll.

    Raises
    ------
    PrintError
        If the sheet is empty, wider than the roll, or longer than 50 m.
    """
    _refuse_empty(sheet)
    m, width = options.margin, options.paper.width
    if sheet.width > width - 2.0 * m + 1e-6:
        raise PrintError(
            f"the sheet is {sheet.width:g} mm wide, the roll leaves {width - 2.0 * m:g} mm",
            remedy="Take a wider roll or smaller margins.",
            element="paper",
        )
    height = sheet.height + 2.0 * m
    if height > LARGEST_PAPER_MM:
        raise PrintError(
            f"the page would be {height / 1000.0:.1f} m long",
            remedy="Take a wider roll, or print fewer layers at a time.",
            element="paper",
        )
    letters = Letters()
    note_letters(letters, sheet.labels)
    document = Document(sheet.title, sheet_layers(sheet), letters.fonts())
    form = document.form(sheet)
    content = Content(document.fonts, height)
    content.place_form("Sheet", m, m, sheet.height, 1.0)
    document.page(width, height, content, form)
    return Printed(document.data(), 1, None, (width, height))


def _refuse_empty(sheet: Sheet) -> None:
    if not sheet.strokes:
        raise PrintError(
            f"{sheet.title}: no panel to print",
            remedy="Choose a layer that covers at least one panel.",
            element=sheet.title,
        )
