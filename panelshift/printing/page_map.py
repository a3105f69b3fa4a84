"""The map of pages: the whole sheet, small, with the pages laid over it."""

from __future__ import annotations

from dataclasses import replace
from typing import Final

import numpy as np

from ..sheets.sheet import Label, Sheet, Style
from .content import PAGE_LAYER, Content
from .pages import FRAME
from .tiling import Grid

_BLANK: Final = Style("blank page", 0.15, "#aaaaaa", (1.0, 1.5))
_LARGEST_SCALE: Final = 0.25


def name_size(grid: Grid, scale: float) -> float:
    """Font size in mm of page names on a map of a scale."""
    return float(np.clip(0.35 * min(grid.step) * scale, 1.6, 6.0))


def map_labels(grid: Grid, scale: float, x: float, y: float) -> list[Label]:
    """Page names in the middle of their places on the map, those of blank pages not bold."""
    labels = []
    size = name_size(grid, scale)
    for row in range(grid.rows):
        for column in range(grid.columns):
            middle = grid.corner(row, column) + 0.5 * np.array(grid.tile)
            at = np.array([x, y]) + scale * middle + np.array([0.0, 0.35 * size])
            label = Label(grid.name(row, column), at, size, align="middle", bold=True)
            labels.append(label if grid.used[row, column] else replace(label, bold=False))
    return labels


def map_scale(sheet: Sheet, grid: Grid, across: float, down: float) -> float:
    """Scale at which the whole grid fits a room of a size in mm, at most a quarter."""
    wide, high = grid.taped
    fitting = min(across / max(wide, sheet.width), down / max(high, sheet.height))
    return max(min(fitting, _LARGEST_SCALE), 1e-3)


def draw_map(
    content: Content, sheet: Sheet, grid: Grid, room: tuple[float, float, float, float]
) -> None:
    """Draw the sheet small, with the pages over it; the sheet is resource /Sheet.

    Parameters
    ----------
    content : Content
    sheet : Sheet
    grid : Grid
    room : tuple of float
        Left, top, width and height in mm of where it may be.
    """
    x, y, across, down = room
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
