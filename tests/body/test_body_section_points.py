"""Points laid round a superellipse: on its equation, evenly along it, from the centre front."""

from __future__ import annotations

import numpy as np
import pytest

from panelshift.body import Measures, Ring, SectionModel
from panelshift.body.section import normal_at_fraction, section_points
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
