"""A slope from readings whose errors are partly shared, with its uncertainty.

Every swatch says y = slope * x: an overhang is a distance times an angle, a shortfall a fold
factor times the way round n folds. Each reading has an error of its own; a former, a strip, a
cloth and a way of pinning are equally wrong in all that they had part in. The covariance of the
readings holds both (GUM, JCGM 100:2008, 5.2), and the fit is one of generalised least squares,
with a constant beside the slope where the readings can tell it (`offset`): an error that all
share, whatever x is, then does no harm.

How far single readings scatter is either *stated* or found from the readings:

- stated: the 95 % interval is 1.96 standard uncertainties either way. If the readings scatter
  more than stated (chi-square test at 5 %), it is widened by the Birge ratio, the root of
  chi-square over its degrees of freedom (R. T. Birge, Phys. Rev. 40, 207, 1932; from memory);
- found: the scatter is that with which chi-square is what it should be, its degrees of freedom
  (R. C. Paule, J. Mandel, J. Res. NBS 87, 377, 1982; from memory). The interval is Student's,
  with the effective number of degrees by Welch and Satterthwaite (GUM, G.4).
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from statistics import NormalDist
from typing import Final

import numpy as np

from ..outline import FloatArray

CONFIDENCE: Final = 0.95
NORMAL_FACTOR: Final = NormalDist().inv_cdf(0.5 + 0.5 * CONFIDENCE)
"""1.96: standard uncertainties on either side that hold 95 % of a normal distribution."""

SIGNIFICANCE: Final = 0.05
"""Readings are called inconsistent if chance alone would scatter them so in fewer cases."""


def upwards(uncertainty: float, digits: int) -> str:
    """Write an uncertainty, rounded up: an entry must not claim to know more than the readings."""
    return f"{math.ceil(uncertainty * 10.0**digits - 1e-6) / 10.0**digits:.{digits}f}"


RULER_MM: Final = 0.5
"""Standard uncertainty of a length read on a scale of mm, unless a reading gives its own: half
a division, for reading and marking together (our convention)."""

RESOLUTION_MM: Final = 0.5 / math.sqrt(12.0)
"""Scatter is never taken below that of rounding to half a division of mm (GUM, F.2.2.1):
readings that agree by chance or rounding are not exact."""

LEAST_MM: Final = 1e-4
"""No scale is read better; below, what readings share would drown their own errors in rounding."""

FEWEST_FREE: Final = 2
"""One degree of freedom says next to nothing of a scatter (Student's t is 12.7)."""

_ROUNDS: Final = 50


@dataclass(frozen=True, eq=False)
class SharedError:
    """One cause that is equally wrong in several readings.

    *constant* and *by_slope*, shape (n,): what its standard uncertainty does to each y, the
    second for each unit of the slope. *alike*, shape (n, n): which readings share it.
    """

    constant: FloatArray
    by_slope: FloatArray
    alike: FloatArray

    def covariance(self, slope: float) -> FloatArray:
        """Covariance of the readings that it causes at a slope."""
        effect = self.constant + slope * self.by_slope
        return np.asarray(np.outer(effect, effect) * self.alike)


@dataclass(frozen=True, eq=False)
class Slope:
    """What readings say of a slope.

    *uncertainty* is standard, with its degrees of *freedom* (infinite where it was stated) and
    the *parts* that the shared errors have in it. *scatter*: standard deviation of a reading,
    None where stated. *offset* and *u_offset*: the constant beside it, None where it is not free.
    *residuals* (and *standardised* ones), shape (n,): read less fitted. *chi_square* is that of
    the stated uncertainties, *chance* the probability of one at least as large, *widened* the
    factor by which the stated uncertainty was.
    """

    value: float
    uncertainty: float
    freedom: float
    parts: Mapping[str, float]
    scatter: float | None
    offset: float | None
    u_offset: float | None
    residuals: FloatArray
    standardised: FloatArray
    chi_square: float
    chance: float
    widened: float

    @property
    def half_width(self) -> float:
        """Half the width of the 95 % interval."""
        return self.coverage_factor * self.uncertainty

    @cached_property
    def coverage_factor(self) -> float:
        """Standard uncertainties on either side of a 95 % interval: Student's, or 1.96."""
        if math.isinf(self.freedom):
            return NORMAL_FACTOR
        # Not by scipy.stats, which takes half a second to import.
        from scipy.special import stdtrit

        return float(stdtrit(self.freedom, 0.5 + 0.5 * CONFIDENCE))

    @property
    def interval(self) -> tuple[float, float]:
        """The 95 % interval."""
        return self.value - self.half_width, self.value + self.half_width

    @property
    def entry_uncertainty(self) -> float:
        """The standard uncertainty that gives the same 95 % interval as a normal one.

        Few readings have a wider interval than 1.96 standard uncertainties; what is reckoned
        from an entry knows no degrees of freedom and must not lose that.
        """
        return self.half_width / NORMAL_FACTOR

    @property
    def outlier(self) -> int | None:
        """Place of the reading that disagrees with the rest, if one does.

        The largest standardised residual is held against what the largest of n normal ones
        exceeds in 5 % of cases (Bonferroni's bound). Of two readings neither can be blamed.
        """
        count = len(self.standardised)
        if count < 3:
            return None
        worst = int(np.argmax(np.abs(self.standardised)))
        bound = NormalDist().inv_cdf(1.0 - 0.5 * SIGNIFICANCE / count)
        return worst if abs(self.standardised[worst]) > bound else None

    @property
    def consistent(self) -> bool:
        """Whether the readings agree with each other within their stated uncertainties."""
        return self.chance >= SIGNIFICANCE and self.outlier is None

    @property
    def shifted(self) -> bool:
        """Whether the constant beside the slope is more than chance makes it, at 95 %."""
        if self.offset is None or self.u_offset is None:
            return False
        return abs(self.offset) > self.coverage_factor * self.u_offset


@dataclass(frozen=True, eq=False)
class _Solved:
    """The fit for one covariance.

    *variance* is the factor on the squares of the spreads in it. *left* leaves of readings what
    the fit does not follow, weighted: chi-square is `y @ left @ y`.
    """

    variance: float
    covariance: FloatArray
    coefficients: FloatArray
    estimator: FloatArray
    variances: FloatArray
    left: FloatArray

    def chi_square(self, y: FloatArray) -> float:
        """Sum of squares of what the fit misses, weighted."""
        return max(float(y @ self.left @ y), 0.0)


def fit_slope(
    x: FloatArray,
    y: FloatArray,
    spread: FloatArray,
    shared: Mapping[str, SharedError],
    *,
    stated: bool,
    offset: bool = False,
) -> Slope:
    """Fit a slope to readings.

    *spread*: standard uncertainty of each reading's own error, which is only the shape of the
    scatter if it is not *stated* and there are readings enough to find it. *shared*: causes by
    name. *offset*: whether there is a constant beside the slope.
    """
    x, y = np.asarray(x, dtype=float), np.asarray(y, dtype=float)
    spread = np.maximum(spread, LEAST_MM)
    design = np.stack([x, np.ones_like(x)], axis=1) if offset else x[:, None]
    free = len(x) - design.shape[1]
    plain = _solve(design, y, spread, shared)
    chi, chance, widened, scatter = plain.chi_square(y), 1.0, 1.0, None
    if free > 0:
        from scipy.special import chdtrc

        chance = float(chdtrc(free, chi))
    found = plain
    if stated or free < FEWEST_FREE:
        if chance < SIGNIFICANCE:
            widened = max(1.0, math.sqrt(chi / free))
    else:
        least = (RESOLUTION_MM / float(spread.max())) ** 2
        found = _solve(design, y, spread, shared, least=least, free=free)
        scatter = math.sqrt(found.variance) * float(spread.max())
    slope, line = float(found.coefficients[0]), found.estimator[0]
    variance = float(found.variances[0, 0])
    own = found.variance * spread**2
    freedom = math.inf
    if scatter is not None:
        seen = found.left * own
        freedom = float(np.trace(seen @ seen)) * (variance / float(line**2 @ own)) ** 2
    # The fit follows each reading a little: its residual has so much less variance.
    kept = np.diag(plain.covariance - design @ plain.variances @ design.T)
    deviation = np.sqrt(np.maximum(kept, 0.0))
    missed = y - design @ plain.coefficients
    return Slope(
        slope,
        widened * math.sqrt(variance),
        freedom,
        {
            name: widened * math.sqrt(float(line @ part.covariance(slope) @ line))
            for name, part in shared.items()
        },
        scatter,
        float(found.coefficients[1]) if offset else None,
        widened * math.sqrt(float(found.variances[1, 1])) if offset else None,
        y - design @ found.coefficients,
        np.divide(missed, deviation, out=np.zeros_like(y), where=deviation > 1e-6 * spread),
        chi,
        chance,
        widened,
    )


def _solve(
    design: FloatArray,
    y: FloatArray,
    spread: FloatArray,
    shared: Mapping[str, SharedError],
    *,
    least: float = 1.0,
    free: int | None = None,
) -> _Solved:
    """Generalised least squares, with the spreads as they are or as chi-square says.

    *least*: factor on the squares of the spreads. *free*: degrees of freedom, which chi-square is
    to come down to by a larger factor. It falls with the factor ever less steeply, so that
    Newton's steps from below never overshoot; what shared errors do depends on the slope and
    follows in the same rounds.
    """
    own, flat, rising, steep = np.diag(spread**2), *np.zeros((3, len(y), len(y)))
    for part in shared.values():
        flat += np.outer(part.constant, part.constant) * part.alike
        rising += 2.0 * np.outer(part.constant, part.by_slope) * part.alike
        steep += np.outer(part.by_slope, part.by_slope) * part.alike
    rising = 0.5 * (rising + rising.T)
    factor, slope = least, 0.0
    for _ in range(_ROUNDS):
        covariance = factor * own + flat + slope * (rising + slope * steep)
        inverse = np.linalg.inv(covariance)
        pull = design.T @ inverse
        variances: FloatArray = np.asarray(np.linalg.inv(pull @ design))
        estimator: FloatArray = np.asarray(variances @ pull)
        left: FloatArray = np.asarray(inverse - pull.T @ estimator)
        found = _Solved(factor, covariance, estimator @ y, estimator, variances, left)
        before, slope = (factor, slope), float(found.coefficients[0])
        if free is not None:
            weighted = (left @ y) * spread
            steepness = float(weighted @ weighted)
            if steepness > 0.0:
                factor = max(least, factor + (found.chi_square(y) - free) / steepness)
        settled = abs(factor - before[0]) <= 1e-12 * factor
        if settled and abs(slope - before[1]) <= 1e-12 * (1.0 + abs(slope)):
            break
    return found
