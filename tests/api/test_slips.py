"""Slips in scripts that would pass unseen, or end in an error of another library."""

from __future__ import annotations

import io
import pickle
from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from typing import Any

import numpy as np
import pytest
from lxml import etree
from shapely.geometry import LineString, box, shape
from svgpathtools import parse_path

import panelshift as ps
from panelshift.body import MeanFormModel, Ring, Turn
from panelshift.errors import (
    BodyError,
    ConstructionError,
    PatternError,
    ScaleError,
    StackError,
    UnknownNameError,
    WrongTypeError,
)
from panelshift.outline.pathtext import path_data
from panelshift.pattern.drawing import Drawing
from panelshift.pattern.panel import panels_picture
from tests.support.drafts import drawn, walls
from tests.support.runs import read_pattern

PATTERN = read_pattern(drawn(walls((60.0, 70.0, 65.0))))
STACK = ps.Stack([ps.Fabric("drill", 0.5), ps.Fabric("satin", 0.4)])
SHIFTED = ps.shift_pattern(PATTERN, STACK)
BOX = [(0.0, 0.0), (60.0, 0.0), (60.0, 160.0), (0.0, 160.0)]
CURVE = ps.Curve.polyline(BOX, closed=True)
LINE = ps.Curve.polyline([(0, 0), (60, 0), (60, 160)])
NAN, INF = float("nan"), float("inf")


def control(*starts: float) -> np.ndarray[Any, Any]:
    return np.array([[(x + k, 0.0) for k in range(4)] for x in starts])


@pytest.mark.parametrize(
    "call",
    [
        lambda: ps.Curve(control(0.0, 9.0), np.array([1, 1])),
        lambda: ps.Curve(control(0.0), np.array([1]), closed=True),
        lambda: ps.Curve(control(0.0), np.array([7])),
        lambda: ps.Curve(control(0.0), np.array([1.5])),
        lambda: ps.Curve(control(0.0), np.array(["line"])),
        lambda: ps.Curve.polyline(BOX, closed="no"),
        lambda: ps.Curve(control(0.0), np.array([1]), 1),
        lambda: SHIFTED.growth_table(np.ma.array([0.0, 10.0], mask=[False, True])),
        lambda: ps.Fabric("a", Fraction(1, 3)),
        lambda: ps.Fabric("a", np.longdouble(0.5)),
        lambda: ps.Fabric("", 0.5),
        lambda: ps.layer_pdf(SHIFTED, "drill, satin", ps.PageOptions(ps.parse_paper("a4"))),
        lambda: ps.draft_svg(PATTERN, altered={"two words": "x"}),
        lambda: ps.Reading(allowance_drawn={"seam": -3.0}),
        lambda: ps.Reading(allowance_drawn={"seam": NAN}),
        lambda: ps.compare_corsets(SHIFTED, SHIFTED, gaps=(NAN, 0.0)),
        lambda: ps.compare_corsets(SHIFTED, SHIFTED, busks=(0.0, -1.0)),
        lambda: ps.CutPlan(gives={"satin": 5.0}),
        lambda: ps.CutPlan(gives={"satin": NAN}),
        lambda: ps.FormModel(np.array([0.0]), None),
        lambda: ps.run_many([], workers=0),
        lambda: ps.Curve.polyline(np.array(BOX) * (1 + 1j)),
        lambda: ps.Curve.polyline(np.ma.array(BOX, mask=np.eye(4, 2))),
        lambda: CURVE.points_along(NAN),
        lambda: CURVE.points_along([[1.0, 2.0]]),
        lambda: CURVE.tangents_along("5"),
        lambda: CURVE.points(INF),
        lambda: CURVE.points(None),
        lambda: LINE.piece(-1.0, 1.0),
        lambda: LINE.piece(0.0, 3.0),
        lambda: LINE.piece(NAN, 1.0),
        lambda: CURVE.piece(0.0, 8.0),
        lambda: CURVE.scaled([1.0, 2.0]),
        lambda: CURVE.scaled(INF),
        lambda: CURVE.scaled(0.0),
        lambda: PATTERN.larger(1e9),
        lambda: Drawing(()).scaled(NAN),
        lambda: Drawing(()).scaled(0.0),
        lambda: ps.read_pattern(drawn(walls((60.0,))), reading=ps.Reading(drafted_waist=100.0)),
        lambda: LINE.offset("3"),
        lambda: CURVE.flatten(0.0),
        lambda: CURVE.flatten(NAN),
        lambda: CURVE.flatten("fine"),
        lambda: ps.Curve.chain([None]),
        lambda: CURVE.transformed(1j * np.ones((2, 3))),
        lambda: ps.Fabric("a", 0.5, by_height=((10.0, 1.0), (0.0, 2.0))),
        lambda: ps.Fabric("a", 0.5, by_height=((0.0, 1.0), (0.0, 2.0))),
        lambda: ps.Fabric("a", 0.5, by_height=((0.0, -1.0),)),
        lambda: ps.Fabric("a", 0.5, by_height=((NAN, 1.0),)),
        lambda: ps.Fabric("a", 0.5, by_height=((0.0, 101.0),)),
        lambda: STACK.distances("4 side"),
        lambda: STACK.distances(None),
        lambda: ps.growth_draws(SHIFTED, 10, seed=-1),
    ],
)
def test_what_cannot_be_is_refused(call: Callable[[], object]) -> None:
    with pytest.raises(ps.PanelshiftError):
        call()


def test_a_part_of_a_closed_curve_may_run_through_its_start() -> None:
    assert CURVE.piece(3.0, 1.0).length == pytest.approx(160.0 + 60.0)
    assert CURVE.piece(3.0, 5.0) == CURVE.piece(3.0, 1.0)
    assert CURVE.piece(1.0, 1.0).length == pytest.approx(CURVE.length)


def test_what_encloses_nothing_has_its_middle_as_centre() -> None:
    # By rounding these enclose 1e-15 mm2, of which the centre may be anywhere.
    for points in ([(0, 0), (3, 4)], [(0, 0), (0.1, 0.3), (0.2, 0.6)]):
        line = ps.Curve.polyline(points)
        assert line.area == 0.0
        assert line.centroid == pytest.approx(0.5 * (line.start + line.end))
    eight = ps.Curve.polyline([(0, 0), (10, 10), (10, 0), (0, 10)], closed=True)
    assert (eight.area, *eight.centroid) == (0.0, 5.0, 5.0)
    thin = ps.Curve.polyline([(0, 0), (400, 0), (400, 1e-5), (0, 1e-5)], closed=True)
    assert thin.area == pytest.approx(4e-3)


def test_a_curve_does_not_change_with_the_array_it_was_made_of() -> None:
    points, degree = control(0.0), np.array([3])
    curve = ps.Curve(points, degree)
    points[:], degree[:] = 5.0, 1
    assert curve == ps.Curve(control(0.0), np.array([3]))


def test_arrays_of_what_is_derived_cannot_be_written_to() -> None:
    panel, turn = PATTERN.panels[0], SHIFTED.turn
    moved = panel.outline.transformed([[1, 0, 5], [0, 1, 0]])
    for array in (
        panel.edge("front").control,
        panel.outline.piece(0.0, 1.0).degree,
        panel.outline.hull_box,
        panel.outline.end_tangents(),
        moved.control,
        turn.angles,
        turn.gap_angles,
        turn.growth,
        turn.gap_growth,
        turn.tilt["front"],
    ):
        assert not array.flags.writeable


def test_lists_in_a_fabric_do_not_rob_it_of_its_hash() -> None:
    lists: Any = {"band": [-10.0, 10.0], "by_height": [[0.0, 1.0], [10.0, 2.0]]}
    told = ps.Fabric("tape", 0.5, **lists)
    assert {told} == {ps.Fabric("tape", 0.5, band=(-10.0, 10.0), by_height=((0, 1), (10, 2)))}


def test_equal_layers_of_equal_turns_are_equal() -> None:
    again = ps.shift_pattern(read_pattern(drawn(walls((60.0, 70.0, 65.0)))), STACK)
    assert again == SHIFTED
    assert {again, SHIFTED} == {SHIFTED}
    assert again.turn == SHIFTED.turn
    assert ps.shift_pattern(PATTERN, STACK, gap=20.0) != SHIFTED
    # One layer stays as it is drawn, whatever body lies in it.
    alone = ps.Stack([ps.Fabric("drill", 0.5)])
    bodies = [ps.shift_pattern(PATTERN, alone, body) for body in (None, ps.SectionModel())]
    assert bodies[0] != bodies[1]


def test_draws_of_one_seed_are_equal() -> None:
    known = ps.Stack([ps.Fabric(name, 0.5, thickness_uncertainty=0.02) for name in "ab"])
    shifted = ps.shift_pattern(PATTERN, known)
    assert ps.growth_draws(shifted, 5, 3) == ps.growth_draws(shifted, 5, 3)
    assert ps.growth_draws(shifted, 5, 3) != ps.growth_draws(shifted, 5, 4)
    assert not ps.growth_draws(shifted, 5).growth.flags.writeable


def test_a_layer_of_no_panel_has_an_empty_picture() -> None:
    stack = ps.Stack([ps.Fabric("drill", 0.5), ps.Fabric("facing", 0.4, panels=frozenset())])
    picture = ps.shift_pattern(PATTERN, stack).layer("facing")._repr_svg_()
    assert "<path" not in picture
    assert picture.startswith("<svg")


def test_seven_layers_of_a_picture_are_told_apart_by_dashes_before_they_repeat() -> None:
    layers = [(f"layer {k}", PATTERN.panels) for k in range(8)]
    root = etree.fromstring(panels_picture(layers, "eight"))
    names = {name for name, _ in layers}
    groups = [g for g in root.iter("{*}g") if g.findtext("{*}title") in names]
    looks = [(g.get("stroke-dasharray"), g.get("stroke")) for g in groups]
    assert len(set(looks[:6])) == len({dash for dash, _ in looks[:6]}) == 6
    assert looks[6:] == looks[:2]


class Answering:
    """A body model that turns all alike, but for some of its answer."""

    def __init__(self, whole: Any = None, **parts: Any) -> None:
        self.whole, self.parts = whole, parts

    def turn(self, ring: Ring) -> Any:
        rows, panels = ring.widths.shape
        alike: dict[str, Any] = {
            "heights": ring.heights,
            "angles": np.full((rows, panels), 2.0 * np.pi / panels),
            "gap_angles": np.zeros(rows),
            "tilts": np.zeros((rows, panels + 1)),
        }
        return self.whole or Turn(**alike | {n: each(alike[n]) for n, each in self.parts.items()})


@pytest.mark.parametrize(
    ("parts", "words"),
    [
        ({"angles": lambda a: a[:3]}, "angles of shape"),
        ({"angles": lambda a: a[:, :3]}, "tilts of shape"),
        ({"angles": lambda a: None}, "angles of shape"),
        ({"angles": lambda a: "flat"}, "angles of shape"),
        ({"angles": lambda a: a * NAN}, "angles that are not finite"),
        ({"gap_angles": lambda a: a[:, None]}, "gap angles of shape"),
        ({"gap_angles": lambda a: a + NAN}, "gap angles that are not finite"),
        ({"tilts": lambda a: a[:, 1:]}, "tilts of shape"),
        ({"tilts": lambda a: a - 0.5 * np.pi}, "tilt of 1.57 rad"),
        ({"heights": lambda a: a[::-1]}, "do not rise"),
        ({"heights": lambda a: 0.0}, "heights of shape"),
        (
            {"angles": lambda a: 2.0 * a[:, ::2], "tilts": lambda a: a[:, ::2]},
            "turns 3 panels; 6 lie",
        ),
    ],
)
def test_a_body_model_that_answers_something_else_is_told(
    parts: dict[str, Callable[[Any], Any]], words: str
) -> None:
    with pytest.raises(ps.PanelshiftError, match=words):
        ps.shift_pattern(PATTERN, STACK, Answering(**parts))


def test_what_is_no_turn_or_no_model_is_told() -> None:
    for body in (Answering(5), Answering, ps.SectionModel):
        with pytest.raises(WrongTypeError, match="the bod"):
            ps.shift_pattern(PATTERN, STACK, body)
    assert ps.shift_pattern(PATTERN, STACK, Answering()).layers


WAIST = [(0.0, 90.0), (60.0, 90.0)]
CUT_OFF = [(0.0, 20.0), (20.0, 0.0), *BOX[1:]]


def test_corners_of_a_panel_go_where_it_is_laid() -> None:
    # Both lie on each other, so that the second is moved aside, its corners with it.
    corner = {"front_top": (20.0, 0.0)}
    panels = [ps.DraftPanel(name, CUT_OFF, WAIST, corners=corner) for name in "ab"]
    for panel in ps.pattern_from_panels(panels):
        assert panel.edge("top").length == pytest.approx(40.0)
    (plain,) = ps.pattern_from_panels([ps.DraftPanel("a", CUT_OFF, WAIST)])
    assert plain.edge("top").length > 60.0


def test_bones_and_lines_of_a_panel_are_anything_that_draws_them() -> None:
    middles = [[(x, 10.0), (x, 150.0)] for x in range(10, 40, 5)]
    lines: list[Any] = [
        middles[0],
        np.array(middles[1]),
        ps.Curve.polyline(middles[2]),
        "M25 10 V150",
        LineString(middles[4]),
        parse_path("M35,10 V150"),
    ]
    panel = ps.pattern_from_panels([ps.DraftPanel("a", BOX, LineString(WAIST), bones=lines)])["a"]
    assert [mark.curve for mark in panel.marks] == [ps.Curve.polyline(each) for each in middles]
    assert {mark.kind for mark in panel.marks} == {"bone"}
    channel = box(26.0, 10.0, 34.0, 150.0)
    for given in (channel, list(channel.exterior.coords)):
        (panel,) = ps.pattern_from_panels([ps.DraftPanel("a", BOX, WAIST, bones=[given])])
        (mark,) = panel.marks
        assert mark.curve.closed
        assert mark.curve.area == pytest.approx(8.0 * 140.0)


def test_spaces_at_the_ends_of_names_do_not_count() -> None:
    corners = {"front_top": (20.0, 0.0)}
    panels = [ps.DraftPanel(name, CUT_OFF, WAIST, corners=corners) for name in (" a", "b  c ")]
    pattern = ps.pattern_from_panels(panels)
    assert [panel.name for panel in pattern] == ["a", "b c"]
    assert pattern[" a"] is pattern["a"]
    drawing = drawn(walls((60.0, 70.0, 65.0))).replace(b'"wall 2"', b'" wall  2 "')
    order = ("wall 1", " wall  2 ", "wall 3 ")
    read = ps.read_pattern(drawing, reading=ps.Reading(order=order))
    assert [panel.name for panel in read] == ["wall 1", "wall 2", "wall 3"]
    with pytest.raises(PatternError, match="two panels have one name"):
        ps.pattern_from_panels([ps.DraftPanel(name, BOX, WAIST) for name in ("a", "a ")])


def test_a_name_as_long_as_any_may_be_goes_into_a_file() -> None:
    name = "x" * 300
    pattern = ps.pattern_from_panels([ps.DraftPanel(name, BOX, WAIST)]).larger(4.0)
    files = ps.job_files(pattern, ps.Stack([ps.Fabric("drill", 0.5)]))
    assert name.encode() in files["corset.toml"]
    (panel,) = ps.read_pattern(files["corset.svg"])
    assert panel.name == name


def test_a_drafted_waist_that_a_drawing_has_not_is_refused() -> None:
    drawing = drawn(walls((60.0, 70.0, 65.0)))
    assert ps.read_pattern(drawing, reading=ps.Reading(drafted_waist=390.0)).waist == 390.0
    with pytest.raises(ScaleError, match=r"the pattern's waist is 390 mm, but drafted_waist is"):
        ps.read_pattern(drawing, reading=ps.Reading(drafted_waist=100.0))


def test_a_piece_that_there_is_not_is_told_beside_those_there_are() -> None:
    reading = ps.Reading(stands_on=(ps.StandsOn("yoke", "panel 1"),))
    with pytest.raises(PatternError) as told:
        ps.read_pattern(drawn(walls((60.0, 70.0, 65.0))), reading=reading)
    assert told.value.remedy.endswith("Those here: none but what a waistline crosses.")


@pytest.mark.parametrize(
    "corners", [{"top": (1.0, 2.0)}, {"front_top": (NAN, 0.0)}, {"front_top": (1.0,)}]
)
def test_corners_that_cannot_be_are_refused(corners: Any) -> None:
    with pytest.raises(ps.PanelshiftError):
        ps.pattern_from_panels([ps.DraftPanel("a", BOX, WAIST, corners=corners)])
    with pytest.raises(ps.PanelshiftError):
        ps.Reading(corners={"a": corners})


def test_corners_of_a_panel_that_there_is_not_are_told() -> None:
    reading = ps.Reading(corners={"panel 9": {"front_top": (1.0, 2.0)}})
    with pytest.raises(UnknownNameError, match="no panel 'panel 9'"):
        ps.read_pattern(drawn(walls((60.0, 70.0, 65.0))), reading=reading)


def test_what_is_drawn_is_geometry_and_has_measures() -> None:
    panel, layer = PATTERN.panels[0], SHIFTED.layers[1]
    assert shape(panel.waist).length == pytest.approx(panel.waist_width)
    assert shape(layer).area == pytest.approx(layer.area, rel=1e-4)
    assert layer.area == pytest.approx(sum(one.outline.area for one in layer.pattern))
    assert panel.length == panel.outline.length
    assert (panel.centroid == panel.outline.centroid).all()
    facing = ps.Stack([ps.Fabric("drill", 0.5), ps.Fabric("f", 0.4, panels=[panel.name])])
    part = ps.shift_pattern(PATTERN, facing).layer("f")
    assert part.area == part.whole[panel.name].area


def test_curves_and_stacks_have_pictures() -> None:
    picture = etree.fromstring(CURVE._repr_svg_())
    assert [path.get("d") for path in picture.iter("{*}path")] == [path_data(CURVE)]
    stack = ps.Stack([ps.Fabric("lining <b>", 0.2), ps.Fabric("bones", 1.5, coverage=0.2)])
    root = etree.fromstring(stack._repr_svg_())
    words = [text.text for text in root.iter("{*}text")]
    assert words == ["bones: 0.30 mm, +0.25 mm from the draft", "lining <b>: 0.20 mm, drafted"]
    tops, tall, wide = zip(
        *([float(r.get(key)) for key in ("y", "height", "width")] for r in root.iter("{*}rect")),
        strict=True,
    )
    # The thickest is 60 px tall, coverage 120 px wide; words of 12 px stand below one another.
    assert (tall, wide) == ((60.0, 40.0), (24.0, 120.0))
    middles = [float(text.get("y")) - 4.0 for text in root.iter("{*}text")]
    assert middles == [top + 0.5 * high for top, high in zip(tops, tall, strict=True)]
    assert tops[0] + tall[0] < tops[1]
    assert tops[1] + tall[1] < float(root.get("viewBox").split()[3])


def test_a_turn_needs_no_fabric() -> None:
    turn = ps.turn_pattern(PATTERN, ps.SectionModel(), gap=30.0)
    assert turn == ps.shift_pattern(PATTERN, STACK, ps.SectionModel(), gap=30.0).turn
    with pytest.raises(ps.PanelshiftError):
        ps.turn_pattern(PATTERN, ps.SectionModel(), gap=1e6)


def test_a_gap_by_height_leaves_what_it_is_at_the_waist() -> None:
    opening = ps.Measures([-100.0, 0.0, 100.0], [20.0, 40.0, 80.0])
    found = [ps.drafted_waist_for(PATTERN, STACK, inside=500.0, gap=gap) for gap in (opening, 40.0)]
    assert found[0] == pytest.approx(found[1], abs=0.05)


PINNED = ps.MeasuredDistance("drill", "felt", 0.5, 0.1)
ELSEWHERE = ps.Stack([ps.Fabric("drill", 0.5), ps.Fabric("f", 0.4, panels=["panel 9"])])
SHELL = ps.Construction([ps.Shell(["drill"])], [ps.Bones("drill", 7.0, 1.5, per_panel={"no": 2})])


@pytest.mark.parametrize(
    ("call", "known"),
    [
        (lambda: ps.Stack([ps.Fabric("drill", 0.5)], "Drill"), "drill"),
        (lambda: ps.Stack(STACK.fabrics, measured=[PINNED]), "drill, satin"),
        (lambda: STACK.places("drill", "felt"), "drill, satin"),
        (lambda: STACK.surfaces().shares("top", 0), '"skin", "outside"'),
        (lambda: ps.shift_pattern(PATTERN, ELSEWHERE), "wall 1, wall 2, wall 3"),
        (lambda: ps.shift_pattern(PATTERN, STACK, classes=["front", "hip", "back"]), "front, side"),
        (lambda: MeanFormModel("cats"), "women, men"),
        (lambda: ps.shift_pattern(PATTERN, STACK, construction=SHELL), "wall 1, wall 2"),
        (
            lambda: ps.shift_pattern(
                PATTERN, STACK, construction=ps.Construction([ps.Shell(["felt"])])
            ),
            "drill, satin",
        ),
        (lambda: PATTERN.ends(3), "wall 1, wall 2"),
        (lambda: PATTERN.stacked(-1), "wall 1, wall 2"),
        (lambda: PATTERN.edge_kind(3, "front"), "wall 1, wall 2"),
        (lambda: PATTERN.edge_kind(0, "left"), "front, top, back, bottom"),
        (lambda: PATTERN.headline("ell"), "mm, cm, in"),
        (lambda: ps.PageOptions(ps.parse_paper("a4"), unit="ell"), "mm, cm, in"),
        (lambda: ps.CutPlan(unit="ell"), "mm, cm, in"),
        (lambda: ps.Reading(allowance_drawn={"seems": 9.0}), "seam, centre_front"),
        (
            lambda: ps.read_pattern(drawn(walls((60.0,))), reading=ps.Reading(split_at=["yoke"])),
            "waist",
        ),
    ],
)
def test_a_name_that_nothing_has_is_one_kind_of_error(
    call: Callable[[], object], known: str
) -> None:
    with pytest.raises(UnknownNameError) as caught:
        call()
    assert isinstance(caught.value, KeyError)
    assert known in caught.value.remedy
    # It goes from one process to another as it is.
    again = pickle.loads(pickle.dumps(caught.value))
    assert (type(again), str(again)) == (type(caught.value), str(caught.value))


def test_what_belongs_to_a_stack_a_body_or_sewing_is_told_as_such_as_well() -> None:
    with pytest.raises(StackError):
        STACK.places("drill", "felt")
    with pytest.raises(BodyError):
        MeanFormModel("cats")
    with pytest.raises(ConstructionError):
        ps.shift_pattern(PATTERN, STACK, construction=SHELL)


def test_parts_and_factors_of_other_kinds_are_told() -> None:
    for names in ("wall 1", None, 3):
        with pytest.raises(WrongTypeError, match="names of a part"):
            PATTERN.part(names)
    panel = PATTERN.panels[0]
    for factor in (0.0, -1.0, NAN, INF, "1", None):
        with pytest.raises(ps.PanelshiftError):
            panel.larger(factor, 1.0)
    with pytest.raises(WrongTypeError):
        PATTERN.height_of(5)


def test_numbers_of_numpy_are_kept_as_any_others() -> None:
    lists: Any = {"band": (np.float32(-90), np.int64(90)), "panels": [np.str_("wall 2")]}
    tape = ps.Fabric("tape", np.float32(0.3), cut_out=np.bool_(True), **lists)
    stack = ps.Stack([ps.Fabric("drill", np.float64(0.5)), tape])
    layers = ps.shift_pattern(PATTERN, stack, gap=np.float32(40.5)).layers
    for form in ("json", "svg"):
        again = ps.read_saved(ps.saved(layers, form))
        assert again == layers
        assert hash(again) == hash(layers)
    files = ps.job_files(PATTERN, stack, gap=np.float32(40.5))
    assert b"lacing_gap = 40.5" in files["corset.toml"]


@pytest.mark.parametrize("name", ["", "../corset", "a/b", "a\0b", "a\nb", "a" * 400])
def test_a_job_file_has_a_name_without_a_directory(name: str) -> None:
    with pytest.raises(ps.PanelshiftError):
        ps.job_files(PATTERN, STACK, name=name)


def test_a_file_that_takes_text_is_told() -> None:
    with pytest.raises(WrongTypeError, match="the target"):
        ps.save(b"<svg/>", io.StringIO())


def test_levels_named_after_others_are_levels_of_their_own() -> None:
    def across(y: float) -> list[tuple[float, float]]:
        return [(0.0, y), (60.0, y)]

    given = {"high bust": 20.0, "Bust line": 40.0, "hips": 120.0, "hip, lower": 140.0}
    levels = {name: across(y) for name, y in given.items()}
    pattern = ps.pattern_from_panels([ps.DraftPanel("a", BOX, across(90.0), levels)])
    assert pattern.level_names() == ("high bust", "bust", "waist", "hip", "hip, lower")
    assert pattern.level_height("bust") == pytest.approx(50.0)
    again = ps.read_pattern(ps.layer_svg(ps.shift_pattern(pattern, STACK), "drill"))
    assert again.level_names() == pattern.level_names()


@pytest.mark.parametrize("name", ["full bust", "Full Bustline", "bust level"])
def test_the_full_bust_is_the_bust(name: str) -> None:
    # As against a high one (common practice, no source).
    levels = {name: [(0.0, 40.0), (60.0, 40.0)]}
    pattern = ps.pattern_from_panels([ps.DraftPanel("a", BOX, [(0.0, 90.0), (60.0, 90.0)], levels)])
    assert pattern.level_names() == ("bust", "waist")


def test_panels_called_after_what_lines_are_called_are_read_back() -> None:
    # The ids of their lines say both: a low hip's waistline was taken for another one, and panels
    # called notch or grain were lost without a word.
    names = ("waist", "low hip", "bone casing", "cut line", "notch", "grain", "test square")
    pattern = ps.pattern_from_panels([ps.DraftPanel(name, BOX, WAIST) for name in names])
    again = ps.read_pattern(ps.layer_svg(ps.shift_pattern(pattern, STACK), "satin"))
    assert tuple(panel.name for panel in again) == names


@pytest.mark.parametrize("words", ["a\nb", "nul\0", "half \ud800", "\u202eturned", "a" * 301])
def test_words_that_no_file_or_line_holds_are_refused(words: str) -> None:
    # Files failed with errors of the codec or of the XML library, or could not be read again.
    for call in (
        lambda: ps.Fabric(words, 0.5),
        lambda: ps.DraftPanel(words, BOX, WAIST),
        lambda: ps.DraftPanel("a", BOX, WAIST, levels={words: WAIST}),
        lambda: ps.CutPlan(title=words),
        lambda: ps.draft_svg(PATTERN, title=words),
    ):
        with pytest.raises(ps.PanelshiftError, match=r"control characters|301 letters"):
            call()


@pytest.mark.slow
def test_a_layer_with_spaces_and_commas_in_its_name_is_printed() -> None:
    name = " drill, satin "
    shifted = ps.shift_pattern(PATTERN, ps.Stack([*STACK.fabrics, ps.Fabric(name, 0.3)]))
    assert ps.layer_pdf(shifted, name, ps.PageOptions(ps.parse_paper("a4"))).startswith(b"%PDF")


def test_what_a_table_holds_is_told_by_what_it_should_hold() -> None:
    # Of a table that may be left out the remedy was to give a NoneType.
    with pytest.raises(WrongTypeError, match=r"'seam', is '9'.*\n.*Give a number"):
        ps.Reading(allowance_drawn={"seam": "9"})
    with pytest.raises(WrongTypeError, match=r"key in changes of open_job is 5.*\n.*Give text"):
        ps.open_job("corset.toml", {5: 3.0})


def test_a_job_is_opened_with_numbers_of_numpy_and_equals_itself() -> None:
    job, again = (
        ps.open_job("sample_patterns/hourglass.toml", {"pattern.lacing_gap": gap})
        for gap in (np.int64(30), np.float32(30.0))
    )
    assert job.gap == 30.0
    assert {job, again} == {job}
    assert job != replace(job, gap=20.0)
    # Printed, it is a screenful and not its whole file.
    assert "gap=30.0" in repr(job)
    assert len(repr(job)) < 1600


@pytest.mark.parametrize(
    ("outline", "waist", "name"), [(None, WAIST, "outline"), (BOX, None, "waist")]
)
def test_a_panel_without_a_line_says_which(outline, waist, name: str) -> None:
    with pytest.raises(TypeError) as caught:
        ps.pattern_from_panels([ps.DraftPanel("a", outline, waist)])
    assert str(caught.value).startswith(f"the {name} is None")
    assert "[(0, 90), (60, 90)]" in str(caught.value)
