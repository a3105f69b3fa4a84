"""The waist inside and outside for every stack of docs/examples/compare_stacks.py."""

from __future__ import annotations

from typing import Final

from canvas import BLUE, GREEN, GREY, RED, Canvas
from compare_stacks import GAP, compare

TITLE = "The waist inside and outside, in four stacks of cloth"
DRAFTED_MM: Final = 640.0 + GAP
LOW_MM, HIGH_MM = 684.0, 712.0
LEFT, RIGHT = 16.0, 344.0
TOP: Final = 74.0
EACH: Final = 52.0


def figure() -> str:
    """Draw it."""
    results = compare()
    bottom = TOP + EACH * len(results)
    canvas = Canvas(TITLE, bottom + 42.0)
    for x, words, colour in ((16, "inside", GREEN), (84, "outside", RED)):
        canvas.dot((x + 4, 20), 4.0, colour)
        canvas.text(x + 13, 24, words)
    canvas.text(348, 24, "waist with the gap, mm", anchor="end", size=11, colour=GREY)
    drafted = _x(DRAFTED_MM)
    canvas.line([(drafted, TOP - 18), (drafted, bottom)], BLUE, 1.0, dash="4 3")
    canvas.text(drafted, TOP - 23, f"drafted {DRAFTED_MM:.0f}", anchor="middle", colour=BLUE)
    for place, result in enumerate(results):
        y = TOP + EACH * place + 34.0
        inside, outside = _x(result.inside), _x(result.outside)
        canvas.text(
            outside + 12.0, y + 4.0, f"{result.outside - result.inside:.1f} between", size=11
        )
        canvas.line([(inside, y), (outside, y)], GREY, 2.0)
        canvas.dot((inside, y), 5.0, GREEN)
        canvas.dot((outside, y), 5.0, RED)
        canvas.text(drafted + 8.0, y - 13.0, f"{result.name}, {result.thickness:.2f} thick")
    for tick in (685, 690, 695, 700, 705, 710):
        x = _x(tick)
        canvas.line([(x, bottom), (x, bottom + 5)], GREY, 0.8)
        canvas.text(x, bottom + 19, str(tick), size=11, anchor="middle", colour=GREY)
    canvas.line([(LEFT, bottom), (RIGHT, bottom)], GREY, 0.8)
    return canvas.svg()


def _x(waist: float) -> float:
    return LEFT + (RIGHT - LEFT) * (waist - LOW_MM) / (HIGH_MM - LOW_MM)
