"""Superellipse sections against direct integration of their parametrised curve."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.optimize import brentq

from panelshift.body.section import half_axes, normal_at_fraction, superellipse_perimeter

EXPONENTS = [1.5, 2.0, 2.5, 4.0]


def arc_from_front(u: float, ratio: float, n: float) -> float:
    """Arc length from the centre front of x = ratio sin^(2/n), y = cos^(2/n), to angle u.

    The curve's speed is integrable but unbounded at the axes for some n, so the substitution
    u = x^k is made at each end.
    """

    def speed(t: float) -> float:
        s, c = np.sin(t), np.cos(t)
        p = 2.0 / n
        return float(np.hypot(ratio * p * s ** (p - 1.0) * c, p * c ** (p - 1.0) * s))

    k = 4
    middle = min(u, np.pi / 4)
    low = quad(lambda x: speed(x**k) * k * x ** (k - 1), 0.0, middle ** (1 / k), epsabs=1e-12)[0]
    if u <= np.pi / 4:
        return low

    def mirrored(x: float) -> float:
        return speed(np.pi / 2 - x**k) * k * x ** (k - 1)

    start, end = (np.pi / 2 - u) ** (1 / k), (np.pi / 4) ** (1 / k)
    return low + quad(mirrored, start, end, epsabs=1e-12)[0]


def normal_at(u: float, ratio: float, n: float) -> float:
    """Angle of the gradient of |x/a|^n + |y/b|^n from the y axis (the centre front)."""
    x, y = ratio * np.sin(u) ** (2 / n), np.cos(u) ** (2 / n)
    return float(np.arctan2(x ** (n - 1) / ratio**n, y ** (n - 1)))


@pytest.mark.parametrize("n", EXPONENTS)
@pytest.mark.parametrize("ratio", [0.7, 1.0, 1.4, 1.8])
def test_normal_is_that_of_direct_integration(n: float, ratio: float) -> None:
    quarter = arc_from_front(np.pi / 2, ratio, n)
    for fraction in (0.02, 0.06, 0.11, 0.17, 0.23):
        u = brentq(
            lambda t, f=fraction: arc_from_front(t, ratio, n) - 4 * f * quarter, 1e-9, np.pi / 2
        )
        found = normal_at_fraction(np.array([fraction]), np.array([ratio]), n)[0]
        assert found == pytest.approx(normal_at(u, ratio, n), abs=1e-7)


@pytest.mark.parametrize("n", EXPONENTS)
@pytest.mark.parametrize("ratio", [0.7, 1.4])
def test_perimeter_is_that_of_direct_integration(n: float, ratio: float) -> None:
    expected = 4 * 90 * arc_from_front(np.pi / 2, ratio, n)
    assert superellipse_perimeter(90 * ratio, 90, n) == pytest.approx(expected, abs=1e-6)


@pytest.mark.parametrize("n", EXPONENTS)
def test_quarters_end_on_the_axes(n: float) -> None:
    fractions = np.array([-0.5, -0.25, 0.0, 0.25, 0.5])
    found = normal_at_fraction(fractions, np.array([1.4]), n)
    # Sharp corners (below 2) and flats (above) at the axes cost digits, not correctness.
    assert np.abs(found - 2 * np.pi * fractions).max() < (1e-9 if n == 2 else 1e-7)


@pytest.mark.parametrize("n", EXPONENTS)
def test_left_and_right_mirror_each_other_and_front_and_back(n: float) -> None:
    fractions = np.linspace(0.01, 0.24, 9)
    ratio = np.array([1.3])
    right = normal_at_fraction(fractions, ratio, n)
    assert normal_at_fraction(-fractions, ratio, n) == pytest.approx(-right, abs=1e-12)
    behind = normal_at_fraction(0.5 - fractions, ratio, n)
    assert behind == pytest.approx(np.pi - right, abs=1e-9)


def test_a_circle_turns_evenly() -> None:
    fractions = np.linspace(-0.5, 0.5, 41)
    found = normal_at_fraction(fractions, np.array([1.0]))
    assert found == pytest.approx(2 * np.pi * fractions, abs=1e-12)


@pytest.mark.parametrize("n", EXPONENTS)
def test_half_axes_have_the_girth_asked_for(n: float) -> None:
    girth, ratio = np.array([500.0, 660.0, 1100.0]), np.array([1.0, 1.4, 0.8])
    breadth, depth = half_axes(girth, ratio, n)
    assert breadth / depth == pytest.approx(ratio)
    again = [superellipse_perimeter(b, d, n) for b, d in zip(breadth, depth, strict=True)]
    assert again == pytest.approx(girth, abs=1e-9)


@pytest.mark.parametrize(
    ("ratio", "degrees"),
    [(1.2, [23.8, 28.9, 37.3]), (1.4, [19.5, 26.7, 43.9]), (1.6, [16.4, 24.0, 49.6])],
)
def test_six_equal_panels_turn_as_in_the_prototype(ratio: float, degrees: list[float]) -> None:
    # docs: a numerical prototype made before this code, waist 660 mm, no gap; to 0.1 degree.
    normals = normal_at_fraction(np.arange(7) / 12, np.array([ratio]))
    assert np.degrees(np.diff(normals)) == pytest.approx(degrees + degrees[::-1], abs=0.051)
