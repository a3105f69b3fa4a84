"""Three panels of a lining, and the one piece that they make, with its darts and without."""

from __future__ import annotations

from dataclasses import replace
from typing import Final

import numpy as np
import sample
from canvas import BLUE, GREEN, GREY, RED, Canvas

from panelshift.pattern.panel import Panel
from panelshift.shift.cut_in_one import pieces_of

PANELS: Final = ("4 side", "5 side back", "6 centre back")
SPACE: Final = 18.0
TIMES: Final = 0.58


def figure() -> str:
    """Draw it."""
    lining = sample.shifted().layers[0]
    shown: list[tuple[str, list[Panel]]] = [
        ("three panels", [lining.whole[name] for name in PANELS])
    ]
    for words, darts_from in (("in one, with darts", 3.0), ("in one, eased", 500.0)):
        fabric = replace(lining.fabric, cut_in_one=(PANELS,), darts_from=darts_from)
        _, (piece,) = pieces_of(lining.whole, fabric)
        shown.append((words, [piece.panel]))
    title = "Side, side back and centre back of a lining: as panels, and in one piece"
    canvas = Canvas(title, 480.0)
    for words, panels, left, down in (
        (*shown[0], 40.0, 12.0),
        (*shown[1], 14.0, 246.0),
        (*shown[2], 190.0, 246.0),
    ):
        x = left
        for panel in panels:
            low, high = panel.outline.bounds()
            step = np.array([x, down + 18.0]) - TIMES * low
            matrix = np.column_stack([TIMES * np.eye(2), step])
            canvas.line(panel.outline.transformed(matrix), BLUE, 1.4)
            for level in panel.level_lines:
                canvas.line(level.curve.transformed(matrix), GREEN, 0.6)
            for mark in panel.marks:
                if mark.kind == "dart":
                    canvas.line(mark.curve.transformed(matrix), RED, 1.2)
                if mark.kind == "grainline":
                    canvas.line(mark.curve.transformed(matrix), GREY, 0.7)
            x += TIMES * (high[0] - low[0]) + SPACE
        canvas.text(0.5 * (left + x - SPACE), down + 6.0, words, anchor="middle", bold=True)
    return canvas.svg()
