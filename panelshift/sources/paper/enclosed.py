"""What lines enclose: flooding the paper from outside leaves the panels dry.

In: ridges on the coarse grid. Out: for each closed figure the area inside its line, on that grid,
and where a second line runs round it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from .ink import Ink, Mask
from .rectified import opencv

REACH_MM: Final = 1.2
"""How thick walls are on each side of a line: holes of twice that are shut, and what they are worth
is measured along the line later."""

_LARGE_MM2: Final = 400.0
"""Less is a letter, a notch, or a place where lines cross."""

_LOOP_MM2: Final = 2.0
_WAIST_MM: Final = 8.0

_FRAME_MM: Final = 40.0
"""No allowance is as wide."""


@dataclass(frozen=True, eq=False)
class Figure:
    """A closed figure. *inside*: what the line that counts encloses, up to its middle, as a mask of
    the crop of the coarse grid whose first row and column are *corner*. *outer*: what a second line
    round it encloses; None if there is none. *parts*: how many large parts dark lines divide it
    into. *with_loops*: what it would be with each of the small loops beside it, such as a letter,
    a notch, or a corner that a line cuts off."""

    inside: Mask
    corner: tuple[int, int]
    outer: Mask | None
    parts: int
    with_loops: tuple[Mask, ...] = ()


def find_figures(ink: Ink, lines: Mask, reach_mm: float = REACH_MM) -> tuple[list[Figure], bool]:
    """Flood the paper; return the closed figures, and whether a frame lies round them all."""
    cv2 = opencv()
    reach = round(reach_mm / ink.cell)
    wall = cv2.dilate(lines.astype(np.uint8), _disc(cv2, reach))
    dry, outside = _flooded(cv2, wall, None)
    figures: list[Figure] = []
    framed = False
    for blob in _parts_of(cv2, dry, _LARGE_MM2 / ink.cell**2):
        kept = _figures_in(cv2, ink, wall, outside, blob, reach)
        if kept is not None:
            figures += kept
            continue
        # A frame: what lies in it is outside as well.
        framed = True
        within, beyond = _flooded(cv2, wall, blob)
        for inner in _parts_of(cv2, within, _LARGE_MM2 / ink.cell**2):
            figures += _figures_in(cv2, ink, wall, beyond, inner, reach) or []
    return figures, framed


@dataclass(frozen=True, eq=False)
class _Blob:
    """A dry part: its mask in a crop of the grid."""

    mask: Mask
    rows: slice
    columns: slice


def _disc(cv2: Any, radius: int) -> Any:
    return cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * radius + 1, 2 * radius + 1))


def _flooded(cv2: Any, wall: Any, frame: _Blob | None) -> tuple[Mask, Mask]:
    """What stays dry and what is flooded from the border of the picture, or from the largest room
    in a frame."""
    if frame is None:
        free = np.pad(wall == 0, 1, constant_values=True).astype(np.uint8)
        _, labels = cv2.connectedComponents(free, connectivity=4)
        wet = (labels == labels[0, 0])[1:-1, 1:-1]
        return ~wet, wet
    room = np.zeros(wall.shape, dtype=np.uint8)
    room[frame.rows, frame.columns] = frame.mask
    _, labels, stats, _ = cv2.connectedComponentsWithStats(room & (wall == 0), connectivity=4)
    wet = labels == 1 + int(np.argmax(stats[1:, cv2.CC_STAT_WIDTH]))
    # The frame's own line is no figure: only what lies away from the outside is left.
    rest = (room > 0) & ~wet
    _, parts = cv2.connectedComponents(rest.astype(np.uint8), connectivity=8)
    edge = cv2.dilate((room == 0).astype(np.uint8), np.ones((3, 3), np.uint8)) > 0
    rim = np.unique(parts[edge & rest])
    dry = rest & ~np.isin(parts, rim[rim > 0])
    return dry, wet


def _parts_of(cv2: Any, mask: Mask, least: float) -> list[_Blob]:
    _, labels, stats, _ = cv2.connectedComponentsWithStats(mask.astype(np.uint8), connectivity=8)
    found = []
    for number, (left, top, width, height, area) in enumerate(stats.tolist()):
        if number and area >= least:
            # A border of what is outside, where there is any.
            rows = slice(max(top - 2, 0), top + height + 2)
            columns = slice(max(left - 2, 0), left + width + 2)
            found.append(_Blob(labels[rows, columns] == number, rows, columns))
    return found


def _figures_in(
    cv2: Any, ink: Ink, wall: Any, outside: Mask, blob: _Blob, reach: int
) -> list[Figure] | None:
    """Figures of one dry part; None if it is a frame."""
    per_mm2 = 1.0 / ink.cell**2
    free = blob.mask & (wall[blob.rows, blob.columns] == 0)
    # A border: what touches the edge of the picture has an outside as well.
    distance = cv2.distanceTransform(
        np.pad(~outside[blob.rows, blob.columns], 1).astype(np.uint8), cv2.DIST_L2, 3
    )[1:-1, 1:-1]
    _, labels, stats, _ = cv2.connectedComponentsWithStats(free.astype(np.uint8), connectivity=4)
    rim, core = list[int](), list[int]()
    near = 2 * reach + 4
    for number in range(1, len(stats)):
        if stats[number, cv2.CC_STAT_AREA] < _LOOP_MM2 * per_mm2:
            continue
        closest = float(distance[labels == number].min())
        (rim if closest <= near else core).append(number)
    areas = {number: stats[number, cv2.CC_STAT_AREA] / per_mm2 for number in rim + core}
    large = [number for number in rim if areas[number] >= _LARGE_MM2]
    inner = [number for number in core if areas[number] >= _LARGE_MM2]
    if not large:
        return []
    corner = blob.rows.start, blob.columns.start
    red = ink.red_ridges.sure[blob.rows, blob.columns]
    groups = _parts_of(cv2, _joined(cv2, np.isin(labels, inner), reach), _LARGE_MM2 * per_mm2)
    placed = [_placed(group, labels.shape) for group in groups]
    # A closed line without a waistline of its own is a mark on the panel round it.
    placed = [mask for mask in placed if (mask & red).sum() * ink.cell >= _WAIST_MM]
    if not placed:
        loops = [number for number in rim if number not in large]
        found = []
        for group in _parts_of(cv2, _joined(cv2, np.isin(labels, large), reach), _LOOP_MM2):
            mask = _placed(group, labels.shape)
            parts = sum(bool((mask & (labels == number)).any()) for number in large)
            others = [_joined(cv2, mask | (labels == number), reach) for number in loops]
            others = [mask | more for more in others if len(_parts_of(cv2, more, 1.0)) == 1]
            found.append(Figure(mask, corner, None, parts, tuple(others)))
        return found
    whole = _joined(cv2, np.isin(labels, rim + core), reach)
    room = cv2.distanceTransform(np.pad(whole, 1).astype(np.uint8), cv2.DIST_L2, 5)[1:-1, 1:-1]
    apart = float(np.median(room[_edge(cv2, placed[0])]))
    if len(placed) > 1 or apart > _FRAME_MM / ink.cell:
        return None
    parts = sum(bool((placed[0] & (labels == number)).any()) for number in inner)
    return [Figure(placed[0], corner, whole, parts)]


def _placed(blob: _Blob, shape: tuple[int, ...]) -> Mask:
    mask = np.zeros(shape, dtype=bool)
    mask[blob.rows, blob.columns] = blob.mask
    return mask


def _edge(cv2: Any, mask: Mask) -> Mask:
    inner: Mask = cv2.erode(mask.astype(np.uint8), np.ones((3, 3), np.uint8)) == 0
    return mask & inner


def _joined(cv2: Any, cells: Mask, reach: int) -> Mask:
    """Cells grown to the middles of the lines round them, without holes and without what is
    narrow."""
    room = reach + 6
    grown = cv2.dilate(np.pad(cells, room).astype(np.uint8), _disc(cv2, reach + 1))
    found, _ = cv2.findContours(grown, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    filled = cv2.drawContours(np.zeros_like(grown), found, -1, 1, cv2.FILLED)
    filled = cv2.morphologyEx(filled, cv2.MORPH_CLOSE, _disc(cv2, 5))
    filled = cv2.erode(filled, _disc(cv2, 1))
    mask: Mask = filled[room:-room, room:-room] > 0
    return mask
