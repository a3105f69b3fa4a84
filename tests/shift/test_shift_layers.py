"""What a shifted pattern says of its layers: names, growth, which seams they have."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from panelshift.body import ClassModel, Measures, SectionModel
from panelshift.body.turn import turn_of_cloth
from panelshift.errors import ShiftError, UnknownNameError
from panelshift.pattern.pattern import Seam
from panelshift.shift import Shifted, shift
from panelshift.stack import Fabric, Stack
from tests.support.drafts import HOURGLASS, Figure, PanelDraft, drawn, straight, walls
from tests.support.runs import read_pattern, run, two_layers

WIDTHS = (40.0, 60.0, 80.0, 50.0)
FACING = Fabric("facing", 0.5, panels=frozenset({"wall 1", "wall 2", "wall 4"}))
STACK = Stack([Fabric("lining", 0.2), Fabric("drill", 0.6), FACING, Fabric("satin", 0.4)], "drill")


@pytest.fixture(scope="module")
def walled() -> Shifted:
    pattern = read_pattern(drawn(walls(WIDTHS)))
    return shift(pattern, STACK, turn_of_cloth(pattern, ClassModel(), ["side"] * 4))


def test_layers_are_found_by_name_and_one_of_them_is_the_draft(walled: Shifted) -> None:
    for place, name in enumerate(("lining", "drill", "facing", "satin")):
        layer = walled.layer(name)
        assert (layer.fabric.name, layer.place) == (name, place)
        assert layer.drafted is (name == "drill")
    with pytest.raises(KeyError, match="felt"):
        walled.layer("felt")


def test_growth_is_the_distance_times_what_a_panel_turns(walled: Shifted) -> None:
    # All of one class on an upright wall: each turns by its width over the girth.
    theta = np.pi * np.array(WIDTHS) / sum(WIDTHS)
    table = walled.growth_table()
    # On wall 3 the facing adds nothing, so that the satin lies half a millimetre deeper.
    distances = np.array(
        [[-0.4] * 4, [0.0] * 4, [0.55, 0.55, 0.3, 0.55], [1.0, 1.0, 0.5, 1.0]],
    )
    assert table == pytest.approx(distances * theta)
    for place in range(4):
        for panel in range(4):
            assert walled.growth(place, panel, 20.0) == pytest.approx(table[place, panel])


def test_growth_at_many_heights_is_that_at_each(walled: Shifted) -> None:
    heights = np.array([[0.0, 20.0], [-20.0, 5.0]])
    table = walled.growth_table(heights)
    assert table.shape == (4, 4, 2, 2)
    assert walled.growth_table([]).shape == (4, 4, 0)
    for place in np.ndindex(2, 2):
        one = walled.growth_table(heights[place])
        np.testing.assert_array_equal(table[..., *place], one)
    with pytest.raises(ShiftError, match="reaches to 5000 mm"):
        walled.growth_table([0.0, 5000.0])


def test_layers_and_panels_are_asked_by_name_or_by_place(walled: Shifted) -> None:
    satin = walled.stack.names.index("satin")
    last = walled.turn.pattern.panels[3].name
    assert walled.growth("satin", last, 0.0) == walled.growth(satin, np.int64(3), 0.0)
    assert walled.turn.angle_at(last, 0.0) == walled.turn.angle_at(3, 0.0)
    # Beyond the panels lie rows of edges, before the first those of the gap: they would answer.
    for ask in (walled.turn.angle_at, walled.turn.growth_at, walled.turn.width_at):
        for panel in (4, -1, "satin", True):
            with pytest.raises(UnknownNameError, match="there is no panel"):
                ask(panel, 0.0)
    for layer in (4, -1, "felt", None):
        with pytest.raises(UnknownNameError, match="there is no layer"):
            walled.growth(layer, 0, 0.0)
    for panel in (4, -1, "satin"):
        with pytest.raises(UnknownNameError, match="there is no panel"):
            walled.growth(0, panel, 0.0)
    with pytest.raises(ShiftError, match="no panel reaches"):
        walled.growth(0, 0, 5000.0)
    with pytest.raises(ShiftError, match="no number"):
        walled.turn.angle_at(0, float("nan"))


def test_growth_is_told_at_the_waist_unless_asked_elsewhere() -> None:
    pattern = read_pattern(drawn(HOURGLASS.panels()))
    shifted = shift(pattern, STACK_OF_TWO, turn_of_cloth(pattern, SectionModel(), ["side"] * 6))
    for height, table in ((0.0, shifted.growth_table()), (40.0, shifted.growth_table(40.0))):
        expected = [shifted.growth(1, panel, height) for panel in range(6)]
        assert table[1] == pytest.approx(expected, abs=1e-12)
        assert not table[0].any()
    assert np.abs(shifted.growth_table()[1] - shifted.growth_table(1.0)[1]).max() > 1e-6


STACK_OF_TWO = Stack([Fabric("inner", 1.0), Fabric("outer", 1.0)])


def test_a_layer_walks_the_seams_between_panels_that_it_has(walled: Shifted) -> None:
    assert walled.layer("facing").covered == (0, 1, 3)
    seams = [(walked.seam.first, walked.seam.second) for walked in walled.layer("facing").walk()]
    assert seams == [(0, 1)]
    assert len(walled.layer("satin").walk()) == 3


def test_edges_that_would_cross_are_refused_where_they_do() -> None:
    # A layer an inch inside a very flat body: the back panel's edges lean so unlike that its
    # bottom corner, drawn 58 mm below the waist, is carried down and past the other edge.
    figure = Figure(
        waists=(112.0, 98.0),
        bust=(1.15, 1.36),
        hip=(1.33, 1.49),
        shares=(0.0, 1.03),
        top=124.0,
        bottom=-58.0,
    )
    body = SectionModel(Measures.constant(2.4))
    svg = drawn(figure.panels())
    with pytest.raises(ShiftError, match="panel 'panel 2' in layer 'shifted'") as caught:
        run(svg, two_layers(-28.0), body, classes=["side"] * 2)
    assert caught.value.problem.endswith("its edges would cross")
    height = int(caught.value.problem.split(" mm from the waist")[0].split()[-1])
    # The corner is carried down by more than half of what the layer lies deeper.
    assert -85 < height < -58 - 0.5 * 28
    run(svg, two_layers(-10.0), body, classes=["side"] * 2)


def test_nothing_is_refused_for_what_lies_beyond_a_panel() -> None:
    # Run on beyond their tops for 25 mm these wedges would have no width in the inner layer;
    # where they are drawn it is 1.5 mm or more.
    levels = {"bust": 60.0, "hip": -60.0}

    def half(v: np.ndarray) -> np.ndarray:
        return 10.0 - 0.05 * np.asarray(v)

    ends = (-100.0, 100.0)
    wedges = [
        PanelDraft(f"wedge {k}", straight(lambda v: -half(v), ends), straight(half, ends), levels)
        for k in (1, 2)
    ]
    layer = run(drawn(wedges), two_layers(-5.4), ClassModel(), classes=["side"] * 2).layer()
    for panel in layer.panels:
        top = panel.edge("top")
        assert np.hypot(*(top.end - top.start)) == pytest.approx(10.0 - 5.4 * np.pi / 2, abs=0.1)


def test_the_pattern_of_a_layer_is_what_it_covers(walled: Shifted) -> None:
    whole, facing = walled.layer("satin").pattern, walled.layer("facing")
    assert whole is walled.layer("satin").whole
    own = facing.pattern
    assert [panel.name for panel in own] == ["wall 1", "wall 2", "wall 4"]
    assert "wall 3" not in own
    drawn_there = [facing.whole[name].waist.width for name in ("wall 1", "wall 2", "wall 4")]
    assert own.waist == pytest.approx(2.0 * sum(drawn_there))
    # Wall 2 is not sewn to wall 4; the openings are where the whole has them.
    assert [walked.name for walked in own.walk()] == ["wall 1 to wall 2"]
    assert [walked.name for walked in facing.walk()] == ["wall 1 to wall 2"]
    assert own.open_edges() == {(0, "front"), (2, "back")}
    assert own.headline().startswith("3 of 4 panels of a half pattern, together ")
    assert own.part({"wall 4"}).open_edges() == {(0, "back")}
    quilted = Stack([Fabric("drill", 0.6), replace(FACING, take_up=0.2)])
    larger = shift(walled.turn.pattern, quilted, walled.turn).layer("facing")
    assert len(larger.as_cut) == 3
    assert larger.as_cut.waist == pytest.approx(larger.pattern.waist / 0.8)


def test_halves_of_a_part_are_those_of_the_whole() -> None:
    full = replace(read_pattern(drawn(walls(WIDTHS))), full=True)
    part = full.part({"wall 2", "wall 3", "wall 4"})
    # The first of them still belongs to the first half, whose panels begin at their backs.
    assert [part.ends(k)[0] for k in range(3)] == ["back", "front", "front"]
    assert part.seams == (Seam(0, "front", 1, "front"), Seam(1, "back", 2, "front"))
    assert part.edge_kind(0, "back") == "seam"


def test_a_piece_lies_as_far_out_as_its_panel() -> None:
    """Over a facing of the first panel alone, and split at the waist."""
    facing = Fabric("facing", 0.4, panels=frozenset({"wall 1"}))
    silk = Fabric("silk", 0.2, split_at=("waist",))
    stack = Stack([Fabric("drill", 0.5), facing, silk], "drill")
    layer = run(drawn(walls((45.0, 50.0))), stack).shifted.layer("silk")
    assert layer.distances == pytest.approx([0.25 + 0.4 + 0.1, 0.25 + 0.1])
    assert layer.pieced.distances == pytest.approx([0.75, 0.75, 0.35, 0.35])
