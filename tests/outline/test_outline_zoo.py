"""Degenerate curves that drawing programs leave behind: finite numbers always."""

from __future__ import annotations

import numpy as np
import pytest

from panelshift.outline import Curve
from panelshift.outline.bezier import bezier_derivatives, bezier_points
from panelshift.outline.crossing import crossings, nearest_position
from panelshift.outline.measure import arc_table, breaks, length, position_at_length, turning
from panelshift.outline.offset import offset_all
from panelshift.outline.planar import line, self_crossing
from panelshift.outline.refit import REFIT_TOLERANCE_MM, CurveMap, refit


def refit_one(curve: Curve, image: CurveMap, tolerance: float = REFIT_TOLERANCE_MM) -> Curve:
    return refit([curve], image, tolerance)[0]


ZOO = {
    "point": [[(5, 5), (5, 5), (5, 5), (5, 5)]],
    "no first handle": [[(0, 0), (0, 0), (50, 80), (100, 0)]],
    "no last handle": [[(0, 0), (50, 80), (100, 0), (100, 0)]],
    "no handles": [[(0, 0), (0, 0), (100, 0), (100, 0)]],
    "collinear": [[(0, 0), (30, 30), (60, 60), (90, 90)]],
    "collinear overshoot": [[(0, 0), (150, 0), (-50, 0), (100, 0)]],
    "there and back": [[(0, 0), (100, 0), (100, 0), (0, 0)]],
    "cusp": [[(0, 0), (100, 100), (0, 100), (100, 0)]],
    "loop": [[(0, 0), (200, 100), (-100, 100), (100, 0)]],
    "inflection": [[(0, 0), (80, 60), (140, -60), (220, 5)]],
    "duplicate point": [
        [(0, 0), (10, 20), (20, 40), (30, 60)],
        [(30, 60), (30, 60), (30, 60), (30, 60)],
        [(30, 60), (40, 80), (50, 80), (60, 80)],
    ],
    "hair": [[(0, 0), (1e-9, 1e-9), (2e-9, 0), (3e-9, 0)]],
    "reversed": [[(100, 0), (50, 80), (0, 0), (0, 0)]],
    "far away": [[(90_000, 0), (90_010, 20), (90_020, 20), (90_030, 0)]],
}
NEARLY_CLOSED = [
    [(0, 0), (50, 0), (100, 0), (100, 50)],
    [(100, 50), (100, 100), (50, 100), (0, 1e-7)],
]


@pytest.fixture(params=[*ZOO, "nearly closed"])
def beast(request: pytest.FixtureRequest) -> Curve:
    return Curve.cubics(ZOO.get(request.param, NEARLY_CLOSED))


def test_measures_are_finite(beast: Curve) -> None:
    polygon = np.hypot(*np.diff(beast.control, axis=1).reshape(-1, 2).T).sum()
    chord = np.hypot(*(beast.end - beast.start))
    # A Bezier curve is at least as long as its chord and at most as its control polygon.
    assert chord - 1e-9 <= length(beast) <= polygon + 1e-6
    assert np.isfinite(turning(beast))
    positions, table = arc_table(beast, 0.5)
    assert np.isfinite(positions).all()
    assert np.isfinite(table).all()


def test_length_is_the_same_backwards(beast: Curve) -> None:
    assert length(beast.reversed()) == pytest.approx(length(beast), abs=2e-6)


def test_tangents_are_unit_or_nothing(beast: Curve) -> None:
    sizes = np.hypot(*beast.end_tangents().reshape(-1, 2).T)
    assert (np.isclose(sizes, 1.0) | (sizes == 0.0)).all()


def test_places_on_it_are_finite(beast: Curve) -> None:
    middle = position_at_length(beast, [0.5 * length(beast)])
    assert np.isfinite(beast.points(middle)).all()
    position, distance = nearest_position(beast, np.array([7.0, -3.0]))
    assert 0.0 <= position <= len(beast)
    assert np.isfinite(distance)


def test_corners_are_finite(beast: Curve) -> None:
    assert np.isfinite(breaks(beast)).all()


@pytest.mark.parametrize("y", [0.0, 1e-9, 37.0])
def test_crossings_are_finite(beast: Curve, y: float) -> None:
    found = crossings(beast, Curve.polyline([(-200.0, y), (200.0, y)]), reach=1.0)
    assert np.isfinite(found.points).all()
    assert np.abs(found.points[:, 1] - y).max(initial=0.0) < 1e-6


@pytest.mark.parametrize("distance", [0.8, -0.8, 12.0])
def test_offsets_are_finite(beast: Curve, distance: float, request: pytest.FixtureRequest) -> None:
    assert np.isfinite(offset_all([beast], [distance])[0].control).all()


def test_refit_of_the_identity_stays_on_it(beast: Curve) -> None:
    def same(index: np.ndarray, t: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        control = beast.control[index]
        return bezier_points(control, t), bezier_derivatives(control, t)

    fitted = refit_one(beast, same)
    assert len(fitted) == len(beast)
    assert np.abs(fitted.control - beast.control).max() < 1e-6


def test_flattened_stays_within_its_tolerance(beast: Curve) -> None:
    import shapely

    drawn = line(beast, 0.01)
    if drawn.length == 0.0:
        # GEOS before 3.13 warns of the distance from a line that has no length.
        drawn = shapely.points(beast.start)
    dense = beast.points(np.linspace(0.0, len(beast), 301))
    assert shapely.distance(drawn, shapely.points(dense)).max() < 0.0101


@pytest.mark.parametrize("name", ["point", "hair"])
def test_a_closed_speck_is_no_crash(name: str) -> None:
    speck = Curve.cubics(ZOO[name])
    closed = Curve.chain([speck], closed=True)
    assert np.isfinite(turning(closed))
    assert np.isfinite(breaks(closed)).all()


def test_a_loop_crosses_itself_and_says_where() -> None:
    # By symmetry the loop crosses itself on x = 50.
    closed = Curve.chain(
        [Curve.cubics(ZOO["loop"]), Curve.polyline([(100, 0), (50, -50), (0, 0)])], closed=True
    )
    at = self_crossing(closed)
    assert at is not None
    assert at[0] == pytest.approx(50.0, abs=0.05)
