"""The cut line lies exactly the allowance outside the stitch line, and meets at its corners."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import shapely
from shapely.geometry import LineString, Point, Polygon

from panelshift.cutting.allowance import CutLine, cut_line
from panelshift.cutting.plan import Allowances
from panelshift.errors import StackError
from panelshift.job import cut, read_job, resolve
from panelshift.outline.measure import length
from panelshift.pattern.panel import EDGE_NAMES, EdgeName, Panel
from panelshift.pattern.pattern import Pattern
from tests.support.drawings import STACK, Draft, half, panels, path, pattern, write_job

EVEN: dict[EdgeName, float] = dict.fromkeys(EDGE_NAMES, 10.0)
MIXED: dict[EdgeName, float] = {"front": 15.0, "top": 6.0, "back": 12.5, "bottom": 0.0}
FOLD: dict[EdgeName, float] = {"front": 0.0, "top": 8.0, "back": 10.0, "bottom": 8.0}

WAIST = path("M0 200H200", "waist")
SHAPES: dict[str, str] = {
    "hourglass": Draft("a").data,
    "slanted top": "M34 90L96 70C93 160 90 160 90 200C90 240 99 270 99 300L31 310"
    "C31 270 40 240 40 200C40 160 37 160 34 90Z",
    "curved top": "M34 80C50 95 80 60 96 80C93 160 90 160 90 200C90 240 99 270 99 300"
    "Q65 315 31 300C31 270 40 240 40 200C40 160 37 160 34 80Z",
    "polygon": "M34 80H96L90 200L99 300H31L40 200Z",
    "drawn backwards": "M34 80C37 160 40 160 40 200C40 240 31 270 31 300H99C99 270 90 240 90 200"
    "C90 160 93 160 96 80Z",
}


def panel(data: str) -> Panel:
    return pattern(path(data, "a") + WAIST).panels[0]


def ring(line: CutLine) -> Polygon:
    return Polygon(line.curve.flatten(1e-4))


def net(own: Panel) -> Polygon:
    return Polygon(own.outline.flatten(1e-4))


def offsets_along(own: Panel, edge: EdgeName, allowance: float, margin: float) -> np.ndarray:
    """Points that far outside an edge along its true normals, `margin` mm from its ends."""
    curve = own.edge(edge)
    s = np.linspace(0.0, len(curve), 400)
    points, speed = curve.points(s), curve.derivatives(s)
    line = LineString(curve.flatten(1e-4))
    along = np.array([line.project(Point(p)) for p in points])
    keep = (along > margin) & (along < line.length - margin) & (np.hypot(*speed.T) > 1e-9)
    # Not at vertices inside the edge, where the normal jumps.
    keep &= np.abs(s - np.round(s)) > 0.05
    points, speed = points[keep], speed[keep]
    normal = np.column_stack([-speed[:, 1], speed[:, 0]]) / np.hypot(*speed.T)[:, None]
    inside = net(own)
    for sign in (1.0, -1.0):
        if not inside.contains(Point(points[0] + sign * 1e-3 * normal[0])):
            return points + sign * allowance * normal
    raise AssertionError("an edge without an outside")


@pytest.mark.parametrize("allowances", [EVEN, MIXED, FOLD], ids=["even", "mixed", "fold"])
@pytest.mark.parametrize("data", SHAPES.values(), ids=SHAPES)
def test_cut_line_lies_the_allowance_outside_every_edge(
    data: str, allowances: dict[EdgeName, float]
) -> None:
    own = panel(data)
    line = cut_line(own, allowances)
    assert not line.flattened
    assert line.curve.closed
    drawn = LineString(line.curve.flatten(1e-4))
    for edge, allowance in allowances.items():
        expected = offsets_along(own, edge, allowance, margin=1.0)
        assert len(expected) > 50
        away = shapely.distance(drawn, shapely.points(expected))
        assert away.max() < 0.02, edge


@pytest.mark.parametrize("allowances", [EVEN, MIXED, FOLD], ids=["even", "mixed", "fold"])
@pytest.mark.parametrize("data", SHAPES.values(), ids=SHAPES)
def test_cut_line_holds_the_stitch_line_and_does_not_cross_itself(
    data: str, allowances: dict[EdgeName, float]
) -> None:
    own = panel(data)
    outer = ring(cut_line(own, allowances))
    assert outer.is_valid
    assert outer.buffer(2e-3).contains(net(own))


@pytest.mark.parametrize("data", SHAPES.values(), ids=SHAPES)
def test_even_allowance_is_nowhere_less(data: str) -> None:
    own = panel(data)
    points = shapely.points(cut_line(own, EVEN).curve.flatten(1e-3))
    assert shapely.distance(net(own), points).min() > 10.0 - 0.02


@pytest.mark.parametrize("data", SHAPES.values(), ids=SHAPES)
def test_no_allowance_gives_the_stitch_line_back(data: str) -> None:
    own = panel(data)
    line = cut_line(own, dict.fromkeys(EDGE_NAMES, 0.0))
    assert length(line.curve) == pytest.approx(length(own.outline), abs=1e-6)
    assert ring(line).symmetric_difference(net(own)).area < 1e-3


def test_square_corners_are_mitred_exactly_with_different_allowances() -> None:
    own = panel("M40 80H90V300H40Z")
    corners = ring(cut_line(own, MIXED)).bounds
    # front 15 on the left, top 6, back 12.5 on the right, bottom 0.
    assert corners == pytest.approx((25.0, 74.0, 102.5, 300.0), abs=1e-9)
    assert ring(cut_line(own, MIXED)).area == pytest.approx(77.5 * 226.0, abs=1e-6)


def test_slanting_corner_is_mitred_along_the_true_tangents() -> None:
    # At 60 degrees a mitre of 10 mm reaches 10 / sin(30 degrees) = 20 mm from the corner.
    own = panel(f"M40 80H240L{240 - 220 / np.tan(np.radians(60))} 300H40Z")
    tip = max(cut_line(own, EVEN).curve.vertices, key=lambda point: point[0] - point[1])
    assert np.hypot(*(tip - [240.0, 80.0])) == pytest.approx(20.0, abs=1e-6)


@pytest.mark.parametrize("limit", [1.0, 1.5, 2.5, 4.0])
def test_mitre_never_reaches_beyond_its_limit(limit: float) -> None:
    # A corner of 30 degrees would be mitred to 10 / sin(15 degrees) = 38.6 mm.
    own = panel("M40 80H260L90 300H60Z")
    line = cut_line(own, EVEN, mitre_limit=limit)
    away = shapely.distance(net(own), shapely.points(line.curve.vertices))
    assert away.max() <= 10.0 * limit + 1e-6
    assert shapely.distance(net(own), shapely.points(line.curve.flatten(1e-3))).min() > 0.0


def test_mitre_that_is_too_long_is_cut_off_straight() -> None:
    own = panel("M40 80H260L90 300H60Z")
    long, short = (cut_line(own, EVEN, mitre_limit=m) for m in (6.0, 2.0))
    assert len(short.curve) < len(long.curve)
    assert ring(long).area > ring(short).area + 20.0
    assert ring(long).buffer(1e-6).contains(ring(short))


@pytest.mark.parametrize("depth", [3.0, 12.0, 25.0])
def test_hollow_corner_of_a_straight_edge_keeps_its_allowance(depth: float) -> None:
    # The top edge dips to a point in the middle.
    own = panel(f"M40 80L65 {80 + depth}L90 80V300H40Z")
    line = cut_line(own, EVEN)
    away = shapely.distance(net(own), shapely.points(line.curve.flatten(1e-3)))
    assert ring(line).is_valid
    assert away.min() > 10.0 - 1e-3
    # Along the bisector of the hollow the two offsets meet at a / cos(half the opening).
    half_angle = np.arctan2(depth, 25.0)
    below = LineString([(65.0, 0.0), (65.0, 80.0 + depth)]).intersection(ring(line).exterior)
    assert Point(65.0, 80.0 + depth).distance(below) == pytest.approx(
        10.0 / np.cos(half_angle), abs=1e-3
    )


@pytest.mark.parametrize(
    "top",
    ["C64 80 64 100 65 100C66 100 66 80 90 80", "H64V95A1 1 0 0 0 66 95V80H90", "H62V95H68V80H90"],
    ids=["cusp", "round slit", "square slit"],
)
def test_very_tight_hollow_is_bridged_with_no_less_than_its_allowance(top: str) -> None:
    own = panel(f"M40 80{top}V300H40Z")
    line = cut_line(own, EVEN)
    assert ring(line).is_valid
    assert ring(line).contains(net(own))
    away = shapely.distance(net(own), shapely.points(line.curve.flatten(1e-3)))
    assert away.min() > 10.0 - 0.02
    assert line.flattened


def test_flattened_cut_line_is_a_warning_that_names_layer_and_panel(tmp_path: Path) -> None:
    # Wide enough for the half of somebody: nothing else is to be told.
    body = path("M40 80H64V95A1 1 0 0 0 66 95V80H340V300H40Z", "a") + path("M0 200H400", "waist")
    result = cut(resolve(read_job(write_job(tmp_path, body, stack=STACK))))
    assert len(result.warnings) == 3
    assert result.warnings[0].startswith("lining, panel a: the outline bends more tightly")


def test_ordinary_panels_are_not_flattened(tmp_path: Path) -> None:
    assert not cut(resolve(read_job(write_job(tmp_path, panels(half(5)))))).warnings


def test_zero_allowance_on_one_neighbour_meets_the_other_squarely() -> None:
    own = panel("M40 80H90V300H40Z")
    line = cut_line(own, {"front": 0.0, "top": 10.0, "back": 10.0, "bottom": 10.0})
    assert ring(line).bounds == pytest.approx((40.0, 70.0, 100.0, 310.0))
    assert ring(line).area == pytest.approx(60.0 * 240.0)


@pytest.mark.parametrize("degrees", [30.0, 90.0, 200.0])
def test_cut_line_turns_with_the_sheet(degrees: float) -> None:
    data = SHAPES["curved top"]
    turned = f'<g transform="translate(250 150) rotate({degrees} 65 200)">{path(data, "a")}{WAIST}'
    turned += f"{path('M0 260H200', 'hip')}</g>"
    own = pattern(turned).panels[0]
    straight = panel(data)
    assert ring(cut_line(own, EVEN)).area == pytest.approx(
        ring(cut_line(straight, EVEN)).area, abs=0.05
    )


def test_mirrored_panel_has_the_mirrored_cut_line() -> None:
    a, b = Draft("a", x=100.0), Draft("b", x=200.0)
    both: Pattern = pattern(panels([a, b]))
    areas = [ring(cut_line(p, MIXED)).area for p in both.panels]
    assert areas[0] == pytest.approx(areas[1], abs=1e-6)


@pytest.mark.parametrize("value", [-0.1, 100.1, float("nan")])
def test_allowance_out_of_range_is_refused(value: float) -> None:
    with pytest.raises(StackError, match="allowance of"):
        Allowances(seam=value)
