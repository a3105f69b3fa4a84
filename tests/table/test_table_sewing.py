"""How the corset is sewn, set on the page: every field that the library asks for."""

from __future__ import annotations

import json
import shutil

import pytest

from panelshift.form.section_file import FORMAT
from panelshift.job import read_job
from panelshift.job.sewing_fields import sewing_fields
from tests.support.examples import thinned
from tests.support.runs import SAMPLES

from .client import Answer, Table, inner, sample, tree


@pytest.fixture(scope="module")
def table(tmp_path_factory) -> Table:
    folder = tmp_path_factory.mktemp("sewn")
    for name in ("hourglass.svg", "hourglass_sewn.toml"):
        shutil.copy(SAMPLES / name, folder)
    return Table(folder, "hourglass_sewn.toml")


@pytest.fixture
def plain(tmp_path) -> Table:
    return sample(tmp_path)


def said(table: Table, place: list[str | int], kind: str, value: str) -> Answer:
    fields = {"place": json.dumps(place), "kind": kind, "label": "it", "value": value}
    ident = f"sewn-{'-'.join(map(str, place))}-form"
    return table.edit("sewing", fields, of=ident)


@pytest.mark.slow
def test_every_field_is_on_the_page_with_what_the_job_says(table) -> None:
    job = read_job(table.job)
    page = tree(table.get("/").text)
    state = table.session.state()
    assert state is not None
    assert state.pattern.value is not None
    panels = [panel.name for panel in state.pattern.value.panels]
    fields = [
        field for group in sewing_fields(job, panels) if group.present for field in group.fields
    ]
    assert len(fields) > 40
    for field in fields:
        ident = f"sewn-{'-'.join(map(str, field.path))}"
        found = page.xpath("//*[@id=$a or starts-with(@id, $b)]", a=ident, b=f"{ident}-")
        assert found, field.path
        if field.kind == "choice" and field.current:
            (chosen,) = page.xpath("//*[@id=$a]/option[@selected]", a=ident)
            assert chosen.get("value") == field.current
        if field.kind == "length" and field.current:
            (box,) = page.xpath("//input[@id=$a]", a=ident)
            assert float(box.get("value")) == pytest.approx(field.current, abs=1e-3)


@pytest.mark.slow
@pytest.mark.parametrize(
    ("place", "kind", "value", "written"),
    thinned(
        [
            (["construction", "top"], "choice", "bound", "bound"),
            (["construction", "lacing"], "number", "3", 3),
            (["construction", "fold_factor"], "number", "0,5", 0.5),
            (["stack", "fabric", 0, "stretch"], "share", "1,2 %", 0.012),
            (["stack", "fabric", 1, "from"], "height", "-40 mm", "-40 mm"),
        ]
    ),
)
def test_a_field_is_written(plain, place, kind, value, written) -> None:
    answer = said(plain, place, kind, value)
    assert not answer.refused, answer.why(f"sewn-{'-'.join(map(str, place))}")
    here = plain.session.state().data.value
    for part in place:
        here = here[part]
    assert here == written
    before = plain.text
    said(plain, place, kind, "")
    assert plain.text != before


@pytest.mark.slow
def test_a_shell_is_added_changed_and_taken_out(plain) -> None:
    kinds = json.dumps({"layers": "layers", "seams": "choice", "graded": "lengths"})
    shell = {"table": "shell", "kinds": kinds, "layers": "interlining\nbrocade", "seams": "open"}
    answer = plain.edit("sew", {**shell, "graded": "8, 5"})
    assert not answer.refused, answer.text[:300]
    found = read_job(plain.job).construction
    assert found is not None
    assert found.shell[0].layers == ("interlining", "brocade")
    assert found.shell[0].graded == (8.0, 5.0)
    assert "sewn-construction-shell-0" in answer.text
    assert "overlay-picture" in plain.get("/look").text
    assert "sewing-more" in plain.get("/tables").text
    said(plain, ["construction", "shell", 0, "seams"], "choice", "to back")
    # A layer's new name goes wherever the old one was.
    assert not plain.edit("rename", {"fabric": "brocade", "value": "silk"}).refused
    found = read_job(plain.job).construction
    assert found is not None
    assert (found.shell[0].layers, found.shell[0].seams) == (("interlining", "silk"), "to back")
    gone = plain.edit("unsew", {"place": json.dumps(["construction", "shell", 0])})
    assert not gone.refused
    assert not getattr(read_job(plain.job).construction, "shell", ())


@pytest.mark.slow
def test_bones_need_what_they_need_and_may_be_counted_by_panel(plain) -> None:
    kinds = json.dumps({"on": "choice", "width": "length", "thickness": "length"})
    bones = {"table": "bones", "kinds": kinds, "on": "coutille", "width": "7"}
    refused = plain.edit("sew", bones, of="sewn-construction-bones-0-form")
    assert "thickness: must be given" in inner(refused.text, "sewing").lower()
    for stands_for_bones in ("bones in channels", "waist tape"):
        assert not plain.edit("remove", {"fabric": stands_for_bones}).refused
    answer = plain.edit("sew", {**bones, "thickness": "1.5"})
    assert not answer.refused, answer.text[answer.text.index('role="alert"') :][:400]
    place = ["construction", "bones", 0, "per_panel", "2 front"]
    counted = said(plain, place, "by panel", "3")
    assert not counted.refused, counted.text[counted.text.index('role="alert"') :][:400]
    found = read_job(plain.job).construction
    assert found is not None
    assert found.bones[0].per_panel == {"2 front": 3}


@pytest.mark.parametrize(
    "fields",
    [
        {"place": "x", "kind": "choice", "value": "a"},
        {"place": "[]", "kind": "choice", "value": "a"},
        {"place": '["pattern", "file"]', "kind": "choice", "value": "/etc/passwd"},
        {"place": '["construction", "swatches"]', "kind": "layers", "value": "/etc/passwd"},
        {"place": '["construction", "top"]', "kind": "no such", "value": "a"},
        {"place": '["construction", "top"]', "kind": "choice", "value": "glued"},
        {"place": '["stack", "fabric", 99, "stretch"]', "kind": "share", "value": "1"},
    ],
)
def test_what_makes_no_sense_is_refused(table, fields) -> None:
    before = table.text
    assert table.edit("sewing", fields).refused
    assert table.text == before


@pytest.mark.slow
def test_tapes_and_a_measured_form(plain) -> None:
    tapes = {"model": "tapes", "level": "waist", "breadth": "240", "depth": "18 cm"}
    answer = plain.edit("body", tapes, of="model-tapes")
    assert not answer.refused, answer.why("model-tapes")
    body = read_job(plain.job).body
    assert (body.model, body.tapes["waist"].breadth, body.tapes["waist"].depth) == (
        *("tapes", 240.0, 180.0),
    )
    assert "breadth 240 mm, depth 180 mm" in inner(answer.text, "model-tapes")
    assert "section-picture" in answer.text
    assert plain.edit("body", {"model": "tapes", "level": "hip"}, of="model-tapes").refused
    assert not plain.edit("untape", {"level": "waist"}).refused
    assert read_job(plain.job).body.model == "mean"
    assert "There is none" in inner(plain.get("/").text, "model-form")
    (plain.folder / "sections.json").write_text(json.dumps({"format": FORMAT}))
    assert "sections.json" in inner(plain.get("/").text, "model-form")
    refused = plain.edit("body", {"model": "form", "file": "sections.json"}, of="model-form")
    assert refused.refused
    assert read_job(plain.job).body.model == "mean"
