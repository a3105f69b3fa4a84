"""Crossings at the very ends of lines and curves, and lines that only touch."""

from __future__ import annotations

import numpy as np
import pytest

from panelshift.outline import Curve
from panelshift.outline.crossing import all_crossings, crossings

DIAMOND = Curve.polyline([(0, 0), (50, -50), (100, 0), (50, 50)], closed=True)
SQUARE = Curve.polyline([(0, 0), (100, 0), (100, 100), (0, 100)], closed=True)


def line(*points: tuple[float, float], closed: bool = False) -> Curve:
    return Curve.polyline(points, closed=closed)


@pytest.mark.parametrize(
    ("ends", "vertex"),
    [
        (((-9, 50), (109, 50)), (50, 50)),
        (((-9, -50), (109, -50)), (50, -50)),
        (((0, -70), (0, 70)), (0, 0)),
        (((100, -70), (100, 70)), (100, 0)),
    ],
)
def test_a_line_through_an_outermost_corner_touches_it_once(
    ends: tuple, vertex: tuple[float, float]
) -> None:
    found = crossings(DIAMOND, line(*ends))
    assert found.points == pytest.approx(np.array([vertex], dtype=float))


def test_a_line_may_begin_and_end_on_the_outline() -> None:
    found = crossings(SQUARE, line((0, 30), (100, 30)))
    assert found.along == pytest.approx([0.0, 100.0])
    assert found.points == pytest.approx(np.array([(0.0, 30.0), (100.0, 30.0)]))


@pytest.mark.parametrize("depth", [0.4, 1e-4, 0.0])
@pytest.mark.parametrize("sense", [1.0, -1.0])
def test_a_curve_that_reaches_the_line_by_a_hair_crosses_it(depth: float, sense: float) -> None:
    rising = line((0, -50 * sense), (100, depth * sense))
    found = crossings(rising, line((-10, 0), (120, 0)))
    assert found.positions == pytest.approx([50 / (50 + depth)])
    bent = Curve.cubics([[(0, -50), (30, -50), (90, -20), (100, depth)]])
    flipped = bent.transformed([[1, 0, 0], [0, sense, 0]])
    assert len(crossings(flipped, line((-10, 0), (120, 0)))) == 1


def test_without_reach_a_line_counts_as_far_as_it_is_drawn() -> None:
    short = line((0.4, 30), (99.6, 30))
    assert len(crossings(SQUARE, short)) == 0
    assert len(crossings(SQUARE, short, reach=0.3)) == 0
    assert len(crossings(SQUARE, short, reach=0.5)) == 2


def test_a_closed_line_has_no_ends_to_prolong() -> None:
    # Prolonged, its first side would run into the square's left edge.
    ring = line((2, 50), (20, 50), (20, 70), closed=True)
    assert len(crossings(SQUARE, ring, reach=5.0)) == 0
    opened = line((2, 50), (20, 50), (20, 70))
    assert len(crossings(SQUARE, opened, reach=5.0)) == 1


@pytest.mark.parametrize("away", [(500.0, 0.0), (30.0, 30.0)])
def test_no_crossing_is_an_empty_answer_of_the_usual_shape(away: tuple[float, float]) -> None:
    found = crossings(SQUARE, line(away, (away[0] + 5, away[1] + 5)))
    assert len(found) == 0
    assert found.points.shape == (0, 2)
    assert found.positions.shape == found.along.shape == (0,)


@pytest.mark.parametrize("order", [1, 2, 3])
@pytest.mark.parametrize("end", [False, True])
def test_a_cubic_that_ends_on_the_line_touches_it_however_flat(order: int, end: bool) -> None:
    # In Bernstein form the height is (1 - t)^order times what is left of a cubic.
    heights = {1: (60, 30, 20, 0), 2: (60, 10, 0, 0), 3: (60, 0, 0, 0)}[order]
    curve = Curve.cubics([[(30.0 * k, y) for k, y in enumerate(heights)]])
    for drawn in (curve, curve.reversed()):
        turned = drawn.transformed([[0.8, -0.6, 3], [0.6, 0.8, 7]])
        across = line((-9, 0), (99, 0)).transformed([[0.8, -0.6, 3], [0.6, 0.8, 7]])
        found = crossings(turned, across.reversed() if end else across)
        assert found.points == pytest.approx(np.array([(75.0, 61.0)]), abs=1e-6)


@pytest.mark.parametrize("height", [0.0, 1.0])
def test_a_curve_that_turns_back_on_the_line_touches_it_once(height: float) -> None:
    # The arch's top is at 3/4 of its control points' height.
    arch = Curve.cubics([[(0, 0), (0, 100), (100, 100), (100, 0)]])
    found = crossings(arch, line((-9, 75.0 + height), (109, 75.0 + height)))
    assert found.points.tolist() == ([] if height else [[50.0, 75.0]])


def test_many_pairs_in_one_pass_are_what_each_is_by_itself() -> None:
    rng = np.random.default_rng(7)
    curves = [Curve.cubics([rng.normal(size=(4, 2)) * 60]) for _ in range(9)]
    lines = [Curve.polyline(rng.normal(size=(3, 2)) * 80) for _ in range(5)] + curves[:2]
    pairs = [(one, two) for one in curves for two in lines if one is not two]
    together = all_crossings(pairs, reach=2.0)
    for (one, two), found in zip(pairs, together, strict=True):
        alone = crossings(one, two, reach=2.0)
        assert found.points.tolist() == alone.points.tolist()
        assert found.along == pytest.approx(alone.along, abs=1e-9)
    assert sum(map(len, together)) > 40
    assert all_crossings([]) == []
