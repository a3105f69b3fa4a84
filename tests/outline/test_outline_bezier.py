"""Bezier arithmetic against polynomials in the power basis and closed forms."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.polynomial import Polynomial

from panelshift.outline import Curve
from panelshift.outline.bezier import (
    CUBIC,
    LINE,
    QUADRATIC,
    bezier_derivatives,
    bezier_points,
    end_tangents,
    flat_points,
    flat_steps,
    line_control,
    of_degree,
    restricted,
    split,
    third_differences,
)
from panelshift.outline.many import group_boxes, share_tangents, transformed

CUBICS = np.random.default_rng(1).uniform(-100.0, 100.0, size=(5, 4, 2))
T = np.array([0.0, 0.125, 0.4, 0.9, 1.0])


def polynomial(points: np.ndarray) -> Polynomial:
    """One coordinate of a cubic as a polynomial in its parameter."""
    t, r = Polynomial([0.0, 1.0]), Polynomial([1.0, -1.0])
    a, b, c, d = points
    return a * r**3 + 3 * b * t * r**2 + 3 * c * t**2 * r + d * t**3


def test_points_and_derivatives_are_those_of_the_polynomial() -> None:
    for t in T:
        places = np.full(len(CUBICS), t)
        points, speeds = bezier_points(CUBICS, places), bezier_derivatives(CUBICS, places)
        for cubic, point, speed in zip(CUBICS, points, speeds, strict=True):
            each = [polynomial(cubic[:, axis]) for axis in (0, 1)]
            assert point == pytest.approx([p(t) for p in each])
            assert speed == pytest.approx([p.deriv()(t) for p in each])


def test_the_halves_of_a_split_run_on_the_whole() -> None:
    left, right = split(CUBICS[0], 0.3)
    whole = np.repeat(CUBICS[:1], len(T), axis=0)
    assert bezier_points(np.repeat(left[None], len(T), axis=0), T) == pytest.approx(
        bezier_points(whole, 0.3 * T)
    )
    assert bezier_points(np.repeat(right[None], len(T), axis=0), T) == pytest.approx(
        bezier_points(whole, 0.3 + 0.7 * T)
    )


def test_a_line_runs_at_one_speed_and_keeps_its_ends_to_the_last_bit() -> None:
    starts, ends = CUBICS[:, 0], CUBICS[:, 3]
    lines = line_control(starts, ends)
    assert np.array_equal(lines[:, 0], starts)
    assert np.array_equal(lines[:, 3], ends)
    assert np.diff(lines, axis=1) == pytest.approx(np.repeat((ends - starts)[:, None] / 3, 3, 1))


def test_only_lines_are_straightened() -> None:
    degree = np.array([CUBIC, LINE, CUBIC, LINE, CUBIC])
    found = of_degree(CUBICS, degree)
    bent, lines = degree == CUBIC, degree == LINE
    assert np.array_equal(found[bent], CUBICS[bent])
    assert found[lines] == pytest.approx(line_control(CUBICS[lines, 0], CUBICS[lines, 3]))


def test_a_quadratic_whose_end_is_moved_stays_one() -> None:
    """Its control point goes with half of the half by which its start went: the mean of two."""
    start, own, end, moved = (
        np.array(p) for p in ((0.0, 0.0), (6.0, 9.0), (12.0, 0.0), (0.4, 0.0))
    )

    def raised(start: np.ndarray, own: np.ndarray) -> np.ndarray:
        return np.array([[start, (start + 2.0 * own) / 3.0, (end + 2.0 * own) / 3.0, end]])

    control = raised(start, own)
    assert np.array_equal(of_degree(control, np.array([QUADRATIC])), control)
    control[:, 0] = moved
    found = of_degree(control, np.array([QUADRATIC]))
    assert found == pytest.approx(raised(moved, own - 0.25 * moved))
    assert third_differences(found) == pytest.approx(0.0, abs=1e-12)
    assert third_differences(control) == pytest.approx(0.4)


def parabola(bend: float) -> np.ndarray:
    """An arc with second derivative `bend` all along: chords of 1/n are bend / 8 n^2 away."""
    return np.array([[(0.0, 0.0), (1 / 3, 0.0), (2 / 3, bend / 6), (1.0, bend / 2)]])


@pytest.mark.parametrize("steps", [1, 2, 3, 10, 50])
@pytest.mark.parametrize("tolerance", [0.01, 0.3])
def test_a_parabola_takes_as_many_chords_as_its_bend_asks_for(steps: int, tolerance: float) -> None:
    bend = 8.0 * tolerance * steps**2
    assert flat_steps(parabola(0.999 * bend), tolerance).tolist() == [steps]
    assert flat_steps(parabola(1.001 * bend), tolerance).tolist() == [steps + 1]


def test_a_straight_segment_takes_one_chord_and_none_takes_more_than_4096() -> None:
    assert flat_steps(line_control(np.zeros((1, 2)), np.ones((1, 2))), 1e-9).tolist() == [1]
    assert flat_steps(parabola(1e9), 0.01).tolist() == [4096]


def test_chords_start_evenly_along_each_segment() -> None:
    steps = np.array([1, 3, 1, 2, 4])
    expected = [
        bezier_points(CUBICS[k : k + 1], np.array([j / n]))[0]
        for k, n in enumerate(steps)
        for j in range(n)
    ]
    assert flat_points(CUBICS, steps) == pytest.approx(np.array(expected))


HANDLES = [
    ([(0, 0), (3, 4), (90, 10), (90, 30)], (0.6, 0.8), (0.0, 1.0)),
    ([(0, 0), (0, 0), (3, 4), (3, 9)], (0.6, 0.8), (0.0, 1.0)),
    ([(0, 0), (0, 0), (30, 40), (30, 40)], (0.6, 0.8), (0.6, 0.8)),
    ([(0, 0), (0, 0), (0, 0), (30, 40)], (0.6, 0.8), (0.6, 0.8)),
    ([(0, 0), (30, 40), (30, 40), (30, 40)], (0.6, 0.8), (0.6, 0.8)),
    ([(0, 0), (30, 0), (33, 4), (33, 4)], (1.0, 0.0), (0.6, 0.8)),
    ([(0, 0), (1e-9, 0), (6, 8), (0, 10)], (0.6, 0.8), (-6 / 40**0.5, 2 / 40**0.5)),
    ([(5, 5), (5, 5), (5, 5), (5, 5)], (0.0, 0.0), (0.0, 0.0)),
]
"""Control points with the tangents at both ends: handles of no length are passed over."""


@pytest.mark.parametrize(("points", "first", "last"), HANDLES)
def test_end_tangents_point_along_the_first_handle_that_has_a_length(
    points: list, first: tuple[float, float], last: tuple[float, float]
) -> None:
    # Beside another segment, so that each keeps to itself.
    found = end_tangents(np.array([CUBICS[0], points], dtype=float))
    assert found[1] == pytest.approx(np.array([first, last]))
    along = CUBICS[0, 1] - CUBICS[0, 0]
    assert found[0, 0] == pytest.approx(along / np.hypot(*along))


def test_curves_are_transformed_each_by_its_own_map() -> None:
    curves = [Curve.cubics(CUBICS[:1]), Curve.polyline([(0, 0), (3, 1), (2, 5)], closed=True)]
    maps = np.array([[[0.0, -2.0, 5.0], [1.0, 0.5, -7.0]], [[1.0, 0.0, 1.0], [0.0, 3.0, 2.0]]])
    for both in (maps, maps[1]):
        for one, found, own in zip(
            curves, transformed(curves, both), np.broadcast_to(both, (2, 2, 3)), strict=True
        ):
            assert found.control == pytest.approx(one.control @ own[:, :2].T + own[:, 2])
            assert found.degree.tolist() == one.degree.tolist()
            assert found.closed == one.closed
            assert not found.control.flags.writeable
    assert transformed([], maps) == []


def test_a_box_holds_all_curves_together() -> None:
    # A parabola's top, y = 75, lies on no control point; the line's end is its far corner.
    arch = Curve.cubics([[(0, 0), (0, 100), (100, 100), (100, 0)]])
    line = Curve.polyline([(50, -3), (80, 1), (120, 8)])
    assert group_boxes([[arch, line]])[0] == pytest.approx(np.array([[0, -3], [120, 75]]), abs=0.01)


def test_tangents_worked_out_together_are_each_curves_own() -> None:
    def curves() -> list[Curve]:
        return [
            Curve.cubics(CUBICS[:1]),
            Curve.cubics(CUBICS[1:2]),
            Curve.polyline([(0, 0), (3, 1)]),
        ]

    together = curves()
    share_tangents(together)
    for one, alone in zip(together, curves(), strict=True):
        assert np.array_equal(one.end_tangents(), alone.end_tangents())


def test_parts_of_cubics_are_the_cubics_there() -> None:
    control = np.random.default_rng(2).normal(scale=30.0, size=(5, 4, 2))
    t0, t1 = np.array([0.0, 0.1, 0.5, 0.0, 0.9]), np.array([1.0, 0.4, 1.0, 0.3, 0.95])
    parts = restricted(control, t0, t1)
    for t in np.linspace(0.0, 1.0, 7):
        expected = bezier_points(control, t0 + t * (t1 - t0))
        assert bezier_points(parts, np.full(5, t)) == pytest.approx(expected, abs=1e-12)
