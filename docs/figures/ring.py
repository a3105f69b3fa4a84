"""The waist from above: how panels turn, by where they look, and what the outer layer gains."""

from __future__ import annotations

from typing import Final

import numpy as np
import sample
from canvas import BLUE, GREEN, GREY, INK, ORANGE, Canvas, signed

from panelshift.fit.sections import section_at
from panelshift.outline import FloatArray

TITLE = "The waist from above: angle and growth of each panel, coloured by where it looks"
COLOURS: Final = {"front": BLUE, "side": ORANGE, "back": GREEN}
MIDDLE: Final = np.array([180.0, 142.0])
PX_PER_MM: Final = 1.0
LABEL_AT: Final = 26.0


def figure() -> str:
    """Draw it."""
    shifted, job = sample.shifted(), sample.job()
    section = section_at(shifted.turn, job.body, "waist", gap=job.file.pattern.lacing_gap)
    names = [panel.name for panel in job.pattern.panels]
    kinds = dict(zip(names, job.classes, strict=True))
    layer = shifted.stack.names.index(sample.OUTER)
    growth = dict(zip(names, shifted.growth_table()[layer], strict=True))
    everything = np.vstack([points for _, points in section.parts])
    middle = 0.5 * (everything.min(axis=0) + everything.max(axis=0))

    canvas = Canvas(TITLE, 364.0)
    canvas.text(180, 26, "centre back, laced", anchor="middle", colour=GREY)
    canvas.text(180, 282, "centre front", anchor="middle", colour=GREY)
    # The ring begins at the centre back with the mirrored half, which is labelled with angles.
    parts = zip(section.parts, section.angles, strict=True)
    for place, ((name, points), angle) in enumerate(parts):
        drawn = MIDDLE + PX_PER_MM * (points - middle)
        if not name:
            canvas.line(drawn, GREY, 1.2, dash="2 3")
            continue
        mirrored = place < len(names)
        words = f"{np.degrees(angle):.1f}°" if mirrored else signed(float(growth[name]))
        _panel(canvas, drawn, COLOURS[kinds[name]], name.split()[0], words)
    canvas.text(128, 136, ["turns", "through"], anchor="middle", colour=GREY)
    canvas.text(232, 136, [sample.OUTER, "gains, mm"], anchor="middle", colour=GREY)
    looks = {"front": "within 45° of straight ahead", "side": "to the side"}
    looks["back"] = "within 45° of straight behind"
    for place, (kind, way) in enumerate(looks.items()):
        y = 308.0 + 20.0 * place
        canvas.line([(44, y - 4), (72, y - 4)], COLOURS[kind], 7.0)
        canvas.text(82, y, f"{kind}: its middle looks {way}")
    return canvas.svg()


def _panel(canvas: Canvas, drawn: FloatArray, colour: str, number: str, words: str) -> None:
    """One panel between its seams, its number inside the ring and words outside."""
    canvas.line(drawn, colour, 7.0)
    for end in (drawn[0], drawn[-1]):
        way = 6.0 * _outward(end)
        canvas.line([end - way, end + way], INK, 1.0)
    at = drawn[len(drawn) // 2]
    way = _outward(at)
    # Words are wider than high: they stand further off at the sides.
    x, y = at + LABEL_AT * way + (12.0 * way[0], 4.0)
    canvas.text(x, y, words, anchor="middle")
    x, y = at - 20.0 * way
    canvas.text(x, y + 4.0, number, anchor="middle", colour=GREY)


def _outward(at: FloatArray) -> FloatArray:
    away = at - MIDDLE
    return away / np.hypot(*away)
