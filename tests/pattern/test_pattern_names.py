"""What stands for itself on a report: seams by both names, edges by kind, levels from the top."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest

from panelshift import read_saved, saved
from panelshift.errors import PatternError
from panelshift.outline import Curve
from panelshift.pattern.panel import Span
from panelshift.pattern.pattern import Pattern, Seam
from tests.support.drafts import PanelDraft, both_halves, drawn, walls
from tests.support.runs import read_pattern

WIDTHS = (45.0, 50.0, 55.0)


def half() -> Pattern:
    return read_pattern(drawn(walls(WIDTHS)))


def full() -> Pattern:
    return read_pattern(drawn(both_halves(walls(WIDTHS))))


def test_a_seam_is_named_in_the_order_in_which_it_is_sewn() -> None:
    assert [walked.name for walked in half().walk()] == ["wall 1 to wall 2", "wall 2 to wall 3"]
    assert [walked.name for walked in full().walk()] == [
        "left wall 3 to left wall 2",
        "left wall 2 to left wall 1",
        "left wall 1 to right wall 1",
        "right wall 1 to right wall 2",
        "right wall 2 to right wall 3",
    ]


def test_a_seam_s_lengths_are_those_of_the_panels_in_its_name() -> None:
    """Back edges 10 mm longer than front edges, so that the two cannot be exchanged."""
    panels = [
        PanelDraft(
            name,
            Curve.polyline([(-25.0, -100.0), (-25.0, 100.0)]),
            Curve.polyline([(25.0, -105.0), (25.0, 105.0)]),
        )
        for name in ("near", "far")
    ]
    (walked,) = read_pattern(drawn(panels)).walk()
    assert (walked.name, walked.seam.first_edge, walked.seam.second_edge) == (
        "near to far",
        "back",
        "front",
    )
    assert (walked.first, walked.second) == pytest.approx((210.0, 200.0), abs=1e-6)


def test_a_panel_s_seams_bear_the_numbers_that_they_have_in_the_pattern() -> None:
    pattern = full()
    numbered = list(enumerate(pattern.seams, start=1))
    for index in range(len(pattern)):
        own = [(number, seam) for number, seam in numbered if index in (seam.first, seam.second)]
        assert list(pattern.seams_of(index)) == own
    assert [number for number, _ in pattern.seams_of(2)] == [2, 3]
    for nowhere in (-1, 6):
        with pytest.raises(KeyError, match="no panel"):
            pattern.seams_of(nowhere)
    # A part of it numbers its own.
    part = pattern.part([panel.name for panel in list(pattern)[1:3]])
    assert [(number, seam.first, seam.second) for number, seam in part.seams_of(0)] == [(1, 0, 1)]


def test_pieces_on_each_other_are_sewn_from_the_bottom_up_and_to_what_stands_beside() -> None:
    one, two, three = half().panels
    low = replace(two, name="low", parted=frozenset({"top"}))
    high = replace(two, name="high", parted=frozenset({"bottom"}))
    pattern = replace(half(), panels=(one, low, high, three))
    below, above = Span("", "high"), Span("high", "")
    assert pattern.seams == (
        Seam(0, "back", 1, "front", below, None),
        Seam(0, "back", 2, "front", above, None),
        Seam(1, "back", 3, "front", None, below),
        Seam(2, "back", 3, "front", None, above),
        Seam(1, "top", 2, "bottom"),
    )
    assert [pattern.stacked(k) for k in range(4)] == [[0], [1, 2], [1, 2], [3]]
    assert [pattern.edge_kind(k, "top") for k in (1, 2)] == ["seam", "top"]
    assert [pattern.edge_kind(k, "bottom") for k in (1, 2)] == ["bottom", "seam"]


def test_edges_at_the_openings_are_told_from_seams() -> None:
    pattern = half()
    kinds = [[pattern.edge_kind(k, edge) for edge in ("front", "back")] for k in range(3)]
    assert kinds == [["centre_front", "seam"], ["seam", "seam"], ["seam", "centre_back"]]
    assert [pattern.edge_kind(1, edge) for edge in ("top", "bottom")] == ["top", "bottom"]


def test_the_second_half_s_edges_are_the_first_half_s_mirrored() -> None:
    pattern = full()
    kinds = [[pattern.edge_kind(k, edge) for edge in ("front", "back")] for k in range(6)]
    assert kinds[3:] == [["centre_front", "seam"], ["seam", "seam"], ["seam", "centre_back"]]
    assert kinds[:3] == kinds[:2:-1]


def test_both_halves_are_as_wide_at_the_waist_as_the_half_counted_twice() -> None:
    assert half().waist == pytest.approx(2.0 * sum(WIDTHS), abs=1e-6)
    assert full().waist == pytest.approx(half().waist, abs=1e-6)


def test_levels_come_from_the_top_down_at_their_mean_height() -> None:
    """One panel's bust lies 12 mm higher than the other's, its hip 6 mm lower."""
    one, two = walls((50.0, 60.0))
    raised = PanelDraft(two.name, two.front, two.back, {"bust": 82.0, "hip": -76.0})
    pattern = read_pattern(drawn([one, raised]))
    assert pattern.level_names() == ("bust", "waist", "hip")
    heights = [pattern.level_height(name) for name in pattern.level_names()]
    assert heights == pytest.approx([76.0, 0.0, -73.0], abs=1e-6)


def test_a_panel_stands_in_a_pattern_once() -> None:
    one = half()
    with pytest.raises(PatternError, match="two panels of a pattern are called 'wall 2'"):
        replace(one, panels=(*one.panels, one.panels[1]))
    data = json.loads(saved(one))
    data["pattern"]["panels"].append(data["pattern"]["panels"][0])
    with pytest.raises(PatternError, match="'wall 1'"):
        read_saved(json.dumps(data).encode())
