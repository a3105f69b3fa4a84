"""Cut a sheet into pages: the grid, its page names, and which pages hold anything."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final, Literal

import numpy as np

from ..errors import PrintError
from ..files.plain_values import refuse_misfits
from ..outline import FloatArray
from ..outline.planar import boxes_touched
from ..sheets.sheet import Label, Sheet, Stroke, label_corners
from .paper import Paper

BoolArray = np.ndarray[tuple[int, ...], np.dtype[np.bool_]]

DEFAULT_MARGIN_MM: Final = 10.0
"""Home printers leave 3 to 8 mm blank on some side (common practice, no source)."""

DEFAULT_OVERLAP_MM: Final = 10.0
SMALLEST_TILE_MM: Final = 52.0
"""Room between the margins for the 2 in test square."""

SMALLEST_STEP_MM: Final = 40.0
"""A page that adds less than this to the sheet is not worth its glue."""

MOST_PAGES: Final = 2000

_INK_MM: Final = 0.3
"""Half the widest line: what reaches beyond a line's middle."""


@dataclass(frozen=True)
class PageOptions:
    """How a sheet is put on pages.

    Parameters
    ----------
    paper : Paper
        Upright.
    margin : float
        Blank border in mm that the printer cannot reach.
    overlap : float
        Strip in mm that neighbouring pages both show, for gluing.
    unit : {"mm", "cm", "in"}
        In which lengths are told.
    projector : {"", "light", "dark"}
        Whether for a projector, on a light or a dark background, instead of paper.
    strip : bool
        Whether pages are to lie in one row or one column; a roll is one by itself.

    Raises
    ------
    PrintError
        If margins and overlap leave no room on the paper.

    Examples
    --------
    >>> from panelshift import parse_paper
    >>> options = PageOptions(parse_paper("a3"), margin=5.0)
    >>> options.paper.width, options.margin, options.overlap
    (297.0, 5.0, 10.0)
    """

    paper: Paper
    margin: float = DEFAULT_MARGIN_MM
    overlap: float = DEFAULT_OVERLAP_MM
    unit: Literal["mm", "cm", "in"] = "mm"
    projector: Literal["", "light", "dark"] = ""
    strip: bool = False

    def __post_init__(self) -> None:
        refuse_misfits(self, "page options")
        for article, name, value in (("a", "margin", self.margin), ("an", "overlap", self.overlap)):
            if not (np.isfinite(value) and value >= 0.0):
                raise PrintError(
                    f"{article} {name} of {value:g} mm",
                    remedy="Give a length of 0 mm or more.",
                    element=name,
                )
        paper = self.paper
        shorter = paper.width if paper.is_roll else min(paper.width, paper.height)
        tile = shorter - 2.0 * self.margin
        room = tile if paper.is_roll else tile - self.overlap
        if room < SMALLEST_STEP_MM or tile < SMALLEST_TILE_MM:
            overlap = "" if paper.is_roll else f" and an overlap of {self.overlap:g} mm"
            raise PrintError(
                f"margins of {self.margin:g} mm{overlap} leave {max(room, 0.0):g} mm of "
                f"{shorter:g} mm paper",
                remedy=f"Leave {SMALLEST_TILE_MM:g} mm between the margins and "
                f"{SMALLEST_STEP_MM:g} mm beside the overlap: make margin or overlap smaller, "
                "or choose larger paper.",
                element="paper",
            )
        if not paper.is_roll and self.overlap > room:
            raise PrintError(
                f"an overlap of {self.overlap:g} mm is more than half of what a page shows",
                remedy=f"Give at most {0.5 * (room + self.overlap):g} mm.",
                element="overlap",
            )


@dataclass(frozen=True, eq=False)
class PageGrid:
    """Pages laid over a sheet, in columns and rows.

    Parameters
    ----------
    paper : Paper
        As it lies: turned if the page is wider than high.
    margin, overlap : float
        In mm.
    used : ndarray of bool, shape (rows, columns)
        Pages that hold something; the others are not printed.
    """

    paper: Paper
    margin: float
    overlap: float
    columns: int
    rows: int
    used: BoolArray

    @property
    def tile(self) -> tuple[float, float]:
        """Width and height in mm of what one page shows."""
        return self.paper.width - 2.0 * self.margin, self.paper.height - 2.0 * self.margin

    @property
    def step(self) -> tuple[float, float]:
        """Distance in mm from one page's corner to the next one's on the sheet."""
        return self.tile[0] - self.overlap, self.tile[1] - self.overlap

    @property
    def pages(self) -> int:
        """Number of pages that hold something."""
        return int(self.used.sum())

    @property
    def taped(self) -> tuple[float, float]:
        """Width and height in mm of all pages taped together, margins trimmed."""
        return (
            self.columns * self.step[0] + self.overlap,
            self.rows * self.step[1] + self.overlap,
        )

    def corner(self, row: int, column: int) -> FloatArray:
        """Sheet point in mm at the top left of what a page shows."""
        return np.array([column * self.step[0], row * self.step[1]])

    def name(self, row: int, column: int) -> str:
        """Name of a page: its column as letters, its row as a number, such as B3."""
        letters, rest = "", column
        while rest >= 0:
            letters = chr(ord("A") + rest % 26) + letters
            rest = rest // 26 - 1
        return f"{letters}{row + 1}"

    def showing(self, sheet: Sheet, options: PageOptions) -> PageGrid:
        """The same grid with only the pages that another sheet of its size needs."""
        turned = self.paper.width != options.paper.width
        lines = drawn_lines(sheet.strokes, sheet.labels)
        own = lay_grid(lines, (sheet.width, sheet.height), options, turned=turned)
        used = np.zeros((self.rows, self.columns), dtype=np.bool_)
        used[: own.rows, : own.columns] = own.used[: self.rows, : self.columns]
        return replace(self, used=used)

    def printed(self) -> list[tuple[int, int]]:
        """Row and column of every page that holds something, row by row."""
        return [(int(r), int(c)) for r, c in np.argwhere(self.used)]


def grid_for(sheet: Sheet, options: PageOptions, *, turned: bool | None = None) -> PageGrid:
    """Lay pages over a sheet, upright or turned, whichever needs fewer.

    *options*: its paper is not a roll. *turned*: force the orientation.

    Raises `PrintError` if there would be more than 2000 pages.
    """
    lines = drawn_lines(sheet.strokes, sheet.labels)
    sides = (False, True) if turned is None else (turned,)
    grids = [lay_grid(lines, (sheet.width, sheet.height), options, turned=side) for side in sides]
    return min(grids, key=lambda grid: grid.pages)


def lay_grid(
    lines: Sequence[FloatArray], size: tuple[float, float], options: PageOptions, *, turned: bool
) -> PageGrid:
    """Lay pages over polylines and find those that are needed to show them all.

    *lines*: sequence of ndarray, shape (m, 2). In sheet mm. *size*: width and height of the sheet
    in mm. *turned*: whether the paper lies on its side.

    Raises `PrintError` if there would be more than 2000 pages.
    """
    paper = options.paper.turned() if turned else options.paper
    bare = PageGrid(paper, options.margin, options.overlap, 1, 1, np.ones((1, 1), dtype=bool))
    columns = max(int(np.ceil((size[0] - options.overlap) / bare.step[0] - 1e-9)), 1)
    rows = max(int(np.ceil((size[1] - options.overlap) / bare.step[1] - 1e-9)), 1)
    if columns * rows > MOST_PAGES:
        raise PrintError(
            f"{columns * rows} pages of {paper.name}",
            remedy=f"Choose larger paper: at most {MOST_PAGES} pages are made.",
            element="paper",
        )
    across, down = _stretches(bare, columns, 0), _stretches(bare, rows, 1)
    cells = [
        (left - _INK_MM, top - _INK_MM, right + _INK_MM, bottom + _INK_MM)
        for top, bottom in down
        for left, right in across
    ]
    filled = boxes_touched(lines, cells).reshape(len(down), len(across))
    used = _pages_needed(filled, rows, columns, 1 if options.overlap == 0.0 else 2)
    # Blank pages at the far ends would only make the map smaller.
    rows = int(np.flatnonzero(used.any(axis=1))[-1]) + 1 if used.any() else 1
    columns = int(np.flatnonzero(used.any(axis=0))[-1]) + 1 if used.any() else 1
    return PageGrid(paper, options.margin, options.overlap, columns, rows, used[:rows, :columns])


def _stretches(page: PageGrid, count: int, axis: int) -> list[tuple[float, float]]:
    """Stretches along an axis that one page alone shows, with the shared strips between."""
    step, tile, overlap = page.step[axis], page.tile[axis], page.overlap
    found = []
    for k in range(count):
        low = k * step + (overlap if k > 0 else 0.0)
        high = k * step + (tile if k + 1 == count else step)
        found.append((low, high))
        if k + 1 < count and overlap > 0.0:
            found.append(((k + 1) * step, (k + 1) * step + overlap))
    return found


def _pages_needed(filled: BoolArray, rows: int, columns: int, pitch: int) -> BoolArray:
    """Choose pages so that every filled cell is on one of them, beginning from all.

    A page is left out if other pages show all that is on it: a panel that begins with a page
    also shows in the strip that this page shares with the one before, which is not needed
    for that.
    """
    shown = filled.astype(np.int64)
    if pitch == 2:
        # Every other row and column of cells is a strip that two pages show.
        shown[1::2] *= 2
        shown[:, 1::2] *= 2
    reach = pitch // 2
    windows = {
        (r, c): (
            slice(max(pitch * r - reach, 0), pitch * r + reach + 1),
            slice(max(pitch * c - reach, 0), pitch * c + reach + 1),
        )
        for r in range(rows)
        for c in range(columns)
    }
    used = np.ones((rows, columns), dtype=np.bool_)
    for page in sorted(windows, key=lambda page: int(filled[windows[page]].sum())):
        cells = shown[windows[page]]
        if not (cells == 1).any():
            used[page] = False
            cells[cells > 0] -= 1
    return used


def drawn_lines(strokes: Sequence[Stroke], labels: Sequence[Label]) -> list[FloatArray]:
    """Polylines of all that is drawn, in mm; a text counts as the box round its letters."""
    lines = [stroke.curve.flatten(0.1) for stroke in strokes]
    corners = (label_corners(label) for label in labels)
    return lines + [np.vstack([four, four[:1]]) for four in corners]
