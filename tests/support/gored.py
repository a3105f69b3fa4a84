"""Half patterns with gores, drawn from corners: panels in a row, their gores below."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from functools import cache

import numpy as np

from panelshift.draft import Gore, Reading, assemble
from panelshift.pattern.pattern import Pattern
from panelshift.sources.svg import read_svg

Point = tuple[float, float]

TOP, HEM = 150.0, -150.0
TIP = -40.0


def box(width: float, *, front: float = 0.0, back: float = 0.0) -> list[Point]:
    """A panel whose edges lean out by so much from the waist to both ends."""
    return [
        (-front, HEM),
        (0.0, 0.0),
        (-front, TOP),
        (width + back, TOP),
        (width, 0.0),
        (width + back, HEM),
    ]


PANELS = {
    "front": box(110.0, back=8.0),
    "side": box(110.0, front=8.0, back=8.0),
    "back": box(110.0, front=8.0),
}
LONG = math.hypot(150.0, 8.0)
"""Of a leaning edge from the waist to the hem or the top."""


def wedge(long: float = LONG - 41.0, half: float = 25.0, *, up: bool = True) -> list[Point]:
    """A gore with its tip at the origin, up on the page or down."""
    far = math.sqrt(long**2 - half**2) * (-1.0 if up else 1.0)
    return [(0.0, 0.0), (half, far), (-half, far)]


def gored_svg(
    gores: Mapping[str, Sequence[Point]],
    *,
    panels: Mapping[str, Sequence[Point]] | None = None,
    extra: str = "",
    turned: float = 0.0,
    waistline: bool = True,
) -> bytes:
    """The drawing: panels with a waist each, and gores 600 mm lower, v up, turned by degrees."""
    parts, x = [], 60.0
    for name, points in (panels or PANELS).items():
        parts.append(_closed(name, points, x, 220.0))
        if waistline:
            wide = max(u for u, _ in points)
            parts.append(f'<path id="waist {name}" d="M{x - 20} 220 H{x + wide + 20}"/>')
        x += 190.0
    x = 100.0
    for name, points in gores.items():
        parts.append(f'<g transform="rotate({turned} {x} 600)">')
        parts.append(_closed(name, points, x, 600.0) + "</g>")
        x += 190.0
    size = 'width="900mm" height="900mm" viewBox="0 0 900 900"'
    body = f'<svg xmlns="http://www.w3.org/2000/svg" {size}>{"".join(parts)}{extra}</svg>'
    return body.encode()


def slit(name: str, panel: int, *points: Point) -> str:
    """A line on a panel, by its number, in the panel's own coordinates, for the drawing."""
    x = 60.0 + 190.0 * panel
    path = " L".join(f"{x + u:.9f} {220.0 - v:.9f}" for u, v in points)
    return f'<path id="{name}" d="M{path}"/>'


def _closed(name: str, points: Sequence[Point], x: float, y: float) -> str:
    path = " L".join(f"{x + u:.9f} {y - v:.9f}" for u, v in points)
    return f'<path id="{name}" d="M{path} Z"/>'


def gored(svg: bytes, *gores: Gore) -> Pattern:
    """The pattern as read, with gores; one between front and side if none are given."""
    gores = gores or (Gore("gore", ("front", "side")),)
    return assemble(read_svg(svg), Reading(gores=gores, halves="half"))


def edge_heights(pattern: Pattern) -> np.ndarray:
    """Where each gore's tip meets the edges on both its sides, v in mm, in order."""
    return np.array([p.frame.to_panel(tip.point)[1] for p in pattern.panels for tip in p.tips])


TIP = 70.0
HIP_TIP = -60.0
SLITS = {
    "front": [(40.0, TOP, 44.0, TIP), (72.0, TOP, 68.0, TIP)],
    "side": [(60.0, HEM, 50.0, HIP_TIP)],
}
"""Where each slit opens and ends, u from its panel's front at the waist, and v."""


@cache
def slit_gored() -> Pattern:
    """Two gores over the bust in the front panel, and one over the hip in the side panel."""
    (one, two), (hip,) = SLITS.values()
    lines = (
        slit("one", 0, one[:2], one[2:])
        + slit("two", 0, two[:2], two[2:])
        + slit("hip", 1, hip[:2], hip[2:])
    )
    cup = wedge(float(np.hypot(TOP - TIP, 4.0)), 14.0, up=False)
    pieces = {"gore": wedge(float(np.hypot(HIP_TIP - HEM, 10.0))), "cup": cup, "other cup": cup}
    said = (Gore("gore", slit="hip"), Gore("cup", slit="one"), Gore("other cup", slit="two"))
    return gored(gored_svg(pieces, extra=lines), *said)
