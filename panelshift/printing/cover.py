"""The first page: what is printed, how to print it, test squares, and the map of pages."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from ..cutting.header import CAUTION, ruler_squares
from ..cutting.sheet import STYLES, Label, Sheet, Style
from .content import PAGE_LAYER, Content
from .fonts import width
from .pages import FRAME
from .tiling import Grid

_TITLE_MM: Final = 8.0
_TEXT_MM: Final = 4.2
_SMALL_MM: Final = 3.6
_LEAD: Final = 1.4
_BLANK: Final = Style("blank page", 0.15, "#aaaaaa", (1.0, 1.5))
_SMALLEST_MAP_MM: Final = 45.0


@dataclass(frozen=True, eq=False)
class Cover:
    """Everything on the first page but the map's drawing, in page mm from the top left.

    Parameters
    ----------
    labels : tuple of Label
    map_at : tuple of float
        Left, top, width and height in mm of the room for the map.
    squares_at : float
        Height of the test squares' top, in mm.
    on_second : bool
        Whether the map has a page of its own, the first having no room.
    """

    labels: tuple[Label, ...]
    map_at: tuple[float, float, float, float]
    squares_at: float
    on_second: bool


def plan_cover(sheet: Sheet, grid: Grid, about: Sequence[str]) -> Cover:
    """Lay out the first page, the map below the text or beside it, whichever is larger.

    Parameters
    ----------
    sheet : Sheet
    grid : Grid
    about : sequence of str
        Lines on the layer and its fabric.
    """
    m, (across, down) = grid.margin, grid.tile
    below, squares, y = _text(sheet, grid, about, across)
    under = (m, y + 3.0, across, m + down - y - 3.0)
    best = Cover(tuple(below), under, squares, False)
    column = max(0.5 * across, _SQUARES_WIDE)
    beside, squares, y = _text(sheet, grid, about, column)
    room = (m + column + 6.0, m, across - column - 6.0, down)
    if y <= m + down and _fit(sheet, grid, room) > _fit(sheet, grid, under):
        best = Cover(tuple(beside), room, squares, False)
    if min(best.map_at[2:]) < _SMALLEST_MAP_MM:
        return Cover(tuple(below), (m, m, across, down), squares, True)
    return best


def _fit(sheet: Sheet, grid: Grid, room: tuple[float, float, float, float]) -> float:
    return map_scale(sheet, grid, room[2], room[3])


def _text(
    sheet: Sheet, grid: Grid, about: Sequence[str], across: float
) -> tuple[list[Label], float, float]:
    """Lines of text in a column of a width; where the squares begin and the text ends."""
    labels: list[Label] = []
    m = grid.margin
    y = _lines(labels, [sheet.title], m, m, across, _TITLE_MM, bold=True)
    y = _lines(labels, about, m, y + 1.0, across, _TEXT_MM)
    advice = [
        "Print at 100 %: no fit to page, no scaling. Then measure both squares with a ruler.",
        "Trim the right and lower border of each page, or fold it back, and glue the next page "
        "under it so that the crosses meet.",
        _count(grid),
    ]
    y = _lines(labels, advice, m, y + 2.0, across, _TEXT_MM)
    squares = y + 2.0
    stacked = grid.tile[0] < _SQUARES_WIDE
    y = squares + (2.0 * 50.8 + 4.0 if stacked else 50.8) + 1.0
    y = _lines(labels, [CAUTION[0], " ".join(CAUTION[1:])], m, y + 1.0, across, _SMALL_MM)
    y = _lines(labels, _key(sheet), m, y + 1.0, across, _SMALL_MM)
    return labels, squares, y


_SQUARES_WIDE: Final = 50.0 + 8.0 + 50.8


def _count(grid: Grid) -> str:
    blank = grid.rows * grid.columns - grid.pages
    wide, high = grid.taped
    words = f"{grid.pages} pages of {grid.paper.name}, {grid.columns} across and {grid.rows} down"
    if blank:
        words += f" ({blank} blank, not printed)"
    return f"{words}; taped together {wide:.0f} x {high:.0f} mm."


def _key(sheet: Sheet) -> list[str]:
    """Names of the line styles, for those who print in black."""
    if sheet.layer_styles:
        return ["Layers, told apart by dash: " + ", ".join(sheet.layer_styles) + "."]
    kinds = {stroke.kind for stroke in sheet.strokes}
    solid = [s.label for k, s in STYLES.items() if k in kinds and not s.dash]
    dashed = [s.label for k, s in STYLES.items() if k in kinds and s.dash]
    lines = [f"Solid: {', '.join(solid)}."] if solid else []
    return lines + ([f"Dashed: {', '.join(dashed)}."] if dashed else [])


def _lines(
    labels: list[Label],
    texts: Sequence[str],
    x: float,
    y: float,
    across: float,
    size: float,
    *,
    bold: bool = False,
) -> float:
    """Add texts, wrapped to a width; return the height reached."""
    for text in texts:
        for line in _wrapped(text, across / size * (0.95 if bold else 1.0)):
            y += size * _LEAD
            labels.append(Label(line, np.array([x, y - 0.3 * size]), size, bold=bold))
    return y


def _wrapped(text: str, room: float) -> list[str]:
    """Break text at spaces so that each line fits a width given as a part of the size."""
    lines = [""]
    for word in text.split():
        longer = f"{lines[-1]} {word}".strip()
        if lines[-1] and width(longer) > room:
            lines.append(word)
        else:
            lines[-1] = longer
    return lines


def draw_cover(content: Content, cover: Cover, grid: Grid) -> None:
    """Draw the first page, without the map."""
    across = grid.tile[0]
    content.add("q")
    content.style(STYLES["test-squares"])
    strokes, labels = ruler_squares(
        grid.margin + 0.5, cover.squares_at, stacked=across < _SQUARES_WIDE
    )
    for stroke in strokes:
        content.curve(stroke.curve)
    content.add("Q")
    for label in (*labels, *cover.labels):
        content.text(label)


def map_labels(grid: Grid, scale: float, x: float, y: float) -> list[Label]:
    """Page names in the middle of their places on the map."""
    labels = []
    size = float(np.clip(0.35 * min(grid.step) * scale, 1.6, 6.0))
    for row in range(grid.rows):
        for column in range(grid.columns):
            middle = grid.corner(row, column) + 0.5 * np.array(grid.tile)
            at = np.array([x, y]) + scale * middle + np.array([0.0, 0.35 * size])
            label = Label(grid.name(row, column), at, size, align="middle", bold=True)
            labels.append(label if grid.used[row, column] else replace(label, bold=False))
    return labels


def map_scale(sheet: Sheet, grid: Grid, across: float, down: float) -> float:
    """Scale at which the whole grid fits a room, at most a quarter."""
    wide, high = grid.taped
    fitting = min(across / max(wide, sheet.width), down / max(high, sheet.height))
    return max(min(fitting, 0.25), 1e-3)


def draw_map(content: Content, sheet: Sheet, grid: Grid, cover: Cover) -> None:
    """Draw the sheet small, with the pages over it; the sheet is resource /Sheet."""
    x, y, across, down = cover.map_at
    scale = map_scale(sheet, grid, across, down)
    content.place_form("Sheet", x, y, sheet.height, scale)
    content.begin_layer(PAGE_LAYER.resource)
    content.add("q")
    for used, style in ((False, _BLANK), (True, FRAME)):
        content.style(style)
        for row in range(grid.rows):
            for column in range(grid.columns):
                if bool(grid.used[row, column]) == used:
                    left, top = np.array([x, y]) + scale * grid.corner(row, column)
                    content.box(float(left), float(top), grid.tile[0] * scale, grid.tile[1] * scale)
    content.add("Q")
    for label in map_labels(grid, scale, x, y):
        content.text(label)
    content.end_layer()
