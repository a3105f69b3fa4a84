"""Where each panel lies on a sheet: upright on the grain, in rows, without overlap."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np

from ..outline import FloatArray
from ..pattern.panel import Panel

SPACE_MM: Final = 15.0
"""Room between neighbouring cut lines."""


def upright(panel: Panel) -> FloatArray:
    """Affine map, shape (2, 3), that turns a panel so that its grain runs up the sheet.

    The grain is the drawn grainline, or the panel's own vertical where none is drawn. Only
    a turn about the waist's middle: no panel is ever mirrored.
    """
    up = panel.frame.up
    for mark in panel.marks:
        if mark.kind == "grainline":
            corners = mark.curve.vertices
            # The longest stretch is the line itself, the others its arrow heads.
            steps = np.diff(corners, axis=0)
            step = steps[int(np.argmax(np.hypot(steps[:, 0], steps[:, 1])))]
            if np.hypot(*step) > 0.0:
                up = step / np.hypot(*step) * (1.0 if step @ panel.frame.up >= 0.0 else -1.0)
                break
    # The turn that carries `up` to (0, -1), which is up on a sheet with y downwards.
    turn = np.array([[-up[1], up[0]], [-up[0], -up[1]]])
    if np.abs(turn - np.eye(2)).max() < 1e-9:
        turn = np.eye(2)
    return np.column_stack([turn, -turn @ panel.frame.origin])


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
