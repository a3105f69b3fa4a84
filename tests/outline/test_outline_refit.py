from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
import shapely
from hypothesis import given, strategies as st

from panelshift.outline import Curve, FloatArray
from panelshift.outline.bezier import CUBIC, LINE, bezier_derivatives, bezier_points
from panelshift.outline.measure import length, turning
from panelshift.outline.offset import offset_all
from panelshift.outline.refit import REFIT_TOLERANCE_MM, CurveMap, refit
from tests.support.strategies import gentle_cubics, lengths


def refit_one(curve: Curve, image: CurveMap, tolerance: float = REFIT_TOLERANCE_MM) -> Curve:
    return refit([curve], image, tolerance)[0]


Map = Callable[[FloatArray], FloatArray]


def swell(points: FloatArray) -> FloatArray:
    """A smooth map such as a thick layer's, and stronger."""
    u, v = points.T
    return np.column_stack([u * (1.0 + 0.05 * np.sin(v / 40.0)), v + 3.0 * np.cos(v / 60.0)])


def shear(points: FloatArray) -> FloatArray:
    """Carries lines to lines."""
    return np.column_stack([points[:, 0] + 0.02 * points[:, 1], 1.01 * points[:, 1]])


def along(curve: Curve, carry: Map) -> CurveMap:
    """The map along a curve; derivatives by central differences of the map."""

    def image(index: np.ndarray, t: FloatArray) -> tuple[FloatArray, FloatArray]:
        control = curve.control[index]
        at, speed = bezier_points(control, t), bezier_derivatives(control, t)
        h = 1e-6
        return carry(at), (carry(at + h * speed) - carry(at - h * speed)) / (2.0 * h)

    return image


EDGE = Curve.cubics(
    [[(30, -150), (60, -90), (20, -50), (22, 0)], [(22, 0), (24, 60), (50, 90), (40, 160)]]
)


def test_fit_is_within_its_tolerance_of_the_true_image() -> None:
    fitted = refit_one(EDGE, along(EDGE, swell))
    true = swell(EDGE.points(np.linspace(0.0, len(EDGE), 4001)))
    drawn = shapely.LineString(fitted.flatten(1e-4))
    assert shapely.distance(drawn, shapely.points(true)).max() <= REFIT_TOLERANCE_MM + 1e-4


@pytest.mark.slow
def test_a_finer_tolerance_is_kept_too() -> None:
    fitted = refit_one(EDGE, along(EDGE, swell), 1e-4)
    true = swell(EDGE.points(np.linspace(0.0, len(EDGE), 4001)))
    drawn = shapely.LineString(fitted.flatten(1e-6))
    assert shapely.distance(drawn, shapely.points(true)).max() <= 1.1e-4
    assert len(fitted) > len(refit_one(EDGE, along(EDGE, swell)))


def test_a_gentle_map_needs_no_more_segments() -> None:
    assert len(refit_one(EDGE, along(EDGE, shear))) == len(EDGE)


def test_ends_and_joints_are_carried_exactly() -> None:
    fitted = refit_one(EDGE, along(EDGE, swell))
    for vertex in swell(EDGE.vertices):
        assert np.abs(fitted.vertices - vertex).max(axis=1).min() < 1e-12


def test_tangents_at_the_ends_are_those_of_the_image() -> None:
    fitted = refit_one(EDGE, along(EDGE, swell))
    ends = swell(EDGE.points([0.0, 1e-6, len(EDGE) - 1e-6, float(len(EDGE))]))
    steps = np.array([ends[1] - ends[0], ends[3] - ends[2]])
    steps /= np.hypot(*steps.T)[:, None]
    tangents = fitted.end_tangents()
    assert np.abs(np.array([tangents[0, 0], tangents[-1, 1]]) - steps).max() < 1e-5


def test_a_line_whose_image_is_straight_stays_one_line() -> None:
    line = Curve.polyline([(0, -100), (20, 0), (20, 120)])
    assert refit_one(line, along(line, shear)).degree.tolist() == [LINE, LINE]


def test_a_line_that_is_bent_becomes_cubics() -> None:
    line = Curve.polyline([(40, -150), (40, 150)])
    assert set(refit_one(line, along(line, swell)).degree.tolist()) == {CUBIC}


def test_a_closed_curve_stays_closed() -> None:
    ring = Curve.polyline([(0, 0), (80, 0), (80, 200), (0, 200)], closed=True)
    fitted = refit_one(ring, along(ring, swell))
    assert fitted.closed
    assert fitted.start.tolist() == fitted.end.tolist()


def test_a_map_that_tears_ends_in_finite_time() -> None:
    # A jump cannot be fitted: halving stops, and the numbers stay finite.
    def tear(points: FloatArray) -> FloatArray:
        return points + np.where(points[:, 1:] > 17.0, 5.0, 0.0)

    fitted = refit_one(EDGE, along(EDGE, tear))
    assert len(fitted) < 100
    assert np.isfinite(length(fitted))


@given(gentle_cubics(), st.one_of(lengths(-8, -0.1), lengths(0.1, 8)))
def test_offset_is_longer_by_distance_times_turning(edge: Curve, distance: float) -> None:
    # Classical: dL = d * turning as long as no centre of curvature is reached. Offset to
    # the left of a curve that turns left is shorter.
    expected = length(edge) - distance * turning(edge)
    assert length(offset_all([edge], [distance])[0]) == pytest.approx(expected, abs=1e-3)


@given(gentle_cubics(), lengths(0.1, 8))
def test_offset_there_and_back_is_the_identity(edge: Curve, distance: float) -> None:
    back = offset_all([offset_all([edge], [distance])[0]], [-distance])[0]
    drawn = shapely.LineString(back.flatten(1e-3))
    samples = edge.points(np.linspace(0.0, len(edge), 200))
    assert shapely.distance(drawn, shapely.points(samples)).max() < 2.5 * REFIT_TOLERANCE_MM


@given(gentle_cubics(), lengths(0.1, 8))
def test_offset_keeps_its_distance(edge: Curve, distance: float) -> None:
    drawn = shapely.LineString(edge.flatten(1e-3))
    inner = offset_all([edge], [distance])[0]
    samples = shapely.points(inner.points(np.linspace(0.2, 0.8, 50) * len(inner)))
    apart = shapely.distance(drawn, samples)
    assert np.abs(apart - distance).max() < REFIT_TOLERANCE_MM + 2e-3


def test_lines_joined_at_a_corner_stay_straight() -> None:
    """Offsets of a bent line lie apart at its corner: the second begins where the first ends."""
    angles = np.linspace(0.0, 0.5 * np.pi, 10)
    arc = Curve.polyline(8.0 * np.column_stack([np.cos(angles), np.sin(angles)]))
    (moved,) = offset_all([arc], [-7.9])
    assert (moved.degree == LINE).all()
    assert Curve(moved.control, moved.degree) == moved
    thirds = moved.control[:, 0] + (moved.control[:, 3] - moved.control[:, 0]) / 3.0
    assert np.abs(moved.control[:, 1] - thirds).max() < 1e-12
