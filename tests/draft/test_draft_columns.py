"""Pieces that stand on each other: one panel in the ring, cut as they were drawn."""

from __future__ import annotations

import itertools
import math
from dataclasses import replace

import numpy as np
import pytest

from panelshift.body import ClassModel, SectionModel
from panelshift.body.measures import Measures
from panelshift.body.turn import turn_of_cloth
from panelshift.draft import Gore, Reading, StandsOn, assemble
from panelshift.errors import AlterationError, PatternError, StackError
from panelshift.outline.crossing import nearest_position
from panelshift.outline.measure import length
from panelshift.pattern.pattern import Pattern
from panelshift.pattern.two_sides import both_sides
from panelshift.shift import LayerPattern, shift
from panelshift.shift.alteration import Alteration
from panelshift.shift.altered import alter_pattern
from panelshift.shift.cut_in_one import refuse_unjoinable
from panelshift.shift.end_edges import EndAlteration
from panelshift.shift.split_panels import apart
from panelshift.sources.svg import draft_svg, read_svg
from panelshift.stack import Fabric, Stack
from tests.support.gored import PANELS, Point, box, gored_svg, wedge
from tests.support.runs import two_layers


def front_u(v: float) -> float:
    return -8.0 * abs(v) / 150.0


def back_u(v: float) -> float:
    return 110.0 - front_u(v)


def cut_across(lines: list[tuple[float, float]]) -> list[list[Point]]:
    """The side panel cut by lines from a height at its front edge to one at its back, upwards."""
    ends = [(-150.0, -150.0), *lines, (150.0, 150.0)]
    pieces = []
    for (low, low_back), (high, high_back) in itertools.pairwise(ends):
        piece = [(front_u(low), low), (front_u(high), high)]
        piece += [(back_u(high_back), high_back), (back_u(low_back), low_back)]
        if low < 0.0 < high:
            piece.insert(1, (0.0, 0.0))
            piece.insert(4, (110.0, 0.0))
        pieces.append(piece)
    return pieces


def laid(piece: list[Point], turned: float = 0.0) -> list[Point]:
    """A piece with its first corner at the origin, turned by radians."""
    c, s = math.cos(turned), math.sin(turned)
    x, y = piece[0]
    return [(c * (u - x) - s * (v - y), s * (u - x) + c * (v - y)) for u, v in piece]


NAMES = ("hem", "side", "yoke")
ON = (StandsOn("side", "hem"), StandsOn("yoke", "side"))
CUTS = [(-110.0, -80.0), (70.0, 90.0)]


def drawn(pieces: dict[str, list[Point]], *said: StandsOn, extra: str = "") -> Pattern:
    """The pattern whose side panel is cut in pieces, those that reach no waist lying apart."""
    panels = {**PANELS, "side": pieces["side"]}
    loose = {name: laid(piece, 0.3) for name, piece in pieces.items() if name != "side"}
    drawing = read_svg(gored_svg(loose, panels=panels, extra=extra))
    return assemble(drawing, Reading(stands_on=said or ON, halves="half"))


WHOLE = assemble(read_svg(gored_svg({})), Reading(halves="half"))
CUT = dict(zip(NAMES, cut_across(CUTS), strict=True))


def layer(pattern: Pattern, body: ClassModel | SectionModel) -> LayerPattern:
    return shift(pattern, two_layers(2.0), turn_of_cloth(pattern, body, ["side"] * 3)).layers[1]


@pytest.mark.parametrize("body", [ClassModel(), SectionModel(Measures.constant(1.4))])
def test_a_panel_cut_in_pieces_and_shifted_is_the_panel_shifted_and_cut(
    body: ClassModel | SectionModel,
) -> None:
    pattern = drawn(CUT)
    side = pattern["side"]
    assert [piece.name for piece in side.pieces] == list(NAMES)
    assert side.frame.to_panel(side.edge("front").vertices) == pytest.approx(
        np.array([(front_u(v), v) for v in (-150.0, -110.0, 0.0, 70.0, 150.0)]) - [55.0, 0.0]
    )
    cut, whole = layer(pattern, body).pieced.whole, layer(WHOLE, body).whole["side"]
    assert [panel.name for panel in cut] == ["front", *NAMES, "back"]
    for name in NAMES:
        for edge in ("front", "back"):
            points = cut[name].frame.to_panel(cut[name].edge(edge).flatten(0.05))
            for point in whole.frame.to_sheet(points):
                assert nearest_position(whole.edge(edge), point)[1] < 0.005
    for walked in cut.walk():
        assert walked.difference == pytest.approx(0.0, abs=2e-3)
    names = [walked.name for walked in cut.walk()]
    assert names[:3] == ["front to hem", "front to side", "front to yoke"]
    assert names[-2:] == ["hem to side", "side to yoke"]
    kinds = [cut.edge_kind(k, edge) for k in (1, 2, 3) for edge in ("bottom", "top", "front")]
    assert kinds == ["bottom", "seam", "seam", *["seam"] * 4, "top", "seam"]
    covered = cut.part({"side", "yoke"})
    assert covered.edge_kind(0, "bottom") == "seam"
    assert [walked.name for walked in covered.walk()] == ["side to yoke"]


def test_a_seam_across_is_marked_on_the_panels_beside_and_meets_one_there() -> None:
    pattern = drawn(CUT)
    tips = {(tip.edge, tip.piece): tip.point for tip in pattern["front"].tips}
    assert set(tips) == {("back", "side"), ("back", "yoke")}
    frame = pattern["front"].frame
    assert frame.to_panel(tips["back", "yoke"])[1] == pytest.approx(70.0)
    back = {tip.piece: tip.point for tip in pattern["back"].tips}
    assert pattern["back"].frame.to_panel(back["side"])[1] == pytest.approx(-80.0)
    # Two neighbours cut at the same heights; one of them in pieces that a third panel has not.
    both = {"front": cut_across([(70.0, 70.0)]), "side": cut_across([(70.0, 70.0)])}
    panels = {**PANELS, **{name: own[0] for name, own in both.items()}}
    loose = {f"{name} yoke": laid(own[1]) for name, own in both.items()}
    said = tuple(StandsOn(f"{name} yoke", name) for name in both)
    drawing = read_svg(gored_svg(loose, panels=panels))
    found = assemble(drawing, Reading(stands_on=said, halves="half"))
    cut = apart(found.mirrored().larger(1.1))
    assert [walked.name for walked in cut.walk()] == [
        "front to side",
        "front yoke to side yoke",
        "side to back",
        "side yoke to back",
        "front to front yoke",
        "side to side yoke",
    ]
    assert [kind for k in (0, 1) if (kind := cut.edge_kind(k, "front"))] == ["centre_front"] * 2
    numbered = [cut.panels[seam.first].name for seam in cut.waist_seams]
    assert numbered == ["front", "side"]
    low = {**loose, "side yoke": laid(cut_across([(60.0, 60.0)])[1])}
    panels["side"] = cut_across([(60.0, 60.0)])[0]
    with pytest.raises(PatternError, match="the seams across 'front' and 'side' do not meet"):
        assemble(read_svg(gored_svg(low, panels=panels)), Reading(stands_on=said, halves="half"))


def test_marks_and_levels_of_a_piece_come_along() -> None:
    # On the yoke as it lies on the sheet: its first corner at (290, 600), turned by 0.3.
    across = '<path id="path9" d="M280 580 L440 531"/><path id="grain" d="M340 570 L350 540"/>'
    pattern = drawn(CUT, extra=across)
    yoke = pattern["side"].pieces[2]
    (level,) = yoke.levels
    assert level.name == f"level {level.height:+.0f}"
    assert 70.0 < level.height < 150.0
    assert pattern["side"].levels == (level,)
    assert [mark.kind for mark in yoke.marks] == ["grainline"]
    assert pattern["side"].marks == yoke.marks


def test_a_panel_of_pieces_is_altered_as_the_panel_in_one_is() -> None:
    asked = [
        Alteration("side to back", {"waist": 2.0, "+100 mm": 9.0}),
        Alteration("front to side", {"waist": 0.0, "-100 mm": -5.0}),
    ]
    pattern = drawn(CUT, extra='<path id="bone 1" d="M285 590 V400"/>')
    found = alter_pattern(pattern, asked).pattern
    whole = alter_pattern(WHOLE, asked).pattern["side"]
    for piece in found["side"].pieces:
        for edge in ("front", "back"):
            points = piece.frame.to_panel(piece.edge(edge).flatten(0.5))
            for point in whole.frame.to_sheet(points):
                assert nearest_position(whole.edge(edge), point)[1] < 1e-3
    for pieces in (found, both_sides(found)):
        for walked in apart(pieces).walk():
            assert walked.difference == pytest.approx(0.0, abs=1e-3)
    # Saved, its pieces are outlines again, which the same names put together.
    again = assemble(read_svg(draft_svg(found)), Reading(stands_on=ON, halves="half"))
    assert [piece.name for piece in again["side"].pieces] == list(NAMES)
    assert again.edge_lengths() == pytest.approx(found.edge_lengths(), abs=5e-3)


@pytest.mark.parametrize("group", [("side",), ("front", "side")])
def test_a_layer_may_have_the_panel_without_its_seams_across(group: tuple[str, ...]) -> None:
    pattern = drawn(CUT)
    lining = Fabric("lining", 0.5, cut_in_one=(group,))
    stack = Stack([lining, Fabric("drill", 0.6)], "drill")
    turn = turn_of_cloth(pattern, ClassModel(), ["side"] * 3)
    layer = shift(pattern, stack, turn).layers[0]
    cut = layer.pieced.whole
    names = [["front", "side", "back"], ["front + side", "back"]][len(group) - 1]
    assert [panel.name for panel in cut] == names
    assert not any(panel.tips or panel.pieces for panel in cut)
    walked = [one.name for one in layer.walk()]
    assert walked == [" to ".join(pair) for pair in itertools.pairwise(names)]
    fabric = replace(lining, cut_in_one=(group,) if len(group) > 1 else ())
    bare = Stack([fabric, Fabric("drill", 0.6)], "drill")
    alone = shift(WHOLE, bare, turn_of_cloth(WHOLE, ClassModel(), ["side"] * 3)).layers[0]
    area = alone.pieced.whole.panels[-2].outline.area
    assert cut.panels[-2].outline.area == pytest.approx(area, rel=1e-5)


def test_a_full_pattern_keeps_its_centre_front_between_pieces() -> None:
    panels = {f"{side} {k}": box(150.0) for side in ("left", "right") for k in (1, 2)}
    panels["left 1"] = [(0.0, -150.0), (0.0, 80.0), (150.0, 80.0), (150.0, -150.0)]
    loose = {"yoke": [(0.0, 0.0), (0.0, 70.0), (150.0, 70.0), (150.0, 0.0)]}
    reading = Reading(stands_on=(StandsOn("yoke", "left 1"),))
    cut = apart(assemble(read_svg(gored_svg(loose, panels=panels)), reading))
    assert [panel.name for panel in cut] == ["left 2", "left 1", "yoke", "right 1", "right 2"]
    fronts = {k for k, edge in cut.open_edges() if edge == "front"}
    assert fronts == {1, 2, 3}
    assert cut.edge_kind(2, "back") == "seam"


BAND = [(0.0, 0.0), (0.0, 40.0), (90.0, 40.0), (90.0, 0.0)]
STRAIGHT = cut_across([(70.0, 70.0)])
YOKE = {"side": STRAIGHT[0], "yoke": STRAIGHT[1]}
LEGS = [(0, 0), (0, 90), (120, 90), (120, 0), (80, 0), (80, 60), (40, 60), (40, 0)]


@pytest.mark.parametrize(
    ("pieces", "said", "words"),
    [
        (YOKE, [StandsOn("cup", "side")], "there is no outline called 'cup'"),
        ({**YOKE, "yoke": BAND}, [StandsOn("yoke", "side")], "its ends lie 90.0 mm apart"),
        ({**YOKE, "yoke": LEGS}, [StandsOn("yoke", "side")], "crossed more than twice"),
        (
            {**YOKE, "band": BAND},
            [StandsOn("yoke", "side"), StandsOn("band", "side")],
            "two pieces are to stand on 'side'",
        ),
        ({**YOKE, "band": BAND}, [StandsOn("yoke", "band")], "that a waistline crosses, or on two"),
        (YOKE, [StandsOn("yoke", "side"), StandsOn("back", "yoke")], "or on two"),
        (YOKE, [StandsOn("yoke", "side"), StandsOn("side", "yoke")], "each on the other"),
        ({"side": STRAIGHT[0]}, [StandsOn("side", "back")], "and a waistline crosses both"),
    ],
)
def test_pieces_that_do_not_stand_are_refused(
    pieces: dict[str, list[Point]], said: list[StandsOn], words: str
) -> None:
    with pytest.raises(PatternError, match=words):
        drawn(pieces, *said)


def test_what_is_not_done_with_pieces_is_refused() -> None:
    drawing = read_svg(
        gored_svg(
            {"yoke": laid(STRAIGHT[1]), "gore": wedge()}, panels={**PANELS, "side": STRAIGHT[0]}
        )
    )
    on = (StandsOn("yoke", "side"),)
    gore = (Gore("gore", ("side", "back")),)
    with pytest.raises(PatternError, match="has a gore in its seam"):
        assemble(drawing, Reading(stands_on=on, gores=gore, halves="half"))
    with pytest.raises(PatternError, match="cannot be taken off panels of several pieces"):
        assemble(drawing, Reading(stands_on=on, leave_out=("gore",), allowance_drawn={"seam": 5}))
    # 0 is the answer that there is none.
    none = Reading(stands_on=on, leave_out=("gore",), allowance_drawn={"seam": 0.0})
    assert assemble(drawing, none) == assemble(drawing, replace(none, allowance_drawn=None))
    pattern = drawn(YOKE, *on)
    with pytest.raises(AlterationError, match="'side' is made of several pieces"):
        alter_pattern(pattern, [EndAlteration("top", {"centre front": 2.0, "1 to 2": 0.0})])
    bulged = [*STRAIGHT[1][:3], (back_u(70.0), 70.0), (55.0, 74.0)]
    fabric = Fabric("lining", 0.2, cut_in_one=(("side",),))
    with pytest.raises(StackError, match="'side' and 'yoke' bulges differently on both"):
        refuse_unjoinable(drawn({**YOKE, "yoke": bulged}, *on), fabric)
    assert length(pattern["side"].edge("front")) == pytest.approx(2.0 * math.hypot(150.0, 8.0))
