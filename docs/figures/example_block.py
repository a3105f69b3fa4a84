"""The block of docs/examples/parametric_block.py, with what each panel turns at the waist."""

from __future__ import annotations

import numpy as np
from canvas import GREY, Canvas
from parametric_block import BODY, INVENTED, draft
from rows import draw_row

from panelshift.body import infer_classes
from panelshift.body.turn import turn_of_cloth

TITLE = "The drafted block: six panels with their bust, waist and hip lines"


def figure() -> str:
    """Draw it."""
    pattern = draft(INVENTED)
    classes = infer_classes(np.array([panel.waist.width for panel in pattern.panels]))
    turn = turn_of_cloth(pattern, BODY, classes, gap=INVENTED.gap)
    canvas = Canvas(TITLE, 290.0)
    names = [panel.name for panel in pattern.panels]
    matrix, bottom = draw_row(canvas, pattern, names, 0.52, 56.0)
    for index, panel in enumerate(pattern.panels):
        x = matrix[0] @ [*panel.frame.origin, 1.0]
        angle = f"{np.degrees(turn.angle_at(index, 0.0)):.1f}°"
        canvas.text(float(x), bottom + 18.0, angle, anchor="middle")
    words = "what each panel turns through at the waist"
    canvas.text(180, bottom + 40.0, words, size=11, anchor="middle", colour=GREY)
    return canvas.svg()
