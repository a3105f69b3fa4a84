"""A sheet: everything drawn on it, by kind, in millimetres, before any file format."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np

from ..files import safe_name
from ..outline import Curve, FloatArray
from .lettering import width
from .palette import LineKind, Style, layer_styles

_NOISE_MM: Final = 1e-6


@dataclass(frozen=True, eq=False)
class Stroke:
    """A drawn line.

    *curve*: In sheet mm. *panel*: Panel it belongs to, or empty. *layer*: Layer it belongs to on a
    sheet of several, or empty. *level*: Name of the level of a level line, so that it is not lost
    when the file is read again.
    """

    kind: LineKind
    curve: Curve
    panel: str = ""
    layer: str = ""
    level: str = ""

    def along(self, curve: Curve) -> Stroke:
        """Return the same line along another curve."""
        return Stroke(self.kind, curve, self.panel, self.layer, self.level)


@dataclass(frozen=True, eq=False)
class Label:
    """A line of text.

    *at*: ndarray, shape (2,). On the baseline, in sheet mm. *size*: Font size in mm. *angle*: In
    radians, from x towards y. *align*: {"start", "middle"}. What of the text stands at `at`.
    *panel*: Panel it belongs to, or empty. *drafted*: Whether it was on the draft, rather than
    added.
    """

    text: str
    at: FloatArray
    size: float
    angle: float = 0.0
    align: Literal["start", "middle"] = "start"
    bold: bool = False
    panel: str = ""
    drafted: bool = False

    def moved(self, by: FloatArray) -> Label:
        """Return the same words moved by a vector in mm."""
        return Label(
            self.text,
            self.at + by,
            self.size,
            self.angle,
            self.align,
            self.bold,
            self.panel,
            self.drafted,
        )


def label_corners(label: Label) -> FloatArray:
    """Corners of the box round a label's letters in sheet mm, in order round it, shape (4, 2)."""
    across = width(label.text) * label.size
    left = -0.5 * across if label.align == "middle" else 0.0
    low, high = 0.3 * label.size, -label.size
    corners = np.array([[left, low], [left + across, low], [left + across, high], [left, high]])
    c, s = math.cos(label.angle), math.sin(label.angle)
    turned: FloatArray = label.at + corners @ np.array([[c, s], [-s, c]])
    return turned


@dataclass(frozen=True)
class SheetLayer:
    """One of several layers on a sheet.

    *name*: Of its fabric. *number*: Its place in the stack, from 1 next to the body, as in the
    names of files.
    """

    name: str
    number: int
    style: Style

    @property
    def ident(self) -> str:
        """What its group of lines is called."""
        return layer_ident(self.number, self.name)


def layer_ident(number: int, name: str) -> str:
    """Name of a layer in files and of files: its place from the body, then its fabric.

    Examples
    --------
    >>> layer_ident(2, "wool suiting")
    'layer-2-wool-suiting'
    """
    return f"layer-{number}-{safe_name(name)}"


def numbered_layers(layers: Sequence[tuple[str, int]]) -> tuple[SheetLayer, ...]:
    """Layers of a sheet, each in its own style, from their names and numbers."""
    styles = layer_styles([name for name, _ in layers])
    return tuple(SheetLayer(name, number, styles[name]) for name, number in layers)


def whole_mm(length: float) -> float:
    """Round a length up to whole mm, which people and printers can read.

    What is whole but for rounding stays.

    Examples
    --------
    >>> whole_mm(350.00000000000006), whole_mm(350.001)
    (350.0, 351.0)
    """
    return float(math.ceil(length - _NOISE_MM))


@dataclass(frozen=True, eq=False)
class Sheet:
    """A finished sheet.

    *width*, *height*: In mm; the origin is at the top left, y downwards. *layers*: Not empty on a
    sheet of several layers: its strokes are drawn by layer, not by kind.
    """

    title: str
    width: float
    height: float
    strokes: tuple[Stroke, ...]
    labels: tuple[Label, ...]
    layers: tuple[SheetLayer, ...] = ()
