"""The distance between two layers from readings, with its uncertainty.

Every reading says overhang = distance * angle, so the distance is the slope of a line through
the origin. Overhangs are weighted by their uncertainties. Errors of formers, swatch lengths and
of the inner cloth's thickness change the angles; one former, one swatch and one cloth are
equally wrong in all their readings, so these errors are correlated (GUM, JCGM 100:2008, 5.2),
and the fit is one of generalised least squares.

How far the overhangs scatter is either *stated* or found from the readings:

- stated, when any reading gives its own uncertainty, or there are fewer than three: the 95 %
  interval is 1.96 standard uncertainties either way. If the readings then scatter more than
  stated (chi-square test at 5 %), the uncertainty is widened by the Birge ratio, the root of
  chi-square over its degrees of freedom (R. T. Birge, Phys. Rev. 40, 207, 1932; from memory);
- found, otherwise: the interval is Student's t with n - 1 degrees of freedom (GUM, G.3), or the
  effective number by Welch and Satterthwaite where other errors add to it (GUM, G.4).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import NormalDist
from typing import Final

import numpy as np

from ..errors import SwatchError
from ..outline import FloatArray
from ..stack import MeasuredDistance
from ..stack.measured import LEAST_UNCERTAINTY_MM
from .pinned import RULER_MM, SwatchReading

CONFIDENCE: Final = 0.95
NORMAL_FACTOR: Final = NormalDist().inv_cdf(0.5 + 0.5 * CONFIDENCE)
"""1.96: standard uncertainties on either side that hold 95 % of a normal distribution."""

SIGNIFICANCE: Final = 0.05
"""Readings are called inconsistent if chance alone would scatter them so in fewer cases."""

FEWEST_FOR_SCATTER: Final = 3
"""Two readings say next to nothing of their own scatter (Student's t is 12.7)."""

RESOLUTION_MM: Final = 0.5 / math.sqrt(12.0)
"""Scatter is never taken below that of rounding to half a division of mm (GUM, F.2.2.1):
readings that agree by chance or rounding are not exact."""

_ROUNDS: Final = 50


@dataclass(frozen=True, eq=False)
class PairFit:
    """The distance between two layers that readings give.

    Parameters
    ----------
    inner_thickness : float
        In mm, of the inner cloth as it lay on the former.
    angles : ndarray, shape (n,)
        That the inner cloth turns through, in radians.
    distance : float
        Between the mid-surfaces, in mm.
    uncertainty : float
        Standard uncertainty in mm.
    freedom : float
        Degrees of freedom of the uncertainty; infinite where it was stated.
    scatter : float or None
        Standard deviation of an overhang in mm found from the readings; None where stated.
    residuals : ndarray, shape (n,)
        Overhang read less overhang fitted, in mm.
    standardised : ndarray, shape (n,)
        The same in units of their standard uncertainty; 0 for a single reading.
    chi_square : float
        Sum of squares of what the readings miss, weighted by the stated uncertainties.
    chance : float
        Probability of a chi-square at least as large; 1 for a single reading.
    widened : float
        Factor by which the stated uncertainty was widened; 1 if it was not.
    """

    inner: str
    outer: str
    readings: tuple[SwatchReading, ...]
    inner_thickness: float
    angles: FloatArray
    distance: float
    uncertainty: float
    freedom: float
    scatter: float | None
    residuals: FloatArray
    standardised: FloatArray
    chi_square: float
    chance: float
    widened: float

    @property
    def half_width(self) -> float:
        """Half the width in mm of the 95 % interval."""
        if math.isinf(self.freedom):
            return NORMAL_FACTOR * self.uncertainty
        # Not by scipy.stats, which takes half a second to import.
        from scipy.special import stdtrit

        return float(stdtrit(self.freedom, 0.5 + 0.5 * CONFIDENCE)) * self.uncertainty

    @property
    def interval(self) -> tuple[float, float]:
        """The 95 % interval in mm."""
        return self.distance - self.half_width, self.distance + self.half_width

    @property
    def consistent(self) -> bool:
        """Whether the readings agree with each other within their stated uncertainties."""
        return self.chance >= SIGNIFICANCE and self.outlier is None

    @property
    def outlier(self) -> SwatchReading | None:
        """The reading that disagrees with the rest, if one does.

        The largest standardised residual is held against what the largest of n normal ones
        exceeds in 5 % of cases (Bonferroni's bound). Of two readings neither can be blamed.
        """
        count = len(self.readings)
        if count < 3:
            return None
        worst = int(np.argmax(np.abs(self.standardised)))
        bound = NormalDist().inv_cdf(1.0 - 0.5 * SIGNIFICANCE / count)
        return self.readings[worst] if abs(self.standardised[worst]) > bound else None

    @property
    def entry_uncertainty(self) -> float:
        """The standard uncertainty in mm that gives the same 95 % interval as a normal one.

        Few readings have a wider interval than 1.96 standard uncertainties; what is reckoned
        from an entry knows no degrees of freedom and must not lose that.
        """
        return max(self.half_width / NORMAL_FACTOR, LEAST_UNCERTAINTY_MM)

    @property
    def entry(self) -> MeasuredDistance:
        """The distance for a stack, with `entry_uncertainty`.

        Raises `StackError` if the distance is not above 0.
        """
        return MeasuredDistance(self.inner, self.outer, self.distance, self.entry_uncertainty)

    def warnings(self) -> tuple[str, ...]:
        """What the maker should look at."""
        found = []
        pair = f"{self.inner} to {self.outer}"
        if len(self.readings) == 1:
            found.append(
                f"{pair}: one reading only; its uncertainty is the ruler's alone, and nothing "
                "shows whether the cloth slipped: take three or more"
            )
        if not self.consistent:
            found.append(f"{pair}: the readings do not agree; {self._blame()}")
        if self.distance <= 0.0:
            found.append(f"{pair}: no distance can be told from these readings")
        elif self.half_width > 0.5 * self.distance:
            found.append(
                f"{pair}: the distance is known to within {self.half_width:.2f} mm only, more "
                "than half of it: take longer swatches, smaller formers or more readings"
            )
        return tuple(found)

    def _blame(self) -> str:
        if self.outlier is not None:
            place = self.readings.index(self.outlier)
            name = self.outlier.origin or f"reading {place + 1}"
            return (
                f"{name} misses the others by {self.residuals[place]:+.1f} mm, "
                f"{abs(self.standardised[place]):.1f} times its uncertainty: pin it again"
            )
        if len(self.readings) == 2:
            return "take a third to see which is wrong"
        return "they scatter more than a reading should: look at the cloth for slip or stretch"


def fit_pair(
    readings: Sequence[SwatchReading], inner_thickness: float, *, thickness_uncertainty: float = 0.0
) -> PairFit:
    """Fit the distance between the two layers of some readings.

    *readings*: all of one pair. Equal formers are taken to be one former, equal lengths one swatch.
    *inner_thickness*: of the inner cloth, in mm. *thickness_uncertainty*: its standard uncertainty
    in mm.

    Raises `SwatchError` if there is no reading, they are of several pairs, a swatch laps over
    itself, or the thickness is not a length.
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
    overhangs = np.array([reading.overhang for reading in readings])
    spread = np.array([reading.spread for reading in readings])
    shared = _shared(readings, inner_thickness, thickness_uncertainty)
    distance, estimator, covariance = _slope(angles, overhangs, spread, shared)

    from scipy.special import chdtrc

    count = len(readings)
    residuals = overhangs - distance * angles
    inverse = np.linalg.inv(covariance)
    chi_square = float(residuals @ inverse @ residuals)
    chance = float(chdtrc(count - 1, chi_square)) if count > 1 else 1.0
    # The fit follows each reading a little: its residual has so much less variance.
    left = np.diag(covariance) - angles**2 * float(estimator @ covariance @ estimator)
    deviation = np.sqrt(np.maximum(left, 0.0))
    clear = deviation > 1e-6 * spread
    standardised = np.divide(residuals, deviation, out=np.zeros(count), where=clear)

    random = float(np.sum((estimator * spread) ** 2))
    system = distance**2 * float(estimator @ shared @ estimator)
    stated = any(reading.u_overhang is not None for reading in readings)
    scatter, freedom, widened = None, math.inf, 1.0
    if stated or count < FEWEST_FOR_SCATTER:
        if chance < SIGNIFICANCE:
            widened = max(1.0, math.sqrt(chi_square / (count - 1)))
        variance = widened**2 * (random + system)
    else:
        # All have the ruler's uncertainty here.
        scatter = max(RULER_MM * math.sqrt(chi_square / (count - 1)), RESOLUTION_MM)
        random *= (scatter / RULER_MM) ** 2
        variance = random + system
        freedom = (count - 1) * (variance / random) ** 2
    return PairFit(
        first.inner,
        first.outer,
        tuple(readings),
        inner_thickness,
        angles,
        distance,
        math.sqrt(variance),
        freedom,
        scatter,
        residuals,
        standardised,
        chi_square,
        chance,
        widened,
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


def _shared(readings: Sequence[SwatchReading], thickness: float, uncertainty: float) -> FloatArray:
    """Covariance of the angles, in radians squared, from former, length and thickness."""
    former = np.array([reading.former for reading in readings])
    length = np.array([reading.length for reading in readings])
    radius = np.array([reading.radius(thickness) for reading in readings])
    by_radius = length / radius**2
    by_former = 0.5 * by_radius * np.array([reading.u_former for reading in readings])
    by_length = np.array([reading.u_length for reading in readings]) / radius
    by_cloth = 0.5 * by_radius * uncertainty
    same_former = former[:, None] == former
    same_length = length[:, None] == length
    return np.asarray(
        np.outer(by_former, by_former) * same_former
        + np.outer(by_length, by_length) * same_length
        + np.outer(by_cloth, by_cloth)
    )


def _slope(
    angles: FloatArray, overhangs: FloatArray, spread: FloatArray, shared: FloatArray
) -> tuple[float, FloatArray, FloatArray]:
    """Slope through the origin, its weights on the overhangs, and the overhangs' covariance.

    What the angles' errors do to an overhang depends on the slope: it is found in rounds,
    which settle at once as these errors are the smaller ones.
    """
    distance = 0.0
    for _ in range(_ROUNDS):
        covariance = np.diag(spread**2) + distance**2 * shared
        pull = np.linalg.solve(covariance, angles)
        estimator = np.asarray(pull / float(angles @ pull), dtype=np.float64)
        before, distance = distance, float(estimator @ overhangs)
        if abs(distance - before) <= 1e-12 * (1.0 + abs(distance)):
            break
    return distance, estimator, covariance
