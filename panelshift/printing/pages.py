"""One tiled page: its window on the sheet, and the marks that help to tape it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from ..outline import FloatArray
from ..outline.planar import boxes_overlapped, boxes_touched
from ..sheets.lettering import fitted, width
from ..sheets.palette import GLUE_LINE, MATCHING_MARK, PAGE_FRAME, TRIM_EDGE
from ..sheets.sheet import Label, Stroke, label_corners
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

_SHORT_ARM_MM: Final = 2.5


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


_ALONG: Final = (0.5, 0.4, 0.6, 0.33, 0.67, 0.15, 0.85)
"""Parts of an edge at which its neighbour's name may stand: clear of the crosses."""

_OVER_WORDS: Final = 3
_OVER_LINES: Final = 2
"""How much is wrong with words of a page over other words or marks, or over lines."""


def page_labels(
    grid: PageGrid, title: str, lines: Sequence[Stroke] = (), words: Sequence[Label] = ()
) -> dict[tuple[int, int], list[Label]]:
    """Words of each printed page, in page mm from the top left, clear of a sheet's lines and words.

    Its name and the title, the names of the panels that it shows (so that half a piece is not
    nameless) and of its neighbours; each stands at the first of its places that no line enters, nor
    a word or another mark.
    """
    printed = grid.printed()
    polylines = [stroke.curve.flatten(0.1) for stroke in lines]
    shown = _panels_shown(grid, printed, lines, polylines)
    wanted = [
        (place, choices)
        for place in printed
        for choices in _choices(grid, *place, title, ", ".join(shown[place]))
    ]
    move = {place: grid.corner(*place) - grid.margin for place in printed}
    corners = np.array([label_corners(label) for _, choices in wanted for label in choices])
    own = np.concatenate([corners.min(axis=1), corners.max(axis=1)], axis=1)
    moves = np.array([np.tile(move[place], 2) for place, choices in wanted for _ in choices])
    boxes = [(a, b, c, d) for a, b, c, d in (own + moves).tolist()]
    faults = np.zeros(len(boxes))
    # The more a place is free of, the better: words with a line through them can still be read.
    if words:
        areas = np.array([label_corners(word) for word in words])
        faults += _OVER_WORDS * boxes_overlapped(areas, boxes)
    if polylines:
        faults += _OVER_LINES * boxes_touched(polylines, boxes)
    taken = {place: _marks_taken(grid, *place) for place in printed}
    found: dict[tuple[int, int], list[Label]] = {place: [] for place in printed}
    first = 0
    for place, choices in wanted:
        part = slice(first, first + len(choices))
        first += len(choices)
        others = np.array(taken[place])[:, None]
        apart = np.maximum(own[part, :2] - others[..., 2:], others[..., :2] - own[part, 2:])
        over = (apart.max(axis=2) < 0.0).any(axis=0)
        best = int(np.argmin(faults[part] + _OVER_WORDS * over))
        found[place].append(choices[best])
        taken[place].append(own[part][best])
    return found


def _marks_taken(grid: PageGrid, row: int, column: int) -> list[FloatArray]:
    """Boxes (xmin, ymin, xmax, ymax) of a page's crosses and lines, in page mm."""
    reach, short = 0.5 * grid.overlap + _ARM_MM, _SHORT_ARM_MM
    found = [np.array([-1.0, -1.0, -1.0, -1.0])]
    for mark in matching_marks(grid, row, column):
        half = np.array([reach, short] if mark.axis == 0 else [short, reach])
        found.append(np.concatenate([mark.at - half, mark.at + half]))
    for start, end in _glue_lines(grid, row, column):
        found.append(np.array([*start, *end]))
    return found


def _panels_shown(
    grid: PageGrid,
    printed: Sequence[tuple[int, int]],
    lines: Sequence[Stroke],
    polylines: Sequence[FloatArray],
) -> dict[tuple[int, int], list[str]]:
    """Names of the panels whose lines each page shows."""
    across, down = grid.tile
    corners = [grid.corner(*place) for place in printed]
    boxes = [(x, y, x + across, y + down) for x, y in corners]
    shown: dict[tuple[int, int], list[str]] = {place: [] for place in printed}
    for name in dict.fromkeys(stroke.panel for stroke in lines if stroke.panel):
        own = [line for stroke, line in zip(lines, polylines, strict=True) if stroke.panel == name]
        for place, met in zip(printed, boxes_touched(own, boxes), strict=True):
            if met:
                shown[place].append(name)
    return shown


def _choices(grid: PageGrid, row: int, column: int, title: str, panels: str) -> list[list[Label]]:
    """The places that each of a page's words may have, the usual one first."""
    m, (across, down) = grid.margin, grid.tile
    name = grid.name(row, column)
    wide = NAME_SIZE_MM * width(name, bold=True) + 2.0
    aside, below = grid.overlap + 2.0, grid.overlap + 7.2
    corners = [(x, y) for y in (7.2, down - 3.0) for x in (2.0, aside, across - wide)]
    corners += [(x, y) for y in (below, 22.0, down - 20.0) for x in (aside, across - wide - 12.0)]
    found = [[Label(name, np.array([m + x, m + y]), NAME_SIZE_MM, bold=True) for x, y in corners]]
    found.append(_title(grid, title, first=False))
    if panels:
        found.append(_title(grid, panels, first=True))
    sides = (
        (row, column + 1, m + across - 3.2, None, -0.5 * np.pi),
        (row, column - 1, m + 6.4, None, -0.5 * np.pi),
        (row - 1, column, None, m + 6.4, 0.0),
        (row + 1, column, None, m + down - 3.2, 0.0),
    )
    for r, c, x, y, angle in sides:
        if 0 <= r < grid.rows and 0 <= c < grid.columns:
            words = grid.name(r, c) + ("" if grid.used[r, c] else " (blank)")
            spots = [
                (
                    m + part * across if x is None else x + (inward if c < column else -inward),
                    m + part * down if y is None else y + (inward if r < row else -inward),
                )
                for inward in (0.0, 8.0, 16.0)
                for part in _ALONG
            ]
            found.append(
                [
                    Label(words, np.array(at), NEIGHBOUR_SIZE_MM, angle=angle, align="middle")
                    for at in spots
                ]
            )
    return found


def _title(grid: PageGrid, title: str, *, first: bool) -> list[Label]:
    """Words on the longer side, in the first or the second half between the crosses."""
    m, (across, down) = grid.margin, grid.tile
    longer = max(across, down)
    low, high = _CROSS_AT[0] * longer + 4.0, 0.5 * longer - 10.0
    room, middle = high - low, 0.5 * (low + high)
    if not first:
        middle = longer - middle if across <= down else middle
    elif across > down:
        middle = longer - middle
    size = min(TITLE_SIZE_MM, room / max(width(title), 1e-9))
    if size < _SMALLEST_TITLE_MM:
        size = _SMALLEST_TITLE_MM
        title = fitted(title, room / size)
    # Its usual half, then where else on the long sides there may be room.
    aside = (middle / longer, 0.5, 0.12, 0.88, 0.3, 0.7)
    inner = grid.overlap + 6.0
    if across > down:
        places = (m + 6.0, m + down - 4.0, m + inner, m + down - inner)
        spots = [(m + part * across, y) for y in places for part in aside]
        return [Label(title, np.array(at), size, align="middle") for at in spots]
    places = (m + 6.0, m + across - 4.0, m + inner, m + across - inner)
    spots = [(x, m + part * down) for x in places for part in aside]
    return [Label(title, np.array(at), size, angle=-0.5 * np.pi, align="middle") for at in spots]


def draw_page(
    content: Content,
    grid: PageGrid,
    row: int,
    column: int,
    *,
    labels: Sequence[Label],
    sheet_height: float,
) -> None:
    """Draw the page's window on the sheet and its marks; the sheet is resource /Sheet.

    *content*: of the page, in mm. *labels*: see `page_labels`. *sheet_height*: in mm.
    """
    m, (across, down) = grid.margin, grid.tile
    corner = grid.corner(row, column)
    content.add("q")
    content.box(m, m, across, down, "W n")
    content.begin_layer(PAGE_LAYER.resource)
    # Below the sheet, and without a white edge, so that no line to be cut is ever hidden.
    for label in labels:
        content.text(label, halo=False)
    content.end_layer()
    content.place_form("Sheet", m - float(corner[0]), m - float(corner[1]), sheet_height, 1.0)
    content.add("Q")
    content.begin_layer(PAGE_LAYER.resource)
    content.add("q")
    content.style(PAGE_FRAME)
    content.box(m, m, across, down)
    if edges := _trim_edges(grid, row, column):
        content.style(TRIM_EDGE)
        for start, end in edges:
            content.line(start, end)
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


def _trim_edges(grid: PageGrid, row: int, column: int) -> list[tuple[_Point, _Point]]:
    """Right and lower borders of a page, where it is trimmed for the next page to show."""
    m, (across, down) = grid.margin, grid.tile
    edges: list[tuple[_Point, _Point]] = []
    if grid.margin == grid.overlap == 0.0:
        return edges
    if _follows(grid, row, column + 1):
        edges.append(((m + across, m), (m + across, m + down)))
    if _follows(grid, row + 1, column):
        edges.append(((m, m + down), (m + across, m + down)))
    return edges


def _glue_lines(grid: PageGrid, row: int, column: int) -> list[tuple[_Point, _Point]]:
    """Where the trimmed edges of the pages to the left and above come to lie on a page."""
    m, (across, down) = grid.margin, grid.tile
    lines = []
    if grid.overlap > 0.0:
        if column > 0 and grid.used[row, column - 1]:
            x = m + grid.overlap
            lines.append(((x, m), (x, m + down)))
        if row > 0 and grid.used[row - 1, column]:
            y = m + grid.overlap
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

    half, short = 0.5 * overlap, _SHORT_ARM_MM
    reach = half + _ARM_MM
    line((-reach, 0.0), (reach, 0.0))
    for end in sorted({-half, 0.0, half}):
        line((end, -short), (end, short))
    ring = 0.8 * min(max(half, 1.5), 2.0)
    line((ring, 0.0), (0.0, ring), (-ring, 0.0), (0.0, -ring), closed=True)
