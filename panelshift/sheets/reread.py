"""A sheet made again from a drawing, such as a cutting file that was edited by hand."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace
from typing import Final, get_args

import numpy as np

from ..errors import PatternError
from ..outline import FloatArray
from ..pattern.drawing import Drawing, Shape, Text
from .palette import LineKind, layer_styles
from .sheet import Label, Sheet, Stroke

_KINDS: Final[frozenset[str]] = frozenset(get_args(LineKind))
_LAYER = re.compile(r"layer-\d+-(.+)")
_BORDER_MM: Final = 5.0
_DRAFT_GROUP: Final = "draft-text"
"""Group of a cutting file that holds the draft's own texts."""


def sheet_of_drawing(
    drawing: Drawing,
    title: str,
    measure: Callable[[str], float] = lambda text: 0.5 * len(text),
) -> Sheet:
    """Draw everything in a drawing again at true size.

    Groups named as a cutting file's groups are (cut-line, stitch-line and so on) keep their
    line styles; all other lines are drawn as marks.

    Parameters
    ----------
    drawing : Drawing
    title : str
    measure : callable
        Width of a text as a part of its font size, for texts that end at their points.

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
    labels = [_label(text, measure) for text in drawing.texts if text.size > 0.0]
    for label in labels:
        corners = _text_corners(label, measure)
        low, high = np.minimum(low, corners.min(axis=0)), np.maximum(high, corners.max(axis=0))
    offset = _BORDER_MM - low
    move = np.array([[1.0, 0.0, offset[0]], [0.0, 1.0, offset[1]]])
    strokes = [_stroke(shape, move) for shape in drawing.shapes]
    labels = [replace(label, at=label.at + offset) for label in labels]
    names = list(dict.fromkeys(stroke.layer for stroke in strokes if stroke.layer))
    styles = layer_styles({name: number for number, name in enumerate(names, start=1)})
    width, height = np.ceil(high - low + 2.0 * _BORDER_MM)
    return Sheet(title, float(width), float(height), tuple(strokes), tuple(labels), styles)


def _label(text: Text, measure: Callable[[str], float]) -> Label:
    at = text.anchor
    if text.align == "end":
        direction = np.array([np.cos(text.angle), np.sin(text.angle)])
        at = at - measure(text.content) * text.size * direction
    return Label(
        text.content,
        at,
        text.size,
        text.angle,
        align="middle" if text.align == "middle" else "start",
        bold=text.bold,
        drafted=_DRAFT_GROUP in text.groups,
    )


def _text_corners(label: Label, measure: Callable[[str], float]) -> FloatArray:
    """Corners of the box round a label's letters, shape (4, 2)."""
    across = measure(label.text) * label.size
    left = -0.5 * across if label.align == "middle" else 0.0
    along = np.array([np.cos(label.angle), np.sin(label.angle)])
    down = np.array([-along[1], along[0]])
    corners: FloatArray = np.array(
        [
            label.at + x * along + y * down
            for x in (left, left + across)
            for y in (-label.size, 0.3 * label.size)
        ]
    )
    return corners


def _stroke(shape: Shape, move: FloatArray) -> Stroke:
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
