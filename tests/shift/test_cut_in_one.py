"""Panels of a layer in one piece: strips and cones exactly, balls with the angle they must have."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, strategies as st

from panelshift.body import ClassModel
from panelshift.body.turn import turn_of_cloth
from panelshift.errors import ShiftError, StackError
from panelshift.outline import Curve, FloatArray
from panelshift.outline.measure import length
from panelshift.outline.planar import area
from panelshift.pattern.panel import Corners, Mark
from panelshift.pattern.pattern import Pattern
from panelshift.shift import LayerPattern, flattened, shift
from panelshift.shift.cut_in_one import pieces_of, refuse_unjoinable
from panelshift.shift.flattened import lay_flat
from panelshift.shift.joined_piece import JoinedPiece
from panelshift.shift.seam_darts import side_by_side
from panelshift.stack import Fabric, Stack
from tests.support.drafts import (
    HOURGLASS,
    PanelDraft,
    both_halves,
    cone_gores,
    drawn,
    hermite,
    sphere_gores,
    walls,
)
from tests.support.examples import examples
from tests.support.runs import read_pattern


def _turn(one: FloatArray, two: FloatArray) -> float:
    return math.atan2(one[0] * two[1] - one[1] * two[0], one @ two)


def in_one(pattern: Pattern, *groups: tuple[int, ...], darts_from: float = 3.0) -> Fabric:
    names = [panel.name for panel in pattern]
    cut = tuple(tuple(names[k] for k in group) for group in groups)
    return Fabric("lining", 0.2, cut_in_one=cut, darts_from=darts_from)


def joined(
    drafts: list[PanelDraft], *groups: tuple[int, ...], darts_from: float = 3.0
) -> tuple[Pattern, tuple[JoinedPiece, ...]]:
    pattern = read_pattern(drawn(drafts))
    return pieces_of(pattern, in_one(pattern, *groups, darts_from=darts_from))


def wavy(middle: float, high: float, lean: float) -> Curve:
    """A cut through a strip: neither straight nor upright."""

    def u(v: FloatArray) -> FloatArray:
        return middle + high * np.sin(v / 50.0) + lean * v

    return hermite(u, np.linspace(-100.0, 100.0, 9).tolist())


def strip(cuts: list[Curve]) -> list[PanelDraft]:
    """A straight strip of cloth cut into panels along lines."""
    levels = {"bust": 70.0, "hip": -70.0}
    moved = [np.array([[1.0, 0.0, -0.5 * (one.points(4)[0, 0] + two.points(4)[0, 0])], [0, 1, 0]])
             for one, two in pairwise(cuts)]  # fmt: skip
    return [
        PanelDraft(f"part {k}", one.transformed(by), two.transformed(by), levels)
        for k, ((one, two), by) in enumerate(zip(pairwise(cuts), moved, strict=True), start=1)
    ]


@examples(12)
@given(
    st.tuples(*[st.floats(-9.0, 9.0)] * 2),
    st.tuples(*[st.floats(-0.2, 0.2)] * 2),
    st.sampled_from([0.0, 3.0]),
)
def test_panels_cut_from_a_strip_join_to_that_strip(
    high: tuple[float, float], lean: tuple[float, float], darts_from: float
) -> None:
    ends = wavy(0.0, 0.0, 0.0), wavy(210.0, 0.0, 0.0)
    cuts = [ends[0], *map(wavy, (70.0, 140.0), high, lean), ends[1]]
    _, (piece,) = joined(strip(cuts), (0, 1, 2), darts_from=darts_from)
    assert not piece.darts
    assert not piece.sewn
    box = piece.panel.frame.to_panel(piece.panel.outline.flatten())
    assert np.ptp(box, axis=0) == pytest.approx([210.0, 200.0], abs=0.02)
    assert area(piece.panel.outline) == pytest.approx(210.0 * 200.0, abs=2.0)
    for one in (*piece.levels, *piece.seams, *piece.edges):
        assert one.after == pytest.approx(one.before, abs=0.005), one.name
    assert piece.smoothed < 0.005
    assert "nothing is changed" in piece.words()


def test_gores_of_a_cone_join_without_a_dart() -> None:
    _, (piece,) = joined(cone_gores(105.0, 0.3, 6, (-100.0, 100.0)), (0, 1, 2, 3))
    assert not piece.darts
    assert max(map(abs, piece.stretch)) < 1e-6
    for one in (*piece.levels, *piece.seams, *piece.edges):
        assert one.after == pytest.approx(one.before, abs=1e-3), one.name
    # The outer edges have turned against each other by the angle of all gores together.
    front, back = (piece.panel.edge(edge) for edge in ("front", "back"))
    ways = [(edge.end - edge.start) / math.dist(edge.end, edge.start) for edge in (front, back)]
    (gored, *_) = read_pattern(drawn(cone_gores(105.0, 0.3, 6, (-100.0, 100.0))))
    own = [gored.edge(edge).end - gored.edge(edge).start for edge in ("front", "back")]
    gore = abs(_turn(*own))
    assert abs(_turn(*ways)) == pytest.approx(4 * gore, abs=1e-4)
    # Top and bottom are chords of each gore: they are made one smooth curve.
    assert 0.0 < piece.smoothed < 3.0


@pytest.mark.parametrize("reach", [50.0, 80.0, 110.0])
def test_gores_of_a_ball_leave_the_angle_of_gauss_and_bonnet(reach: float) -> None:
    radius, count = 120.0, 6
    drafts = sphere_gores(radius, count, (-reach, reach))
    _, (piece,) = joined(drafts, (0, 1))
    low, high = (dart for _, dart in piece.darts)
    assert (low.bottom, low.top, high.bottom, high.top) == (True, False, False, True)
    for dart in (low, high):
        # The curvature of the lune between the equator and a parallel, 1 / R^2 times its area. A
        # flat gore's edge has the slope tan = a sin, where the ball's own gore turns by a sin.
        lune = math.pi / count * math.sin(reach / radius)
        assert dart.angle == pytest.approx(2.0 * math.atan(0.5 * lune), rel=0.02)
        assert dart.angle == pytest.approx(lune, rel=0.04)
    assert low.width == pytest.approx(high.width, rel=0.04)
    words = piece.words()
    assert "from the bottom edge to" in words
    assert "to the top edge, widest at the top edge, along" in words


def test_a_waist_needs_a_dart_as_wide_as_both_edges_are_hollow() -> None:
    def u(v: FloatArray) -> FloatArray:
        return 40.0 - 8.0 * np.cos(v * np.pi / 200.0)

    heights = np.linspace(-100.0, 100.0, 9).tolist()
    edges = hermite(lambda v: -u(v), heights), hermite(u, heights)
    drafts = [PanelDraft(f"one {k}", *edges, {"bust": 70.0, "hip": -70.0}) for k in range(2)]
    pattern, (piece,) = joined(drafts, (0, 1))
    ((name, dart),) = piece.darts
    assert name == "one 0 to one 1"
    assert (dart.low, dart.high) == pytest.approx((-100.0, 100.0), abs=0.1)
    assert (dart.width, dart.at) == pytest.approx((16.0, 0.0), abs=0.05)
    assert (dart.top, dart.bottom) == (False, False)
    # The tangents at both ends turn by twice the slope there.
    assert dart.angle == pytest.approx(-4.0 * math.atan(8.0 * np.pi / 200.0), rel=0.03)
    assert piece.sewn
    assert "sew those" in piece.words()
    (legs,) = [mark.curve for mark in piece.panel.marks if mark.kind == "dart"]
    assert length(legs) == pytest.approx(2.0 * length(edges[1]), abs=0.1)
    # Sewn, it is what its panels are.
    assert [one.change for one in (*piece.levels, *piece.seams)] == [0.0] * 4
    assert pattern.panels == (piece.panel,)
    assert piece.panel.waist_width == pytest.approx(2.0 * 64.0 + 16.0, abs=0.05)


@pytest.mark.slow
def test_what_is_eased_keeps_its_edges_and_is_told() -> None:
    drafts = HOURGLASS.panels()
    pattern, pieces = joined(drafts, (0, 1, 2), (3, 4), darts_from=500.0)
    assert [panel.name for panel in pattern] == [
        "panel 1 + panel 2 + panel 3",
        "panel 4 + panel 5",
        "panel 6",
    ]
    for piece in (*pieces, *joined(drafts, (4, 5), darts_from=500.0)[1]):
        assert piece.darts
        assert not piece.sewn
        assert not [mark for mark in piece.panel.marks if mark.kind == "dart"]
        for one in piece.edges:
            assert abs(one.change) < 0.05, one
        assert abs(piece.area.share) < 0.02
        words = piece.words()
        for told in ("without its darts", "waist +", "%", "would be", "more than woven cloth"):
            assert told in words
        assert piece.levels[0].share == pytest.approx(
            piece.levels[0].after / piece.levels[0].before - 1.0
        )
    # The centre front was straight, and stays so.
    assert pieces[0].panel.is_straight("front")
    assert all(abs(walked.difference) < 0.1 for walked in pattern.walk())


def test_two_gores_laid_flat_mirror_each_other() -> None:
    v = np.linspace(-70.0, 70.0, 15)
    half = 30.0 * np.cos(v / 120.0)
    grid = np.stack(
        [half[:, None] * np.linspace(-1.0, 1.0, 5), np.repeat(v[:, None], 5, axis=1)], axis=-1
    )
    flat = lay_flat([grid, grid])
    strained = ((flat.stretch - 1.0) ** 2).sum(axis=1)
    assert 1e-5 < strained.mean() < 1e-3
    # Vectors are carried as points near them are.
    carrier, at = flat.carriers()[0], np.array([(-12.0, -40.0), (3.0, 0.0), (9.5, 55.0)])
    ways = np.array([(1.0, 0.0), (0.0, 20.0), (-3.0, 4.0)])
    ends = [carrier.points(at + sense * 1e-3 * ways) for sense in (1.0, -1.0)]
    places, carried = carrier.carried(at, ways)
    assert places == pytest.approx(carrier.points(at))
    assert carried == pytest.approx((ends[0] - ends[1]) / 2e-3, abs=1e-5)
    # The distortion has a part in it.
    assert np.abs(np.hypot(*carried.T) / np.hypot(*ways.T) - 1.0).max() > 1e-3
    # Mirror images of each other, as the two gores are.
    one, two = (own - flat.image[0][:, -1].mean() for own in flat.image)
    up = flat.image[0][-1, -1] - flat.image[0][0, -1]
    up /= abs(up)
    assert np.abs(one / up - np.conj(two[:, ::-1] / up)).max() < 1e-3


def test_pieces_of_both_halves_mirror_each_other() -> None:
    half = HOURGLASS.panels()
    both = read_pattern(drawn(both_halves(half)))
    fabric = in_one(both, (0, 1), (4, 5, 6, 7), (10, 11))
    whole, pieces = pieces_of(both, fabric)
    assert whole.centre == 3.5
    assert len(whole) == 7
    left, middle, right = pieces
    for one, two in ((left, right),):
        widths = [[own.before for own in piece.levels] for piece in (one, two)]
        assert widths[0] == pytest.approx(widths[1])
        assert one.panel.waist_width == pytest.approx(two.panel.waist_width, abs=1e-6)
        assert length(one.panel.edge("back")) == pytest.approx(length(two.panel.edge("back")))
    assert left.names == tuple(reversed([panel.name for panel in both][:2]))
    # Across the front it is its own mirror image.
    assert length(middle.panel.edge("front")) == pytest.approx(
        length(middle.panel.edge("back")), abs=1e-6
    )
    assert [whole.edge_kind(k, e) for k, e in ((0, "back"), (6, "back"), (3, "front"))] == [
        "centre_back",
        "centre_back",
        "seam",
    ]
    apart, _ = pieces_of(both, in_one(both, (0, 1)))
    assert apart.centre == 5.0
    assert apart.edge_kind(4, "front") == apart.edge_kind(5, "front") == "centre_front"
    assert apart.mirrored().centre == 6.0
    assert len(apart.seams) == 10
    # What is drawn of an odd count has its middle panel across the front already.
    odd = replace(both, panels=both.panels[:5], centre=2.5)
    assert pieces_of(odd, in_one(odd, (3, 4)))[0].centre == 2.5


def test_marks_are_kept_but_for_what_belongs_to_a_seam_that_is_gone() -> None:
    drafts = walls((60.0, 80.0))
    drafts[1] = replace(drafts[1], levels={"hip": -70.0})
    pattern = read_pattern(drawn(drafts))

    def line(panel: int, *points: tuple[float, float]) -> Curve:
        return Curve.polyline(pattern.panels[panel].frame.to_sheet(np.array(points)))

    marks = (
        (
            Mark("notch", line(0, (26.0, 20.0), (30.0, 20.0))),
            Mark("grainline", line(0, (0.0, -50.0), (0.0, 50.0))),
            Mark("notch", line(0, (-30.0, 40.0), (-26.0, 40.0))),
        ),
        (
            Mark("notch", line(1, (-40.0, 20.0), (-36.0, 20.0))),
            Mark("grainline", line(1, (9.0, -50.0), (9.0, 50.0))),
            Mark("bone", line(1, (20.0, -60.0), (20.0, 60.0))),
        ),
    )
    panels = tuple(
        replace(panel, marks=own) for panel, own in zip(pattern.panels, marks, strict=True)
    )
    _, (piece,) = pieces_of(replace(pattern, panels=panels), in_one(pattern, (0, 1)))
    kinds = [mark.kind for mark in piece.panel.marks]
    # The bust is a level of the first panel only: a line on the piece, no level of it.
    assert sorted(kinds) == ["bone", "grainline", "level", "notch"]
    assert [one.name for one in piece.levels] == ["waist", "hip"]
    (grain,) = [mark.curve for mark in piece.panel.marks if mark.kind == "grainline"]
    assert grain.vertices == pytest.approx(marks[1][1].curve.vertices, abs=1e-6)


def test_a_grainline_stays_straight_on_a_panel_that_bends() -> None:
    pattern = read_pattern(drawn(HOURGLASS.panels()))
    up = np.array([(5.0, -50.0), (5.0, 0.0), (5.0, 50.0)])
    panels = tuple(
        replace(panel, marks=(Mark("grainline", Curve.polyline(panel.frame.to_sheet(up))),))
        for panel in pattern.panels
    )
    _, (piece,) = pieces_of(
        replace(pattern, panels=panels), in_one(pattern, (0, 1), darts_from=60.0)
    )
    (grain,) = [mark.curve for mark in piece.panel.marks if mark.kind == "grainline"]
    below, middle, above = grain.vertices
    assert middle == pytest.approx(0.5 * (below + above), abs=1e-9)
    assert np.hypot(*(above - below)) == pytest.approx(100.0, abs=1e-9)


def test_the_layer_has_the_pieces_and_their_seams() -> None:
    pattern = read_pattern(drawn(HOURGLASS.panels()))
    lining = in_one(pattern, (0, 1), (3, 4, 5))
    stack = Stack([lining, Fabric("drill", 0.6)], "drill")
    shifted = shift(pattern, stack, turn_of_cloth(pattern, ClassModel(), ["side"] * 6))
    layer, drill = shifted.layers
    assert [piece.names for piece in layer.joined] == [
        ("panel 1", "panel 2"),
        ("panel 4", "panel 5", "panel 6"),
    ]
    assert [walked.name for walked in layer.walk()] == [
        "panel 1 + panel 2 to panel 3",
        "panel 3 to panel 4 + panel 5 + panel 6",
    ]
    assert [(walked.seam.first, walked.seam.second) for walked in layer.walk()] == [(1, 2), (2, 3)]
    assert all(abs(walked.difference) < 0.05 for walked in layer.walk(as_cut=True))
    assert layer.pieced.covered == (0, 1, 2)
    assert isinstance(layer.pieced, LayerPattern)
    assert layer.pieced.pieced is layer.pieced
    # On the body it lies as its panels do.
    assert len(layer.whole) == 6
    assert drill.pieced is drill
    assert drill.joined == ()
    assert drill.seams == pattern.seams


@pytest.mark.parametrize(
    ("cut", "told"),
    [
        ((("panel 1", "panel 3"),), "but panel 2 lies between them"),
        ((("panel 1", "panel 9"),), "no panel 'panel 9'"),
        ((("panel 1", "panel 2"), ("panel 2", "panel 3")), "with panel 1, panel 2, and again in"),
        ((("panel 1", "panel 1"),), "and again in"),
        ((("panel 1",),), "to be cut in one of panel 1"),
        (((),), "to be cut in one of no panel"),
        ((("panel 5", "panel 6"),), "which does not lie on it"),
    ],
)
def test_what_cannot_be_joined_is_refused(cut: tuple[tuple[str, ...], ...], told: str) -> None:
    pattern = read_pattern(drawn(HOURGLASS.panels()))
    on = frozenset(f"panel {k}" for k in range(1, 6))
    fabric = Fabric("lining", 0.2, cut_in_one=cut, panels=on)
    with pytest.raises(StackError, match=told):
        refuse_unjoinable(pattern, fabric)


def test_a_piece_without_a_waist_stays_apart() -> None:
    pattern = read_pattern(drawn(walls((60.0, 80.0, 70.0))))
    gore = replace(pattern.panels[1], waist=None)
    gored = replace(pattern, panels=(pattern.panels[0], gore, pattern.panels[2]))
    with pytest.raises(StackError, match="does not reach the waist"):
        refuse_unjoinable(gored, in_one(pattern, (0, 1)))
    with pytest.raises(StackError, match="between which a gore is set in"):
        refuse_unjoinable(gored, in_one(pattern, (0, 2)))


def test_a_panel_that_hangs_over_itself_is_refused() -> None:
    pattern = read_pattern(drawn(walls((60.0, 60.0))))
    panel = pattern.panels[0]
    corners = [(-30, -100), (-30, 10), (-5, 80), (-20, 40), (-30, 100), (30, 100), (30, -100)]
    outline = Curve.polyline(panel.frame.to_sheet(np.array(corners, dtype=float)), closed=True)
    hung = replace(panel, outline=outline, corners=Corners(0.0, 4.0, 5.0, 6.0, True))
    fabric = in_one(pattern, (0, 1))
    with pytest.raises(ShiftError, match="panel 'wall 1' is too hollow along an edge"):
        pieces_of(replace(pattern, panels=(hung, pattern.panels[1])), fabric)


def test_a_piece_whose_edges_would_cross_is_refused() -> None:
    pattern = read_pattern(drawn(walls((60.0, 60.0))))
    shapes = (
        [(-30, -100), (-30, 100), (55, 130), (30, 100), (25, 0), (30, -100)],
        [(-30, -100), (-25, 0), (-30, 100), (0, 150), (30, 100), (30, -100)],
    )
    ends = Corners(0.0, 1.0, 3.0, 5.0, True), Corners(0.0, 2.0, 4.0, 5.0, True)
    panels = []
    for panel, points, corners in zip(pattern.panels, shapes, ends, strict=True):
        sheet = panel.frame.to_sheet(np.array(points, dtype=float))
        outline = Curve.polyline(sheet, closed=True)
        panels.append(replace(panel, outline=outline, corners=corners))
    with pytest.raises(ShiftError, match="its edges would cross"):
        pieces_of(replace(pattern, panels=tuple(panels)), in_one(pattern, (0, 1)))


def test_what_does_not_come_to_rest_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(flattened, "_MOST_STEPS", 1)
    monkeypatch.setattr(flattened, "_PARTS", (64.0,))
    with pytest.raises(ShiftError, match="do not come to rest"):
        joined(HOURGLASS.panels(), (0, 1), darts_from=500.0)


def test_edges_that_touch_nowhere_else_lie_on_each_other() -> None:
    up = np.linspace(-50.0, 50.0, 21)
    slanted = np.column_stack([10.0 + 0.2 * up, up])
    found = side_by_side(slanted, np.column_stack([-30.0 - 0.1 * up, up]))
    assert found.darts == ()
    assert abs(found.turn) == pytest.approx(1.0, abs=1e-12)
    # What shears cannot hold is no dart.
    hollow = slanted - np.column_stack([0.2 * np.cos(up * np.pi / 100.0), 0.0 * up])
    assert side_by_side(hollow, np.column_stack([-30.0 - 0.1 * up, up])).darts == ()
