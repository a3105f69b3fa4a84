"""Lists of bare numbers, as in points and viewBox."""

from __future__ import annotations

import math
import re
from typing import Final

from ...errors import SvgError

NUMBER: Final = r"[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]+)?"
"""SVG 2, section 4.2, with SVG 1.1's trailing point (``5.``) allowed as well."""

SPACE: Final = r"[ \t\n\f\r]*"
_BLANKS: Final = " \t\n\f\r"

_SHOWN: Final = 16
_LONGEST: Final = 60

MOST_UNITS: Final = 1e12
"""No coordinate is larger in any unit: beyond it, rounding alone would be visible in cloth."""

MOST_LISTED: Final = 2_000_000
"""Characters in a list of numbers at most."""

# One number at a time: a pattern for the whole list could split a run of digits into numbers
# in exponentially many ways, and would try them all on a faulty list.
_NEXT = re.compile(f"{SPACE}(,{SPACE})?({NUMBER})")


def number(text: str) -> float:
    """Return a number that matched the grammar.

    Raises
    ------
    SvgError
        If it is larger than any coordinate can be.
    """
    return bounded(float(text), text)


def bounded(value: float, text: str) -> float:
    """Return a value if it can be a coordinate.

    Raises
    ------
    SvgError
        If it is larger than any coordinate can be, or not a number; `text` is how it was
        written.
    """
    if not math.fabs(value) <= MOST_UNITS:
        raise SvgError(
            f"{clipped(text)} is too large to be a coordinate",
            remedy="Look for a damaged value in the drawing.",
        )
    return value


def number_list(text: str, name: str) -> list[float]:
    """Return the numbers of a list separated by white space or commas.

    Raises
    ------
    SvgError
        At anything that is not a number or one separator, naming the attribute, the
        position and the text there.
    """
    values: list[float] = []
    if len(text) > MOST_LISTED:
        raise SvgError(
            f"{name} is {len(text)} characters long",
            remedy="Simplify the shape: an outline takes a few dozen points.",
        )
    position, end = 0, len(text.rstrip(_BLANKS))
    while position < end:
        match = _NEXT.match(text, position)
        if match is None or (match.group(1) and not values):
            raise SvgError(
                f"{name} cannot be read at character {position + 1}: {shown(text, position)}",
                remedy="Write numbers separated by spaces or single commas.",
            )
        values.append(number(match.group(2)))
        position = match.end()
    return values


def clipped(text: str) -> str:
    """Return a text, cut short if it is too long for a message."""
    return text if len(text) <= _LONGEST else f"{text[:_LONGEST]}..."


def shown(text: str, position: int) -> str:
    """Return the text at a position, quoted and cut short, for a message."""
    rest = text[position : position + _SHOWN]
    return repr(rest) if rest else "the end"
