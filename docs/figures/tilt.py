"""Side views: a cone keeps its length in every layer, a hollow waist does not."""

from __future__ import annotations

from typing import Final

import numpy as np
import sample
from canvas import BLUE, GREY, PALE, RED, Canvas, signed

from panelshift.outline import FloatArray

TITLE = (
    "Side views: on a cone all layers are equally long; over a hollow waist the outer is shorter"
)
SEAM_PANEL: Final = "3 side front"
FURTHER: Final = 20.0
"""How many times too far out the outer layer is drawn."""

CONE_LEAN: Final = np.radians(14.0)
WAIST_Y: Final = 208.0


def figure() -> str:
    """Draw it."""
    canvas = Canvas(TITLE, 440.0)
    canvas.text(64, 24, "A cone", anchor="middle", bold=True)
    canvas.text(236, 24, "The sample", anchor="middle", bold=True)
    distance = float(sample.distances(sample.OUTER)[0])
    v = np.linspace(-140.0, 150.0, 117)
    _profile(canvas, v, np.full_like(v, CONE_LEAN), 70.0, distance)
    heights, tilt = _tilt()
    _profile(canvas, v, np.interp(v, heights, tilt), 206.0, distance)

    level = sample.shifted().turn.pattern.level_height
    for name in ("bust", "underbust", "waist", "high hip", "hip"):
        height = level(name)
        upwards = distance * float(np.interp(0.0, heights, tilt) - np.interp(height, heights, tilt))
        longer = upwards if height > 0.0 else -upwards
        y = WAIST_Y - height * 1.1
        canvas.text(348, y - 3, name, anchor="end", size=11, colour=GREY)
        canvas.text(348, y + 11, f"{signed(longer)} mm", anchor="end")
    canvas.line([(16, 392), (44, 392)], BLUE, 1.8)
    canvas.text(52, 396, "drafted layer")
    canvas.line([(16, 411), (44, 411)], RED, 1.8, dash="6 4")
    canvas.text(52, 415, f"{sample.OUTER}, drawn {FURTHER:.0f} times too far out")
    words = "numbers: how much longer it is from the waist"
    canvas.text(52, 433, words, size=11, colour=GREY)
    return canvas.svg()


def _tilt() -> tuple[FloatArray, FloatArray]:
    turn = sample.shifted().turn
    return turn.profile.heights, turn.tilt["back"][turn.pattern.index(SEAM_PANEL)]


def _profile(
    canvas: Canvas, v: FloatArray, tilt: FloatArray, waist_x: float, distance: float
) -> None:
    """A surface that leans by `tilt` at the distance v along it, and a layer outside it."""
    steps = np.diff(v)
    lean = 0.5 * (tilt[1:] + tilt[:-1])
    out = np.concatenate([[0.0], np.cumsum(np.sin(lean) * steps)])
    up = np.concatenate([[0.0], np.cumsum(np.cos(lean) * steps)])
    out, up = out - np.interp(0.0, v, out), up - np.interp(0.0, v, up)
    on_page = np.column_stack([waist_x + 1.1 * out, WAIST_Y - 1.1 * up])
    normal = np.column_stack([np.cos(tilt), np.sin(tilt)])
    outer = on_page + 1.1 * FURTHER * distance * normal
    edge = max(on_page[:, 0].min() - 34.0, 8.0)
    canvas.line([(edge, on_page[0, 1]), *on_page, (edge, on_page[-1, 1])], "none", fill=PALE)
    for rung in range(0, len(v), 8):
        canvas.line([on_page[rung], outer[rung]], GREY, 0.7)
    canvas.line(on_page, BLUE, 1.8)
    canvas.line(outer, RED, 1.8, dash="6 4")
