"""Checks 5 and 6: Steiner's formula (classical theorem) against shapely's buffer.

quad_segs is 1024: at 8 a round join loses 0.16 % of its arc.
"""

from __future__ import annotations

import numpy as np
import pytest
from shapely.geometry import Polygon, box

from panelshift.body import BodyModel, ClassModel, Measures, SectionModel
from tests.support.drafts import drawn, walls
from tests.support.runs import Run, run, two_layers

D = 0.8
STEINER = 2.0 * np.pi * D

HEXAGON = Polygon([(60 * np.cos(a), 60 * np.sin(a)) for a in np.radians(np.arange(0, 360, 60))])
CONVEX = {
    "square 100": box(0, 0, 100, 100),
    "triangle 3-4-5": Polygon([(0, 0), (300, 0), (0, 400)]),
    "hexagon": HEXAGON,
    "hull of a cloud": Polygon(
        np.random.default_rng(5).normal(size=(40, 2)) * [140, 90]
    ).convex_hull,
}
ELL = box(0, 0, 100, 100).difference(box(40, 40, 100, 100))
"""100 x 100 less 60 x 60."""


def extra(shape: Polygon, distance: float = D) -> float:
    return float(shape.buffer(distance, quad_segs=1024).exterior.length - shape.exterior.length)


def worn(girth: float, shares: list[float], model: BodyModel, classes: list[str]) -> Run:
    """A half pattern of upright panels for a body of that girth."""
    widths = [0.5 * girth * share / sum(shares) for share in shares]
    return run(drawn(walls(widths)), two_layers(D), model, classes=classes)


@pytest.mark.parametrize("shape", CONVEX.values(), ids=CONVEX.keys())
def test_5_shapely_finds_steiners_extra_round_convex_shapes(shape: Polygon) -> None:
    assert extra(shape) == pytest.approx(STEINER, abs=2e-6)
    assert extra(shape) == pytest.approx(5.026547, abs=2e-6)


@pytest.mark.parametrize("shape", CONVEX.values(), ids=CONVEX.keys())
@pytest.mark.parametrize(
    ("shares", "model", "classes"),
    [
        ([1, 1, 1], ClassModel(), ["front", "side", "back"]),
        ([2, 1, 3, 1], ClassModel(), ["front", "front", "side", "back"]),
        ([1, 1, 1], ClassModel(), ["side", "back", "side"]),
        ([2, 1, 1], SectionModel(Measures.constant(1.4)), ["front", "side", "back"]),
        ([2, 1, 1], SectionModel(Measures.constant(0.8), 3.0), ["front", "side", "back"]),
    ],
)
def test_5_a_garment_of_that_girth_gains_as_much_as_shapely_says(
    shape: Polygon, shares: list[float], model: BodyModel, classes: list[str]
) -> None:
    outcome = worn(shape.exterior.length, shares, model, classes)
    gain = outcome.layer().waist - outcome.pattern.waist
    assert gain == pytest.approx(extra(shape), abs=3e-6)


def test_5_and_as_much_on_the_written_file() -> None:
    outcome = worn(CONVEX["hexagon"].exterior.length, [2, 1, 3], ClassModel(), ["front"] * 3)
    assert outcome.written().waist - outcome.pattern.waist == pytest.approx(STEINER, abs=0.01)


def test_6_negative_control_a_hollow_shape_gains_less() -> None:
    assert extra(ELL) == pytest.approx(4.683185, abs=2e-6)
    assert extra(ELL) < STEINER - 0.3


def test_6_a_garment_bridges_the_hollow() -> None:
    # Cloth follows the hull of a section: on it the garment's gain is Steiner's again, which
    # the section itself would not have given.
    outcome = worn(ELL.convex_hull.exterior.length, [1, 1, 1], ClassModel(), ["side"] * 3)
    gain = outcome.layer().waist - outcome.pattern.waist
    assert gain == pytest.approx(extra(ELL.convex_hull), abs=3e-6)
    assert gain > extra(ELL) + 0.3
