"""Labels on panels: large enough to be read at arm's length, inside the stitch line."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from ..outline import Curve, FloatArray
from ..outline.bezier import IntArray
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


@dataclass(frozen=True, eq=False)
class Room:
    """Where a panel's labels may stand, and what they say.

    Parameters
    ----------
    panel : str
        Panel name, for the labels' own record.
    outline : Curve
        Stitch line on the sheet, in mm.
    taken : list of (float, float)
        Bands of sheet y that hold level lines or drafted text.
    """

    panel: str
    outline: Curve
    taken: list[tuple[float, float]]
    lines: Sequence[str]


def panel_labels(rooms: Sequence[Room]) -> list[list[Label]]:
    """Lines of text for each panel, the first large and bold, where it is roomiest."""
    if not rooms:
        return []
    polygons = [room.outline.flatten(LABEL_FLATNESS_MM) for room in rooms]
    rises = [(float(points[:, 1].min()), float(points[:, 1].max())) for points in polygons]
    bands = [_free_bands(*rise, room.taken) for rise, room in zip(rises, rooms, strict=True)]
    strips = iter(_strips(polygons, bands))
    result = []
    for room, (top, bottom), own in zip(rooms, rises, bands, strict=True):
        middle_of_panel = 0.5 * (top + bottom)
        widths = _widths(room.lines)
        choices = []
        for high, low in own:
            x, clear = next(strips)
            middle = 0.5 * (high + low)
            sizes = _sizes(widths, clear, low - high - 2.0)
            # Of two places with like letters take the one nearer the middle of the panel.
            merit = (round(sum(sizes), 0), -abs(middle - middle_of_panel))
            choices.append((merit, x, middle, sizes))
        _, x, middle, sizes = max(choices, key=lambda choice: choice[0])
        result.append(_stack(room.panel, room.lines, sizes, x, middle))
    return result


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


def _strips(
    polygons: Sequence[FloatArray], bands: Sequence[Sequence[tuple[float, float]]]
) -> list[tuple[float, float]]:
    """Centre and width of the clear strip through a panel round the middle of each of its bands."""
    owner = np.repeat(np.arange(len(bands)), [len(own) for own in bands])
    highs, lows = np.array([band for own in bands for band in own]).T
    reach = np.minimum(0.5 * (lows - highs), _STRIP_MM)
    levels = 0.5 * (highs + lows)[:, None] + reach[:, None] * _STRIPS
    strips = []
    for panel, left, right in zip(owner.tolist(), *_clear(polygons, owner, levels), strict=True):
        if not np.isfinite(left) or right <= left:
            strips.append((float(polygons[panel][:, 0].mean()), 1.0))
        else:
            strips.append((0.5 * (left + right), max(right - left - 2.0 * _CLEAR_MM, 1.0)))
    return strips


def _clear(
    polygons: Sequence[FloatArray], owner: IntArray, levels: FloatArray
) -> tuple[list[float], list[float]]:
    """The stretch of x inside a polygon at every one of k heights, for each row of them.

    Levels have shape (rows, k); the owner of each row is the number of its polygon.
    """
    starts = np.concatenate([points[:-1] for points in polygons])
    ends = np.concatenate([points[1:] for points in polygons])
    sizes = np.array([len(points) - 1 for points in polygons])
    # Every height with every edge of its polygon.
    heights, own = levels.ravel(), np.repeat(owner, levels.shape[1])
    counts = sizes[own]
    before = np.cumsum(counts) - counts
    first = (np.cumsum(sizes) - sizes)[own] - before
    level = np.repeat(np.arange(len(heights)), counts)
    edge = np.arange(len(level)) + np.repeat(first, counts)
    at = np.repeat(heights, counts)
    crossing = (starts[edge, 1] - at) * (ends[edge, 1] - at) < 0.0
    level, edge = level[crossing], edge[crossing]
    (ax, ay), (bx, by) = starts[edge].T, ends[edge].T
    t = (ay - heights[level]) / (ay - by)
    x = ax + t * (bx - ax)
    low, high = np.full(len(heights), np.inf), np.full(len(heights), -np.inf)
    np.minimum.at(low, level, x)
    np.maximum.at(high, level, x)
    # A level that crosses nothing, or only touches a corner, tells nothing.
    nothing = np.bincount(level, minlength=len(heights)) < 2
    low[nothing], high[nothing] = -np.inf, np.inf
    shape = levels.shape
    return low.reshape(shape).max(axis=1).tolist(), high.reshape(shape).min(axis=1).tolist()


def _widths(lines: Sequence[str]) -> list[float]:
    """Width of each line in the widest face, as a part of the font size."""
    return [WIDEST_FACE * max(width(line, bold=k == 0), _NO_WIDTH) for k, line in enumerate(lines)]


def _sizes(widths: Sequence[float], room: float, height: float) -> list[float]:
    """Font size of each line: as large as it may be, as small as the room asks."""
    sizes = [
        min(NAME_SIZE_MM if k == 0 else TEXT_SIZE_MM, room / each) for k, each in enumerate(widths)
    ]
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
