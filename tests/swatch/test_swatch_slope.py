"""The fit of a slope: closed forms of its uncertainty, and what shared errors do to it."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, strategies as st
from scipy import stats

from panelshift.swatch.slope import RESOLUTION_MM, SharedError, Slope, fit_slope


def line(x: list[float], y: list[float], spread: float | list[float] = 0.5, **more) -> Slope:
    """A fit whose own errors are `spread`; stated if several are given, or if asked."""
    more = {"shared": {}, "stated": isinstance(spread, list), **more}
    shared = more.pop("shared")
    return fit_slope(np.array(x), np.array(y), np.zeros(len(x)) + spread, shared, **more)


def of_all(count: int, constant: float = 0.0, by_slope: float = 0.0) -> SharedError:
    ones = np.ones(count)
    return SharedError(constant * ones, by_slope * ones, np.ones((count, count)))


def test_weights_are_the_inverse_squares_of_the_uncertainties() -> None:
    found = line([5.0, 5.0], [5.0, 6.0], [0.1, 0.3])
    weights = np.array([1 / 0.01, 1 / 0.09])
    assert found.value == pytest.approx(float(weights @ [5.0, 6.0] / weights.sum()) / 5.0)


def test_equal_readings_are_averaged() -> None:
    found = line([5.0, 5.0], [5.0, 5.4], stated=True)
    assert found.value == pytest.approx(5.2 / 5.0)
    assert found.uncertainty == pytest.approx(0.5 / math.sqrt(2.0) / 5.0)
    assert found.coverage_factor == pytest.approx(1.959963984540054)


def test_scatter_is_found_from_three_readings() -> None:
    values = [5.0, 6.0, 7.0]
    found = line([5.0] * 3, values)
    assert found.scatter == pytest.approx(1.0)
    assert found.freedom == pytest.approx(2.0)
    # scipy's own interval of a mean.
    low, high = stats.t.interval(0.95, 2, np.mean(values), stats.sem(values))
    assert found.interval == pytest.approx((low / 5.0, high / 5.0), rel=1e-9)


def test_slope_and_its_uncertainty_are_those_of_a_line_through_the_origin() -> None:
    x, y = np.array([6.0, 4.5, 3.6, 3.0]), np.array([8.1, 5.2, 5.0, 3.3])
    slope, rest, *_ = np.linalg.lstsq(x[:, None], y, rcond=None)
    found = line(list(x), list(y))
    assert found.value == pytest.approx(float(slope[0]), rel=1e-12)
    assert found.uncertainty == pytest.approx(math.sqrt(rest[0] / 3 / (x @ x)), rel=1e-9)


def test_with_a_constant_it_is_the_usual_straight_line() -> None:
    x, y = [6.0, 4.5, 3.6, 3.0, 1.5], [8.1, 5.2, 5.0, 3.3, 2.5]
    usual = stats.linregress(x, y)
    found = line(x, y, offset=True)
    assert found.value == pytest.approx(usual.slope)
    assert found.offset == pytest.approx(usual.intercept)
    assert found.uncertainty == pytest.approx(usual.stderr, rel=1e-9)
    assert found.u_offset == pytest.approx(usual.intercept_stderr, rel=1e-9)
    assert found.freedom == pytest.approx(3.0)


@given(constant=st.floats(-5, 5), slope=st.floats(-3, 3))
def test_a_constant_in_all_readings_leaves_the_slope_alone(constant: float, slope: float) -> None:
    x = [5.0, 4.0, 2.0, 1.0]
    found = line(x, [constant + slope * k for k in x], offset=True)
    assert found.value == pytest.approx(slope, abs=1e-9)
    assert found.offset == pytest.approx(constant, abs=1e-9)


def test_a_constant_is_told_only_if_it_is_more_than_chance() -> None:
    x = [5.0, 5.0, 1.0, 1.0]
    assert line(x, [6.1, 5.9, 2.1, 1.9], 0.1, offset=True, stated=True).shifted
    assert not line(x, [5.2, 4.9, 1.1, 0.9], 0.5, offset=True, stated=True).shifted
    assert not line(x, [6.1, 5.9, 2.1, 1.9], 0.1, stated=True).shifted


def test_readings_that_agree_by_luck_are_not_exact() -> None:
    found = line([5.0] * 4, [6.5] * 4)
    assert found.scatter == pytest.approx(RESOLUTION_MM)
    assert found.uncertainty == pytest.approx(0.5 / math.sqrt(12.0) / 2.0 / 5.0)


@pytest.mark.parametrize("count", [1, 4, 100])
def test_what_all_share_stays_however_many_there_are(count: int) -> None:
    shared = {"bias": of_all(count, constant=0.4)}
    found = line([5.0] * count, [5.0] * count, shared=shared, stated=True)
    assert found.uncertainty == pytest.approx(math.hypot(0.5 / math.sqrt(count), 0.4) / 5.0)
    assert found.parts["bias"] == pytest.approx(0.4 / 5.0)
    rising = line([5.0] * count, [5.0] * count, shared={"x": of_all(count, 0, 2.0)}, stated=True)
    assert rising.parts["x"] == pytest.approx(2.0 * 1.0 / 5.0)


def test_a_constant_and_a_rising_effect_of_one_cause_add_up() -> None:
    """A strip cut e too long shifts its mark by e (1 + d / r): both parts have one sign."""
    found = line([5.0], [5.0], 1e-4, shared={"strip": of_all(1, 0.3, 0.3 / 40.0)}, stated=True)
    assert found.uncertainty == pytest.approx(0.3 * (1.0 + found.value / 40.0) / 5.0, rel=1e-6)


@given(
    st.lists(st.tuples(st.floats(0.3, 6.3), st.floats(-1, 30)), min_size=1, max_size=8),
    st.sampled_from([1e-12, 1e-3, 0.5, 20.0]),
    st.booleans(),
)
def test_any_readings_give_finite_numbers(
    readings: list[tuple[float, float]], spread: float, stated: bool
) -> None:
    x, y = map(list, zip(*readings, strict=True))
    shared = {"bias": of_all(len(x), 0.4), "former": of_all(len(x), 0.0, 0.1)}
    found = line(x, y, spread, shared=shared, stated=stated)
    assert np.isfinite([found.value, found.half_width, found.chi_square, *found.residuals]).all()
    assert found.uncertainty > 0.0
    assert found.freedom >= 0.9


def test_shared_errors_add_degrees_of_freedom() -> None:
    y = [5.0, 5.4, 5.8]
    plain, both = line([5.0] * 3, y), line([5.0] * 3, y, shared={"s": of_all(3, constant=0.4)})
    assert both.uncertainty == pytest.approx(math.hypot(plain.uncertainty, 0.4 / 5.0), rel=1e-9)
    assert both.scatter == pytest.approx(plain.scatter)
    # Welch and Satterthwaite: only the scatter has a limited number.
    assert both.freedom == pytest.approx(2 * (both.uncertainty / plain.uncertainty) ** 4)


def test_scatter_is_what_shared_errors_leave_over() -> None:
    """Two strips, each with an error of its own: what differs between them is no scatter."""
    alike = np.kron(np.eye(2), np.ones((3, 3)))
    shared = {"strips": SharedError(np.full(6, 1.0), np.zeros(6), alike)}
    y = [5.9, 6.0, 6.1, 3.9, 4.0, 4.1]
    assert line([5.0] * 6, y).scatter == pytest.approx(np.std(y, ddof=1))
    assert line([5.0] * 6, y, shared=shared).scatter < 0.2


# -- agreement ----------------------------------------------------------------------------


def test_chi_square_is_that_of_the_stated_uncertainties() -> None:
    found = line([5.0] * 3, [4.0, 5.0, 6.0])
    assert found.chi_square == pytest.approx(8.0)
    assert found.chance == pytest.approx(math.exp(-4.0))
    # The mean of three leaves two thirds of the variance to each residual.
    assert found.standardised == pytest.approx([-2 / math.sqrt(2 / 3), 0, 2 / math.sqrt(2 / 3)])


def test_stated_uncertainties_are_widened_when_they_cannot_explain_the_scatter() -> None:
    found = line([5.0] * 3, [4.0, 5.0, 6.0], stated=True)
    assert found.widened == pytest.approx(2.0)
    assert found.uncertainty == pytest.approx(2.0 * 0.5 / math.sqrt(3.0) / 5.0)
    assert line([5.0] * 3, [4.6, 5.0, 5.4], stated=True).widened == 1.0


@pytest.mark.parametrize(("times", "named"), [(2.5, False), (2.65, True)])
def test_of_many_readings_one_may_be_further_off(times: float, named: bool) -> None:
    """The largest of five: 2.576, the normal deviate of 5 % over five and two sides."""
    # The one apart is held against the mean of all: four fifths of it remain.
    off = times * 0.5 * math.sqrt(4 / 5) / (4 / 5)
    found = line([5.0] * 5, [5.0, 5.0, 5.0, 5.0, 5.0 + off], stated=True)
    assert found.standardised[-1] == pytest.approx(times)
    assert (found.outlier == 4) == named


def test_an_entry_has_the_same_interval() -> None:
    found = line([5.0] * 3, [5.0, 6.0, 7.0])
    assert 1.959963984540054 * found.entry_uncertainty == pytest.approx(found.half_width)
    assert found.entry_uncertainty > 2.0 * found.uncertainty
