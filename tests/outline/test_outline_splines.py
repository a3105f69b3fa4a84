"""Splines against scipy's, their end conditions by themselves, and what they must reproduce."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, strategies as st
from scipy.interpolate import CubicSpline, PchipInterpolator

from panelshift.outline.splines import Spline

KINDS = {"smooth": (Spline.smooth, CubicSpline), "monotone": (Spline.monotone, PchipInterpolator)}


def knots(count: int, even: bool) -> np.ndarray:
    if even:
        return np.linspace(-40.0, 3.0 * count, count)
    return np.cumsum(np.random.default_rng(count).uniform(0.5, 3.0, count))


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("even", [True, False])
@pytest.mark.parametrize("count", [2, 3, 4, 5, 6, 7, 40, 121])
@pytest.mark.parametrize("columns", [None, 1, 5])
def test_splines_are_scipys(kind: str, even: bool, count: int, columns: int | None) -> None:
    own, theirs = KINDS[kind]
    x = knots(count, even)
    rng = np.random.default_rng(100 + count)
    # Whole numbers have level stretches and peaks, which the monotone one treats by themselves.
    y = rng.integers(-2, 3, size=count).astype(float)
    if columns is not None:
        y = np.column_stack([y, *rng.normal(size=(columns - 1, count))])
    at = np.linspace(x[0] - 1.0, x[-1] + 1.0, 600)
    found, expected = own(x, y), theirs(x, y)
    for one, other in (
        (found.at(at), expected(at)),
        (found.rates(at), expected(at, 1)),
        (found.slopes, expected(x, 1)),
    ):
        assert one.shape == other.shape
        assert np.abs(one - other).max() <= 1e-14 * max(np.abs(other).max(), 1.0)


def test_values_are_found_in_the_shape_asked_for() -> None:
    x = knots(6, even=False)
    spline = Spline.smooth(x, np.column_stack([x, x * x]))
    at = np.array([[1.0, 2.0, 3.0], [2.5, 0.5, 4.0]])
    assert spline.at(at).shape == spline.rates(at).shape == (2, 3, 2)
    assert spline.at(at)[..., 1] == pytest.approx(at * at)
    assert spline.rates(2.0) == pytest.approx([1.0, 4.0])


@pytest.mark.parametrize("count", [4, 5, 9])
@pytest.mark.parametrize("even", [True, False])
def test_a_smooth_spline_of_a_cubic_is_the_cubic(count: int, even: bool) -> None:
    x = knots(count, even)
    cubic = np.polynomial.Polynomial([3.0, -2.0, 0.5, 0.25])
    at = np.linspace(x[0] - 2.0, x[-1] + 2.0, 50)
    spline = Spline.smooth(x, cubic(x))
    assert spline.at(at) == pytest.approx(cubic(at), rel=1e-10)
    assert spline.rates(at) == pytest.approx(cubic.deriv()(at), rel=1e-10)


@pytest.mark.parametrize("even", [True, False])
def test_each_place_can_be_read_from_a_row_of_its_own(even: bool) -> None:
    rng = np.random.default_rng(6)
    x = knots(9, even)
    spline = Spline.smooth(x, rng.normal(size=(9, 4)))
    at = np.concatenate([x, rng.uniform(x[0] - 2.0, x[-1] + 2.0, 60)])
    row = rng.integers(0, 4, (3, len(at)))
    for chosen in (row[0], row):
        values, rates = spline.read_rows(at, chosen)
        assert values.shape == rates.shape == chosen.shape
        every = np.arange(len(at))
        assert values == pytest.approx(spline.at(at)[every, chosen], abs=1e-12)
        assert rates == pytest.approx(spline.rates(at)[every, chosen], abs=1e-12)


@given(st.lists(st.floats(-1e3, 1e3), min_size=2, max_size=12))
def test_a_monotone_spline_stays_between_its_values(values: list[float]) -> None:
    x, y = np.arange(len(values), dtype=float), np.array(values)
    spline = Spline.monotone(x, y)
    for k in range(len(y) - 1):
        inside = spline.at(np.linspace(k, k + 1, 20))
        assert inside.min() >= min(y[k], y[k + 1]) - 1e-9
        assert inside.max() <= max(y[k], y[k + 1]) + 1e-9


@given(st.floats(-3.0, 3.0), st.integers(3, 9))
def test_a_smooth_spline_is_linear_in_its_values(factor: float, count: int) -> None:
    # Angles that sum to a full turn at the knots do so between them.
    rng = np.random.default_rng(count)
    x, (one, two) = knots(count, even=False), rng.normal(size=(2, count))
    at = np.linspace(x[0], x[-1], 40)
    whole = Spline.smooth(x, one + factor * two).at(at)
    parts = Spline.smooth(x, one).at(at) + factor * Spline.smooth(x, two).at(at)
    assert whole == pytest.approx(parts, abs=1e-12 * (1.0 + abs(factor)) * 10.0)


def test_a_rise_too_small_to_divide_by_is_level() -> None:
    spline = Spline.monotone([0.0, 1.0, 2.0], [0.0, 5e-324, 1.0])
    assert spline.slopes[1] == pytest.approx(0.0, abs=1e-300)
