"""Print a drawing as it is, such as a cutting file that was edited by hand."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path
from typing import Final, get_args

import numpy as np

from ..errors import PatternError
from ..files import safe_name
from ..outline import FloatArray
from ..pattern.drawing import Drawing, Shape, Text
from ..sheets.lettering import width
from ..sheets.palette import LineKind
from ..sheets.sheet import Label, Sheet, Stroke, label_corners, numbered_layers, whole_mm
from ..sources.drawings import read_drawing
from .sheet_prints import (
    PrintedFile,
    fits_one_page,
    print_roll,
    print_tiles,
    print_warnings,
    print_whole,
)
from .tiling import PageOptions

_KINDS: Final[frozenset[str]] = frozenset(get_args(LineKind))
_LAYER = re.compile(r"layer-(\d+)-(.+)")
"""What `layer_ident` makes."""
_BORDER_MM: Final = 5.0
_DRAFT_GROUP: Final = "draft-text"
"""Group of a cutting file that holds the draft's own texts."""


def print_file(source: Path | bytes, options: PageOptions, name: str = "") -> PrintedFile:
    """Print a drawing as it is, such as a cutting file that was edited by hand.

    *name*: what to call it in messages, if it is given as bytes.

    Raises `PanelshiftError` if it cannot be read or holds no lines, or see `print_tiles` and
    `print_roll`.
    """
    drawing = read_drawing(source, name=name)
    stem = "drawing" if isinstance(source, bytes) else source.stem
    sheet = sheet_of_drawing(drawing, drawing.title or stem)
    printed = print_sheet(sheet, options, stem)
    left_out = tuple(f"{left.ident}: not printed, {left.reason}" for left in drawing.left_out)
    return replace(printed, warnings=(*drawing.warnings, *left_out, *printed.warnings))


def print_sheet(sheet: Sheet, options: PageOptions, stem: str) -> PrintedFile:
    """Print a sheet as it is.

    Raises `PrintError` for see `print_tiles` and `print_roll`.
    """
    if options.paper.is_roll:
        printed = print_roll(sheet, options)
    elif (turned := fits_one_page(sheet, options)) is not None:
        printed = print_whole(sheet, options, turned=turned)
    else:
        printed = print_tiles(sheet, options, ["as drawn, at true size"])
    name = f"{safe_name(stem)}-{safe_name(options.paper.name)}.pdf"
    return PrintedFile(name, sheet.title, printed, print_warnings(printed, sheet))


def sheet_of_drawing(drawing: Drawing, title: str) -> Sheet:
    """Draw everything in a drawing again at true size.

    Groups named as a cutting file's groups are (cut-line, stitch-line and so on) keep their
    line styles; all other lines are drawn as marks.

    Raises `PatternError` if there is nothing in the drawing.
    """
    if not drawing.shapes:
        raise PatternError(
            "nothing to print: the drawing holds no lines",
            remedy="Give a cutting file of panelshift, or any SVG with lines.",
            source=drawing.source,
        )
    bounds = np.array([shape.curve.bounds() for shape in drawing.shapes])
    low, high = bounds[:, 0].min(axis=0), bounds[:, 1].max(axis=0)
    labels = [_label(text) for text in drawing.texts if text.size > 0.0]
    for label in labels:
        corners = label_corners(label)
        low, high = np.minimum(low, corners.min(axis=0)), np.maximum(high, corners.max(axis=0))
    offset = _BORDER_MM - low
    move = np.array([[1.0, 0.0, offset[0]], [0.0, 1.0, offset[1]]])
    strokes = [_stroke(shape, move) for shape in drawing.shapes]
    labels = [replace(label, at=label.at + offset) for label in labels]
    layers = dict.fromkeys(found for shape in drawing.shapes if (found := _layer(shape)))
    across, down = (whole_mm(float(size)) for size in high - low + 2.0 * _BORDER_MM)
    return Sheet(title, across, down, tuple(strokes), tuple(labels), numbered_layers(list(layers)))


def _label(text: Text) -> Label:
    at = text.anchor
    if text.align == "end":
        direction = np.array([np.cos(text.angle), np.sin(text.angle)])
        at = at - width(text.content) * text.size * direction
    return Label(
        text.content,
        at,
        text.size,
        text.angle,
        align="middle" if text.align == "middle" else "start",
        bold=text.bold,
        drafted=_DRAFT_GROUP in text.groups,
    )


def _stroke(shape: Shape, move: FloatArray) -> Stroke:
    curve = shape.curve.transformed(move)
    for group in reversed(shape.groups):
        if group in _KINDS:
            return Stroke(_kind(group), curve)
    if layer := _layer(shape):
        return Stroke("stitch-line", curve, layer=layer[0])
    return Stroke("marks", curve)


def _layer(shape: Shape) -> tuple[str, int] | None:
    """Name and number of the layer that a shape is drawn for, on a sheet of several."""
    for group in reversed(shape.groups):
        if match := _LAYER.fullmatch(group):
            return match.group(2), int(match.group(1))
    return None


def _kind(group: str) -> LineKind:
    kinds: dict[str, LineKind] = {kind: kind for kind in get_args(LineKind)}
    return kinds[group]
