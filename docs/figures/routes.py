"""How drafts get in that are no SVG: pages of a PDF, tiles, the layers of a DXF, paper."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from typing import Final

import numpy as np
import sample
from canvas import BLUE, GREEN, GREY, INK, ORANGE, PALE, RED, Canvas, rounded

from panelshift.cutting.layer_sheets import layer_sheet
from panelshift.outline import Curve, FloatArray
from panelshift.outline.pathtext import number, path_data
from panelshift.sheets.dxf_writer import LAYERS
from panelshift.sheets.sheet import Stroke

Box = tuple[float, float, float, float]
"""Left, top, width and height on the figure."""


def _draft(box: Box) -> list[tuple[Curve, Curve]]:
    """Outlines of the sample's panels in a box, and their waistlines."""
    panels = sample.job().pattern.panels
    edges = np.array([panel.outline.bounds() for panel in panels])
    low, high = edges[:, 0].min(axis=0), edges[:, 1].max(axis=0)
    left, top, wide, tall = box
    scale = min(wide / (high - low)[0], tall / (high - low)[1])
    shift = np.array([left + 0.5 * wide, top + 0.5 * tall]) - scale * 0.5 * (low + high)
    place = np.array([[scale, 0.0, shift[0]], [0.0, scale, shift[1]]])
    return [
        (panel.outline.transformed(place), panel.waist.curve.transformed(place))
        for panel in panels
        if panel.waist is not None
    ]


def _frame(canvas: Canvas, box: Box, colour: str = GREY, width: float = 1.0) -> None:
    x, y, wide, high = box
    corners = [(x, y), (x + wide, y), (x + wide, y + high), (x, y + high)]
    canvas.line(corners, colour, width, fill="#ffffff", closed=True)


def _within(canvas: Canvas, box: Box, curves: Iterable[tuple[Curve, str]]) -> None:
    """Curves as far as they lie in a box: a nested picture cuts off what does not."""
    sides = " ".join(number(side) for side in box)
    x, y, wide, high = (number(side) for side in box)
    paths = "".join(
        f'<path d="{path_data(rounded(curve))}" fill="none" stroke="{colour}" stroke-width="1.2"/>'
        for curve, colour in curves
    )
    canvas.part(
        f'<svg x="{x}" y="{y}" width="{wide}" height="{high}" viewBox="{sides}">{paths}</svg>'
    )


def pages() -> str:
    """A PDF of three pages, and which of them is the pattern."""
    canvas = Canvas("A PDF of several pages: the one with panels is the pattern", 236.0)
    canvas.text(12, 24, "Which page is the pattern?", bold=True)
    boxes: list[Box] = [(14.0, 42.0, 76.0, 108.0), (104.0, 36.0, 152.0, 114.0)]
    boxes.append((270.0, 42.0, 76.0, 108.0))
    for place, box in enumerate(boxes):
        right = place == 1
        _frame(canvas, box, GREEN if right else GREY, 2.5 if right else 1.0)
        x, y, wide, high = box
        words = f"page {place + 1}"
        canvas.text(x + 0.5 * wide, y + high + 18, words, anchor="middle", bold=right)
    for row in range(9):
        end = 76.0 if row % 3 < 2 else 50.0
        canvas.line([(22, 56 + 10 * row), (14 + end - 8, 56 + 10 * row)], GREY, 2.0)
    for outline, waist in _draft((112.0, 44.0, 136.0, 98.0)):
        canvas.line(outline, INK, 1.2)
        canvas.line(waist, RED, 1.0)
    picture = [(278, 52), (338, 52), (338, 112), (278, 112)]
    canvas.line(picture, "none", fill=PALE, closed=True)
    canvas.line([(278, 112), (298, 80), (312, 98), (322, 88), (338, 112)], GREY, 1.0, fill=GREY)
    canvas.text(14, 190, ["words alone:", "no panels"], size=11, colour=GREY)
    canvas.text(
        104, 190, ["lines on this page alone: taken", "unasked. Else you are asked, or"], size=11
    )
    canvas.text(104, 218, "write page = 2 in the job file", size=11)
    canvas.text(346, 190, ["a picture:", "by photos"], size=11, colour=GREY, anchor="end")
    return canvas.svg()


def tiles() -> str:
    """A drawing on four pages: its lines end at their edges, and go on on the next."""
    canvas = Canvas("A pattern on several pages is put together by its own lines", 506.0)
    canvas.text(12, 24, "1. A line cut off by an edge goes on beyond it", bold=True)
    whole: Box = (50.0, 44.0, 260.0, 178.0)
    curves = _draft((whole[0] + 8, whole[1] + 8, whole[2] - 16, whole[3] - 16))
    gap = 14.0
    wide, high = 0.5 * whole[2], 0.5 * whole[3]
    for row in range(2):
        for column in range(2):
            move = np.array([gap * (column - 0.5), gap * (row - 0.5)])
            place = np.column_stack([np.eye(2), move])
            box = (
                whole[0] + wide * column + float(move[0]),
                whole[1] + high * row + float(move[1]),
                wide,
                high,
            )
            _frame(canvas, box)
            own = [(outline.transformed(place), INK) for outline, _ in curves]
            own += [(waist.transformed(place), RED) for _, waist in curves]
            _within(canvas, box, own)
            height = box[1] + (13 if row == 0 else high - 5)
            canvas.text(box[0] + 5, height, "ABCD"[2 * row + column], size=11, colour=GREY)
    for axis, at in ((0, whole[0] + wide), (1, whole[1] + high)):
        for outline, waist in curves:
            for curve in (outline, waist):
                _meet(canvas, curve, axis, at, gap)
    canvas.text(
        12,
        254,
        [
            "Dots: nine in ten of them must meet, on every edge;",
            "or you are told which pages do not.",
        ],
    )
    canvas.text(12, 304, "2. So they are one drawing again", bold=True)
    below = np.array([[1.0, 0.0, 0.0], [0.0, 1.0, 272.0]])
    for outline, waist in curves:
        canvas.line(outline.transformed(below), INK, 1.2)
        canvas.line(waist.transformed(below), RED, 1.0)
    return canvas.svg()


def _meet(canvas: Canvas, curve: Curve, axis: int, at: float, gap: float) -> None:
    """Dots on both sides of a gap where a curve crosses it."""
    points = curve.flatten(0.02)
    before = points[:-1, axis] - at
    after = points[1:, axis] - at
    for k in np.flatnonzero(before * after < 0.0):
        share = before[k] / (before[k] - after[k])
        point = points[k] + share * (points[k + 1] - points[k])
        other = point[1 - axis]
        middle = 44.0 + 89.0 if axis == 0 else 50.0 + 130.0
        moved = other + math.copysign(0.5 * gap, other - middle)
        for side in (-0.5, 0.5):
            spot = np.array([at + side * gap, moved])
            canvas.dot(spot if axis == 0 else spot[::-1], 2.2, ORANGE)


_NAMES: Final = {
    "1": ("cut line", RED),
    "14": ("stitch line", INK),
    "4": ("notches", ORANGE),
    "7": ("grain", GREEN),
    "8": ("waist, levels, bones", BLUE),
}


def layers() -> str:
    """One piece of a layer's DXF, its lines by the layers they are on."""
    canvas = Canvas("A DXF: which line lies on which layer", 330.0)
    canvas.text(12, 24, "Layers of a DXF for pattern interchange", bold=True)
    shifted = sample.shifted()
    sheet = layer_sheet(shifted, shifted.layer(sample.OUTER), sample.job().plan, headed=False)
    strokes = [stroke for stroke in sheet.strokes if LAYERS.get(stroke.kind, "") in _NAMES]
    first = next(stroke for stroke in strokes if stroke.kind == "cut-line")
    low, high = first.curve.bounds()
    scale = 280.0 / float((high - low)[1])
    place = np.array([[scale, 0.0, 24.0 - scale * low[0]], [0.0, scale, 38.0 - scale * low[1]]])
    for stroke in strokes:
        if _lies_in(stroke, low, high):
            colour = _NAMES[LAYERS[stroke.kind]][1]
            wide = 2.0 if LAYERS[stroke.kind] in ("1", "14") else 1.2
            canvas.line(stroke.curve.transformed(place), colour, wide)
    right = 24.0 + scale * float((high - low)[0]) + 26.0
    for row, (name, (words, colour)) in enumerate(_NAMES.items()):
        y = 70.0 + 34.0 * row
        canvas.line([(right, y), (right + 26, y)], colour, 2.5)
        canvas.text(right + 34, y + 4, name, bold=True)
        canvas.text(right + 56, y + 4, words)
    canvas.text(
        right,
        258,
        ["Layers with names are read as", "well: one called waist makes", "its lines waistlines."],
        colour=GREY,
    )
    return canvas.svg()


def _lies_in(stroke: Stroke, low: FloatArray, high: FloatArray) -> bool:
    box = stroke.curve.bounds()
    return bool((box[0] >= low - 1.0).all() and (box[1] <= high + 1.0).all())


# -- paper ----------------------------------------------------------------------------------

_STRIPS: Final = (
    ("A", 62.0, 226.0, 0.0),
    ("B", 190.0, 228.0, -2.0),
    ("C", 334.0, 86.0, 90.0),
    ("D", 190.0, 46.0, 2.0),
    ("E", 60.0, 46.0, 0.0),
    ("F", 44.0, 84.0, 91.0),
    ("G", 194.0, 82.0, 90.0),
)
"""Strips: where the corner of each lies, and how it is turned, in degrees."""

_SQUARE: Final = 8.0


def on_paper() -> str:
    """A draft with strips round it, what is measured, and where the photos are taken from."""
    canvas = Canvas("A draft on paper: strips round it, one length measured, four photos", 486.0)
    canvas.text(12, 24, "1. Six strips round it, one on it", bold=True)
    paper = [(14, 34), (348, 34), (348, 262), (14, 262)]
    canvas.line(paper, GREY, 0.8, fill="#fbf8f0", closed=True)
    for outline, waist in _halves(_draft((62.0, 88.0, 240.0, 124.0))):
        canvas.line(outline, INK, 1.3)
        canvas.line(waist, RED, 1.3)
    crosses = {name: _strip(canvas, name, (x, y), turn) for name, x, y, turn in _STRIPS}
    ends = crosses["A"], crosses["D"]
    canvas.line(ends, BLUE, 1.4, dash="5 3")
    for end in ends:
        canvas.dot(end, 3.0, BLUE)
    canvas.text(12, 284, "2. From cross to cross: A to D 612.5 mm", bold=True, colour=BLUE)
    canvas.text(12, 314, "3. Four photos, nothing moved between them", bold=True)
    table, middle = 440.0, 180.0
    canvas.line([(40, table), (320, table)], INK, 2.0)
    canvas.line([(100, table - 3), (260, table - 3)], ORANGE, 2.5)
    for turn in (-22.0, 0.0, 22.0):
        _camera(canvas, (middle, table), turn)
    words = ["one straight from above, two tilted to the sides,", "one tilted towards you"]
    canvas.text(12, 462, words, size=11)
    return canvas.svg()


def _halves(draft: Sequence[tuple[Curve, Curve]]) -> Iterable[tuple[Curve, Curve]]:
    """The draft with room for a strip in its middle."""
    for place, pair in enumerate(draft):
        by = -13.0 if 2 * place < len(draft) else 13.0
        move = np.array([[1.0, 0.0, by], [0.0, 1.0, 0.0]])
        yield pair[0].transformed(move), pair[1].transformed(move)


def _strip(canvas: Canvas, name: str, at: tuple[float, float], turn: float) -> FloatArray:
    """A strip with its squares and letter; where its cross is."""
    angle = math.radians(turn)
    along = np.array([math.cos(angle), math.sin(angle)])
    down = np.array([-along[1], along[0]])

    def spot(x: float, y: float) -> FloatArray:
        return np.array(at) + _SQUARE * (x * along + y * down)

    box = [spot(0, 0), spot(13, 0), spot(13, 3), spot(0, 3)]
    canvas.line(box, GREY, 0.6, fill="#ffffff", closed=True)
    for row in range(3):
        for column in range(row % 2, 12, 2):
            square = [spot(column + i, row + j) for i, j in ((0, 0), (1, 0), (1, 1), (0, 1))]
            canvas.line(square, "none", fill="#444444", closed=True)
    x, y = spot(12.5, 0.9)
    canvas.text(float(x), float(y) + 3.5, name, size=11, anchor="middle", bold=True)
    return spot(12.5, 2.1)


def _camera(canvas: Canvas, foot: tuple[float, float], turn: float) -> None:
    """A telephone that looks at a place, turned so many degrees from straight above it."""
    angle = math.radians(turn)
    away = np.array([math.sin(angle), -math.cos(angle)])
    side = np.array([-away[1], away[0]])
    at = np.array(foot) + 98.0 * away
    canvas.line([at, np.array(foot)], GREY, 0.7, dash="3 3")
    body = [at + 13 * side, at - 13 * side, at - 13 * side + 5 * away, at + 13 * side + 5 * away]
    canvas.line(body, INK, 1.0, fill=PALE, closed=True)
    canvas.dot(at, 2.4, INK)
