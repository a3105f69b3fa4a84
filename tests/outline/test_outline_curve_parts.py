"""Parts, joints and copies of curves at the ends of what is allowed."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import assume, given, strategies as st

from panelshift.errors import CurveError
from panelshift.outline import Curve
from panelshift.outline.measure import length
from panelshift.outline.offset import turning_back
from tests.support.strategies import gentle_cubics


def square() -> Curve:
    return Curve.polyline([(0, 0), (10, 0), (10, 10), (0, 10)], closed=True)


def test_a_part_of_a_closed_curve_from_a_place_to_itself_is_all_of_it() -> None:
    whole = square().piece(1.5, 1.5)
    assert length(whole) == pytest.approx(40.0)
    assert whole.start == pytest.approx([10.0, 5.0])
    assert whole.end == pytest.approx([10.0, 5.0])
    assert not whole.closed


@pytest.mark.parametrize(("s0", "s1"), [(1.0, 1.0), (1.2, 1.1), (0.7, 0.7), (2.0, 1.0), (1.9, 0.3)])
def test_an_open_curve_has_no_part_that_runs_backwards(s0: float, s1: float) -> None:
    with pytest.raises(CurveError, match="empty part"):
        Curve.polyline([(0, 0), (10, 0), (10, 10)]).piece(s0, s1)


def test_scaled_curves_are_larger_and_checked_anew() -> None:
    twice = square().scaled(2.0)
    assert twice.control == pytest.approx(2.0 * square().control)
    assert twice.closed
    with pytest.raises(CurveError, match="beyond 100 m"):
        square().scaled(10_001.0)


def test_a_closed_chain_ends_where_it_starts_to_the_last_bit() -> None:
    there = Curve.polyline([(0, 0), (10, 0)])
    back = Curve.cubics([[(10, 1e-4), (12, 5), (-2, 5), (1e-4, 1e-4)]])
    joined = Curve.chain([there, back], closed=True)
    assert joined.end.tolist() == joined.start.tolist() == [0.0, 0.0]
    assert joined.control[1, 0].tolist() == [10.0, 0.0]
    assert joined.control[1, 1:3].tolist() == back.control[0, 1:3].tolist()
    opened = Curve.chain([there, back])
    assert opened.end.tolist() == [1e-4, 1e-4]


def test_vertices_are_the_ends_of_the_segments_in_order() -> None:
    assert square().vertices.tolist() == [[0, 0], [10, 0], [10, 10], [0, 10], [0, 0]]
    curve = Curve.cubics([[(0, 0), (1, 9), (2, 9), (3, 0)], [(3, 0), (4, 9), (5, 9), (6, 1)]])
    assert curve.vertices.tolist() == [[0, 0], [3, 0], [6, 1]]


@pytest.mark.parametrize("attribute", ["control", "degree"])
def test_no_way_of_making_a_curve_lets_it_be_changed_in_place(attribute: str) -> None:
    cubic = Curve.cubics([[(0, 0), (1, 9), (2, 9), (3, 0)]])
    for curve in (square(), cubic, square().scaled(2.0), Curve.chain([cubic, cubic])):
        with pytest.raises(ValueError, match="read-only"):
            getattr(curve, attribute)[0] = 1


# -- offset -------------------------------------------------------------------------------


@given(gentle_cubics(), st.floats(-3.0, 3.0))
def test_a_parallel_curve_is_longer_by_its_turn(curve: Curve, distance: float) -> None:
    """L - d times the turn to the left: the closed form for parallel curves."""
    assume(not turning_back([curve], [distance])[0])
    start, end = curve.end_tangents()[0]
    turn = math.atan2(start[0] * end[1] - start[1] * end[0], float(start @ end))
    assume(abs(turn) < 3.0)
    moved = curve.offset(distance)
    assert moved.length == pytest.approx(curve.length - distance * turn, abs=0.02)
    left = np.array([-start[1], start[0]])
    assert moved.start == pytest.approx(curve.start + distance * left, abs=1e-6)


def test_parts_that_join_smoothly_are_offset_as_one() -> None:
    k = 0.5522847498
    quarters = [
        [(100, 0), (100, 100 * k), (100 * k, 100), (0, 100)],
        [(0, 100), (-100 * k, 100), (-100, 100 * k), (-100, 0)],
    ]
    half = Curve.chain([Curve.cubics([one]) for one in quarters])
    assert half.length - half.offset(10.0).length == pytest.approx(10.0 * math.pi, abs=0.02)


def test_what_has_no_parallel_curve_says_why() -> None:
    box = Curve.polyline([(0, 0), (60, 0), (60, 160)], closed=True)
    with pytest.raises(CurveError, match=r"broken at the corner at \(60\.0, 0\.0\) mm"):
        box.offset(5.0)
    line = box.piece(0.0, 1.0)
    assert line.offset(5.0).vertices.tolist() == [[0.0, 5.0], [60.0, 5.0]]
    there_and_back = Curve.polyline([(0, 0), (60, 0), (0, 0)])
    with pytest.raises(CurveError, match="corner"):
        there_and_back.offset(1.0)
    arc = Curve.cubics([[(10, 0), (10, 5.523), (5.523, 10), (0, 10)]])
    with pytest.raises(CurveError, match="bends more tightly than 20 mm"):
        arc.offset(20.0)
