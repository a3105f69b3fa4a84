"""Corners of the curve code that no ordinary outline reaches."""

from __future__ import annotations

import time

import numpy as np
import pytest

from panelshift.body import ClassModel
from panelshift.body.turn import turn_of_cloth
from panelshift.construction.growth import Growth
from panelshift.outline import Curve
from panelshift.outline.bezier import QUADRATIC
from panelshift.outline.crossing import crossings
from panelshift.outline.measure import length
from panelshift.outline.pathtext import path_data
from panelshift.outline.planar import area, self_crossing
from panelshift.shift.lengthening import Lengthening
from tests.support.drafts import HOURGLASS, drawn
from tests.support.runs import on_grid, read_pattern

CUSP = Curve.cubics([[(0, 0), (100, 100), (0, 100), (100, 0)]])


def test_a_line_with_a_doubled_point_crosses_as_without_it() -> None:
    box = Curve.polyline([(0, 0), (10, 0), (10, 10), (0, 10)], closed=True)
    doubled = Curve.polyline([(-5, 4), (5, 4), (5, 4), (15, 4)])
    plain = Curve.polyline([(-5, 4), (15, 4)])
    assert crossings(box, doubled).along == pytest.approx(crossings(box, plain).along)


def test_a_tolerance_of_nothing_ends_and_stays_exact() -> None:
    begun = time.perf_counter()
    exact = length(CUSP, 1e-9)
    assert length(CUSP, 0.0) == pytest.approx(exact, abs=1e-9)
    bend = Curve.cubics([[(0, 0), (60, -12), (140, -20), (220, 5)]])
    assert length(bend, 0.0) == pytest.approx(222.404948567, abs=1e-8)  # kurbopy 0.13.1
    assert time.perf_counter() - begun < 5.0


def test_a_quadratic_is_written_as_one() -> None:
    control = [[(0, 0), (20 / 3, 40 / 3), (40 / 3, 40 / 3), (20, 0)]]
    curve = Curve(np.array(control), np.array([QUADRATIC]))
    assert path_data(curve) == "M0,0Q10,20 20,0"


def test_a_line_there_and_back_lies_on_itself() -> None:
    there = Curve.polyline([(3, 4), (9, 4)], closed=True)
    assert self_crossing(there) == pytest.approx([3, 4])
    assert area(there) == 0.0


def test_a_layer_that_lies_where_the_draft_does_moves_no_edge() -> None:
    pattern = read_pattern(drawn(HOURGLASS.panels()))
    count = len(pattern.panels)
    turn = turn_of_cloth(pattern, ClassModel(), ["side"] * count)
    distances = np.zeros((1, count))
    distances[0, -1] = 1.0
    moved = Lengthening.of(turn, Growth(distances, turn), np.full(count, 0.5))
    assert not on_grid(moved, 0, "front")[0].any()
    assert not on_grid(moved, 0, "back")[0].any()
    assert on_grid(moved, 0, "back")[-1].any()


def test_a_cusp_where_no_halving_falls_has_its_closed_form_length() -> None:
    # x = s^2/2, y = s^3/3 with s = t - 1/3: speed |s| sqrt(1 + s^2), a cusp at t = 1/3.
    s = np.polynomial.Polynomial([-1 / 3, 1.0])
    power = np.zeros((4, 2))
    for column, polynomial in enumerate((s**2 / 2, s**3 / 3)):
        power[: len(polynomial.coef), column] = polynomial.coef
    a, b, c, d = power
    curve = Curve.cubics([[a, a + b / 3, a + (2 * b + c) / 3, a + b + c + d]])
    exact = ((1 + 1 / 9) ** 1.5 + (1 + 4 / 9) ** 1.5 - 2.0) / 3.0
    assert length(curve, 0.0) == pytest.approx(exact, abs=1e-12)
    assert length(curve) == pytest.approx(exact, abs=1e-6)
