"""The cut line lies exactly the allowance outside the stitch line, and meets at its corners."""

from __future__ import annotations

from typing import get_args

import numpy as np
import pytest
import shapely
from shapely.geometry import LineString, Point, Polygon

from panelshift.cutting.allowance import CornerShape, _crossed, cut_line
from panelshift.cutting.plan import Allowances
from panelshift.errors import StackError
from panelshift.outline import Curve
from panelshift.outline.bezier import LINE
from panelshift.outline.measure import length
from panelshift.pattern.panel import EDGE_NAMES, EdgeName, Panel
from panelshift.pattern.pattern import Pattern
from tests.support.drawings import Draft, panels, path, pattern
from tests.support.examples import thinned

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


def ring(line: Curve) -> Polygon:
    return Polygon(line.flatten(1e-4))


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


@pytest.mark.parametrize(
    "allowances",
    thinned(
        [
            pytest.param(MIXED, id="mixed"),
            pytest.param(EVEN, id="even"),
            pytest.param(FOLD, id="fold"),
        ]
    ),
)
@pytest.mark.parametrize("data", SHAPES.values(), ids=SHAPES)
def test_cut_line_lies_the_allowance_outside_every_edge(
    data: str, allowances: dict[EdgeName, float]
) -> None:
    own = panel(data)
    line = cut_line(own, allowances)
    assert line.closed
    drawn = LineString(line.flatten(1e-4))
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


def test_an_edge_that_runs_straight_back_from_a_point_has_no_mitre_there() -> None:
    own = panel("M40 80H120C120 120 116 160 116 107C116 233 120 267 120 300H40Z")
    outer = ring(cut_line(own, EVEN))
    assert outer.is_valid
    assert outer.buffer(2e-3).contains(net(own))


@pytest.mark.parametrize("data", SHAPES.values(), ids=SHAPES)
def test_even_allowance_is_nowhere_less(data: str) -> None:
    own = panel(data)
    points = shapely.points(cut_line(own, EVEN).flatten(1e-3))
    assert shapely.distance(net(own), points).min() > 10.0 - 0.02


@pytest.mark.parametrize("data", SHAPES.values(), ids=SHAPES)
def test_no_allowance_gives_the_stitch_line_back(data: str) -> None:
    own = panel(data)
    line = cut_line(own, dict.fromkeys(EDGE_NAMES, 0.0))
    assert length(line) == pytest.approx(length(own.outline), abs=1e-6)
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
    tip = max(cut_line(own, EVEN).vertices, key=lambda point: point[0] - point[1])
    assert np.hypot(*(tip - [240.0, 80.0])) == pytest.approx(20.0, abs=1e-6)


@pytest.mark.parametrize("limit", [1.0, 1.3, 1.6, 1.9])
def test_mitre_that_reaches_too_far_is_cut_off_where_its_limit_is(limit: float) -> None:
    # A corner of 60 degrees would be mitred to 10 / sin(30 degrees) = 20 mm.
    own = panel(f"M40 80H240L{240 - 220 / np.tan(np.radians(60))} 300H40Z")
    line = cut_line(own, EVEN, mitre_limit=limit)
    away = np.hypot(*(line.vertices - np.array([240.0, 80.0])).T)
    assert np.count_nonzero(np.abs(away - 10.0 * limit) < 1e-6) == 2
    assert ring(cut_line(own, EVEN, mitre_limit=2.0)).buffer(1e-6).contains(ring(line))


@pytest.mark.parametrize("depth", [3.0, 12.0, 25.0])
def test_hollow_corner_of_a_straight_edge_keeps_its_allowance(depth: float) -> None:
    # The top edge dips to a point in the middle.
    own = panel(f"M40 80L65 {80 + depth}L90 80V300H40Z")
    line = cut_line(own, EVEN)
    away = shapely.distance(net(own), shapely.points(line.flatten(1e-3)))
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
    away = shapely.distance(net(own), shapely.points(line.flatten(1e-3)))
    assert away.min() > 10.0 - 0.02


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


TAIL = "C93 160 90 160 90 200C90 240 99 270 99 300L31 310C31 270 40 240 40 200C40 160 37 160 34 80Z"


def waves(size: float, count: int) -> str:
    """A top edge that goes up and down by a size in mm, from 40 to 90."""
    x = np.linspace(40.0, 90.0, 2 * count + 1)
    turns = [
        f"Q{0.5 * (x[k] + x[k + 1])} {80 + 2 * size * (-1) ** k} {x[k + 1]} 80"
        for k in range(2 * count)
    ]
    return f"M34 80H40{''.join(turns)}H96{TAIL}"


TIGHT = {
    "dip": f"M34 80C50 80 60 80 63 92C65 100 67 100 69 92C72 80 80 80 96 80{TAIL}",
    "wobbles of 1 mm": waves(1.0, 6),
    "wobbles of 3 mm": waves(3.0, 4),
    "small V": f"M34 80H60L62 83L64 80H96{TAIL}",
    "step": f"M34 80H60V88H96{TAIL}",
    "cusp": f"M34 80C64 80 64 100 65 100C66 100 66 80 96 80{TAIL}",
    "slit as wide as two allowances": f"M34 80H57V110H73V80H96{TAIL}",
    "slit": f"M34 80H64V160A1 1 0 0 0 66 160V80H96{TAIL}",
    "deep hollow": f"M34 80Q65 150 96 80{TAIL}",
    "wobble beside the seam": "M34 80H96C94 90 98 95 96 100C94 105 98 110 96 115C91 150 90 180 90 "
    "200C90 240 99 270 99 300L31 310C31 270 40 240 40 200C40 160 37 160 34 80Z",
}
UNEQUAL: list[dict[EdgeName, float]] = [
    {"front": 10.0, "back": 25.0, "top": 8.0, "bottom": 8.0},
    {"front": 0.0, "back": 25.0, "top": 8.0, "bottom": 15.0},
    {"front": 15.0, "back": 5.0, "top": 25.0, "bottom": 0.0},
]
EQUAL: list[dict[EdgeName, float]] = [dict.fromkeys(EDGE_NAMES, a) for a in (0, 5.0, 8.0, 15, 25)]


def named(allowances: dict[EdgeName, float]) -> str:
    return " ".join(f"{value:g}" for value in allowances.values())


@pytest.mark.parametrize("allowances", thinned(EQUAL), ids=named)
@pytest.mark.parametrize("name", thinned(name for name in TIGHT if "wobble" not in name))
def test_equal_allowances_are_what_shapely_buffers(
    name: str, allowances: dict[EdgeName, float]
) -> None:
    """With a limit that no corner reaches.

    Not wobbles: GEOS first smooths a line's hollows by a hundredth of the distance.
    """
    data = TIGHT[name]
    own = panel(data)
    found = ring(cut_line(own, allowances, mitre_limit=20.0))
    fine = Polygon(dense(own.outline, 400))
    buffered = fine.buffer(allowances["top"], join_style="mitre", mitre_limit=20.0)
    assert apart(found, Polygon(buffered.exterior)) < 0.02


@pytest.mark.parametrize("allowance", [8.0, 15.0])
def test_two_tight_hollows_of_one_smooth_edge_are_what_shapely_buffers(allowance: float) -> None:
    own = panel(
        "M34 80C44 80 44 110 50 110C56 110 58 80 65 80C72 80 72 115 80 115C86 115 86 80 96 80"
        + TAIL
    )
    found = ring(cut_line(own, dict.fromkeys(EDGE_NAMES, allowance), mitre_limit=20.0))
    fine = Polygon(dense(own.outline, 400))
    buffered = fine.buffer(allowance, join_style="mitre", mitre_limit=20.0)
    assert apart(found, Polygon(buffered.exterior)) < 0.02


@pytest.mark.slow
@pytest.mark.parametrize(
    ("name", "allowances"),
    [(name, own) for name in TIGHT for own in (*UNEQUAL, *(EQUAL[1:] if "wobble" in name else ()))],
    ids=lambda value: value if isinstance(value, str) else named(value),
)
def test_allowances_are_the_strips_swept_by_the_normals_of_each_edge(
    name: str, allowances: dict[EdgeName, float]
) -> None:
    own = panel(TIGHT[name])
    found = Polygon(own.frame.to_panel(cut_line(own, allowances).flatten(1e-3)))
    assert found.is_valid
    assert apart(found, swept(own, allowances)) < 0.02


def apart(one: Polygon, two: Polygon) -> float:
    """How far the corners of either ring lie from the other ring, at most, in mm."""
    pairs = ((one, two), (two, one))
    return max(
        float(shapely.distance(shapely.points(a.exterior.coords), b.exterior).max())
        for a, b in pairs
    )


def swept(own: Panel, allowances: dict[EdgeName, float]) -> Polygon:
    """The panel with the normals of its edges and the mitres of its corners, sampled densely."""
    shapes, ends, ring_points = [], [], []
    for name, run in own.runs():
        curve = run.transformed(own.frame.matrix)
        points = dense(curve, 600)
        points = points[np.concatenate([[True], np.hypot(*np.diff(points, axis=0).T) > 1e-7])]
        ring_points.append(points)
        along = np.diff(points, axis=0)
        along /= np.hypot(*along.T)[:, None]
        first, last = curve.end_tangents()[[0, -1], [0, 1]]
        a = allowances[name]
        if a > 0.0:
            out = left(along)
            inside = points[:-1] - 0.01 * out, points[1:] - 0.01 * out
            strips = np.stack([*inside, points[1:] + a * out, points[:-1] + a * out], axis=1)
            shapes += list(shapely.polygons(strips))
            steps = np.vstack([first, along, last])
            shapes += [
                mitre(points[min(k, len(points) - 1)], steps[k], steps[k + 1], a, a)
                for k in range(len(steps) - 1)
            ]
        ends.append((points, first, last, a))
    for k, (points, _, last, a) in enumerate(ends):
        _, first, _, b = ends[(k + 1) % 4]
        shapes.append(mitre(points[-1], last, first, a, b))
    shapes.append(Polygon(np.vstack(ring_points)))
    whole = shapely.unary_union([s.buffer(1e-4, join_style="mitre") for s in shapes if s.area > 0])
    largest = max(shapely.get_parts(whole), key=lambda part: float(part.area))
    return Polygon(largest.exterior)


def dense(curve: Curve, each: int) -> np.ndarray:
    """Points of a curve, so many on each bent segment and very near the ends of each.

    A chord there has the tangent's direction, which a mitre multiplies the error of.
    """
    bent = np.concatenate([[1e-5], np.arange(1, each) / each, [1.0 - 1e-5, 1.0]])
    parts = [np.ones(1) if degree == LINE else bent for degree in curve.degree]
    return curve.points(np.concatenate([[0.0], *(k + part for k, part in enumerate(parts))]))


def left(vectors: np.ndarray) -> np.ndarray:
    return np.stack([-vectors[..., 1], vectors[..., 0]], axis=-1)


def mitre(corner: np.ndarray, before: np.ndarray, after: np.ndarray, a: float, b: float) -> Polygon:
    """What an outer corner adds to two strips; nothing at a hollow one."""
    one, two = corner + a * left(before), corner + b * left(after)
    turn = before[0] * after[1] - before[1] * after[0]
    if turn > 0.0:
        return Polygon()
    tips = []
    if turn < -np.sin(np.radians(0.5)):
        s, r = np.linalg.solve(np.column_stack([before, after]), two - one)
        tip, limit = one + s * before, 2.5 * max(a, b)
        if min(s, r) >= 0.0 and np.hypot(*(tip - corner)) <= limit:
            tips = [tip]
        elif min(s, r) >= 0.0:
            tips = [one + np.sqrt(limit**2 - a**2) * before, two - np.sqrt(limit**2 - b**2) * after]
    return Polygon([corner, one, *tips, two])


@pytest.mark.parametrize("slant", [-20.0, 0.0, 20.0])
def test_allowance_mirrored_about_its_seam_lies_under_the_top_when_it_is_folded(
    slant: float,
) -> None:
    own = panel(f"M40 80L90 {80 + slant}V300H40Z")
    plain = Polygon([(40, 80), (90, 80 + slant), (90, 300), (40, 300)])
    found = ring(cut_line(own, MIXED, corners="mirrored"))
    flap = found.intersection(Polygon([(90, 40), (130, 40), (130, 250), (90, 250)]))
    folded = shapely.transform(flap, lambda points: points * [-1.0, 1.0] + [180.0, 0.0])
    assert folded.area > 12.5 * 120
    assert found.buffer(1e-6).contains(folded)
    # And nowhere else is it another one than the mitred line.
    rest = found.symmetric_difference(ring(cut_line(own, MIXED)))
    assert rest.difference(plain.buffer(40.0)).area == 0.0
    square = ring(cut_line(own, MIXED, corners="squared"))
    top = square.intersection(Polygon([(90, 40), (130, 40), (130, 250), (90, 250)])).bounds
    # Where the top's cut line, 6 mm above the slanting edge, meets the seam.
    assert top[1] == pytest.approx(80 + slant - 6.0 * np.hypot(50.0, slant) / 50.0, abs=1e-6)


def test_corner_shapes_agree_where_edges_meet_squarely() -> None:
    own = panel("M40 80H90V300H40Z")
    for shape in get_args(CornerShape):
        assert ring(cut_line(own, EVEN, corners=shape)).equals_exact(
            ring(cut_line(own, EVEN)), 1e-6, normalize=True
        ) or ring(cut_line(own, EVEN, corners=shape)).symmetric_difference(
            ring(cut_line(own, EVEN))
        ).area == pytest.approx(0.0, abs=1e-6)


@pytest.mark.parametrize("sense", [1.0, -1.0])
def test_breaks_too_small_to_see_get_no_mitre(sense: float) -> None:
    """A side of 20 chords of a wide circle, each 0.29 degrees off the next."""
    along = np.linspace(-0.05, 0.05, 21)
    side = [(100.0 + sense * 1e3 * (np.cos(v) - 1.0), 200.0 + 1e3 * np.sin(v)) for v in along]
    one = panel("M10 150" + "".join(f"L{x} {y}" for x, y in side) + "L10 250Z")
    cut = cut_line(one, EVEN)
    # Each of the four corners has a mitre of two sides.
    assert len(cut) == 20 + 3 + 4 * 2
    bulk = shapely.Polygon(one.outline.vertices).buffer(10.0, join_style="mitre")
    assert shapely.Polygon(cut.vertices).symmetric_difference(bulk).area < 0.1


@pytest.mark.parametrize(
    ("depth", "at"),
    [
        ((-0.3, -0.3 + 1 / 3, -0.3 + 2 / 3, 0.7), 0.3),  # t - 0.3
        ((-0.2, -0.2, -0.2, 0.8), 0.2 ** (1 / 3)),  # t^3 - 0.2
        ((-0.2, -0.2, -0.2 + 1 / 3, 0.8), 0.2**0.5),  # t^2 - 0.2
        ((0.0, -1.0, 1.0, 1.0), 0.0),
        ((0.5, 1.0, 1.0, 1.0), 0.0),
    ],
)
def test_where_a_cubic_rises_through_nothing_is_its_root(
    depth: tuple[float, ...], at: float
) -> None:
    assert _crossed(np.array(depth)) == pytest.approx(at, abs=1e-12)
