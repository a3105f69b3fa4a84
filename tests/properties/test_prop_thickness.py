"""More cloth, more turn: monotone, signed, and linear at the waist."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given

from panelshift.body import BodyModel
from panelshift.stack import Fabric, Stack
from tests.support.drafts import HOURGLASS, Figure, drawn
from tests.support.examples import examples
from tests.support.runs import level_widths, run, sample, two_layers
from tests.support.strategies import distances, figures, likely_models


@pytest.mark.parametrize("sense", [1.0, -1.0])
def test_every_panel_grows_with_the_distance_at_every_level(sense: float) -> None:
    widths = [
        level_widths(run(drawn(HOURGLASS.panels()), two_layers(sense * d)).layer())
        for d in (0.0, 0.2, 0.5, 1.0, 2.0, 4.0)
    ]
    assert (sense * np.diff(widths, axis=0) > 0.0).all()


@examples(8)
@given(figures(), likely_models, distances)
def test_layers_outside_grow_and_layers_inside_shrink(
    figure: Figure, model: BodyModel, d: float
) -> None:
    outcome = run(drawn(figure.panels()), two_layers(d), model)
    gain = level_widths(outcome.layer()) - level_widths(outcome.pattern)
    assert (np.sign(d) * gain > 0.0).all()


@examples(5)
@given(figures(), likely_models, distances)
def test_growth_changes_sign_with_the_distance(figure: Figure, model: BodyModel, d: float) -> None:
    # Level lines carried across move by +g and -g exactly; their ends may also move by
    # different lengths along the panel, which counts in the second order only.
    drawing = drawn(figure.panels())
    draft = run(drawing, two_layers(d), model)
    outer = level_widths(draft.layer()) - level_widths(draft.pattern)
    inner = level_widths(run(drawing, two_layers(-d), model).layer()) - level_widths(draft.pattern)
    assert np.abs(outer + inner).max() <= 0.02 * d * d


@pytest.mark.parametrize("name", ["hourglass", "fuller_figure"])
def test_layers_of_a_sample_are_in_order_of_girth(name: str) -> None:
    layers = sample(name).shifted.layers
    girths = np.array([level_widths(layer.pattern).sum(axis=0) for layer in layers])
    assert (np.diff(girths, axis=0) > 0.0).all()


def test_distance_is_all_that_counts() -> None:
    # Two stacks whose outer layers lie equally far from the drafted one.
    one = Stack([Fabric("base", 0.4), Fabric("cover", 0.8)])
    two = Stack(
        [Fabric("base", 0.4), Fabric("pad", 1.0, coverage=0.1, loft=2.0), Fabric("cover", 0.4)]
    )
    svg = drawn(HOURGLASS.panels())
    first, second = (run(svg, stack).layer("cover") for stack in (one, two))
    for a, b in zip(first.panels, second.panels, strict=True):
        assert np.abs(a.outline.control - b.outline.control).max() < 1e-9


def test_a_layer_between_lies_between() -> None:
    stack = Stack([Fabric("a", 0.5), Fabric("b", 0.5), Fabric("c", 0.5)])
    outcome = run(drawn(HOURGLASS.panels()), stack)
    a, b, c = (level_widths(outcome.layer(name)) for name in "abc")
    assert np.abs(b - 0.5 * (a + c)).max() < 0.01
