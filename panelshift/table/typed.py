"""Numbers as makers type them: decimal commas, units, inches in fractions, percent."""

from __future__ import annotations

import math
import re
from typing import Final

from ..errors import UnitError
from ..units import MM_PER_UNIT, split_length, to_mm

_COMMA = re.compile(r"(?<=\d),(?=\d)|^,(?=\d)")
_INCH_WORDS = re.compile(r"(?:\"|″|''|inch(?:es)?)$", re.IGNORECASE)
_FRACTION = re.compile(r"([+-]?)(?:(\d{1,6})[ -]+)?(\d{1,6})\s*[/⁄]\s*(\d{1,6})\s*(.*)")  # noqa: RUF001
_DIGITS: Final = {"mm": 3, "cm": 4, "in": 4}
"""Decimals of a length in a field: a micrometre, or about as fine."""


def typed_length(text: str, units: str) -> float | int | str:
    """Return what a job file should say for a length that was typed.

    Parameters
    ----------
    text : str
        A number with an optional unit; a decimal comma or a fraction such as 3/8 will do.
    units : {"mm", "cm", "in"}
        The unit of a number that has none.

    Returns
    -------
    float, int or str
        A bare number of mm, or text with its unit, so that inches stay as they were typed.

    Raises
    ------
    UnitError
        If it is no length.

    Examples
    --------
    >>> typed_length("0,45", "mm"), typed_length("3/8", "in"), typed_length("1 cm", "mm")
    (0.45, '0.375 in', '1 cm')
    """
    plain = _INCH_WORDS.sub("in", _one_comma(text))
    match = _FRACTION.fullmatch(plain)
    if match is not None:
        sign, whole, above, below, unit = match.groups()
        if int(below) == 0:
            raise UnitError(f"{text!r:.60} divides by 0", remedy="Write a fraction such as 3/8.")
        value = int(whole or 0) + int(above) / int(below)
        plain = f"{sign}{value:.6g}{unit}"
    number, unit = split_length(plain)
    unit = unit or units
    to_mm(f"{number!r}{unit}")  # refuses units that nobody knows
    return tidy(number) if unit == "mm" else f"{tidy(number)} {unit}"


def typed_number(text: str) -> float | int:
    """Return a bare number that was typed, such as a ratio.

    Raises
    ------
    UnitError
        If it is no number, or has a unit.
    """
    number, unit = split_length(_one_comma(text))
    if unit:
        raise UnitError(f"{text!r:.60} has a unit", remedy="Write a number without a unit.")
    return tidy(number)


def typed_percent(text: str) -> float | int:
    """Return the part of 1 that a typed percentage is.

    Raises
    ------
    UnitError
        If it is no number.

    Examples
    --------
    >>> typed_percent("12,5 %")
    0.125
    """
    return tidy(round(typed_number(text.strip().removesuffix("%")) / 100.0, 9))


def tidy(value: float) -> float | int:
    """A whole number without its point, as makers write it."""
    return int(value) if value == math.trunc(value) and abs(value) < 1e15 else value


def shown_length(value: object, units: str) -> str:
    """Return a length of a job file as it stands in a field, without its unit.

    What is no length is shown as nothing: the field is then still to be filled in.

    Examples
    --------
    >>> shown_length(0.45, "mm"), shown_length(25.4, "in"), shown_length("measure me", "mm")
    ('0.45', '1', '')
    """
    try:
        length = to_mm(str(value))
    except UnitError:
        return ""
    return trimmed(length / MM_PER_UNIT[units], _DIGITS[units])


def trimmed(value: float, digits: int) -> str:
    """Format a number with no more digits than it needs.

    Examples
    --------
    >>> trimmed(1.40, 3), trimmed(20.0, 2), trimmed(-0.0001, 2)
    ('1.4', '20', '0')
    """
    text = f"{value:.{digits}f}"
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return "0" if text == "-0" else text


def _one_comma(text: str) -> str:
    """Take a single comma for the decimal point; two or a mixture are left to be refused."""
    bare = text.strip()
    return _COMMA.sub(".", bare, count=1) if bare.count(",") == 1 and "." not in bare else bare
