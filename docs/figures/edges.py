"""How two panels move from the drafted to the outer layer, much enlarged."""

from __future__ import annotations

from typing import Final

import numpy as np
import sample
from canvas import BLUE, GREY, RED, Canvas

from panelshift.outline import Curve, FloatArray

TITLE = "Two panels of the draft, and where the outer layer's outline lies, enlarged"
LARGER: Final = 20.0
ARROW_EACH_MM: Final = 13.0
PX_PER_MM: Final = 1.0
WAIST_Y: Final = 248.0
CLOSE_MM: Final = 0.02
"""Moved points must lie this close to the layer's own outline."""


def figure() -> str:
    """Draw it."""
    canvas = Canvas(TITLE, 468.0)
    for panel, x, words in (
        ("1 centre front", 74.0, ("1 centre front", "the busk edge stays")),
        ("4 side", 246.0, ("4 side", "both edges share")),
    ):
        _panel(canvas, panel, x)
        canvas.text(x, 20, words[0], anchor="middle", bold=True)
        canvas.text(x, 35, words[1], anchor="middle", size=11, colour=GREY)
    canvas.line([(16, 440), (44, 440)], BLUE, 1.8)
    canvas.text(52, 444, "drafted layer")
    canvas.line([(150, 440), (178, 440)], RED, 1.4, dash="6 4")
    canvas.text(186, 444, f"{sample.OUTER}, moved {LARGER:.0f}-fold")
    return canvas.svg()


def _panel(canvas: Canvas, name: str, x: float) -> None:
    pattern = sample.shifted().turn.pattern
    index = pattern.index(name)
    panel = pattern.panels[index]
    waist = np.array([x, WAIST_Y])

    def page(points: FloatArray) -> FloatArray:
        return waist + PX_PER_MM * points * [1.0, -1.0]

    rim = panel.frame.to_panel(panel.outline.flatten())
    moves = sample.displacement(index, rim, sample.OUTER)
    _compare(index, panel.frame.to_sheet(rim + moves))
    canvas.line(page(rim), BLUE, 1.8)
    canvas.line(page(rim + LARGER * moves), RED, 1.4, dash="6 4")
    level = panel.frame.to_panel(panel.waist.curve.vertices)
    canvas.line(page(level), GREY, 0.8)
    canvas.text(x, WAIST_Y - 5, "waist", anchor="middle", size=11, colour=GREY)
    for edge in ("front", "back"):
        points = _evenly(panel.frame.to_panel(panel.edge(edge).flatten()))
        for start, move in zip(
            points, sample.displacement(index, points, sample.OUTER), strict=True
        ):
            canvas.arrow(page(start), page(start + LARGER * move), RED)


def _evenly(points: FloatArray) -> FloatArray:
    run = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))])
    wanted = np.linspace(0.0, run[-1], round(run[-1] / ARROW_EACH_MM) + 1)
    return np.column_stack([np.interp(wanted, run, axis) for axis in points.T])


def _compare(panel: int, moved: FloatArray) -> None:
    """Refuse to draw what is not the layer that panelshift cuts."""
    import shapely

    outline: Curve = sample.shifted().layer(sample.OUTER).pattern.panels[panel].outline
    ring = shapely.LinearRing(outline.flatten(0.002))
    worst = float(shapely.distance(ring, shapely.points(moved)).max())
    if worst > CLOSE_MM:
        raise ValueError(f"panel {panel}: {worst:.3f} mm from the layer's own outline")
