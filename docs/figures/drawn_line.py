"""A line that was drawn beside an edge, and the edge that comes of it."""

from __future__ import annotations

from typing import Final

import numpy as np
import sample
from canvas import BLUE, GREEN, GREY, RED, Canvas

from panelshift import alter_pattern
from panelshift.outline import Curve
from panelshift.shift.drawn_alterations import drawn_alterations

PANEL: Final = "3 side front"
TIMES: Final = 0.62
OUT_MM: Final = 14.0
"""More than a fitting finds as a rule: to be seen."""


def figure() -> str:
    """Draw it."""
    draft = sample.job().pattern
    old = draft[PANEL]
    edge = old.frame.to_panel(old.edge("back").flatten())
    bottom, waist = edge[0], (np.interp(0.0, edge[:, 1], edge[:, 0]), 0.0)
    middle = np.array([np.interp(-90.0, edge[:, 1], edge[:, 0]) + 8.0, -90.0])
    drawn = Curve.polyline(
        old.frame.to_sheet(np.array([waist, middle, bottom + np.array([OUT_MM, 0.0])]))
    )
    new = alter_pattern(draft, drawn_alterations(draft, [("line", drawn)])).pattern[PANEL]
    canvas = Canvas("A line beside a side edge, drawn in the layer of the fitting", 300.0)
    low = old.outline.bounds()[0]
    for left, panel, words in ((50.0, old, "drawn"), (210.0, new, "altered")):
        matrix = np.column_stack([TIMES * np.eye(2), np.array([left, 44.0]) - TIMES * low])
        canvas.line(old.outline.transformed(matrix), GREY, 1.0, dash="4 3")
        canvas.line(panel.outline.transformed(matrix), BLUE, 1.4)
        for level in panel.level_lines:
            canvas.line(level.curve.transformed(matrix), GREEN, 0.6)
        if panel is old:
            canvas.line(drawn.transformed(matrix), RED, 1.8)
        canvas.text(left + 45.0, 28.0, words, anchor="middle", bold=True)
    return canvas.svg()
