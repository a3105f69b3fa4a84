"""Level lines, marks and texts go to the panel they lie on, and nothing is lost on the way."""

from __future__ import annotations

import random
from dataclasses import replace

import numpy as np
import pytest

from panelshift.construction.channels import channels_of
from panelshift.construction.sewing import Bones
from panelshift.draft import Reading, assemble
from panelshift.errors import ConstructionError, PatternError
from panelshift.outline.crossing import nearest_position
from panelshift.outline.measure import length
from panelshift.pattern.drawing import Drawing
from panelshift.pattern.pattern import Pattern
from tests.support.drawings import Draft, drawing, group, half, panels, path, pattern, text

ONE = Draft("side")


def kinds(found: Pattern) -> list[list[tuple[str, str]]]:
    return [[(mark.kind, mark.ident) for mark in panel.marks] for panel in found.panels]


def test_a_channel_that_ends_where_it_began_is_an_outline() -> None:
    for line, drawn, long in (
        ("M60 120V280H67V120H60", "an outline", 160.0),
        ("M60 120V280V120", "one line", 160.0),
    ):
        (channel,) = channels_of(pattern(ONE.panel() + path(line, "bone")))
        assert (channel.drawn, channel.length) == (drawn, pytest.approx(long))


STEELS = Bones("coutille", 5.5, 1.5)


@pytest.mark.parametrize(
    ("lines", "drawn"),
    [
        (("M60 120V280H67V120H60.3",), "an outline"),
        (("M60 120V280H67V120.1",), "an outline"),
        (("M60 120V280H67V120",), "an outline"),
        (("M60 120V280", "M67 120V280", "M60 120H67", "M60 280H67"), "an outline"),
        (("M60 120V280H67", "M60 120H67V280"), "an outline"),
        (("M60 120V280H67V120H60Z", "M63.5 118V280"), "an outline"),
        (("M60 120V280H67V120H60Z", "M61 121V279H66V121H61Z"), "an outline"),
        (("M60 120V280", "M67 120V280", "M60 280H67"), "two lines"),
        (("M60 120V200", "M67 120V200", "M60 200V280", "M67 200V280"), "two lines"),
        (("M63.5 120V280", "M61 125L63.5 120L66 125"), "one line"),
        (("M63.5 120V200", "M63.5 200.2V280"), "one line"),
        (("M63.5 120V280V120",), "one line"),
        (("M63.5 120V280V150",), "one line"),
        (("M63.5 120V280Z",), "one line"),
    ],
)
def test_one_channel_of_160_mm_is_one_however_it_is_drawn(
    lines: tuple[str, ...], drawn: str
) -> None:
    # Ends that miss each other, sides and ends by themselves, a bone in its channel: one bone
    # that is told once, and not at twice its length.
    found = pattern(ONE.panel() + group("".join(path(line) for line in lines), "bones"))
    for bones in (None, STEELS):
        (channel,) = channels_of(found, bones)
        assert (channel.drawn, channel.length) == (drawn, pytest.approx(160.0, abs=0.1))
        assert np.interp(200.0, *channel.middle.T[::-1]) == pytest.approx(
            found[0].frame.to_panel(np.array([[63.5, 200.0]]))[0, 0], abs=0.1
        )


def test_channels_side_by_side_stay_two() -> None:
    # Each misses its start by 0.1 mm, and both have corners in the same places.
    boxes = [f"M{x} 120V280H{x + 7}V120H{x + 0.1}" for x in (60, 67)]
    for together in (False, True):
        lines = "".join(path(box, f"bone {k}") for k, box in enumerate(boxes))
        found = channels_of(pattern(ONE.panel() + (group(lines, "g") if together else lines)))
        assert [channel.length for channel in found] == pytest.approx([160.0, 160.0], abs=0.1)
    # A line in the middle of a casing for two bones parts it.
    wide = path("M60 120V280H74V120Z", "bone casing") + path("M67 120V280", "bone line")
    assert len(channels_of(pattern(ONE.panel() + wide))) == 2
    with pytest.raises(ConstructionError, match="may hold several bones"):
        channels_of(pattern(ONE.panel() + wide), STEELS)
    with pytest.raises(ConstructionError, match=r"15\.0 mm wide: it may hold several bones"):
        channels_of(pattern(ONE.panel() + path("M60 120V280H75V120Z", "bone")), STEELS)
    one = replace(STEELS, drawn_as="outlines")
    assert len(channels_of(pattern(ONE.panel() + wide), one)) == 1


@pytest.mark.parametrize(
    ("one", "two", "count"),
    [
        ("M86.5 120V280h7V120Z", "M136.5 121V279h7V121Z", 1),
        ("M90 120V280", "M140 120V280", 1),
        ("M82 120V280h7V120Z", "M141 120V280h7V120Z", 2),
        ("M90 120V195", "M140 205V280", 2),
    ],
)
def test_a_channel_over_a_seam_is_one_though_both_panels_show_it(
    one: str, two: str, count: int
) -> None:
    straight = [
        Draft(f"panel {k}", x, left=(0, 0), right=(0, 0)) for k, x in ((1, 40.0), (2, 140.0))
    ]
    found = pattern(panels(straight) + path(one, "bone 1") + path(two, "bone 2"))
    assert [len(panel.marks) for panel in found] == [1, 1]
    for bones in (None, STEELS):
        assert len(channels_of(found, bones)) == count


@pytest.mark.parametrize("line", ["M65 20V380", "M61 20V380H68V20Z", "M61 20V380M68 20V380"])
def test_a_channel_ends_where_its_panel_does(line: str) -> None:
    # Drawn through the seam allowance as far as the cut edges; the panel is 220 mm high.
    for bones in (None, STEELS):
        (channel,) = channels_of(pattern(ONE.panel() + path(line, "bone")), bones)
        assert channel.length == pytest.approx(ONE.above + ONE.below)
        assert channel.middle[[0, -1], 1] == pytest.approx([-ONE.below, ONE.above])


def test_two_lines_are_one_channel_wherever_their_nodes_are() -> None:
    lines = path("M60 120V130V280", "bone 1") + path("M67 120V270V280", "bone 2")
    (channel,) = channels_of(pattern(ONE.panel() + lines))
    assert (channel.drawn, channel.width) == ("two lines", pytest.approx(7.0))
    assert channel.length == pytest.approx(160.0)


# -- level lines --------------------------------------------------------------------------


@pytest.mark.parametrize(
    "line",
    ["M20 150H110", "M20 150H110Z", "M20 150H110H20", "M20 150H50|M110 150H80|M50 150H80"],
)
def test_a_level_is_one_line_however_it_is_drawn(line: str) -> None:
    body = "".join(
        path(piece.replace("150", str(y)), f"{name} {k}")
        for name, y in (("bust", 150), ("waist", 200), ("hip", 260))
        for k, piece in enumerate(line.split("|"))
    )
    (panel,) = pattern(ONE.outline() + body).panels
    plain = pattern(ONE.panel() + path("M20 150H110", "bust") + path("M20 260H110", "hip"))[0]
    assert [level.name for level in panel.level_lines] == ["waist", "bust", "hip"]
    for one, two in zip(panel.level_lines, plain.level_lines, strict=True):
        assert (one.height, one.width) == pytest.approx((two.height, two.width))


@pytest.mark.parametrize("line", ["M48 150H82", "M20 150H60|M70 150H110"])
def test_a_level_that_does_not_reach_both_sides_is_told(line: str) -> None:
    body = "".join(path(piece, f"bust {k}") for k, piece in enumerate(line.split("|")))
    found = pattern(ONE.panel() + body)
    assert found.level_names() == ("waist",)
    (words,) = (r.words for r in found.ledger if r.code == "level-unused")
    assert "bust 0" in words
    assert "side; draw it across" in words
    # Neither what marks the bust point, nor what is drawn beside the level itself.
    points = path("M60 150H68", "bust point") + path("M64 146V154", "bust point 2")
    below = path("M20 150H110", "bust") + path("M48 160H82", "bust 2")
    for more in (points, below):
        assert not [r for r in pattern(ONE.panel() + more).ledger if r.code == "level-unused"]


@pytest.mark.parametrize(
    ("name", "level"),
    [
        ("bust", "bust"),
        ("BustLine", "bust"),
        ("overbust", "overbust"),
        ("under-bust 2", "underbust"),
        ("high_hip", "high hip"),
        ("HighHip", "high hip"),
        ("low hip", "low hip"),
        ("hipline", "hip"),
        ("hips", "hip"),
        ("rib", "rib"),
        ("path7", "level +60"),
    ],
)
def test_level_line_is_called_after_its_name(name: str, level: str) -> None:
    height = -60.0 if "hip" in level else 60.0
    found = pattern(ONE.panel() + path(f"M20 {200 - height}H110", name))
    (read,) = found.panels[0].levels
    assert read.name == level
    assert read.height == pytest.approx(height, abs=1e-6)
    assert found.panels[0].frame.up == pytest.approx([0.0, -1.0])


def test_level_of_ones_own_naming_is_read_from_data() -> None:
    found = pattern(ONE.panel() + path("M20 260H110", "path1", 'data-level="Top of thigh"'))
    assert [level.name for level in found.panels[0].levels] == ["Top of thigh"]


def test_level_is_cut_off_at_the_side_edges_and_runs_from_front_to_back() -> None:
    found = pattern(ONE.panel() + path("M200 140H10", "bust"))
    (level,) = found.panels[0].levels
    assert level.curve.start[0] < level.curve.end[0]
    for end in (level.curve.start, level.curve.end):
        assert nearest_position(found.panels[0].outline, end)[1] < 1e-6


def test_one_long_level_over_all_panels_is_cut_for_each() -> None:
    drafts = half(4)
    found = pattern(panels(drafts) + path("M0 140H900", "bust"))
    assert all([level.name for level in panel.levels] == ["bust"] for panel in found.panels)
    assert found.level_height("bust") == pytest.approx(60.0)
    assert not found.left_out


def test_levels_are_sorted_from_the_top_down_whatever_their_order_in_the_file() -> None:
    body = "".join(ONE.line(n, h) for n, h in (("hip", -70), ("bust", 80), ("underbust", 40)))
    found = pattern(ONE.panel() + body)
    assert [level.name for level in found.panels[0].levels] == ["bust", "underbust", "hip"]
    assert found.level_names() == ("bust", "underbust", "waist", "hip")


def test_two_levels_of_one_name_are_kept_apart() -> None:
    found = pattern(ONE.panel() + ONE.line("hip", -40) + path("M20 270H110", "hip b"))
    assert [level.name for level in found.panels[0].levels] == ["hip", "hip~2"]
    (told,) = (remark for remark in found.ledger if remark.code == "level-twice")
    assert (told.kind, told.elements) == ("warning", ("hip b",))
    assert "side: more than one line is called after the level hip; the one at -70 mm" in told.words


def test_lines_that_are_as_high_but_for_rounding_are_not_told_as_twice() -> None:
    found = pattern(ONE.panel() + path("M20 150.4H110", "a") + path("M20 149.6H110", "b"))
    assert [level.name for level in found.panels[0].levels] == ["level +50", "level +50~2"]
    assert not [remark for remark in found.ledger if remark.code == "level-twice"]


def test_level_line_that_stops_inside_is_kept_as_a_mark() -> None:
    found = pattern(ONE.panel() + path("M50 140H70", "bust"))
    assert not found.panels[0].levels
    assert kinds(found) == [[("level", "bust")]]


# -- marks --------------------------------------------------------------------------------


def test_each_kind_of_mark_is_known_by_its_name_and_given_to_its_panel() -> None:
    first, second = half(2)
    x = second.x
    body = (
        path(f"M{x + 20} 120V280", "grainline")
        + path(f"M{x + 25} 120V280", "grain b")
        + path(f"M{x} 200h6", "notch 1")
        + path(f"M{x + 10} 90V290h6V90Z", "bone channel")
        + path(f"M{x + 30} 90V290h6V90Z", "casing 2")
        + path(f"M{x + 12} 150l8 8", "path77")
    )
    found = pattern(panels([first, second]) + body)
    assert kinds(found)[0] == []
    assert kinds(found)[1] == [
        ("grainline", "grainline"),
        ("grainline", "grain b"),
        ("notch", "notch 1"),
        ("bone", "bone channel"),
        ("bone", "casing 2"),
        ("mark", "path77"),
    ]


def test_marks_take_their_kind_from_their_group() -> None:
    body = ONE.panel() + group(path("M60 120V280", "path1"), "bones")
    assert kinds(pattern(body)) == [[("bone", "path1")]]


def test_short_unnamed_line_at_the_edge_is_a_notch_inside_or_out() -> None:
    body = ONE.panel() + path("M90 200h-6", "path1") + path("M90.5 199h7", "path2")
    assert kinds(pattern(body)) == [[("notch", "path1"), ("notch", "path2")]]


@pytest.mark.parametrize("name", ["path1", "notch"])
def test_a_short_line_right_across_the_edge_is_a_notch_that_begins_there(name: str) -> None:
    found = pattern(ONE.panel() + path("M84 201L97 199", name))
    assert kinds(found) == [[("notch", name)]]
    ends = found.panels[0].marks[0].curve.points([0.0, 1.0])
    # The longer part of it, and the edge stands upright there.
    assert ends[0] == pytest.approx([90.0, 201.0 - 12.0 / 13.0], abs=0.02)
    assert ends[1] == pytest.approx([97.0, 199.0])


@pytest.mark.parametrize("name", ["path1", "notch"])
def test_a_notch_in_uneven_pieces_is_one(name: str) -> None:
    """Its long piece crosses the edge, and the places that are looked at lie on the short ones."""
    (mark,) = pattern(ONE.panel() + path("M85 200h.5h.5h.5h.5h16", name)).panels[0].marks
    assert (mark.kind, mark.ident) == ("notch", name)
    assert mark.curve.start == pytest.approx([90.0, 200.0], abs=1e-6)
    assert mark.curve.end == pytest.approx([103.0, 200.0])


def test_vertical_line_from_top_to_bottom_is_no_level() -> None:
    found = pattern(ONE.panel() + path("M65 70V310", "path1"))
    assert not found.panels[0].levels
    assert kinds(found) == [[("mark", "path1")]]


def test_mark_that_lies_on_two_panels_goes_to_where_most_of_it_lies() -> None:
    first, second = Draft("a", right=(0, 0)), Draft("b", x=90.0, left=(0, 0))
    body = panels([first, second]) + path("M70 120L125 126", "path1")
    assert kinds(pattern(body)) == [[], [("mark", "path1")]]


def test_texts_go_to_the_panel_they_stand_on() -> None:
    first, second = half(2)
    body = panels([first, second])
    body += text("one", 70, 150, "t1") + text("two", second.x + 5, 150, "t2")
    body += text("beside", second.x + 50, 200, "t3") + text("heading", 500, 20, "t4")
    found = pattern(body)
    assert [[t.content for t in panel.texts] for panel in found.panels] == [["one"], ["two"]]
    assert [(o.ident, o.reason) for o in found.left_out] == [
        ("t3", "text outside every panel"),
        ("t4", "text outside every panel"),
    ]


def test_reasons_name_what_was_left_out() -> None:
    body = (
        ONE.panel()
        + path("M400 100H420", "stray")
        + '<rect id="test square" x="400" y="200" width="50" height="50"/>'
        + '<image id="photo" href="x.png" width="9" height="9"/>'
        + path("M300 10H320", "ruler", 'style="display:none"')
    )
    told = {item.ident: item.reason for item in pattern(body).left_out}
    assert set(told) == {"stray", "test square", "photo", "ruler"}
    assert "lies on no panel" in told["stray"]
    assert "sheet mark" in told["test square"]
    assert "display: none" in told["ruler"]


# -- nothing is lost ----------------------------------------------------------------------


def accounted(source: Drawing, found: Pattern) -> dict[str, int]:
    """How often each shape and text of a drawing appears in the pattern, by ident."""
    count = dict.fromkeys((item.ident for item in (*source.shapes, *source.texts)), 0)
    for panel in found.panels:
        # Pieces of a joined outline are named in the panel by the first only.
        for ident in {
            panel.ident,
            panel.waist.ident,
            *(level.ident for level in panel.levels),
            *(mark.ident for mark in panel.marks),
            *(t.ident for t in panel.texts),
        }:
            count[ident] += 1
    for item in found.left_out:
        if item.ident in count:
            count[item.ident] += 1
    return count


def mixture(seed: int) -> str:
    """Two or three panels among random shapes and texts, named at random."""
    pick = random.Random(seed)
    drafts = half(pick.choice([2, 3]))
    words = ["", "bust", "hip", "notch", "bone", "grain", "frame", "cut line", "title", "scale"]
    words += ["path", "waist tape?", "net", "guide", "level", "3", "allowance"]
    parts = [draft.panel() for draft in drafts]
    for k in range(40):
        name = f"{pick.choice(words)} n{k}".strip().replace("waist tape?", "tape")
        x, y = pick.uniform(0, 400), pick.uniform(60, 320)
        dx, dy = pick.uniform(-90, 90), pick.uniform(-90, 90)
        kind = pick.randrange(6)
        if kind == 0:
            parts.append(path(f"M{x} {y}l{dx} {dy}", name))
        elif kind == 1:
            parts.append(path(f"M{x} {y}h{dx / 4 + 30}", name))
        elif kind == 2:
            parts.append(f'<circle id="{name}" cx="{x}" cy="{y}" r="{abs(dx) / 4 + 1}"/>')
        elif kind == 3:
            parts.append(path(f"M{x} {y}c{dx} 0 {dx} {dy} 0 {dy}", name))
        elif kind == 4:
            parts.append(text(f"text {k}", x, y, f"t{k}"))
        else:
            parts.append(f'<rect id="{name}" x="{x}" y="{y}" width="7" height="{abs(dy) + 1}"/>')
    pick.shuffle(parts)
    return "".join(parts)


@pytest.mark.slow
def test_random_mixtures_lose_and_double_nothing() -> None:
    read = 0
    for seed in range(16):
        source = drawing(mixture(seed))
        try:
            found = assemble(source)
        except PatternError:
            continue
        read += 1
        count = accounted(source, found)
        long_lines = {level.ident for panel in found.panels for level in panel.level_lines}
        lost = [ident for ident, times in count.items() if times == 0]
        double = [i for i, times in count.items() if times > 1 and i not in long_lines]
        assert not lost, (seed, lost)
        assert not double, (seed, double)
    assert read > 6


def test_line_that_is_a_twin_on_one_panel_only_is_not_left_out() -> None:
    first, second = half(2)
    body = panels([first, second]) + path("M0 140H400", "bust")
    body += path(f"M{first.x - 5} 140H{first.x + 60}", "bust short")
    found = pattern(body)
    assert [item.ident for item in found.left_out] == ["bust short"]
    assert all(len(panel.levels) == 1 for panel in found.panels)


def test_twin_level_line_is_told_not_dropped() -> None:
    found = pattern(ONE.panel() + path("M20 140H110", "bust") + path("M21 140H109", "bust twin"))
    assert [level.ident for level in found.panels[0].levels] == ["bust"]
    assert [(o.ident, o.reason) for o in found.left_out] == [
        ("bust twin", "lies on top of bust"),
    ]


def test_pieces_of_a_joined_outline_are_not_also_left_out() -> None:
    assert not pattern(ONE.pieces() + ONE.line()).left_out


# -- corners ------------------------------------------------------------------------------


def test_rounded_corners_belong_to_the_top_and_bottom() -> None:
    data = "M46 80H84A6 6 0 0 1 90 86V294A6 6 0 0 1 84 300H46A6 6 0 0 1 40 294V86A6 6 0 0 1 46 80Z"
    (panel,) = pattern(path(data, "side") + path("M30 200H100", "waist")).panels
    # Each side ends within the corner's arc, at most half of it.
    for edge in ("front", "back"):
        assert 208.0 - 1e-6 <= length(panel.edge(edge)) <= 208.0 + 2 * 3.0 * np.pi * 0.5 + 0.2
    assert sum(length(curve) for _, curve in panel.runs()) == pytest.approx(length(panel.outline))


def test_smooth_dip_in_the_top_edge_is_no_corner() -> None:
    data = "M40 80C55 95 75 95 90 80V300H40Z"
    (panel,) = pattern(path(data, "side") + path("M30 200H100", "waist")).panels
    assert panel.edge("top").start == pytest.approx([40.0, 80.0])
    assert panel.edge("top").end == pytest.approx([90.0, 80.0])


def test_gentle_bend_between_the_pieces_of_a_side_is_no_corner() -> None:
    data = "M40 80H90L92 140L90 200L91 250L90 300H40Z"
    (panel,) = pattern(path(data, "side") + path("M30 200H100", "waist")).panels
    assert panel.edge("back").end == pytest.approx([90.0, 80.0])
    assert panel.edge("back").start == pytest.approx([90.0, 300.0])


def test_corners_named_in_the_job_win() -> None:
    # The side ends at the top of a gusset, where the outline bends too little for a corner.
    data = "M40 80H80L96 110L90 200V300H40Z"
    body = path(data, "side") + path("M30 200H100", "waist")
    with pytest.raises(PatternError, match=r"bends by 32 degrees .* \(96\.0, 110\.0\)") as asked:
        pattern(body)
    for end in ((96.0, 110.0), (80.0, 80.0)):
        assert f"[{end[0]}, {end[1]}]" in asked.value.remedy
        whole = pattern(body, Reading(corners={"side": {"back_top": end}})).panels[0]
        assert whole.edge("back").end == pytest.approx(end)
    named = pattern(body, Reading(corners={"side": {"back_top": (95.5, 110.2)}})).panels[0]
    assert named.edge("back").end == pytest.approx([96.0, 110.0], abs=0.5)
    assert length(named.edge("top")) == pytest.approx(40.0 + 34.0, abs=0.5)


def test_panel_with_a_pointed_top_is_refused_with_the_remedy() -> None:
    body = path("M65 80L90 200V300H40V200Z", "side") + path("M30 230H100", "waist")
    with pytest.raises(PatternError) as caught:
        pattern(body, Reading(join_tolerance=0.5))
    message = str(caught.value)
    assert "comes to a point" in message
    assert "Cut the point off square" in message
    assert "draft.svg, side" in message


@pytest.mark.parametrize("shape", ["circle", "ellipse"])
def test_round_shape_with_a_waistline_has_a_clear_fate(shape: str) -> None:
    body = f'<{shape} id="side" cx="65" cy="200" r="60" rx="40" ry="60"/>'
    (panel,) = pattern(body + path("M0 200H140", "waist")).panels
    assert sum(length(curve) for _, curve in panel.runs()) == pytest.approx(length(panel.outline))


def test_corners_that_leave_the_waist_off_the_side_edges_are_refused() -> None:
    body = ONE.panel()
    with pytest.raises(PatternError, match="does not run from side edge to side edge"):
        pattern(body, Reading(corners={"side": {"back_top": (93.0, 250.0)}}))
