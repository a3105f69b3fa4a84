from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, strategies as st

from panelshift.outline import Curve
from panelshift.outline.many import boxes, share_polylines
from panelshift.outline.nearness import Boxes, is_copy
from tests.support.strategies import polycurves


@given(st.lists(polycurves(), max_size=4), st.lists(polycurves(), max_size=4), st.floats(0, 90))
def test_all_boxes_at_once_are_what_each_is_by_itself(
    curves: list[Curve], asked: list[Curve], room: float
) -> None:
    here = Boxes(curves)
    hulls = np.array([curve.hull_box for curve in asked])
    found = here.all_near(hulls, room)
    assert found == [here.near(curve.hull_box, room) for curve in asked]
    for near, curve in zip(found, asked, strict=True):
        low, high = curve.hull_box
        for k, other in enumerate(curves):
            (left, top), (right, bottom) = other.hull_box
            meets = left <= high[0] + room and right >= low[0] - room
            meets = meets and top <= high[1] + room and bottom >= low[1] - room
            assert (k in near) == meets


@given(st.lists(polycurves(), max_size=4))
def test_polylines_shared_are_each_curve_s_own(curves: list[Curve]) -> None:
    fresh = [Curve(curve.control, curve.degree, curve.closed) for curve in curves]
    share_polylines(fresh)
    for one, two in zip(fresh, curves, strict=True):
        assert one.flatten().tolist() == two.flatten().tolist()
        assert not one.flatten().flags.writeable
    found = boxes(curves)
    assert found.shape == (len(curves), 2, 2)
    for box, curve in zip(found, curves, strict=True):
        assert box.tolist() == curve.bounds().tolist()


def test_a_curve_too_long_to_flatten_is_left_to_say_so(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("panelshift.outline.many.MOST_FLAT_POINTS", 3)
    bent = Curve.cubics([[(0, 0), (0, 90), (90, 90), (90, 0)]])
    share_polylines([bent])
    assert "_polylines" not in vars(bent)


def test_a_copy_may_begin_elsewhere_and_run_backwards() -> None:
    square = Curve.polyline([(0, 0), (90, 0), (90, 90), (0, 90)], closed=True)
    turned = Curve.polyline([(90, 40), (90, 0), (0, 0), (0, 90), (90, 90)], closed=True)
    assert is_copy(square, turned)
    assert is_copy(turned, square)
    assert not is_copy(square, square.transformed([[1, 0, 0.3], [0, 1, 0]]))
    assert not is_copy(square, Curve.polyline([(0, 0), (90, 0)]))
    assert is_copy(Curve.polyline([(0, 0), (90, 0)]), Curve.polyline([(90, 0.05), (0, 0)]))
