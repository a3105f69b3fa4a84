"""The head of a sheet: what it is, test squares, and cautions."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np

from ..outline import Curve, FloatArray
from ..sheets.sheet import Label, SheetLayer, Stroke
from ..units import MM_PER_INCH

HEAD_MM: Final = 84.0
"""Height kept free for the head."""

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


def head(title: str, lines: Sequence[str]) -> tuple[list[Stroke], list[Label]]:
    """Test squares, title, lines of explanation and cautions, from the sheet's top left."""
    strokes, labels = ruler_squares(_MARGIN, _MARGIN)
    x = _MARGIN + sum(size + 8.0 for size, _ in _SQUARES)
    y = _MARGIN + 9.0
    labels.append(Label(title, np.array([x, y]), 10.0, bold=True))
    for line in lines:
        y += 7.5
        labels.append(Label(line, np.array([x, y]), 5.0))
    y = _MARGIN + 2.0 * MM_PER_INCH + 6.5
    for line in CAUTION:
        labels.append(Label(line, np.array([_MARGIN, y]), 4.0))
        y += 5.0
    return strokes, labels


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
