"""Seams walk in every layer: mates differ by at most 0.1 mm more than in the draft."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, strategies as st

from panelshift.body import BodyModel, ClassModel, FormerModel, Measures, SectionModel
from panelshift.outline.measure import length
from panelshift.stack import Fabric, Stack
from tests.support.drafts import HOURGLASS, Figure, PanelDraft, both_halves, drawn, straight
from tests.support.edge_runs import edge_run
from tests.support.examples import examples, thinned
from tests.support.runs import run, sample, sample_layers, seam_excess, two_layers
from tests.support.strategies import distances, figures, gaps, lengths, likely_models

ALLOWED_MM = 0.1


@pytest.mark.slow
@pytest.mark.parametrize("name", ["hourglass", "fuller_figure"])
def test_samples_walk_in_memory_and_as_written(name: str) -> None:
    pattern = sample(name).job.pattern
    for layer, written in sample_layers(name):
        assert seam_excess(pattern, layer.pattern) <= ALLOWED_MM
        assert seam_excess(pattern, written) <= ALLOWED_MM


@examples(12)
@given(figures(), likely_models, st.one_of(distances, lengths(2, 4)), gaps)
def test_any_figure_walks(figure: Figure, model: BodyModel, d: float, gap: float) -> None:
    outcome = run(drawn(figure.panels()), two_layers(d), model, gap=gap)
    assert seam_excess(outcome.pattern, outcome.layer()) <= ALLOWED_MM


@pytest.mark.parametrize("lines", thinned([True, False]), ids=["lines", "curves"])
@pytest.mark.parametrize("drafted", thinned(["layer 0", "layer 4"]))
def test_a_stack_of_4_mm_walks_as_written(lines: bool, drafted: str) -> None:
    cloth = Stack([Fabric(f"layer {k}", 0.8) for k in range(5)], drafted)
    assert cloth.total() == pytest.approx(4.0)
    outcome = run(drawn(replace(HOURGLASS, lines=lines).panels()), cloth, gap=50.0)
    for k in range(5):
        assert seam_excess(outcome.pattern, outcome.written(f"layer {k}")) <= ALLOWED_MM


def leaning(degrees: float, other: float) -> list[PanelDraft]:
    """Mates that lean outwards by two angles above and below the waist, equally long."""

    def panel(name: str, front: float, back: float) -> PanelDraft:
        edges = []
        for lean, sense in ((front, -1.0), (back, 1.0)):
            run_up = 120.0 * np.cos(np.radians(lean))
            tan = np.tan(np.radians(lean))
            edges.append(
                straight(
                    lambda v, t=tan, s=sense: s * (40.0 + t * np.abs(v)), (-run_up, 0.0, run_up)
                )
            )
        return PanelDraft(name, edges[0], edges[1], {"bust": 50.0, "hip": -50.0})

    return [panel("p1", 0.0, degrees), panel("p2", other, other), panel("p3", degrees, 5.0)]


@pytest.mark.parametrize("d", thinned([4.0, 1.0, -2.0]))
@pytest.mark.parametrize(("one", "two"), [(45.0, 10.0), (45.0, 0.0), (30.0, -10.0), (0.0, 40.0)])
def test_steep_seams_and_unlike_mates_walk(one: float, two: float, d: float) -> None:
    # 45 and 0 degrees at 4 mm once missed by 1.1 mm: the shared strain at the crease was
    # more than the leaning mate could take.
    outcome = run(drawn(leaning(one, two)), two_layers(d), ClassModel(), gap=0.0)
    before = [abs(walked.difference) for walked in outcome.pattern.walk()]
    assert max(before) < 1e-6
    assert seam_excess(outcome.pattern, outcome.layer()) <= ALLOWED_MM


def test_the_sharing_is_what_makes_unlike_mates_walk() -> None:
    # Negative control: the natural lengthening alone leaves such mates visibly unequal.
    outcome = run(drawn(leaning(45.0, 0.0)), two_layers(4.0), ClassModel())
    turn, stretched = outcome.turn, []
    for panel, edge, share in ((0, "back", 1.0), (1, "front", -0.5)):
        run_, heights = edge_run(turn.profile, panel, edge), turn.profile.heights
        u = run_.u + 4.0 * share * np.interp(run_.v, heights, turn.growth[panel])
        v = run_.v - 4.0 * np.interp(run_.v, heights, turn.tilt[edge][panel])
        stretched.append(np.hypot(np.diff(u), np.diff(v)).sum())
    assert abs(stretched[0] - stretched[1]) > ALLOWED_MM


BY_LEVEL = Measures(np.array([-80.0, 0.0, 90.0]), np.array([1.3, 1.4, 1.1]))


@pytest.mark.parametrize(
    "model", [FormerModel(90.0), SectionModel(BY_LEVEL)], ids=["former", "section by level"]
)
def test_other_body_models_walk(model: BodyModel) -> None:
    outcome = run(drawn(HOURGLASS.panels()), two_layers(1.5), model, gap=50.0)
    assert seam_excess(outcome.pattern, outcome.written()) <= ALLOWED_MM


def test_a_full_pattern_walks_at_the_centre_front_too() -> None:
    outcome = run(drawn(both_halves(HOURGLASS.panels()[:4])), two_layers(1.5), classes=["side"] * 8)
    assert outcome.pattern.full
    assert len(outcome.pattern.seams) == 7
    assert seam_excess(outcome.pattern, outcome.layer()) <= ALLOWED_MM


def test_a_fabric_on_some_panels_walks_where_it_lies() -> None:
    names = frozenset(f"panel {k}" for k in (2, 3, 4))
    cloth = Stack(
        [Fabric("base", 0.5), Fabric("stiffening", 1.0, panels=names), Fabric("cover", 0.5)]
    )
    outcome = run(drawn(HOURGLASS.panels()), cloth)
    drafted = {walked.name: abs(walked.difference) for walked in outcome.pattern.walk()}
    stiff = outcome.shifted.layers[1]
    assert [walked.name for walked in stiff.walk()] == ["panel 2 to panel 3", "panel 3 to panel 4"]
    for layer in outcome.shifted.layers:
        for walked in layer.walk():
            assert abs(walked.difference) - drafted[walked.name] <= ALLOWED_MM


def test_a_draft_that_does_not_walk_is_left_as_it_is() -> None:
    # A seam 4 mm out in the draft is the maker's to mend: the shift neither hides nor
    # enlarges it.
    panels = HOURGLASS.panels()
    short = panels[1].front.piece(0.0, len(panels[1].front) - 0.06)
    outcome = run(drawn([panels[0], replace(panels[1], front=short), *panels[2:]]), two_layers(1.5))
    before, after = outcome.pattern.walk()[0], outcome.layer().walk()[0]
    assert abs(before.difference) > 2.0
    assert after.difference == pytest.approx(before.difference, abs=ALLOWED_MM)


def test_the_seam_excess_can_be_found() -> None:
    # The measure itself must see a fault: one panel stretched by 1 %.
    outcome = run(drawn(HOURGLASS.panels()), two_layers(1.0))
    pattern = outcome.pattern
    stretched = replace(
        pattern.panels[2],
        outline=pattern.panels[2].outline.transformed(np.array([[1, 0, 0], [0, 1.01, 0]])),
    )
    spoilt = replace(pattern, panels=(*pattern.panels[:2], stretched, *pattern.panels[3:]))
    assert length(stretched.edge("front")) > 1.0
    assert seam_excess(pattern, spoilt) > 2.0
