"""Smoothed slopes against a least-squares fit of numpy's own, height by height."""

from __future__ import annotations

import numpy as np
import pytest

from panelshift.body.ring import slopes

HALF_WINDOW_MM = 12.0
"""As docs/how-it-works.md has it: a cubic fitted to 12 mm on either side."""


def fitted_slope(heights: np.ndarray, values: np.ndarray, place: int) -> float:
    """Slope at one height of the cubic through its neighbours; one-sided near the ends."""
    count, step = len(heights), heights[1] - heights[0]
    half = min(max(int(HALF_WINDOW_MM // step), 1), (count - 1) // 2)
    middle = min(max(place, half), count - 1 - half)
    near = slice(middle - half, middle + half + 1)
    away = heights[near] - heights[place]
    # At `place` itself the slope is the coefficient of the first power.
    return float(np.polyfit(away / step, values[near], min(3, 2 * half))[-2] / step)


@pytest.mark.parametrize(
    ("count", "step"),
    [(81, 3.0), (61, 1.0), (40, 5.0), (9, 30.0), (3, 3.0), (4, 3.0), (5, 3.0), (6, 3.0), (7, 3.0)],
)
def test_slopes_are_those_of_a_least_squares_cubic(count: int, step: float) -> None:
    heights = -40.0 + step * np.arange(count)
    values = 600.0 + np.random.default_rng(count).normal(scale=10.0, size=count)
    expected = [fitted_slope(heights, values, place) for place in range(count)]
    assert slopes(heights, values) == pytest.approx(expected, rel=1e-9, abs=1e-9)
