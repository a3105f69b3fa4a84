"""Which layers can share a paper, and how steps are rounded, against closed forms."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest

from panelshift.cutting.plan import CutPlan
from panelshift.cutting.verdict import _greatest, told_apart, verdict
from panelshift.stack import Fabric, Stack
from panelshift.units import CLOTH_MM, SIXTEENTH_MM, cloth_length
from tests.support.drafts import drawn, walls
from tests.support.runs import Run, run, sample

WIDTHS = (45.0, 50.0, 55.0)


def layered(*thicknesses: float) -> Run:
    """Upright walls in several cloths, the innermost drafted: they grow with the distance only."""
    cloths = tuple(Fabric(f"cloth {k}", t) for k, t in enumerate(thicknesses))
    return run(drawn(walls(WIDTHS)), Stack(cloths, "cloth 0"))


def names(outcome: Run, plan: CutPlan) -> list[list[str]]:
    found = verdict(outcome.shifted, plan)
    return [[layer.fabric.name for layer in paper] for paper in found.papers]


def moved(outcome: Run) -> float:
    """How far the outermost layer's seams move at most, by the growth of its panels."""
    return max(
        float(np.hypot(*(after - before)))
        for old, new in zip(
            outcome.shifted.layers[0].pattern.panels,
            outcome.shifted.layers[-1].pattern.panels,
            strict=True,
        )
        for before, after in (
            (old.waist.curve.start, new.waist.curve.start),
            (old.waist.curve.end, new.waist.curve.end),
        )
    )


@pytest.mark.parametrize("factor", [0.98, 1.02])
def test_layers_share_a_paper_just_when_they_differ_by_less_than_is_cut(factor: float) -> None:
    outcome = layered(0.6, 0.6)
    plan = CutPlan(accuracy=factor * moved(outcome))
    together = factor > 1.0
    assert names(outcome, plan) == (
        [["cloth 0", "cloth 1"]] if together else [["cloth 0"], ["cloth 1"]]
    )
    found = verdict(outcome.shifted, plan)
    assert max(found.apart) == pytest.approx(moved(outcome) if together else 0.0, rel=0.01)


def test_what_a_cloth_gives_lets_it_share() -> None:
    outcome = layered(0.6, 0.6)
    plan = CutPlan(accuracy=0.1)
    assert len(names(outcome, plan)) == 2
    assert len(names(outcome, replace(plan, gives={"cloth 1": 0.05}))) == 1


def test_every_layer_is_on_one_paper_and_none_further_off_than_is_cut() -> None:
    result = sample("hourglass")
    for accuracy in (0.0, 0.2, 0.5, 2.0):
        found = verdict(result.shifted, CutPlan(accuracy=accuracy))
        every = sorted(layer.place for paper in found.papers for layer in paper)
        assert every == [0, 2, 4, 5]
        assert max(found.apart) <= accuracy
        assert all(item.apart > accuracy for item in found.worth)
        assert all(item.apart <= accuracy for item in found.not_worth)
        # The drafted layer is held against itself nowhere.
        assert "coutille" not in {item.layer for item in (*found.worth, *found.not_worth)}
    assert len(verdict(result.shifted, CutPlan(accuracy=2.0)).papers) == 1


@pytest.mark.parametrize(("unit", "step"), [("mm", CLOTH_MM), ("in", SIXTEENTH_MM)])
def test_rounded_steps_add_up_to_what_is_needed(unit: str, step: float) -> None:
    """Both edges of a seam move alike, so that seams walk; no rounding adds up along the waist."""
    result = sample("hourglass")
    found = verdict(result.shifted, CutPlan(unit=unit))
    for layer in result.shifted.layers:
        if layer.fabric.name not in found.steps:
            continue
        steps = [value for _, value in found.steps[layer.fabric.name]]
        assert np.array(steps) / step == pytest.approx(np.round(np.array(steps) / step))
        grown = [
            new.waist.width - old.waist.width
            for old, new in zip(
                result.shifted.turn.pattern.panels, layer.pattern.panels, strict=True
            )
        ]
        # Two edges a seam; centre front and back stay where they are.
        assert abs(2.0 * sum(steps) - sum(grown)) <= step + 0.05


def test_edges_lie_as_far_apart_as_their_furthest_points() -> None:
    flat = np.column_stack([np.linspace(0.0, 100.0, 41), np.zeros(41)])
    # Nearest is an inner point of a side, or an end beyond which the other edge runs on.
    assert _greatest(flat + [3.0, 5.0], flat[[0, -1]]) == pytest.approx(np.hypot(3.0, 5.0))
    assert _greatest(flat, flat[4:]) == pytest.approx(10.0)
    assert _greatest(flat, flat[:-4]) == pytest.approx(10.0)
    assert _greatest(flat[4:-4], flat) == 0.0
    for peak in (flat[:, 0] == 0.0, abs(flat[:, 0] - 40.0) < 4.0, flat[:, 0] == 100.0):
        assert _greatest(flat + np.outer(peak, [0.0, 7.0]), flat) == pytest.approx(7.0)


def test_nested_layers_nearer_than_a_stroke_are_told_in_a_table() -> None:
    outcome = layered(0.1, 0.1, 0.1, 0.1)
    every = list(outcome.shifted.layers)
    widest = moved(outcome)
    kept, table = told_apart(every, widest)
    assert [layer.fabric.name for layer in kept] == ["cloth 0", "cloth 3"]
    # Of equal cloths the middles lie evenly.
    assert [line.partition(":")[0] for line in table] == ["cloth 1", "cloth 2"]
    assert "33%" in table[0]
    assert "67%" in table[1]
    assert told_apart(every, 0.3 * widest) == (every, [])
    assert told_apart(every[:2], widest) == (every[:2], [])


def test_the_paper_that_serves_comes_first_and_is_the_drafted_one_if_it_can_be() -> None:
    cloths = tuple(Fabric(f"cloth {k}", 0.6) for k in range(3))
    outcome = run(drawn(walls(WIDTHS)), Stack(cloths, "cloth 1"))
    found = verdict(outcome.shifted, CutPlan(accuracy=10.0))
    apart = max(found.apart)
    assert found.words(CutPlan()) == [
        "cloth 1: one paper serves cloth 0, cloth 2 too, no line lies more than "
        f"{cloth_length(apart, up=True)} off"
    ]
    # Of four the two that the draft's paper does not serve lie on the outer one's.
    four = layered(0.6, 0.6, 0.6, 0.6)
    step = moved(four) / 3.0
    assert names(four, CutPlan(accuracy=1.5 * step)) == [
        ["cloth 0", "cloth 1"],
        ["cloth 3", "cloth 2"],
    ]


def test_what_differs_is_told_as_finely_as_cloth_holds_it_and_never_as_less() -> None:
    """0.5 mm or a sixteenth of an inch, up: as the fit sheet tells how far lines lie off."""
    outcome = layered(0.6, 0.6)
    far = moved(outcome)
    assert 0.5 < far < 1.0
    found = verdict(outcome.shifted, CutPlan(accuracy=0.99 * far))
    for plan, words in (
        (CutPlan(), "1 mm"),
        (CutPlan(unit="in"), "1/16 in"),
        (CutPlan(unit="in", decimals=True), "0.062 in"),
    ):
        told = found.words(plan)[-1]
        assert told.startswith("cloth 1 differs from the draft where it matters, at most by: ")
        assert set(re.findall(r"(?:front|back) ([^),]*)", told)) == {words}


@pytest.mark.parametrize("factor", [0.98, 1.02])
def test_half_of_what_a_panel_gives_lets_each_of_its_edges_lie_off(factor: float) -> None:
    """Of what the layer's own cloth gives: what the paper's does lets nothing lie off."""
    outcome = layered(0.6, 0.6)
    grown = outcome.shifted.growth_table()[1]
    # Walls grow about their middles, those at an opening away from it.
    off = grown * np.array([1.0, 0.5, 1.0])
    give = factor * float((2.0 * (off - 0.1) / np.array(WIDTHS)).max())
    plan = CutPlan(accuracy=0.1, gives={"cloth 1": give})
    assert len(names(outcome, plan)) == (1 if factor > 1.0 else 2)
    assert len(names(outcome, CutPlan(accuracy=0.1, gives={"cloth 0": 3.0 * give}))) == 2
