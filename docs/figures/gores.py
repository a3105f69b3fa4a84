"""A gore between the two panels that it is set in, side by side as they are sewn."""

from __future__ import annotations

from typing import Final

import numpy as np
import sample
from canvas import BLUE, GREEN, GREY, RED, Canvas

SHOWN: Final = ("2 side front", "hip gore", "3 side back")
TIMES: Final = 0.92
TALL: Final = 252.0


def figure() -> str:
    """Draw it."""
    pattern = sample.gored()
    canvas = Canvas("A hip gore between side front and side back, below the waist", TALL)
    waist, left = 56.0, 46.0
    ends = []
    for name in SHOWN:
        panel = pattern[name]
        # Panel coordinates, so that all three stand at their heights; cut off above the waist.
        outline = panel.outline.transformed(panel.frame.matrix)
        low, high = outline.bounds()
        scale = np.array([[TIMES, 0.0, left - TIMES * low[0]], [0.0, -TIMES, waist]])
        for edge, run in panel.runs():
            if edge == "top":
                continue
            points = run.transformed(panel.frame.matrix).flatten(0.1)
            points = points[points[:, 1] <= 36.0]
            canvas.line(points @ scale[:, :2].T + scale[:, 2], BLUE, 1.4)
        for level in panel.level_lines:
            if level.height <= 0.0 and level.name != "high hip":
                points = panel.frame.to_panel(level.curve.flatten()) @ scale[:, :2].T
                canvas.line(points + scale[:, 2], GREEN, 0.6)
        for tip in panel.tips:
            if tip.piece == SHOWN[1]:
                ends.append(scale[:, :2] @ panel.frame.to_panel(tip.point) + scale[:, 2])
        if panel.pointed:
            tip_at = panel.frame.to_panel(panel.edge("front").end)
            ends.append(scale[:, :2] @ tip_at + scale[:, 2])
        middle = left + 0.5 * TIMES * float(high[0] - low[0])
        canvas.text(middle, waist + TIMES * 118.0, name[name.find(" ") + 1 :], anchor="middle")
        left += TIMES * float(high[0] - low[0]) + 8.0
    for point in ends:
        canvas.line(
            point + 3.0 * np.array([(-1, 0), (0, 1), (1, 0), (0, -1)]), RED, 1.2, closed=True
        )
    canvas.line(np.array([ends[0], ends[2]]), GREY, 0.7, dash="3 2")
    canvas.text(14.0, 20.0, "tip: three pieces are sewn together here", bold=True)
    canvas.text(14.0, TALL - 34.0, "From the tip down each edge of the gore is as")
    canvas.text(14.0, TALL - 20.0, "long as the panel's edge that it is sewn to.")
    return canvas.svg()
