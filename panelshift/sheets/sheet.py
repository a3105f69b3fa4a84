"""A sheet: everything drawn on it, by kind, in millimetres, before any file format."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Final, Literal

from ..outline import Curve, FloatArray

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
    """

    label: str
    width: float
    colour: str
    dash: tuple[float, ...] = ()


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


@dataclass(frozen=True, eq=False)
class Stroke:
    """A drawn line.

    Parameters
    ----------
    kind : LineKind
    curve : Curve
        In sheet mm.
    panel : str
        Panel it belongs to, or empty.
    layer : str
        Layer it belongs to on a sheet of several, or empty.
    """

    kind: LineKind
    curve: Curve
    panel: str = ""
    layer: str = ""


@dataclass(frozen=True, eq=False)
class Label:
    """A line of text.

    Parameters
    ----------
    text : str
    at : ndarray, shape (2,)
        On the baseline, in sheet mm.
    size : float
        Font size in mm.
    angle : float
        In radians, from x towards y.
    align : {"start", "middle"}
        What of the text stands at `at`.
    bold : bool
    panel : str
        Panel it belongs to, or empty.
    drafted : bool
        Whether it was on the draft, rather than added.
    """

    text: str
    at: FloatArray
    size: float
    angle: float = 0.0
    align: Literal["start", "middle"] = "start"
    bold: bool = False
    panel: str = ""
    drafted: bool = False


@dataclass(frozen=True, eq=False)
class Sheet:
    """A finished sheet.

    Parameters
    ----------
    title : str
    width, height : float
        In mm; the origin is at the top left, y downwards.
    strokes : tuple of Stroke
    labels : tuple of Label
    layer_styles : dict of layer name to Style
        Not empty on a sheet of several layers: its strokes are drawn by layer, not by kind.
    """

    title: str
    width: float
    height: float
    strokes: tuple[Stroke, ...]
    labels: tuple[Label, ...]
    layer_styles: dict[str, Style] = field(default_factory=dict)
