"""The stated 95 % hold: the true distance lies in the interval in 95 % of simulated swatches.

Each case is 1,000 trials with a fixed seed. The number of hits of a true 95 % interval is
binomial; it lies outside the exact bounds below in fewer than 1 in 1,000 runs
(scipy.stats.binom: 926 to 971, both included).
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from panelshift.swatch import SwatchReading, fit_pair

TRIALS = 1000
BOUNDS = tuple(int(b) for b in stats.binom.ppf([0.0005, 0.9995], TRIALS, 0.95))
FORMERS = (60.0, 80.0, 100.0, 120.0, 60.0, 80.0, 100.0, 120.0, 70.0, 90.0)
LENGTH, THICKNESS = 160.0, 0.45


def hits(count: int, spread: float, stated: float | None, *, shared: float = 0.0) -> int:
    """In how many trials the interval holds the distance.

    `shared` is the standard uncertainty of every former and of the one swatch's length; each
    former's error is the same in all its readings.
    """
    rng = np.random.default_rng(20_240_000 + count)
    held = 0
    for _ in range(TRIALS):
        distance = rng.uniform(0.8, 2.5)
        off = {former: shared * rng.normal() for former in FORMERS}
        length = LENGTH + shared * rng.normal()
        readings = [
            SwatchReading(
                "a",
                "b",
                former + off[former],
                length,
                distance * LENGTH / (former / 2 + THICKNESS / 2) + spread * rng.normal(),
                stated,
                shared,
                shared,
            )
            for former in FORMERS[:count]
        ]
        low, high = fit_pair(readings, THICKNESS).interval
        held += low <= distance <= high
    return held


def test_bounds_are_those_in_the_text() -> None:
    assert BOUNDS == (926, 971)
    outside = stats.binom.cdf(925, TRIALS, 0.95) + stats.binom.sf(971, TRIALS, 0.95)
    assert outside < 0.001


@pytest.mark.parametrize("count", [1, 2, 3, 5, 10])
def test_stated_uncertainty_holds(count: int) -> None:
    assert BOUNDS[0] <= hits(count, 0.3, 0.3) <= BOUNDS[1]


@pytest.mark.parametrize("count", [1, 2])
def test_the_ruler_holds_for_one_or_two_readings(count: int) -> None:
    assert BOUNDS[0] <= hits(count, 0.5, None) <= BOUNDS[1]


@pytest.mark.parametrize("count", [3, 4, 6, 10])
@pytest.mark.parametrize("spread", [0.5, 0.8])
def test_scatter_found_from_the_readings_holds_whatever_it_is(count: int, spread: float) -> None:
    assert BOUNDS[0] <= hits(count, spread, None) <= BOUNDS[1]


@pytest.mark.parametrize("count", [3, 6])
def test_the_least_scatter_errs_on_the_safe_side_only(count: int) -> None:
    """Readings much better than half a mm: their interval is that of rounding, or wider."""
    assert hits(count, 0.1, None) > BOUNDS[1]
    assert hits(count, 0.3, None) >= BOUNDS[0]


@pytest.mark.parametrize(("count", "stated"), [(1, 0.4), (4, 0.4), (10, 0.4), (6, None)])
def test_errors_of_formers_and_swatch_are_carried(count: int, stated: float | None) -> None:
    assert BOUNDS[0] <= hits(count, 0.4, stated, shared=1.5) <= BOUNDS[1]


def test_the_check_can_fail() -> None:
    """Readings twice as bad as stated, too few to show it, fall out of the bounds."""
    assert hits(1, 0.6, 0.3) < BOUNDS[0]
    assert hits(10, 0.3, 0.9) > BOUNDS[1]
