"""The sample draft as it is read: six panels of a half, with their level lines."""

from __future__ import annotations

import sample
from canvas import GREY, Canvas
from rows import draw_row

TITLE = "The sample draft: six panels from centre front to centre back, and their level lines"


def figure() -> str:
    """Draw it."""
    pattern = sample.job().pattern
    canvas = Canvas(TITLE, 240.0)
    names = [panel.name.split()[0] for panel in pattern.panels]
    matrix, _ = draw_row(canvas, pattern, names, 0.4, 58.0, margin=50.0)
    first = pattern.panels[0]
    for level in (first.waist, *first.levels):
        x, y = matrix @ [*level.curve.start, 1.0]
        canvas.text(float(x) - 5.0, float(y) + 4.0, level.name, size=11, anchor="end", colour=GREY)
    return canvas.svg()
