from __future__ import annotations

import numpy as np
import pytest

from panelshift.outline import Curve
from panelshift.outline.offset import outer_boundary
from panelshift.outline.planar import (
    Areas,
    area,
    boxes_touched,
    contains,
    distance,
    inner_pieces,
    outer_ring,
    polygon,
    self_crossing,
    self_crossings,
)

SQUARE = Curve.polyline([(0, 0), (100, 0), (100, 100), (0, 100)], closed=True)


def test_area_of_a_circle_of_cubics() -> None:
    k = 400 / 3 * (np.sqrt(2) - 1)
    quarter = np.array([(100, 0), (100, k), (k, 100), (0, 100)])
    turn = np.array([[0, 1], [-1, 0]])
    circle = [quarter @ np.linalg.matrix_power(turn, n) for n in range(4)]
    # The cubic circle's radius errs by up to 0.027 %, always outwards.
    assert area(Curve.cubics(circle, closed=True)) == pytest.approx(1e4 * np.pi, rel=4e-4)


def test_a_bow_tie_crosses_itself_in_its_middle() -> None:
    tie = Curve.polyline([(0, 0), (100, 100), (100, 0), (0, 100)], closed=True)
    assert self_crossing(tie) == pytest.approx([50.0, 50.0])
    assert self_crossing(SQUARE) is None


def test_rounding_at_a_joint_is_no_crossing() -> None:
    points = [(0, 0), (100, 0), (100 + 1e-9, 1e-9), (100, 0), (100, 100), (0, 100)]
    assert self_crossing(Curve.polyline(points, closed=True)) is None


@pytest.mark.parametrize(
    ("line", "inside"),
    [
        ([(10, 10), (90, 90)], True),
        ([(0, 50), (100, 50)], True),
        ([(0, 0), (100, 0)], True),
        ([(50, 50), (100.1, 50)], False),
    ],
)
def test_contains_allows_touching(line: list[tuple[float, float]], inside: bool) -> None:
    assert contains(SQUARE, Curve.polyline(line)) is inside


def test_a_mark_s_share_is_its_part_inside() -> None:
    areas = Areas([SQUARE, Curve.polyline([(200, 0), (300, 0), (250, 90)], closed=True)])
    marks = [
        [(50, 50), (150, 50)],
        [(10, 10), (90, 10)],
        [(10, 10), (90, 10)],
        [(150, 5), (250, 5)],
    ]
    shares = areas.shares([0, 0, 1, 1], [Curve.polyline(mark) for mark in marks])
    # The triangle's left side is at x = 200 + 5 * 50 / 90 at a height of 5.
    assert shares == pytest.approx([0.5, 1.0, 0.0, (50 - 250 / 90) / 100])
    assert areas.shares([], []) == []


@pytest.mark.parametrize(("at", "share"), [((50, 50), 1.0), ((150, 50), 0.0)])
def test_a_dot_s_share_is_all_or_nothing(at: tuple[float, float], share: float) -> None:
    assert Areas([SQUARE]).shares([0], [Curve.polyline([at, at])]) == [share]


def test_distances_of_many_points() -> None:
    gaps = Areas([SQUARE]).distances([0, 0, 0], [(50, 50), (103, 104), (-2, 7)])
    assert gaps == pytest.approx([0.0, 5.0, 2.0])


@pytest.mark.parametrize(("point", "apart"), [((50, 50), 0.0), ((103, 104), 5.0), ((0, 0), 0.0)])
def test_distance_is_nothing_inside(point: tuple[float, float], apart: float) -> None:
    assert distance(SQUARE, np.array(point)) == pytest.approx(apart)


def test_boxes_that_lines_enter_are_told_from_those_that_they_pass_by() -> None:
    lines = [np.array([(0.0, 0.0), (30.0, 0.0)]), np.array([(50.0, 50.0), (50.0, 90.0)])]
    boxes = [(25, -5, 40, 5), (31, -5, 40, 5), (40, 60, 60, 70), (30, 0, 35, 5), (-9, 1, 90, 49)]
    found = boxes_touched(lines, boxes)
    assert found.dtype == np.bool_
    assert found.tolist() == [True, False, True, True, False]
    assert boxes_touched([], boxes).tolist() == [False] * 5


def test_a_line_across_a_joined_outline_is_told_from_it() -> None:
    u = Curve.polyline([(0, 50), (0, 100), (100, 100), (100, 50)])
    n = Curve.polyline([(0, 50), (0, 0), (100, 0), (100, 50)])
    bar = Curve.polyline([(0, 50), (100, 50)])
    assert inner_pieces([u, bar, n]) == [False, True, False]


def test_a_line_there_and_back_is_a_polygon_without_area() -> None:
    there_and_back = Curve.polyline([(0, 0), (10, 0)], closed=True)
    assert polygon(there_and_back).area == 0.0


def test_a_curve_that_does_not_cross_itself_is_its_own_border() -> None:
    clockwise = SQUARE.reversed()
    assert outer_boundary(clockwise) is clockwise


def test_the_border_of_a_curve_with_a_loop_is_cut_off_where_it_crosses() -> None:
    path = Curve.polyline([(0, 0), (0, 100), (100, 100), (100, -10), (110, 0)], closed=True)
    assert area(outer_boundary(path)) == pytest.approx(area(SQUARE), abs=1e-6)


def test_a_spike_whose_sides_differ_by_rounding_is_no_part_of_a_ring() -> None:
    out = np.array(
        [(0, 0), (0, 50), (-30, 50 + 1e-8), (0, 50 + 1e-8), (0, 100), (100, 100), (100, 0)]
    )
    ring, chord = outer_ring(out)
    assert {tuple(corner) for corner in ring.round(6).tolist()} <= {
        (0.0, 0.0),
        (0.0, 50.0),
        (0.0, 100.0),
        (100.0, 100.0),
        (100.0, 0.0),
    }
    assert ring[:, 0].min() == pytest.approx(0.0, abs=1e-6)
    assert set(chord.tolist()) == {0, 3, 4, 5, 6}


def test_curves_that_cross_themselves_are_numbered_among_others() -> None:
    bow = Curve.polyline([(0, 0), (100, 100), (100, 0), (0, 100)], closed=True)
    flat = Curve.polyline([(0, 0), (10, 0)], closed=True)
    ((number, at),) = self_crossings([SQUARE, bow, SQUARE])
    assert (number, at.tolist()) == (1, [50.0, 50.0])
    assert [k for k, _ in self_crossings([flat, SQUARE, bow])] == [0, 2]
    assert self_crossings([]) == self_crossings([SQUARE]) == []


def test_of_several_outlines_that_is_touched_which_comes_nearest_to_any_of_the_points() -> None:
    areas = Areas([SQUARE, Curve.polyline([(200, 0), (300, 0), (250, 90)], closed=True)])
    points = np.array([(150.0, 50.0), (103.0, 50.0), (198.0, 0.0)])
    assert areas.touched([0, 1], points, 4.0) == 1
    assert areas.touched([0, 1], points[:2], 4.0) == 0
    assert areas.touched([0, 1], points[:1], 4.0) is None
    assert areas.touched([], points, 4.0) is None
