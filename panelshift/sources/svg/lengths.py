"""Numbers and lengths as attributes write them, with what relative lengths refer to."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, replace
from typing import Final, Literal

from ...errors import SvgError, UnitError
from ...units import MM_PER_UNIT

NUMBER: Final = r"[+-]?+(?:[0-9]++\.?+[0-9]*+|\.[0-9]++)(?:[eE][+-]?+[0-9]++|(?![eE][+-]?[0-9]))"
"""SVG 2, section 4.2, with SVG 1.1's trailing point (``5.``) allowed as well.

Possessive: a number is never given up for a shorter one, so that patterns made of it find a
fault in one pass, and never take 12 for 1 and 2. No group is, which Python before 3.11.5 takes for
matched when only its beginning is (gh-106052): it would read 1e as a number.
"""

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
_SHORT = re.compile(r"[+-]?[0-9]{1,9}(?:\.[0-9]{1,9})?")
_NEXT = re.compile(f"{SPACE}(,{SPACE})?({NUMBER})")


def number(text: str) -> float:
    """Return a number that matched the grammar."""
    return bounded(float(text), text)


def bounded(value: float, text: str) -> float:
    """Return a value if it can be a coordinate."""
    if not math.fabs(value) <= MOST_UNITS:
        raise SvgError(
            f"{clipped(text)} is too large to be a coordinate",
            remedy="Look for a damaged value in the drawing.",
        )
    return value


def number_list(text: str, name: str) -> list[float]:
    """Return the numbers of a list separated by white space or commas."""
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


Axis = Literal["x", "y", "diagonal"]

MM_PER_PX: Final = MM_PER_UNIT["px"]

MEDIUM_PX: Final = 16.0
"""What browsers take ``font-size: medium`` to be, and hence the initial font size."""

_FONT_KEYWORDS: Final[dict[str, float]] = {
    # CSS Fonts Level 4, section 2.5: factors of medium.
    "xx-small": 3 / 5,
    "x-small": 3 / 4,
    "small": 8 / 9,
    "medium": 1.0,
    "large": 6 / 5,
    "x-large": 3 / 2,
    "xx-large": 2.0,
    "xxx-large": 3.0,
}
_ABSOLUTE_UNITS: Final = ("", *MM_PER_UNIT)


@dataclass(frozen=True, slots=True)
class Basis:
    """What percentages and em refer to, in user units.

    *width*, *height*: size of the nearest viewport; None where the file does not state it.
    """

    width: float | None
    height: float | None
    font_size: float = MEDIUM_PX

    def whole(self, axis: Axis) -> float | None:
        """Return what 100 % is along an axis (SVG 2, section 8.9), or None if unknown."""
        if axis == "x":
            return self.width
        if axis == "y":
            return self.height
        if self.width is None or self.height is None:
            return None
        return math.hypot(self.width, self.height) / math.sqrt(2.0)

    def resized(self, width: float, height: float) -> Basis:
        """Return the basis inside another viewport."""
        return replace(self, width=width, height=height)


_CSS_LENGTH = re.compile(r"\s*([+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?)\s*([A-Za-z\"%]*)\s*")


def split_length(text: str) -> tuple[float, str]:
    """Split a length as CSS writes it into its number and its lower-case unit (empty if bare).

    For files that programs write; what people type is read by `to_mm`.

    Raises `UnitError` if the text is not one finite number followed by at most one unit.

    Examples
    --------
    >>> split_length("12.5mm")
    (12.5, 'mm')
    """
    match = _CSS_LENGTH.fullmatch(text)
    if match is None:
        raise UnitError(
            f"{text!r:.60} is not a length",
            remedy="Write a number and a unit, such as 12mm or 0.5in.",
        )
    number = float(match.group(1))
    if not math.isfinite(number):
        raise UnitError(f"{text!r:.60} is not a finite length", remedy="Write an ordinary number.")
    return number, match.group(2).lower()


def number_and_unit(text: str, name: str) -> tuple[float, str]:
    """Split a length, naming the attribute if it is none."""
    if _SHORT.fullmatch(text):
        return float(text), ""
    stripped = text.strip()
    try:
        number, unit = split_length(stripped)
    except UnitError as error:
        raise SvgError(f'{name}="{clipped(text)}" is not a length', remedy=error.remedy) from error
    if not stripped.isascii():
        raise SvgError(
            f'{name}="{clipped(text)}" is not a length', remedy="Write its digits as 0 to 9."
        )
    if any(character.isspace() for character in stripped):
        raise SvgError(
            f'{name}="{text}" has a space between number and unit',
            remedy="Write the unit directly after the number, such as 210mm.",
        )
    return bounded(number, f'{name}="{text}"'), unit


def user_length(
    text: str, *, name: str, axis: Axis, basis: Basis, needs_unit: bool = False
) -> float:
    """Return a length in user units (1 px = 1 user unit; SVG 2, section 8.9).

    *text*: a number, alone or with px, mm, cm, in, pt, pc, Q, em or %. *name*: attribute or
    property, for messages. *axis*: {"x", "y", "diagonal"}. What a percentage refers to.
    *needs_unit*: whether a bare number other than 0 is a fault, as it is in a style sheet.
    """
    number, unit = number_and_unit(text, name)
    if not unit:
        if needs_unit and number != 0.0:
            raise _unitless(name, text)
        return number
    if unit == "%":
        whole = basis.whole(axis)
        if whole is None:
            raise SvgError(
                f'{name}="{text}" is a share of a page whose size is not stated',
                remedy="Give the outermost <svg> a width and height in mm, or a viewBox.",
            )
        return number * whole / 100.0
    if unit == "em":
        return number * basis.font_size
    scale = MM_PER_UNIT.get(unit)
    if scale is None:
        raise SvgError(
            f'{name}="{text}" has a unit that is not read here',
            remedy="Use px, mm, cm, in, pt, pc, Q, em or %.",
        )
    return number * (scale / MM_PER_PX)


def _unitless(name: str, text: str) -> SvgError:
    return SvgError(
        f"the style {name}: {text} has no unit, so browsers ignore it",
        remedy=f"Write {name}: {text}px.",
    )


def font_size(text: str, parent: float) -> float:
    """Return a font size in user units; em, ex and % refer to the parent's size."""
    word = text.strip().lower()
    if word in ("inherit", "unset"):
        return parent
    if word in ("initial", "medium"):
        return MEDIUM_PX
    if word in _FONT_KEYWORDS:
        return MEDIUM_PX * _FONT_KEYWORDS[word]
    if word in ("smaller", "larger"):
        return parent / 1.2 if word == "smaller" else parent * 1.2
    if word.endswith("ex"):
        # No font is at hand to say how high its x is; CSS Values 4, section 6.1.1, says half.
        text = f"{word.removesuffix('ex')}em"
        parent = 0.5 * parent
    size = user_length(
        text, name="font-size", axis="x", basis=Basis(parent, parent, font_size=parent)
    )
    if size < 0.0:
        raise SvgError(f'font-size="{text}" is negative', remedy="Give a size above 0.")
    return size


def absolute_mm(text: str, name: str, *, needs_unit: bool = False) -> float | None:
    """Return a page size in mm, or None if it is not absolute (a percentage)."""
    number, unit = number_and_unit(text, name)
    if needs_unit and not unit:
        raise _unitless(name, text)
    if number <= 0.0:
        raise SvgError(
            f'{name}="{text}" leaves no page to draw on',
            remedy=f"Give the outermost <svg> a {name} above 0.",
        )
    if unit == "%":
        return None
    if unit not in _ABSOLUTE_UNITS:
        raise SvgError(
            f'{name}="{text}" of the outermost <svg> is not an absolute length',
            remedy="Use mm, cm, in, pt, pc, Q or px.",
        )
    return number * MM_PER_UNIT[unit or "px"]
