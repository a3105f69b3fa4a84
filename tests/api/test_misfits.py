"""Values of other kinds than a function asks for: refused in words, or taken as what they are."""

from __future__ import annotations

import copy
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import panelshift as ps
from panelshift.body import MeanFormModel, Ring, TapeModel, Tapes, Turn, infer_classes
from panelshift.body.support import Sections
from panelshift.cutting.bones import BoneOptions
from panelshift.cutting.extras import Extras
from panelshift.errors import UnknownNameError, WrongTypeError
from panelshift.pattern.panel import Span
from tests.support.drafts import drawn, walls
from tests.support.runs import read_pattern

PATTERN = read_pattern(drawn(walls((60.0, 70.0, 65.0))))
NAMES = [panel.name for panel in PATTERN]
STACK = ps.Stack([ps.Fabric("drill", 0.5), ps.Fabric("tape", 0.4, band=(-10.0, 10.0))])
SHIFTED = ps.shift_pattern(PATTERN, STACK)
PLAN = ps.CutPlan()
BOX = [(0.0, 0.0), (60.0, 0.0), (60.0, 160.0), (0.0, 160.0)]
LINE = ps.Curve.polyline(BOX)
ARC = ps.Curve.cubics([[(100, 0), (100, 55.23), (55.23, 100), (0, 100)]])


def cylinder(radius: float) -> Sections:
    return Sections.of_support(lambda psi: np.full((2, psi.shape[-1]), radius))


ROUND = cylinder(100.0)
HEIGHTS = np.array([-50.0, 50.0])
FORM = ps.MeasuredForm(HEIGHTS, ROUND, "traced", ps.FormErrors())
NAN, INF, HUGE = float("nan"), float("inf"), 10**400
SOLO: Any = np.array(3.0)


@pytest.mark.parametrize(
    "call",
    [
        lambda: ps.Allowances().of("hem"),
        lambda: ps.Allowances().of(None),
        lambda: ps.Alteration("1 to 2", 2.0).said("ell"),
        lambda: ps.EndAlteration("top", {"centre front": 2.0}, 9.0).said(None),
        lambda: ps.EndAlteration("top", {"centre front": 2.0}, INF),
        lambda: FORM.shown_girth(0.0, "m"),
        lambda: FORM.girth_at("waist"),
        lambda: ps.MeasuredForm(HEIGHTS[::-1], ROUND, "traced", ps.FormErrors()),
        lambda: ps.MeasuredForm(HEIGHTS, None, "traced", ps.FormErrors()),
        lambda: ps.MeasuredForm(HEIGHTS, ROUND, "guessed", ps.FormErrors()),
        lambda: ps.MeasuredForm(HEIGHTS, ROUND, "traced", ps.FormErrors(), names={"bust": NAN}),
        lambda: ps.FormErrors(surface=NAN),
        lambda: ps.FormErrors(waist=-1.0),
        lambda: ps.FormErrors(front=INF),
        lambda: ps.Measures(np.ma.array([0.0, 1.0], mask=[0, 1]), [1.0, 2.0]),
        lambda: ps.Measures([0.0], ["7"]),
        lambda: ps.Measures.constant("7"),
        lambda: ps.Measures.constant(None),
        lambda: ps.Measures.constant(HUGE),
        lambda: ps.Measures.constant(1.0).at("0"),
        lambda: ps.BatchJob("a", "a.toml").load(None),
        lambda: ps.BatchJob("a", {}).data(3),
        lambda: PLAN.refuse_unknown(PATTERN),
        lambda: PLAN.refuse_unlike(PATTERN, NAMES[0], "drill"),
        lambda: PLAN.said("5"),
        lambda: PLAN.words(SHIFTED, SHIFTED.layers[0], 3),
        lambda: PLAN.cutting(PATTERN, -1),
        lambda: PLAN.edges(PATTERN, 3, "drill"),
        lambda: PLAN.edges(NAMES, 0, "drill"),
        lambda: Extras(binding="8 mm"),
        lambda: Extras(casing=-1.0),
        lambda: Extras(fabric={"hem": "silk"}),
        lambda: BoneOptions(lengths=[0.0]),
        lambda: BoneOptions(clearance=NAN),
        lambda: BoneOptions("a\nb"),
        lambda: STACK.places(None, "drill"),
        lambda: STACK.at(NAN),
        lambda: STACK.at("waist"),
        lambda: STACK.fabrics[1].at(None),
        lambda: STACK.at_heights("wall 1", HEIGHTS),
        lambda: STACK.girth_uncertainty(["wall 1"], 0, 1),
        lambda: ps.Curve(LINE.control, [NAN, 1, 1]),
        lambda: ps.Curve.polyline(HUGE),
        lambda: ps.Curve.polyline(BOX, closed=np.ones(2)),
        lambda: LINE.points(HUGE),
        lambda: LINE.flatten(SOLO),
        lambda: LINE.piece(0.0, -INF),
        lambda: ARC.offset(-INF),
        lambda: ps.Reading(drafted_waist=0.0),
        lambda: ps.Reading(order=SOLO),
        lambda: ps.Fabric("a", 0.5, band=SOLO),
        lambda: ps.Pattern(None),
        lambda: ps.Pattern(["wall 1"]),
        lambda: replace(PATTERN, full="no"),
        lambda: ps.job_files(PATTERN, STACK, ps.ClassModel(), classes=["front"]),
        lambda: PATTERN[0].moved([[1.0, 0.0], [0.0, 1.0]], PATTERN[0].frame),
        lambda: PATTERN[0].moved(None, PATTERN[0].frame),
        lambda: Ring("rising", np.ones((1, 3)), 0.0, ("side",) * 3),
        lambda: Ring([0.0], HUGE, 0.0, ("side",) * 3),
        lambda: Turn(HUGE, HUGE, HUGE, HUGE),
        lambda: ps.FormModel(SOLO, ROUND),
        lambda: PATTERN[None],
        lambda: PATTERN[1.0],
        lambda: PATTERN[np.array(["wall 1", "wall 2"])],
        lambda: PATTERN[["wall 1"]],
        lambda: PATTERN.index(np.array([])),
        lambda: PATTERN.level_height(np.array(["waist", "hip"])),
        lambda: PATTERN.part(SOLO),
        lambda: PATTERN.part([np.array(["wall 1", "wall 2"])]),
        lambda: PATTERN.edge_kind(0, np.array(["front", "back"])),
        lambda: PATTERN[0].edge(np.array(["front", "back"])),
        lambda: PATTERN[0].is_straight(None),
        lambda: PATTERN[0].waist_end(np.array([])),
        lambda: PATTERN[0].stretch(np.array(["front", "back"]), None),
        lambda: PATTERN[0].stretch("front", "whole"),
        lambda: PATTERN[0].stretch("front", Span(slit="gore")),
        lambda: PATTERN[0].stretch("front", Span(low="gore")),
        lambda: PATTERN[0].stretch("front", Span(high=np.array(["", "gore"]))),
        lambda: PATTERN[0].moved([[1.0, 0.0, 0.0], [0.0, 1.0, 0.0]], None),
        lambda: PATTERN[0].frame.to_panel("x"),
        lambda: PATTERN[0].frame.to_sheet([1.0, 2.0, 3.0]),
        lambda: PATTERN[0].frame.larger(1.0, "2"),
        lambda: PATTERN[0].frame.larger(INF, 1.0),
        lambda: SHIFTED.layer(np.array(["drill", "tape"])),
        lambda: SHIFTED.layers[0].walk(as_cut=np.zeros(2)),
        lambda: SHIFTED.turn.lengthening_spread_at(0, "top", 0.0),
        lambda: SHIFTED.turn.lengthening_spread_at(0, "front", NAN),
        lambda: ps.Allowances().of(np.array(["seam", "top"])),
        lambda: PLAN.edges(PATTERN, 0, ["drill"]),
        lambda: PLAN.said(NAN),
        lambda: PLAN.said(HUGE),
        lambda: STACK.fabrics[0].covers(np.array(["wall 1", "wall 2"])),
        lambda: STACK.at_heights(["wall 1"], SOLO),
        lambda: STACK.surfaces().distance("skin", np.array(["skin", "outside"])),
        lambda: FORM.girth_at(HUGE),
        lambda: ps.ClassModel().turn(PATTERN),
        lambda: MeanFormModel().turn(None),
        lambda: Sections(np.zeros((2, 3))),
        lambda: Sections(np.full((2, 41), NAN)),
        lambda: Sections.of_support(100.0),
        lambda: Sections.of_support(np.cos, count=0),
        lambda: Sections.of_support(np.cos, count=HUGE),
        lambda: Sections.of_support(np.cos, count=500.5),
        lambda: Sections.of_support(lambda _psi: 100.0),
        lambda: Sections.of_support(lambda _psi: "round"),
        lambda: Sections.of_support(lambda psi: 1e308 + psi),
        lambda: Sections.of_support(lambda psi: NAN * psi),
        lambda: Sections.of_points(None),
        lambda: Sections.of_points(SOLO),
        lambda: Sections.of_points(["round"]),
        lambda: Sections.of_points([[1.0, 2.0, 3.0]]),
        lambda: Sections.of_points([BOX], smoothing="none"),
        lambda: Sections.of_points([BOX], smoothing=-1.0),
        lambda: Sections.of_points([[(0, 0), (INF, 0), (0, 1)]]),
        lambda: ROUND.normals([0.5]),
        lambda: ROUND.points(np.zeros((3, 4))),
        lambda: ROUND.support("front"),
        lambda: ROUND.radius(SOLO),
        lambda: ROUND.slope(np.full((2, 1), INF)),
        lambda: ROUND.arc_between(0.0, None),
        lambda: ROUND.arc_between(NAN, 1.0),
        lambda: ps.FormerModel(1e-300),
        lambda: ps.ClassModel({"front": 5e-324, "side": 1.0, "back": 1.0}),
        lambda: ps.ClassModel(girths=ps.Measures.constant(1e-300)),
        lambda: ps.SectionModel(ps.Measures.constant(1e-9)),
        lambda: ps.SectionModel(ps.Measures([-50, 0], [1.4, 101.0])),
        lambda: ps.SectionModel(girths=ps.Measures.constant(-640.0)),
        lambda: MeanFormModel(ratio=ps.Measures.constant(1e4)),
        lambda: MeanFormModel(girths=ps.Measures.constant(0.0)),
        lambda: TapeModel({0.0: Tapes(girth=1e20)}),
        lambda: TapeModel({50.0: Tapes(stand_out=-1e20)}),
        lambda: TapeModel({1e20: Tapes(girth=640.0)}),
        lambda: TapeModel({0.0: Tapes(girth=640.0)}, error=1e200),
        lambda: ps.FormModel(HEIGHTS, cylinder(1e-300)),
        lambda: ps.FormModel(HEIGHTS, cylinder(1e200)),
        lambda: ps.FormModel(1e306 * HEIGHTS, ROUND),
        lambda: ps.FormModel(1e-300 * HEIGHTS, ROUND),
        lambda: ps.FormModel(HEIGHTS, ROUND, girths=ps.Measures.constant(1e-300)),
        lambda: ps.FormErrors(surface=1e200),
        lambda: ps.FormErrors(front=7.0),
        lambda: ps.Measures([-1e308, 1e308], [1.0, 2.0]),
        lambda: ps.Measures([0.0, 1.0], [-1e308, 1e308]),
        lambda: infer_classes([1e308, 1e308]),
        lambda: infer_classes([1.0, 2.0], gap=-1.0),
        lambda: infer_classes([1.0, 2.0], body=ps.SectionModel(), gap=1e300),
        lambda: infer_classes(None),
        lambda: infer_classes([[1.0]]),
        lambda: infer_classes([1.0, -1.0]),
        lambda: infer_classes([0.0, 0.0]),
        lambda: infer_classes([1.0, 2.0], full="half"),
    ],
)
@pytest.mark.filterwarnings("error")
def test_misfits_are_refused_in_words(call: Callable[[], object]) -> None:
    with pytest.raises(ps.PanelshiftError):
        call()


@pytest.mark.parametrize(
    "call",
    [
        lambda: ps.Stack(set(STACK.fabrics)),
        lambda: ps.Reading(order=set(NAMES)),
        lambda: ps.Shell({"drill", "tape"}),
        lambda: ps.Fabric("a", 0.5, cut_in_one=[set(NAMES[:2])]),
        lambda: ps.shift_pattern(PATTERN, STACK, classes={"front", "side", "back"}),
        lambda: ps.pattern_from_panels({ps.DraftPanel("a", BOX, BOX[:2])}),
    ],
)
def test_a_set_has_no_order(call: Callable[[], object]) -> None:
    # Layers and panels came in another order in every process.
    with pytest.raises(WrongTypeError, match=r"a set\n|\[\{"):
        call()
    # What has none is taken from one.
    assert ps.Fabric("a", 0.5, panels={"b"}).panels == frozenset({"b"})


@pytest.mark.parametrize(
    ("make", "listed"),
    [
        (lambda own: ps.Reading(order=own), ["a", "b"]),
        (lambda own: ps.Reading(split_at=own, leave_out=own), ["a", "b"]),
        (lambda own: ps.Gore("gore", own), ["a", "b"]),
        (lambda own: ps.CutPlan(napped=own, record=own), ["a", "b"]),
        (lambda own: ps.Bones("drill", 7.0, 1.5, stitched=own), ["a", "b"]),
        (lambda own: ps.Shell(["a"], graded=own), [8.0, 4.0]),
        (lambda own: ps.Fabric("a", 0.5, band=own), [-8.0, 4.0]),
        (lambda own: ps.Fabric("a", 0.5, by_height=own), [[-8.0, 1.0], [4.0, 0.5]]),
        (lambda own: ps.Fabric("a", 0.5, cut_in_one=own), [["a", "b"]]),
    ],
)
def test_lists_and_arrays_are_kept_as_tuples(make: Callable[[Any], Any], listed: Any) -> None:
    # Readings of lists had no hash and were unlike those of tuples; arrays failed when used.
    wanted = make(tuple(tuple(i) if isinstance(i, list) else i for i in listed))
    for given in (listed, np.array(listed)):
        made = make(given)
        assert made == wanted
        assert hash(made) == hash(wanted)
        assert repr(made) == repr(wanted)


def test_arrays_of_names_are_lists_of_them() -> None:
    svg = drawn(walls((60.0, 70.0, 65.0)))
    back = ps.read_pattern(svg, reading=ps.Reading(order=np.array(NAMES[::-1]), halves="half"))
    assert [panel.name for panel in back] == NAMES[::-1]
    classes = ["front", "side", "back"]
    stack = ps.Stack(STACK.fabrics[:1])
    assert ps.job_files(PATTERN, stack, classes=np.array(classes)) == ps.job_files(
        PATTERN, stack, classes=classes
    )
    chained = ps.Curve.chain(np.array([LINE, LINE.reversed()], dtype=object))
    assert chained == ps.Curve.chain([LINE, LINE.reversed()])


def test_text_is_read_whatever_it_says_of_bytes() -> None:
    def svg(head: str) -> str:
        return f"""{head}<svg xmlns="http://www.w3.org/2000/svg" width="100mm" height="200mm"
            viewBox="0 0 100 200"><path id="c\xf4t\xe9" d="M20 20 H80 V180 H20 Z"/>
            <path id="waist" d="M20 110 H80"/></svg>"""

    heads = ["", "\ufeff", '<?xml version="1.0"?>', "<?xml version='1.0' encoding='utf-8'?>\n"]
    for code in ("ISO-8859-1", "UTF-16"):
        heads.append(f'<?xml version="1.0" encoding="{code}" standalone="no"?>')
    for head in heads:
        (panel,) = ps.read_pattern(svg(head))
        assert panel.name == "c\xf4t\xe9"
    assert ps.read_pattern(svg(heads[4]).encode("latin-1"))[0].name == "c\xf4t\xe9"


def test_a_measure_is_asked_at_one_height_as_at_many() -> None:
    girths = ps.Measures([0, 120], [660, 900])
    for height in (60, 60.0, np.float64(60.0)):
        assert girths.at(height).shape == ()
        assert float(girths.at(height)) == girths.at([60.0])[0] == 780.0


def test_an_array_is_in_no_pattern_and_on_no_level() -> None:
    for names in (np.array(["wall 1", "wall 2"]), np.array([]), ["wall 1"]):
        assert names not in PATTERN
        assert PATTERN[0].level(names) is None
    assert "wall 1" in PATTERN
    assert PATTERN[1] in PATTERN
    # What a list takes as a place, a pattern takes.
    assert PATTERN[np.int64(1)] is PATTERN[1] is PATTERN[-2] is PATTERN[0:2][1]
    with pytest.raises(IndexError):
        _ = PATTERN[HUGE]


def test_a_tolerance_beyond_all_is_the_coarsest() -> None:
    assert np.array_equal(ARC.flatten(HUGE), ARC.flatten(1e30))
    assert len(copy.copy(ARC).flatten(INF)) == 2


def test_pieces_of_no_panels_are_alike_and_huge_heights_are_heights() -> None:
    PLAN.refuse_unlike(PATTERN, [], "drill")
    assert STACK.at(HUGE).fabrics[1].panels == frozenset()


@dataclass(frozen=True)
class Priced(ps.Fabric):
    price: float = 0.0


def test_a_fabric_of_a_script_s_own_shifts_and_is_not_saved() -> None:
    # It was saved as what is read back as damage.
    shifted = ps.shift_pattern(PATTERN, ps.Stack([ps.Fabric("drill", 0.5), Priced("silk", 0.4)]))
    assert shifted.growth_table() == pytest.approx(
        ps.shift_pattern(
            PATTERN, ps.Stack([ps.Fabric("a", 0.5), ps.Fabric("b", 0.4)])
        ).growth_table()
    )
    for form in ("json", "svg"):
        with pytest.raises(WrongTypeError, match="a Priced, a Fabric of your own"):
            ps.saved(shifted.layers, form)


def test_a_file_that_is_open_for_reading_is_told(tmp_path: Path) -> None:
    (tmp_path / "a.svg").write_bytes(b"<svg/>")
    with (
        (tmp_path / "a.svg").open("rb") as stream,
        pytest.raises(WrongTypeError, match="open for reading"),
    ):
        ps.save(b"", stream)


def test_names_of_what_there_is_stand_in_the_remedy() -> None:
    with pytest.raises(UnknownNameError, match="seam, centre_front"):
        ps.Allowances().of("hem")
    with pytest.raises(UnknownNameError, match="mm, cm, in"):
        FORM.shown_girth(0.0, "pt")
    with pytest.raises(UnknownNameError, match="wall 1, wall 2, wall 3"):
        PLAN.cutting(PATTERN, 7)
