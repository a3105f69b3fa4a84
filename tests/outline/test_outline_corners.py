from __future__ import annotations

import numpy as np
import pytest

from panelshift.outline import Curve, FloatArray
from panelshift.outline.measure import CORNER_ANGLE, breaks

SQUARE = [(0, 0), (100, 0), (100, 100), (0, 100)]


@pytest.mark.parametrize("sense", [1, -1])
def test_a_square_has_four_signed_corners(sense: int) -> None:
    square = Curve.polyline(SQUARE[::sense], closed=True)
    assert np.degrees(breaks(square)) == pytest.approx([90 * sense] * 4)
    assert corner_positions(square).tolist() == [0.0, 1.0, 2.0, 3.0]


def corner_positions(curve: Curve) -> FloatArray:
    """Positions of the joints that end an edge."""
    return np.flatnonzero(np.abs(breaks(curve)) >= CORNER_ANGLE).astype(np.float64)


def test_an_open_curve_has_no_corner_at_its_start() -> None:
    assert corner_positions(Curve.polyline(SQUARE)).tolist() == [1.0, 2.0]


def test_a_vertex_of_an_edge_in_lines_is_no_corner() -> None:
    # An hourglass edge drawn as two lines breaks by some 20 degrees at the waist.
    edge = Curve.polyline([(40, -100), (20, 0), (40, 100)])
    assert len(corner_positions(edge)) == 0
    assert abs(np.degrees(breaks(edge)[1])) == pytest.approx(22.6, abs=0.1)


@pytest.mark.parametrize("stray", [(100.0, 0.05), (99.95, 0.0), (100.05, -0.05), (100.0, 0.0)])
def test_a_stray_segment_at_a_corner_does_not_hide_it(stray: tuple[float, float]) -> None:
    outline = Curve.polyline([(0, 0), (100, 0), stray, (100, 100), (0, 100)], closed=True)
    corners = outline.points(corner_positions(outline))
    assert len(corners) == 4
    assert np.hypot(*(corners - [100, 0]).T).min() < 0.1


def test_a_stray_hook_on_a_smooth_edge_makes_no_corner() -> None:
    edge = Curve.polyline([(0, 0), (100, 0), (100.0, 0.1), (200, 0)])
    assert len(corner_positions(edge)) == 0


def test_short_segments_before_a_corner_belong_to_their_edge() -> None:
    # A refitted edge may end in several short segments: the corner lies after them.
    edge = [(0, 0), (0, 99.6), (0, 99.8), (0, 99.9), (0, 100)]
    outline = Curve.polyline([*edge, (60, 100), (60, 0)], closed=True)
    assert corner_positions(outline).tolist() == [0.0, 4.0, 5.0, 6.0]
    assert corner_positions(outline.reversed()).tolist() == [0.0, 1.0, 2.0, 3.0]


def test_an_outline_of_nothing_but_specks_still_has_corners() -> None:
    speck = Curve.polyline(np.array(SQUARE) * 1e-3, closed=True)
    assert len(corner_positions(speck)) == 4
