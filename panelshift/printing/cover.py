"""The first page: what is printed, how to print it, test squares, and the map of pages."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import groupby
from typing import Final

import numpy as np

from ..cutting.composing import CAUTION, ruler_squares
from ..sheets.palette import BLANK_PAGE, PAGE_FRAME, STYLES
from ..sheets.sheet import Label, Sheet
from ..units import sheet_size
from .content import PAGE_LAYER, SQUARES_LAYER, Content
from .flow import Flow, Leaf, Sample
from .tiling import PageGrid

TITLE_MM: Final = 8.0
TEXT_MM: Final = 4.2
SMALL_MM: Final = 3.6
_SQUARES_WIDE: Final = 50.0 + 8.0 + 50.8
_SMALLEST_MAP_MM: Final = 32.0
_SMALLEST_NAME_MM: Final = 2.5
"""Smallest page name on a map that is read with ease in the hand."""

_WORTH_A_PAGE: Final = 1.25
"""How much larger a cramped map must come out for a page of its own."""
ADVICE: Final = (
    "Print at 100 % (actual size): no fit to page, no scaling. Measure both squares with a ruler."
)
_LARGEST_SCALE: Final = 0.25


@dataclass(frozen=True, eq=False)
class Cover:
    """The first page, or pages where the paper is small.

    Parameters
    ----------
    leaves : tuple of Leaf
        Each page's texts, squares and line samples.
    map_at : tuple of float
        Left, top, width and height in mm of the room for the map, on the last leaf.
    """

    leaves: tuple[Leaf, ...]
    map_at: tuple[float, float, float, float]

    def labels(self, sheet: Sheet, grid: PageGrid) -> list[Label]:
        """Every text on it."""
        own = [label for leaf in self.leaves for label in leaf.labels]
        x, y, across, down = self.map_at
        return own + map_labels(grid, map_scale(sheet, grid, across, down), x, y)


def plan_cover(
    sheet: Sheet,
    grid: PageGrid,
    about: Sequence[str],
    listed: Sequence[str] = (),
    *,
    pages: int | None = None,
    unit: str = "mm",
) -> Cover:
    """Lay out the first page, the map below the text or beside it, whichever is larger.

    Where the paper is too small for all of it, text and map run on to further pages.

    *about*: lines on the layer and its fabric.
    """
    m, (across, down) = grid.margin, grid.tile
    said = about, listed, pages or grid.pages, unit
    leaves, y = _text(sheet, grid, across, said)
    under = (m, y + 3.0, across, m + down - y - 3.0)
    best = Cover(leaves, under)
    column = max(0.5 * across, _SQUARES_WIDE)
    room = (m + column + 6.0, m, across - column - 6.0, down)
    if _fit(sheet, grid, room) > _fit(sheet, grid, under):
        beside, _ = _text(sheet, grid, column, said)
        if len(beside) == 1:
            best = Cover(beside, room)
    own = (m, m, across, down)
    cramped = name_size(grid, _fit(sheet, grid, best.map_at)) < _SMALLEST_NAME_MM
    if min(best.map_at[2:]) < _SMALLEST_MAP_MM or (
        cramped and _fit(sheet, grid, own) > _WORTH_A_PAGE * _fit(sheet, grid, best.map_at)
    ):
        return Cover((*leaves, Leaf()), own)
    return best


def _fit(sheet: Sheet, grid: PageGrid, room: tuple[float, float, float, float]) -> float:
    return map_scale(sheet, grid, room[2], room[3]) if min(room[2:]) > 0.0 else 0.0


_Said = tuple[Sequence[str], Sequence[str], int, str]
"""Lines on the layers, the cutting list, how many pages there are, and the unit of lengths."""


def _text(
    sheet: Sheet, grid: PageGrid, across: float, said: _Said
) -> tuple[tuple[Leaf, ...], float]:
    """Text, squares and line samples in a column of a width; the height reached on the last."""
    about, listed, pages, unit = said
    flow = Flow(grid.margin, grid.margin, across, grid.tile[1])
    flow.text([sheet.title], TITLE_MM, bold=True)
    flow.space(1.0)
    flow.text([ADVICE], TEXT_MM, bold=True)
    flow.space(1.0)
    flow.text(about, TEXT_MM)
    flow.space(1.0)
    flow.text([*_taping(grid), _count(grid, pages, unit)], TEXT_MM)
    flow.space(2.0)
    stacked = across < _SQUARES_WIDE
    for part in _squares(stacked):
        flow.block(*part)
    flow.space(1.0)
    flow.text([CAUTION[0], " ".join(CAUTION[1:])], SMALL_MM)
    flow.space(1.0)
    if sheet.layers and any(stroke.kind == "cut-line" for stroke in sheet.strokes):
        flow.text(
            ["Layers: of each line style the bolder line is to cut, the finer to stitch."], SMALL_MM
        )
    flow.samples(_key(sheet), SMALL_MM)
    if listed:
        flow.space(2.0)
        flow.text(["To cut"], TEXT_MM, bold=True)
        flow.text(listed, SMALL_MM)
    return flow.leaves(), flow.y


def _squares(stacked: bool) -> list[tuple[Leaf, float, float]]:
    """The test squares from (0, 0), as one block or as two, with width and height in mm."""
    strokes, labels = ruler_squares(0.0, 0.0)
    if not stacked:
        return [(Leaf(labels, strokes), _SQUARES_WIDE, 50.8)]
    half = len(labels) // 2
    parts = []
    for k, stroke in enumerate(strokes):
        low, high = stroke.curve.bounds()
        one = Leaf(labels[k * half : (k + 1) * half], [stroke]).moved(-low)
        parts.append((one, float(high[0] - low[0]), float(high[1] - low[1]) + 2.0))
    return parts


def _taping(grid: PageGrid) -> list[str]:
    if grid.pages < 2:
        return []
    if grid.overlap > 0.0:
        how = (
            "Trim each page along the bold dashed edge to its right and below, or fold it back "
            "there, and glue the next page under it, so that the edge lies on the fine dashed line "
            "and the long arms of the crosses run on."
        )
    elif grid.margin > 0.0:
        how = (
            "Trim each page along the bold dashed edge to its right and below, or fold it back "
            "there, and lay the next page's frame against it, so that the crosses are whole."
        )
    else:
        how = (
            "Nothing is to be trimmed: lay the pages edge to edge, so that the crosses are whole, "
            "and tape them. Printers often enlarge what they print to the paper's edge: measure "
            "both squares."
        )
    return [how]


def _count(grid: PageGrid, count: int, unit: str) -> str:
    blank = grid.rows * grid.columns - grid.pages
    pages = "1 page" if count == 1 else f"{count} pages"
    words = f"{pages} of {grid.paper.name}, {grid.columns} across and {grid.rows} down"
    if blank:
        words += f" ({blank} blank, not printed)"
    taped = "taped together" if grid.pages > 1 else "showing"
    return f"{words}; {taped} {sheet_size(*grid.taped, unit)}."


def _key(sheet: Sheet) -> list[Sample]:
    """Line samples with their names, for those who print in black."""
    layers = [Sample(layer.style, layer.name) for layer in sheet.layers]
    kinds = {stroke.kind for stroke in sheet.strokes if not stroke.layer}
    return layers + [Sample(style, style.label) for kind, style in STYLES.items() if kind in kinds]


def draw_cover(content: Content, leaf: Leaf) -> None:
    """Draw one leaf of the first page, without the map."""
    if leaf.strokes:
        content.begin_layer(SQUARES_LAYER.resource)
        with content.tagged("Figure", "Squares to measure: 50 mm and 2 in"):
            content.add("q")
            content.style(STYLES["test-squares"])
            for stroke in leaf.strokes:
                content.curve(stroke.curve)
            content.add("Q")
        content.end_layer()
    if leaf.samples:
        content.begin_layer(PAGE_LAYER.resource)
        with content.tagged("Figure", "Samples of the styles of lines"):
            content.add("q")
            for style, curve in leaf.samples:
                content.style(style)
                content.curve(curve)
            content.add("Q")
        content.end_layer()
    for size, labels in groupby(leaf.labels, key=lambda label: label.size):
        with content.tagged("H1" if size == TITLE_MM else "P"):
            for label in labels:
                content.text(label)


def name_size(grid: PageGrid, scale: float) -> float:
    """Font size in mm of page names on a map of a scale."""
    return float(np.clip(0.35 * min(grid.step) * scale, 1.6, 6.0))


def map_labels(grid: PageGrid, scale: float, x: float, y: float) -> list[Label]:
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


def map_scale(sheet: Sheet, grid: PageGrid, across: float, down: float) -> float:
    """Scale at which the whole grid fits a room of a size in mm, at most a quarter."""
    wide, high = grid.taped
    fitting = min(across / max(wide, sheet.width), down / max(high, sheet.height))
    return max(min(fitting, _LARGEST_SCALE), 1e-3)


def draw_map(
    content: Content, sheet: Sheet, grid: PageGrid, room: tuple[float, float, float, float]
) -> None:
    """Draw the sheet small, with the pages over it; the sheet is resource /Sheet.

    *room*: left, top, width and height in mm of where it may be.
    """
    x, y, across, down = room
    scale = map_scale(sheet, grid, across, down)
    content.place_form("Sheet", x, y, sheet.height, scale)
    content.begin_layer(PAGE_LAYER.resource)
    content.add("q")
    for used, style in ((False, BLANK_PAGE), (True, PAGE_FRAME)):
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
