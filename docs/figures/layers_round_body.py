"""Three cloths round a side panel at the waist: how far apart, and how long each must be."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import sample
from canvas import BLUE, GREEN, GREY, INK, PALE, RED, Canvas, signed

from panelshift import Fabric, Stack, shift_pattern
from panelshift.outline import FloatArray

TITLE = "Three cloths round one panel at the waist: each middle has its own radius and length"
PANEL: Final = "4 side"
STACK: Final = Stack(
    [Fabric("lining", 0.2), Fabric("coutille", 0.45), Fabric("brocade", 0.65)], "coutille"
)
COLOURS: Final = (GREEN, BLUE, RED)
THICKER: Final = 12.0
PX_PER_MM: Final = 3.2
CENTRE: Final = np.array([180.0, 334.0])


@dataclass(frozen=True)
class Cloth:
    """A cloth round the panel: where its middle lies, and the length of that, in mm."""

    fabric: Fabric
    colour: str
    middle: float
    length: float


def figure() -> str:
    """Draw it."""
    job = sample.job()
    gap = job.file.pattern.lacing_gap
    shifted = shift_pattern(job.pattern, STACK, job.body, classes=job.classes, gap=gap)
    panel = job.pattern.index(PANEL)
    angle, width = shifted.turn.angle_at(panel, 0.0), job.pattern.panels[panel].waist.width
    cloths = [
        Cloth(layer.fabric, colour, float(middle), layer.pattern.panels[panel].waist.width)
        for layer, colour, middle in zip(
            shifted.layers, COLOURS, STACK.surfaces(PANEL).middles, strict=True
        )
    ]
    for cloth in cloths:
        if abs(cloth.length - width - cloth.middle * angle) > 1e-3:
            raise ValueError(f"{cloth} is not what the section says")

    canvas = Canvas(TITLE, 430.0)
    canvas.text(12, 24, f"Panel \u201c{PANEL}\u201d at the waist, from above", bold=True)
    canvas.text(12, 40, f"cloths drawn {THICKER:.0f} times too thick", size=11, colour=GREY)
    _section(canvas, cloths, width / angle, 0.5 * angle)
    _cut_alike(canvas, cloths[-1], width, width / angle, 0.5 * angle)
    _table(canvas, cloths)
    return canvas.svg()


def _section(canvas: Canvas, cloths: list[Cloth], radius: float, half: float) -> None:
    """The body's sector and the cloths on it, to both sides of straight up."""
    skin = arc(radius, STACK.surfaces(PANEL).skin, -half, half)
    canvas.line([CENTRE, *skin], "none", fill=PALE, closed=True)
    for end in (-half, half):
        canvas.line([CENTRE, point(radius, 1.5, end)], GREY, 0.8, dash="4 3")
    canvas.text(180, 190, "body", anchor="middle", colour=GREY)
    canvas.text(206, 300, f"turns through {np.degrees(2.0 * half):.1f}°")
    for cloth in cloths:
        low, high = (cloth.middle + side * 0.5 * cloth.fabric.build for side in (-1.0, 1.0))
        band = [*arc(radius, low, -half, half), *arc(radius, high, -half, half)[::-1]]
        canvas.line(band, cloth.colour, 0.8, fill=f"{cloth.colour}22", closed=True)
        canvas.line(arc(radius, cloth.middle, -half, half), cloth.colour, 1.4, dash="6 4")


def _cut_alike(canvas: Canvas, cloth: Cloth, width: float, radius: float, half: float) -> None:
    """What is missing at the right of a piece as wide as the draft, laid on from the left."""
    short = cloth.length - width
    end = half - THICKER * short / (radius + THICKER * cloth.middle)
    missing = arc(radius, cloth.middle, end, half)
    canvas.line(missing, "#ffffff", 4.0)
    canvas.line(missing, INK, 2.2)
    canvas.text(352, 46, "cut like the draft,", size=11, anchor="end")
    canvas.text(352, 60, f"it would be {short:.2f} mm short", size=11, anchor="end")
    canvas.line([(326, 65), missing[len(missing) // 2] + (1.0, -4.0)], INK, 0.7)


def _table(canvas: Canvas, cloths: list[Cloth]) -> None:
    canvas.text(12, 356, "cloth", size=11, colour=GREY)
    canvas.text(232, 356, "middle lies", anchor="end", size=11, colour=GREY)
    canvas.text(348, 356, "its length", anchor="end", size=11, colour=GREY)
    for place, cloth in enumerate(reversed(cloths)):
        y = 376.0 + 20.0 * place
        canvas.line([(12, y - 4), (34, y - 4)], cloth.colour, 1.6, dash="6 4")
        drafted = " (drafted)" if cloth.fabric.name == STACK.drafted else ""
        canvas.text(42, y, cloth.fabric.name + drafted)
        canvas.text(232, y, f"{signed(cloth.middle)} mm", anchor="end")
        canvas.text(348, y, f"{cloth.length:.2f} mm", anchor="end")


def point(radius: float, distance: float, angle: float) -> FloatArray:
    """On the page: at a distance from the drafted middle, and an angle from straight up."""
    away = PX_PER_MM * (radius + THICKER * distance)
    return CENTRE + away * np.array([np.sin(angle), -np.cos(angle)])


def arc(radius: float, distance: float, start: float, end: float) -> FloatArray:
    """Points of an arc round the body, shape (m, 2)."""
    return np.array([point(radius, distance, angle) for angle in np.linspace(start, end, 41)])
