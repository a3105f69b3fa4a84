"""Numbers and lengths at the edges of the program: as people type them, and as they are shown.

Inside panelshift every length is in millimetres and every angle in radians; only this
module, the SVG reader and the writers convert. Whatever a person types is read here and
nowhere else: in the job file, on the page, in tables and on the command line the same texts
mean the same and are refused in the same words.

A number has digits with at most one mark before the decimals, a point or a comma; it may have
an exponent. A length is a number or a fraction (``3/8``, ``1 3/8``, ``1-3/8``), and may have a
unit. What can be read in two ways is refused, with both named:

- ``1,000`` is 1 or 1000;
- ``3/8`` without a unit, where bare numbers are no inches, is 3/8 of the unit or of an inch.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from typing import Final

from .errors import UnitError, UnknownNameError

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

_SAME: Final = str.maketrans(
    {"\u2212": "-", "\u2044": "/", "\u2033": '"', "\u201d": '"', "\u2032": "'", "\u2019": "'"}
    | {"\u00bc": " 1/4", "\u00bd": " 1/2", "\u00be": " 3/4"}
    | {chr(0x215B + k): f" {1 + 2 * k}/8" for k in range(4)}
)
"""Minus, fractions and inch marks as telephones and word processors set them."""

_INCHES: Final = {'"': "in", "''": "in", "inch": "in", "inches": "in"}

_NUMBER = re.compile(r"([+-]?)([0-9.,]*)((?:[eE][+-]?[0-9]+)?)\s*([A-Za-z\"'%]*)")
_FRACTION = re.compile(
    r"([+-]?)(?:([0-9]{1,6})(?: +| *- *))?([0-9]{1,6}) */ *([0-9]{1,6})\s*([A-Za-z\"'%]*)"
)
_TWO_READINGS = re.compile(r"([1-9][0-9]{0,2}),([0-9]{3})")


@dataclass(frozen=True, slots=True)
class TypedLength:
    """A length as somebody typed it.

    *unit*: a key of `MM_PER_UNIT`.

    Examples
    --------
    >>> TypedLength(0.375, "in").job_value, TypedLength(12.0, "mm").job_value
    ('0.375 in', 12)
    """

    number: float
    unit: str

    @property
    def mm(self) -> float:
        """The length in mm."""
        return self.number * MM_PER_UNIT[self.unit]

    @property
    def job_value(self) -> float | int | str:
        """What a job file should say: a number of mm, or text, so that inches stay inches."""
        number = tidy(self.number)
        return number if self.unit == "mm" else f"{number} {self.unit}"


def parse_length(text: str, *, bare: str = "mm") -> TypedLength:
    """Read a length that was typed, and keep its unit.

    *text*: a number or a fraction with an optional unit: mm, cm, in, pt, pc, px, Q, ``"`` or inch.
    *bare*: the unit of a number that has none.

    Raises `UnitError` if the text is no length, its unit is unknown, or it can be read in two ways.

    Examples
    --------
    >>> parse_length('1 3/8"')
    TypedLength(number=1.375, unit='in')
    >>> parse_length("0,5", bare="in")
    TypedLength(number=0.5, unit='in')
    """
    number, unit = length_parts(text)
    if not unit and bare != "in" and "/" in text.translate(_SAME):
        raise UnitError(
            f"{text!r:.60} can be {text.strip():.40} {bare} or {text.strip():.40} in",
            remedy="Write the unit after a fraction.",
        )
    return TypedLength(number, unit or bare)


def length_parts(text: str) -> tuple[float, str]:
    """Read a length that was typed as its number and its unit, empty if it names none.

    Raises `UnitError` for see `parse_length`.

    Examples
    --------
    >>> length_parts("3/8 in"), length_parts("12,5")
    ((0.375, 'in'), (12.5, ''))
    """
    plain = text.translate(_SAME).strip()
    match = _FRACTION.fullmatch(plain)
    if match is not None:
        sign, whole, above, below, word = match.groups()
        number = _fraction(int(whole or 0), int(above), int(below), text)
        return -number if sign == "-" else number, _unit(word, text)
    found = _number(plain)
    if found is None:
        raise UnitError(
            f"{text!r:.60} is not a length",
            remedy="Write a number and a unit, such as 12 mm, 0.5 in or 3/8 in.",
        )
    number = _decimal(found, text)
    return number, _unit(found[-1], text)


def to_mm(text: str, *, bare: str = "mm") -> float:
    """Read a length that was typed and return it in millimetres.

    *text*, *bare*: see `parse_length`.

    Raises `UnitError` for see `parse_length`.

    Examples
    --------
    >>> to_mm("1in"), to_mm("0.45"), to_mm("0,5 cm"), to_mm("3/8 in")
    (25.4, 0.45, 5.0, 9.524999999999999)
    """
    return parse_length(text, bare=bare).mm


def several(text: str) -> list[str]:
    """Part lengths typed in one line: by semicolons, or by commas if there are none.

    Examples
    --------
    >>> several("80, 200, 6.5"), several("80; 200; 6,5")
    (['80', '200', '6.5'], ['80', '200', '6,5'])
    """
    return [part.strip() for part in text.split(";" if ";" in text else ",")]


def parse_number(text: str) -> float | int:
    """Read a bare number that was typed, such as a ratio or how many.

    Returns: whole numbers are int.

    Raises `UnitError` if it is no number, has a unit, or can be read in two ways.

    Examples
    --------
    >>> parse_number("1,4"), parse_number("2")
    (1.4, 2)
    """
    found = _number(text.translate(_SAME).strip())
    if found is None:
        raise UnitError(
            f"{text!r:.60} is not a number", remedy="Write a number such as 12, 0.5 or 1e-3."
        )
    if found[-1]:
        raise UnitError(f"{text!r:.60} has a unit", remedy="Write a number without a unit.")
    return tidy(_decimal(found, text))


def parse_percent(text: str) -> float | int:
    """Read a percentage that was typed, with its sign or without, as a part of 1.

    Raises `UnitError` for see `parse_number`.

    Examples
    --------
    >>> parse_percent("12,5 %")
    0.125
    """
    return tidy(round(parse_number(text.strip().removesuffix("%")) / 100.0, 9))


def _number(plain: str) -> tuple[str, str, str, str] | None:
    """Sign, digits, exponent and what stands after them; None if there is no number."""
    match = _NUMBER.fullmatch(plain)
    if match is None:
        return None
    sign, digits, power, word = match.groups()
    if not digits.strip(".,") or digits.endswith(","):
        return None
    return sign, digits, power, word


def _decimal(parts: tuple[str, str, str, str], text: str) -> float:
    sign, digits, power, _ = parts
    if digits.count(",") + digits.count(".") > 1:
        raise UnitError(
            f"{text!r:.60} has several marks for decimals or thousands",
            remedy="Write one point or comma before the decimals, and none between thousands.",
        )
    if doubt := _TWO_READINGS.fullmatch(digits):
        whole, rest = doubt.groups()
        raise UnitError(
            f"{text!r:.60} can be {sign}{whole}.{rest} or {sign}{whole}{rest}",
            remedy="Write decimals with a point here, and thousands without a mark.",
        )
    number = float(f"{sign}{digits.replace(',', '.')}{power}")
    if not math.isfinite(number):
        raise UnitError(f"{text!r:.60} is not a finite length", remedy="Write an ordinary number.")
    return number


def _fraction(whole: int, above: int, below: int, text: str) -> float:
    if below == 0:
        raise UnitError(f"{text!r:.60} divides by 0", remedy="Write a fraction such as 3/8.")
    if whole and above >= below:
        raise UnitError(
            f"{text!r:.60} has a fraction that is not smaller than 1",
            remedy="Write whole inches and the rest, such as 1 3/8, or a decimal.",
        )
    return whole + above / below


def _unit(word: str, text: str) -> str:
    """The unit that a word after a number names; empty for no word."""
    unit = _INCHES.get(word.lower(), word.lower())
    if unit and unit not in MM_PER_UNIT:
        known = ", ".join(name if name != "q" else "Q" for name in MM_PER_UNIT)
        raise UnitError(f"unknown unit {word!r:.30} in {text!r:.60}", remedy=f"Use one of {known}.")
    return unit


_LONGEST_SHOWN_MM: Final = 1e7
"""From 10 km on a length is a slip, and shown with three figures and an exponent."""


_SHOWN_DIGITS: Final = {"mm": 1, "cm": 2, "in": 2}


def show(length_mm: float, unit: str = "mm", *, signed: bool = False) -> str:
    """Format a length for people: no finer than lengths that are added up, see `summand`.

    Examples
    --------
    >>> show(25.4, "in"), show(640.02), show(1.25, signed=True)
    ('1 in', '640 mm', '+1.2 mm')
    >>> show(1e300)
    '1e+300 mm'
    """
    return _shown(length_mm, unit, _SHOWN_DIGITS[unit], signed)


def caliper_length(
    length_mm: float, unit: str = "mm", *, signed: bool = False, up: bool = False
) -> str:
    """Format a thickness or a distance between layers, as finely as a caliper reads.

    *up*: whether it is rounded up, as what is not known of one must be.

    Examples
    --------
    >>> caliper_length(0.45), caliper_length(0.45, "in"), caliper_length(-0.1, signed=True)
    ('0.45 mm', '0.018 in', '-0.1 mm')
    >>> caliper_length(0.004), caliper_length(0.004, up=True)
    ('0 mm', '0.01 mm')
    """
    digits = _SHOWN_DIGITS[unit] + 1
    if up:
        step = 10.0**-digits * MM_PER_UNIT[unit]
        length_mm = math.ceil(length_mm / step - 1e-6) * step
    return _shown(length_mm, unit, digits, signed)


def _shown(length_mm: float, unit: str, digits: int, signed: bool) -> str:
    value = length_mm / MM_PER_UNIT[unit]
    if abs(length_mm) >= _LONGEST_SHOWN_MM:
        return f"{value:{'+' if signed else ''}.3g} {unit}"
    words = trimmed(value, digits)
    return f"{'+' if signed and not words.startswith('-') else ''}{words} {unit}"


_FIELD_DIGITS: Final = {"mm": 3, "cm": 4, "in": 4}
"""Decimals of a length in a field: a micrometre, or about as fine."""


_EXACT_MM: Final = 1e-6


def shown_length(value: object, units: str) -> str:
    """Return a length of a job file as it stands in a field, without its unit.

    What is no length is shown as nothing: the field is then still to be filled in. Whole sixteenths
    of an inch are shown as rulers have them.

    Examples
    --------
    >>> shown_length(0.45, "mm"), shown_length(25.4, "in"), shown_length("measure me", "mm")
    ('0.45', '1', '')
    >>> shown_length("0.625 in", "in"), shown_length(10, "in")
    ('5/8', '0.3937')
    """
    try:
        length = to_mm(str(value))
    except UnitError:
        return ""
    if units == "in" and abs(length - round(length / SIXTEENTH_MM) * SIXTEENTH_MM) < _EXACT_MM:
        return cloth_length(length, "in").removesuffix(" in")
    return trimmed(length / MM_PER_UNIT[units], _FIELD_DIGITS[units])


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


MAKERS_UNITS: Final = ("mm", "cm", "in")
"""In which lengths are told."""


def refuse_other_units(unit: object) -> None:
    """Refuse a unit in which lengths are not told: `UnknownNameError`."""
    if not isinstance(unit, str) or unit not in MAKERS_UNITS:
        raise UnknownNameError.of("unit", unit, MAKERS_UNITS)


def unit_words(units: str) -> str:
    """Return what a unit is called in a sentence."""
    return "inches" if units == "in" else units


def tidy(value: float) -> float | int:
    """Return a whole number without its point, as makers write it."""
    return int(value) if value == math.trunc(value) and abs(value) < 1e15 else value


CLOTH_MM: Final = 0.5
"""What cloth can hold, and a maker can mark: lengths for people are rounded to it."""

SIXTEENTH_MM: Final = MM_PER_INCH / 16.0


def cloth_length(
    length_mm: float,
    unit: str = "mm",
    *,
    decimals: bool = False,
    parts: int = 16,
    up: bool = False,
) -> str:
    """Format a length as finely as cloth holds it: to 0.5 mm, or to a sixteenth of an inch.

    *decimals*: whether inches are written as decimals rather than as fractions. *parts*: of an
    inch, a power of two. *up*: whether it is rounded up, as what a length is at most must be.

    Examples
    --------
    >>> cloth_length(12.6), cloth_length(12.6, "in"), cloth_length(12.6, "in", decimals=True)
    ('12.5 mm', '1/2 in', '0.5 in')
    >>> cloth_length(-30.2, "in"), cloth_length(30.2, "cm"), cloth_length(0.1, "in")
    ('-1 3/16 in', '3 cm', '0 in')
    >>> cloth_length(0.3, up=True), cloth_length(0.3, "in", up=True)
    ('0.5 mm', '1/16 in')
    """
    if up:
        step = MM_PER_INCH / parts if unit == "in" else CLOTH_MM
        length_mm = math.ceil(length_mm / step - 1e-6) * step
    if unit != "in":
        return f"{trimmed(round(length_mm / CLOTH_MM) * CLOTH_MM / MM_PER_UNIT[unit], 2)} {unit}"
    count = round(length_mm / MM_PER_INCH * parts)
    if decimals:
        return f"{trimmed(count / parts, 3)} in"
    whole, rest = divmod(abs(count), parts)
    words = [str(whole)] if whole or not rest else []
    if rest:
        part = math.gcd(rest, parts)
        words.append(f"{rest // part}/{parts // part}")
    return f"{'-' * (count < 0)}{' '.join(words)} in"


def tape_length(length_mm: float, unit: str = "mm", plus_minus: float | None = None) -> str:
    """Format a length no finer than a tape measure and its doubt tell it.

    To 0.5 mm if the plus or minus is no more than that, else to whole mm; inches to a sixteenth.
    What is printed as plus or minus takes the rounding in.

    *plus_minus*: half the width of an interval, in mm; None if it is not known, 0 if there is none.

    Examples
    --------
    >>> tape_length(687.02), tape_length(699.2, plus_minus=0.3), tape_length(699.2, plus_minus=0.6)
    ('687 mm', '699 ± 0.5 mm', '699 ± 1 mm')
    >>> tape_length(978.8, "in", 0.5), tape_length(640.2, "cm", 0.0)
    ('38 9/16 ± 1/16 in', '64 cm')
    """
    fine = plus_minus is not None and 0.0 < plus_minus <= CLOTH_MM
    step = SIXTEENTH_MM if unit == "in" else CLOTH_MM if fine else 1.0
    shown = round(length_mm / step) * step
    words = cloth_length(shown, unit)
    if not plus_minus:
        return words
    spread = math.ceil((plus_minus + abs(shown - length_mm)) / step - 1e-6) * step
    return f"{words.removesuffix(f' {unit}')} ± {cloth_length(spread, unit)}"


def summand(length_mm: float, unit: str = "mm", *, signed: bool = False) -> str:
    """Format a length that is added up with others, without its unit: to 0.1 mm or 0.01 in.

    Finer than cloth holds it: twelve of them rounded to what a tape tells would be 3 mm off.

    Examples
    --------
    >>> summand(0.54, signed=True), summand(0.54, "cm"), summand(0.54, "in")
    ('+0.5', '0.05', '0.02')
    """
    digits = _SHOWN_DIGITS[unit]
    value = round(length_mm / MM_PER_UNIT[unit], digits) + 0.0
    return f"{value:{'+' if signed else ''}.{digits}f}"


def sheet_size(across: float, down: float, unit: str = "mm") -> str:
    """Format the size of a sheet in mm: whole mm, or tenths of other units.

    Examples
    --------
    >>> sheet_size(811.2, 550.0), sheet_size(811.2, 550.0, "in")
    ('811 x 550 mm', '31.9 x 21.7 in')
    """
    digits = 0 if unit == "mm" else 1
    wide, high = (f"{side / MM_PER_UNIT[unit]:.{digits}f}" for side in (across, down))
    return f"{wide} x {high} {unit}"
