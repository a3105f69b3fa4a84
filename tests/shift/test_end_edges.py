"""The top and the bottom edge raised and lowered: by closed forms, and what is refused."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from panelshift import EndAlteration, alter_pattern
from panelshift.errors import AlterationError, UnknownNameError
from panelshift.outline import Curve
from panelshift.outline.measure import length
from panelshift.outline.planar import area
from panelshift.pattern.panel import Mark
from panelshift.pattern.pattern import Pattern
from panelshift.pattern.two_sides import both_sides
from panelshift.shift.end_edges import ends_of_both_sides
from tests.support.drafts import HOURGLASS, PanelDraft, drawn, straight, walls
from tests.support.runs import read_pattern

WALLS = read_pattern(drawn(walls((40.0, 60.0, 80.0))))
FIGURE = read_pattern(drawn(HOURGLASS.panels()))


def _pointed() -> list[PanelDraft]:
    """Panels that end in a point a little above their tops."""
    ends = [-100.0, 100.0]
    sides = [straight(lambda v, s=s: s * (11.0 - 0.09 * v), ends) for s in (-1.0, 1.0)]
    return [PanelDraft(f"wall {k}", *sides) for k in (1, 2, 3)]


def areas(pattern: Pattern) -> list[float]:
    return [area(panel.outline) for panel in pattern]


@pytest.mark.parametrize(("edge", "by"), [("top", 12.0), ("top", -12.0), ("bottom", 7.0)])
def test_moved_alike_all_along_a_wall_is_higher_or_lower(edge: str, by: float) -> None:
    one = EndAlteration(edge, {"centre front": by, "centre back": by})  # type: ignore[arg-type]
    found = alter_pattern(WALLS, [one]).pattern
    more = by if edge == "top" else -by
    expected = [wide * (200.0 + more) for wide in (40.0, 60.0, 80.0)]
    assert areas(found) == pytest.approx(expected, abs=1e-3)
    assert found.waist == WALLS.waist
    assert all(walked.difference == pytest.approx(0.0, abs=1e-9) for walked in found.walk())


def test_it_goes_over_smoothly_and_never_beyond() -> None:
    found = alter_pattern(WALLS, [EndAlteration("top", {"centre front": -10.0, "2 to 3": 0.0})])
    front, side, back = found.pattern
    assert back == WALLS.panels[2]
    points = [p.frame.to_panel(p.edge("top").flatten())[:, 1] - 100.0 for p in (front, side)]
    heights = np.concatenate(points)
    assert heights[[0, -1]] == pytest.approx([-10.0, 0.0], abs=1e-6)
    assert (np.diff(heights) >= -1e-9).all()
    # Level at both ends, as the other half goes on: a cubic of smoothstep's form, half in all.
    lost = sum(areas(WALLS)) - sum(areas(found.pattern))
    assert lost == pytest.approx(0.5 * 10.0 * 100.0, abs=0.5)
    slopes = front.edge("top").end_tangents()[0, 0], side.edge("top").end_tangents()[-1, 1]
    for slope in slopes:
        assert abs(slope[1] / slope[0]) < 1e-6
    assert [change.seam for change in found.seams] == ["wall 1 to wall 2"]
    assert found.girths == ()


def test_a_place_that_stays_gets_no_line_of_no_length() -> None:
    """Rounding once left one, on which all layers were refused as folded."""
    for amount in ({"centre front": 3.0, "centre back": 0.0}, {"centre front": 3.0, "2 to 3": 0.0}):
        for panel in alter_pattern(FIGURE, [EndAlteration("top", amount)]).pattern:
            pieces = (panel.outline.piece(k, k + 1.0) for k in range(len(panel.outline)))
            assert min(map(length, pieces)) > 1e-3


def test_edges_of_a_seam_are_cut_and_prolonged_alike() -> None:
    one = EndAlteration("top", {"1 to 2": 9.0, "3 to 4": -8.0, "panel 5 to panel 6": 0.0})
    low = EndAlteration("bottom", {"2 to 3": -6.0}, run_out=40.0)
    found = alter_pattern(FIGURE, [one, low])
    before = {walked.name: walked for walked in FIGURE.walk()}
    by = {"panel 1 to panel 2": 9.0, "panel 3 to panel 4": -8.0, "panel 5 to panel 6": 0.0}
    for walked in found.pattern.walk():
        old = before[walked.name]
        assert walked.difference == pytest.approx(old.difference, abs=1e-3)
        if walked.name in by:
            assert walked.first - old.first == pytest.approx(by[walked.name], abs=1e-3)
    assert before["panel 2 to panel 3"].first < found.pattern.walk()[1].first
    # Without alteration, or of nothing, it is the draft itself.
    assert alter_pattern(FIGURE, [EndAlteration("top", {"1 to 2": 0.0}, 20.0)]).pattern is FIGURE


def test_both_halves_are_altered_as_one_is() -> None:
    one = EndAlteration("top", {"centre front": -9.0, "2 to 3": 4.0, "centre back": -3.0})
    half = alter_pattern(WALLS, [one]).pattern
    whole = both_sides(WALLS)
    both = ends_of_both_sides(WALLS, one)
    assert list(both.amount) == [
        "centre front",
        "left wall 2 to left wall 3",
        "right wall 2 to right wall 3",
        "centre back",
    ]
    found = alter_pattern(whole, [both]).pattern
    for panel in half:
        for side in ("left", "right"):
            mate = found[f"{side} {panel.name}"]
            for edge in ("front", "top", "back"):
                assert length(mate.edge(edge)) == pytest.approx(length(panel.edge(edge)), abs=1e-3)


@pytest.mark.parametrize(
    ("alteration", "told"),
    [
        (lambda: EndAlteration("top", {"centre front": -95.0}, 20.0), "would end 5.0 mm from"),
        (lambda: EndAlteration("top", {"centre front": -60.0}, 20.0), "level 'bust'"),
        (lambda: EndAlteration("bottom", {"1 to 2": 25.0, "1 to 2 ": 0.0}), "places are one"),
        (lambda: EndAlteration("top", {"centre front": -10.0}), "at one place does not say"),
        (lambda: EndAlteration("top", {"centre front": 400.0}, 20.0), "an amount of 400 mm"),
        (lambda: EndAlteration("top", {"centre front": 4.0}, 0.0), "a run-out of 0 mm"),
    ],
)
def test_what_cannot_be_is_refused(alteration, told: str) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(AlterationError, match=told) as caught:
        alter_pattern(WALLS, [alteration()])
    # What is to be mended is named: the edge, or the panel that it would spoil.
    assert caught.value.element in ("top edge", "bottom edge", *(panel.name for panel in WALLS))


def test_places_that_are_not_and_pieces_set_in_are_refused() -> None:
    with pytest.raises(UnknownNameError, match="there is no place '1 to 3'"):
        alter_pattern(WALLS, [EndAlteration("top", {"1 to 3": 4.0}, 20.0)])
    gored = replace(WALLS, panels=(WALLS.panels[0], replace(WALLS.panels[1], waist=None)))
    with pytest.raises(AlterationError, match="'wall 2' is set in between panels"):
        alter_pattern(gored, [EndAlteration("top", {"1 to 2": 4.0}, 20.0)])


def test_marks_that_would_reach_beyond_and_edges_that_would_cross_are_refused() -> None:
    panel = WALLS.panels[0]

    def marked(*points: tuple[float, float]) -> Pattern:
        line = Curve.polyline(
            panel.frame.to_sheet(np.array(points)), closed=points[0] == points[-1]
        )
        own = replace(panel, marks=(Mark("bone", line, "b7"),), levels=())
        return replace(WALLS, panels=(own, *WALLS.panels[1:]))

    lower = EndAlteration("top", {"centre front": -10.0, "1 to 2": -10.0}, 20.0)
    notch = marked((0.0, 0.0), (0.0, 95.0))
    (mark,) = notch.panels[0].marks
    other = replace(notch.panels[0], marks=(replace(mark, kind="notch"),))
    with pytest.raises(AlterationError, match=r"a notch of panel 'wall 1' .* \(b7\)"):
        alter_pattern(replace(notch, panels=(other, *notch.panels[1:])), [lower])
    # A bone channel that ends near the edge ends as near to it as before; others stay.
    for points, high in (
        ([(4.0, -50.0), (4.0, 90.0)], 80.0),
        ([(4.0, -50.0), (4.0, 90.0), (12.0, 90.0), (12.0, -50.0), (4.0, -50.0)], 80.0),
        ([(4.0, -50.0), (4.0, 30.0)], 30.0),
        ([(4.0, 84.0), (4.0, 89.0)], 89.0),
    ):
        curve = alter_pattern(marked(*points), [lower]).pattern.panels[0].marks[0].curve
        drawn_points = panel.frame.to_panel(curve.vertices)
        assert drawn_points[:, 1].max() == pytest.approx(high, abs=1e-6), points
        assert drawn_points[:, 1].min() == pytest.approx(points[0][1], abs=1e-6)
        assert np.ptp(drawn_points[:, 0]) == pytest.approx(np.ptp([u for u, _ in points]), abs=1e-6)
    # Of a strip whose ends lie aslant each corner goes along it by its part of the whole length.
    strip = np.array([(12.0, -90.0), (30.0, 90.0), (22.0, 90.0), (4.0, -90.0), (12.0, -90.0)])
    higher = EndAlteration("bottom", {"centre front": 10.0, "1 to 2": 10.0}, 20.0)
    for one, sense, over in ((lower, 1, 1), (lower, 1, -1), (higher, -1, 1), (higher, -1, -1)):
        corners, way = strip * (over, 1.0), sense * np.array([over * 18.0, 180.0])
        corners[:, 0] += 34.0 * (over < 0)
        curve = alter_pattern(marked(*corners.tolist()), [one]).pattern.panels[0].marks[0].curve
        along = corners @ way / np.hypot(*way)
        share = (along - along.min()) / np.ptp(along)
        expected = corners - 10.0 * share[:, None] * way / np.hypot(*way)
        assert panel.frame.to_panel(curve.vertices) == pytest.approx(expected, abs=1e-6)
    narrow = read_pattern(drawn([replace(draft, levels={}) for draft in _pointed()]))
    rise = EndAlteration("top", {"centre front": 40.0, "1 to 2": 40.0}, 20.0)
    with pytest.raises(AlterationError, match="would cross"):
        alter_pattern(narrow, [rise])
