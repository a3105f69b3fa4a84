"""A sheet: everything drawn on it, by kind, in millimetres, before any file format."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

from ..outline import Curve, FloatArray
from .palette import LineKind, Style


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
