"""What tells cut lines, a sheet's edge and corners, against closed forms; and in what words."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from panelshift.draft import Reading
from panelshift.draft.causes import _cut
from panelshift.draft.clues import _margins, _of_margins
from panelshift.errors import PatternError
from panelshift.outline import Curve
from panelshift.pattern.pattern import Pattern
from tests.support.drawings import Draft, pattern

WIDE, HIGH = 40.0, 200.0


def rectangle(left: float, top: float, right: float, bottom: float) -> Curve:
    return Curve.polyline([[left, top], [right, top], [right, bottom], [left, bottom]], closed=True)


INNER: Any = SimpleNamespace(
    ident="inner",
    outline=rectangle(0.0, 0.0, WIDE, HIGH),
    waist=SimpleNamespace(points=np.array([[0.0, 100.0], [WIDE, 100.0]])),
)


def round_it(front: float, back: float, ends: float = 10.0, flare: float = 0.0) -> Curve:
    """A cut line as far from the two sides and from the ends; the back flares by so much."""
    return Curve.polyline(
        [
            [-front, -ends],
            [WIDE + back, -ends],
            [WIDE + back + flare, HIGH + ends],
            [-front, HIGH + ends],
        ],
        closed=True,
    )


def test_margins_are_taken_along_the_whole_of_both_sides_but_their_ends() -> None:
    """Points 2 mm apart, 100 on a side; at each end as many are left out as the margin is wide."""
    front, back = _margins(INNER, round_it(6.0, 12.0))
    assert front == pytest.approx(np.full(100 - 2 * 4, 6.0))
    assert back == pytest.approx(np.full(100 - 2 * 7, 12.0))


def test_margins_of_a_line_that_flares_grow_along_it() -> None:
    front, back = _margins(INNER, round_it(6.0, 6.0, flare=11.0))
    slope = 11.0 / 220.0
    # Perpendicular to the line that flares, at each height but those of the ends.
    down = 10.0 + np.arange(0.0, HIGH, 2.0)
    expected = (6.0 + slope * down) / np.hypot(1.0, slope)
    skip = int(np.median(expected) / 2.0) + 1
    assert np.sort(back) == pytest.approx(expected[skip:-skip], abs=1e-6)
    assert np.ptp(front) == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize(
    ("lines", "words"),
    [
        ([(10.0, 10.0)], []),
        ([(0.2, 10.0)], []),
        ([(0.2, 0.4)], ["they lie apart at the top and bottom edges alone"]),
        ([(3.0, 4.0)], ["at the side edges they lie 3.0 to 4.0 mm apart"]),
        ([(10.0, 11.0), (11.4, 12.0)], []),
        (
            [(10.0, 11.0), (12.0, 12.0)],
            ["they lie 10.0 mm apart on one panel, 12.0 mm on another"],
        ),
    ],
)
def test_distances_that_no_allowance_has_are_told(
    lines: list[tuple[float, float]], words: list[str]
) -> None:
    families: list[Any] = [
        [None, SimpleNamespace(drawn=[SimpleNamespace(outline=round_it(*line))])] for line in lines
    ]
    assert list(_of_margins([INNER] * len(lines), families)) == words


def test_a_distance_that_changes_along_an_edge_is_told() -> None:
    outer = SimpleNamespace(outline=round_it(6.0, 6.0, flare=11.0))
    families: list[Any] = [[SimpleNamespace(drawn=[outer])]]
    # From 22 to 196 mm below its top the line is (6 + down / 20) / sqrt(1 + 1 / 400) mm away.
    assert list(_of_margins([INNER], families)) == [
        "their distance along one side edge goes from 7.5 to 15.3 mm (inner)"
    ]


BOX = np.array([[0.0, 0.0], [100.0, 200.0]])


@pytest.mark.parametrize(
    ("line", "found"),
    [
        ([[50, 50], [101, 60]], ("right", "off")),
        ([[50, 50], [100.4, 60]], ("", "")),
        ([[-0.6, 50], [50, 50]], ("left", "off")),
        ([[50, -2], [-1, 50]], ("top", "off")),
        ([[50, 150], [60, 200.6]], ("bottom", "off")),
        ([[0.2, 50], [0.2, 56]], ("left", "along")),
        ([[-0.2, 50], [-0.2, 56]], ("left", "along")),
        ([[0.3, 50], [0.3, 56]], ("", "")),
        ([[0.2, 50], [0.2, 54.9]], ("", "")),
        ([[40, 200], [45.1, 200]], ("bottom", "along")),
        ([[0, 10], [0, 16], [50, 0], [80, 0]], ("top", "along")),
    ],
)
def test_a_line_runs_along_an_edge_of_the_sheet_or_beyond_it(
    line: list[list[float]], found: tuple[str, str]
) -> None:
    """Beyond it by more than 0.5 mm; along it within 0.25 mm, for 5 mm at least."""
    assert _cut(Curve.polyline(line), BOX) == found


def test_corners_that_make_no_panel_are_told_as_they_were_named() -> None:
    draft = Draft("side")
    top = draft.corners["left_top"]
    given = {"front_top": top, "back_top": top}
    with pytest.raises(PatternError) as caught:
        pattern(draft.panel(), Reading(halves="half", corners={"side": given}))
    error = caught.value
    at = f"[{top[0]:g}, {top[1]:g}]"
    assert error.problem == (
        "panel 'side': the corners that the job file names do not make a panel: going round it, "
        "they must come as front_bottom, front_top, back_top, back_bottom, at four places "
        f"(front_top = {at}, back_top = {at})"
    )
    assert error.remedy.startswith('See [panel."side".corners]: a corner is [mm from the left, mm')
    assert (error.element, error.at) == ("side", top)


@pytest.mark.parametrize("corner", ["front_top", "back_top", "front_bottom", "back_bottom"])
def test_a_corner_that_is_named_on_the_top_or_bottom_edge_is_refused(corner: str) -> None:
    """4 mm past the corner of a rectangle the side edge lies flat; at the corner and 4 mm before
    it on the side edge, it does not."""
    side, end = corner.split("_")
    x, inwards = (20.0, 4.0) if side == "front" else (100.0, -4.0)
    y, back = (80.0, 4.0) if end == "top" else (300.0, -4.0)
    body = '<path id="side" d="M20 80H100V300H20Z"/><path id="waist" d="M10 200H110"/>'

    def read(at: tuple[float, float]) -> Pattern:
        return pattern(body, Reading(halves="half", corners={"side": {corner: at}}))

    for at in ((x, y), (x, y + back)):
        panel = read(at).panels[0]
        assert panel.outline.points([getattr(panel.corners, corner)])[0] == pytest.approx(at)
    with pytest.raises(PatternError) as caught:
        read((x + inwards, y))
    assert caught.value.problem == (
        f"panel 'side': the corner that is named {corner}, [{x + inwards:g}, {y:g}], does not end "
        f"the {side} edge: from [{x:.1f}, {y:.1f}] on the outline lies flat, and is the {end} edge"
    )
    assert caught.value.at == (x, y)


def test_a_panel_whose_top_is_a_point_has_no_four_corners() -> None:
    outline = '<path id="side" d="M60 80L100 200L95 300L25 300L20 200Z"/>'
    with pytest.raises(PatternError) as caught:
        pattern(outline + '<path id="waist" d="M10 200H110"/>', Reading(halves="half"))
    error = caught.value
    assert error.problem == (
        "panel 'side': its four corners cannot be told apart: its top or bottom comes to a point"
    )
    assert "front_top = [x, y] in mm from the left and the top of the sheet" in error.remedy
    assert (error.element, error.at) == ("side", (60.0, 200.0))
