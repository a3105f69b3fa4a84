"""The swatch sheet: strips with scales to cut, pin and read, on one page."""

from __future__ import annotations

import math
import textwrap
from collections.abc import Mapping, Sequence
from typing import Final

import numpy as np

from ..cutting.composing import ruler_squares
from ..errors import SwatchError
from ..outline import Curve
from ..sheets.palette import LineKind
from ..sheets.sheet import Label, Sheet, Stroke
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
PIN: Final = _TOP + _TAB
"""Where the pin line lies, down from the edge."""

INNER = 43.0
OUTER = 30.0
_TEXT = 4.1
SMALL = 3.5
_LINE = 4.9
_BETWEEN = 0.7
COLUMN = 108.0
_LETTERS = 50


def swatch_length(formers: Sequence[float]) -> float:
    """Length in mm of the swatch for some formers: 180, or less to go round the smallest."""
    round_smallest = SHARE_OF_ROUND * math.pi * min(formers)
    return min(LONGEST_SWATCH_MM, 10.0 * math.floor(round_smallest / 10.0))


def short_length(length: float) -> float | None:
    """Length in mm of the short strip beside a long one, a third; None if there is no room."""
    return 10.0 * math.floor(length / 30.0) if length >= 100.0 else None


def checked_formers(formers: Sequence[float]) -> list[float]:
    """Diameters in mm that the maker will use, each once and in order.

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
    return sorted(set(formers))


def strips_sheet(formers: Sequence[float] = DEFAULT_FORMERS_MM) -> Sheet:
    """Draw the sheet for flat swatches on formers of these diameters in mm.

    Raises `SwatchError` as `checked_formers` does.
    """
    chosen = checked_formers(formers)
    length = swatch_length(chosen)
    drawing = StripCanvas()
    y = head(drawing, "Swatch sheet", "How far apart do two layers lie when they are bent?")
    y = drawing.steps(_steps(short_length(length)), y)
    drawing.text("Keep pins counted, and leave none in the cloth.", 7.0, y, bold=True)
    _record(drawing, chosen, length)
    right = WIDTH_MM - 1.0
    inner_strip(drawing, right - OUTER - 3.0 - INNER, length, short=short_length(length))
    outer_strip(drawing, right - OUTER, length)
    return drawing.sheet(f"Swatch sheet, {length:g} mm")


class StripCanvas:
    """Collects lines and words, in sheet mm."""

    def __init__(self) -> None:
        self.strokes: list[Stroke] = []
        self.labels: list[Label] = []

    def line(self, kind: LineKind, *points: tuple[float, float], closed: bool = False) -> None:
        """Draw a line of a kind through points."""
        self.strokes.append(Stroke(kind, Curve.polyline(points, closed=closed)))

    def box(self, kind: LineKind, x: float, y: float, wide: float, high: float) -> None:
        """Draw a rectangle down and right from (x, y)."""
        self.line(kind, (x, y), (x + wide, y), (x + wide, y + high), (x, y + high), closed=True)

    def steps(self, steps: Sequence[str], y: float) -> float:
        """Numbered steps in the left column from y down; returns where the next line stands."""
        for number, words in enumerate(steps, start=1):
            self.text(f"{number}", 0.5, y, 5.0, bold=True)
            for line in textwrap.wrap(words, _LETTERS):
                self.text(line, 7.0, y)
                y += _LINE
            y += _BETWEEN
        return y

    def scale(self, x: float, y: float, length: float, *, numbered: int) -> None:
        """Ticks for each mm down the left side from (x, y), longer at 5 and 10."""
        for k in range(math.floor(length) + 1):
            long = 7.0 if k % 10 == 0 else 5.0 if k % 5 == 0 else 3.0
            self.line("marks", (x, y + k), (x + long, y + k))
            if k % numbered == 0 and 0 < k < length:
                self.text(f"{k}", x + 8.0, y + k + 1.3, SMALL, bold=k % 10 == 0)

    def inches(self, x: float, y: float, length: float, *, parts: int) -> None:
        """Ticks for parts of an inch down the right side from (x, y), numbers at whole inches."""
        step = MM_PER_INCH / parts
        for k in range(math.floor(length / step + 1e-9) + 1):
            half, quarter = 2 * k % parts == 0, 4 * k % parts == 0
            long = 7.0 if k % parts == 0 else 5.0 if half else 3.5 if quarter else 2.0
            at = y + k * step
            self.line("marks", (x, at), (x - long, at))
            if k and k % parts == 0 and at + 3.0 < y + length:
                self.text(f"{k // parts}", x - 11.0, at + 1.3, SMALL, bold=True)

    def table(
        self,
        top: Mapping[float, str],
        heads: Sequence[str],
        rows: Sequence[Sequence[str]],
        foot: str,
    ) -> None:
        """A table to write in, at the foot of the left column; *top*: words by their x in mm."""
        columns = [0.0, 31.0, 49.0, 68.0, 87.0, COLUMN]
        high = 6.6
        y = HEIGHT_MM - 6.0 - high * (len(rows) + 2)
        lines = [y + k * high for k in range(len(rows) + 3)]
        for line in lines:
            self.line("marks", (0.0, line), (COLUMN, line))
        for x in (0.0, COLUMN):
            self.line("marks", (x, lines[0]), (x, lines[-1]))
        for x in columns[1:-1]:
            self.line("marks", (x, lines[1]), (x, lines[-1]))
        for x, words in top.items():
            self.text(words, x, y + 4.8, SMALL)
        for row, line in zip((heads, *rows), lines[1:], strict=False):
            for words, x in zip(row, columns, strict=False):
                self.text(words, x + 1.0, line + 4.8, SMALL)
        self.text(foot, 0.5, HEIGHT_MM - 1.5, SMALL)

    def sheet(self, title: str) -> Sheet:
        """All that was drawn."""
        return Sheet(title, WIDTH_MM, HEIGHT_MM, tuple(self.strokes), tuple(self.labels))

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
        """Write words from (x, y), or with their middle there."""
        angle = -0.5 * math.pi if upwards else 0.0
        at = np.array([x, y])
        self.labels.append(Label(words, at, size, angle, "middle" if middle else "start", bold))


def head(drawing: StripCanvas, title: str, words: str) -> float:
    """Title and test squares; returns where the next line stands."""
    drawing.text(title, 0.0, 8.0, 9.0, bold=True)
    drawing.text(words, 0.0, 14.5)
    strokes, labels = ruler_squares(0.5, 19.0)
    drawing.strokes += strokes
    drawing.labels += labels
    return 19.0 + 2.0 * MM_PER_INCH + 6.5


def _steps(short: float | None) -> tuple[str, ...]:
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
    if short is None:
        return steps
    return (
        *steps,
        f"Then two of a short strip: cut the inner cloth at SHORT, {short:g} mm. Read the wide "
        f"strip's mm at the pin, less {short:g}. It shows what pinning adds.",
    )


def _record(drawing: StripCanvas, formers: Sequence[float], length: float) -> None:
    """A table to write in: one row a former, with what a distance of 1 mm would give."""
    drawing.table(
        {1.0: "inner:", 40.0: "outer:", 70.0: "inner is", 91.0: "mm thick"},
        ("former", "1 mm is*", *["overhang"] * 3),
        [
            (f"{former:g} mm ({former / MM_PER_INCH:.1f} in)", f"{2.0 * length / former:.1f} mm")
            for former in formers
        ],
        f"* overhang if the middles lie 1 mm apart. Swatch length: {length:g} mm",
    )


def inner_strip(
    drawing: StripCanvas, x: float, length: float, *, short: float | None = None, named: bool = True
) -> None:
    """The strip for the inner cloth at x, with its name and a line to cut a short one by."""
    pin = PIN
    drawing.box("cut-line", x, _TOP, INNER, _TAB + length)
    _pin_line(drawing, x, INNER)
    drawing.scale(x, pin, length, numbered=10)
    drawing.inches(x + INNER, pin, length, parts=8)
    drawing.text("mm", x + 9.0, pin + 5.0, SMALL)
    drawing.text("in", x + INNER - 12.0, pin + 5.0, SMALL)
    if named:
        words = f"{length:g} mm ({length / MM_PER_INCH:.2f} in) from PIN LINE to END"
        _name(
            drawing, "INNER cloth", words, x + 24.5, pin + (0.5 if short is None else 0.6) * length
        )
    if short is not None:
        y = PIN + short
        drawing.line("marks", (x + 13.0, y), (x + INNER - 13.0, y))
        drawing.text("SHORT", x + 24.0, y - 1.4, SMALL, bold=True, middle=True)
    drawing.text("END", x + 24.0, pin + length - 3.5, 4.5, bold=True, middle=True)


def outer_strip(drawing: StripCanvas, x: float, length: float) -> None:
    """The strip for the outer cloth at x, with the scale of the overhang."""
    zero = PIN + length
    middle = x + 0.5 * OUTER
    drawing.box("cut-line", x, _TOP, OUTER, _TAB + length + SCALE_MM + 4.0)
    _pin_line(drawing, x, OUTER)
    words = "and all cloth between the two"
    _name(drawing, "OUTER cloth", words, middle + 0.5, PIN + 0.5 * length)
    drawing.text("overhang", middle, zero - 6.6, 4.0, bold=True, middle=True)
    drawing.text("mm", x + 5.0, zero - 1.8, SMALL, middle=True)
    drawing.text("in", x + OUTER - 5.0, zero - 1.8, SMALL, middle=True)
    drawing.text("0", middle, zero - 1.8, 4.0, bold=True, middle=True)
    drawing.line("notches", (x, zero), (x + OUTER, zero))
    drawing.scale(x, zero, SCALE_MM, numbered=5)
    drawing.inches(x + OUTER, zero, SCALE_MM, parts=16)


def _pin_line(drawing: StripCanvas, x: float, wide: float) -> None:
    y = PIN
    drawing.line("stitch-line", (x, y), (x + wide, y))
    drawing.text("PIN LINE", x + 0.5 * wide, y - 4.0, 4.5, bold=True, middle=True)


def _name(drawing: StripCanvas, name: str, words: str, x: float, y: float) -> None:
    """What a strip is, written up along it."""
    drawing.text(name, x, y, 7.5, bold=True, middle=True, upwards=True)
    drawing.text(words, x + 5.0, y, SMALL, middle=True, upwards=True)
