"""Labels on panels: large enough to be read at arm's length, inside the stitch line."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np

from ..outline import Curve, FloatArray
from ..sheets.lettering import width
from ..sheets.sheet import Label

NAME_SIZE_MM: Final = 11.0
TEXT_SIZE_MM: Final = 6.0
SMALLEST_MM: Final = 3.2
"""Capitals of 2.3 mm: about what is read easily at 70 cm (from memory: 1/300 of the distance
for x-height); smaller only where a panel has no room."""

LABEL_FLATNESS_MM: Final = 0.1
"""Flatness of the outline within which a label is set."""

_LINE: Final = 1.25
WIDEST_FACE: Final = 1.23
"""A drawing program takes the first face of `svg_writer.FONT_FAMILY` that it has. The widest of
them, DejaVu Sans Bold, is 1.18 to 1.23 times as wide as the face that words are measured by, on
names of the samples; words as large as the measured face allows would hide the stitch line."""

_NO_WIDTH: Final = 0.1
"""For a name of nothing that is drawn."""

_CLEAR_MM: Final = 5.0
_STRIP_MM: Final = 18.0
"""Room that the lines of a label need to each side of their middle, at most."""
_STRIPS: Final = np.linspace(-1.0, 1.0, 7)


def panel_labels(
    panel: str,
    outline: Curve,
    taken: Sequence[tuple[float, float]],
    lines: Sequence[str],
) -> list[Label]:
    """Place lines of text, the first large and bold, in the roomiest part of a panel.

    Parameters
    ----------
    panel : str
        Panel name, for the labels' own record.
    outline : Curve
        Stitch line on the sheet, in mm.
    taken : sequence of (float, float)
        Bands of sheet y that hold level lines or drafted text.
    lines : sequence of str
    """
    points = outline.flatten(LABEL_FLATNESS_MM)
    top, bottom = float(points[:, 1].min()), float(points[:, 1].max())
    middle_of_panel = 0.5 * (top + bottom)
    choices = []
    bands = _free_bands(top, bottom, taken)
    for (high, low), (x, room) in zip(bands, _rooms(points, bands), strict=True):
        middle = 0.5 * (high + low)
        sizes = _sizes(lines, room, low - high - 2.0)
        # Of two places with like letters take the one nearer the middle of the panel.
        merit = (round(sum(sizes), 0), -abs(middle - middle_of_panel))
        choices.append((merit, x, middle, sizes))
    _, x, middle, sizes = max(choices, key=lambda choice: choice[0])
    return _stack(panel, lines, sizes, x, middle)


def _free_bands(
    top: float, bottom: float, taken: Sequence[tuple[float, float]]
) -> list[tuple[float, float]]:
    """What is left of a stretch between the bands that are taken, never nothing."""
    free, at = [], top
    for first, last in sorted(taken):
        if at + 1.0 < first < bottom:
            free.append((at, first))
        at = max(at, last)
    if at + 1.0 < bottom:
        free.append((at, bottom))
    return free or [(top, bottom)]


def _rooms(points: FloatArray, bands: Sequence[tuple[float, float]]) -> list[tuple[float, float]]:
    """Centre and width of the clear strip through a panel round the middle of each band."""
    highs, lows = np.array(bands).T
    reach = np.minimum(0.5 * (lows - highs), _STRIP_MM)
    levels = 0.5 * (highs + lows)[:, None] + reach[:, None] * _STRIPS
    rooms = []
    for left, right in zip(*_clear(points, levels), strict=True):
        if not np.isfinite(left) or right <= left:
            rooms.append((float(points[:, 0].mean()), 1.0))
        else:
            rooms.append((0.5 * (left + right), max(right - left - 2.0 * _CLEAR_MM, 1.0)))
    return rooms


def _clear(points: FloatArray, levels: FloatArray) -> tuple[list[float], list[float]]:
    """The stretch of x inside a polygon at every one of k heights, for each row of them.

    Parameters
    ----------
    points : ndarray, shape (m, 2)
    levels : ndarray, shape (rows, k)
    """
    (ax, ay), (bx, by) = points[:-1].T, points[1:].T
    heights = levels.reshape(-1, 1)
    below, above = ay - heights, by - heights
    level, edge = np.nonzero(below * above < 0.0)
    t = below[level, edge] / (ay - by)[edge]
    x = ax[edge] + t * (bx - ax)[edge]
    low, high = np.full(len(heights), np.inf), np.full(len(heights), -np.inf)
    np.minimum.at(low, level, x)
    np.maximum.at(high, level, x)
    # A level that crosses nothing, or only touches a corner, tells nothing.
    nothing = np.bincount(level, minlength=len(heights)) < 2
    low[nothing], high[nothing] = -np.inf, np.inf
    return low.reshape(levels.shape).max(axis=1).tolist(), high.reshape(levels.shape).min(
        axis=1
    ).tolist()


def _sizes(lines: Sequence[str], room: float, height: float) -> list[float]:
    """Font size of each line: as large as it may be, as small as the room asks."""
    sizes = []
    for k, line in enumerate(lines):
        largest = NAME_SIZE_MM if k == 0 else TEXT_SIZE_MM
        sizes.append(min(largest, room / (WIDEST_FACE * max(width(line, bold=k == 0), _NO_WIDTH))))
    squeeze = min(1.0, height / (_LINE * sum(sizes)))
    return [max(size * squeeze, SMALLEST_MM) for size in sizes]


def _stack(
    panel: str, lines: Sequence[str], sizes: Sequence[float], x: float, middle: float
) -> list[Label]:
    y = middle - 0.5 * _LINE * sum(sizes)
    labels = []
    for k, (line, size) in enumerate(zip(lines, sizes, strict=True)):
        y += _LINE * size
        at = np.array([x, y - 0.25 * size])
        labels.append(Label(line, at, size, align="middle", bold=k == 0, panel=panel))
    return labels
