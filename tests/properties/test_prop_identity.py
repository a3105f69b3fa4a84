"""No thickness, no change; and what the draft's sheet looks like changes nothing."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, strategies as st

from panelshift.body import BodyModel
from panelshift.outline.planar import area
from panelshift.pattern.pattern import Pattern
from panelshift.stack import Fabric, Stack
from tests.support.drafts import HOURGLASS, Figure, Sheet, drawn
from tests.support.examples import examples, thinned
from tests.support.runs import Run, edge_lengths, level_widths, run, sample, two_layers
from tests.support.strategies import figures, likely_models, sheets


def same_curves(one: Pattern, other: Pattern) -> bool:
    return all(
        np.array_equal(a.outline.control, b.outline.control)
        and np.array_equal(a.outline.degree, b.outline.degree)
        and all(
            np.array_equal(x.curve.control, y.curve.control)
            for x, y in zip(
                (a.waist, *a.levels, *a.marks), (b.waist, *b.levels, *b.marks), strict=True
            )
        )
        for a, b in zip(one.panels, other.panels, strict=True)
    )


@examples(8)
@given(figures(), likely_models)
def test_no_thickness_gives_the_draft_back_exactly(figure: Figure, model: BodyModel) -> None:
    stack = Stack([Fabric(name, 0.0) for name in ("a", "b", "c")], "b")
    outcome = run(drawn(figure.panels()), stack, model)
    for layer in outcome.shifted.layers:
        assert same_curves(layer.pattern, outcome.pattern)


@pytest.mark.slow
@pytest.mark.parametrize("name", ["hourglass", "fuller_figure"])
def test_the_drafted_layer_of_a_sample_is_the_draft_itself(name: str) -> None:
    result = sample(name)
    (drafted,) = (layer for layer in result.shifted.layers if layer.drafted)
    assert drafted.pattern is result.job.pattern


@pytest.mark.parametrize("name", ["hourglass", "fuller_figure"])
def test_a_sample_with_other_layers_is_not(name: str) -> None:
    result = sample(name)
    shifted = [layer for layer in result.shifted.layers if not layer.drafted]
    assert not any(same_curves(layer.pattern, result.job.pattern) for layer in shifted)


def test_the_drafted_layer_is_written_command_for_command() -> None:
    # HOURGLASS is drawn in whole hundredths where it is not a curve: the file's 0.001 mm
    # keeps every command and every degree.
    outcome = run(drawn(HOURGLASS.panels()), two_layers(1.0))
    for before, after in zip(
        outcome.pattern.panels, outcome.written("drafted").panels, strict=True
    ):
        assert after.outline.degree.tolist() == before.outline.degree.tolist()
        a = before.outline.control - before.outline.control[0, 0]
        b = after.outline.control - after.outline.control[0, 0]
        assert np.abs(a - b).max() < 1.1e-3


def facts(outcome: Run) -> dict[str, np.ndarray]:
    heights = np.linspace(-70.0, 90.0, 9)
    count = range(len(outcome.pattern.panels))
    layer = outcome.layer()
    return {
        "growth": np.array([[outcome.turn.growth_at(i, v) for v in heights] for i in count]),
        "tilt": np.array(
            [
                np.interp(heights, outcome.turn.profile.heights, outcome.turn.tilt["back"][i])
                for i in count
            ]
        ),
        "widths": level_widths(layer),
        "edges": np.array([edge_lengths(panel) for panel in layer.panels]),
        "areas": np.array([area(panel.outline) for panel in layer.panels]),
    }


TOLERANCES = {
    "growth": 1e-9,
    "tilt": 1e-9,
    "widths": 1e-6,
    # Where a fit lies just at its 0.005 mm, rounding may halve a segment or not.
    "edges": 1e-3,
    "areas": 0.3,
}
"""mm, rad and mm^2; areas are of flattened outlines a metre round."""


def assert_same(one: Run, other: Run) -> None:
    for (what, a), b in zip(facts(one).items(), facts(other).values(), strict=True):
        assert np.abs(a - b).max() <= TOLERANCES[what], what


ONE = Sheet(angle=0.3, offset=(211.3, -97.1), unit="in", reverse=True, start=3)


@pytest.mark.parametrize(
    "sheet",
    thinned(
        [
            *(Sheet(unit=unit) for unit in ("cm", "in", "px")),
            *(Sheet(angle=np.radians(angle)) for angle in (0.01, 37.0, 90.0, -90.0, 180.0, 251.0)),
            Sheet(offset=(-512.7, 1203.4)),
            Sheet(reverse=True),
            *(Sheet(start=start) for start in (1, 4, 5, 7)),
            Sheet(mirrored=True),
            Sheet(mirrored=True, angle=2.0, unit="in", reverse=True, start=2),
            ONE,
        ],
        2,
    ),
    ids=str,
)
def test_the_sheet_does_not_matter(sheet: Sheet) -> None:
    panels = HOURGLASS.panels()
    assert_same(
        run(drawn(panels), two_layers(1.0), gap=50.0),
        run(drawn(panels, sheet), two_layers(1.0), gap=50.0),
    )


@examples(8)
@given(figures(), sheets, st.booleans())
def test_no_sheet_matters_to_any_figure(figure: Figure, sheet: Sheet, mirrored: bool) -> None:
    panels = figure.panels()
    assert_same(
        run(drawn(panels), two_layers(1.0)),
        run(drawn(panels, replace(sheet, mirrored=mirrored)), two_layers(1.0)),
    )


def test_a_drawing_of_another_size_is_noticed() -> None:
    # The comparison can fail: a tenth of a per cent is seen.
    one = run(drawn(HOURGLASS.panels()), two_layers(1.0))
    larger = replace(HOURGLASS, waists=tuple(1.001 * w for w in HOURGLASS.waists))
    with pytest.raises(AssertionError, match=r"growth|widths|edges"):
        assert_same(one, run(drawn(larger.panels()), two_layers(1.0)))
