"""The swatch sheet as a file: SVG, or one page of PDF."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from ..errors import SwatchError
from ..printing import PageOptions, Paper
from ..printing.printing import print_whole
from ..sheets.svg_writer import sheet_svg
from .strips import DEFAULT_FORMERS_MM, strips_sheet

__all__ = ["DEFAULT_FORMERS_MM", "sheet_bytes"]

MARGIN_MM: Final = 10.0

PAGE: Final = Paper("sheet", 210.0, 279.0)
"""As wide as A4 and as high as US Letter: it prints on both without scaling."""


def sheet_bytes(formers: Sequence[float], suffix: str) -> bytes:
    """Return the sheet as a file's content.

    Parameters
    ----------
    formers : sequence of float
        Diameters in mm.
    suffix : {".svg", ".pdf"}
        The PDF is one page, see `PAGE`.

    Raises
    ------
    SwatchError
        If the suffix is another, or see `strips_sheet`.
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
