"""Points laid round a superellipse: on its equation, evenly along it, from the centre front."""

from __future__ import annotations

import numpy as np
import pytest

from panelshift.body import Measures, Ring, SectionModel
from panelshift.body.section import normal_at_fraction, section_points
from panelshift.body.support import ORDER, Sections
from tests.support.examples import thinned
from tests.support.superellipses import superellipse_perimeter

BREADTH, DEPTH = 140.0, 95.0


@pytest.mark.parametrize(
    "n",
    thinned([4.0, 1.5, 2.0, 2.5, 3.0], 5),
)
@pytest.mark.slow
def test_points_lie_on_the_superellipse_one_step_apart(n: float) -> None:
    steps = 2000
    points = section_points(np.linspace(-0.5, 0.5, steps + 1), BREADTH, DEPTH, n)
    x, y = np.abs(points[:, 0]) / BREADTH, np.abs(points[:, 1]) / DEPTH
    # Not pytest.approx, which takes a second for so many.
    assert np.abs((x**n + y**n) ** (1 / n) - 1.0).max() <= 1e-7
    step = superellipse_perimeter(BREADTH, DEPTH, n) / steps
    chords = np.hypot(*np.diff(points, axis=0).T)
    # Sharp corners (below 2) shorten a chord, flats (above) cost digits where they begin.
    assert np.abs(chords - step).max() <= step * (1e-5 if n == 2.0 else 0.01)
    assert chords.sum() == pytest.approx(steps * step, rel=1e-4)


def test_points_run_from_the_front_to_the_right_and_meet_behind() -> None:
    # Without an exponent: an ellipse.
    found = section_points(np.array([0.0, 0.25, 0.5, -0.25, -0.5]), BREADTH, DEPTH)
    expected = [(0, DEPTH), (BREADTH, 0), (0, -DEPTH), (-BREADTH, 0), (0, -DEPTH)]
    assert found == pytest.approx(np.array(expected, dtype=float), abs=1e-9)
    ahead = section_points(np.array([0.1, -0.1]), BREADTH, DEPTH)
    assert (ahead[:, 1] > 0.0).all()
    assert ahead[0, 0] == pytest.approx(-ahead[1, 0])
    assert ahead[0, 0] > 0.0


def test_a_body_is_an_ellipse_of_1_4_unless_said_otherwise() -> None:
    heights = np.linspace(-40.0, 40.0, 9)
    ring = Ring(heights, np.full((9, 6), 110.0), 0.0, ("side",) * 6)
    expected = np.diff(normal_at_fraction(np.arange(-3, 4) / 6, np.array([1.4]), 2.0))
    assert SectionModel().turn(ring).angles[4] == pytest.approx(expected)
    named = SectionModel(Measures.constant(1.4), 2.0)
    assert np.array_equal(named.turn(ring).angles, SectionModel().turn(ring).angles)


def test_a_polygon_s_waves_are_sums_over_its_edges() -> None:
    """Each spread over six tenths of the larger turn at its ends, and over five degrees at most."""
    t = np.cumsum(np.random.default_rng(5).uniform(0.4, 1.6, 90))
    t *= 2.0 * np.pi / t[-1]
    corners = np.column_stack([30.0 + 140.0 * np.cos(t), 90.0 * np.sin(t) - 8.0])
    corners = np.delete(corners, [20, 21, 22, 23], axis=0)
    count = len(corners)
    steps = [corners[(j + 1) % count] - corners[j] for j in range(count)]
    # Outwards is to the right of a walk against the clock; directions count from y towards x.
    out = [np.arctan2(step[1], -step[0]) for step in steps]
    turn = [(out[j - 1] - out[j]) % (2.0 * np.pi) for j in range(count)]
    assert sum(turn) == pytest.approx(2.0 * np.pi)
    found = Sections.of_points([corners[::-1]]).coefficients[0]
    for k in (0, 2, 3, 7, ORDER):
        whole = 0.0
        for j in range(count):
            spread = min(0.6 * max(turn[j], turn[(j + 1) % count]), np.radians(5.0))
            damped = np.exp(-0.5 * (k * spread) ** 2) if k else 1.0
            whole += np.hypot(*steps[j]) * np.exp(-1j * k * out[j]) * damped
        assert found[k] == pytest.approx(whole / (2.0 * np.pi * (1.0 - k**2)), abs=1e-9)
    # The Steiner point: corners weighed by their turn.
    x, y = sum(turn[j] * corners[j] for j in range(count)) / (2.0 * np.pi)
    assert found[1] == pytest.approx(0.5 * (y - 1j * x))
