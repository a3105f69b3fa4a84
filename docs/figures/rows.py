"""A half pattern's panels beside each other."""

from __future__ import annotations

import numpy as np
from canvas import BLUE, GREY, WIDTH, Canvas

from panelshift import Pattern
from panelshift.outline import FloatArray


def draw_row(
    canvas: Canvas,
    pattern: Pattern,
    names: list[str],
    scale: float,
    top: float,
    *,
    margin: float = 0.0,
) -> tuple[FloatArray, float]:
    """Draw all panels with their level lines, a name above each.

    Parameters
    ----------
    canvas : Canvas
    pattern : Pattern
    names : list of str
        What stands above each panel.
    scale, top : float
        Of the page's units for each mm, and where the panels begin.
    margin : float
        Left free at the left.

    Returns
    -------
    matrix : ndarray, shape (2, 3)
        From the sheet to the page.
    bottom : float
    """
    bounds = [panel.outline.bounds() for panel in pattern.panels]
    low = np.min([box[0] for box in bounds], axis=0)
    high = np.max([box[1] for box in bounds], axis=0)
    left = 0.5 * (WIDTH + margin - scale * (high[0] - low[0]))
    matrix = np.array([[scale, 0.0, left - scale * low[0]], [0.0, scale, top - scale * low[1]]])
    for panel, name in zip(pattern.panels, names, strict=True):
        for level in (panel.waist, *panel.levels):
            canvas.line(level.curve.transformed(matrix), GREY, 0.8)
        canvas.line(panel.outline.transformed(matrix), BLUE, 1.5)
        x = matrix[0] @ [*panel.frame.origin, 1.0]
        canvas.text(float(x), top - 12.0, name, anchor="middle", bold=True)
    canvas.text(12, 20, "centre front", size=11, colour=GREY)
    canvas.text(348, 20, "centre back", size=11, anchor="end", colour=GREY)
    return matrix, top + scale * float(high[1] - low[1])
