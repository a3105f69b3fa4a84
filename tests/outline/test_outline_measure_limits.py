"""Tables of arcs at any step, and turning counted along the way."""

from __future__ import annotations

import numpy as np
import pytest

from panelshift.outline import Curve
from panelshift.outline.measure import arc_table, length, turning

BEND = Curve.cubics([[(0, 0), (90, 40), (160, -70), (300, 5)]])


WAYS = {
    "level": [[1, 0, 0], [0, 1, 0]],
    "upright": [[0, 1, 0], [1, 0, 0]],
    "flat": [[1, 0, 0], [0, 0.1, 0]],
}


@pytest.mark.parametrize("way", WAYS)
@pytest.mark.parametrize("step", [0.5, 7.0, 1e6])
def test_a_table_is_as_fine_as_asked_and_exact_at_any_step(step: float, way: str) -> None:
    curve = BEND.transformed(WAYS[way])
    positions, lengths = arc_table(curve, step)
    whole = length(curve)
    assert lengths[-1] == pytest.approx(whole, abs=1e-6)
    # Steps are even in the parameter; its speed differs from the mean by less than half.
    assert whole / step < len(positions) <= 1.5 * whole / step + 2
    assert np.diff(lengths).max() < 1.6 * step
    for s, along in zip(positions[1::40], lengths[1::40], strict=True):
        assert along == pytest.approx(length(curve.piece(0.0, s)), abs=1e-6)


def test_turning_is_the_winding_of_the_tangent() -> None:
    rng = np.random.default_rng(11)
    seen = 0
    for _ in range(200):
        curve = Curve.cubics([rng.uniform(-100.0, 100.0, size=(4, 2))])
        speeds = curve.derivatives(np.linspace(0.0, 1.0, 4001))
        steps = np.diff(np.unwrap(np.arctan2(speeds[:, 1], speeds[:, 0])))
        # Where the tangent whips round almost at once no sampling tells which way.
        if np.abs(np.convolve(steps, np.ones(250))).max() > 3.0:
            continue
        seen += 1
        assert turning(curve) == pytest.approx(float(steps.sum()), abs=1e-9)
    assert seen > 100


def test_a_speck_at_a_corner_takes_nothing_from_its_turn() -> None:
    assert turning(Curve.polyline([(0, 0), (9, 0), (9, 0), (9, 9)])) == pytest.approx(np.pi / 2)
    square = [(0, 0), (9, 0), (9, 0), (9, 9), (0, 9)]
    assert turning(Curve.polyline(square, closed=True)) == pytest.approx(2 * np.pi)
