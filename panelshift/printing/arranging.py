"""Place panels so that few pages are needed, or few pages are cut through by a panel."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from ..cutting.composing import Arrange, rowed
from ..errors import PrintError
from ..outline import FloatArray
from ..sheets.sheet import whole_mm
from ..units import show
from .paper import Paper
from .tiling import PageGrid, PageOptions, lay_grid

CLEAR_MM: Final = 2.0
"""Room between a page's border and a panel that begins with the page."""

GAP_MM: Final = 6.0
"""Room between neighbouring cut lines: enough for scissors."""

_MOST_COLUMNS: Final = 400
"""More columns than that no paper of a usable size needs for 2000 pages."""

_LONG_STRIP: Final = 4
"""Pages in one row or column that still lie on a table."""

_FINALISTS: Final = 6
"""How many of the ways that look best by the panels' boxes are tried with their lines."""


@dataclass(frozen=True, eq=False)
class Footprint:
    """What of a panel matters for placing it.

    Parameters
    ----------
    box : ndarray, shape (2, 2)
        ((xmin, ymin), (xmax, ymax)) about its waist's middle, in mm.
    lines : sequence of ndarray, shape (m, 2)
        All that is drawn, as polylines about the same point.
    """

    box: FloatArray
    lines: Sequence[FloatArray]


@dataclass(frozen=True)
class Pages:
    """One way of laying pages: what each shows and how far apart they begin, in mm."""

    tile: tuple[float, float]
    step: tuple[float, float]

    @classmethod
    def of(cls, paper: Paper, options: PageOptions) -> Pages:
        """Pages of a paper as it lies."""
        tile = paper.width - 2.0 * options.margin, paper.height - 2.0 * options.margin
        return cls(tile, (tile[0] - options.overlap, tile[1] - options.overlap))

    def span(self, low: float, high: float, axis: int) -> tuple[int, int]:
        """First and last page along an axis that a stretch needs, strips shown on one page."""
        first = max(int(np.floor(low / self.step[axis] + 1e-9)), 0)
        last = first
        while last * self.step[axis] + self.tile[axis] < high - 1e-9:
            last += 1
        return first, last

    def fewest(self, size: float, axis: int) -> int:
        """Fewest pages along an axis that a stretch of a size can need."""
        first, last = self.span(CLEAR_MM, CLEAR_MM + size, axis)
        return last - first + 1


@dataclass(frozen=True, eq=False)
class _Choice:
    """One way of placing the panels, and what it comes to by their boxes alone."""

    arrange: Arrange
    turned: bool
    plain: bool
    spans: tuple[int, int]
    crossings: int
    pages: int

    @property
    def long(self) -> bool:
        """Whether its pages make a strip too long for a table."""
        return min(self.spans) == 1 and max(self.spans) > _LONG_STRIP


def arrange_for_pages(
    pieces: Sequence[Footprint],
    options: PageOptions,
    *,
    keep_together: bool,
    plain_width: float,
) -> tuple[Arrange, bool]:
    """Choose the orientation and layout that need the fewest pages, a strip of them only if asked.

    *keep_together*: whether to put each panel on as few pages as can be, before counting pages.
    *plain_width*: width in mm of the cutting file's sheet: its layout is one of those tried, so
    that the choice is never worse.

    Returns: *arrange*: places the panels; *turned*: whether the paper is to lie on its side.

    Raises `PrintError` if every way would need too many pages, or no strip of pages holds all.
    """
    choices = [
        choice
        for turned in (False, True)
        for choice in _choices(pieces, options, turned, None if keep_together else plain_width)
    ]
    if options.strip:
        choices = [choice for choice in choices if min(choice.spans) == 1]
        if not choices:
            raise _no_strip(pieces, options)
    elif not all(choice.long for choice in choices):
        choices = [choice for choice in choices if not choice.long]
    if keep_together:
        fewest = min(choice.crossings for choice in choices)
        choices = [choice for choice in choices if choice.crossings == fewest]
    choices.sort(key=lambda choice: (choice.pages, choice.crossings))
    finalists = choices[:_FINALISTS] + [c for c in choices[_FINALISTS:] if c.plain]
    best: tuple[tuple[float, ...], _Choice] | None = None
    refused: PrintError | None = None
    for choice in finalists:
        try:
            merit = _merit(choice, pieces, options)
        except PrintError as error:
            refused = error
            continue
        if best is None or merit < best[0]:
            best = merit, choice
    if best is None:
        assert refused is not None  # there is always one column, and so one choice
        raise refused
    places, width, height = best[1].arrange([piece.box for piece in pieces])
    if not keep_together:
        size = whole_mm(width), whole_mm(height)
        places = cleared(places, pieces, size, options, turned=best[1].turned)
    return (lambda boxes: (places, width, height)), best[1].turned


def _no_strip(pieces: Sequence[Footprint], options: PageOptions) -> PrintError:
    wide, high = np.max([np.ptp(piece.box, axis=0) for piece in pieces], axis=0)
    paper, unit = options.paper, options.unit
    tile = Pages.of(paper, options).tile
    shown = " by ".join(show(size, unit) for size in tile)
    return PrintError(
        f"pieces are up to {show(wide, unit)} wide and {show(high, unit)} high, and a page of "
        f"{paper.name} shows {shown}: no single row or column of pages holds them",
        remedy="Choose larger paper or a roll, or leave the strip out.",
        element="strip",
    )


def _choices(
    pieces: Sequence[Footprint], options: PageOptions, turned: bool, plain_width: float | None
) -> list[_Choice]:
    """Layouts of every number of columns; those of the cutting file's kind on request."""
    pages = Pages.of(options.paper.turned() if turned else options.paper, options)
    boxes = [piece.box for piece in pieces]
    found = []
    for columns in range(1, _MOST_COLUMNS):
        width = columns * pages.step[0] + options.overlap
        ways = [_snapping(pages, width)]
        if plain_width is not None:
            ways.append(rowed(width))
        placed = [way(boxes)[0] for way in ways]
        found += [
            _Choice(way, turned, False, *_cost(boxes, places, pages))
            for way, places in zip(ways, placed, strict=True)
        ]
        if all(_in_one_row(boxes, places) for places in placed):
            break
    if plain_width is not None:
        way = rowed(plain_width)
        found.append(_Choice(way, turned, True, *_cost(boxes, way(boxes)[0], pages)))
    return found


def _in_one_row(boxes: Sequence[FloatArray], places: Sequence[FloatArray]) -> bool:
    tops = [float(place[1]) for place in places]
    hung = [float(box[0, 1] + place[1]) for box, place in zip(boxes, places, strict=True)]
    return min(max(tops) - min(tops), max(hung) - min(hung)) < 1e-9


def _merit(choice: _Choice, pieces: Sequence[Footprint], options: PageOptions) -> tuple[float, ...]:
    """Pages that are really needed, then cuts; the less the better."""
    places, width, height = choice.arrange([piece.box for piece in pieces])
    lines = [
        line + place for piece, place in zip(pieces, places, strict=True) for line in piece.lines
    ]
    size = whole_mm(width), whole_mm(height)
    grid = lay_grid(lines, size, options, turned=choice.turned)
    # Of equal choices the squarer sheet, which is easier to tape and to lay out.
    return grid.pages, choice.crossings, abs(float(np.log(grid.taped[0] / grid.taped[1])))


def _snapping(pages: Pages, width: float) -> Arrange:
    return lambda boxes: _snapped(boxes, pages, width)


def snapping_rows(options: PageOptions, width: float, *, turned: bool) -> Arrange:
    """Rows no wider than a width in mm, in which panels begin with a page where that saves one."""
    return _snapping(Pages.of(options.paper.turned() if turned else options.paper, options), width)


def _cost(
    boxes: Sequence[FloatArray], places: Sequence[FloatArray], pages: Pages
) -> tuple[tuple[int, int], int, int]:
    """Pages across and down; pages that each panel is on, summed, and that any is on."""
    touched: set[tuple[int, int]] = set()
    crossings = 0
    for box, place in zip(boxes, places, strict=True):
        low, high = box[0] + place, box[1] + place
        c0, c1 = pages.span(float(low[0]), float(high[0]), 0)
        r0, r1 = pages.span(float(low[1]), float(high[1]), 1)
        touched |= {(r, c) for r in range(r0, r1 + 1) for c in range(c0, c1 + 1)}
        crossings += (c1 - c0 + 1) * (r1 - r0 + 1)
    down, across = (max(page[axis] for page in touched) + 1 for axis in (0, 1))
    return (across, down), crossings, len(touched)


def _snapped(
    boxes: Sequence[FloatArray], pages: Pages, width: float
) -> tuple[list[FloatArray], float, float]:
    """Rows in which a panel moves on to the next page where that saves it a page."""
    lines: list[list[tuple[int, float]]] = [[]]
    run = CLEAR_MM
    for index, box in enumerate(boxes):
        size = float(box[1, 0] - box[0, 0])
        x = _start(run, size, pages, 0)
        if lines[-1] and x + size + CLEAR_MM > width:
            lines.append([])
            x = _start(CLEAR_MM, size, pages, 0)
        lines[-1].append((index, x))
        run = x + size + GAP_MM
    places: list[FloatArray] = [np.zeros(2)] * len(boxes)
    top, widest = CLEAR_MM, 0.0
    for line in lines:
        heights = [float(boxes[i][1, 1] - boxes[i][0, 1]) for i, _ in line]
        # Hung from one line, not levelled at the waist: a panel that fits a page stays on it.
        top = max(_start(top, height, pages, 1) for height in heights)
        for i, x in line:
            places[i] = np.array([x - float(boxes[i][0, 0]), top - float(boxes[i][0, 1])])
            widest = max(widest, x + float(boxes[i][1, 0] - boxes[i][0, 0]))
        top += max(heights) + GAP_MM
    return places, widest + CLEAR_MM, top - GAP_MM + CLEAR_MM


def _start(at: float, size: float, pages: Pages, axis: int) -> float:
    """Where a stretch begins: at once, or with the next page if it then needs fewer."""
    first, last = pages.span(at, at + size, axis)
    if last - first + 1 <= pages.fewest(size, axis):
        return at
    return (first + 1) * pages.step[axis] + CLEAR_MM


_NEAR_EMPTY_MM: Final = 30.0
"""How far panels are moved at most to leave a page that holds no more of them than that."""

_DENSE_MM: Final = 4.0


def cleared(
    places: Sequence[FloatArray],
    pieces: Sequence[Footprint],
    size: tuple[float, float],
    options: PageOptions,
    *,
    turned: bool,
) -> list[FloatArray]:
    """Places with panels moved off pages that hold only a little of them."""

    def laid(at: Sequence[FloatArray]) -> PageGrid:
        every = [line + p for piece, p in zip(pieces, at, strict=True) for line in piece.lines]
        return lay_grid(every, size, options, turned=turned)

    best = list(places)
    points = [np.concatenate([_dense(line) for line in piece.lines]) for piece in pieces]
    grid = laid(best)
    while True:
        for moved in _moves(best, pieces, points, size, grid):
            fewer = laid(moved)
            if fewer.pages < grid.pages:
                best, grid = moved, fewer
                break
        else:
            return best


def _dense(line: FloatArray) -> FloatArray:
    """Points along a polyline, no further from each other than a few mm."""
    steps = np.hypot(*np.diff(line, axis=0).T)
    run = np.concatenate([[0.0], np.cumsum(steps)])
    at = np.union1d(run, np.arange(0.0, run[-1], _DENSE_MM))
    return np.column_stack([np.interp(at, run, line[:, axis]) for axis in (0, 1)])


def _moves(
    places: Sequence[FloatArray],
    pieces: Sequence[Footprint],
    points: Sequence[FloatArray],
    size: tuple[float, float],
    grid: PageGrid,
) -> Iterator[list[FloatArray]]:
    """Ways of moving panels a little by which one page shows nothing that no other shows."""
    for row, column in grid.printed():
        low = grid.corner(row, column)
        cell = np.array([low, low + grid.step])
        cell[0] += np.array([column > 0, row > 0]) * grid.overlap
        cell[1] += np.array([column + 1 == grid.columns, row + 1 == grid.rows]) * grid.overlap
        own = []
        for drawn, place in zip(points, places, strict=True):
            at = drawn + place
            own.append(at[((at > cell[0]) & (at < cell[1])).all(axis=1)])
        for axis in (0, 1):
            for sense in (-1.0, 1.0):
                ends = [float((sense * at[:, axis]).min()) for at in own if len(at)]
                border = sense * float(cell[0 if sense < 0.0 else 1, axis])
                # Away over the border until nothing is left inside.
                far = max((border - end for end in ends), default=0.0) + CLEAR_MM
                if not ends or far > _NEAR_EMPTY_MM:
                    continue
                by = np.zeros(2)
                by[axis] = sense * far
                moved = _pushed(places, pieces, [len(at) > 0 for at in own], by, size)
                if moved is not None:
                    yield moved


def _pushed(
    places: Sequence[FloatArray],
    pieces: Sequence[Footprint],
    chosen: Sequence[bool],
    by: FloatArray,
    size: tuple[float, float],
) -> list[FloatArray] | None:
    """Chosen panels moved, and with them those in their way; None if one would leave the sheet."""
    moving = list(chosen)
    boxes = np.array([piece.box + place for piece, place in zip(pieces, places, strict=True)])
    while True:
        moved = boxes + np.array(moving)[:, None, None] * by
        apart = np.maximum(
            moved[:, None, 0] - moved[None, :, 1], moved[None, :, 0] - moved[:, None, 1]
        )
        near = apart.max(axis=2) < GAP_MM - 1e-6
        pushed = [bool(m or near[k, moving].any()) for k, m in enumerate(moving)]
        if pushed == moving:
            break
        moving = pushed
    inside = (moved[:, 0] >= CLEAR_MM - 1e-6) & (moved[:, 1] <= np.array(size) - CLEAR_MM + 1e-6)
    if not inside.all():
        return None
    return [place + m * by for place, m in zip(places, moving, strict=True)]
