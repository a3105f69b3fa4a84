"""A sheet made again from a drawing, such as a cutting file that was edited by hand."""

from __future__ import annotations

import re
from typing import Final, get_args

import numpy as np

from ..errors import PatternError
from ..pattern.drawing import Drawing, Shape
from .sheet import Label, LineKind, Sheet, Stroke, Style
from .sheets import layer_styles

_KINDS: Final[frozenset[str]] = frozenset(get_args(LineKind))
_LAYER = re.compile(r"layer-\d+-(.+)")
_BORDER_MM: Final = 5.0


def sheet_of_drawing(drawing: Drawing, title: str) -> Sheet:
    """Draw everything in a drawing again at true size.

    Groups named as a cutting file's groups are (cut-line, stitch-line and so on) keep their
    line styles; all other lines are drawn as marks.

    Parameters
    ----------
    drawing : Drawing
    title : str

    Raises
    ------
    PatternError
        If there is nothing in the drawing.
    """
    if not drawing.shapes:
        raise PatternError(
            "nothing to print: the drawing holds no lines",
            remedy="Give a cutting file of panelshift, or any SVG with lines.",
            source=drawing.source,
        )
    bounds = np.array([shape.curve.bounds() for shape in drawing.shapes])
    low, high = bounds[:, 0].min(axis=0), bounds[:, 1].max(axis=0)
    if drawing.texts:
        anchors = np.array([text.anchor for text in drawing.texts])
        low, high = np.minimum(low, anchors.min(axis=0)), np.maximum(high, anchors.max(axis=0))
    offset = _BORDER_MM - low
    move = np.array([[1.0, 0.0, offset[0]], [0.0, 1.0, offset[1]]])
    strokes = [_stroke(shape, move) for shape in drawing.shapes]
    labels = [
        Label(text.content, text.anchor + offset, text.size, text.angle)
        for text in drawing.texts
        if text.size > 0.0
    ]
    names = list(dict.fromkeys(stroke.layer for stroke in strokes if stroke.layer))
    styles: dict[str, Style] = layer_styles(names)
    width, height = np.ceil(high - low + 2.0 * _BORDER_MM)
    return Sheet(title, float(width), float(height), tuple(strokes), tuple(labels), styles)


def _stroke(shape: Shape, move: np.ndarray[tuple[int, int], np.dtype[np.float64]]) -> Stroke:
    curve = shape.curve.transformed(move)
    for group in reversed(shape.groups):
        if group in _KINDS:
            return Stroke(_kind(group), curve)
        match = _LAYER.fullmatch(group)
        if match:
            return Stroke("stitch-line", curve, layer=match.group(1))
    return Stroke("marks", curve)


def _kind(group: str) -> LineKind:
    kinds: dict[str, LineKind] = {kind: kind for kind in get_args(LineKind)}
    return kinds[group]
