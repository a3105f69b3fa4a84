"""Compose a sheet: parts in rows, without overlap, under a head if it has one."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import chain
from typing import Final

import numpy as np

from ..outline import Curve, FloatArray
from ..sheets.lettering import wrapped
from ..sheets.sheet import Label, Sheet, SheetLayer, Stroke, whole_mm
from ..units import MM_PER_INCH
from .parts import Part, moved_parts, part_boxes

_TITLE_MM: Final = 10.0
_LINE_MM: Final = 5.0
_CAUTION_MM: Final = 4.0
NARROWEST_MM: Final = 330.0
"""Narrowest sheet that holds the head's lines of text."""

CAUTION: Final = (
    "Sharp tools: cut away from your hands, and keep pins counted.",
    "Tight lacing and steel bones can harm: lace by degrees, stop at pain or numbness,",
    "and ask a licensed health professional before wearing a corset tightly.",
)

_MARGIN = 15.0
_SQUARES = ((50.0, "50 mm"), (2.0 * MM_PER_INCH, "2 in"))


def ruler_squares(x: float, y: float, *, stacked: bool = False) -> tuple[list[Stroke], list[Label]]:
    """Squares of 50 mm and 2 in, side by side or one below the other."""
    strokes: list[Stroke] = []
    labels: list[Label] = []
    for size, name in _SQUARES:
        corners = np.array([[0.0, 0.0], [size, 0.0], [size, size], [0.0, size]])
        square = Curve.polyline(corners + np.array([x, y]), closed=True)
        strokes.append(Stroke("test-squares", square))
        middle: FloatArray = np.array([x + 0.5 * size, y + 0.5 * size])
        below: FloatArray = middle + np.array([0.0, 8.0])
        labels.append(Label(name, middle, 8.0, align="middle", bold=True))
        labels.append(Label("measure me", below, 4.5, align="middle"))
        x, y = (x, y + size + 4.0) if stacked else (x + size + 8.0, y)
    return strokes, labels


def head(
    title: str, lines: Sequence[str], across: float
) -> tuple[list[Stroke], list[Label], float]:
    """Test squares, title, lines of explanation and cautions, from the sheet's top left.

    *across*: width of the sheet in mm. Returns the height in mm as well.
    """
    strokes, labels = ruler_squares(_MARGIN, _MARGIN)
    x = _MARGIN + sum(size + 8.0 for size, _ in _SQUARES)
    y = _MARGIN + 9.0
    labels.append(Label(title, np.array([x, y]), _TITLE_MM, bold=True))
    # By the measured face: a drawing program may take one that is wider, over free paper.
    room = (across - x - _MARGIN) / _LINE_MM
    for line in chain.from_iterable(wrapped(whole, room) for whole in lines):
        y += 1.5 * _LINE_MM
        labels.append(Label(line, np.array([x, y]), _LINE_MM))
    y = max(_MARGIN + 2.0 * MM_PER_INCH, y) + 6.5
    for line in CAUTION:
        labels.append(Label(line, np.array([_MARGIN, y]), _CAUTION_MM))
        y += 1.25 * _CAUTION_MM
    # Below the last line's letters.
    return strokes, labels, y - 0.825 * _CAUTION_MM


def legend(layers: Sequence[SheetLayer], x: float, y: float) -> tuple[list[Stroke], list[Label]]:
    """A short line in each layer's style with its name beside it, in columns of four."""
    strokes: list[Stroke] = []
    labels: list[Label] = []
    for place, name in enumerate(layer.name for layer in layers):
        left, base = x + 110.0 * (place // 4), y + 7.5 * (place % 4)
        line = Curve.polyline([(left, base - 1.6), (left + 32.0, base - 1.6)])
        strokes.append(Stroke("stitch-line", line, layer=name))
        labels.append(Label(name, np.array([left + 36.0, base]), 5.0))
    return strokes, labels


SPACE_MM: Final = 15.0
"""Room between neighbouring cut lines."""


Arrange = Callable[[Sequence[FloatArray]], tuple[list[FloatArray], float, float]]
"""Takes the parts' boxes; returns a place for each, and the width and height used, in mm."""


def rows(boxes: Sequence[FloatArray], width: float) -> tuple[list[FloatArray], float, float]:
    """Place boxes in rows from left to right, their origins level within each row.

    *boxes*: sequence of ndarray, shape (2, 2). ((xmin, ymin), (xmax, ymax)) of each panel about its
    waist's middle, in mm. *width*: width of the sheet in mm; a single wider box gets a row of its
    own.

    Returns: *places*, list of ndarray, shape (2,): where the origin of each box goes; *used_width,
    used_height*: in mm, with a margin of `SPACE_MM` all round.
    """
    lines: list[list[int]] = [[]]
    run = SPACE_MM
    for index, box in enumerate(boxes):
        size = float(box[1, 0] - box[0, 0])
        if lines[-1] and run + size + SPACE_MM > width:
            lines.append([])
            run = SPACE_MM
        lines[-1].append(index)
        run += size + SPACE_MM
    places: list[FloatArray] = [np.zeros(2)] * len(boxes)
    top, widest = SPACE_MM, 0.0
    for line in lines:
        above = max(-float(boxes[i][0, 1]) for i in line)
        below = max(float(boxes[i][1, 1]) for i in line)
        run = SPACE_MM
        for i in line:
            places[i] = np.array([run - float(boxes[i][0, 0]), top + above])
            run += float(boxes[i][1, 0] - boxes[i][0, 0]) + SPACE_MM
        widest = max(widest, run)
        top += above + below + SPACE_MM
    return places, widest, top


def rowed(width: float) -> Arrange:
    """Rows no wider than a width in mm: see `rows`."""
    return lambda boxes: rows(boxes, width)


def compose(
    title: str,
    about: Sequence[str],
    parts: Sequence[Part],
    arrange: Arrange,
    *,
    headed: bool = True,
) -> Sheet:
    """Place parts on a sheet, under a head if it is to have one."""
    places, width, height = arrange(part_boxes(parts))
    strokes: list[Stroke] = []
    labels: list[Label] = []
    top = 0.0
    if headed:
        width = max(width, NARROWEST_MM)
        strokes, labels, top = head(title, about, width)
    down = np.array([0.0, top])
    for moved in moved_parts(parts, [place + down for place in places]):
        strokes += moved.strokes
        labels += moved.labels
    size = whole_mm(width), whole_mm(height + top)
    return Sheet(title, *size, tuple(strokes), tuple(labels))
