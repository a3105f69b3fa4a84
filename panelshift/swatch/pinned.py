"""One reading of a swatch pinned round a former.

The inner cloth has the length W along its middle and lies round a former of diameter D. Its
mid-surface then has the radius r = D/2 + under + t/2, with t its thickness and `under` all that
lies between it and the former, so that it turns through the angle W/r. The outer cloth's
mid-surface, d further out, needs the length W (r + d)/r to reach the same place: it needs
m = d W/r more. That is the overhang: how far beyond its own W the outer cloth was marked, once
it lies flat again. So d = m r/W, exactly, as long as the cloth neither stretches nor slips.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, Final

from ..errors import SwatchError, UnitError
from ..units import several, to_mm
from .slope import RULER_MM

CUT_MM: Final = 0.3
"""Standard uncertainty of a strip's length as it was cut, unless a reading gives its own: half
the width of a pencil line (our convention)."""

SMALLEST_FORMER_MM: Final = 15.0
SHORTEST_MM: Final = 30.0
"""A broom handle is thicker, and a strip of 30 mm shows next to nothing: such a number is cm."""

LARGEST_FORMER_MM: Final = 2000.0
"""A former larger than a body gives no overhang to read: such a number has another unit."""


@dataclass(frozen=True)
class SwatchReading:
    """What was read on one swatch; lengths in mm.

    *inner*, *outer*: Names of the layers; the inner one lies towards the former. *former*:
    Diameter. *length*: Of the inner cloth, from the pins to its end. *overhang*: Of the outer
    cloth: from its own `length` to where the inner cloth's end was marked. *u_overhang*: Standard
    uncertainty of the overhang; None for that of a ruler (`RULER_MM`). *u_former*: Standard
    uncertainty of the diameter; 0 takes it as exact. *u_length*: Standard uncertainty of the length
    that was cut; all readings of one strip share it. *under*: Thickness of all that lies between
    the former and the inner cloth. *origin*: Where the reading comes from, for messages: "reading
    1", "line 3".

    Raises `SwatchError` if a number cannot be right.
    """

    inner: str
    outer: str
    former: float
    length: float
    overhang: float
    u_overhang: float | None = None
    u_former: float = 0.0
    u_length: float = CUT_MM
    under: float = 0.0
    origin: str = ""

    def __post_init__(self) -> None:
        for label, what, value, least in (
            ("former", "diameter of the former", self.former, SMALLEST_FORMER_MM),
            ("swatch", "length of the swatch", self.length, SHORTEST_MM),
        ):
            if not (math.isfinite(value) and value > 0.0):
                raise self.fault(
                    f"the {what} is {value:g} mm", "Give a length above 0: measure it again."
                )
            if value < least:
                raise self.fault(
                    f"a {label} of {value:g} mm is too small to read anything from; in cm it would "
                    f"be {10.0 * value:g} mm",
                    "A bare number is mm: give the unit (18 cm), or ten times the number.",
                )
        if self.former > LARGEST_FORMER_MM:
            raise self.fault(
                f"the former has a diameter of {self.former:g} mm, more than {LARGEST_FORMER_MM:g}",
                "Check the unit: a bare number is mm.",
            )
        for label, value in (
            ("uncertainty of the former", self.u_former),
            ("uncertainty of the length", self.u_length),
            ("thickness under the inner cloth", self.under),
        ):
            if not (math.isfinite(value) and value >= 0.0):
                raise self.fault(f"the {label} is {value:g} mm", "Give 0 or more.")
        if self.u_overhang is not None and not (
            math.isfinite(self.u_overhang) and self.u_overhang > 0.0
        ):
            raise self.fault(
                f"the uncertainty of the overhang is {self.u_overhang:g} mm",
                f"Give more than 0, or leave it out: a ruler's {RULER_MM:g} mm is then taken.",
            )
        self._check_overhang()

    def _check_overhang(self) -> None:
        if not math.isfinite(self.overhang):
            raise self.fault(f"the overhang is {self.overhang:g} mm", "Give a finite length.")
        if self.overhang >= self.length:
            raise self.fault(
                f"the overhang of {self.overhang:g} mm is not smaller than the swatch of "
                f"{self.length:g} mm",
                "The overhang is only what the outer cloth needs beyond the swatch's own "
                "length, a few mm; check also the units and the order of the numbers.",
            )
        # Thin cloth may be read a little below nothing; more is the wrong way round.
        if self.overhang < -3.0 * self.spread:
            raise self.fault(
                f"the overhang of {self.overhang:g} mm is below 0",
                "The outer cloth always needs more length than the inner: check which is which.",
            )

    @property
    def pair(self) -> str:
        """The two layers in words."""
        return f"{self.inner} to {self.outer}"

    @property
    def spread(self) -> float:
        """Standard uncertainty of the overhang in mm: its own, or a ruler's."""
        return RULER_MM if self.u_overhang is None else self.u_overhang

    def radius(self, thickness: float) -> float:
        """Radius in mm of the inner cloth's mid-surface, of a cloth of a thickness in mm."""
        return 0.5 * self.former + self.under + 0.5 * thickness

    def angle(self, thickness: float) -> float:
        """Angle in radians that the inner cloth turns through.

        Raises `SwatchError` if the swatch is longer than the way round, so that it lies on itself.
        """
        radius = self.radius(thickness)
        angle = self.length / radius
        if angle > 2.0 * math.pi:
            raise self.fault(
                f"the swatch of {self.length:g} mm laps over itself: round this former it is "
                f"only {2.0 * math.pi * radius:.0f} mm",
                "Take a shorter swatch or a larger former.",
            )
        return angle

    def fault(self, problem: str, remedy: str) -> SwatchError:
        """Return an error that says which reading is meant."""
        return SwatchError(problem, remedy=remedy, element=self.origin)


def parse_reading(text: str, inner: str, outer: str, **others: Any) -> SwatchReading:
    """Read "former,length,overhang", each in mm or with a unit of its own.

    *inner*, *outer*: names of the layers. ***others*: what else `SwatchReading` takes.

    Raises `SwatchError` if there are not three lengths, or they cannot be right.

    Examples
    --------
    >>> parse_reading("80,200,6.5", "coutille", "brocade").overhang
    6.5
    >>> parse_reading("3in, 20cm, 6.5mm", "coutille", "brocade").former
    76.19999999999999
    """
    origin = others.get("origin", "")
    parts = several(text)
    if len(parts) != 3:
        raise SwatchError(
            f"{text!r:.60} is not three lengths",
            remedy="Give former, length and overhang, in this order and with commas between "
            "them, such as 80,200,6.5, or with semicolons: 80;200;6,5.",
            element=origin,
        )
    values = []
    for label, part in zip(("former", "length", "overhang"), parts, strict=True):
        try:
            values.append(to_mm(part))
        except UnitError as error:
            raise SwatchError(
                f"{label}: {error.problem}", remedy=error.remedy, element=origin
            ) from None
    former, length, overhang = values
    return SwatchReading(inner, outer, former, length, overhang, **others)
