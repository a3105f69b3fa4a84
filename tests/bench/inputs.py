"""The drawings that are measured: fourteen panels with their marks, and many times as many.

A pattern of fourteen panels right round the body is what a maker has: seven a half. A larger one
repeats those fourteen, row below row, as a half pattern: its halves do not mirror each other. It
is nothing to wear, but asks the same of the program. So that there is a body that it fits, each of
n times as many panels springs an n-th as far: no body's radius can grow faster than its height.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from functools import cache
from typing import Final

import numpy as np

from panelshift import ClassModel, Fabric, Reading, Stack
from panelshift.body import infer_classes
from panelshift.body.turn import TurnOfCloth, turn_of_cloth
from panelshift.outline import Curve
from panelshift.outline.curve import CUBIC
from panelshift.outline.pathtext import number, path_data
from panelshift.pattern.pattern import Pattern
from panelshift.sources.svg import read_svg
from tests.support.drafts import Figure, PanelDraft, both_halves

PANELS: Final = 14
GAP_MM: Final = 50.0

STACK: Final = Stack(
    [
        Fabric("lining", 0.25),
        Fabric("coutille", 0.45),
        Fabric("interlining", 0.3),
        Fabric("brocade", 0.6),
    ],
    "coutille",
)

HALF: Final = Figure(
    waists=(44.0, 46.0, 48.0, 50.0, 48.0, 45.0, 42.0),
    bust=(1.15, 1.4, 1.45, 1.25, 1.2, 1.15, 1.1),
    hip=(1.1, 1.25, 1.35, 1.45, 1.4, 1.25, 1.15),
    shares=(0.0, 0.45, 0.5, 0.5, 0.5, 0.5, 0.55),
)
"""An invented figure."""

_ROW_MM: Final = 330.0
_SPACE_MM: Final = 20.0
_BONE_IN_MM: Final = 8.0
_NOTCH_MM: Final = 2.5
_MARGIN_MM: Final = 20.0


def drawing(groups: int = 1, left: float = _MARGIN_MM) -> bytes:
    """SVG of `groups` times fourteen panels, fourteen a row, from `left` mm rightwards.

    Each panel is a group of its own with a transform, as drawing programs write them.
    """
    body: list[str] = []
    for row in range(groups):
        down = _MARGIN_MM + 170.0 + _ROW_MM * row
        for k, (name, inner, across) in enumerate(_panels(groups)):
            own = name if groups == 1 else f"panel {row * PANELS + k + 1}"
            body.append(
                f'<g id="p{row}-{k}" '
                f'transform="translate({number(left + across)} {number(down)})">'
                f"{inner.replace('NAME', own).replace('#', f'{row}-{k}')}</g>"
            )
    width = number(left + _MARGIN_MM + max(across for _, _, across in _panels(groups)) + 100.0)
    height = number(2 * _MARGIN_MM + _ROW_MM * groups)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}mm" height="{height}mm" '
        f'viewBox="0 0 {width} {height}">{"".join(body)}</svg>'
    ).encode()


def many_drawings(count: int) -> Iterator[bytes]:
    """`count` drawings of fourteen panels, no two the same."""
    for k in range(count):
        yield drawing(left=_MARGIN_MM + 0.001 * k)


def reading(groups: int = 1) -> Reading:
    """What the reader has to be told of a drawing of so many groups."""
    return Reading(halves="full" if groups == 1 else "half")


def turned(drafted: Pattern) -> TurnOfCloth:
    """Turn of cloth by the class model."""
    widths = np.array([panel.waist_width for panel in drafted.panels])
    classes = infer_classes(widths, full=drafted.full)
    return turn_of_cloth(drafted, ClassModel(), classes, gap=GAP_MM)


@cache
def cubics() -> Curve:
    """All cubic segments of the fourteen panels in one array; they do not follow on each other."""
    curves = [shape.curve for shape in read_svg(drawing()).shapes]
    control = np.concatenate([c.control[c.degree == CUBIC] for c in curves])
    return Curve.trusted(control.copy(), np.full(len(control), CUBIC), False)


@cache
def _panels(groups: int) -> tuple[tuple[str, str, float], ...]:
    """Name, SVG and place of each of the fourteen panels of a row."""
    figure = replace(
        HALF,
        bust=tuple(1.0 + (widened - 1.0) / groups for widened in HALF.bust),
        hip=tuple(1.0 + (widened - 1.0) / groups for widened in HALF.hip),
    )
    found, left = [], 0.0
    for panel in both_halves(figure.panels()):
        low, high = panel.bounds()[:, 0]
        found.append((panel.name, _svg(panel), left - float(low)))
        left += float(high - low) + _SPACE_MM
    return tuple(found)


def _svg(panel: PanelDraft) -> str:
    """A panel's paths; NAME stands for its name, # for what makes its ids unique."""
    lines = [(name, _level(panel, v)) for name, v in {"waist": 0.0, **panel.levels}.items()]
    lines += [
        (f"notch {name}", _notch(edge, panel.levels["underbust"]))
        for name, edge in (("front", panel.front), ("back", panel.back))
    ]
    lines.append(("grainline", Curve.polyline([(0.0, -90.0), (0.0, 90.0)])))
    if panel.name.split()[-1] not in ("1", "7"):
        bone = panel.back.control * (1.0, 0.9) - (_BONE_IN_MM, 0.0)
        lines.append(("bone channel", Curve.cubics(bone)))
    net = _path("net", _outline(panel), ' data-panel="NAME"')
    marks = "".join(_path(name, line) for name, line in lines)
    return f'{net}{marks}<text x="4" y="30" font-size="6">NAME</text>'


def _path(name: str, curve: Curve, data: str = "") -> str:
    """A path, turned the right way up for a sheet."""
    d = path_data(curve.transformed([[1.0, 0.0, 0.0], [0.0, -1.0, 0.0]]))
    ident = f"{name.replace(' ', '-')}-#"
    return f'<path id="{ident}"{data} style="fill:none;stroke:black;stroke-width:0.5" d="{d}"/>'


def _outline(panel: PanelDraft) -> Curve:
    """Side edges of four cubics each, top and bottom lines of one."""
    over = _bow(panel.front.end, panel.back.end, 5.0)
    under = _bow(panel.back.start, panel.front.start, -5.0)
    return Curve.chain([panel.front, over, panel.back.reversed(), under], closed=True)


def _bow(start: np.ndarray, end: np.ndarray, rise: float) -> Curve:
    third = (end - start) / 3.0
    up = np.array([0.0, rise])
    return Curve.cubics([[start, start + third + up, end - third + up, end]])


def _level(panel: PanelDraft, v: float) -> Curve:
    return Curve.polyline([_at(panel.front, v) - (1.0, 0.0), _at(panel.back, v) + (1.0, 0.0)])


def _notch(edge: Curve, v: float) -> Curve:
    at = _at(edge, v)
    return Curve.polyline([at - (_NOTCH_MM, 0.0), at + (_NOTCH_MM, 0.0)])


def _at(edge: Curve, v: float) -> np.ndarray:
    """The point of an edge at a height; heights rise along it."""
    place = np.linspace(0.0, len(edge), 2001)
    points = edge.points(place)
    return np.array([np.interp(v, points[:, 1], points[:, 0]), v])
