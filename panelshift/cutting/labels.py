"""Labels on panels: large enough to be read at arm's length, inside the stitch line."""

from __future__ import annotations

import unicodedata
from collections.abc import Sequence
from functools import lru_cache
from typing import Final

import numpy as np

from ..outline import Curve, FloatArray
from .sheet import Label

NAME_SIZE_MM: Final = 11.0
TEXT_SIZE_MM: Final = 6.0
SMALLEST_MM: Final = 3.2
"""Capitals of 2.3 mm: about what is read easily at 70 cm (from memory: 1/300 of the distance
for x-height); smaller only where a panel has no room."""

_ADVANCE: Final = 0.58
"""Mean width of a letter as a part of the font size in a bold sans serif face, from memory."""
_LINE: Final = 1.25
_CLEAR_MM: Final = 5.0
_STRIPS: Final = np.linspace(-1.0, 1.0, 7)


@lru_cache(maxsize=1024)
def text_width(text: str, size: float) -> float:
    """Estimated width in mm of text in a sans serif face.

    Characters that are wide by Unicode Standard Annex 11 (Japanese, Chinese, Korean) take a
    full square each.
    """
    letters = (1.0 if unicodedata.east_asian_width(ch) in "WF" else _ADVANCE for ch in text)
    return size * sum(letters)


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
    points = outline.flatten(0.1)
    top, bottom = float(points[:, 1].min()), float(points[:, 1].max())
    middle_of_panel = 0.5 * (top + bottom)
    choices = []
    for high, low in _free_bands(top, bottom, taken):
        middle = 0.5 * (high + low)
        x, width = _room(points, middle, 0.5 * (low - high))
        sizes = _sizes(lines, width, low - high - 2.0)
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


def _room(points: FloatArray, y: float, half: float) -> tuple[float, float]:
    """Centre and width of the clear strip through a panel round a height."""
    reach = min(half, 18.0)
    left, right = _clear(points, y + reach * _STRIPS)
    if not np.isfinite(left) or right <= left:
        return float(points[:, 0].mean()), 1.0
    return 0.5 * (left + right), max(right - left - 2.0 * _CLEAR_MM, 1.0)


def _clear(points: FloatArray, levels: FloatArray) -> tuple[float, float]:
    """The stretch of x that lies inside a polygon at every one of some heights it crosses."""
    (ax, ay), (bx, by) = points[:-1].T, points[1:].T
    below, above = ay - levels[:, None], by - levels[:, None]
    level, edge = np.nonzero(below * above < 0.0)
    if len(level) == 0:
        return -np.inf, np.inf
    t = below[level, edge] / (ay - by)[edge]
    x = ax[edge] + t * (bx - ax)[edge]
    starts = np.flatnonzero(np.diff(level, prepend=-1))
    # A level that only touches a corner tells nothing.
    whole = np.diff(starts, append=len(level)) >= 2
    left, right = np.minimum.reduceat(x, starts)[whole], np.maximum.reduceat(x, starts)[whole]
    return float(left.max(initial=-np.inf)), float(right.min(initial=np.inf))


def _sizes(lines: Sequence[str], width: float, height: float) -> list[float]:
    """Font size of each line: as large as it may be, as small as the room asks."""
    sizes = []
    for k, line in enumerate(lines):
        largest = NAME_SIZE_MM if k == 0 else TEXT_SIZE_MM
        sizes.append(min(largest, width / text_width(line, 1.0)))
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
