from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, strategies as st

from panelshift.outline import Curve
from panelshift.outline.crossing import crossings, nearest_position
from tests.support.strategies import lengths, polycurves

SQUARE = Curve.polyline([(0, 0), (100, 0), (100, 100), (0, 100)], closed=True)


def across(y: float, left: float = -10.0, right: float = 110.0) -> Curve:
    return Curve.polyline([(left, y), (right, y)])


def test_a_line_across_crosses_twice_in_its_own_order() -> None:
    found = crossings(SQUARE, across(30.0))
    assert found.points == pytest.approx(np.array([[0.0, 30.0], [100.0, 30.0]]))
    assert found.along.tolist() == pytest.approx([10.0, 110.0])
    assert found.positions.tolist() == pytest.approx([3.7, 1.3])


def test_crossing_at_a_vertex_counts_once() -> None:
    diamond = Curve.polyline([(0, 0), (50, -50), (100, 0), (50, 50)], closed=True)
    assert len(crossings(diamond, across(0.0))) == 2


def test_a_line_that_stops_short_counts_within_its_reach() -> None:
    short = across(30.0, 1.5, 98.5)
    assert len(crossings(SQUARE, short)) == 0
    assert len(crossings(SQUARE, short, reach=1.0)) == 0
    found = crossings(SQUARE, short, reach=2.0)
    assert found.along.tolist() == pytest.approx([-1.5, 98.5])


def test_a_line_that_only_touches_the_hull_does_not_cross() -> None:
    arch = Curve.cubics([[(0, 0), (0, 100), (100, 100), (100, 0)]])
    assert len(crossings(arch, across(80.0))) == 0
    assert len(crossings(arch, across(70.0))) == 2


def test_a_cubic_can_be_crossed_three_times() -> None:
    ess = Curve.cubics([[(0, 0), (100, 90), (0, -90), (100, 0)]])
    found = crossings(ess, Curve.polyline([(-10, 1), (110, -1)]))
    assert len(found) == 3
    # The line and the S are both symmetric about (50, 0).
    assert found.points[1] == pytest.approx([50.0, 0.0], abs=1e-9)
    assert found.points[0] + found.points[2] == pytest.approx([100.0, 0.0], abs=1e-9)


def test_a_curved_line_is_followed() -> None:
    sagging = Curve.cubics([[(-10, 50), (30, 80), (70, 80), (110, 50)]])
    found = crossings(SQUARE, sagging)
    for point in found.points:
        assert nearest_position(sagging, point)[1] < 2e-3
    assert len(found) == 2


@given(polycurves(), lengths(-200, 200), st.floats(-np.pi, np.pi))
def test_crossings_lie_on_both(curve: Curve, height: float, angle: float) -> None:
    normal = np.array([-np.sin(angle), np.cos(angle)])
    along = np.array([np.cos(angle), np.sin(angle)])
    line = Curve.polyline([height * normal - 900 * along, height * normal + 900 * along])
    found = crossings(curve, line)
    assert np.abs(found.points @ normal - height).max(initial=0.0) < 1e-6
    assert np.allclose(curve.points(found.positions), found.points)


@given(polycurves(), lengths(-200, 200))
def test_every_change_of_side_is_found(curve: Curve, height: float) -> None:
    y = curve.points(np.linspace(0.0, len(curve), 200 * len(curve) + 1))[:, 1] - height
    clear = y[np.abs(y) > 1e-6]
    changes = int((np.diff(np.sign(clear)) != 0).sum())
    found = crossings(curve, across(height, -1000.0, 1000.0))
    # Crossings closer than 0.001 mm are one; dense sampling sees none of those here.
    assert len(found) >= min(changes, 1)
    if len(found) < changes:
        apart = np.hypot(*(found.points[:, None] - found.points[None]).transpose(2, 0, 1))
        assert changes - len(found) <= 2
        assert apart.size


@given(polycurves(), st.tuples(lengths(-400, 400), lengths(-400, 400)))
def test_nearest_position_beats_every_sample(curve: Curve, point: tuple[float, float]) -> None:
    at = np.array(point)
    position, distance = nearest_position(curve, at)
    samples = curve.points(np.linspace(0.0, len(curve), 32 * len(curve) + 1))
    assert distance <= np.hypot(*(samples - at).T).min() + 1e-9
    assert np.hypot(*(curve.points([position])[0] - at)) == pytest.approx(distance, abs=1e-9)


def test_nearest_position_looks_at_both_sides_of_a_joint() -> None:
    # 1.2 mm beyond a joint of segments 120 mm long, of which a sample stands every 3.75 mm.
    square = Curve.polyline([(0, 0), (120, 0), (240, 0), (240, 90), (0, 90)], closed=True)
    for at, wanted in (((121.2, -2.0), 1.01), ((118.8, -2.0), 0.99), ((-2.0, 1.0), 4.0 + 89 / 90)):
        position, distance = nearest_position(square, np.array(at, dtype=float))
        assert (position, distance) == (pytest.approx(wanted), pytest.approx(2.0))
