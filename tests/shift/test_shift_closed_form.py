"""Shifted panels against closed forms, and seams against a sum of strains written out anew."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import trapezoid

from panelshift.body import ClassModel, MeanFormModel, Measures, SectionModel
from panelshift.body.turn import TurnOfCloth, turn_of_cloth
from panelshift.construction.growth import Growth
from panelshift.errors import ShiftError
from panelshift.outline import Curve, FloatArray
from panelshift.outline.bezier import LINE
from panelshift.outline.measure import length
from panelshift.pattern.drawing import Text
from panelshift.pattern.panel import EdgeName, Level, Mark, Panel
from panelshift.pattern.pattern import Pattern
from panelshift.shift import shift
from panelshift.shift.field import FREE, Fields
from panelshift.shift.layers import anchors
from panelshift.stack import Fabric, Stack
from tests.support.drafts import (
    HOURGLASS,
    Sheet,
    cone_gores,
    drawn,
    round_gores,
    sphere_gores,
    walls,
)
from tests.support.edge_runs import edge_run
from tests.support.runs import read_pattern, run, two_layers
from tests.support.superellipses import LeaningModel

ROUND = SectionModel(Measures.constant(1.0))
TURNED = Sheet(angle=0.4, mirrored=True, unit="in")
"""A sheet on which the panels' axes are not its own, and left-handed."""


def inner(panel: Panel, curve: Curve) -> FloatArray:
    """A curve's points in panel coordinates, a few in each segment."""
    return panel.frame.to_panel(curve.points(np.linspace(0.0, len(curve), 8 * len(curve) + 1)))


# -- surfaces of revolution -------------------------------------------------------------


@pytest.mark.parametrize("sheet", [None, TURNED])
@pytest.mark.parametrize("d", [2.0, -1.5])
def test_every_curve_of_a_sphere_gore_scales_from_its_waist(d: float, sheet: Sheet | None) -> None:
    radius, count = 120.0, 5
    panels = sphere_gores(radius, count, (-70.0, 50.0))
    outcome = run(drawn(panels, sheet), two_layers(d), ROUND, classes=["side"] * count)
    scale = (radius + d) / radius
    for before, after in zip(outcome.pattern.panels, outcome.layer().panels, strict=True):
        for name in ("front", "back"):
            old, new = inner(before, before.edge(name)), inner(before, after.edge(name))
            # The edge is u = c cos(v / R): scaled, it is the same with c and R scaled.
            half = scale * old[:, 0].max() if name == "back" else scale * old[:, 0].min()
            expected = half * np.cos(new[:, 1] / (scale * radius))
            assert new[:, 0] == pytest.approx(expected, abs=0.01)
            assert new[[0, -1]] == pytest.approx(scale * old[[0, -1]], abs=0.01)
        for one, two in zip(before.level_lines, after.level_lines, strict=True):
            assert two.height == pytest.approx(scale * one.height, abs=0.01)
            assert two.width == pytest.approx(scale * one.width, abs=0.01)
            assert (two.name, two.ident) == (one.name, one.ident)


def test_words_and_lines_on_a_cone_spread_with_it() -> None:
    radius, tilt, count, d = 100.0, 0.3, 4, 1.8
    pattern = read_pattern(drawn(cone_gores(radius, tilt, count, (-60.0, 60.0)), TURNED))
    share = np.pi / count

    def marked(panel: Panel, places: FloatArray) -> Panel:
        at = panel.frame.to_sheet(places)
        texts = tuple(Text(f"word {k}", at[k], 4.0, 0.0, f"t{k}") for k in range(len(at)))
        line = Mark("bone", Curve.polyline(at), "line")
        ring = Mark("mark", Curve.polyline(at, closed=True), "ring")
        # A level line that rises by 10 mm: its height is that of its two ends.
        slanted = Curve.polyline(panel.frame.to_sheet([(-20.0, 30.0), (20.0, 40.0)]))
        levels = (Level("bust", slanted, 35.0, "b"),)
        return replace(panel, levels=levels, texts=texts, marks=(line, ring))

    places = [
        np.array([(3.0 + k, 20.0), (-9.0, -40.0 - k), (0.0, 5.0), (12.0, 0.0)])
        for k in range(count)
    ]
    panels = tuple(marked(p, q) for p, q in zip(pattern.panels, places, strict=True))
    pattern = replace(pattern, panels=panels)
    turn = turn_of_cloth(pattern, ROUND, ["side"] * count)
    stack = Stack([Fabric("a", d), Fabric("b", d), Fabric("c", d)], "b")
    shifted = shift(pattern, stack, turn)
    for layer, distance in zip(shifted.layers, (-d, 0.0, d), strict=True):
        for panel, where, fixed in zip(layer.pattern.panels, places, anchors(pattern), strict=True):
            u, v = where.T
            # A gore is share (R + v sin t) wide; it grows by d cos t share, and no longer.
            q = 0.5 + u / (share * (radius + v * np.sin(tilt)))
            grown = u + distance * np.cos(tilt) * share * (q - fixed)
            expected = pytest.approx(np.column_stack([grown, v]), abs=2e-3)
            assert panel.frame.to_panel([text.anchor for text in panel.texts]) == expected
            assert [text.content for text in panel.texts] == [f"word {k}" for k in range(4)]
            line, ring = panel.marks
            corners = panel.frame.to_panel(line.curve.vertices)
            for point in expected.expected:
                assert np.hypot(*(corners - point).T).min() < 3e-3
            assert (line.kind, line.ident, line.curve.closed) == ("bone", "line", False)
            assert (ring.kind, ring.ident, ring.curve.closed) == ("mark", "ring", True)
            assert length(ring.curve) > length(line.curve) + 1.0
            assert panel.levels[0].height == pytest.approx(35.0, abs=1e-3)
    assert shifted.layers[1].pattern is pattern


@pytest.mark.parametrize(("anchor", "sides"), [(0.0, (0, 1)), (0.5, (-0.5, 0.5)), (1.0, (-1, 0))])
def test_growth_falls_on_the_sides_as_the_anchor_says(
    anchor: float, sides: tuple[float, float]
) -> None:
    # Walls do not tilt: whatever is done to them is growth across.
    pattern = read_pattern(drawn(walls([50.0, 70.0, 90.0])))
    turn = turn_of_cloth(pattern, ClassModel(), ["side"] * 3)
    fields = Fields.of(turn, Growth(np.array([[0.8] * 3, [-1.1] * 3]), turn), np.full(3, anchor))
    for layer, d in enumerate((0.8, -1.1)):
        for k, width in enumerate((50.0, 70.0, 90.0)):
            edges = np.array([(-0.5 * width, 30.0), (0.5 * width, -20.0)])
            for pins in ([0.0, 1.0], [FREE, FREE]):
                found, _ = fields.carry(
                    edges, np.zeros((2, 2)), np.full(2, layer), np.full(2, k), np.array(pins)
                )
                growth = d * turn.growth_at(k, 0.0)
                expected = edges + np.array([(growth * side, 0.0) for side in sides])
                assert found == pytest.approx(expected, abs=1e-9)


def test_carried_outlines_close_to_the_last_bit_and_cannot_be_changed() -> None:
    outcome = run(drawn(HOURGLASS.panels()), two_layers(1.5))
    lines = 0
    for panel in outcome.layer().panels:
        control = panel.outline.control
        assert np.array_equal(control[:, 3], np.roll(control[:, 0], -1, axis=0))
        # Each bottom was drawn as a line; where it stays one its handles lie at its thirds.
        if panel.outline.degree[-1] == LINE:
            lines += 1
            expected = np.linspace(control[-1, 0], control[-1, 3], 4)
            assert control[-1] == pytest.approx(expected, abs=1e-6)
        for curve in (panel.outline, panel.waist.curve, panel.levels[0].curve):
            assert not curve.control.flags.writeable
            assert not curve.degree.flags.writeable
    assert lines > 0


# -- the map and its derivative ---------------------------------------------------------


@pytest.mark.parametrize("pin", [FREE, 0.0, 1.0])
def test_speeds_are_the_rate_at_which_images_move(pin: float) -> None:
    pattern = read_pattern(drawn(HOURGLASS.panels()))
    count = len(pattern.panels)
    turn = turn_of_cloth(pattern, SectionModel(), ["side"] * count, gap=40.0)
    distances = np.array([np.linspace(1.0, 2.5, count), np.full(count, -1.5)])
    fields = Fields.of(turn, Growth(distances, turn), anchors(pattern))
    rng = np.random.default_rng(4)
    many = 200
    layer, panel = rng.integers(0, 2, many), rng.integers(0, count, many)
    # Heights in the middle of the grid's steps, some beyond the edges' ends.
    v = 0.25 * rng.integers(-680, 720, many) + 0.125
    points = np.column_stack([rng.uniform(-30.0, 30.0, many), v])
    speeds = rng.normal(size=(many, 2))
    pinned = np.full(many, pin)
    if pin != FREE:
        edge = turn.profile.front if pin == 0.0 else turn.profile.back
        for k in range(count):
            points[panel == k, 0] = np.interp(v[panel == k], turn.profile.heights, edge[k])
    _, found = fields.carry(points, speeds, layer, panel, pinned)
    h = 1e-4
    ahead, _ = fields.carry(points + h * speeds, speeds, layer, panel, pinned)
    behind, _ = fields.carry(points - h * speeds, speeds, layer, panel, pinned)
    difference = (ahead - behind) / (2.0 * h)
    # An edge's samples are not the grid's: a few places lie across one, and bend there.
    bent = np.abs(difference - found).max(axis=1) > 1e-6
    assert bent.mean() < 0.02


# -- seams ------------------------------------------------------------------------------


def natural_strain(
    turn: TurnOfCloth, panel: int, edge: EdgeName, d: float, anchor: float
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Arc length at the middle of each interval of an edge, its length, and its own strain."""
    run_, heights = edge_run(turn.profile, panel, edge), turn.profile.heights
    share = -anchor if edge == "front" else 1.0 - anchor
    across = share * d * np.interp(run_.v, heights, turn.growth[panel])
    tilt = turn.tilt[edge][panel]
    along = d * (np.interp(0.0, heights, tilt) - np.interp(run_.v, heights, tilt))
    was = np.hypot(np.diff(run_.u), np.diff(run_.v))
    now = np.hypot(np.diff(run_.u + across), np.diff(run_.v + along))
    return 0.5 * (run_.arc[1:] + run_.arc[:-1]), was, now / was - 1.0


@pytest.mark.parametrize("lines", [False, True])
@pytest.mark.parametrize("d", [4.0, 1.0, -4.0])
def test_mates_stretch_by_the_mean_of_their_own_strains(d: float, lines: bool) -> None:
    # Leaning edges are sewn to upright ones; where the body told how seams run, it would tell
    # their strain, and no mean were needed.
    figure = replace(HOURGLASS, lines=lines, shares=(0.0, 1.0, 0.0, 1.0, 0.0, 1.0))
    outcome = run(drawn(figure.panels()), two_layers(d), LeaningModel())
    turn, fixed = outcome.turn, anchors(outcome.pattern)
    apart = 0.0
    for seam in outcome.pattern.seams:
        sides = [(seam.first, seam.first_edge), (seam.second, seam.second_edge)]
        one, two = (natural_strain(turn, k, edge, d, fixed[k]) for k, edge in sides)
        for (k, edge), mine, other in zip(sides, (one, two), (two, one), strict=True):
            mean = 0.5 * (mine[2] + np.interp(mine[0], other[0], other[2]))
            expected = float((mine[1] * (1.0 + mean)).sum())
            assert length(outcome.layer().panels[k].edge(edge)) == pytest.approx(expected, abs=1e-4)
            apart = max(apart, abs(float((mine[1] * (mean - mine[2])).sum())))
    # Left to themselves some mates would be out by twenty times what the test allows.
    assert apart > 2e-3


def test_an_edge_without_a_mate_stretches_by_its_own_strain() -> None:
    d = 2.0
    outcome = run(drawn(HOURGLASS.panels()), two_layers(d), LeaningModel())
    fixed = anchors(outcome.pattern)
    for k, edge in ((0, "front"), (5, "back")):
        _, was, strain = natural_strain(outcome.turn, k, edge, d, fixed[k])
        expected = float((was * (1.0 + strain)).sum())
        assert length(outcome.layer().panels[k].edge(edge)) == pytest.approx(expected, abs=1e-4)


def test_where_the_body_tells_a_seams_strain_every_edge_takes_it() -> None:
    d = 1.5
    outcome = run(drawn(HOURGLASS.panels()), two_layers(d), MeanFormModel())
    turn, pattern, moved = outcome.turn, outcome.pattern, 0.0

    def told(k: int, edge: EdgeName) -> float:
        """How much longer the body says that an edge is to be."""
        run_ = edge_run(turn.profile, k, edge)
        strain = turn.strains_at(run_.v, np.full(len(run_.v), 2 * k + (edge == "back")))
        return d * float(trapezoid(strain, run_.arc))

    seams = [((s.first, s.first_edge), (s.second, s.second_edge)) for s in pattern.seams]
    for sides in [*seams, ((0, "front"),), ((5, "back"),)]:
        # Mates whose heights differ a little at equal lengths share that too.
        longer = float(np.mean([told(k, edge) for k, edge in sides]))
        for k, edge in sides:
            _, was, own = natural_strain(turn, k, edge, d, anchors(pattern)[k])
            found = length(outcome.layer().panels[k].edge(edge))
            assert found == pytest.approx(float(was.sum()) + longer, abs=2e-4)
            moved = max(moved, abs(float((was * own).sum()) - longer))
    # By tilt and growth alone some would be longer or shorter by much more.
    assert moved > 0.02


def test_a_seam_walks_where_only_one_side_is_carried() -> None:
    # The outer fabric lies on the first two panels only; beyond them it adds nothing.
    pattern = read_pattern(drawn(HOURGLASS.panels()))
    turn = turn_of_cloth(pattern, SectionModel(), ["side"] * 6)
    middle = Fabric("middle", 3.0, panels=frozenset({"panel 1", "panel 2"}))
    shifted = shift(pattern, Stack([Fabric("inner", 0.4), middle, Fabric("outer", 0.4)]), turn)
    outer = shifted.layers[2]
    assert outer.distances.tolist() == pytest.approx([3.4, 3.4, 0.4, 0.4, 0.4, 0.4])
    for walked in outer.walk():
        assert abs(walked.difference) < 2e-3


def test_both_directions_from_the_waist_walk_alike() -> None:
    outcome = run(drawn(HOURGLASS.panels()), two_layers(3.0), SectionModel())

    def above(pattern: Pattern, k: int, edge: EdgeName) -> float:
        panel = pattern.panels[k]
        curve = panel.edge(edge)
        v = panel.frame.to_panel(curve.points(np.linspace(0, len(curve), 4000)))[:, 1]
        at = float(np.interp(0.0, v, np.linspace(0, len(curve), 4000)))
        return length(curve.piece(at, float(len(curve))))

    for seam in outcome.pattern.seams:
        one, two = (
            above(outcome.layer(), k, edge)
            for k, edge in ((seam.first, seam.first_edge), (seam.second, seam.second_edge))
        )
        assert one == pytest.approx(two, abs=2e-3)


# -- what is refused --------------------------------------------------------------------


def test_a_layer_may_shrink_to_almost_nothing_but_not_to_nothing() -> None:
    # Walls of a round body: at d = -girth / 2 pi every panel is gone at once.
    widths = [30.0, 40.0, 50.0]
    whole = 2.0 * sum(widths) / (2.0 * np.pi)
    svg = drawn(walls(widths))
    left = run(svg, two_layers(-0.99 * whole), ROUND, classes=["side"] * 3).layer()
    assert [panel.waist_width for panel in left.panels] == pytest.approx([0.3, 0.4, 0.5], abs=1e-3)
    with pytest.raises(ShiftError, match="no width left"):
        run(svg, two_layers(-1.001 * whole), ROUND, classes=["side"] * 3)


@pytest.mark.parametrize("sense", [1.0, -1.0])
def test_a_layer_folds_where_its_length_would_shrink_to_nothing(sense: float) -> None:
    # The tilt is v / 40 here, outwards or inwards: v' = v + d (tilt(0) - tilt(v)) stands still
    # at d = 40 mm; smoothing makes it a little sooner at the ends.
    bend = 40.0

    def radius(v: np.ndarray) -> np.ndarray:
        return 90.0 + sense * bend * (1.0 - np.cos(np.asarray(v) / bend))

    heights = tuple(np.linspace(-20.0, 20.0, 25))
    svg = drawn(round_gores(radius, 3, heights, {"bust": 12.0, "hip": -12.0}))
    run(svg, two_layers(sense * 38.0), ROUND, classes=["side"] * 3)
    with pytest.raises(ShiftError, match="would fold over on itself"):
        run(svg, two_layers(sense * 40.5), ROUND, classes=["side"] * 3)
