"""The distance between two layers from readings, with its uncertainty.

Every reading says overhang = distance * angle. What all readings share (`slope`) is of five kinds:
the former; the strip as it was cut; the inner cloth's thickness; and the maker's own way of
pinning, holding and marking, which lengthens every overhang alike, however long the strip is.
Strips of different length tell the last one from the distance: it is then fitted as a constant.
Without, it can only be allowed for (`PINNING_MM`).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from ..errors import SwatchError
from ..outline import FloatArray
from ..stack import MeasuredDistance
from ..stack.measured import LEAST_UNCERTAINTY_MM
from .pinned import SwatchReading
from .slope import SharedError, Slope, fit_slope

PINNING_MM: Final = 0.4
"""Standard uncertainty of what pinning, holding and marking do to all overhangs alike, where no
short strip tells it: with `CUT_MM` half a mm, as a ruler's reading (our convention)."""

SHORT: Final = 0.5
"""A strip is short enough to tell how the maker pins if it turns through at most this part of
what the longest turns through."""

BODY_LIKE_MM: Final = 140.0
"""Diameter in mm from which a former is about as flat as a corseted waist of 60 cm at its sides
(the ends of an ellipse 1.4 times as broad as deep are rounder: common practice, no source)."""

TWICE: Final = 2.0
"""Layers lie at most twice as far apart as their thicknesses say, and at least half as far
(common practice, no source): beyond, a number is a slip more often than the cloth is odd."""

MOST_APART_MM: Final = 5.0
"""Middles of cloths lie no farther apart, quilted or not (common practice, no source)."""

FAR_BELOW: Final = 0.2
"""Below this part no pressing explains it: an overhang in cm reads as a tenth."""

NOISE: Final = 2.0
"""Standard uncertainties of one reading by which it may miss those bounds before it is refused."""

_AGAIN: Final = (
    "Measure former (its diameter), length and overhang again, all in one unit or each with its "
    "own, and the thicknesses; if the cloth really stands off so far, give the fabric its loft in "
    "the job file, the factor on its thickness, and this passes."
)


@dataclass(frozen=True, eq=False)
class PairFit:
    """The distance between two layers that readings give.

    *inner_thickness*: in mm, of the inner cloth as it lay on the former. *angles*, shape (n,): that
    the inner cloth turns through, in radians. *line*: overhang over angle, in mm. *by_thickness*:
    the distance in mm that the thicknesses say, None where they are not known.
    """

    inner: str
    outer: str
    readings: tuple[SwatchReading, ...]
    inner_thickness: float
    angles: FloatArray
    line: Slope
    by_thickness: float | None = None

    @property
    def pair(self) -> str:
        """The two layers in words."""
        return self.readings[0].pair

    @property
    def distance(self) -> float:
        """Between the mid-surfaces, in mm."""
        return self.line.value

    @property
    def outlier(self) -> SwatchReading | None:
        """The reading that disagrees with the rest, if one does."""
        return None if self.line.outlier is None else self.readings[self.line.outlier]

    @property
    def entry_uncertainty(self) -> float:
        """The standard uncertainty in mm that an entry gets; see `Slope.entry_uncertainty`."""
        return max(self.line.entry_uncertainty, LEAST_UNCERTAINTY_MM)

    @property
    def entry(self) -> MeasuredDistance:
        """The distance for a stack, with `entry_uncertainty`.

        Raises `StackError` if the distance is not above 0.
        """
        return MeasuredDistance(self.inner, self.outer, self.distance, self.entry_uncertainty)

    def warnings(self) -> tuple[str, ...]:
        """What the maker should look at."""
        found = []
        if len(self.readings) == 1:
            found.append(
                "one reading only; its uncertainty is what is usual, and nothing shows whether "
                "the cloth slipped: take three or more"
            )
        if not self.line.consistent:
            found.append(f"the readings do not agree; {self._blame()}")
        if self.line.shifted:
            found.append(
                f"every overhang is {self.line.offset:+.1f} mm off, however long the strip: it is "
                "taken off; see whether the pin lines lie on each other and the strips were cut "
                "to the mark"
            )
        if self.distance <= 0.0:
            found.append("no distance can be told from these readings")
        elif self.line.half_width > 0.5 * self.distance:
            found.append(
                f"the distance is known to within {self.line.half_width:.2f} mm only, more than "
                "half of it: take longer swatches, smaller formers or more readings"
            )
        return tuple(f"{self.pair}: {words}" for words in (*found, *self._odd()))

    def _odd(self) -> list[str]:
        """Readings beyond twice or below half of what the thicknesses say."""
        flat = self.by_thickness
        if not flat:
            return []
        alone = [r.overhang / a for r, a in zip(self.readings, self.angles.tolist(), strict=True)]
        found = []
        for words, chosen, remedy in (
            (
                "more than twice",
                [k for k, d in enumerate(alone) if d > TWICE * flat],
                "see whether the former is its diameter, not its girth, and the cloth lay snug",
            ),
            (
                "less than half of",
                [k for k, d in enumerate(alone) if d < flat / TWICE],
                "see whether the former is its diameter, not its radius, the overhang is in mm, "
                "and all cloth between was pinned in; soft wadding may be pressed so",
            ),
        ):
            if chosen:
                names = ", ".join(_named(self.readings[k], self.readings) for k in chosen)
                value = alone[chosen[0]]
                found.append(
                    f"{names}: {value:.2f} mm between the middles, {words} the {flat:.2f} mm by "
                    f"thickness{_slip(self.readings[chosen[0]], value, flat)}: {remedy}"
                )
        return found

    def _blame(self) -> str:
        if self.outlier is not None:
            place = self.readings.index(self.outlier)
            return (
                f"{_named(self.outlier, self.readings)} misses the others by "
                f"{self.line.residuals[place]:+.1f} mm, {abs(self.line.standardised[place]):.1f} "
                "times its uncertainty: pin it again"
            )
        if len(self.readings) == 2:
            return "take a third to see which is wrong"
        return "they scatter more than a reading should: look at the cloth for slip or stretch"


def _named(reading: SwatchReading, readings: Sequence[SwatchReading]) -> str:
    return reading.origin or f"reading {readings.index(reading) + 1}"


def _noise(reading: SwatchReading) -> float:
    """Standard uncertainty in mm of one overhang by itself."""
    return math.hypot(reading.spread, reading.u_length, PINNING_MM)


def fit_pair(
    readings: Sequence[SwatchReading],
    inner_thickness: float,
    *,
    thickness_uncertainty: float = 0.0,
    by_thickness: float | None = None,
) -> PairFit:
    """Fit the distance between the two layers of some readings.

    *readings*: all of one pair. Equal formers are taken to be one former, equal lengths one swatch.
    *inner_thickness*: of the inner cloth, in mm. *thickness_uncertainty*: its standard uncertainty
    in mm. *by_thickness*: the distance in mm that the thicknesses say, where they are known.

    Raises `SwatchError` if there is no reading, they are of several pairs, a swatch laps over
    itself, the thickness is not a length, or a reading can hardly be right beside the thicknesses.
    """
    first = _one_pair(readings)
    for label, value in (
        ("thickness of the inner cloth", inner_thickness),
        ("uncertainty of the inner cloth's thickness", thickness_uncertainty),
    ):
        if not (math.isfinite(value) and value >= 0.0):
            raise SwatchError(
                f"the {label} is {value:g} mm", remedy="Give 0 mm or more.", element=first.inner
            )
    angles = np.array([reading.angle(inner_thickness) for reading in readings])
    for reading, angle in zip(readings, angles.tolist(), strict=True):
        _refuse_unlikely(reading, angle, by_thickness)
    line = fit_slope(
        angles,
        np.array([reading.overhang for reading in readings]),
        np.array([reading.spread for reading in readings]),
        _shared(readings, inner_thickness, thickness_uncertainty),
        stated=any(reading.u_overhang is not None for reading in readings),
        offset=_tells_offset(angles),
    )
    if by_thickness and line.value - line.half_width > TWICE * by_thickness:
        raise first.fault(
            f"{first.inner} to {first.outer}: the readings say {line.value:.2f} mm between the "
            f"middles, {line.value / by_thickness:.1f} times the {by_thickness:.2f} mm by "
            f"thickness{_slip(first, line.value, by_thickness)}",
            _AGAIN,
        )
    return PairFit(
        first.inner, first.outer, tuple(readings), inner_thickness, angles, line, by_thickness
    )


def _one_pair(readings: Sequence[SwatchReading]) -> SwatchReading:
    if not readings:
        raise SwatchError(
            "there is no reading", remedy="Give former, length and overhang of one swatch at least."
        )
    first = readings[0]
    for reading in readings:
        if (reading.inner, reading.outer) != (first.inner, first.outer):
            raise reading.fault(
                f"readings of {first.inner} to {first.outer} and of {reading.inner} to "
                f"{reading.outer} are fitted together",
                "Fit each pair by itself.",
            )
    return first


def _refuse_unlikely(reading: SwatchReading, angle: float, by_thickness: float | None) -> None:
    """Refuse a reading that the thicknesses, or any cloth, can hardly explain.

    Raises `SwatchError`.
    """
    alone, noise = reading.overhang / angle, NOISE * _noise(reading) / angle
    if by_thickness is None:
        if alone > MOST_APART_MM + noise:
            raise reading.fault(
                f"the reading says that the middles of the cloths lie {alone:.1f} mm apart, more "
                f"than cloth for corsets is thick{_slip(reading, alone, MOST_APART_MM)}",
                "Give former, length and overhang in one unit, or each with its own; the former "
                "is its diameter.",
            )
        return
    if by_thickness == 0.0:
        return
    said = f"the reading says {alone:.2f} mm between the middles of {reading.pair}"
    slip = _slip(reading, alone, by_thickness)
    if alone > TWICE * by_thickness + noise:
        raise reading.fault(
            f"{said}, {alone / by_thickness:.1f} times the {by_thickness:.2f} mm by "
            f"thickness{slip}",
            _AGAIN,
        )
    if alone < FAR_BELOW * by_thickness - noise:
        raise reading.fault(
            f"{said}, far less than the {by_thickness:.2f} mm by thickness{slip}",
            "Measure the overhang again, in the unit of the others or with its own, and the "
            "thicknesses; if the cloth really is pressed so flat, give the fabric its loft in "
            "the job file, below 1.",
        )


def _slip(reading: SwatchReading, alone: float, likely: float) -> str:
    """What slip would explain it: an angle or an overhang that many times wrong."""
    for times, words in (
        (10.0, f"; a length of {reading.length:g} cm instead of mm would explain it"),
        (math.pi, "; the girth of the former instead of its diameter would explain it"),
        (25.4, f"; a length of {reading.length:g} in instead of mm would explain it"),
        (0.1, f"; an overhang of {reading.overhang:g} cm instead of mm would explain it"),
    ):
        if 0.65 <= alone / times / likely <= 1.55:
            return words
    return ""


def _tells_offset(angles: FloatArray) -> bool:
    return bool(angles.min() <= SHORT * angles.max())


def _shared(
    readings: Sequence[SwatchReading], thickness: float, uncertainty: float
) -> dict[str, SharedError]:
    """What is equally wrong in several overhangs, in mm and mm for each mm of distance."""
    former = np.array([reading.former for reading in readings])
    length = np.array([reading.length for reading in readings])
    radius = np.array([reading.radius(thickness) for reading in readings])
    cut = np.array([reading.u_length for reading in readings])
    by_radius = 0.5 * length / radius**2
    none, everywhere = np.zeros(len(former)), np.ones((len(former), len(former)))
    shared = {
        "formers": SharedError(
            none,
            by_radius * np.array([reading.u_former for reading in readings]),
            former[:, None] == former,
        ),
        # The inner cloth ends where it was cut, and its overhang is read from the paper's zero:
        # e too long shifts the mark by e itself, and by what d adds to it on the curve.
        "strips": SharedError(cut, cut / radius, length[:, None] == length),
        "thickness": SharedError(none, by_radius * uncertainty, everywhere),
    }
    if not _tells_offset(length / radius):
        shared["pinning"] = SharedError(np.full(len(former), PINNING_MM), none, everywhere)
    return shared
