"""Layers split at lines of their own: the parts are the panel, their new edges are one line."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import given, strategies as st

from panelshift.body import ClassModel
from panelshift.body.turn import turn_of_cloth
from panelshift.cutting.bones import bone_channels, channels_on
from panelshift.draft import Gore, Reading, StandsOn, assemble
from panelshift.errors import PatternError, StackError
from panelshift.outline import Curve
from panelshift.outline.crossing import nearest_position
from panelshift.outline.measure import length, position_at_length
from panelshift.outline.planar import line, polygon
from panelshift.pattern.panel import EDGE_NAMES, Mark, Panel, grain_of
from panelshift.pattern.pattern import Pattern
from panelshift.pattern.two_sides import both_sides
from panelshift.shift import LayerPattern, panel_parts, shift
from panelshift.shift.split_panels import refuse_unsplittable
from panelshift.sources.svg import draft_svg, read_svg
from panelshift.stack import Fabric, Stack
from tests.support.examples import examples
from tests.support.gored import HEM, PANELS, gored_svg, wedge

# Panels stand 190 mm apart from 60 on, 110 wide, the waist at 220, tops at 70, hems at 370.
ACROSS = '<path id="rib" d="M40 150 C 200 120 400 160 600 140"/>'
UPRIGHT = '<path id="style" d="M300 40 C 320 200 290 250 310 390"/>'
BAND = '<path id="band" d="M40 300 H600"/>'
GRAIN = '<path id="grain" d="M320 330 L290 130"/>'
BONES = (
    '<path id="bone 1" d="M265 90 V350 H272 V90 Z"/><path id="bone 2" d="M345 90 V350"/>'
    '<path id="notch" d="M243 120 H250"/><path id="notch 2" d="M243 139 H252"/>'
    '<path id="hip" d="M230 330 H380"/>'
)


def draft(
    lines: str,
    *names: str,
    stands_on: tuple[StandsOn, ...] = (),
    gores: tuple[Gore, ...] = (),
    loose: dict[str, list[tuple[float, float]]] | None = None,
    panels: dict[str, list[tuple[float, float]]] | None = None,
) -> Pattern:
    drawing = read_svg(gored_svg(loose or {}, panels=panels, extra=lines))
    reading = Reading(halves="half", split_at=names, stands_on=stands_on, gores=gores)
    return assemble(drawing, reading)


def split(
    pattern: Pattern, *names: str, groups: Sequence[tuple[str, ...]] = (), darts_from: float = 3.0
) -> LayerPattern:
    outer = Fabric("outer", 2.0, split_at=names, cut_in_one=tuple(groups), darts_from=darts_from)
    stack = Stack([Fabric("inner", 2.0), outer], "inner")
    turn = turn_of_cloth(pattern, ClassModel(), ["side"] * len(pattern))
    return shift(pattern, stack, turn).layers[1]


def refused(pattern: Pattern, *names: str, groups: Sequence[tuple[str, ...]] = ()) -> str:
    cloth = Fabric("lining", 0.2, split_at=names, cut_in_one=tuple(groups))
    with pytest.raises(StackError) as told:
        refuse_unsplittable(pattern, cloth)
    return told.value.problem


SIDE = draft("")["side"]
ALONG_AND_ACROSS = (panel_parts.ALONG, panel_parts.ACROSS)


def check_parts(whole: Panel, parts: Sequence[Panel]) -> None:
    """Together they are the panel; what they share is one line on both."""
    assert sum(part.outline.area for part in parts) == pytest.approx(whole.outline.area, rel=1e-6)
    shapes = [polygon(part.outline) for part in parts]
    union, panel = shapely.unary_union(shapes), polygon(whole.outline)
    assert union.symmetric_difference(panel).area < 1e-6 * panel.area
    for part in parts:
        for edge in set(EDGE_NAMES) - part.parted:
            for point in part.edge(edge).flatten(0.5):
                assert nearest_position(whole.edge(edge), point)[1] < 1e-6
    for one, two in itertools.pairwise(parts):
        edge, mate = ("top", "bottom") if "top" in one.parted else ("back", "front")
        assert one.edge(edge).points([0.3]) == pytest.approx(two.edge(mate).points([0.3]), abs=1e-9)
        assert length(one.edge(edge)) == pytest.approx(length(two.edge(mate)), abs=1e-9)


@pytest.mark.parametrize(
    ("names", "words"),
    [
        (["rib"], ["lower part", "upper part"]),
        (["band", "rib"], ["lower part", "middle part", "upper part"]),
        (["rib", "band", "waist"], [f"part {k} of 4" for k in (1, 2, 3, 4)]),
    ],
)
def test_parts_across_are_the_panel(names: list[str], words: list[str]) -> None:
    layer = split(draft(ACROSS + BAND, *names), *names)
    cut = layer.pieced.whole
    for panel in layer.whole:
        parts = [piece for piece in cut if piece.made_of == (panel.name,)]
        check_parts(panel, parts)
        assert [part.name for part in parts] == [f"{panel.name}, {own}" for own in words]
    assert all(abs(walked.difference) < 1e-3 for walked in cut.walk())
    kinds = [cut.edge_kind(0, edge) for edge in EDGE_NAMES]
    assert kinds == ["centre_front", "seam", "seam", "bottom"]
    assert cut.open_edges() >= {(k, "front") for k in range(len(words))}
    # The seams that all layers have are walked as ever.
    assert [walked.name for walked in layer.walk()] == ["front to side", "side to back"]


@examples(20)
@given(
    st.tuples(*[st.floats(0.1, 0.9)] * 2),
    st.tuples(*[st.floats(-20.0, 20.0)] * 2),
    st.booleans(),
)
def test_any_line_from_edge_to_edge_divides_without_loss(
    shares: tuple[float, float], bulge: tuple[float, float], across: bool
) -> None:
    rails = ALONG_AND_ACROSS[across]
    edges = [SIDE.edge(edge) for edge in rails]
    start, end = (
        edge.points(position_at_length(edge, [share * length(edge)]))[0]
        for edge, share in zip(edges, shares, strict=True)
    )
    way = end - start
    left = np.array([-way[1], way[0]]) / np.hypot(*way)
    inner = [start + k / 3.0 * way + by * left for k, by in enumerate(bulge, start=1)]
    parts = panel_parts.parts_of(SIDE, rails, [Curve.cubics([[start, *inner, end]])])
    check_parts(SIDE, parts)


@pytest.mark.parametrize("turned_over", [False, True])
def test_parts_beside_each_other_are_the_panel(turned_over: bool) -> None:
    pattern = draft(UPRIGHT, "style")
    pattern = pattern.mirrored() if turned_over else pattern
    layer = split(pattern, "style")
    cut = layer.pieced.whole
    assert [panel.name for panel in cut] == ["front", "side, front part", "side, back part", "back"]
    check_parts(layer.whole["side"], cut.panels[1:3])
    assert [walked.name for walked in cut.walk()] == [
        "front to side, front part",
        "side, front part to side, back part",
        "side, back part to back",
    ]
    assert all(abs(walked.difference) < 1e-3 for walked in cut.walk())
    # Each part has its own waist, and the heights of the panel.
    assert cut.waist == pytest.approx(layer.whole.waist, abs=1e-3)
    for part in cut.panels[1:3]:
        assert part.waist is not None
        assert part.waist.height == pytest.approx(0.0, abs=1e-6)
        assert part.frame.origin == pytest.approx(part.waist.curve.points([0.5])[0], abs=0.01)


def test_a_line_that_slants_over_the_waist_leaves_its_marks() -> None:
    lines = '<path id="slant" d="M225 170 L 385 260"/><path id="bust" d="M230 190 H380"/>'
    layer = split(draft(lines, "slant"), "slant")
    lower, upper = (piece for piece in layer.pieced.whole if piece.made_of == ("side",))
    check_parts(layer.whole["side"], (lower, upper))
    assert lower.waist is None
    assert upper.waist is None
    for part, balance in ((lower, "top"), (upper, "bottom")):
        kinds = [mark.kind for mark in part.marks]
        assert sorted(kinds) == ["level", "level", "notch", "notch"]
        edge = part.edge("top" if balance == "top" else "bottom")
        (at,) = edge.points(position_at_length(edge, [length(edge) / 3.0]))
        starts = [mark.curve.start for mark in part.marks if mark.kind == "notch"]
        assert min(np.hypot(*(start - at)) for start in starts) < 1e-6
        # It lies within the part.
        assert all(polygon(part.outline).buffer(0.05).contains(line(m.curve)) for m in part.marks)
    waist = layer.whole["side"].waist
    assert waist is not None
    ends = [waist.curve.start, waist.curve.end]
    for part, end in ((lower, ends[0]), (upper, ends[1])):
        assert min(np.hypot(*(mark.curve.start - end)) for mark in part.marks) < 0.1


def test_what_is_drawn_is_parted_with_the_panel() -> None:
    pattern = draft(ACROSS + GRAIN + BONES, "rib")
    layer = split(pattern, "rib")
    lower, upper = (piece for piece in layer.pieced.whole if piece.made_of == ("side",))
    whole = grain_of(layer.whole["side"])
    assert whole is not None
    for part in (lower, upper):
        drawn = grain_of(part)
        assert drawn is not None
        way, old = (ends[1] - ends[0] for ends in (drawn[0], whole[0]))
        assert way[0] * old[1] - way[1] * old[0] == pytest.approx(0.0, abs=0.2)
        assert polygon(part.outline).contains(line(drawn_line(part)))
        kinds = sorted(mark.kind for mark in part.marks)
        assert kinds.count("bone") == 2
        long = sum(length(mark.curve) for mark in part.marks if mark.kind == "bone")
        assert long > 100.0
    # The bone has its number on both parts, beside what of its channel lies on them.
    numbers = channels_on(layer.pieced.whole, bone_channels(pattern))
    told = {channel.panel: channel.middle.mean(axis=0)[1] for own in numbers for channel in own}
    assert set(told) == {"side, lower part", "side, upper part"}
    assert told["side, upper part"] < 140.0 < told["side, lower part"]
    # One notch stood where the seam across ends, the other on the upper part.
    assert sum(mark.kind == "notch" for mark in lower.marks) == 1
    assert sum(mark.kind == "notch" for mark in upper.marks) == 2
    assert [level.name for level in lower.levels] == ["hip"]
    assert lower.waist is not None
    assert upper.level_lines == ()


def test_a_balance_mark_keeps_clear_of_darts() -> None:
    side = draft("")["side"]
    assert side.waist is not None
    # Its mouth opens over a third of the waist.
    corners = side.frame.to_sheet(np.array([(-30.0, -5.0), (-20.0, 80.0), (-10.0, -5.0)]))
    own = replace(side, marks=(Mark("dart", Curve.polyline(corners)),))
    starts = []
    for panel in (side, own):
        parts = panel_parts.parts_of(panel, ("front", "back"), [side.waist.curve])
        found = [
            panel.frame.to_panel(mark.curve.start)[0]
            for part in parts
            for mark in part.marks
            if mark.kind == "notch"
        ]
        assert found[0] == pytest.approx(found[1], abs=1e-9)
        starts.append(found[0])
        assert not any(part.level_lines for part in parts)
    assert starts == pytest.approx([-55.0 + 110.0 / 3.0, -55.0 + 0.15 * 110.0], abs=1e-6)


def drawn_line(part: Panel) -> Curve:
    (grain,) = (mark.curve for mark in part.marks if mark.kind == "grainline")
    return grain


def test_a_line_over_one_panel_ends_on_those_beside() -> None:
    # It begins near the panel before, which it does not divide.
    pattern = draft('<path id="yoke" d="M177 120 H380"/>', "yoke")
    cut = split(pattern, "yoke").pieced.whole
    assert {(tip.edge, tip.piece) for tip in cut["front"].tips} == {("back", "side, upper part")}
    assert [walked.name for walked in cut.walk()] == [
        "front to side, lower part",
        "front to side, upper part",
        "side, lower part to back",
        "side, upper part to back",
        "side, lower part to side, upper part",
    ]
    assert all(abs(walked.difference) < 2e-3 for walked in cut.walk())


@pytest.mark.slow
def test_both_halves_are_split_alike() -> None:
    half = draft(ACROSS + UPRIGHT, "rib", "style")
    full = both_sides(half)
    for name in ("rib", "style"):
        cut, own = (split(pattern, name).pieced.whole for pattern in (full, half))
        assert cut.front_place == len(own)
        assert len(cut) == 2 * len(own)
        lengths = cut.seam_lengths()
        assert lengths[:, 0] == pytest.approx(lengths[:, 1], abs=2e-3)
        assert {cut.panels[k].name for k, _ in cut.open_edges()} == {
            f"{side} {own.panels[k].name}"
            for k, _ in own.open_edges()
            for side in ("left", "right")
        }


@pytest.mark.slow
@pytest.mark.parametrize("darts_from", [3.0, 500.0])
def test_a_piece_of_several_panels_is_split_after_joining(darts_from: float) -> None:
    pattern = draft(ACROSS + UPRIGHT, "rib", "style")
    for name, count in (("rib", 4), ("style", 3)):
        layer = split(pattern, name, groups=[("front", "side")], darts_from=darts_from)
        (joined,) = layer.joined
        own = [piece for piece in layer.pieced.whole if piece.made_of == ("front", "side")]
        check_parts(joined.panel, own)
        assert len(layer.pieced.whole) == count
        assert [walked.name for walked in layer.walk()] == ["front + side to back"]
        assert len(layer.walk(as_cut=True)) == 1


CROSSING = "cross, or come nearer to each other than 3 mm"
OF_PIECES = "is made of pieces, is a gore or has one in its seam"


def test_a_saved_draft_has_the_lines_with_their_names() -> None:
    # The rib line is a level as well; each of the others runs over one panel or three.
    names = ("rib", "style", "band")
    pattern = draft(ACROSS + UPRIGHT + BAND, *names)
    again = assemble(read_svg(draft_svg(pattern)), Reading(halves="half", split_at=names))
    for old, new in zip(pattern, again, strict=True):
        ends = [
            sorted((mark.name, *mark.curve.start.round(2).tolist()) for mark in panel.marks)
            for panel in (old, new)
        ]
        assert ends[0] == ends[1]
        assert [level.name for level in old.levels] == [level.name for level in new.levels]


def test_lines_that_divide_nothing_are_refused() -> None:
    both = draft(
        ACROSS + UPRIGHT + BAND + '<path id="rib 2" d="M225 143 H385"/>', "rib", "style", "rib 2"
    )
    assert refused(both, "hem").startswith("layer 'lining', to be split at 'hem': no such line")
    assert CROSSING in refused(both, "rib", "style")
    assert CROSSING in refused(both, "rib", "rib 2")
    assert "panel 'side': the lines 'rib' and 'style'" in refused(both, "rib", "style")
    lies = Fabric("facing", 0.2, split_at=("style",), panels=frozenset({"front"}))
    with pytest.raises(StackError, match="no such line crosses a panel on which it lies"):
        refuse_unsplittable(both, lies)
    winding = '<path id="snake" d="M300 40 V230 H320 V210 H340 V390"/>'
    assert "crosses its waistline more than once" in refused(draft(winding, "snake"), "snake")


def test_lines_have_to_meet_on_a_seam() -> None:
    off = '<path id="a" d="M50 120 H180"/><path id="b" d="M240 126 H375"/>'
    told = refused(draft(off, "a", "b"), "a", "b")
    assert "the seams across 'front' and 'side' do not meet on the seam" in told
    # One of them alone does.
    refuse_unsplittable(draft(off, "a", "b"), Fabric("lining", 0.2, split_at=("b",)))
    near = off.replace("126", "122")
    cut = split(draft(near, "a", "b"), "a", "b").pieced.whole
    assert all(abs(walked.difference) < 1e-3 for walked in cut.walk()[:2])


def test_a_line_runs_over_all_of_a_piece() -> None:
    one = '<path id="yoke" d="M230 120 H380"/>'
    groups = [("front", "side")]
    told = refused(draft(one, "yoke"), "yoke", groups=groups)
    assert "does not run across all of them" in told
    group = f'<g id="lines">{ACROSS}{BAND}</g>'
    assert "two lines of a panel have one name" in refused(
        draft(group, "lines"), "lines", groups=groups
    )
    assert len(split(draft(group, "lines"), "lines").pieced.whole) == 9


def test_gores_and_pieces_are_not_divided() -> None:
    gored = draft(
        BAND + UPRIGHT,
        "band",
        "style",
        loose={"gore": wedge()},
        gores=(Gore("gore", ("front", "side")),),
    )
    assert OF_PIECES in refused(gored, "band")
    # From top to bottom there is no gore in its way.
    cut = split(gored, "style").pieced.whole
    names = ["front", "gore", "side, front part", "side, back part", "back"]
    assert [panel.name for panel in cut] == names
    assert [(tip.edge, tip.piece) for tip in cut["side, front part"].tips] == [("front", "gore")]
    assert cut["side, back part"].tips == ()
    yoke = [(0.0, 0.0), (0.0, 80.0), (110.0, 80.0), (110.0, 0.0)]
    low = [(0.0, HEM), (0.0, 70.0), (110.0, 70.0), (110.0, HEM)]
    on = (StandsOn("yoke", "side"),)
    panels = {**PANELS, "side": low}
    stands = draft(BAND, "band", loose={"yoke": yoke}, panels=panels, stands_on=on)
    assert OF_PIECES in refused(stands, "band")


def test_parts_have_names_of_their_own() -> None:
    panels = {name: PANELS[name] for name in ("front", "side")} | {
        "side, back part": PANELS["back"]
    }
    own = draft(UPRIGHT, "style", panels=panels)
    assert "two of its pieces would be called 'side, back part'" in refused(own, "style")


@pytest.mark.parametrize(
    ("line_drawn", "told"),
    [
        ("M20 500 H700", "crosses no panel"),
        ("M200 150 H300", "ends within panel 'side'"),
        ("M200 150 H400 V170 H200", "crosses the edges of panel 'side' 4 times"),
        ("M200 150 H400 V170 H200 Z", "is a closed shape"),
        ("M220 150 L300 40", "runs from its front edge to its top edge on panel 'side'"),
        ("M235 60 L400 300", "runs into a corner on panel 'side'"),
    ],
)
def test_a_line_that_does_not_cross_is_told_with_its_panel(line_drawn: str, told: str) -> None:
    with pytest.raises(PatternError) as error:
        draft(f'<path id="path7" d="{line_drawn}"/>', "path7")
    assert told in error.value.problem
    assert error.value.element == "path7"


@pytest.mark.parametrize(
    ("bone", "front", "back"),
    [
        # Along the line all the way, to and fro across it by a hair, and away from it in the end.
        ("M300 40 C 320 200 290 250 310 390", [0, 1], None),
        ("M300 40 C 320 200 290 250 310 390 L340 340", [0], [1]),
        ("M280 45 L300 40 C 320 200 290 250 310 390", [1], [0]),
        ("M270 100 L340 350", [1], [1]),
        ("M300 40 C 320 200 290 250 310 390 L340 395 L330 30 Z", [0], [1]),
        # An outline that begins a hair beyond the line, and crosses it twice besides.
        ("M305.02 222.5 L280 235 V330 H340 V300 H290 V240 Z", [1], [1]),
    ],
)
def test_a_bone_along_a_dividing_line_lies_on_one_part(
    bone: str, front: list[int], back: list[int] | None
) -> None:
    # Rounding had it cross the line a dozen times: every bit of it was a mark of its own.
    pattern = draft(UPRIGHT + f'<path id="bone 3" d="{bone}"/>', "style")
    parts = [part for part in split(pattern, "style").pieced.whole if "side" in part.name]
    counts = [sum(mark.kind == "bone" for mark in part.marks) for part in parts]
    assert counts[0] in front
    assert counts[1] in (back or [1 - counts[0]])


def test_parts_of_a_panel_are_called_by_where_they_lie_up_to_three() -> None:
    assert [panel_parts._word(k, 2, panel_parts.ACROSS) for k in range(2)] == [
        "lower part",
        "upper part",
    ]
    assert [panel_parts._word(k, 3, panel_parts.ALONG) for k in range(3)] == [
        "front part",
        "middle part",
        "back part",
    ]
    assert [panel_parts._word(k, 4, panel_parts.ACROSS) for k in (0, 3)] == [
        "part 1 of 4",
        "part 4 of 4",
    ]
