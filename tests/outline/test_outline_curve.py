from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, strategies as st

from panelshift.errors import CurveError
from panelshift.outline import Curve
from panelshift.outline.measure import length
from tests.support.strategies import polycurves

SQUARE = Curve.polyline([(0, 0), (10, 0), (10, 10), (0, 10)], closed=True)


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda: Curve.cubics([[(0, 0), (1, 1), (2, 2), (np.nan, 3)]]), "not finite"),
        (lambda: Curve.polyline([(0, 0), (np.inf, 3)]), "not finite"),
        (lambda: Curve.polyline([(0, 0), (100_001, 0)]), "beyond 100 m"),
        (lambda: Curve.polyline([(0, 0)]), "shape"),
        (lambda: Curve.polyline([(0, 0, 0), (1, 1, 1)]), "shape"),
        (lambda: Curve(np.zeros((0, 4, 2)), np.zeros(0, dtype=int)), "without segments"),
        (lambda: Curve.chain([]), "a chain of no curves"),
        (lambda: SQUARE.transformed("x"), "a map of shape"),
        # As SVG writes a matrix: row by row it would be another map.
        (lambda: SQUARE.transformed([1, 0, 0, 1, 5, 7]), r"a map of shape \(6,\)"),
        (lambda: SQUARE.transformed([[1, 0, np.nan], [0, 1, 0]]), "not finite"),
        (lambda: Curve(np.zeros((2, 4, 2)), np.ones(3, dtype=int)), "shape"),
        (lambda: SQUARE.piece(1.0, 1.0).piece(2.0, 1.0), "empty"),
        (lambda: Curve([[(0, 0), (30, 10), (60, 10), (90, 0)]], [1]), "10.000 mm off it"),
        (lambda: Curve([[(0, 0), (-30, 0), (60, 0), (90, 0)]], [1]), "30.000 mm off it"),
        (lambda: Curve([[(5, 5), (5, 6), (5, 5), (5, 5)]], [1]), "segment 1 is given as a line"),
        (
            lambda: Curve([[(0, 0), (2, 2), (4, 2.27), (6, 0)]], [2]),
            "segment 1 is given as a quadratic, and lies 0.120 mm off the one that would be",
        ),
        (lambda: SQUARE.piece(0.0, 2.0).points([1.0, 2.1]), "positions from 1 to 2.1"),
        (lambda: SQUARE.piece(0.0, 2.0).derivatives(-0.5), "Give positions from 0 to 2"),
    ],
)
def test_senseless_curves_are_refused(make: object, words: str) -> None:
    with pytest.raises(CurveError, match=words):
        make()  # type: ignore[operator]


def test_a_curve_cannot_be_changed_in_place() -> None:
    with pytest.raises(ValueError, match="read-only"):
        SQUARE.control[0, 0, 0] = 1.0


def test_a_closing_segment_is_not_drawn_twice() -> None:
    assert len(Curve.polyline([(0, 0), (10, 0), (10, 10), (0, 0)], closed=True)) == 3
    assert len(SQUARE) == 4


def test_points_run_past_the_start_of_a_closed_curve() -> None:
    assert SQUARE.points([4.5]).tolist() == [[5.0, 0.0]]


def test_positions_go_on_round_a_closed_curve_and_end_with_an_open_one() -> None:
    round_it = SQUARE.points([-0.5, 8.5, 9.5])
    assert round_it == pytest.approx(np.array([[0.0, 5.0], [5.0, 0.0], [10.0, 5.0]]))
    assert SQUARE.piece(0.0, 2.0).points([-1e-9, 2 + 1e-9]).tolist() == [[0, 0], [10, 10]]


def test_a_piece_runs_through_the_start_point() -> None:
    piece = SQUARE.piece(3.5, 0.5)
    assert piece.start == pytest.approx([0.0, 5.0])
    assert piece.end == pytest.approx([5.0, 0.0])
    assert length(piece) == pytest.approx(10.0)


@given(polycurves(), st.floats(0.0, 1.0), st.floats(0.0, 1.0))
def test_a_piece_lies_on_its_curve(curve: Curve, a: float, b: float) -> None:
    s0, s1 = sorted((a * len(curve), b * len(curve)))
    if s1 - s0 < 1e-6:
        return
    piece = curve.piece(s0, s1)
    assert np.abs(piece.start - curve.points([s0])[0]).max() < 1e-9
    assert np.abs(piece.end - curve.points([s1])[0]).max() < 1e-9


@given(polycurves(), st.floats(0.05, 0.95))
def test_two_pieces_are_as_long_as_the_whole(curve: Curve, share: float) -> None:
    s = share * len(curve)
    parts = length(curve.piece(0.0, s)) + length(curve.piece(s, float(len(curve))))
    assert parts == pytest.approx(length(curve), abs=1e-4)


def test_chain_makes_joints_exact_and_keeps_lines_straight() -> None:
    one = Curve.polyline([(0, 0), (10, 0)])
    two = Curve.polyline([(10.001, 0), (10, 10)])
    joined = Curve.chain([one, two])
    assert joined.control[1, 0].tolist() == [10.0, 0.0]
    assert np.allclose(joined.control[1, 1], [10.0, 10 / 3])


def test_bounds_are_those_of_the_curve_not_of_its_handles() -> None:
    arch = Curve.cubics([[(0, 0), (0, 100), (100, 100), (100, 0)]])
    assert arch.bounds()[1, 1] == pytest.approx(75.0, abs=0.01)


@given(polycurves())
def test_transforming_and_back_is_the_identity(curve: Curve) -> None:
    c, s = np.cos(0.7), np.sin(0.7)
    there = np.array([[c, -s, 12.0], [s, c, -7.0]])
    back = np.column_stack([there[:, :2].T, -there[:, :2].T @ there[:, 2]])
    assert np.abs(curve.transformed(there).transformed(back).control - curve.control).max() < 1e-9


def test_a_handle_of_no_length_is_passed_over_for_the_tangent() -> None:
    # SVG 2, 9.5.4: the direction at such an end is that of the next control point.
    tangents = Curve.cubics([[(0, 0), (0, 0), (30, 40), (100, 0)]]).end_tangents()
    assert tangents[0, 0].tolist() == pytest.approx([0.6, 0.8])
