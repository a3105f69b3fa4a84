"""Check 19: facts of the trade. Common practice, no source: signs and sizes, not numbers."""

from __future__ import annotations

import numpy as np
import pytest

from panelshift.body import BodyModel, ClassModel, Measures, SectionModel
from panelshift.stack import Fabric, Stack
from tests.support.drafts import HOURGLASS, drawn, walls
from tests.support.runs import run, two_layers

MODELS: list[BodyModel] = [ClassModel(), SectionModel(Measures.constant(1.4))]
USUAL = Stack([Fabric("lining", 0.2), Fabric("coutille", 0.45), Fabric("brocade", 0.6)], "coutille")


@pytest.mark.parametrize("model", MODELS, ids=["classes", "section"])
def test_19_side_panels_need_more_than_front_or_back(model: BodyModel) -> None:
    # Six panels of one width, so that only their place tells.
    outcome = run(drawn(walls([55.0] * 6)), two_layers(1.0), model)
    growth = [outcome.shifted.growth(1, panel, 0.0) for panel in range(6)]
    # Factors fitted to bodies say less than an ellipse does: their sides are flatter.
    more = 1.2 if isinstance(model, ClassModel) else 1.3
    assert min(growth[2:4]) > more * max(growth[0], growth[1], growth[4], growth[5])


@pytest.mark.parametrize("model", MODELS, ids=["classes", "section"])
def test_19_a_smaller_waist_needs_more_for_each_mm_of_girth(model: BodyModel) -> None:
    def part(width: float) -> float:
        outcome = run(drawn(walls([width] * 6)), two_layers(1.0), model)
        return (outcome.layer().waist - outcome.pattern.waist) / outcome.pattern.waist

    assert part(45.0) > part(55.0) > part(80.0)


def test_19_more_layers_need_more() -> None:
    def outermost(layers: int) -> float:
        cloth = [Fabric(f"layer {k}", 0.4) for k in range(layers)]
        return run(drawn(HOURGLASS.panels()), Stack(cloth)).layer(f"layer {layers - 1}").waist

    assert outermost(2) < outermost(3) < outermost(4)


def test_19_thicker_cloth_needs_more() -> None:
    waists = [
        run(drawn(HOURGLASS.panels()), two_layers(d)).layer().waist for d in (0.3, 0.5, 0.9, 1.4)
    ]
    assert (np.diff(waists) > 0.5).all()


def test_19_twelve_panels_rolled_gain_about_an_inch() -> None:
    # Rolled over a bottle of 80 mm with 1.5 mm of cloth: a few mm each, an inch in all.
    from panelshift.body import FormerModel

    outcome = run(drawn(walls([55.0] * 6)), two_layers(1.5), FormerModel(80.0))
    gain = outcome.layer().waist - outcome.pattern.waist
    assert 20.0 < gain < 30.0
    assert 1.5 < gain / 12 < 3.0


def girths(drafted: str) -> dict[str, float]:
    """Girth of every mid-surface, and of the skin side and the outside of the whole stack.

    The skin side lies half a lining inside the lining's middle: Steiner, 2 pi for each mm.
    """
    stack = Stack(USUAL.fabrics, drafted)
    outcome = run(drawn(HOURGLASS.panels()), stack)
    found = {fabric.name: outcome.written(fabric.name).waist for fabric in stack.fabrics}
    found["skin"] = found["lining"] - 2 * np.pi * 0.1
    found["outside"] = found["brocade"] + 2 * np.pi * 0.3
    return found


WAIST = 2 * sum(HOURGLASS.waists)


def test_19_kept_on_the_inner_layer_it_finishes_at_the_drafted_waist_inside() -> None:
    found = girths("lining")
    assert found["lining"] == pytest.approx(WAIST, abs=0.01)
    assert found["skin"] == pytest.approx(WAIST, abs=1.0)
    assert found["outside"] > WAIST + 5.0


def test_19_kept_on_the_outer_layer_it_finishes_at_the_drafted_waist_outside() -> None:
    found = girths("brocade")
    assert found["brocade"] == pytest.approx(WAIST, abs=0.01)
    assert found["outside"] == pytest.approx(WAIST, abs=2.0)
    assert found["skin"] < WAIST - 4.0
