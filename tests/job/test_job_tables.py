"""Tables of a job file become objects: every key arrives, and heights by hand."""

from __future__ import annotations

import math
from copy import deepcopy
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from panelshift.body import (
    ClassModel,
    FormerModel,
    MeanFormModel,
    Measures,
    SectionModel,
    TapeModel,
)
from panelshift.body.widths import FACTORS
from panelshift.errors import JobError, StackError
from panelshift.job.altering import AlterationTable, mock_up
from panelshift.job.materials import body_of, fabric_stack, with_heights
from panelshift.job.model import BodyTable, JobFile
from panelshift.job.toml import job_faults, read_job
from panelshift.pattern.pattern import Pattern
from panelshift.shift.alteration import Alteration
from panelshift.shift.end_edges import EndAlteration
from panelshift.sources.svg import read_svg
from panelshift.stack import Fabric, Stack
from panelshift.units import LONGEST_MM
from tests.support.drawings import Draft, half, panels, path, pattern, write_job

ALL_KEYS = {
    "thickness": 0.8,
    "coverage": 0.75,
    "loft": 0.9,
    "panels": ["1", "2"],
    "cut_out": True,
    "thickness_uncertainty": 0.02,
    "loft_uncertainty": 0.03,
    "coverage_uncertainty": 0.04,
    "cloth": "bolt 7",
    "take_up": 0.011,
    "take_up_length": 0.012,
    "reduced": 0.013,
    "reduced_length": 0.014,
    "take_up_uncertainty": 0.015,
    "cut_in_one": [["1", "2"]],
    "darts_from": 4.0,
    "split_at": ["hip"],
}


def stacked(*fabrics: dict[str, object], **more: object) -> JobFile:
    return JobFile.model_validate(
        {"pattern": {"file": "a.svg"}, "stack": {"fabric": list(fabrics), **more}}
    )


def test_every_key_of_a_fabric_is_its_field() -> None:
    kept = {"name": "plain", "thickness": 1}
    found = fabric_stack(stacked(kept, {"name": "wadding", **ALL_KEYS}))
    own = dict(ALL_KEYS, panels=frozenset({"1", "2"}), cut_in_one=(("1", "2"),), split_at=("hip",))
    assert found == Stack([Fabric("plain", 1.0), Fabric("wadding", **own)])  # type: ignore[arg-type]
    assert found.drafted == "plain"
    named = stacked({"name": "a", "thickness": 1}, {"name": "b", "thickness": 1}, drafted_layer="b")
    assert fabric_stack(named).drafted == "b"
    strange = stacked({"name": "a", "thickness": 1}, drafted_layer="c")
    with pytest.raises(StackError, match="mine"):
        fabric_stack(strange, source="mine.toml")


def levelled() -> Pattern:
    return pattern(panels(half(2)) + path("M0 260H300", "hip") + path("M0 110H300", "bust"))


@pytest.mark.parametrize(
    ("keys", "band", "by_height"),
    [
        ({}, None, ()),
        ({"from": "hip"}, (-60.0, LONGEST_MM), ()),
        ({"to": "+20 mm"}, (-LONGEST_MM, 20.0), ()),
        ({"from": -30, "to": "bust"}, (-30.0, 90.0), ()),
        ({"from": "waist", "to": 0.5}, (0.0, 0.5), ()),
        # Over the thickness and the coverage that are stated, in the order of heights.
        ({"thickness_at": {"bust": 1.6, "hip": 0.4}}, None, ((-60.0, 0.5), (90.0, 2.0))),
        ({"coverage_at": {"waist": 0.25}}, None, ((0.0, 0.5),)),
        # Both: each linear between its heights and held beyond them.
        (
            {
                "thickness_at": {"hip": 0.8, "bust": 1.6},
                "coverage_at": {"waist": 0.5, "+150 mm": 0.25},
                "to": "bust",
            },
            (-LONGEST_MM, 90.0),
            ((-60.0, 1.0), (0.0, 1.4), (90.0, 2.0 * 0.7), (150.0, 2.0 * 0.5)),
        ),
    ],
)
def test_heights_of_a_fabric(
    keys: dict[str, object], band: object, by_height: tuple[tuple[float, float], ...]
) -> None:
    kept = {"name": "b", "thickness": 1}
    job = stacked(kept, {"name": "a", "thickness": 0.8, "coverage": 0.5, **keys})
    plain = fabric_stack(job)
    first, found = with_heights(plain, job, levelled()).fabrics
    assert first == plain.fabrics[0]
    assert found.band == pytest.approx(band)
    assert np.array(found.by_height) == pytest.approx(np.array(by_height))
    assert replace(found, band=None, by_height=()) == plain.fabrics[1]


def test_a_fabric_of_no_thickness_has_none_at_any_height() -> None:
    job = stacked({"name": "a", "thickness": 0.0, "thickness_at": {"hip": 0.5}})
    (found,) = with_heights(fabric_stack(job), job, levelled()).fabrics
    assert (found.band, found.by_height) == (None, ())


def test_heights_that_are_none_are_told_of_every_fabric() -> None:
    one = {"name": "a", "thickness": 0.8, "from": "hups", "thickness_at": {"bist": 1}}
    two = {"name": "b", "thickness": 0.8, "to": "top", "coverage_at": {"waist": 1}}
    job = stacked(one, two)
    with pytest.raises(JobError) as caught:
        with_heights(fabric_stack(job), job, levelled(), source="mine.toml")
    assert str(caught.value).splitlines() == [
        "mine.toml: the job does not fit the pattern:",
        "    stack.fabric (a): 'hups' is no level, nor a height such as +120 mm",
        "    stack.fabric (a): 'bist' is no level, nor a height such as +120 mm",
        "    stack.fabric (b): 'top' is no level, nor a height such as +120 mm",
        "  What to do: Levels here: bust, waist, hip.",
    ]
    twice = stacked({"name": "a", "thickness": 1, "coverage_at": {"hip": 0.5, "-60 mm": 0.6}})
    with pytest.raises(JobError, match=r"\(a\): two of hip, -60 mm are one height"):
        with_heights(fabric_stack(twice), twice, levelled())


def body(**keys: object) -> object:
    stack = Stack([Fabric("a", 0.6, coverage=0.5), Fabric("b", 2.0)])
    return body_of(BodyTable.model_validate(keys), levelled(), stack)


def test_every_model_of_a_body_has_its_own_keys() -> None:
    girths = {"waist": 600, "hip": 900}
    heights = np.array([levelled().level_height(name) for name in ("hip", "waist")])
    assert heights == pytest.approx([-60.0, 0.0])
    at = Measures(heights, np.array([900.0, 600.0]))
    assert body(model="former", diameter=80) == FormerModel(80.0, 0.3)
    assert body(model="section") == SectionModel(Measures.constant(1.4), 2.0)
    assert body(model="section", ratio={"hip": 1.5, "waist": 1.2}, exponent=2.5, girths=girths) == (
        SectionModel(Measures(heights, np.array([1.5, 1.2])), 2.5, at)
    )
    assert body() == MeanFormModel("either", None, None, 90.0)
    assert body(of="men", ratio=1.3, girths=girths, bust_height=140) == (
        MeanFormModel("men", Measures.constant(1.3), at, 140.0)
    )
    for of in ("women", "men", "either"):
        own = body(model="classes", of=of, factors={"side": 0.7}, girths=girths)
        assert own == ClassModel({**FACTORS[of], "side": 0.7}, at)
    tapes = {
        "waist": {"breadth": 220, "depth": 170, "girth": 620},
        "bust": {"girth": 900, "front_arc": 470, "stand_out": 30},
    }
    found = body(model="tapes", of="women", tapes=tapes, error=2, heights="upright")
    assert isinstance(found, TapeModel)
    assert (found.of, found.error, found.upright, found.bust_height) == ("women", 2.0, True, 90.0)
    assert {height: own.given() for height, own in found.tapes.items()} == {
        heights[1]: tapes["waist"],
        levelled().level_height("bust"): tapes["bust"],
    }
    plain = body(model="tapes", tapes=tapes, bust_height=120)
    assert isinstance(plain, TapeModel)
    assert (plain.of, plain.error, plain.upright, plain.bust_height) == (
        "either",
        3.0,
        False,
        120.0,
    )
    with pytest.raises(JobError) as caught:
        body(model="tapes", tapes={**tapes, "+90.4 mm": {"girth": 900}})
    assert str(caught.value).splitlines() == [
        "body.tapes.+90.4 mm: tapes are given twice +90 mm from the waist",
        "  What to do: Write all tapes of a level into one table.",
    ]


@pytest.mark.parametrize(
    ("keys", "wanted"),
    [
        ({"seam": "1 to 2", "let_out": 6}, Alteration("1 to 2", 6.0)),
        ({"seam": "1 to 2", "take_in": "0.5 in"}, Alteration("1 to 2", -12.7)),
        (
            {"seam": "centre back", "take_in": {"waist": 4, "hip": 0}, "run_out": 40, "on": "2"},
            Alteration("centre back", {"waist": -4.0, "hip": 0.0}, 40.0, on="2"),
        ),
        (
            {"seam": "1 to 2", "let_out": 3, "from": "hip", "to": 20, "run_out": 9, "side": "left"},
            Alteration("1 to 2", 3.0, 9.0, "hip", "+20 mm", side="left"),
        ),
        (
            {"edge": "top", "raise": {"centre front": 5, "1 to 2": 0}, "run_out": 30},
            EndAlteration("top", {"centre front": 5.0, "1 to 2": 0.0}, 30.0),
        ),
        (
            {"edge": "bottom", "lower": {"centre front": 7, "1 to 2": 0}},
            EndAlteration("bottom", {"centre front": -7.0, "1 to 2": 0.0}, None),
        ),
    ],
)
def test_an_alteration_is_all_that_its_table_says(
    keys: dict[str, object], wanted: Alteration | EndAlteration
) -> None:
    found = AlterationTable.model_validate(keys).alteration()
    assert found == wanted
    # No zero is written as -0.
    amounts = {} if isinstance(found.amount, float) else found.amount
    assert all(math.copysign(1.0, value) > 0.0 for value in amounts.values() if not value)


def test_a_mock_up_has_its_allowance_on_every_edge_and_nothing_of_the_job_but_the_draft(
    tmp_path: Path,
) -> None:
    boxes = [
        Draft(
            f"panel {k + 1}", x=60.0 + 120.0 * k, waist=50.0 + 10.0 * k, left=(0, 0), right=(0, 0)
        )
        for k in range(3)
    ]
    job = write_job(
        tmp_path,
        panels(boxes),
        head="lacing_gap = 40",
        rest='[allowance]\nseam = 6\ntop = 0\n[panel."panel 1"]\nfold = "front"\n'
        '[body]\nmodel = "former"\ndiameter = 90\n[extras]\nwaist_tape = 20\nmodesty = 80\n'
        '[construction]\n[[construction.shell]]\nlayers = ["brocade"]\n',
    )
    drawing = read_svg(mock_up(read_job(job)), name="mock-up.svg")
    # Left, top, right and bottom of each kind of line, panel by panel.
    box = {
        kind: np.array(
            [
                [*points.min(axis=0), *points.max(axis=0)]
                for shape in drawing.shapes
                if shape.ident.rstrip("123").rstrip("-") == f"{kind}-panel"
                for points in [shape.curve.control.reshape(-1, 2)]
            ]
        )
        for kind in ("cut-line", "stitch-line")
    }
    stitched = box["stitch-line"]
    assert stitched[:, 2] - stitched[:, 0] == pytest.approx([50.0, 60.0, 70.0])
    assert stitched[:, 3] - stitched[:, 1] == pytest.approx([220.0] * 3)
    beyond = (box["cut-line"] - stitched) * [-1.0, -1.0, 1.0, 1.0]
    # The first lies on the fold of the cloth by its front edge.
    assert beyond == pytest.approx(np.array([[0.0, 25.0, 25.0, 25.0], [25.0] * 4, [25.0] * 4]))
    kinds = {shape.groups[0] for shape in drawing.shapes}
    assert kinds == {"cut-line", "stitch-line", "fold-line", "waistline", "notches"} | {
        "grainlines",
        "test-squares",
    }


THREE = {"warp": 0.01, "weft": 0.02, "bias": 0.1}
BASE: dict[str, Any] = {
    "pattern": {"file": "draft.svg"},
    "stack": {"drafted_layer": "drill", "fabric": [{"name": "drill", "thickness": 0.5}]},
}


@pytest.mark.parametrize(
    ("place", "right", "wrong"),
    [
        (
            ("pattern", "allowance_drawn"),
            [10, "1/2 in", {"seam": 10, "top": "1 cm"}],
            {
                -1: "must be at least 0",
                "wide": "'wide' is not a length. Write a number and a unit, such as 12 mm, 0.5 in "
                "or 3/8 in.",
            },
        ),
        (
            ("stack", "fabric", 0, "stretch"),
            [0.01, 0.5, THREE],
            {
                0.0: "must be more than 0",
                0.51: "must be at most 0.5",
                "wide": "'wide' is not a number. Write a number such as 12, 0.5 or 1e-3.",
            },
        ),
        (
            ("body", "ratio"),
            [1.3, {"waist": 1.3, "hip": 1.2}, {}],
            {0.1: "must be more than 0.1", 10.0: "must be less than 10"},
        ),
        (
            ("alteration", 0, "let_out"),
            [6, "1/4 in", {"waist": 4, "hip": "-3 mm"}],
            {
                "wide": "'wide' is not a length. Write a number and a unit, such as 12 mm, "
                "0.5 in or 3/8 in."
            },
        ),
    ],
)
def test_what_may_be_one_number_or_a_table_tells_one_fault(
    place: tuple[str | int, ...], right: list[Any], wrong: dict[Any, str]
) -> None:
    def with_value(value: Any) -> dict[str, Any]:
        data = deepcopy(BASE) | {"body": {}, "alteration": [{"seam": "a to b"}]}
        table: Any = data
        for key in place[:-1]:
            table = table[key]
        table[place[-1]] = value
        if place[0] != "alteration":
            del data["alteration"]
        return data

    for value in right:
        assert job_faults(with_value(value)) == ()
    for value, words in wrong.items():
        assert [(f.place, f.words) for f in job_faults(with_value(value))] == [(place, words)]
