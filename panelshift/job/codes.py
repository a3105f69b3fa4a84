"""Codes of all that the maker is told to look at, or to mend: the same from release to release."""

from __future__ import annotations

from typing import Final

from ..pattern.drawing import CODES as DRAWING_CODES
from .slips import BOUNDS

CODES: Final[dict[str, str]] = {
    **DRAWING_CODES,
    **{bound.code: f"out of bounds: {bound.about}" for bound in BOUNDS},
    "scale": "the pattern's waist is not the drafted one",
    "seam": "two edges that are sewn together differ in length",
    "swatch": "readings of a swatch are few, scattered, or disagree",
    "cut-line": "a cut line is drawn in short straight lines",
    "cloth": "the layout of the cloth is in doubt",
    "level-short": "no girth is given at a level, which some panels do not reach",
    "walk": "walked seams fail",
    "print": "a print is in doubt, such as letters that no font has",
}
"""Each code, and what it is about; docs/codes.md lists them."""
