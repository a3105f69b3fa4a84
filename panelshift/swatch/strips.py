"""The swatch sheet: strips with scales to cut, pin and read, on one page, as SVG or PDF."""

from __future__ import annotations

import math
import textwrap
from collections.abc import Sequence
from typing import Final

import numpy as np

from ..cutting.composing import ruler_squares
from ..errors import SwatchError
from ..outline import Curve
from ..printing import PageOptions, Paper
from ..printing.sheet_prints import print_whole
from ..sheets.palette import LineKind
from ..sheets.sheet import Label, Sheet, Stroke
from ..sheets.svg_writer import sheet_svg
from ..units import MM_PER_INCH

WIDTH_MM: Final = 190.0
HEIGHT_MM: Final = 247.0
"""Both A4 (210 x 297 mm) and US Letter (215.9 x 279.4 mm) hold 190 x 259 mm inside 10 mm
margins; the height leaves room for the print's own foot of two lines."""

DEFAULT_FORMERS_MM: Final = (60.0, 80.0, 100.0)
"""About a spray can, a jar and a tin (from memory); smaller ones give more overhang."""

MOST_FORMERS: Final = 6
SMALLEST_MM: Final = 30.0
LARGEST_MM: Final = 400.0

LONGEST_SWATCH_MM: Final = 180.0
SHARE_OF_ROUND: Final = 0.9
"""A swatch never goes all the way round its smallest former: its end must stay in sight."""

SCALE_MM: Final = 40.0
"""Length of the overhang scale: a distance of 6 mm once round gives 38 mm."""

_TOP = 0.5
_TAB = 12.0
_INNER = 43.0
_OUTER = 30.0
_TEXT = 4.1
_SMALL = 3.5
_LINE = 5.2
_COLUMN = 108.0
_LETTERS = 50


def swatch_length(formers: Sequence[float]) -> float:
    """Length in mm of the swatch for some formers: 180, or less to go round the smallest."""
    round_smallest = SHARE_OF_ROUND * math.pi * min(formers)
    return min(LONGEST_SWATCH_MM, 10.0 * math.floor(round_smallest / 10.0))


def strips_sheet(formers: Sequence[float] = DEFAULT_FORMERS_MM) -> Sheet:
    """Draw the sheet.

    *formers*: diameters in mm that the maker will use.

    Raises `SwatchError` if there is no former, too many, or one that is too small or too large.
    """
    if not 1 <= len(formers) <= MOST_FORMERS:
        raise SwatchError(
            f"{len(formers)} formers", remedy=f"Name 1 to {MOST_FORMERS} diameters, such as 60,80."
        )
    for former in formers:
        if not SMALLEST_MM <= former <= LARGEST_MM:
            raise SwatchError(
                f"a former of {former:g} mm",
                remedy=f"Name diameters from {SMALLEST_MM:g} to {LARGEST_MM:g} mm.",
            )
    chosen = sorted(set(formers))
    length = swatch_length(chosen)
    drawing = _Canvas()
    _steps(drawing, _head(drawing))
    _record(drawing, chosen, length)
    right = WIDTH_MM - 1.0
    _inner_strip(drawing, right - _OUTER - 3.0 - _INNER, length)
    _outer_strip(drawing, right - _OUTER, length)
    title = f"Swatch sheet, {length:g} mm"
    return Sheet(title, WIDTH_MM, HEIGHT_MM, tuple(drawing.strokes), tuple(drawing.labels))


class _Canvas:
    """Collects lines and words, in sheet mm."""

    def __init__(self) -> None:
        self.strokes: list[Stroke] = []
        self.labels: list[Label] = []

    def line(self, kind: LineKind, *points: tuple[float, float], closed: bool = False) -> None:
        self.strokes.append(Stroke(kind, Curve.polyline(points, closed=closed)))

    def box(self, kind: LineKind, x: float, y: float, wide: float, high: float) -> None:
        self.line(kind, (x, y), (x + wide, y), (x + wide, y + high), (x, y + high), closed=True)

    def text(
        self,
        words: str,
        x: float,
        y: float,
        size: float = _TEXT,
        *,
        bold: bool = False,
        middle: bool = False,
        upwards: bool = False,
    ) -> None:
        angle = -0.5 * math.pi if upwards else 0.0
        at = np.array([x, y])
        self.labels.append(Label(words, at, size, angle, "middle" if middle else "start", bold))


def _head(drawing: _Canvas) -> float:
    """Title and test squares; returns where the next line stands."""
    drawing.text("Swatch sheet", 0.0, 8.0, 9.0, bold=True)
    drawing.text("How far apart do two layers lie when they are bent?", 0.0, 14.5)
    strokes, labels = ruler_squares(0.5, 19.0)
    drawing.strokes += strokes
    drawing.labels += labels
    return 19.0 + 2.0 * MM_PER_INCH + 6.5


def _steps(drawing: _Canvas, y: float) -> None:
    steps = (
        "Cut out the paper strips along the thick lines.",
        "Pin the wide strip on the inner cloth, its length the way the cloth goes round the "
        "body. Cut the cloth to it and mark the PIN LINE.",
        "Do the same with the narrow strip on the outer cloth, and on all cloth between.",
        "Take the paper off. Lay the cloths flat on each other as in the corset, PIN LINES "
        "together, and pin through all there and nowhere else.",
        "Bend them round the former, inner cloth against it: snug, not stretched. Tape the "
        "pinned end to the former.",
        "Where the inner cloth ENDS, put a pin through the outer cloth, pointing at the middle "
        "of the former.",
        "Lay the outer cloth flat on its paper strip, PIN LINES together. Read the scale at "
        "that pin, to half a mm: this is the overhang.",
        "Take three readings or more, and write them down.",
    )
    for number, words in enumerate(steps, start=1):
        drawing.text(f"{number}", 0.5, y, 5.0, bold=True)
        for line in textwrap.wrap(words, _LETTERS):
            drawing.text(line, 7.0, y)
            y += _LINE
        y += 0.9
    drawing.text("Keep pins counted, and leave none in the cloth.", 7.0, y, bold=True)


def _record(drawing: _Canvas, formers: Sequence[float], length: float) -> None:
    """A table to write in: one row a former, with what a distance of 1 mm would give."""
    columns = [0.0, 31.0, 49.0, 68.0, 87.0, _COLUMN]
    high = 6.6
    foot = HEIGHT_MM - 6.0
    y = foot - high * (len(formers) + 2)
    rows = [y + k * high for k in range(len(formers) + 3)]
    for row in rows:
        drawing.line("marks", (0.0, row), (_COLUMN, row))
    for x in (0.0, _COLUMN):
        drawing.line("marks", (x, rows[0]), (x, rows[-1]))
    for x in columns[1:-1]:
        drawing.line("marks", (x, rows[1]), (x, rows[-1]))
    for words, x in (("inner:", 1.0), ("outer:", 40.0), ("inner is", 70.0), ("mm thick", 91.0)):
        drawing.text(words, x, y + 4.8, _SMALL)
    for words, x in zip(("former", "1 mm is*", *["overhang"] * 3), columns, strict=False):
        drawing.text(words, x + 1.0, rows[1] + 4.8, _SMALL)
    for former, row in zip(formers, rows[2:], strict=False):
        inches = former / MM_PER_INCH
        drawing.text(f"{former:g} mm ({inches:.1f} in)", 1.0, row + 4.8, _SMALL)
        drawing.text(f"{2.0 * length / former:.1f} mm", columns[1] + 1.0, row + 4.8, _SMALL)
    drawing.text(
        f"* overhang if the middles lie 1 mm apart. Swatch length: {length:g} mm",
        0.5,
        HEIGHT_MM - 1.5,
        _SMALL,
    )


def _inner_strip(drawing: _Canvas, x: float, length: float) -> None:
    pin = _TOP + _TAB
    drawing.box("cut-line", x, _TOP, _INNER, _TAB + length)
    _pin_line(drawing, x, _INNER)
    _scale(drawing, x, pin, length, numbered=10)
    _inches(drawing, x + _INNER, pin, length, parts=8)
    drawing.text("mm", x + 9.0, pin + 5.0, _SMALL)
    drawing.text("in", x + _INNER - 12.0, pin + 5.0, _SMALL)
    words = f"{length:g} mm ({length / MM_PER_INCH:.2f} in) from PIN LINE to END"
    _name(drawing, "INNER cloth", words, x + 24.5, pin + 0.5 * length)
    drawing.text("END", x + 24.0, pin + length - 3.5, 4.5, bold=True, middle=True)


def _outer_strip(drawing: _Canvas, x: float, length: float) -> None:
    zero = _TOP + _TAB + length
    middle = x + 0.5 * _OUTER
    drawing.box("cut-line", x, _TOP, _OUTER, _TAB + length + SCALE_MM + 4.0)
    _pin_line(drawing, x, _OUTER)
    words = "and all cloth between the two"
    _name(drawing, "OUTER cloth", words, middle + 0.5, _TOP + _TAB + 0.5 * length)
    drawing.text("overhang", middle, zero - 6.6, 4.0, bold=True, middle=True)
    drawing.text("mm", x + 5.0, zero - 1.8, _SMALL, middle=True)
    drawing.text("in", x + _OUTER - 5.0, zero - 1.8, _SMALL, middle=True)
    drawing.text("0", middle, zero - 1.8, 4.0, bold=True, middle=True)
    drawing.line("notches", (x, zero), (x + _OUTER, zero))
    _scale(drawing, x, zero, SCALE_MM, numbered=5)
    _inches(drawing, x + _OUTER, zero, SCALE_MM, parts=16)


def _pin_line(drawing: _Canvas, x: float, wide: float) -> None:
    y = _TOP + _TAB
    drawing.line("stitch-line", (x, y), (x + wide, y))
    drawing.text("PIN LINE", x + 0.5 * wide, y - 4.0, 4.5, bold=True, middle=True)


def _name(drawing: _Canvas, name: str, words: str, x: float, y: float) -> None:
    """What a strip is, written up along it."""
    drawing.text(name, x, y, 7.5, bold=True, middle=True, upwards=True)
    drawing.text(words, x + 5.0, y, _SMALL, middle=True, upwards=True)


def _scale(drawing: _Canvas, x: float, y: float, length: float, *, numbered: int) -> None:
    """Ticks for each mm down the left side from (x, y), longer at 5 and 10."""
    for k in range(math.floor(length) + 1):
        long = 7.0 if k % 10 == 0 else 5.0 if k % 5 == 0 else 3.0
        drawing.line("marks", (x, y + k), (x + long, y + k))
        if k % numbered == 0 and 0 < k < length:
            drawing.text(f"{k}", x + 8.0, y + k + 1.3, _SMALL, bold=k % 10 == 0)


def _inches(drawing: _Canvas, x: float, y: float, length: float, *, parts: int) -> None:
    """Ticks for parts of an inch down the right side from (x, y), numbers at whole inches."""
    step = MM_PER_INCH / parts
    for k in range(math.floor(length / step + 1e-9) + 1):
        half, quarter = 2 * k % parts == 0, 4 * k % parts == 0
        long = 7.0 if k % parts == 0 else 5.0 if half else 3.5 if quarter else 2.0
        at = y + k * step
        drawing.line("marks", (x, at), (x - long, at))
        if k and k % parts == 0 and at + 3.0 < y + length:
            drawing.text(f"{k // parts}", x - 11.0, at + 1.3, _SMALL, bold=True)


MARGIN_MM: Final = 10.0

PAGE: Final = Paper("sheet", 210.0, 279.0)
"""As wide as A4 and as high as US Letter: it prints on both without scaling."""


def sheet_bytes(formers: Sequence[float], suffix: str) -> bytes:
    """Return the sheet as a file's content.

    *formers*: diameters in mm. *suffix*: {".svg", ".pdf"}. The PDF is one page, see `PAGE`.

    Raises `SwatchError` if the suffix is another, or see `strips_sheet`.
    """
    if suffix not in (".svg", ".pdf"):
        raise SwatchError(
            f"a swatch sheet cannot be written as {suffix or 'a file without ending'}",
            remedy="Name a file that ends in .svg or .pdf.",
        )
    sheet = strips_sheet(formers)
    if suffix == ".svg":
        return sheet_svg(sheet)
    return print_whole(sheet, PageOptions(PAGE, MARGIN_MM), turned=False).data
