"""Breaks of the tangent between curved segments, and which segments are too short to count."""

from __future__ import annotations

import numpy as np
import pytest

from panelshift.outline import Curve
from panelshift.outline.measure import breaks

KAPPA = 4 / 3 * (np.sqrt(2) - 1)


def arc(start: float, end: float, centre: tuple[float, float] = (0.0, 0.0)) -> Curve:
    """An arc of radius 100 between two angles in degrees, its end tangents exact."""
    a, b = np.radians([start, end])
    handle = 4 / 3 * np.tan((b - a) / 4)
    p, q = np.array([np.cos(a), np.sin(a)]), np.array([np.cos(b), np.sin(b)])
    turned = np.array([[0.0, 1.0], [-1.0, 0.0]])
    control = 100.0 * np.array([p, p + handle * p @ turned, q - handle * q @ turned, q])
    return Curve.cubics([control + np.array(centre)])


def lines(*points: tuple[float, float]) -> Curve:
    return Curve.polyline(points)


def degrees(curve: Curve) -> list[float]:
    return np.degrees(breaks(curve)).tolist()


def test_a_quarter_of_a_disc_has_three_right_angles() -> None:
    parts = [arc(0, 90), lines((0, 100), (0, 0), (100, 0))]
    assert degrees(Curve.chain(parts, closed=True)) == pytest.approx([90.0, 90.0, 90.0])
    assert degrees(Curve.chain(parts)) == pytest.approx([0.0, 90.0, 90.0])
    backwards = Curve.chain(parts, closed=True).reversed()
    assert degrees(backwards) == pytest.approx([-90.0, -90.0, -90.0])


def test_arcs_break_by_the_angle_between_their_ends() -> None:
    # 60 degrees of one circle, then 50 of the next, which begins 40 degrees further round.
    first = arc(0, 60)
    second = arc(100, 150)
    moved = second.transformed(np.column_stack([np.eye(2), first.end - second.start]))
    third = arc(130, 135)
    last = third.transformed(np.column_stack([np.eye(2), moved.end - third.start]))
    assert degrees(Curve.chain([first, moved, last])) == pytest.approx([0.0, 40.0, -20.0])


@pytest.mark.parametrize("way", [(0.15, 0.0), (0.0, 0.15), (-0.1, 0.1), (0.1, 0.12)])
def test_a_speck_between_two_arcs_hides_nothing_of_their_break(way: tuple[float, float]) -> None:
    first = arc(0, 60)
    speck = lines(tuple(first.end), tuple(first.end + way))
    second = arc(130, 170)
    moved = second.transformed(np.column_stack([np.eye(2), speck.end - second.start]))
    # The arc ends in the direction 260; then the line goes 135 and 225 degrees.
    corner = moved.end + np.array([(-30, 30), (-60, 0)])
    found = degrees(Curve.chain([first, speck, moved, lines(tuple(moved.end), *corner)]))
    # At one end of the speck, whichever breaks more, stands all of it.
    assert sorted(found[1:3], key=abs) == pytest.approx([0.0, 70.0])
    assert [found[0], *found[3:]] == pytest.approx([0.0, -125.0, 90.0])


@pytest.mark.parametrize(("size", "expected"), [(0.15, [90.0, 0.0]), (0.25, [45.0, 45.0])])
def test_a_cut_corner_counts_as_two_from_a_fifth_of_a_millimetre_on(
    size: float, expected: list[float]
) -> None:
    cut = size / np.sqrt(2)
    square = Curve.polyline([(0, 0), (100, 0), (100 + cut, cut), (100 + cut, 90), (0, 90)])
    assert sorted(degrees(square)[1:3], reverse=True) == pytest.approx(expected)


def test_a_loop_that_ends_where_it_began_is_no_speck() -> None:
    loop = Curve.cubics([[(100, 0), (150, 40), (50, 40), (100, 0.1)]])
    curve = Curve.chain([lines((0, 0), (100, 0)), loop, lines((100, 0.1), (200, 0.1))])
    into, out = np.degrees(np.arctan2(40, 50)), np.degrees(np.arctan2(-39.9, 50))
    assert degrees(curve) == pytest.approx([0.0, into, -out])
