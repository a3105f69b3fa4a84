"""The field itself: what a shifted panel's curves are, against formulas written out anew."""

from __future__ import annotations

from dataclasses import replace
from typing import ClassVar

import numpy as np
import pytest
import shapely

from panelshift.body import ClassModel
from panelshift.construction.growth import Growth
from panelshift.outline import Curve, FloatArray
from panelshift.outline.bezier import LINE
from panelshift.outline.measure import breaks
from panelshift.outline.refit import REFIT_TOLERANCE_MM
from panelshift.pattern.panel import EdgeName, Panel
from panelshift.shift.layers import anchors
from panelshift.shift.lengthening import Lengthening
from tests.support.drafts import HOURGLASS, PanelDraft, Sheet, drawn, round_gores, walls
from tests.support.examples import thinned
from tests.support.runs import Run, level_widths, on_grid, run, sample, two_layers

D = 1.7


@pytest.fixture(scope="module")
def outcome() -> Run:
    return run(drawn(HOURGLASS.panels()), two_layers(D), gap=50.0)


@pytest.fixture(scope="module")
def creased() -> Run:
    return run(drawn(replace(HOURGLASS, lines=True).panels()), two_layers(D), gap=50.0)


def true_images(outcome: Run, index: int, points: FloatArray, edge: str = "") -> FloatArray:
    """u' = u + g (q - a), v' = v + (1 - q) l_front + q l_back, point by point.

    q is 0 on the front edge and 1 on the back edge.
    """
    turn = outcome.turn
    count = len(outcome.pattern.panels)
    fixed = anchors(outcome.pattern)
    along = Lengthening.of(turn, Growth(np.full((1, count), D), turn), fixed)
    front_along, back_along = (on_grid(along, 0, name)[index] for name in ("front", "back"))
    u, v = points.T

    def at(row: FloatArray) -> FloatArray:
        return np.interp(v, turn.profile.heights, row)

    front, back = at(turn.profile.front[index]), at(turn.profile.back[index])
    q = {"front": 0.0 * u, "back": 0.0 * u + 1.0}.get(edge, (u - front) / (back - front))
    return np.column_stack(
        [
            u + D * at(turn.growth[index]) * (q - fixed[index]),
            v + (1 - q) * at(front_along) + q * at(back_along),
        ]
    )


def inner(panel: Panel, curve: Curve) -> Curve:
    return curve.transformed(panel.frame.matrix)


@pytest.mark.parametrize("kind", ["outcome", "creased"])
@pytest.mark.parametrize("edge", ["front", "back", "top", "bottom"])
@pytest.mark.parametrize("index", thinned([2, 0, 5]))
def test_edges_are_within_the_refit_tolerance_of_their_true_image(
    kind: str, edge: EdgeName, index: int, request: pytest.FixtureRequest
) -> None:
    outcome: Run = request.getfixturevalue(kind)
    before, after = outcome.pattern.panels[index], outcome.layer().panels[index]
    drafted = inner(before, before.edge(edge))
    dense = drafted.points(np.linspace(0.0, len(drafted), 3001))
    true = true_images(outcome, index, dense, edge)
    drawn_line = shapely.LineString(inner(before, after.edge(edge)).flatten(1e-4))
    assert shapely.distance(drawn_line, shapely.points(true)).max() <= REFIT_TOLERANCE_MM + 5e-4


@pytest.mark.parametrize("index", [1, 4])
def test_level_lines_go_through_the_same_field(outcome: Run, index: int) -> None:
    before, after = outcome.pattern.panels[index], outcome.layer().panels[index]
    for old, new in zip(before.level_lines, after.level_lines, strict=True):
        points = inner(before, old.curve).points(np.linspace(0.0, len(old.curve), 200))
        line = shapely.LineString(inner(before, new.curve).flatten(1e-4))
        true = true_images(outcome, index, points)
        assert shapely.distance(line, shapely.points(true)).max() <= REFIT_TOLERANCE_MM + 1e-3
        assert new.name == old.name


@pytest.mark.parametrize("kind", ["outcome", "creased"])
def test_level_lines_still_end_on_their_edges(kind: str, request: pytest.FixtureRequest) -> None:
    outcome: Run = request.getfixturevalue(kind)
    for panel in outcome.layer().panels:
        for level in panel.level_lines:
            for end, edge in ((level.curve.start, "front"), (level.curve.end, "back")):
                line = shapely.LineString(panel.edge(edge).flatten(1e-3))
                assert line.distance(shapely.Point(end)) < 0.01


@pytest.mark.parametrize("name", ["hourglass", "fuller_figure"])
def test_marks_and_texts_stay_where_they_were_on_the_panel(name: str) -> None:
    # Notches stay on the stitch line, everything else moves by less than the whole growth.
    result = sample(name)
    for layer in result.shifted.layers:
        for before, after in zip(result.job.pattern.panels, layer.pattern.panels, strict=True):
            old, new = before.outline.flatten(), shapely.Polygon(after.outline.flatten())
            limit = 1.5 * abs(layer.distances[0]) * 2
            assert len(after.marks) == len(before.marks)
            for mark, moved in zip(before.marks, after.marks, strict=True):
                assert moved.kind == mark.kind
                assert np.abs(moved.curve.start - mark.curve.start).max() <= limit
                if mark.kind == "notch":
                    rim = shapely.Polygon(old).exterior
                    was = rim.distance(shapely.LineString(mark.curve.vertices))
                    now = new.exterior.distance(shapely.LineString(moved.curve.vertices))
                    assert abs(now - was) < 0.05
            for text, moved_text in zip(before.texts, after.texts, strict=True):
                assert moved_text.content == text.content
                assert np.abs(moved_text.anchor - text.anchor).max() <= limit


# -- what stays what it was -------------------------------------------------------------


def test_corners_stay_corners(outcome: Run) -> None:
    for before, after in zip(outcome.pattern.panels, outcome.layer().panels, strict=True):
        for name in ("front_top", "back_top", "back_bottom", "front_bottom"):
            old = breaks(before.outline)[int(getattr(before.corners, name)) % len(before.outline)]
            new = breaks(after.outline)[int(getattr(after.corners, name)) % len(after.outline)]
            assert abs(old) > np.radians(35)
            # A layer this thick turns its corners by a degree or two, not more.
            assert abs(abs(new) - abs(old)) < np.radians(3)


def test_segments_of_a_line_join_to_the_last_bit(outcome: Run) -> None:
    for panel in outcome.layer().panels:
        lines = [level.curve for level in panel.levels] + [mark.curve for mark in panel.marks]
        for curve in [panel.outline, *lines]:
            assert (curve.control[1:, 0] == curve.control[:-1, 3]).all()


def test_smooth_joints_stay_smooth(outcome: Run) -> None:
    for before, after in zip(outcome.pattern.panels, outcome.layer().panels, strict=True):
        assert (np.abs(breaks(before.outline)) > 1e-3).sum() == 4
        assert (np.abs(breaks(after.outline)) > np.radians(0.5)).sum() == 4


def test_a_straight_centre_front_stays_where_it_is(outcome: Run) -> None:
    before, after = outcome.pattern.panels[0], outcome.layer().panels[0]
    front = inner(before, after.edge("front")).flatten()
    assert np.abs(front[:, 0] - inner(before, before.edge("front")).start[0]).max() < 1e-9


def test_a_centre_front_drawn_as_lines_is_written_as_lines(creased: Run) -> None:
    for panel in (creased.layer().panels[0], creased.written().panels[0]):
        assert panel.edge("front").degree.tolist() == [LINE, LINE]


@pytest.mark.parametrize(
    ("straight_front", "straight_back", "wanted"),
    [
        (True, True, [0.0, 0.5, 1.0]),
        (False, True, [0.5, 0.5, 1.0]),
        (True, False, [0.0, 0.5, 0.5]),
        (False, False, [0.5, 0.5, 0.5]),
    ],
)
def test_only_a_straight_opening_is_an_anchor(
    straight_front: bool, straight_back: bool, wanted: list[float]
) -> None:
    figure = replace(
        HOURGLASS,
        waists=(50.0, 50.0, 50.0),
        shares=(0.3, 0.5, 1.0 if straight_back else 0.5),
        straight_front=straight_front,
    )
    panels = figure.panels()
    assert anchors(run(drawn(panels), two_layers(0.5)).pattern).tolist() == wanted


def test_a_single_panel_between_two_openings_keeps_one_of_them() -> None:
    outcome = run(drawn(walls([150.0])), two_layers(1.0), classes=["side"])
    assert anchors(outcome.pattern).tolist() in ([0.0], [1.0])
    gain = level_widths(outcome.layer()) - level_widths(outcome.pattern)
    assert gain == pytest.approx(np.full((1, 3), np.pi))


def test_straight_edges_and_few_segments_are_kept_on_a_wall() -> None:
    for panel in run(drawn(walls([60.0, 70.0, 50.0])), two_layers(2.0)).layer().panels:
        assert panel.outline.degree.tolist() == [LINE] * 4


def test_a_shifted_layer_has_not_many_more_segments(outcome: Run) -> None:
    for before, after in zip(outcome.pattern.panels, outcome.layer().panels, strict=True):
        assert len(after.outline) <= 3 * len(before.outline)


def test_edges_keep_their_names_when_the_outline_runs_the_other_way() -> None:
    panels = HOURGLASS.panels()
    one, two = (
        run(drawn(panels, Sheet(reverse=flag)), two_layers(1.0)).layer() for flag in (False, True)
    )
    for a, b in zip(one.panels, two.panels, strict=True):
        for name in ("front", "back", "top", "bottom"):
            assert np.abs(a.edge(name).start - b.edge(name).start).max() < 1e-6


# -- curved tops ------------------------------------------------------------------------


class _Arched(PanelDraft):
    """A panel whose top is one smooth cubic that rises in its middle."""

    rise: ClassVar[float] = 25.0

    def outline(self) -> Curve:
        a, b = self.front.end, self.back.end
        third, up = (b - a) / 3, np.array([0.0, 4 / 3 * self.rise])
        arch = Curve.cubics([[a, a + third + up, b - third + up, b]])
        bottom = Curve.polyline([self.back.start, self.front.start])
        return Curve.chain([self.front, arch, self.back.reversed(), bottom], closed=True)


class _Scooped(_Arched):
    rise: ClassVar[float] = -25.0


@pytest.mark.parametrize("shape", [_Arched, _Scooped])
def test_a_smooth_top_above_or_below_its_ends_gets_no_crease(shape: type[PanelDraft]) -> None:
    # Above the ends of the side edges nothing is drawn: the field must go on smoothly. It
    # once had a crease there, which took seven halvings to fit.
    gores = round_gores(
        lambda v: 110 + 20 * np.cos(v / 90),
        3,
        tuple(np.linspace(-100, 100, 11)),
        {"bust": 70.0, "hip": -70.0},
    )
    panels = [shape(gore.name, gore.front, gore.back, gore.levels) for gore in gores]
    outcome = run(drawn(panels), two_layers(3.0), ClassModel(), classes=["side"] * 3)
    for panel in outcome.layer().panels:
        top = panel.edge("top")
        assert np.abs(breaks(top)).max() < np.radians(0.2)
        assert len(top) <= 4
