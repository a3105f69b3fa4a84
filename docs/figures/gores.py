"""A gore and what it is sewn to, side by side: two panels, or one with a slit."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np
import sample
from canvas import BLUE, GREEN, GREY, RED, Canvas

from panelshift.outline import FloatArray
from panelshift.pattern.panel import Panel

TIMES: Final = 0.92
TALL: Final = 252.0
WAIST: Final = 56.0


def figure() -> str:
    """A gore in a seam."""
    names = ("2 side front", "hip gore", "3 side back")
    canvas = Canvas("A hip gore between side front and side back, below the waist", TALL)
    ends = _drawn(canvas, [sample.drafted("gored")[name] for name in names], 46.0)
    canvas.line(np.array([ends[0], ends[2]]), GREY, 0.7, dash="3 2")
    canvas.text(14.0, 20.0, "tip: three pieces are sewn together here", bold=True)
    canvas.text(14.0, TALL - 34.0, "From the tip down each edge of the gore is as")
    canvas.text(14.0, TALL - 20.0, "long as the panel's edge that it is sewn to.")
    return canvas.svg()


def in_a_slit() -> str:
    """A gore in a slit."""
    names = ("2 side", "hip gore")
    canvas = Canvas("A panel with a slit, and the hip gore for it, below the waist", TALL)
    ends = _drawn(canvas, [sample.drafted("slit_gores")[name] for name in names], 70.0)
    canvas.line(np.array(ends), GREY, 0.7, dash="3 2")
    canvas.text(14.0, 20.0, "the slit ends where the gore's tip goes", bold=True)
    canvas.text(14.0, TALL - 34.0, "The slit is as long as each edge of the gore,")
    canvas.text(14.0, TALL - 20.0, "on the draft and on every layer.")
    return canvas.svg()


def _drawn(canvas: Canvas, panels: Sequence[Panel], left: float) -> list[FloatArray]:
    """Draw what lies below the waist from a place on; places of tips, which are marked."""
    ends = []
    for panel in panels:
        # Panel coordinates, so that all stand at their heights; cut off above the waist.
        outline = panel.outline.transformed(panel.frame.matrix)
        low, high = outline.bounds()
        scale = np.array([[TIMES, 0.0, left - TIMES * low[0]], [0.0, -TIMES, WAIST]])
        slits = [slit for slit in panel.slits if slit.opens_at == "bottom"]
        edges = [run for edge, run in panel.runs() if edge != "top"]
        for run in (*edges, *(slit.curve for slit in slits)):
            points = run.transformed(panel.frame.matrix).flatten(0.1)
            points = points[points[:, 1] <= 36.0]
            canvas.line(points @ scale[:, :2].T + scale[:, 2], BLUE, 1.4)
        for level in panel.level_lines:
            if level.height <= 0.0 and level.name != "high hip":
                points = panel.frame.to_panel(level.curve.flatten()) @ scale[:, :2].T
                canvas.line(points + scale[:, 2], GREEN, 0.6)
        tips = [tip.point for tip in panel.tips if tip.piece == "hip gore"]
        tips += [slit.tip for slit in slits]
        tips += [panel.edge("front").end] if panel.pointed else []
        ends += [scale[:, :2] @ panel.frame.to_panel(tip) + scale[:, 2] for tip in tips]
        middle = left + 0.5 * TIMES * float(high[0] - low[0]) - (40.0 if slits else 0.0)
        name = panel.name[panel.name.find(" ") + 1 :]
        canvas.text(middle, WAIST + TIMES * 118.0, name, anchor="middle")
        left += TIMES * float(high[0] - low[0]) + 8.0
    for point in ends:
        canvas.line(
            point + 3.0 * np.array([(-1, 0), (0, 1), (1, 0), (0, -1)]), RED, 1.2, closed=True
        )
    return ends
