"""Lengths at the edges of the program: text and display units to and from millimetres.

Inside panelshift every length is in millimetres and every angle in radians; only this
module, the SVG reader and the writers convert.
"""

from __future__ import annotations

import math
import re
from typing import Final

from .errors import UnitError

MM_PER_INCH: Final = 25.4
"""Exact by definition (ISO 31-1; the international inch of 1959)."""

MM_PER_UNIT: Final[dict[str, float]] = {
    "mm": 1.0,
    "cm": 10.0,
    "in": MM_PER_INCH,
    "pt": MM_PER_INCH / 72.0,
    "pc": MM_PER_INCH / 6.0,
    "px": MM_PER_INCH / 96.0,
    "q": 0.25,
}
"""Absolute lengths of CSS Values and Units Level 4, section 6.2, by lower-case name."""

LONGEST_MM: Final = 100_000.0
"""No pattern is longer than 100 m: a larger number is a fault in the file."""

_LENGTH = re.compile(r"\s*([+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?)\s*([A-Za-z\"%]*)\s*")


def split_length(text: str) -> tuple[float, str]:
    """Split a length into its number and its lower-case unit (empty if bare).

    Raises
    ------
    UnitError
        If the text is not one finite number followed by at most one unit.

    Examples
    --------
    >>> split_length("12.5mm")
    (12.5, 'mm')
    """
    match = _LENGTH.fullmatch(text)
    if match is None:
        raise UnitError(
            f"{text!r:.60} is not a length",
            remedy="Write a number and a unit, such as 12 mm or 0.5 in.",
        )
    number = float(match.group(1))
    if not math.isfinite(number):
        raise UnitError(f"{text!r:.60} is not a finite length", remedy="Write an ordinary number.")
    return number, match.group(2).lower()


def to_mm(text: str, *, bare: str = "mm") -> float:
    """Read a length and return it in millimetres.

    Parameters
    ----------
    text : str
        A number with an optional unit: mm, cm, in, pt, pc, px or Q.
    bare : str
        The unit of a number that has none.

    Raises
    ------
    UnitError
        If the text is not a length or its unit is unknown.

    Examples
    --------
    >>> to_mm("1in")
    25.4
    >>> to_mm("0.45")
    0.45
    """
    number, unit = split_length(text)
    scale = MM_PER_UNIT.get(unit or bare)
    if scale is None:
        known = ", ".join(name if name != "q" else "Q" for name in MM_PER_UNIT)
        raise UnitError(f"unknown unit {unit!r:.30} in {text!r:.60}", remedy=f"Use one of {known}.")
    return number * scale


def show(length_mm: float, unit: str = "mm", *, signed: bool = False) -> str:
    """Format a length for people, in a display unit and with that unit's usual digits.

    Examples
    --------
    >>> show(25.4, "in")
    '1.000 in'
    >>> show(1.25, signed=True)
    '+1.25 mm'
    """
    digits = {"mm": 2, "cm": 3, "in": 3}[unit]
    sign = "+" if signed else ""
    value = round(length_mm / MM_PER_UNIT[unit], digits) + 0.0
    return f"{value:{sign}.{digits}f} {unit}"
