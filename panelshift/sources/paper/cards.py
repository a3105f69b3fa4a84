"""The strips that lie round a draft when it is photographed: what is printed on each, and where."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from ...outline import FloatArray
from .rectified import opencv

SQUARE_MM: Final = 20.0
ACROSS: Final = 12
DOWN: Final = 3
"""Squares of a strip."""

MARKER_MM: Final = 15.0
"""A marker has six modules of 2.5 mm, and one more round it within its square."""

MODULE_MM: Final = 2.5
LENGTH_MM: Final = ACROSS * SQUARE_MM
WIDTH_MM: Final = DOWN * SQUARE_MM

TAB_MM: Final = 13.0
"""What the strip has beyond its last squares: its letter, and the cross to measure from."""

BORDER_MM: Final = 1.5
"""White left round a strip when it is cut out, so that no square is cut into."""

CROSS: Final = (LENGTH_MM + 6.5, 0.5 * WIDTH_MM)
"""Where the cross of every strip lies, in mm from the outer corner of its first black square."""

NAMES: Final = "ABCDEFGHI"
"""Letters of the strips, three to a page."""

_MARKERS: Final = ACROSS * DOWN // 2


def corners() -> FloatArray:
    """Where four squares meet, in mm along and across the strip, row by row, shape (22, 2)."""
    x, y = np.meshgrid(np.arange(1.0, ACROSS), np.arange(1.0, DOWN))
    found: FloatArray = SQUARE_MM * np.stack([x.ravel(), y.ravel()], axis=1)
    return found


def outline() -> FloatArray:
    """Corners of the paper of a strip that was cut out, in mm, in order round it, shape (4, 2)."""
    low = -BORDER_MM
    right, bottom = LENGTH_MM + TAB_MM, WIDTH_MM + BORDER_MM
    return np.array([(low, low), (right, low), (right, bottom), (low, bottom)])


def dictionary() -> Any:
    """The markers: 250 of 4 by 4 modules, of which the strips use the first 162."""
    aruco = opencv().aruco
    return aruco.getPredefinedDictionary(aruco.DICT_4X4_250)


def markers(name: str) -> range:
    """The numbers of a strip's markers."""
    first = NAMES.index(name) * _MARKERS
    return range(first, first + _MARKERS)


def board(name: str) -> Any:
    """The strip of a letter, as the library that finds it on photos has it."""
    ids = np.array(markers(name))
    return opencv().aruco.CharucoBoard((ACROSS, DOWN), SQUARE_MM, MARKER_MM, dictionary(), ids)


def modules(name: str) -> NDArray[np.bool_]:
    """Which modules of a strip are black, shape (24, 96), the first row at its top."""
    per_square = round(SQUARE_MM / MODULE_MM)
    image = board(name).generateImage((ACROSS * per_square, DOWN * per_square), marginSize=0)
    black: NDArray[np.bool_] = image < 128
    return black


def black_boxes(name: str) -> list[tuple[float, float, float, float]]:
    """What is black on a strip as boxes (x, y, wide, high) in mm, none on another.

    Runs of modules that stand alike in rows below each other are one box: printers leave hairs of
    white between boxes that only touch.
    """
    open_runs: dict[tuple[int, int], int] = {}
    boxes = []
    black = modules(name)
    for y, row in enumerate([*black, np.zeros(black.shape[1], dtype=bool)]):
        runs = set(_runs(row.tolist()))
        for run in [run for run in open_runs if run not in runs]:
            top = open_runs.pop(run)
            boxes.append((run[0], top, run[1] - run[0], y - top))
        for run in runs:
            open_runs.setdefault(run, y)
    return [tuple(MODULE_MM * value for value in box) for box in sorted(boxes)]  # type: ignore[misc]


def _runs(row: Sequence[bool]) -> list[tuple[int, int]]:
    """Stretches of a row that are black, each as where it begins and ends."""
    found, place = [], 0
    for black, group in itertools.groupby(row):
        end = place + len(list(group))
        if black:
            found.append((place, end))
        place = end
    return found
