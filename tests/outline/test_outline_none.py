"""Several curves in one pass: none of them, and more than can be looked at."""

from __future__ import annotations

import numpy as np
import pytest

from panelshift.errors import CurveError
from panelshift.outline import Curve, bezier as roots, crossing, curve as curve_module
from panelshift.outline.crossing import all_crossings
from panelshift.outline.many import closed_chains
from panelshift.outline.measure import all_breaks
from panelshift.outline.offset import offset_all

SQUARE = Curve.polyline([(0, 0), (10, 0), (10, 10), (0, 10)], closed=True)
BAR = Curve.polyline([(-5, 5), (15, 5)])
BENT = Curve.cubics([[(0, 0), (30, 80), (60, -80), (90, 0)]])


def test_none_at_all_is_an_empty_answer() -> None:
    assert all_breaks([]) == []
    assert closed_chains([]) == []
    assert offset_all([], []) == []


def test_a_curve_that_is_not_moved_stays_itself() -> None:
    still, moved = offset_all([BAR, BAR], [0.0, 2.0])
    assert still is BAR
    assert moved.start.tolist() == offset_all([BAR], [2.0])[0].start.tolist() == [-5.0, 7.0]


def test_too_many_pieces_to_compare_are_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(crossing, "MOST_COMPARED", 1)
    with pytest.raises(CurveError, match="too many pieces"):
        all_crossings([(SQUARE, BAR)])


def test_a_curve_of_too_many_chords_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(curve_module, "MOST_FLAT_POINTS", 3)
    with pytest.raises(CurveError, match="too long and too bent"):
        BENT.flatten(1e-4)


def test_a_root_that_is_not_settled_lies_in_its_bracket(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(roots, "_MOST_STEPS", 1)
    # 8 t^3 - 1: from below 0 to above it, with its root at one half.
    c = np.array([[-1.0, -1.0, -1.0, 7.0]])
    found = roots._bracketed(c, np.array([0.0]), np.array([1.0]))
    assert 0.0 < found[0] < 1.0
