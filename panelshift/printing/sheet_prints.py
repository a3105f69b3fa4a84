"""Print a sheet: to tiled pages, or to one page."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from ..cutting.composing import ruler_squares
from ..errors import PrintError
from ..sheets.lettering import lacks_cjk, missing, wrapped
from ..sheets.palette import FAINT, STYLES, Style
from ..sheets.sheet import Label, Sheet
from ..units import MM_PER_UNIT, trimmed
from .content import BEAMS, PAGE_LAYER, SQUARES_LAYER, Content, Letters, PdfLayer, sheet_layers
from .cover import ADVICE, draw_cover, draw_map, plan_cover
from .pages import draw_page, page_labels
from .paper import LARGEST_PAPER_MM
from .pdf_file import LARGEST_UNITS, POINTS_PER_MM, PdfFile
from .tiling import PageGrid, PageOptions, grid_for

_SQUARES_MM: Final = 54.0
"""Height of the test squares below a drawing that has none of its own."""

_FOOT_TEXT_MM: Final = 5.0
_FOOT_LINE_MM: Final = 7.0


@dataclass(frozen=True, eq=False)
class Printed:
    """A finished print.

    Parameters
    ----------
    data : bytes
        The PDF document.
    pages : int
        Number of pages in it, the first page with the map among them.
    grid : PageGrid or None
        The tiles; None for a single page.
    size : tuple of float
        Width and height in mm: taped together, or of the single page.
    """

    data: bytes
    pages: int
    grid: PageGrid | None
    size: tuple[float, float]


@dataclass(frozen=True, eq=False)
class PrintedFile:
    """A PDF to be written.

    Parameters
    ----------
    name : str
        File name.
    """

    name: str
    title: str
    printed: Printed
    warnings: tuple[str, ...] = ()


def print_tiles(
    sheet: Sheet, options: PageOptions, about: Sequence[str], *, turned: bool | None = None
) -> Printed:
    """Print a sheet on pages to be taped together.

    *options*: its paper is not a roll. *about*: lines for the first page. *turned*: whether the
    paper lies on its side; whichever needs fewer pages if not given.

    Raises `PrintError` if the sheet is empty or would need too many pages.
    """
    return print_sheets(sheet.title, [sheet], options, about, turned=turned)


def print_sheets(
    title: str,
    sheets: Sequence[Sheet],
    options: PageOptions,
    about: Sequence[str],
    listed: Sequence[str] = (),
    *,
    turned: bool | None = None,
) -> Printed:
    """Print sheets of one size in one document, on one grid of pages, under one cover.

    As for `print_tiles`, with a list below the key of lines; pages of a sheet follow each other,
    with a bookmark before them.
    """
    for sheet in sheets:
        _refuse_empty(sheet)
    whole = _together(title, sheets)
    grid = grid_for(whole, options, turned=turned)
    grids = [grid] if len(sheets) == 1 else [grid.showing(sheet, options) for sheet in sheets]
    count = sum(each.pages for each in grids)
    cover = plan_cover(whole, grid, about, listed, pages=count, unit=options.unit)
    labels = [
        page_labels(own, each.title, each.strokes, each.labels)
        for each, own in zip(sheets, grids, strict=True)
    ]
    texts = [*whole.labels, *cover.labels(whole, grid)]
    texts += [label for each in labels for words in each.values() for label in words]
    document = _document(whole, texts)
    forms = [document.form(sheet) for sheet in sheets]
    wide, high = grid.paper.width, grid.paper.height
    document.bookmark("cover")
    for place, leaf in enumerate(cover.leaves):
        content = Content(document.fonts, high)
        draw_cover(content, leaf)
        if place + 1 == len(cover.leaves):
            with content.tagged("Figure", f"Map of the pages of {title}"):
                draw_map(content, whole, grid, cover.map_at)
        document.page(wide, high, content, forms[0], "cover")
    for sheet, own, form, words in zip(sheets, grids, forms, labels, strict=True):
        document.bookmark(sheet.title)
        for row, column in own.printed():
            content = Content(document.fonts, high)
            name = own.name(row, column)
            with content.tagged("Figure", f"Page {name} of {sheet.title}"):
                draw_page(
                    content,
                    own,
                    row,
                    column,
                    labels=words[row, column],
                    sheet_height=sheet.height,
                )
            document.page(
                wide, high, content, form, name if len(sheets) == 1 else f"{sheet.title} {name}"
            )
    return Printed(document.data(), count + len(cover.leaves), grid, grid.taped)


def _together(title: str, sheets: Sequence[Sheet]) -> Sheet:
    """All that some sheets of one size hold, as one sheet."""
    if len(sheets) == 1:
        return sheets[0]
    return Sheet(
        title,
        max(sheet.width for sheet in sheets),
        max(sheet.height for sheet in sheets),
        tuple(stroke for sheet in sheets for stroke in sheet.strokes),
        tuple(label for sheet in sheets for label in sheet.labels),
    )


_GRID_MM: Final = 50.0
"""Between the lines that a projected page is aligned by; every other is bold: 100 mm apart."""


def print_projected(sheet: Sheet, options: PageOptions) -> Printed:
    """One page as large as a sheet, to be thrown on cloth: thick lines over a grid, no margins.

    Raises `PrintError` if the sheet is empty.
    """
    _refuse_empty(sheet)
    beam = BEAMS[options.projector or "light"]
    document = _document(sheet, sheet.labels)
    form = document.form(sheet, beam)
    size = sheet.width, sheet.height
    content = Content(document.fonts, sheet.height)
    content.ground(*size, beam.ground)
    content.begin_layer(PAGE_LAYER.resource)
    content.add("q")
    for axis in (0, 1):
        for k in range(int(size[axis] / _GRID_MM) + 1):
            content.style(Style("grid", 0.3 if k % 2 else 0.8, FAINT))
            ends = [(k * _GRID_MM, 0.0), (k * _GRID_MM, size[1 - axis])]
            content.line(*(end if axis == 0 else end[::-1] for end in ends))
    content.add("Q")
    content.end_layer()
    with content.tagged("Figure", sheet.title):
        content.place_form("Sheet", 0.0, 0.0, sheet.height, 1.0)
    document.page(*size, content, form)
    return Printed(document.data(), 1, None, size)


def print_roll(sheet: Sheet, options: PageOptions) -> Printed:
    """Print a sheet on one page as wide as a roll and as long as it needs.

    *sheet*: no wider than the roll less its margins. *options*: its paper is a roll.

    Raises `PrintError` if the sheet is empty, wider than the roll, or longer than 50 m.
    """
    _refuse_empty(sheet)
    m, across = options.margin, options.paper.width
    if sheet.width > across - 2.0 * m + 1e-6:
        raise PrintError(
            f"{sheet.title} is {_side(sheet.width, options)} wide, the roll leaves "
            f"{_side(across - 2.0 * m, options)}",
            remedy=f"Take a roll of at least {_side(sheet.width + 2.0 * m, options)}, smaller "
            "margins, or tiled pages.",
            element="paper",
        )
    height = sheet.height + _foot(sheet, across - 2.0 * m) + 2.0 * m
    if height > LARGEST_PAPER_MM:
        raise PrintError(
            f"the page would be {height / 1000.0:.1f} m long",
            remedy="Take a wider roll, or print fewer layers at a time.",
            element="paper",
        )
    return _one_page(sheet, (across, height), options)


def _side(length: float, options: PageOptions) -> str:
    """A side of paper in words, with no more digits than it needs."""
    return f"{trimmed(length / MM_PER_UNIT[options.unit], 2)} {options.unit}"


def fits_one_page(sheet: Sheet, options: PageOptions) -> bool | None:
    """Whether a sheet fits one page with its margins: upright False, turned True, or None."""
    m, paper = options.margin, options.paper
    for turned, (across, down) in (
        (False, (paper.width, paper.height)),
        (True, (paper.height, paper.width)),
    ):
        room = across - 2.0 * m
        if sheet.width <= room and sheet.height + _foot(sheet, room) <= down - 2.0 * m:
            return turned
    return None


def print_whole(sheet: Sheet, options: PageOptions, *, turned: bool) -> Printed:
    """Print a sheet that fits one page, see `fits_one_page`.

    Raises `PrintError` if the sheet is empty.
    """
    _refuse_empty(sheet)
    paper = options.paper.turned() if turned else options.paper
    return _one_page(sheet, (paper.width, paper.height), options)


def _one_page(sheet: Sheet, size: tuple[float, float], options: PageOptions) -> Printed:
    """One page that states its size below the drawing."""
    margin = options.margin
    y = margin + sheet.height
    strokes, labels = ruler_squares(margin + 0.5, y + 1.0) if not _has_squares(sheet) else ([], [])
    y += _SQUARES_MM if strokes else 0.0
    for line in _foot_lines(size, size[0] - 2.0 * margin, options.unit):
        y += _FOOT_LINE_MM
        labels.append(Label(line, np.array([margin, y - 2.0]), _FOOT_TEXT_MM))
    document = _document(sheet, [*sheet.labels, *labels])
    form = document.form(sheet)
    content = Content(document.fonts, size[1])
    with content.tagged("Figure", sheet.title):
        content.place_form("Sheet", margin, margin, sheet.height, 1.0)
    content.begin_layer(SQUARES_LAYER.resource)
    content.add("q")
    content.style(STYLES["test-squares"])
    for stroke in strokes:
        content.curve(stroke.curve)
    content.add("Q")
    content.end_layer()
    content.begin_layer(PAGE_LAYER.resource)
    with content.tagged("P"):
        for label in labels:
            content.text(label)
    content.end_layer()
    document.page(*size, content, form)
    return Printed(document.data(), 1, None, size)


def _has_squares(sheet: Sheet) -> bool:
    return any(stroke.kind == "test-squares" for stroke in sheet.strokes)


def _foot_lines(size: tuple[float, float], room: float, unit: str = "mm") -> list[str]:
    wide, high = (side / MM_PER_UNIT[unit] for side in size)
    words = f"This page is {wide:.5g} x {high:.5g} {unit}. {ADVICE}"
    return wrapped(words, room / _FOOT_TEXT_MM)


def _foot(sheet: Sheet, room: float) -> float:
    """Height in mm of what is added below a single page's drawing, `room` mm wide."""
    lines = len(_foot_lines((99999.0, 99999.0), room))
    return lines * _FOOT_LINE_MM + (0.0 if _has_squares(sheet) else _SQUARES_MM)


def _document(sheet: Sheet, texts: Sequence[Label]) -> PdfFile:
    """A document with fonts for some texts and a layer for each kind of line."""
    letters = Letters()
    for label in texts:
        letters.note(label.text)
    layers: list[PdfLayer] = sheet_layers(sheet)
    if SQUARES_LAYER not in layers:
        layers.append(SQUARES_LAYER)
    return PdfFile(sheet.title, [*layers, PAGE_LAYER], letters.fonts())


def _refuse_empty(sheet: Sheet) -> None:
    if not sheet.strokes:
        raise PrintError(
            f"{sheet.title}: no panel to print",
            remedy="Choose a layer that covers at least one panel.",
            element=sheet.title,
        )


def print_warnings(printed: Printed, sheet: Sheet) -> tuple[str, ...]:
    """What a maker should know of a sheet's print: too long a page, letters that no font has."""
    return (*_too_long(printed), *_lost_letters(sheet))


def _too_long(printed: Printed) -> tuple[str, ...]:
    longest = LARGEST_UNITS / POINTS_PER_MM
    if printed.grid is not None or max(printed.size) <= longest:
        return ()
    return (
        f"the page is longer than {longest / 1000.0:.2f} m: programs that pass over a PDF's "
        "UserUnit print it too small, so measure both test squares, or print fewer layers",
    )


def _lost_letters(sheet: Sheet) -> tuple[str, ...]:
    lost = missing("".join(dict.fromkeys("".join(label.text for label in sheet.labels))))
    if not lost:
        return ()
    more = " (more signs come with pip install 'panelshift[cjk]')" if lacks_cjk() else ""
    return (f"{sheet.title}: no font has these characters, printed as boxes: {lost}{more}",)
