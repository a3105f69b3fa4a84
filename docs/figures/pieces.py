"""A panel of two pieces: as they are drawn, and as the one that they make."""

from __future__ import annotations

from typing import Final

import numpy as np
from canvas import BLUE, GREEN, RED, Canvas

from panelshift import read_pattern
from panelshift.draft import Reading, StandsOn
from panelshift.outline import Curve
from panelshift.pattern.panel import Panel

TIMES: Final = 0.9
DRAFT: Final = """<svg xmlns="http://www.w3.org/2000/svg" width="400mm" height="300mm"
 viewBox="0 0 400 300"><path id="side" d="M26 250 C34 220 40 200 40 170 C40 150 34 130 30 118
 C60 106 90 100 124 108 C122 130 120 150 120 170 C120 200 126 220 132 250 Z"/>
 <path id="waist" d="M36 170 H124"/><path id="yoke" d="M220 108 C216 90 212 74 212 60 C246 52
 278 52 306 58 C310 74 312 90 314 98 C280 78 252 92 220 108 Z"/></svg>"""


def figure() -> str:
    """Draw it."""
    reading = Reading(stands_on=(StandsOn("yoke", "side"),), halves="half")
    side = read_pattern(DRAFT, reading=reading)["side"]
    canvas = Canvas("A side and the yoke that stands on it, apart and as one panel", 296.0)
    lower, upper = side.pieces
    _draw(canvas, lower, np.array([0.0, 112.0]))
    _draw(canvas, upper, np.array([4.0, 88.0]), turned=-0.16)
    _draw(canvas, lower, np.array([180.0, 112.0]))
    _draw(canvas, upper, np.array([180.0, 112.0]))
    ends = np.array([upper.edge("bottom").start, upper.edge("bottom").end])
    marks = 3.0 * np.array([(-1, 0), (0, 1), (1, 0), (0, -1)])
    for end in _shown(ends, np.array([180.0, 112.0])):
        canvas.line(end + marks, RED, 1.2, closed=True)
    canvas.text(84.0, 18.0, "as drawn", anchor="middle", bold=True)
    canvas.text(264.0, 18.0, "as one panel", anchor="middle", bold=True)
    words = ["The ends of the seam meet; between", "them the two edges may bulge differently."]
    canvas.text(14.0, 268.0, words)
    return canvas.svg()


def _shown(points: np.ndarray, at: np.ndarray) -> np.ndarray:
    return np.asarray(TIMES * (points - np.array([0.0, 70.0])) + at - np.array([0.0, 40.0]))


def _draw(canvas: Canvas, panel: Panel, at: np.ndarray, turned: float = 0.0) -> None:
    """A piece's outline and waist, turned about its own middle."""
    c, s = np.cos(turned), np.sin(turned)
    turn = np.array([[c, -s], [s, c]])
    middle = panel.outline.hull_box.mean(axis=0)
    curves: list[tuple[Curve, str]] = [(panel.outline, BLUE)]
    curves += [(level.curve, GREEN) for level in panel.level_lines]
    for curve, colour in curves:
        points = (curve.flatten(0.1) - middle) @ turn.T + middle
        canvas.line(_shown(points, at), colour, 1.4 if colour == BLUE else 0.7)
