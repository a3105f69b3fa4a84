"""Roots of cubics against the roots that they were made from."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, strategies as st

from panelshift.outline.bezier import CUBIC, roots
from tests.support.examples import examples

_PLACES = st.one_of(st.sampled_from([0.0, 1.0]), st.floats(-1.0, 2.0))


@given(st.lists(st.tuples(_PLACES, _PLACES, _PLACES), min_size=1, max_size=5), st.booleans())
@examples(300)
def test_every_root_is_found_once(rows: list[tuple[float, float, float]], down: bool) -> None:
    """Cubics of known roots, at either end of the parameter too, several in one pass."""
    wanted = [np.sort(row) for row in rows]
    if any(np.diff(row).min() < 0.02 for row in wanted):
        return
    control = []
    for a, b, c in wanted:
        # k (t - a) (t - b) (t - c), then from powers of t to Bernstein form.
        k = -100.0 if down else 100.0
        p0, p1, p2, p3 = k * np.array([-a * b * c, a * b + b * c + c * a, -(a + b + c), 1.0])
        control.append([p0, p0 + p1 / 3, p0 + 2 * p1 / 3 + p2 / 3, p0 + p1 + p2 + p3])
    owner, found = roots(np.array(control), np.full(len(control), CUBIC))
    for k, row in enumerate(wanted):
        near = np.abs(row - np.clip(row, 0.0, 1.0)) < 1e-9
        inside = row[near]
        assert np.unique(found[owner == k].round(6)) == pytest.approx(inside, abs=2e-6)
