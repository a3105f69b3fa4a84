"""Several curves in one pass give what each gives by itself."""

from __future__ import annotations

import numpy as np
import pytest

from panelshift.outline import Curve
from panelshift.outline.many import group_boxes, share_tangents, transformed
from panelshift.outline.planar import self_crossings

SQUARE = Curve.polyline([(0, 0), (40, 0), (40, 30), (0, 30)], closed=True)
TIE = Curve.polyline([(0, 0), (40, 30), (40, 0), (0, 30)], closed=True)
THERE_AND_BACK = Curve.polyline([(3, 4), (9, 4)], closed=True)
ARCH = Curve.cubics([[(0, 0), (0, 40), (60, 40), (60, 0)]])
CURVES = [SQUARE, ARCH, TIE]
TURN = [[0.0, -1.0, 5.0], [1.0, 0.0, -2.0]]
STRETCH = [[2.0, 0.0, 0.0], [0.0, 1.0, 0.0]]


def test_one_map_for_all_and_a_map_for_each() -> None:
    for together, alone in zip(transformed(CURVES, TURN), CURVES, strict=True):
        np.testing.assert_array_equal(together.control, alone.transformed(TURN).control)
        assert together.closed == alone.closed
    maps = np.array([TURN, STRETCH, TURN])
    for together, alone, matrix in zip(transformed(CURVES, maps), CURVES, maps, strict=True):
        np.testing.assert_array_equal(together.control, alone.transformed(matrix).control)
    assert transformed([], TURN) == []


def test_the_box_holds_all_of_them() -> None:
    # The arch's top is at 3/4 of its handles' height, by symmetry at t = 1/2.
    np.testing.assert_allclose(
        group_boxes([[ARCH, SQUARE]])[0], [[0.0, 0.0], [60.0, 30.0]], atol=0.01
    )
    np.testing.assert_allclose(group_boxes([[ARCH]])[0], [[0.0, 0.0], [60.0, 30.0]], atol=0.01)


def test_tangents_found_together_are_those_found_alone() -> None:
    known = [Curve(curve.control, curve.degree, curve.closed) for curve in CURVES]
    share_tangents(known)
    for together, alone in zip(known, CURVES, strict=True):
        np.testing.assert_array_equal(together.end_tangents(), alone.end_tangents())


def test_those_that_cross_themselves_are_named_by_number_and_place() -> None:
    assert self_crossings([]) == []
    assert self_crossings([SQUARE, SQUARE]) == []
    [(number, at)] = self_crossings([SQUARE, TIE, SQUARE])
    assert number == 1
    assert at == pytest.approx([20.0, 15.0])


def test_a_ring_of_too_few_corners_hides_no_other() -> None:
    found = self_crossings([SQUARE, THERE_AND_BACK, TIE])
    assert [number for number, _ in found] == [1, 2]


def test_the_box_of_each_group_holds_its_own_curves_alone() -> None:
    curves = [Curve.polyline([(k, -k), (k + 2.0, 3.0 * k)]) for k in range(5)]
    groups = [curves[:2], curves[2:3], curves[3:]]
    found = group_boxes(groups)
    for group, box in zip(groups, found, strict=True):
        bounds = np.array([curve.bounds() for curve in group])
        assert box.tolist() == [
            bounds[:, 0].min(axis=0).tolist(),
            bounds[:, 1].max(axis=0).tolist(),
        ]
    assert group_boxes([]).shape == (0, 2, 2)
