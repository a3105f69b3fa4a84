"""Seams let out and taken in: girths as entered, seams that walk, all else carried along."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, strategies as st

from panelshift import (
    Alteration,
    DraftPanel,
    Fabric,
    Pattern,
    Stack,
    alter_pattern,
    draft_svg,
    pattern_from_panels,
    shift_pattern,
)
from panelshift.errors import AlterationError, PanelshiftError, UnknownNameError, WrongTypeError
from panelshift.outline import Curve
from panelshift.outline.measure import length
from panelshift.outline.splines import Spline
from panelshift.pattern.edge_pieces import profile
from panelshift.pattern.panel import EDGE_NAMES, Mark
from panelshift.shift import altered
from panelshift.shift.altered_field import AlteredField
from tests.support.drafts import HOURGLASS, both_halves, drawn
from tests.support.examples import examples
from tests.support.runs import read_pattern
from tests.support.same_pattern import assert_same
from tests.support.strategies import figures

BOX = [(0, 0), (60, 0), (60, 160), (0, 160)]


def boxes(count: int = 3) -> Pattern:
    """Panels 60 mm wide and 160 high, waist 70 mm above the bottom, hip 40 below it."""
    return pattern_from_panels(
        [
            DraftPanel(name, BOX, [(0, 90), (60, 90)], {"hip": [(0, 130), (60, 130)]})
            for name in "abcde"[:count]
        ]
    )


@pytest.fixture(scope="module")
def hourglass() -> Pattern:
    return read_pattern(drawn(HOURGLASS.panels()))


@pytest.fixture(scope="module")
def whole() -> Pattern:
    return read_pattern(drawn(both_halves(HOURGLASS.panels())))


def widths(pattern: Pattern, name: str) -> list[float]:
    found = [panel.level(name) for panel in pattern]
    return [level.width for level in found if level]


# -- closed forms -------------------------------------------------------------------------


def test_one_amount_moves_both_edges_by_half_of_it_all_the_way() -> None:
    found = alter_pattern(boxes(), [Alteration("a to b", 6.0)])
    assert widths(found.pattern, "waist") == pytest.approx([63.0, 63.0, 60.0], abs=1e-9)
    assert widths(found.pattern, "hip") == pytest.approx([63.0, 63.0, 60.0], abs=1e-9)
    assert found.pattern.waist - found.before.waist == pytest.approx(12.0, abs=1e-9)
    assert found.seams == ()
    assert found.pattern.panels[2] is found.before.panels[2]
    # A straight edge that moves aside as it is stays one line.
    assert [len(panel.outline) for panel in found.pattern] == [4, 4, 4]


@pytest.mark.parametrize(
    ("alteration", "expected"),
    [
        (Alteration("2/3", {"waist": 0.0, "hip": 4.0}), {0.0: 0.0, -40.0: 4.0, -20.0: 2.0}),
        (Alteration("C to B", {"hip": 4.0}, 20.0), {-40.0: 4.0, -20.0: 0.0, -60.0: 0.0, 0.0: 0.0}),
        (
            Alteration("b to c", -3.0, 10.0, from_="hip", to="waist"),
            {-50.0: 0.0, -40.0: -3.0, -13.0: -3.0, 0.0: -3.0, 10.0: 0.0, 80.0: 0.0},
        ),
        (
            Alteration("b to c", 3.0, 10.0, from_="waist", to="top"),
            {-60.0: 0.0, -10.0: 0.0, 0.0: 3.0, 80.0: 3.0},
        ),
        (
            Alteration("b to c", 3.0, 10.0, from_="bottom", to="+10 mm"),
            {-60.0: 3.0, 10.0: 3.0, 20.0: 0.0, 80.0: 0.0},
        ),
        (Alteration("b to c", {"+50 mm": 2.0, "waist": -2.0}, None), {80.0: 2.0, -60.0: -2.0}),
    ],
    ids=["levels", "one level", "band", "to the top", "from the bottom", "both ways"],
)
def test_amounts_by_height(alteration: Alteration, expected: dict[float, float]) -> None:
    from panelshift.pattern.edge_pieces import profile

    found = alter_pattern(boxes(), [alteration])
    heights = np.array(list(expected))
    edges = profile(found.pattern)
    # Where the edges rise to is their own affect; on upright ones it is nothing.
    more = edges.widths_at(heights)[1] - 60.0, edges.widths_at(heights)[2] - 60.0
    for own in more:
        assert own == pytest.approx(0.5 * np.array(list(expected.values())), abs=0.002)


@pytest.mark.parametrize(
    ("seam", "moved"), [("centre front", [64.0, 60.0, 60.0]), ("Center  back", [60.0, 60.0, 64.0])]
)
def test_the_centre_of_a_half_is_one_edge(seam: str, moved: list[float]) -> None:
    found = alter_pattern(boxes(), [Alteration(seam, 4.0)])
    assert widths(found.pattern, "waist") == pytest.approx(moved, abs=1e-9)
    assert found.girths[0].after - found.girths[0].before == pytest.approx(8.0)


def test_one_panel_takes_all_if_it_is_named() -> None:
    found = alter_pattern(boxes(), [Alteration("a to b", -5.0, on="b")])
    assert widths(found.pattern, "waist") == pytest.approx([60.0, 55.0, 60.0], abs=1e-9)


def test_nothing_asked_for_gives_the_draft_itself(hourglass: Pattern) -> None:
    for nothing in ([], [Alteration("1 to 2", 0.0)]):
        found = alter_pattern(hourglass, nothing)
        assert found.pattern is hourglass
        assert draft_svg(found.pattern) == draft_svg(hourglass)


# -- curved seams -------------------------------------------------------------------------

SEVERAL = (
    Alteration("panel 3 to panel 4", {"waist": 0.0, "hip": 6.0, "bust": -3.0}),
    Alteration("4 to 5", {"hip": 5.0}, 40.0, on="panel 5"),
    Alteration("3 to 4", -2.0),
)


def test_girths_come_out_as_entered(hourglass: Pattern) -> None:
    found = alter_pattern(hourglass, SEVERAL)
    changes = {girth.level: girth.after - girth.before for girth in found.girths}
    assert changes["waist"] == pytest.approx(-4.0, abs=0.01)
    assert changes["hip"] == pytest.approx(2.0 * (6.0 + 5.0 - 2.0), abs=0.01)
    assert changes["bust"] == pytest.approx(-10.0, abs=0.01)
    assert all(abs(girth.off) < 0.01 for girth in found.girths)
    # Levels are as high as they lie in their panels, whose waists may have moved.
    for panel in found.pattern.panels:
        for level in panel.levels:
            ends = panel.frame.to_panel(np.array([level.curve.start, level.curve.end]))
            assert level.height == pytest.approx(ends[:, 1].mean(), abs=1e-9)


def test_a_line_that_slants_is_straight_and_one_with_a_bend_is_not() -> None:
    assert altered._is_straight(Curve.polyline([(0, 0), (15, 50), (30, 100)]))
    assert not altered._is_straight(Curve.polyline([(0, 0), (20, 50), (30, 100)]))


def test_both_edges_of_a_seam_change_alike(hourglass: Pattern) -> None:
    found = alter_pattern(hourglass, SEVERAL)
    assert [seam.seam for seam in found.seams] == ["panel 3 to panel 4", "panel 4 to panel 5"]
    for seam in found.seams:
        assert abs(seam.after[0] - seam.before[0]) > 0.05
        assert seam.apart < 0.005
        assert abs(seam.difference) < 0.02
    walked = {walk.name: walk.difference for walk in found.pattern.walk()}
    differences = [seam.difference for seam in found.seams]
    assert differences == pytest.approx([walked[seam.seam] for seam in found.seams], abs=1e-6)
    assert max(map(abs, differences)) > 0.0


def test_the_rate_of_what_moves_along_is_its_slope_beyond_an_edge_too(hourglass: Pattern) -> None:
    edge, drafted = 5, profile(hourglass)
    low, high = drafted.ends[edge]
    along = Spline.monotone(np.linspace(low, high, 5), np.array([-3.0, -1.0, 0.0, 2.0, 4.0]))
    v = np.linspace(low - 30.0, high + 30.0, 2000)
    value, rate = AlteredField(drafted, (), {edge: along}).lengthening(np.full(len(v), edge), v)
    assert np.gradient(value, v)[1:-1] == pytest.approx(rate[1:-1], abs=1e-3)
    assert rate[0] > 0.0 < rate[-1]


def test_a_saved_draft_is_read_as_it_was_altered(hourglass: Pattern) -> None:
    found = alter_pattern(hourglass, SEVERAL).pattern
    again = read_pattern(draft_svg(found))
    assert_same(again, found)


def marked(*marks: Mark) -> Pattern:
    pattern = boxes()
    first = replace(pattern.panels[0], marks=marks)
    return replace(pattern, panels=(first, *pattern.panels[1:]))


def bone(*points: tuple[float, float], closed: bool = False) -> Mark:
    return Mark("bone", Curve.polyline(points, closed=closed))


def test_grain_keeps_its_direction_and_bones_their_widths() -> None:
    bent = [(24.0, 20.0), (22.0, 90.0), (24.0, 150.0)]
    pattern = marked(
        Mark("grainline", Curve.polyline([(35, 40), (35, 140)])),
        bone(*bent),
        bone(*((x + 8.0, y) for x, y in bent)),
        bone((50, 20), (58, 20), (58, 150), (50, 150), closed=True),
        Mark("mark", Curve.polyline([(10, 150), (12, 150)])),
    )
    found = alter_pattern(pattern, [Alteration("a to b", {"waist": 0.0, "hip": 8.0})]).pattern
    grain, left, right, strip, mark = (mark.curve for mark in found.panels[0].marks)
    assert grain.end - grain.start == pytest.approx([0.0, 100.0])
    # Heights go along with q: a bent channel is as wide as it was, wherever it is measured across.
    heights = np.linspace(25.0, 145.0, 25)
    apart = [np.interp(heights, *curve.flatten(1e-3).T[::-1]) for curve in (left, right)]
    assert apart[1] - apart[0] == pytest.approx(8.0, abs=0.002)
    assert left.end[0] - 24.0 > 1.0
    # At the middle of the strip, 5 mm above the waist, nothing moves: nor does any of it.
    assert strip.vertices[:4] == pytest.approx(np.array([(50, 20), (58, 20), (58, 150), (50, 150)]))
    assert mark.start[0] > 10.1


def test_an_edge_over_a_straight_channel_is_refused() -> None:
    pattern = marked(bone((57.0, 20.0), (57.0, 150.0)))
    taken = Alteration("a to b", {"waist": 0.0, "hip": -12.0})
    with pytest.raises(AlterationError, match="straight bone channel of panel 'a' would lie over"):
        alter_pattern(pattern, [taken])
    assert alter_pattern(pattern, [replace(taken, on="b")]).pattern.panels[0].marks


def test_an_edge_over_a_channel_of_another_panel_is_refused_too() -> None:
    panels = boxes().panels
    second = replace(panels[1], marks=(bone((157.0, 20.0), (157.0, 150.0)),))
    pattern = replace(boxes(), panels=(panels[0], second, panels[2]))
    taken = Alteration("b to c", {"waist": 0.0, "hip": -12.0}, on="b")
    with pytest.raises(AlterationError, match="straight bone channel of panel 'b' would lie over"):
        alter_pattern(pattern, [taken])


def test_a_level_that_a_panel_lacks_is_told_at_its_mean_height() -> None:
    pattern = boxes()
    bare = replace(pattern.panels[1], levels=())
    pattern = replace(pattern, panels=(pattern.panels[0], bare, pattern.panels[2]))
    found = alter_pattern(pattern, [Alteration("1 to 2", {"waist": 0.0, "hip": 4.0})])
    assert found.girths[-1].after - found.girths[-1].before == pytest.approx(8.0, abs=0.01)
    assert "<svg" in found._repr_svg_()


@given(
    figure=figures(),
    place=st.integers(0, 1),
    amounts=st.tuples(st.integers(-60, 60), st.integers(-60, 60), st.integers(-60, 60)),
)
@examples(8)
def test_any_draft_keeps_its_promises(
    figure: object, place: int, amounts: tuple[int, int, int]
) -> None:
    pattern = read_pattern(drawn(figure.panels()))  # type: ignore[attr-defined]
    by_level = dict(zip(("hip", "waist", "bust"), (0.1 * a for a in amounts), strict=True))
    found = alter_pattern(pattern, [Alteration(f"{place + 1} to {place + 2}", by_level)])
    for girth in found.girths:
        assert abs(girth.off) < 0.01
        if girth.level in by_level:
            assert girth.asked == pytest.approx(2.0 * by_level[girth.level], abs=1e-9)
    for seam in found.seams:
        assert seam.apart < 0.02


# -- both halves --------------------------------------------------------------------------


def test_two_equal_halves_altered_alike_are_the_half(hourglass: Pattern, whole: Pattern) -> None:
    by_level = {"waist": 0.0, "hip": 6.0}
    half = alter_pattern(hourglass, [Alteration("3 to 4", by_level)]).pattern
    asked = Alteration("right panel 3 to right panel 4", by_level, side="both")
    full = alter_pattern(whole, [asked]).pattern
    assert full.waist == pytest.approx(half.waist)
    stack = Stack([Fabric("drill", 0.5), Fabric("brocade", 0.7)])
    layers = [shift_pattern(pattern, stack).layer("brocade").pattern for pattern in (half, full)]
    for index, panel in enumerate(layers[0]):
        for twin in (layers[1].panels[6 + index], layers[1].panels[5 - index]):
            for name in EDGE_NAMES:
                assert length(twin.edge(name)) == pytest.approx(length(panel.edge(name)), abs=0.01)


def test_of_a_full_draft_one_side_is_altered(whole: Pattern) -> None:
    asked = Alteration("left panel 3 to left panel 4", 4.0, side="left")
    found = alter_pattern(whole, [asked])
    assert found.pattern.waist - whole.waist == pytest.approx(4.0)
    same = [old is new for old, new in zip(whole, found.pattern, strict=True)]
    assert same == [index not in (2, 3) for index in range(12)]
    # Both edges at the centre share; it mirrors itself.
    for seam in ("centre front", "centre back"):
        more = alter_pattern(whole, [Alteration(seam, 4.0, side="both")]).pattern
        assert more.waist - whole.waist == pytest.approx(4.0)


# -- refusals -----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("alteration", "words"),
    [
        (Alteration("a to c", 2.0), "there is no seam 'a to c'"),
        (Alteration("side", 2.0), "a to b, b to c, centre front, centre back"),
        (Alteration("4 to 5", 2.0), "there is no seam"),
        (Alteration("a to b", {"waist": 0.0, "knee": 2.0}), "there is no level 'knee'"),
        (Alteration("a to b", {"waist": 0.0, "+0": 2.0}), "two of its levels lie at one height"),
        (Alteration("a to b", {"waist": 0.0, "+800 mm": 2.0}), "reaches from -70 to +90 mm"),
        (Alteration("a to b", 2.0, on="c"), "panel 'c' is not at this seam"),
        (Alteration("a to b", 2.0, on="z"), "there is no panel 'z'"),
        (Alteration("a to b", 2.0, side="left"), "one half of the body is drawn for both sides"),
        (Alteration("a to b", -130.0), "panel 'a' would be -5.0 mm wide"),
        (Alteration("b to c", -65.0, on="c"), "panel 'c' would be -5.0 mm wide"),
    ],
)
def test_what_the_draft_has_not_is_refused(alteration: Alteration, words: str) -> None:
    with pytest.raises(PanelshiftError) as error:
        alter_pattern(boxes(), [alteration])
    assert words in str(error.value)
    assert isinstance(error.value, AlterationError | UnknownNameError)


def test_a_side_is_held_against_the_names(whole: Pattern) -> None:
    seam = "right panel 3 to right panel 4"
    with pytest.raises(AlterationError, match="do not say that it lies on the left"):
        alter_pattern(whole, [Alteration(seam, 2.0, side="left")])


def test_a_centre_that_no_edge_lies_at_is_refused(whole: Pattern) -> None:
    odd = replace(whole, panels=whole.panels[:11])
    with pytest.raises(AlterationError, match="no edge of the draft lies at the centre front"):
        alter_pattern(odd, [Alteration("centre front", 2.0)])


def test_a_panel_that_narrows_above_its_front_edge_is_refused() -> None:
    slanted = [(0, 60), (60, 0), (60, 160), (0, 160)]
    one = DraftPanel("a", slanted, [(0, 90), (60, 90)])
    pattern = pattern_from_panels([one, DraftPanel("b", BOX, [(0, 90), (60, 90)])])
    with pytest.raises(AlterationError, match=r"panel 'a' would be .* wide \+74"):
        alter_pattern(pattern, [Alteration("a to b", {"+80 mm": -130.0, "+50 mm": 0.0})])


def test_edges_that_would_cross_are_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    # Nothing known does it: where a panel has a width everywhere the map folds nothing.
    at = np.array([30.0, 40.0])
    monkeypatch.setattr(altered, "self_crossings", lambda outlines, flatness: [(1, at)])
    with pytest.raises(AlterationError, match=r"edges of panel 'b' would cross \+50 mm"):
        alter_pattern(boxes(), [Alteration("a to b", 2.0)])


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ({"amount": 900.0}, "an amount of 900 mm"),
        ({"amount": float("nan")}, "an amount of nan mm"),
        ({"amount": {"hip": 2.0}}, "an amount at one level"),
        ({"amount": {}}, "an amount at one level"),
        ({"amount": 2.0, "run_out": 0.0}, "a run-out of 0 mm"),
        ({"amount": 2.0, "run_out": 20.0}, "run_out, but neither from nor to"),
        ({"amount": 2.0, "from_": "hip", "to": "waist"}, "from and to without run_out"),
        ({"amount": 2.0, "from_": "hip", "run_out": 9.0}, "from without to"),
        ({"amount": {"hip": 2.0, "waist": 0.0}, "from_": "hip", "to": "waist"}, "amounts by level"),
    ],
)
def test_what_says_too_little_is_refused(given: dict[str, object], words: str) -> None:
    with pytest.raises(AlterationError, match=words):
        Alteration("a to b", **given)  # type: ignore[arg-type]


def test_a_part_of_a_pattern_is_refused() -> None:
    with pytest.raises(AlterationError, match="only a part of a pattern is given"):
        alter_pattern(boxes().part({"a", "b"}), [Alteration("a to b", 2.0)])


def test_wrong_types_are_told() -> None:
    with pytest.raises(WrongTypeError, match="amount of an alteration is '6', a str"):
        Alteration("a to b", "6")  # type: ignore[arg-type]
    with pytest.raises(WrongTypeError, match="alterations of alter_pattern is"):
        alter_pattern(boxes(), ["a to b"])  # type: ignore[list-item]


def test_all_of_it_is_said() -> None:
    asked = Alteration("3 to 4", -4.0, 30.0, from_="waist", to="hip", on="4", side="both")
    assert asked.said() == "3 to 4 (both): -4 from waist to hip, run out over 30, all on 4"


def test_equal_bones_on_panels_drawn_about_one_origin_move_each_with_its_panel() -> None:
    def box(width: float) -> DraftPanel:
        outline = [(0.0, 0.0), (width, 0.0), (width, 160.0), (0.0, 160.0)]
        return DraftPanel(f"{width:g}", outline, [(0.0, 90.0), (width, 90.0)])

    bone = Mark("bone", Curve.polyline([(20.0, 10.0), (20.0, 150.0)]))
    panels = tuple(
        replace(pattern_from_panels([box(width)]).panels[0], marks=(bone,))
        for width in (60.0, 100.0)
    )
    found = alter_pattern(Pattern(panels), [Alteration("60 to 100", 6.0)])
    places = [panel.marks[0].curve.vertices[:, 0] for panel in found.pattern]
    # A third of the way to an edge that moves 3 mm out; four fifths of the way from one.
    assert places[0] == pytest.approx([21.0, 21.0])
    assert places[1] == pytest.approx([17.6, 17.6])
