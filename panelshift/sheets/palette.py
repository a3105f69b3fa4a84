"""One palette: the colour, width and dash of every kind of line, in print and on screen."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final, Literal

LineKind = Literal[
    "cut-line",
    "stitch-line",
    "waistline",
    "level-lines",
    "notches",
    "grainlines",
    "bone-channels",
    "marks",
    "test-squares",
]


@dataclass(frozen=True)
class Style:
    """How a kind of line is drawn.

    Parameters
    ----------
    label : str
        What it is called in words.
    width : float
        In mm.
    colour : str
        As #rrggbb.
    dash : tuple of float
        Lengths in mm of dashes and spaces; empty for a solid line.
    number : int
        Of a layer, counted from the body as its files are; 0 for what is no layer.
    """

    label: str
    width: float
    colour: str
    dash: tuple[float, ...] = ()
    number: int = 0


STYLES: Final[dict[LineKind, Style]] = {
    "cut-line": Style("cut line", 0.6, "#000000"),
    "stitch-line": Style("stitch line", 0.4, "#14486b", (4.0, 1.6)),
    "waistline": Style("waistline", 0.4, "#7a1f4b", (9.0, 2.0, 1.5, 2.0)),
    "level-lines": Style("level lines", 0.3, "#7a1f4b", (2.0, 2.0)),
    "notches": Style("notches", 0.6, "#000000"),
    "grainlines": Style("grainline", 0.4, "#333333"),
    "bone-channels": Style("bone channels", 0.3, "#4a5a2b", (1.0, 1.0)),
    "marks": Style("other marks", 0.3, "#555555"),
    "test-squares": Style("test squares", 0.4, "#000000"),
}
"""Told apart by dash and width as well as by colour, so that a black print will do."""

LAYER_STYLES: Final[tuple[Style, ...]] = (
    Style("", 0.2, "#0b6e4f"),
    Style("", 0.2, "#14486b", (6.0, 2.0)),
    Style("", 0.2, "#b3541e", (2.0, 1.5)),
    Style("", 0.2, "#7a1f4b", (8.0, 1.5, 1.5, 1.5)),
    Style("", 0.2, "#3d3d3d", (0.8, 1.2)),
    Style("", 0.2, "#6a4c93", (12.0, 1.5, 1.5, 1.5, 1.5, 1.5)),
)
"""For sheets on which several layers lie on top of each other; repeated if there are more."""


def layer_styles(numbers: Mapping[str, int]) -> dict[str, Style]:
    """A style for each layer, by its name and number, told apart by dash as well as by colour.

    Where there are more layers than styles they come again with bolder lines and longer dashes.
    """
    styles = {}
    for k, (name, number) in enumerate(numbers.items()):
        again, place = divmod(k, len(LAYER_STYLES))
        style = LAYER_STYLES[place]
        dash = tuple(part * (1.0 + 0.6 * again) for part in style.dash)
        styles[name] = Style(name, style.width * (1.0 + again), style.colour, dash, number)
    return styles
