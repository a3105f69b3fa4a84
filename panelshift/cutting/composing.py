"""Compose a sheet: parts in rows, without overlap, under a head if it has one."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Final

import numpy as np

from ..outline import FloatArray
from ..sheets.sheet import Sheet, whole_mm
from .header import HEAD_MM, NARROWEST_MM, head
from .parts import Part, moved_parts, part_boxes

SPACE_MM: Final = 15.0
"""Room between neighbouring cut lines."""


Arrange = Callable[[Sequence[FloatArray]], tuple[list[FloatArray], float, float]]
"""Takes the parts' boxes; returns a place for each, and the width and height used, in mm."""


def rows(boxes: Sequence[FloatArray], width: float) -> tuple[list[FloatArray], float, float]:
    """Place boxes in rows from left to right, their origins level within each row.

    Parameters
    ----------
    boxes : sequence of ndarray, shape (2, 2)
        ((xmin, ymin), (xmax, ymax)) of each panel about its waist's middle, in mm.
    width : float
        Width of the sheet in mm; a single wider box gets a row of its own.

    Returns
    -------
    places : list of ndarray, shape (2,)
        Where the origin of each box goes.
    used_width, used_height : float
        In mm, with a margin of `SPACE_MM` all round.
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
    strokes, labels = head(title, about) if headed else ([], [])
    down = np.array([0.0, HEAD_MM if headed else 0.0])
    for moved in moved_parts(parts, [place + down for place in places]):
        strokes += moved.strokes
        labels += moved.labels
    if headed:
        width, height = max(width, NARROWEST_MM), height + HEAD_MM
    return Sheet(title, whole_mm(width), whole_mm(height), tuple(strokes), tuple(labels))
