"""Two panels in all sizes of docs/examples/size_range.py, laid on each other at the waist."""

from __future__ import annotations

from typing import Final

import numpy as np
from canvas import BLUE, GREEN, GREY, ORANGE, RED, Canvas
from size_range import SIZES, STACK, size_range

TITLE = "Two panels in four sizes, laid on each other at the middle of the waist"
COLOURS: Final = (GREEN, BLUE, ORANGE, RED)
WAIST_Y: Final = 222.0
PX_PER_MM: Final = 0.95


def figure() -> str:
    """Draw it."""
    canvas = Canvas(TITLE, 440.0)
    sizes = size_range()
    for name, x in (("2 front", 92.0), ("4 side", 258.0)):
        canvas.text(x, 22, name, anchor="middle", bold=True)
        for shifted, colour in zip(sizes.values(), COLOURS, strict=True):
            pattern = shifted.layer(STACK.drafted).pattern
            panel = pattern.panels[pattern.index(name)]
            points = panel.frame.to_panel(panel.outline.flatten())
            canvas.line([x, WAIST_Y] + PX_PER_MM * points * [1.0, -1.0], colour, 1.3)
        ends = np.array([(x - 40.0, WAIST_Y), (x + 40.0, WAIST_Y)])
        canvas.line(ends, GREY, 0.8)
        canvas.text(x, WAIST_Y - 5.0, "waist", size=11, anchor="middle", colour=GREY)
    for place, ((size, waist), colour) in enumerate(zip(SIZES.items(), COLOURS, strict=True)):
        x = 12.0 + 88.0 * place
        canvas.line([(x, 420), (x + 16, 420)], colour, 2.0)
        canvas.text(x + 20, 424, f"{size} {waist:.0f}")
    return canvas.svg()
