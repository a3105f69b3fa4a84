"""A picture of what was measured: the sections from above, the body from the front and the side."""

from __future__ import annotations

from typing import Final

import numpy as np
from lxml import etree

from ..outline import FloatArray
from ..sheets.palette import PALE, PAPER, STYLES
from ..sheets.svg_writer import finished, line, picture, text
from .section_file import MeasuredForm

_INK: Final = {"stroke": STYLES["grainlines"].colour, "stroke-width": "0.8"}
_FAINT: Final = {"stroke": PALE, "stroke-width": "0.5"}
_BOLD: Final = {"stroke": STYLES["waistline"].colour, "stroke-width": "1.6"}
_LETTER: Final = 13.0
_MARGIN: Final = 30.0


def form_picture(form: MeasuredForm, units: str = "mm") -> bytes:
    """Draw the sections from above with the front at the top, and both silhouettes.

    *units*: {"mm", "cm", "in"}. Of the numbers beside the lines.

    Returns: SVG; one unit is a millimetre of the body.
    """
    psi = np.linspace(0.0, 2.0 * np.pi, 181)
    curves = form.sections.points(np.broadcast_to(psi, (len(form.heights), len(psi))))
    reach = float(np.abs(curves).max())
    span = float(np.ptp(form.heights))
    wide = 2.0 * reach + 2.0 * _MARGIN
    high = max(2.0 * reach, span) + 3.0 * _MARGIN
    root = picture(3.0 * wide + 70.0, high, "sections of the body from above, front and side")
    root.append(etree.Element("rect", {"width": "100%", "height": "100%", "fill": PAPER}))
    _above(root, form, curves, np.array([0.5 * wide, _MARGIN * 1.5 + reach]))
    for number, (axis, words) in enumerate(((0, "from the front"), (1, "from the left")), start=1):
        origin = np.array([(number + 0.5) * wide, _MARGIN * 1.5 + float(form.heights[-1])])
        _silhouette(root, form, curves, axis, origin, words)
    _heights(root, form, np.array([3.0 * wide, _MARGIN * 1.5 + float(form.heights[-1])]), units)
    return finished(root).encode()


def _above(
    root: etree._Element, form: MeasuredForm, curves: FloatArray, origin: FloatArray
) -> None:
    text(root, "from above, front at the top", origin * [1.0, 0.0] + [0.0, _LETTER * 1.4], _LETTER)
    waist = int(np.argmin(np.abs(form.heights)))
    # The wearer's left lies at the left of a page whose top is the front.
    flip = np.array([-1.0, -1.0])
    for index, curve in enumerate(curves):
        line(root, origin + curve * flip, _BOLD if index == waist else _FAINT)
    line(root, origin + curves[waist] * flip, _BOLD)
    for name, height in form.names.items():
        row = int(np.argmin(np.abs(form.heights - height)))
        if row != waist:
            line(root, origin + curves[row] * flip, _INK)
            text(root, name, origin + curves[row][0] * flip - [0.0, 3.0], 0.8 * _LETTER)
    for ends in ([[-6.0, 0.0], [6.0, 0.0]], [[0.0, -6.0], [0.0, 6.0]]):
        line(root, origin + np.array(ends), _INK)


def _silhouette(
    root: etree._Element,
    form: MeasuredForm,
    curves: FloatArray,
    axis: int,
    origin: FloatArray,
    words: str,
) -> None:
    text(root, words, origin * [1.0, 0.0] + [0.0, _LETTER * 1.4], _LETTER)
    # From the front the wearer's left is at the right; from the left the front is at the left.
    sign = 1.0 if axis == 0 else -1.0
    ends = np.column_stack([curves[:, :, axis].min(axis=1), curves[:, :, axis].max(axis=1)])
    for side in ends.T:
        line(root, origin + np.column_stack([sign * side, -form.heights]), _INK)
    for row in (0, len(ends) - 1):
        y = -float(form.heights[row])
        line(root, origin + np.array([[sign * ends[row, 0], y], [sign * ends[row, 1], y]]), _FAINT)
    waist = int(np.argmin(np.abs(form.heights)))
    line(root, origin + np.array([[sign * v, 0.0] for v in ends[waist]]), _BOLD)


def _heights(root: etree._Element, form: MeasuredForm, origin: FloatArray, units: str) -> None:
    """Girths beside the silhouettes, every 50 mm."""
    text(root, "girth", origin * [1.0, 0.0] + [25.0, _LETTER * 1.4], _LETTER)
    low, high = (int(np.ceil(v / 50.0)) for v in (form.heights[0], form.heights[-1]))
    for step in range(low, high):
        height = 50.0 * step
        words = form.shown_girth(height, units)
        text(root, words, origin + np.array([0.0, -height + 4.0]), 0.85 * _LETTER, "start")
