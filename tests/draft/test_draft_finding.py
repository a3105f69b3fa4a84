"""Which shapes are panels and which lines are waistlines, on drafts that are drawn well or not."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from panelshift.draft import Reading, assemble
from panelshift.draft.assembly import outlined
from panelshift.draft.waistlines import lines_across
from panelshift.errors import PatternError
from panelshift.outline import Curve
from panelshift.outline.measure import length
from panelshift.pattern.drawing import Drawing, Shape
from panelshift.pattern.pattern import Pattern
from tests.support.drawings import Draft, drawing, group, half, panels, path, pattern, text


def left_out(found: Pattern) -> dict[str, str]:
    return {item.ident: item.reason for item in found.left_out}


def refusal(body: str, reading: Reading | None = None) -> str:
    with pytest.raises(PatternError) as caught:
        pattern(body, reading)
    message = str(caught.value)
    assert message.startswith("draft.svg")
    assert "What to do: " in message
    return message


ONE = Draft("side")

# -- outlines in pieces -------------------------------------------------------------------


@pytest.mark.parametrize("gap", [0.0, 0.2, 0.49])
def test_outline_in_four_pieces_is_joined_and_its_largest_gap_told(gap: float) -> None:
    found = pattern(ONE.pieces(gap) + ONE.line())
    (panel,) = found.panels
    assert len(panel.outline) == 6
    assert panel.outline.closed
    assert any(f"4 pieces, largest gap {gap:.3f} mm" in note for note in found.notes)
    assert length(panel.outline) == pytest.approx(
        length(pattern(ONE.panel()).panels[0].outline), abs=gap
    )
    assert not found.left_out


def test_gap_beyond_the_tolerance_is_refused_with_its_size_and_place() -> None:
    message = refusal(ONE.pieces(0.8) + ONE.line())
    assert "a gap of 0.80 mm at (34.0, 80.8) mm" in message
    assert "ends within 0.5 mm are joined" in message
    assert "join_tolerance" in message


def test_larger_tolerance_closes_the_gap() -> None:
    found = pattern(ONE.pieces(0.8) + ONE.line(), Reading(join_tolerance=1.0))
    assert len(found.panels) == 1


def test_smaller_tolerance_leaves_the_gap() -> None:
    body = ONE.pieces(0.3) + ONE.line()
    with pytest.raises(PatternError, match=r"a gap of 0\.30 mm"):
        pattern(body, Reading(join_tolerance=0.1))


def test_single_open_path_with_a_gap_is_refused() -> None:
    data = ONE.data.removesuffix("Z").removesuffix("34.0 80.0") + "34 90"
    message = refusal(path(data, "side") + ONE.line())
    assert "this outline is open: a gap of 10.00 mm" in message
    assert "draft.svg, side" in message


def test_single_open_path_that_returns_to_its_start_is_closed() -> None:
    found = pattern(path(ONE.data.removesuffix("Z"), "side") + ONE.line())
    assert [panel.name for panel in found.panels] == ["side"]


def test_pieces_in_any_order_and_sense_make_the_same_outline() -> None:
    source = drawing(ONE.pieces() + ONE.line())
    top, right, bottom, left, waist = source.shapes

    def back(shape: Shape) -> Shape:
        return replace(shape, curve=shape.curve.reversed())

    mixed = replace(source, shapes=(back(left), waist, top, back(bottom), right))
    assert length(assemble(mixed).panels[0].outline) == pytest.approx(
        length(assemble(source).panels[0].outline)
    )


@pytest.mark.parametrize("last", ["M10 60H-10", "M-10 60H10", "M-10 60H10M-30 60H-10"])
def test_lines_that_hang_on_a_joint_are_no_pieces_of_the_outline(last: str) -> None:
    # Each is loose only when the one that hangs on it is taken away.
    hanging = path("M34 80L10 60", "one") + path(last, "two")
    (panel,) = pattern(ONE.pieces() + hanging + ONE.line()).panels
    plain = pattern(ONE.pieces() + ONE.line()).panels[0].outline
    assert length(panel.outline) == pytest.approx(length(plain))


def test_unnamed_level_line_that_ends_at_joints_is_no_piece_of_the_outline() -> None:
    # The sides are drawn in two pieces each, that meet at the underbust.
    half_way = "M40 200C40 160 37 160 34 80"
    other = "M90 200C90 160 93 160 96 80"
    low = "M40 200C40 240 31 270 31 300M90 200C90 240 99 270 99 300M31 300H99M34 80H96"
    body = path(half_way, "a") + path(other, "b") + path(low, "c") + path("M40 200H90", "line9")
    found = pattern(body + path("M30 180H100", "waist"))
    (panel,) = found.panels
    assert panel.waist.height == pytest.approx(0.0)
    assert [level.ident for level in panel.levels] == ["line9"]
    assert panel.levels[0].height == pytest.approx(-20.0, abs=1e-6)


def test_pieces_of_neighbours_that_share_an_end_are_refused_and_listed() -> None:
    # Two panels laid corner to corner: four ends meet in one point.
    a = Draft("a", x=40.0, left=(0, 0), right=(6, 9))
    b = Draft("b", x=40.0 + 50.0 + 9.0 + 5.0, left=(5, 5), right=(0, 0))
    message = refusal(a.pieces() + b.pieces() + a.line(over=1) + b.line(over=1))
    assert "more than two pieces of an outline meet in one point" in message
    assert "a top, a right, a bottom, a left, b top, b right, b bottom, b left" in message


# -- waistlines ---------------------------------------------------------------------------


def test_one_long_waistline_serves_all_panels_cut_off_at_each_ones_edges() -> None:
    drafts = half(4)
    body = "".join(d.outline() for d in drafts) + path("M0 200H900", "waist")
    found = pattern(body)
    assert [round(panel.waist_width, 6) for panel in found.panels] == [40.0, 44.0, 48.0, 52.0]
    assert all(panel.waist.ident == "waist" for panel in found.panels)
    assert not found.left_out


@pytest.mark.parametrize("short", [0.0, 0.5, 1.9])
def test_waistline_drawn_just_up_to_the_outline_crosses_it(short: float) -> None:
    found = pattern(ONE.outline() + ONE.line(over=-short))
    assert found.panels[0].waist_width == pytest.approx(50.0, abs=1e-6)


def test_waistline_two_and_a_half_mm_short_at_one_end_crosses_once() -> None:
    message = refusal(ONE.outline() + path("M42.5 200H110", "waist"))
    assert "waistline waist crosses this outline once, not twice" in message
    assert "more than 2 mm short" in message
    assert "draft.svg, side" in message


def test_waistline_well_inside_a_panel_crosses_nothing_and_is_refused() -> None:
    message = refusal(ONE.outline() + ONE.line(over=-10.0))
    assert "no waistline crosses an outline twice" in message


def test_waistline_across_a_pocketed_edge_crosses_four_times() -> None:
    hooked = path("M40 80H90V220H80V190H70V300H40Z", "side")
    message = refusal(hooked + path("M30 200H100", "waist"))
    assert "crosses this outline 4 times, not twice" in message


def test_waistline_through_polygon_vertices_counts_each_once() -> None:
    found = pattern(
        '<polygon id="side" points="34,80 96,80 90,200 99,300 31,300 40,200"/>'
        + path("M40 200H90", "waist")
    )
    (panel,) = found.panels
    assert panel.waist_width == pytest.approx(50.0)
    assert length(panel.edge("front")) == pytest.approx(np.hypot(6.0, 120.0) + np.hypot(9.0, 100.0))


@pytest.mark.parametrize(("apart", "over"), [(0.0, 0.0), (0.0, 0.5), (1.0, 0.0), (1.0, 1.5)])
def test_waistlines_of_panels_that_lie_edge_to_edge_belong_to_their_own(
    apart: float, over: float
) -> None:
    first = Draft("a", right=(0, 0))
    second = Draft("b", x=90.0 + apart, waist=44.0, left=(0, 0))
    body = "".join(d.outline() + d.line(over=over) for d in (first, second))
    found = pattern(body)
    assert [panel.waist_width for panel in found.panels] == pytest.approx([50.0, 44.0])
    assert not found.left_out


def test_slanting_and_curved_waistlines_are_read() -> None:
    slanting = pattern(ONE.outline() + path("M30 196L100 204", "waist")).panels[0]
    assert slanting.waist.curve.start[1] < 200.0 < slanting.waist.curve.end[1]
    assert abs(slanting.frame.across @ np.array([0.0, 1.0])) > 0.05
    curved = pattern(ONE.outline() + path("M35 200C50 206 80 206 95 200", "waist")).panels[0]
    assert length(curved.waist.curve) > curved.waist.width


@pytest.mark.parametrize(
    "attributes",
    [
        'id="waist"',
        'id="Waistline_3"',
        'id="WAIST-LINE"',
        'id="x7" data-level="waist"',
        'id="WL"',
        'id="l1" class="wl"',
        'id="path3" aria-label="natural waist"',
    ],
)
def test_waistline_is_known_by_any_of_its_names(attributes: str) -> None:
    other = ONE.line("line", 40.0)
    found = pattern(ONE.outline() + other + f'<path {attributes} d="M20 200H110"/>')
    assert found.panels[0].waist.height == pytest.approx(0.0)
    assert len(found.panels[0].levels) == 1


def test_waistline_is_known_by_its_group() -> None:
    found = pattern(
        group(panels([]) + ONE.outline(), "pieces")
        + group(path("M20 200H110", "path1"), "waist lines")
        + path("M20 170H110", "path2")
    )
    assert found.panels[0].waist.ident == "path1"


def test_only_line_across_each_panel_is_taken_as_the_waist_with_a_note() -> None:
    drafts = half(3)
    body = "".join(
        d.outline() + path(f"M{d.x - 1} 200H{d.x + d.waist + 1}", f"line{k}")
        for k, d in enumerate(drafts)
    )
    found = pattern(body)
    assert len(found.panels) == 3
    assert any("taken as waistline" in n and "line0, line1, line2" in n for n in found.notes)


def test_several_unnamed_lines_are_refused_and_listed() -> None:
    body = ONE.outline() + "".join(
        path(f"M20 {y}H110", f"line{k}") for k, y in enumerate((140, 200, 250))
    )
    message = refusal(body)
    assert "no line is marked as the waistline" in message
    for k, y in enumerate((140, 200, 250)):
        assert f"line{k} (line that is not painted, 20 to 110 mm from the left, {y} mm" in message
    assert "waistlines in the job file" in message


def test_two_pieces_of_a_line_beside_the_only_whole_one_are_told_together() -> None:
    # Either by itself is too short to be another line across.
    rest = ONE.outline() + path("M20 200H110", "whole") + path("M38 145H58", "one")
    assert pattern(rest).panels[0].waist is not None
    message = refusal(rest + path("M68 145H88", "two"))
    assert "whole crosses the outline" in message
    assert "other lines lie across it as well: one, two\n" in message


def test_lines_across_are_told_from_the_left_and_from_the_bottom_up() -> None:
    body = "".join(
        d.outline() + "".join(path(f"M{d.x - 9} {y}H{d.x + d.waist + 9}", "") for y in (140, 200))
        for d in reversed(half(3))
    )
    found = lines_across(outlined(drawing(body), Reading()))
    assert [(line.place, line.height) for line in found] == [
        (place, pytest.approx(height)) for place in (1, 2, 3) for height in (100.0, 160.0)
    ]
    panels = [line.panel for line in found[::2]]
    assert panels == [shape.ident for shape in drawing(body).shapes[::3]][::-1]


def test_a_path_of_an_outline_and_its_waistline_names_its_panel() -> None:
    (panel,) = pattern(path(ONE.data + "M30 200H100", "side")).panels
    assert panel.name == "side"


def test_job_may_name_the_waistlines() -> None:
    body = ONE.outline() + path("M20 140H110", "line0") + path("M20 200H110", "line1")
    found = pattern(body, Reading(waistlines=("line1",)))
    assert found.panels[0].waist.ident == "line1"
    assert [level.ident for level in found.panels[0].levels] == ["line0"]


def test_job_that_names_a_waistline_that_is_not_there_is_refused() -> None:
    message = refusal(ONE.panel(), Reading(waistlines=("line9",)))
    assert "waistline 'line9' is not in the drawing" in message


@pytest.mark.parametrize("body", [ONE.outline(), path("M20 200H110", "waist"), "", text("x", 1, 1)])
def test_drawing_without_a_waistline_or_an_outline_is_refused(body: str) -> None:
    message = refusal(body)
    assert "no waistline found" in message or "no panel found: 0 closed outline(s)" in message


def test_two_waistlines_across_one_panel_are_refused_with_both_ids() -> None:
    message = refusal(ONE.outline() + ONE.line("waist a") + ONE.line("waist b", 20.0))
    assert "two waistlines cross this outline: waist a side and waist b side" in message


@pytest.mark.parametrize(
    ("name", "other", "level"),
    [
        ("waist", "18 cm above waist", "level +40"),
        ("path7", "18 cm above waist", "level +40"),
        ("path7", "hip 9 cm below the waist", "hip"),
        ("waist", "low waist", "low waist"),
    ],
)
def test_a_line_named_by_the_waist_that_it_is_not_is_a_level(
    name: str, other: str, level: str
) -> None:
    height = 40.0 if "above" in other else -40.0
    body = path("M35 200H95", name) + path(f"M30 {200.0 - height}H100", other)
    found = pattern(ONE.outline() + body)
    assert found.panels[0].waist_width == pytest.approx(50.0)
    assert [(one.name, one.height) for one in found.panels[0].levels] == [(level, height)]


def test_edges_of_a_waist_tape_are_no_waistlines_beside_one() -> None:
    tape = path("M30 190H100", "waist tape top") + path("M30 210H100", "waist tape bottom")
    found = pattern(ONE.panel() + tape)
    assert [level.name for level in found.panels[0].levels] == [
        "waist tape top",
        "waist tape bottom",
    ]
    alone = pattern(ONE.outline() + path("M30 200H100", "waist tape"))
    assert alone.waist == found.waist


def test_waistline_drawn_twice_is_used_once_and_the_other_told() -> None:
    found = pattern(ONE.outline() + ONE.line("waist a") + ONE.line("waist b"))
    assert len(found.panels) == 1
    told = left_out(found)
    assert list(told) == ["waist b side"]
    assert told["waist b side"] == "drawn twice: it lies on top of waist a side"
    assert not found.warnings


def test_waistline_that_crosses_nothing_warns_that_a_panel_may_be_missing() -> None:
    found = pattern(ONE.panel() + path("M400 200H460", "waist far"))
    assert left_out(found) == {"waist far": "a waistline that crosses no panel"}
    assert any("waist far" in w and "is a panel missing?" in w for w in found.warnings)


def test_small_shape_without_a_waistline_is_left_out_without_a_warning() -> None:
    found = pattern(ONE.panel() + '<circle id="logo" cx="400" cy="50" r="8"/>')
    assert not found.warnings
    assert "no waistline crosses it" in left_out(found)["logo"]


# -- outlines that are no good ------------------------------------------------------------


def test_outline_like_a_bow_tie_is_refused_with_the_place() -> None:
    message = refusal(path("M40 80L90 300H40L90 80Z", "side") + path("M0 220H130", "waist"))
    assert "crosses itself at (65.0, 190.0) mm" in message
    assert "draft.svg, side" in message


def test_self_crossing_place_is_right() -> None:
    # A spike over the top edge crosses it at x = 60.
    data = "M40 80H80L60 60V100L50 85H40Z"
    body = path(data.replace("H40Z", "H40V300H90V80Z"), "side") + path("M30 200H100", "waist")
    assert "crosses itself at (60.0, 80.0)" in refusal(body)


# -- shapes within shapes -----------------------------------------------------------------


def test_frame_round_everything_is_no_panel_and_is_told() -> None:
    drafts = half(3)
    body = '<rect id="rect1" x="5" y="5" width="900" height="500"/>'
    body += "".join(d.outline() for d in drafts) + path("M0 200H950", "waist")
    found = pattern(body)
    assert len(found.panels) == 3
    assert left_out(found) == {"rect1": "a frame round 3 panels"}


def test_seam_allowance_round_the_net_outline_is_left_out_and_told() -> None:
    drafts = half(3)
    body = ""
    for d in drafts:
        outer = Draft(
            d.name + " outer",
            d.x - 10,
            d.y,
            d.waist + 20,
            d.left,
            d.right,
            d.above + 10,
            d.below + 10,
        )
        body += (
            outer.outline()
            + d.outline()
            + path(f"M{d.x - 12} 200H{d.x + d.waist + 12}", f"waist {d.name}")
        )
    found = pattern(body)
    assert [panel.name for panel in found.panels] == ["panel 1", "panel 2", "panel 3"]
    assert found.panels[0].waist_width == pytest.approx(40.0)
    told = left_out(found)
    assert told["panel 2 outer"] == (
        "the seam allowance round panel 2, which is taken as the net outline"
    )
    assert len(told) == 3


def test_outline_drawn_twice_is_one_panel_and_told() -> None:
    body = ONE.outline(ident="side") + ONE.outline(ident="side again") + ONE.line()
    found = pattern(body)
    assert len(found.panels) == 1
    (reason,) = left_out(found).values()
    assert "drawn twice" in reason


def test_named_seam_allowance_and_cut_line_are_left_out() -> None:
    body = path("M24 70H106V310H21Z", "cut line") + ONE.panel()
    found = pattern(body)
    assert [panel.name for panel in found.panels] == ["side"]
    assert "seam allowance or cut line" in left_out(found)["cut line"]


@pytest.mark.parametrize("where", ["before", "after"])
def test_closed_bone_channels_crossed_by_the_waist_are_no_panels(where: str) -> None:
    strips = '<rect id="s1" x="42" y="90" width="8" height="200"/>'
    strips += '<rect id="s2" x="60" y="90" width="8" height="200"/>'
    body = strips + ONE.panel() if where == "before" else ONE.panel() + strips
    found = pattern(body)
    assert [panel.name for panel in found.panels] == ["side"]
    assert {mark.ident for mark in found.panels[0].marks} == {"s1", "s2"}
    assert not found.warnings


def test_narrow_panel_by_itself_is_still_a_panel() -> None:
    narrow = Draft("godet", waist=12.0)
    assert [panel.name for panel in pattern(narrow.panel()).panels] == ["godet"]


# -- names that mislead -------------------------------------------------------------------


@pytest.mark.parametrize(
    "name",
    [
        "3 hip",
        "underbust corset",
        "Hourglass, mid-bust corset, page 1",
        "frame 2",
        "Title",
        "Waist cincher",
        "cut line and all",
        "bones",
        "grain upright",
        "stitch line",
    ],
)
def test_group_whose_name_holds_a_mark_word_does_not_lose_its_panel(name: str) -> None:
    drafts = half(3)
    found = pattern(group(panels(drafts), name))
    assert [panel.name for panel in found.panels] == ["panel 1", "panel 2", "panel 3"]
    assert not found.left_out


@pytest.mark.parametrize("name", ["3 hip", "bust gusset", "under bust side", "hip"])
def test_group_of_one_panel_named_after_a_level_keeps_its_lines_apart(name: str) -> None:
    draft = Draft("path8")
    lines = path("M20 200H110", "waist") + path("M20 120H110", "bust")
    found = pattern(group(draft.outline() + lines, name))
    (panel,) = found.panels
    assert panel.name == name
    assert [level.name for level in panel.levels] == ["bust"]


@pytest.mark.parametrize("name", ["3 hip", "hip panel", "bust side", "underbust 2"])
def test_outline_named_after_a_level_is_a_panel(name: str) -> None:
    found = pattern(Draft(name).outline() + path("M20 200H110", "waist"))
    assert [panel.name for panel in found.panels] == [name]


def test_document_title_does_not_name_the_shapes() -> None:
    body = "<title>Hourglass, mid-bust corset, page 1</title>" + panels(half(3))
    assert len(pattern(body).panels) == 3


def test_panels_in_pieces_whose_corners_touch_are_told_apart_by_their_groups() -> None:
    def piece(ident: str, points: list[tuple[float, float]], group: str) -> Shape:
        return Shape(Curve.polyline(points), ident, groups=(group,))

    drawing = Drawing(
        (
            piece("a1", [(50, 0), (0, 0), (0, 100)], "first"),
            piece("a2", [(0, 100), (50, 100), (50, 0)], "first"),
            piece("b1", [(50, 100), (100, 100), (100, 0)], "second"),
            piece("b2", [(100, 0), (50, 0), (50, 100)], "second"),
            Shape(Curve.polyline([(0, 60), (50, 60)]), "waist a", names=("waist a",)),
            Shape(Curve.polyline([(50, 60), (100, 60)]), "waist b", names=("waist b",)),
        )
    )
    assert [panel.name for panel in assemble(drawing).panels] == ["first", "second"]


def marked(draft: Draft, *, inside: float = 6.0, outside: float = 0.0) -> str:
    """An outline with a short mark named waist at either side edge."""
    left, right = draft.x, draft.x + draft.waist
    return (
        draft.outline()
        + path(f"M{left - outside} 200H{left + inside}", f"waist {draft.name} left")
        + path(f"M{right + outside} 200H{right - inside}", f"waist {draft.name} right")
    )


@pytest.mark.parametrize(("inside", "outside"), [(6.0, 0.0), (0.0, 8.0), (4.0, 4.0), (6.0, -1.0)])
def test_two_marks_named_waist_are_a_waistline(inside: float, outside: float) -> None:
    drafts = half(3)
    found = pattern("".join(marked(d, inside=inside, outside=outside) for d in drafts))
    drawn = pattern(panels(drafts))
    assert found.waist == pytest.approx(drawn.waist, abs=1e-6)
    for one, other in zip(found.panels, drawn.panels, strict=True):
        np.testing.assert_allclose(one.frame.matrix, other.frame.matrix, atol=1e-9)
    assert [[mark.kind for mark in panel.marks] for panel in found.panels] == [["notch"] * 2] * 3
    assert [remark.code for remark in found.ledger].count("waist-marks") == 3


def test_waist_marks_beside_a_waistline_are_notches() -> None:
    one = Draft("one")
    found = pattern(marked(one) + one.line("waist line"))
    assert "waist-marks" not in [remark.code for remark in found.ledger]


def test_two_waist_marks_on_one_side_are_refused() -> None:
    one = Draft("one")
    marks = path(f"M{one.x} 195h6", "waist a") + path(f"M{one.x} 205h6", "waist b")
    with pytest.raises(PatternError, match="Mark the waist once on either side edge"):
        pattern(one.outline() + marks)


def test_one_waist_mark_alone_is_refused() -> None:
    one = Draft("one")
    body = one.outline() + path(f"M{one.x} 200h6", "waist mark")
    with pytest.raises(PatternError, match="1 short mark named waist touches"):
        pattern(body)
