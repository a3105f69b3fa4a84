"""The top of a draft lowered at centre front and raised at the side."""

from __future__ import annotations

from typing import Final

import numpy as np
import sample
from canvas import GREEN, GREY, RED, Canvas

from panelshift import EndAlteration, alter_pattern

AMOUNT: Final = {"centre front": -14.0, "3 to 4": 12.0, "5 to 6": 0.0}
TIMES: Final = 0.42
SPACE: Final = 9.0
SHOWN: Final = 150.0
"""How far down the page panels are drawn."""


def figure() -> str:
    """Draw it."""
    draft = sample.job().pattern
    found = alter_pattern(draft, [EndAlteration("top", AMOUNT)]).pattern
    canvas = Canvas("The top lowered by 14 mm at centre front, raised by 12 at 3 to 4", 190.0)
    x = 14.0
    for number, (old, new) in enumerate(zip(draft, found, strict=True), start=1):
        low, high = new.outline.bounds()
        waist = new.frame.origin[1]
        step = np.array([x - TIMES * low[0], 120.0 - TIMES * waist])
        matrix = np.column_stack([TIMES * np.eye(2), step])
        for panel, colour, dash in ((old, GREY, "3 2"), (new, RED, "")):
            for edge in ("front", "top", "back"):
                curve = panel.edge(edge).transformed(matrix)
                line = curve.points(np.linspace(0.0, len(curve), 200))
                canvas.line(line[line[:, 1] <= SHOWN], colour, 1.3, dash=dash)
        for level in new.level_lines:
            if level.height >= 0.0:
                canvas.line(level.curve.transformed(matrix), GREEN, 0.6)
        canvas.text(x + 0.5 * TIMES * (high[0] - low[0]), 172.0, str(number), anchor="middle")
        x += TIMES * (high[0] - low[0]) + SPACE
    return canvas.svg()
