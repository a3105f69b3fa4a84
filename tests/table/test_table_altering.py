"""What a fitting changed, entered on the page: the job's own alterations, and the new draft."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

import pytest

from panelshift.job import read_job, resolve
from panelshift.job.altering import AlterationTable
from tests.support.drawings import full, half, panels, write_job
from tests.support.examples import thinned
from tests.support.terminal import refused, run

from .client import Answer, Table, inner, sample, tree

WAIST = "drafted_waist = 264  # both halves"
SEAM = {"seam": "panel 2 to panel 3", "way": "let_out"}
HIP = SEAM | {"at waist": "0", "height": "-80\n", "height_amount": "6\n"}
TOP = {"edge": "top", "way": "lower", "at centre front": "10", "at centre back": "0"}


@pytest.fixture
def table(tmp_path: Path) -> Table:
    """Three panels of one half, with a level at the waist."""
    return Table(tmp_path, write_job(tmp_path, panels(half(3)), head=WAIST).name)


def altered(table: Table, fields: dict[str, str]) -> Answer:
    return table.edit("alter", fields, of="alter-seam-form")


def alterations(table: Table) -> list[dict[str, Any]]:
    return list(tomllib.loads(table.text).get("alteration", []))


def field(text: str, ident: str) -> str:
    """What stands in a field, or is chosen in a list."""
    (found,) = tree(text).xpath("//*[@id=$ident]", ident=ident)
    chosen = found.xpath("option[@selected]")
    return str(chosen[0].get("value", chosen[0].text) if chosen else found.get("value", ""))


@pytest.mark.slow
@pytest.mark.parametrize(
    ("units", "form", "written"),
    thinned(
        [
            (
                "in",
                HIP | {"height": "-3", "height_amount": "1/4", "side": "left", "note": "x"},
                {
                    "seam": SEAM["seam"],
                    "let_out": {"waist": "0 in", "-3 in": "0.25 in"},
                    "side": "left",
                    "note": "x",
                },
            ),
            (
                "cm",
                SEAM
                | {"way": "take_in", "whole": "0,4", "from": "+1", "to": "top", "run_out": "3"},
                {
                    "seam": SEAM["seam"],
                    "take_in": "0.4 cm",
                    "from": "+1 cm",
                    "to": "top",
                    "run_out": "3 cm",
                },
            ),
            ("mm", TOP, {"edge": "top", "lower": {"centre front": 10, "centre back": 0}}),
            ("mm", HIP, {"seam": SEAM["seam"], "let_out": {"waist": 0, "-80 mm": 6}}),
        ],
        every=4,
    ),
)
def test_a_form_is_an_alteration_of_the_job_and_comes_back(table, units, form, written) -> None:
    table.edit("setting", {"place": "pattern.units", "value": units})
    answer = altered(table, form)
    assert not answer.refused, inner(answer.text, "alter-seam-form-why")
    assert alterations(table) == [written]
    own = AlterationTable.model_validate(written).alteration()
    assert inner(answer.text, "fitting").count(own.said(units)) >= 1
    # What stands in the fields then says the same: saved as it is, nothing changes.
    (shown,) = tree(answer.text).xpath("//form[@id='alter-0-form']")
    names = {str(name) for name in shown.xpath(".//@name")}
    fields = {
        name: "\n".join(
            field(answer.text, str(i)) for i in shown.xpath(f".//*[@name='{name}']/@id")
        )
        for name in names - {"place"}
    }
    before = read_job(table.job).alteration
    again = table.edit("alter", fields | {"place": "0"}, of="alter-0-form")
    assert not again.refused, inner(again.text, "alter-0-form-why")
    after = read_job(table.job).alteration
    assert [one.alteration() for one in after] == [one.alteration() for one in before]


@pytest.mark.slow
def test_of_a_draft_of_both_halves_each_line_is_of_one_or_of_both(tmp_path: Path) -> None:
    table = Table(tmp_path, write_job(tmp_path, panels(full(4))).name)
    (form,) = tree(table.get("/").text).xpath("//form[@id='alter-seam-form']")
    sides = [(x.get("value"), x.text) for x in form.xpath(".//select[@name='side']/option")]
    assert sides == [
        ("", "this one"),
        ("both", "and the one that mirrors it"),
        ("left", "on the left"),
        ("right", "on the right"),
    ]


@pytest.mark.slow
def test_alterations_are_changed_taken_out_undone_and_there_after_a_restart(table) -> None:
    altered(table, HIP)
    altered(table, HIP | {"seam": "centre back"})
    altered(table, HIP | {"place": "0", "at waist": "2", "note": "second"})
    first = alterations(table)[0]
    assert (first["let_out"]["waist"], first["note"]) == (2, "second")
    anew = Table(table.folder, table.job.name)
    page = anew.get("/").text
    assert inner(page, "fitting-head") == "After a fitting: 2 alterations"
    assert field(page, "alter-0-at-0") == "2"
    assert inner(page, "alter-1").startswith("centre back: 0 at waist, +6 at -80 mm")
    assert not anew.edit("unalter", {"place": "0"}, of="alter-0-out").refused
    assert [one["seam"] for one in alterations(anew)] == ["centre back"]
    gone = anew.edit("unalter", {"place": "7"}, of="alter-0-out")
    assert "It is not there any more" in gone.why("alter-0-out")
    # Another tab that has not seen it.
    assert anew.edit("alter", HIP | {"revision": "old"}, of="alter-seam-form").refused
    anew.edit("unalter", {"place": "0"}, of="alter-0-out")
    assert "alteration" not in anew.text
    for _ in range(2):
        anew.post("/undo", {})
    assert alterations(anew)[0] == first


@pytest.mark.slow
def test_girths_before_and_after_and_the_altered_draft_over_the_old(table) -> None:
    text = table.get("/").text
    assert not tree(text).xpath("//*[@id='fitting-picture']//*[@class='draft-line']")
    answer = altered(table, HIP | {"at waist": "4"})
    (picture,) = tree(answer.text).xpath("//*[@id='fitting-picture']")
    assert len(picture.xpath(".//*[@class='draft-line']")) == 3
    # Every seam, both centres, the top and the bottom lead to what chooses them.
    ids = [str(ident) for ident in picture.xpath(".//*[@data-answer]/@data-answer")]
    named = [tree(answer.text).xpath("//option[@id=$i]/text()", i=ident)[0] for ident in ids]
    assert named == [
        "centre front", "panel 1 to panel 2", "panel 2 to panel 3", "centre back", "top", "bottom",
    ]  # fmt: skip
    assert "waist264.0272.0+8.0+8.0" in inner(answer.text, "fitting")
    assert "both sides are altered alike" in inner(answer.text, "fitting")
    answer = altered(table, HIP | {"place": "0", "side": "left"})
    (picture,) = tree(answer.text).xpath("//*[@id='fitting-picture']")
    assert len(picture.xpath(".//*[@class='draft-line']")) == 6
    assert "both sides are altered alike" not in inner(answer.text, "fitting")


NO_LEVEL = SEAM | {"at waist": "0", "height": "hop", "height_amount": "6"}
CROSSED = SEAM | {"way": "take_in", "at waist": "0", "height": "-80", "height_amount": "160"}


@pytest.mark.parametrize(
    ("form", "told"),
    thinned(
        [
            ({"seam": "", "way": "let_out"}, "No seam is chosen"),
            (SEAM, "No amount is given"),
            (SEAM | {"whole": "3", "at waist": "4"}, "amounts by level beside it"),
            (SEAM | {"height": "+30", "height_amount": ""}, "The amount at +30 is not given"),
            (SEAM | {"height": "", "height_amount": "3"}, "at which 3 counts is not given"),
            (HIP | {"height": "+9\n+9", "height_amount": "1\n2"}, "Two amounts at +9"),
            (
                SEAM | {"at waist": "wide"},
                "Waist: 'wide' is not a length. Write a number and a unit",
            ),
            (HIP | {"height": "+x"}, "is not a length"),
            (HIP | {"run_out": "-2"}, "Runs out to nothing over: must be more than 0 mm"),
            (SEAM | {"way": "lower", "at waist": "1"}, "Load the page again"),
            (SEAM | {"place": "5", "at waist": "1"}, "not there any more"),
        ]
    ),
)
def test_a_form_that_says_too_little_is_told_beside_it(table, form, told) -> None:
    before = table.text
    answer = altered(table, form)
    assert answer.refused
    assert told in answer.why("alter-seam-form")
    assert table.text == before


@pytest.mark.parametrize(
    ("form", "toml"),
    thinned(
        [
            (SEAM | {"at waist": "6"}, "let_out = { waist = 6 }"),
            (NO_LEVEL, "let_out = { waist = 0, hop = 6 }"),
            (CROSSED, 'take_in = { waist = 0, "-80 mm" = 160 }'),
            (SEAM | {"whole": "6", "from": "waist"}, 'let_out = 6\nfrom = "waist"'),
            (SEAM | {"whole": "6", "on": "panel 1"}, 'let_out = 6\non = "panel 1"'),
        ]
    ),
)
def test_what_does_not_fit_is_refused_in_the_words_of_the_command(
    table, tmp_path, form, toml
) -> None:
    answer = altered(table, form)
    assert answer.refused
    assert alterations(table) == []
    said = table.text + f'\n[[alteration]]\nseam = "panel 2 to panel 3"\n{toml}\n'
    (tmp_path / "same.toml").write_text(said)
    message = refused("alter", tmp_path / "same.toml", "--out", tmp_path / "x.svg", folder=tmp_path)
    problem, _, remedy = answer.why("alter-seam-form").partition(". ")
    assert problem[1:] in " ".join(message.split())
    assert remedy in " ".join(message.split())


@pytest.mark.slow
@pytest.mark.parametrize("side", thinned(["", "left"]))
def test_the_new_draft_is_the_commands_and_the_job_goes_on_from_it(table, tmp_path, side) -> None:
    altered(table, HIP | {"at waist": "2", "side": side})
    altered(table, HIP | {"seam": "centre back"})
    wanted = resolve(read_job(table.job)).pattern
    assert run("alter", table.job, "--out", tmp_path / "command.svg").exit_code == 0
    # A file of that name is somebody's own.
    (tmp_path / "draft-2.svg").write_text("mine")
    answer = table.post("/job/redraft", {"name": "draft-2.svg"}, of="redraft-form")
    assert not answer.refused, answer.why("redraft-form")
    assert answer.said.startswith("draft-2-2.svg is the draft now")
    assert (tmp_path / "draft-2.svg").read_text() == "mine"
    written = (tmp_path / "draft-2-2.svg").read_bytes()
    assert written == (tmp_path / "command.svg").read_bytes()
    assert alterations(table) == []
    assert f"drafted_waist = {266 if side else 268}  # both halves" in table.text
    found = resolve(read_job(table.job)).pattern
    assert [panel.name for panel in found] == [panel.name for panel in wanted]
    assert found.edge_lengths() == pytest.approx(wanted.edge_lengths(), abs=0.01)
    # The draft has had them; and what was done is undone as any change.
    again = altered(table, HIP | {"seam": "centre back"})
    assert "draft has had alteration 1 already" in again.why("alter-seam-form")
    table.post("/undo", {})
    assert len(alterations(table)) == 2


def test_a_new_draft_that_cannot_be_written_leaves_all_as_it_was(table) -> None:
    altered(table, HIP)
    before = table.text
    stale = table.post("/job/redraft", {"name": "x", "revision": "old"}, of="redraft-form")
    assert "nothing was written" in stale.why("redraft-form")
    table.job.write_text(before + "[")
    assert table.post("/job/redraft", {"name": "x"}, of="redraft-form").refused
    table.job.write_text(before + "[panel.none]\ncut = 2\n")
    assert table.post("/job/redraft", {"name": "x"}, of="redraft-form").refused
    assert not (table.folder / "x.svg").exists()


@pytest.mark.slow
def test_of_a_draft_with_gores_the_seams_without_them_are_altered(tmp_path) -> None:
    gored = sample(tmp_path, "gored")
    all_along = {"from": "bottom", "to": "top", "run_out": "10"}
    seam = {"seam": "2 side front to 3 side back", "way": "let_out", "whole": "4"}
    refused_ = altered(gored, seam | all_along)
    assert "'hip gore' is a gore" in refused_.why("alter-seam-form")
    free = {"seam": "centre back", "way": "take_in", "whole": "2"}
    answer = altered(gored, free | all_along)
    assert not answer.refused, answer.why("alter-seam-form")


@pytest.mark.parametrize(
    ("written", "shown"),
    thinned(
        [
            ('seam = "2 to 3"\nlet_out = { waist = 6 }', "2 to 3: an amount at one level"),
            ('seam = "2 to 9"\nlet_out = 6', "2 to 9: +6"),
            ('edge = "top"\nlower = { nowhere = 6, "2 to 3" = 0 }', "top edge: -6 at nowhere"),
        ]
    ),
)
def test_what_an_editor_wrote_amiss_is_shown_to_be_mended(table, written, shown) -> None:
    table.job.write_text(f"{table.text}\n[[alteration]]\n{written}\n")
    page = table.get("/").text
    assert inner(page, "alter-0").startswith(shown)
    assert "In the way" in inner(page, "step-pattern")
    # Nothing of it is lost, and it can be taken out.
    assert field(page, "alter-0-where") in ("panel 2 to panel 3", "2 to 9", "top")
    assert not table.edit("unalter", {"place": "0"}, of="alter-0-out").refused
    assert "In the way" not in inner(table.get("/").text, "step-pattern")
