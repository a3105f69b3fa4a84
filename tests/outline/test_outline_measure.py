"""Area, centroid, points and directions along curves, against closed forms."""

from __future__ import annotations

import numpy as np
import pytest

from panelshift.outline import Curve
from panelshift.outline.measure import positions_at


def test_a_disc_has_its_area_centroid_and_points() -> None:
    # Four cubics of 0.5523 of the radius: within 0.03 % of the circle.
    k = 55.2284749831
    quarter = np.array([(100, 0), (100, k), (k, 100), (0, 100)], dtype=float)
    turn = np.array([[0.0, 1.0], [-1.0, 0.0]])
    parts = [quarter @ np.linalg.matrix_power(turn, n) + (300.0, -40.0) for n in range(4)]
    disc = Curve.cubics(np.array(parts), closed=True)
    assert disc.area == pytest.approx(np.pi * 1e4, rel=4e-4)
    assert disc.reversed().area == pytest.approx(disc.area, rel=1e-12)
    assert disc.centroid == pytest.approx([300.0, -40.0], abs=1e-9)
    along = np.linspace(0.0, disc.length, 33)
    assert disc.length == pytest.approx(200.0 * np.pi, rel=3e-4)
    turned = along / disc.length * 2.0 * np.pi
    circle = np.column_stack([np.cos(turned), np.sin(turned)])
    assert disc.points_along(along) == pytest.approx(100.0 * circle + (300.0, -40.0), abs=0.03)
    across = np.column_stack([-circle[:, 1], circle[:, 0]])
    assert disc.tangents_along(along[:-1]) == pytest.approx(across[:-1], abs=2e-3)
    # What is run to a point is its arc length, to the length's own tolerance.
    half = Curve.cubics(disc.control[:2])
    place = float(positions_at(half, [77.7])[0])
    assert half.piece(0.0, place).length == pytest.approx(77.7, abs=1e-6)


def test_a_curve_that_stands_still_has_no_direction_there() -> None:
    """Of a cubic whose first handle lies on its start the speed there is 0; of a dot everywhere."""
    slow = Curve.cubics([[(0, 0), (0, 0), (30, 0), (60, 0)]])
    assert slow.tangents_along([0.0, 30.0, 60.0]).tolist() == [[0.0, 0.0], [1.0, 0.0], [1.0, 0.0]]
    assert Curve.polyline([(5, 5), (5, 5)]).tangents_along([0.0, 9.0]).tolist() == [[0.0, 0.0]] * 2


def test_area_of_a_parabola_is_exact() -> None:
    # Archimedes: two thirds of the box; its centroid at two fifths of the height.
    arch = Curve(np.array([[(0, 0), (20, 40), (40, 40), (60, 0)]], dtype=float), np.array([3]))
    assert arch.area == pytest.approx(2 / 3 * 60 * 30, rel=1e-13)
    assert arch.centroid == pytest.approx([30.0, 12.0], rel=1e-13)
    line = Curve.polyline([(0, 0), (8, 2)])
    assert (line.area, line.centroid.tolist()) == (0.0, [4.0, 1.0])
    assert line.__geo_interface__["type"] == "LineString"
