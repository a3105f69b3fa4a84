"""Cut a sheet into pages: the grid, its page names, and which pages hold anything."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from ..cutting.sheet import Sheet
from ..errors import PrintError
from ..outline import FloatArray
from ..outline.planar import boxes_touched
from .paper import Paper

DEFAULT_MARGIN_MM: Final = 10.0
"""Home printers leave 3 to 8 mm blank on some side (common practice, no source)."""

DEFAULT_OVERLAP_MM: Final = 10.0
SMALLEST_TILE_MM: Final = 40.0
"""A page that shows less than this of the sheet is not worth its glue."""

MOST_PAGES: Final = 2000


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

    Raises
    ------
    PrintError
        If margins and overlap leave no room on the paper.
    """

    paper: Paper
    margin: float = DEFAULT_MARGIN_MM
    overlap: float = DEFAULT_OVERLAP_MM

    def __post_init__(self) -> None:
        for name, value in (("margin", self.margin), ("overlap", self.overlap)):
            if not (np.isfinite(value) and value >= 0.0):
                raise PrintError(
                    f"a {name} of {value:g} mm",
                    remedy="Give a length of 0 mm or more.",
                    element=name,
                )
        paper = self.paper
        shorter = paper.width if paper.is_roll else min(paper.width, paper.height)
        room = shorter - 2.0 * self.margin - (0.0 if paper.is_roll else self.overlap)
        if room < SMALLEST_TILE_MM:
            raise PrintError(
                f"margins of {self.margin:g} mm and an overlap of {self.overlap:g} mm leave "
                f"{max(room, 0.0):g} mm of {shorter:g} mm paper",
                remedy=f"Leave at least {SMALLEST_TILE_MM:g} mm: make margin or overlap smaller, "
                "or choose larger paper.",
                element="paper",
            )


@dataclass(frozen=True, eq=False)
class Grid:
    """Pages laid over a sheet, in columns and rows.

    Parameters
    ----------
    paper : Paper
        As it lies: turned if the page is wider than high.
    margin, overlap : float
        In mm.
    columns, rows : int
    used : ndarray of bool, shape (rows, columns)
        Pages that hold something; the others are not printed.
    """

    paper: Paper
    margin: float
    overlap: float
    columns: int
    rows: int
    used: np.ndarray[tuple[int, int], np.dtype[np.bool_]]

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

    def printed(self) -> list[tuple[int, int]]:
        """Row and column of every page that holds something, row by row."""
        return [(int(r), int(c)) for r, c in np.argwhere(self.used)]


def grid_for(sheet: Sheet, options: PageOptions, *, turned: bool | None = None) -> Grid:
    """Lay pages over a sheet, upright or turned, whichever needs fewer.

    Parameters
    ----------
    sheet : Sheet
    options : PageOptions
        Its paper is not a roll.
    turned : bool, optional
        Force the orientation.

    Raises
    ------
    PrintError
        If there would be more than 2000 pages.
    """
    upright = options.paper
    papers = {False: upright, True: upright.turned()}
    chosen = [papers[turned]] if turned is not None else [papers[False], papers[True]]
    grids = [_grid(sheet, paper, options) for paper in chosen]
    return min(grids, key=lambda grid: grid.pages)


def _grid(sheet: Sheet, paper: Paper, options: PageOptions) -> Grid:
    bare = Grid(paper, options.margin, options.overlap, 1, 1, np.ones((1, 1), dtype=bool))
    columns = max(int(np.ceil((sheet.width - options.overlap) / bare.step[0] - 1e-9)), 1)
    rows = max(int(np.ceil((sheet.height - options.overlap) / bare.step[1] - 1e-9)), 1)
    if columns * rows > MOST_PAGES:
        raise PrintError(
            f"{columns * rows} pages of {paper.name}",
            remedy=f"Choose larger paper: at most {MOST_PAGES} pages are made.",
            element="paper",
        )
    corners = [bare.corner(r, c) for r in range(rows) for c in range(columns)]
    tiles = [(*corner, *(corner + np.array(bare.tile))) for corner in corners]
    used = boxes_touched(_outlines(sheet), tiles).reshape(rows, columns)
    return Grid(paper, options.margin, options.overlap, columns, rows, used)


def _outlines(sheet: Sheet) -> Sequence[FloatArray]:
    """Polylines of everything drawn, texts as the point they stand at."""
    lines = [stroke.curve.flatten(0.1) for stroke in sheet.strokes]
    texts = [np.array([label.at, label.at + np.array([0.01, 0.0])]) for label in sheet.labels]
    return lines + texts
