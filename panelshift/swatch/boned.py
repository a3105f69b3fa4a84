"""How high bones stand under the outer cloth: a swatch with bones beside the same one without.

Cloth drawn over a bone leaves the face of radius r at one tangent and comes back to it at
another. With the bone's corners at the distance R from the axis it needs

    c = r (tan(beta) - beta),   cos(beta) = r / R

more on either side than the face itself. Over a bone that bends across its width w, and stands t
high, R is r + t and the top needs t w / r more; a flat bar stands on its middle, so that
R^2 = (r + t)^2 + (w / 2)^2, and its top needs w - 2 r arctan(w / (2 (r + t))) more. Bones so far
apart that the cloth comes down between them add up, and the overhang is so much larger than
without them. Both are read from one strip: the cut and the way of pinning drop out.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from ..errors import SwatchError
from .pinned import SwatchReading
from .slope import SharedError, Slope, fit_slope, upwards

THICKEST_BONE_MM: Final = 10.0
WIDEST_BONE_MM: Final = 30.0
"""Larger ones are no bones (common practice, no source): such a number has another unit."""

BONE_MM: Final = (7.0, 1.5)
"""Width and thickness of a usual flat bone (common practice, no source)."""

FULLY: Final = 1.2
"""A bone that seems to stand higher than this part of its thickness is a slip, or its cloth is."""

_ROUNDS: Final = 100


@dataclass(frozen=True)
class BonedReading:
    """A swatch read twice: with `bones` bones on the inner cloth, evenly spaced, and without.

    `flat` holds former, length and the overhang without bones; `overhang` is that with them. The
    bones are `width` by `thickness`, and bend across their width (`bends`) or are flat bars. All
    lengths in mm.

    Raises `SwatchError` if a number cannot be right.
    """

    flat: SwatchReading
    overhang: float
    bones: int
    width: float
    thickness: float
    bends: bool = False

    def __post_init__(self) -> None:
        for label, value, most in (
            ("width of a bone", self.width, WIDEST_BONE_MM),
            ("thickness of a bone", self.thickness, THICKEST_BONE_MM),
        ):
            if not (math.isfinite(value) and 0.0 < value <= most):
                raise self.flat.fault(
                    f"the {label} is {value:g} mm", f"Give it in mm, at most {most:g}."
                )
        if not 1 <= self.bones <= 50:
            raise self.flat.fault(
                f"there are {self.bones} bones", "Give how many lay on the strip."
            )
        if not (math.isfinite(self.overhang) and self.overhang < self.flat.length):
            raise self.flat.fault(
                f"the overhang of {self.overhang:g} mm with bones is not smaller than the swatch",
                "Give what the outer cloth needs beyond the swatch's length, in mm.",
            )
        if self.extra < -3.0 * self.spread:
            raise self.flat.fault(
                f"the overhang with bones ({self.overhang:g} mm) is smaller than without "
                f"({self.flat.overhang:g} mm)",
                "Bones only ever ask for more length: see whether the two are exchanged.",
            )

    @property
    def extra(self) -> float:
        """How much more the overhang is for the bones, in mm."""
        return self.overhang - self.flat.overhang

    @property
    def spread(self) -> float:
        """Standard uncertainty of `extra` in mm: two overhangs are read."""
        return math.sqrt(2.0) * self.flat.spread

    def face(self, inner_thickness: float) -> float:
        """Radius in mm of the face that the bones lie on."""
        return 0.5 * self.flat.former + self.flat.under + inner_thickness

    def refuse_crowded(self, inner_thickness: float) -> None:
        """Refuse bones that stand so close that the cloth need not come down between them.

        Raises `SwatchError`.
        """
        radius = self.face(inner_thickness)
        room = room_needed(radius, self.width, self.thickness, self.bends)
        apart = self.flat.length / self.bones
        if apart < room:
            raise self.flat.fault(
                f"{self.bones} bones on {self.flat.length:g} mm stand {apart:.0f} mm apart: round "
                f"this former the cloth comes down between them only from {room:.0f} mm on",
                f"Lay at most {max(1, math.floor(self.flat.length / room))} on it, evenly, and "
                "half as far from both ends.",
            )


def _corner(radius: float, height: float, width: float, bends: bool) -> tuple[float, float]:
    """Distance in mm of a bone's corners from the axis, and the angle from its middle to them."""
    if bends:
        return radius + height, 0.5 * width / radius
    return math.hypot(radius + height, 0.5 * width), math.atan2(0.5 * width, radius + height)


def room_needed(radius: float, width: float, height: float, bends: bool) -> float:
    """How far apart in mm bones must stand at least for the cloth to come down between them."""
    corner, half = _corner(radius, height, width, bends)
    return 2.0 * radius * (math.acos(min(radius / corner, 1.0)) + half)


def over_bone(radius: float, height: float, width: float, bends: bool) -> float:
    """How much more cloth needs to ride over one bone than to lie on the face, in mm.

    Examples
    --------
    Four bones 7 by 1.5 mm on an 80 mm former, standing fully and at 0.9 mm:

    >>> [round(4 * over_bone(40.0, t, 7.0, True), 1) for t in (1.5, 0.9)]
    [3.2, 1.6]
    """
    corner, half = _corner(radius, height, width, bends)
    beta = math.acos(min(radius / corner, 1.0))
    top = height * width / radius if bends else width - 2.0 * radius * half
    return top + 2.0 * radius * (math.tan(beta) - beta)


def _steepness(radius: float, height: float, width: float, bends: bool) -> float:
    """By how much `over_bone` grows for each mm of height: dc / dR is sin(beta)."""
    corner, _ = _corner(radius, height, width, bends)
    rise = math.sqrt(max(1.0 - (radius / corner) ** 2, 0.0))
    if bends:
        return width / radius + 2.0 * rise
    return radius * width / corner**2 + 2.0 * rise * (radius + height) / corner


@dataclass(frozen=True, eq=False)
class BonedFit:
    """How high bones stand; *line*: its value is the height in mm."""

    readings: tuple[BonedReading, ...]
    line: Slope

    @property
    def pair(self) -> str:
        """The two layers in words."""
        return self.readings[0].flat.pair

    @property
    def share(self) -> float:
        """Part of the bone's thickness that it stands."""
        return self.line.value / self.readings[0].thickness

    @property
    def said(self) -> str:
        """What was found, in a line."""
        if self.line.value <= 0.0:
            return f"bones under {self.readings[0].flat.outer}: no height can be told"
        low, high = self.line.interval
        return (
            f"bones under {self.readings[0].flat.outer} stand {self.line.value:.2f} mm high, "
            f"{100.0 * self.share:.0f} % of their thickness, 95 % between {low:.2f} and {high:.2f} "
            f"mm (uncertainty {self.line.uncertainty:.2f} mm)"
        )

    @property
    def job_line(self) -> str:
        """What to write into the job file; nothing if no height can be told."""
        if self.line.value <= 0.0:
            return ""
        first = self.readings[0]
        return (
            f"standing = {self.line.value:.2f}   # in the [[construction.bones]] of "
            f"{first.width:g} by {first.thickness:g} mm on {first.flat.inner}, with "
            f"standing_uncertainty = {upwards(self.line.entry_uncertainty, 2)}"
        )

    def warnings(self) -> tuple[str, ...]:
        """What the maker should look at."""
        thick = self.readings[0].thickness
        found = []
        if len(self.readings) == 1:
            found.append("one reading only: nothing shows whether the cloth slipped")
        if not self.line.consistent:
            found.append("the readings do not agree: pin them again")
        if self.line.value <= 0.0:
            found.append("no height can be told: see whether the cloth lay snug over the bones")
        elif self.line.interval[0] > FULLY * thick:
            found.append(
                f"the bones seem to stand {self.line.value:.2f} mm high and are {thick:g} mm "
                "thick: see whether both overhangs are of one strip and former, and the cloth lay "
                "snug"
            )
        elif self.line.half_width > 0.5 * thick:
            found.append(
                f"the height is known to within {self.line.half_width:.2f} mm only: take more "
                "readings, more bones or a smaller former"
            )
        return tuple(f"bones under {self.readings[0].flat.outer}: {words}" for words in found)


def fit_boned(readings: Sequence[BonedReading], inner_thickness: float) -> BonedFit:
    """Fit the height at which bones of one kind stand.

    *readings*: all of one pair of layers and one kind of bone; one flat overhang that stands beside
    several with bones counts once. *inner_thickness*: of what the bones lie on, in mm.

    Raises `SwatchError` if there is none, they are of several kinds, or the bones are too close.
    """
    if not readings:
        raise SwatchError(
            "there is no reading", remedy="Read a strip with bones and without at least once."
        )
    first = readings[0]
    for reading in readings:
        if kind_of(reading) != kind_of(first):
            raise reading.flat.fault(
                "readings of several layers or kinds of bones are fitted together",
                "Fit each by itself: a file for each.",
            )
        reading.refuse_crowded(inner_thickness)
    face = np.array([reading.face(inner_thickness) for reading in readings])
    count = np.array([reading.bones for reading in readings], dtype=np.float64)
    extra = np.array([reading.extra for reading in readings])
    stated = any(reading.flat.u_overhang is not None for reading in readings)
    # The flat overhang is half of each reading's variance, and all of it is shared.
    own = np.array([reading.flat.spread for reading in readings])
    once = [replace(reading.flat, origin="") for reading in readings]
    same = np.array([[one == other for other in once] for one in once])
    shared = {"flat reading": SharedError(own, np.zeros(len(own)), same)}
    height = first.thickness
    for _ in range(_ROUNDS):
        rise, steep = (
            np.array([each(r, height, first.width, first.bends) for r in face])
            for each in (over_bone, _steepness)
        )
        x = count * steep
        line = fit_slope(x, extra - count * rise + x * height, own, shared, stated=stated)
        before, height = height, max(line.value, 0.0)
        if abs(height - before) < 1e-10:
            break
    return BonedFit(tuple(readings), line)


def kind_of(reading: BonedReading) -> tuple[object, ...]:
    """What readings that are fitted together have in common."""
    flat = reading.flat
    return flat.inner, flat.outer, reading.width, reading.thickness, reading.bends
