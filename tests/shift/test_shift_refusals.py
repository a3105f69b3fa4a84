"""A layer that would fold a panel over is refused, by name and place."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from panelshift.body import ClassModel
from panelshift.body.turn import turn_of_cloth
from panelshift.errors import BodyError, ShiftError, StackError
from panelshift.shift import shift
from panelshift.stack import Fabric, Stack
from tests.support.drafts import HOURGLASS, PanelDraft, drawn, hermite, straight, walls
from tests.support.runs import read_pattern, run, two_layers


def test_45_mm_inwards_leaves_narrow_side_panels_no_width() -> None:
    svg = drawn(walls([20.0, 20.0, 100.0]))
    with pytest.raises(ShiftError) as caught:
        run(svg, two_layers(-45.0), classes=["side"] * 3)
    assert "panel 'wall 1' in layer 'shifted', -100 mm from the waist" in caught.value.problem
    assert "no width left" in caught.value.problem
    assert caught.value.source == "draft.svg"
    assert caught.value.element == "wall 1"
    assert "thicknesses" in caught.value.remedy


def test_the_level_that_is_named_is_where_it_fails() -> None:
    # Narrowest 40 mm above the waist; elsewhere there is width enough.
    def half(v: np.ndarray) -> np.ndarray:
        return 16.0 + 10.0 * (1.0 - np.exp(-(((v - 40.0) / 30.0) ** 2)))

    heights = tuple(np.linspace(-100.0, 100.0, 21))
    levels = {"bust": 80.0, "hip": -80.0}
    panels = [
        PanelDraft(f"p{k}", hermite(lambda v: -half(v), heights), hermite(half, heights), levels)
        for k in (1, 2)
    ]
    girth_there = 4 * 2 * 16.0
    with pytest.raises(ShiftError) as caught:
        run(drawn(panels), two_layers(-1.02 * girth_there / (2 * np.pi)), classes=["side"] * 2)
    found = int(caught.value.problem.split(" mm from the waist")[0].split()[-1])
    assert found == pytest.approx(40, abs=12)


def test_30_mm_outwards_fold_a_creased_waist() -> None:
    with pytest.raises(ShiftError, match=r"layer 'shifted', .* fold over on itself") as caught:
        run(drawn(replace(HOURGLASS, lines=True).panels()), two_layers(30.0))
    found = int(caught.value.problem.split(" mm from the waist")[0].split()[-1])
    assert abs(found) <= 12


@pytest.mark.parametrize("d", [-4.0, 4.0])
def test_what_a_maker_may_sew_is_not_refused(d: float) -> None:
    run(drawn(replace(HOURGLASS, lines=True).panels()), two_layers(d))


def test_only_the_layer_that_folds_is_named() -> None:
    stack = Stack([Fabric("lining", 0.2), Fabric("armour", 45.0), Fabric("cover", 45.0)], "cover")
    with pytest.raises(ShiftError, match="in layer 'lining'"):
        run(drawn(walls([20.0, 20.0, 100.0])), stack, classes=["side"] * 3)


def test_a_fabric_on_a_panel_that_is_not_there_is_refused() -> None:
    stack = Stack([Fabric("a", 0.2), Fabric("b", 0.2, panels=frozenset({"godet"}))])
    with pytest.raises(StackError, match="'b' covers panel 'godet'") as caught:
        run(drawn(walls([60.0, 60.0])), stack)
    assert "wall 1, wall 2" in caught.value.remedy


def test_classes_must_be_as_many_as_panels() -> None:
    with pytest.raises(BodyError, match="3 classes for 2 panels"):
        run(drawn(walls([60.0, 60.0])), two_layers(1.0), classes=["side"] * 3)


@pytest.mark.parametrize("gap", [-1.0, np.nan, np.inf])
def test_a_senseless_gap_is_refused(gap: float) -> None:
    with pytest.raises(BodyError, match="lacing gap of"):
        run(drawn(walls([60.0, 60.0])), two_layers(1.0), gap=gap)


def test_side_edges_that_meet_are_refused_with_their_height() -> None:
    # Both edges lean together and cross above the drawn top of the shorter one.
    heights = (-100.0, 0.0, 100.0)
    wide = walls([80.0])[0]
    wedge = PanelDraft(
        "wedge",
        straight(lambda v: -20.0 + 0.19 * np.maximum(v, 0.0), heights),
        straight(lambda v: 20.0 - 0.19 * np.maximum(v, 0.0), heights),
        {"bust": 70.0, "hip": -70.0},
    )
    tall = replace(
        wide,
        front=straight(lambda v: -40.0 + 0.0 * v, (-100.0, 200.0)),
        back=straight(lambda v: 40.0 + 0.0 * v, (-100.0, 200.0)),
    )
    with pytest.raises(BodyError, match=r"panel 'wedge' has no width \+\d+ mm"):
        run(drawn([tall, wedge]), two_layers(1.0))


def test_a_pattern_shifted_with_a_stack_twice_gives_the_same() -> None:
    pattern = read_pattern(drawn(HOURGLASS.panels()))
    turn = turn_of_cloth(pattern, ClassModel(), ["side"] * 6)
    one, two = (shift(pattern, two_layers(1.0), turn).layers[1].pattern for _ in range(2))
    for a, b in zip(one.panels, two.panels, strict=True):
        assert np.array_equal(a.outline.control, b.outline.control)
