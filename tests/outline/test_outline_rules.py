"""Nodes and weights of the rules that measure arcs, by what they integrate exactly.

A Gauss rule of n points is exact up to degree 2n - 1, its Kronrod extension up to 3n + 1 (one
more if n is odd).
"""

from __future__ import annotations

import numpy as np
import pytest

from panelshift.outline.measure import _SHORT, _WHOLE


@pytest.mark.parametrize(("rule", "points"), [(_WHOLE, 10), (_SHORT, 3)])
def test_both_rules_are_as_exact_as_their_points_allow(rule: object, points: int) -> None:
    nodes, kronrod = rule.powers[:, 1], rule.kronrod  # type: ignore[attr-defined]
    gauss = kronrod - rule.difference  # type: ignore[attr-defined]
    assert len(nodes) == 2 * points + 1
    assert ((nodes > 0.0) & (nodes < 1.0)).all()
    assert rule.powers == pytest.approx(np.stack([nodes**k for k in range(3)], axis=1))  # type: ignore[attr-defined]
    for degree in range(3 * points + 2 + points % 2):
        assert kronrod @ nodes**degree == pytest.approx(1.0 / (degree + 1), abs=1e-15)
    for degree in range(2 * points):
        assert gauss @ nodes**degree == pytest.approx(1.0 / (degree + 1), abs=1e-15)
    # The Gauss rule has every other node; one degree more and it errs.
    assert np.abs(gauss[::2]).max() < 1e-15
    assert abs(gauss @ nodes ** (2 * points) - 1.0 / (2 * points + 1)) > 1e-14
