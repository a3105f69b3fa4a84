"""Job files for scripts: as objects, and as text that reads back as the same."""

from __future__ import annotations

import json
import os
import tomllib
from dataclasses import replace
from pathlib import Path

import pytest

from panelshift import (
    Allowances,
    Alteration,
    ClassModel,
    CutPlan,
    Cutting,
    Fabric,
    FormerModel,
    MeasuredDistance,
    Measures,
    PageOptions,
    PanelshiftError,
    Pattern,
    SectionModel,
    Stack,
    alter_pattern,
    job_facts,
    job_files,
    job_layers,
    job_pdfs,
    job_text,
    layer_svg,
    open_job,
    parse_paper,
    shift_pattern,
)
from panelshift.body import BodyModel, MeanFormModel, Ring, TapeModel, Tapes, Turn
from panelshift.job import JobFile, opened, read_job
from panelshift.job.keys import with_overrides
from panelshift.job.scripted import _same_lines as same_lines
from panelshift.outline import Curve
from tests.support.drawings import full, half, panels, path, pattern, write_job
from tests.support.examples import thinned
from tests.support.terminal import OUTPUT

SAMPLES = Path(__file__).parents[2] / "sample_patterns"


@pytest.mark.parametrize(
    "file", thinned(sorted(SAMPLES.glob("*.toml")), 2), ids=lambda file: file.stem
)
def test_every_sample_reads_back_as_the_same(file: Path, tmp_path: Path) -> None:
    job = open_job(file)
    (tmp_path / "again.toml").write_text(job_text(job, tmp_path), encoding="utf-8")
    again = read_job(tmp_path / "again.toml")

    def solid(read: JobFile) -> str:
        values = read.model_dump(by_alias=True, exclude_unset=True)
        return json.dumps(values, default=os.path.realpath)

    assert solid(again) == solid(job.file)
    assert open_job(tmp_path / "again.toml").pattern == job.pattern


REST = """
[body]
model = "tapes"
tapes = { waist = { girth = 640 }, "+120" = { breadth = 300 } }
[panel."odd \\"name\\""]
corners = { front_top = [1.5, 2] }
[[stack.measured]]
inner = "lining"
outer = "brocade"
distance = 0.9
uncertainty = 0.1
"""


def test_names_of_all_kinds_and_changes_are_kept(tmp_path: Path) -> None:
    file = write_job(
        tmp_path, panels(half(3)), rest=REST.replace("[panel", "[fit]\nneeds = false\n[panel")
    )
    read = read_job(file)
    job = open_job(SAMPLES / "hourglass.toml")
    object.__setattr__(job, "file", read)
    (tmp_path / "again.toml").write_text(job_text(job, tmp_path))
    again = read_job(tmp_path / "again.toml")
    assert again == read
    assert 'file = "draft.svg"' in job_text(job, tmp_path)


@pytest.mark.slow
def test_what_comes_of_a_job(tmp_path: Path) -> None:
    file = write_job(tmp_path, panels(half(3)))
    job = open_job(file, {"pattern.lacing_gap": "6 cm"})
    assert (job.gap, open_job(file).gap) == (60.0, 0.0)
    assert [layer.fabric.name for layer in job_layers(job).layers] == list(job.stack.names)
    # Flat panels of a sample: nothing at home is as thick as what they would be rolled on.
    sample = open_job(SAMPLES / "fuller_figure.toml")
    facts = job_facts(sample, cloth=False) | {"compared": []}
    schema = OUTPUT.evolve(
        schema={**OUTPUT.schema["$defs"]["fit"], "$defs": OUTPUT.schema["$defs"]}
    )
    assert schema.is_valid(json.loads(json.dumps(facts)))
    stretch = {"warp": 0.003, "weft": 0.008, "bias": 0.05}
    assert "weft = 0.008" in job_text(open_job(file, {"stack.fabric.lining.stretch": stretch}))
    pages = job_pdfs(job, PageOptions(parse_paper("a3")), layers=["lining"])
    assert [data[:5] for data in pages.values()] == [b"%PDF-"]


def test_what_is_no_job_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    for ask in (job_layers, job_facts, job_text, lambda job: job_pdfs(job, None)):
        with pytest.raises(TypeError, match="job of job_"):
            ask("corset.toml")
    file = write_job(tmp_path, panels(half(3)))
    with pytest.raises(TypeError, match="options of job_pdfs"):
        job_pdfs(open_job(file), "a4")
    with pytest.raises(PanelshiftError, match="values for keys that are not there"):
        open_job(file, {"stack.fabric.felt.thickness": 1})
    with pytest.raises(PanelshiftError, match="cannot read"):
        open_job(tmp_path / "none.toml")

    def no_way(path: object, start: object) -> str:
        raise ValueError("path is on mount 'C:', start on mount 'D:'")

    job = open_job(file)
    monkeypatch.setattr(opened.os.path, "relpath", no_way)
    with pytest.raises(PanelshiftError, match="no path leads from"):
        job_text(job)
    assert with_overrides({}, {}) == {}


PATTERN = pattern(panels(half(3))).larger(1.7)
ALTERED = alter_pattern(PATTERN, [Alteration("1 to 2", {"waist": 0.0, "-40 mm": 6.0})]).pattern
STACK = Stack(
    [
        Fabric("lining", 0.2, panels=frozenset({"panel 1"}), band=(-20.0, 45.5)),
        Fabric("drill", 0.45, thickness_uncertainty=0.02, cloth="d", take_up=0.01),
        Fabric("silk", 0.3, loft=0.9, reduced=0.02),
    ],
    "drill",
)
PINNED = Stack([Fabric("a", 0.3), Fabric("b", 0.3)], "b", [MeasuredDistance("a", "b", 0.25, 0.01)])
PLAN = CutPlan(
    "Block",
    {"silk": Allowances(seam=12.0, centre_back=25.0)},
    {"panel 1": Cutting(1, mirrored=False, fold="front"), "panel 3": Cutting(4)},
    corners="mirrored",
    notches="edge",
    mates="numbered",
    client="C",
    napped=frozenset({"silk"}),
    unit="in",
    decimals=True,
    gives={"silk": 0.01},
)


@pytest.mark.slow
@pytest.mark.parametrize(
    ("made", "stack", "body", "plan"),
    [
        (PATTERN, STACK, None, PLAN),
        (PATTERN.mirrored(), PINNED, MeanFormModel("women", bust_height=90.5), None),
        (PATTERN, PINNED, ClassModel(girths=Measures([0.0, 50.0], [640.0, 700.0])), None),
        (PATTERN, STACK, SectionModel(Measures([-9.5, 60.0], [1.4, 1.3]), 2.2), None),
        (ALTERED, PINNED, FormerModel(120.0, 0.3), None),
        (PATTERN, PINNED, TapeModel({0.0: Tapes(breadth=250.0, girth=650.0)}, "women"), None),
    ],
)
def test_what_a_script_made_comes_back_from_its_job_file(
    made: Pattern, stack: Stack, body: BodyModel | None, plan: CutPlan | None, tmp_path: Path
) -> None:
    for name, content in job_files(made, stack, body, gap=40.0, plan=plan).items():
        (tmp_path / name).write_bytes(content)
    job = open_job(tmp_path / "corset.toml")
    assert job.stack == stack
    assert body is None or job.body == body
    if body is not None:  # the layers of one case tell
        return
    given = shift_pattern(made, stack, gap=40.0)
    for layer in given.layers:
        wanted = layer_svg(given, layer.fabric.name, plan)
        assert layer_svg(job_layers(job), layer.fabric.name, job.plan) == wanted


def test_a_whole_body_is_told_by_the_name_of_its_file_and_classes_that_mirror_each_other() -> None:
    whole = pattern(panels(full(5)))
    files = job_files(whole, Stack([Fabric("drill", 0.5)]), ClassModel(), gap=40.0, name="iris")
    said = tomllib.loads(files["iris.toml"].decode())
    assert (said["pattern"]["title"], said["pattern"]["halves"]) == ("iris", "full")
    assert [said["panel"][panel.name]["class"] for panel in whole] == [
        *("back", "side", "front", "side", "back")
    ]


class OwnBody:
    def turn(self, ring: Ring) -> Turn:
        return SectionModel().turn(ring)


@pytest.mark.parametrize(
    ("stack", "body", "plan", "words"),
    [
        (PINNED, OwnBody(), None, "a body of type OwnBody has no table"),
        (PINNED, FormerModel(80.0), None, "the body would be other"),
        (PINNED, None, CutPlan(record=("a note",)), "the plan would be other"),
        (PINNED, None, CutPlan(allowances={"velvet": Allowances()}), "the plan would be other"),
        (Stack([Fabric("a", 1.0, by_height=((0.0, 1.0),))]), None, None, "the stack would be"),
        (Stack([Fabric("a", 1.0, panels={"9"}), Fabric("b", 1.0)], "b"), None, None, "no panel"),
    ],
)
def test_what_no_job_file_can_say_is_refused(
    stack: Stack, body: BodyModel | None, plan: CutPlan | None, words: str
) -> None:
    with pytest.raises(PanelshiftError, match=words):
        job_files(PATTERN, stack, body, plan=plan)


def test_a_draft_is_the_same_only_with_all_its_lines_names_and_corners() -> None:
    draft = pattern(
        panels(half(2)) + path("M0 260H300", "hip") + path(f"M{half(2)[0].x + 10} 190v20", "notch")
    )
    assert same_lines(draft, draft)
    first, second = draft.panels
    (hip,) = (level for level in first.levels if level.name == "hip")
    others = [level for level in first.levels if level is not hip]
    (mark,) = first.marks

    def moved(curve: Curve, by: float) -> Curve:
        return Curve(curve.control + (0.0, by), curve.degree, curve.closed)

    for changed, same in (
        (replace(first, name="panel 9"), False),
        (replace(first, corners=replace(first.corners, front_top=first.corners.back_top)), False),
        (replace(first, marks=()), False),
        (replace(first, marks=(replace(mark, name="nick"),)), False),
        (replace(first, marks=(replace(mark, kind="bone"),)), False),
        (replace(first, marks=(replace(mark, curve=moved(mark.curve, 2e-3)),)), False),
        (replace(first, marks=(replace(mark, curve=moved(mark.curve, 5e-4)),)), True),
        (replace(first, levels=(*others, replace(hip, name="hips"))), False),
        (replace(first, levels=(*others, replace(hip, curve=moved(hip.curve, 0.01)))), False),
    ):
        assert same_lines(draft, replace(draft, panels=(changed, second))) is same
    assert not same_lines(draft, replace(draft, full=True))
