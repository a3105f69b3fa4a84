"""The sheets to print, by kind: flat swatches, swatches with bones, test pieces and seam strips."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final, Literal, get_args

from ..errors import SwatchError
from ..printing import PageOptions, Paper
from ..printing.sheet_prints import print_whole
from ..sheets.sheet import Sheet
from ..sheets.svg_writer import sheet_svg
from ..units import MM_PER_INCH
from .boned import BONE_MM, room_needed
from .strips import (
    INNER,
    OUTER,
    PIN,
    SMALL,
    WIDTH_MM,
    StripCanvas,
    checked_formers,
    head,
    inner_strip,
    outer_strip,
    strips_sheet,
    swatch_length,
)

StripKind = Literal["flat", "bones", "pieces"]
"""Which sheet: two layers on each other, the same with bones between, or test pieces."""

PITCH_MM: Final = 45.0
"""Bones on a strip stand so far apart, or further where the former is large."""

PIECE_MM: Final = 60.0
ALLOWANCE_MM: Final = 12.0
"""Length of a seam strip's paper piece, the allowance counted, and its allowance."""


def boned_sheet(formers: Sequence[float]) -> Sheet:
    """Draw the sheet for swatches with bones on formers of these diameters in mm.

    Raises `SwatchError` as `checked_formers` does.
    """
    chosen = checked_formers(formers)
    length = swatch_length(chosen)
    pitch = max(PITCH_MM, room_needed(0.5 * chosen[-1], *BONE_MM, False))
    count = max(1, math.floor(length / pitch))
    drawing = StripCanvas()
    y = head(drawing, "Swatch with bones", "How high do bones stand under the outer cloth?")
    y = drawing.steps(
        (
            "Cut and pin the two strips as on the first sheet. Bend them round the former and "
            "read the overhang: FLAT.",
            f"Lay bones across the inner cloth on the {count} BONE lines, as they lie in the "
            "corset: in channels, under a casing, or taped down. Sew nothing through the outer "
            "cloth.",
            "Pin the outer cloth on again, PIN LINES together. Bend all round the same former, "
            "bones along it, as snug as it will be laced. Tape the pinned end down.",
            "Where the inner cloth ENDS, put a pin through the outer cloth, pointing at the "
            "middle of the former. Read the scale: BONED.",
            "Take three readings or more, each flat and with bones, of one kind of bone.",
        ),
        y,
    )
    for words in (
        "Cut ends of bones are sharp: cap or tape them.",
        "Keep pins counted, and leave none in the cloth.",
    ):
        drawing.text(words, 7.0, y, bold=True)
        y += 5.2
    heads = ("former", "flat", "boned", "flat", "boned")
    rows = [(f"{former:g} mm ({former / MM_PER_INCH:.1f} in)",) for former in chosen]
    drawing.table(
        {1.0: "inner:", 36.0: "outer:", 68.0: "bone:        by        mm"},
        heads,
        rows,
        f"{count} bones, {length / count:.0f} mm apart; swatch length: {length:g} mm",
    )
    right = WIDTH_MM - 1.0
    left = right - OUTER - 3.0 - INNER
    inner_strip(drawing, left, length, named=False)
    for bone in range(count):
        middle = PIN + (bone + 0.5) * length / count
        drawing.line("bone-channels", (left + 15.5, middle), (left + INNER - 12.0, middle))
        drawing.text(f"BONE {bone + 1}", left + 23.5, middle - 1.2, SMALL, middle=True)
    drawing.text("INNER", left + 23.5, PIN + 8.0, 4.5, bold=True, middle=True)
    drawing.text("cloth", left + 23.5, PIN + 12.5, 4.5, bold=True, middle=True)
    outer_strip(drawing, right - OUTER, length)
    return drawing.sheet(f"Swatch with bones, {length:g} mm")


def pieces_sheet() -> Sheet:
    """Draw the sheet for test pieces: seams made up, and cloth before and after."""
    drawing = StripCanvas()
    y = head(drawing, "Test pieces", "What do making up and wear do to the cloth?")
    drawing.text("Seam strip, of two cloths sewn as one in one row", 0.5, y, 4.4, bold=True)
    y = drawing.steps(
        (
            "For each seam cut two pieces of both cloths by the paper, exactly alike.",
            "Lay outer on inner, edges together, as one. Sew two such pairs on the SEAM line in "
            "one row. Press as in the corset: open, or to one side.",
            "Lay it flat, inner cloth down. Smooth both from the seam outwards. At both ends the "
            "inner one looks out: measure how far.",
            "Make up three seams or more. Add all up: so much the outer falls SHORT.",
        ),
        y + 6.0,
    )
    drawing.text("Pieces before and after", 0.5, y + 1.0, 4.4, bold=True)
    y = drawing.steps(
        (
            "Mark two lines 200 mm or more apart, the way it goes round the body (girth), up and "
            "down (length), or on the bias: BEFORE.",
            "Quilt, cord, stitch or wash it as the corset will be, or put bones into channels "
            "(measure across all). Again: AFTER.",
            "Give: hang up a strip 50 mm wide: BEFORE. Clip 1 kg (a bottle of a litre) right "
            "across its end: AFTER.",
        ),
        y + 7.0,
    )
    drawing.text("Hang it low, over something soft. Count pins.", 7.0, y, bold=True)
    rows = [(words,) for words in ("seams:", "", "", "")]
    drawing.table(
        {1.0: "inner and outer cloth of the seams:"},
        ("test", "layer, way", "before", "after", "short"),
        rows,
        "",
    )
    x, top = WIDTH_MM - 66.0, 1.0
    drawing.box("cut-line", x, top, 65.0, PIECE_MM)
    seam = top + ALLOWANCE_MM
    drawing.line("stitch-line", (x, seam), (x + 65.0, seam))
    drawing.text("SEAM", x + 32.5, seam - 3.5, 4.5, bold=True, middle=True)
    drawing.text("SEAM STRIP", x + 35.0, seam + 18.0, 6.0, bold=True, middle=True)
    drawing.text("two of each cloth for each seam", x + 35.0, seam + 24.0, SMALL, middle=True)
    drawing.text("this way round the body", x + 35.0, seam + 36.0, SMALL, middle=True)
    drawing.line("grainlines", (x + 6.0, seam + 12.0), (x + 6.0, top + PIECE_MM - 6.0))
    _ruler(drawing, x, 70.0)
    return drawing.sheet("Test pieces")


def _ruler(drawing: StripCanvas, x: float, top: float) -> None:
    """A paper scale of 170 mm to cut out, in mm on the left and inches on the right."""
    drawing.box("cut-line", x, top, 34.0, 170.0)
    drawing.scale(x, top, 170.0, numbered=10)
    drawing.inches(x + 34.0, top, 170.0, parts=16)
    drawing.text("mm", x + 8.0, top + 4.5, SMALL)
    drawing.text("in", x + 24.0, top + 4.5, SMALL)


SHEETS: Final[tuple[StripKind, ...]] = get_args(StripKind)

MARGIN_MM: Final = 10.0

PAGE: Final = Paper("sheet", 210.0, 279.0)
"""As wide as A4 and as high as US Letter: it prints on both without scaling."""


def sheet_bytes(formers: Sequence[float], suffix: str, kind: StripKind = "flat") -> bytes:
    """Return a sheet as a file's content.

    *formers*: diameters in mm, which test pieces do not need. *suffix*: {".svg", ".pdf"}. The PDF
    is one page, see `PAGE`.

    Raises `SwatchError` if the suffix is another, or see `strips_sheet`.
    """
    if suffix not in (".svg", ".pdf"):
        raise SwatchError(
            f"a swatch sheet cannot be written as {suffix or 'a file without ending'}",
            remedy="Name a file that ends in .svg or .pdf.",
        )
    if kind == "pieces":
        sheet = pieces_sheet()
    else:
        sheet = strips_sheet(formers) if kind == "flat" else boned_sheet(formers)
    if suffix == ".svg":
        return sheet_svg(sheet)
    return print_whole(sheet, PageOptions(PAGE, MARGIN_MM), turned=False).data
