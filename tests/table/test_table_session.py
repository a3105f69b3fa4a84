"""Edits accepted and refused, what is on the disk, and what others do to it meanwhile."""

from __future__ import annotations

import json
import os
import shutil
import tomllib

import pytest
from click.testing import CliRunner

from panelshift.cli import main
from panelshift.errors import JobError, PanelshiftError
from panelshift.job import read_job, resolve
from panelshift.sheets.palette import SIDE_STYLES
from panelshift.table.accepting import StaleError
from panelshift.table.against_view import _differs
from panelshift.table.session import Session
from tests.support.drawings import STACK, Draft, half, panels, svg, write_job
from tests.support.examples import thinned
from tests.support.runs import SAMPLES

from .client import Table, inner, sample, tree

DRAFT = (SAMPLES / "hourglass.svg").read_bytes()
OPEN = svg(Draft("side").pieces(3.0) + Draft("side").line()).encode()


@pytest.fixture
def table(tmp_path) -> Table:
    return sample(tmp_path)


def thickness(table: Table, name: str) -> float:
    return next(f.thickness for f in read_job(table.job).stack.fabric if f.name == name)


def set_thickness(name: str, value: str) -> dict[str, str]:
    return {"fabric": name, "key": "thickness", "value": value}


@pytest.fixture(scope="module")
def untouched(tmp_path_factory) -> Table:
    """One table for all that must leave it as it was."""
    return sample(tmp_path_factory.mktemp("untouched"))


# -- accepted and refused ---------------------------------------------------------------


def test_what_is_accepted_is_on_the_disk(table) -> None:
    answer = table.edit("fabric", set_thickness("lining", "0,25"))
    assert not answer.refused
    assert answer.said == "Saved: the thickness of lining."
    assert thickness(table, "lining") == 0.25
    assert answer.response.headers["hx-trigger-after-settle"] == '{"revised": {}}'


@pytest.mark.parametrize(
    ("kind", "form", "words"),
    [
        ("fabric", set_thickness("lining", "thin"), "is not a length"),
        ("fabric", set_thickness("lining", "60"), "must be at most 50"),
        ("fabric", set_thickness("lining", ""), "needs its thickness"),
        ("fabric", {"fabric": "lining", "key": "coverage", "value": "120"}, "must be at most"),
        ("fabric", set_thickness("velvet", "1"), "no layer called"),
        ("rename", {"fabric": "lining", "value": "coutille"}, "two fabrics have the name"),
        ("rename", {"fabric": "lining", "value": ""}, "must not be empty"),
        ("rename", {"fabric": "lining", "value": "a\u202eb"}, "control characters"),
        ("rename", {"fabric": "lining", "value": "a\uffffb"}, "control characters"),
        ("add", {"name": "\ufffe", "thickness": "1"}, "control characters"),
        ("class", {"panel": "2 front", "value": "sideways"}, "is not one of"),
        ("class", {"panel": "nine", "value": "side"}, "no panel of that name"),
        ("girth", {"level": "knee", "value": "300"}, "no such level"),
        ("body", {"model": "former", "diameter": "0"}, "must be more than 0"),
        ("body", {"model": "cube"}, "no body model"),
        ("setting", {"place": "pattern.file", "value": "/etc/passwd"}, "no field sets"),
        ("setting", {"place": "pattern.lacing_gap", "value": "-3"}, "at least 0"),
        ("setting", {"place": "pattern.units", "value": "ell"}, "is not one of"),
        ("move", {"fabric": "lining", "to": "x"}, "no place"),
        ("move", {"fabric": "lining", "to": "-1"}, "no place"),
        ("text", {"text": "[pattern"}, "not a TOML file"),
        ("text", {"text": "[pattern]\nfile = 'a'"}, "stack: is required"),
        ("nothing", {}, "no edit is called"),
        ("fabric", {"fabric": "lining"}, "lacks 'key'"),
    ],
)
def test_what_is_refused_leaves_all_as_it_was(untouched, kind, form, words) -> None:
    table = untouched
    before = table.job.read_bytes(), sorted(os.listdir(table.folder))
    answer = table.edit(kind, form, of="some-field")
    assert answer.refused
    assert words.lower() in answer.text.replace("&#39;", "'").lower()
    assert (table.job.read_bytes(), sorted(os.listdir(table.folder))) == before


def test_a_refusal_stands_beside_its_field_with_what_was_typed(table) -> None:
    key = next(
        row.get("id")
        for row in _rows(table.get("/work").text)
        if row.get("data-fabric") == "lining"
    )
    answer = table.edit("fabric", set_thickness("lining", "thin"), of=f"{key}-thickness")
    assert answer.why(f"{key}-thickness").startswith("'thin' is not a length")
    assert 'value="thin"' in answer.text
    assert 'aria-invalid="true"' in answer.text


def _rows(text):
    from .client import tree

    return tree(text).xpath("//*[@id='stack']/li")


def test_nothing_changed_writes_nothing(table) -> None:
    stamp = os.stat(table.job).st_mtime_ns
    table.edit("fabric", set_thickness("lining", "0.2"))
    assert os.stat(table.job).st_mtime_ns == stamp
    assert table.session.steps() == ("", "")


@pytest.mark.slow
def test_a_new_name_goes_wherever_the_old_one_was(table) -> None:
    table.edit("rename", {"fabric": "coutille", "value": "herringbone"})
    job = read_job(table.job)
    assert job.stack.drafted_layer == "herringbone"
    resolve(job)


@pytest.mark.slow
def test_taking_the_drafted_layer_out_leaves_a_sound_job(table) -> None:
    table.edit("remove", {"fabric": "coutille"})
    assert resolve(read_job(table.job)).stack.drafted == "lining"


@pytest.mark.slow
def test_layers_move_one_place_or_many(table) -> None:
    def names() -> list[str]:
        return [fabric.name for fabric in read_job(table.job).stack.fabric]

    first = names()
    table.edit("move", {"fabric": first[0], "to": "1"})
    assert names() == [first[1], first[0], *first[2:]]
    table.edit("move", {"fabric": first[0], "to": "99"})
    assert names() == [*first[1:], first[0]]
    table.edit("move", {"fabric": first[0], "to": "0"})
    assert names() == first


@pytest.mark.slow
def test_another_body_model_takes_its_keys_along(table) -> None:
    table.edit("girth", {"level": "waist", "value": "660"})
    table.edit("body", {"model": "section", "ratio": "1,3"})
    assert read_job(table.job).body.ratio == 1.3
    assert read_job(table.job).body.girths == {"waist": 660.0}
    table.edit("body", {"model": "former", "diameter": "80"})
    assert read_job(table.job).body.diameter == 80.0
    table.edit("body", {"model": "classes"})
    resolve(read_job(table.job))


@pytest.mark.slow
def test_inches_stay_as_they_were_typed(table) -> None:
    table.edit("setting", {"place": "pattern.units", "value": "in"})
    table.edit("setting", {"place": "pattern.lacing_gap", "value": "1 1/2"})
    assert 'lacing_gap = "1.5 in"' in table.text
    answer = table.edit("setting", {"place": "pattern.drafted_waist", "value": ""})
    assert "drafted_waist =" not in table.text.replace("# drafted_waist", "")
    assert not answer.refused


# -- swatch readings --------------------------------------------------------------------

READING = {
    "inner": "coutille",
    "outer": "brocade",
    "former": "80",
    "length": "180",
    "overhang": "4,5",
}


@pytest.mark.slow
def test_readings_are_kept_in_a_file_that_the_job_names(table) -> None:
    answer = table.edit("reading", READING)
    assert not answer.refused, answer.text
    assert 'swatches = "hourglass-swatches.csv"' in table.text
    lines = (table.folder / "hourglass-swatches.csv").read_text().splitlines()
    assert lines == ["inner,outer,former_mm,length_mm,overhang_mm", "coutille,brocade,80,180,4.5"]
    assert len(resolve(read_job(table.job)).swatches) == 1
    table.edit("reading", READING | {"former": "60", "overhang": "6"})
    assert len(resolve(read_job(table.job)).swatches[0].readings) == 2
    table.session.undo(table.revision)
    assert len(resolve(read_job(table.job)).swatches[0].readings) == 1
    table.session.undo(table.revision)
    assert resolve(read_job(table.job)).swatches == ()


@pytest.mark.slow
def test_taking_the_last_reading_out_leaves_a_sound_job(table) -> None:
    table.edit("reading", READING)
    answer = table.edit("unread", {"place": "0"})
    assert not answer.refused, answer.text
    assert resolve(read_job(table.job)).swatches == ()
    assert table.edit("unread", {"place": "0"}).refused


@pytest.mark.slow
def test_readings_follow_their_layers(table) -> None:
    table.edit("reading", READING)
    answer = table.edit("rename", {"fabric": "coutille", "value": "herringbone"})
    assert not answer.refused, answer.text
    assert resolve(read_job(table.job)).swatches[0].inner == "herringbone"
    assert not table.edit("remove", {"fabric": "brocade"}).refused
    assert resolve(read_job(table.job)).swatches == ()
    table.post("/undo", {})
    table.post("/undo", {})
    assert resolve(read_job(table.job)).swatches[0].inner == "coutille"


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"overhang": "200"}, "is not smaller than the swatch"),
        ({"inner": "brocade", "outer": "coutille"}, "does not lie inside"),
        ({"former": "round"}, "is not a length"),
        ({"former": "9000"}, "more than 2000"),
    ],
)
def test_readings_that_cannot_be_right(table, change, words) -> None:
    before = table.text
    answer = table.edit("reading", READING | change, of="reading-form")
    assert answer.refused
    assert words in answer.why("reading-form")
    assert table.text == before
    assert not (table.folder / "hourglass-swatches.csv").exists()


def test_readings_in_a_form_of_the_makers_own_are_not_touched(table) -> None:
    own = "outer;inner;former (cm);length_in;overhang_mm\nbrocade;coutille;8;7;4,5\n"
    (table.folder / "mine.csv").write_text(own)
    table.job.write_text(table.text.replace("[stack]", '[stack]\nswatches = "mine.csv"', 1))
    assert "in columns of your own" in table.get("/work").text
    assert table.edit("reading", READING).refused
    assert (table.folder / "mine.csv").read_text() == own


# -- two tabs, an editor, a restart -----------------------------------------------------


@pytest.mark.slow
def test_two_tabs_that_change_different_things_both_count(table) -> None:
    old = table.revision
    table.edit("fabric", set_thickness("lining", "0.3") | {"revision": old})
    late = table.edit("fabric", set_thickness("brocade", "0.7") | {"revision": old})
    assert not late.refused
    assert (thickness(table, "lining"), thickness(table, "brocade")) == (0.3, 0.7)
    table.edit("move", {"fabric": "brocade", "to": "0", "revision": table.revision})
    assert table.edit(
        "fabric", set_thickness("brocade", "0.8") | {"revision": old}
    ).refused is not (thickness(table, "brocade") == 0.8)


@pytest.mark.slow
def test_an_edit_of_what_another_tab_changed_is_refused(table) -> None:
    old = table.revision
    table.edit("fabric", set_thickness("lining", "0.3"))
    field = next(
        r.get("id") for r in _rows(table.get("/").text) if r.get("data-fabric") == "lining"
    )
    field += "-thickness"
    late = table.edit("fabric", set_thickness("lining", "0.4") | {"revision": old}, of=field)
    assert late.refused
    assert "changed in another tab" in late.why(field)
    assert thickness(table, "lining") == 0.3
    # The field shows what the file holds, and what was typed is sent again by one button.
    (box,) = tree(late.text).xpath("//*[@id=$field]", field=field)
    assert box.get("value") == "0.3"
    (again,) = tree(late.text).xpath("//*[@id=$field]", field=f"{field}-again")
    assert again.text == "Put 0.4 all the same"
    sent = table.edit("fabric", json.loads(again.get("hx-vals")), of=f"{field}-again")
    assert not sent.refused
    assert thickness(table, "lining") == 0.4
    unknown = table.edit("fabric", set_thickness("lining", "0.4") | {"revision": "0" * 16})
    assert unknown.refused
    for way in ("/undo", "/redo"):
        assert table.post(way, {"revision": old}).refused
    with pytest.raises(StaleError):
        table.session.edit("text", {"text": "", "revision": old})


@pytest.mark.slow
def test_odd_numbers_are_remarked_on_at_their_fields(table) -> None:
    """The library's slips at their fields; what cannot be at all is refused there."""
    field = next(
        r.get("id") for r in _rows(table.get("/").text) if r.get("data-fabric") == "lining"
    )
    thin = table.edit("fabric", set_thickness("lining", "0.001"))
    assert "in inches it would be 0.025 mm" in inner(thin.text, f"{field}-thickness-slip")
    wide = table.edit("setting", {"place": "pattern.lacing_gap", "value": "250"})
    assert "39.1 % of the whole waist" in inner(wide.text, "gap-slip")
    assert "lacing_gap" not in inner(wide.text, "gap-slip")
    assert "in inches it would be" not in inner(wide.text, "step-pattern")
    gone = table.edit("setting", {"place": "pattern.lacing_gap", "value": "50"})
    assert inner(gone.text, "gap-slip") == ""
    deep = table.edit("body", {"model": "mean", "ratio": "0.7"})
    assert "bodies are broader than deep" in inner(deep.text, "step-body")
    for of, kind, form, words in (
        ("gap", "setting", {"place": "pattern.lacing_gap", "value": "5000"}, "lacing gap of 5000"),
        (f"{field}-thickness", "fabric", set_thickness("lining", "45"), "is 45 mm thick"),
        (f"{field}-thickness", "fabric", set_thickness("lining", "70"), "Must be at most 50 mm"),
    ):
        refused = table.edit(kind, form, of=of)
        assert refused.refused
        assert words.lower() in refused.why(of).lower()
        assert "stack.fabric" not in refused.why(of)
    table.edit("setting", {"place": "pattern.units", "value": "in"})
    refused = table.edit("fabric", set_thickness("lining", "3"), of=f"{field}-thickness")
    assert "Must be at most 1.9685 in" in refused.why(f"{field}-thickness")


def test_a_fabric_that_another_tab_took_out(table) -> None:
    old = table.revision
    table.edit("remove", {"fabric": "interlining"})
    late = table.edit("fabric", set_thickness("interlining", "0.4") | {"revision": old})
    assert late.refused
    assert "no layer called" in late.text


@pytest.mark.slow
def test_an_editor_s_change_is_read_again_and_can_be_undone(table) -> None:
    mark = table.session.mark()
    assert table.get("/pulse", params={"mark": mark}).text == "same"
    before = table.text
    table.job.write_text(before.replace("lacing_gap = 50", "lacing_gap = 62"))
    assert table.get("/pulse", params={"mark": mark}).text == "changed"
    page = table.get("/work").text
    assert "changed outside this page" in page
    assert 'value="62"' in page
    assert "changed outside this page" not in table.get("/work").text
    table.edit("fabric", set_thickness("lining", "0.3"))
    assert "lacing_gap = 62" in table.text
    table.post("/undo", {})
    table.post("/undo", {})
    assert table.text == before


def test_a_drawing_saved_anew_is_read_again(table) -> None:
    mark = table.session.mark()
    file = table.folder / "hourglass.svg"
    file.write_bytes(OPEN)
    assert table.session.mark() != mark
    page = table.get("/work").text
    assert "this outline is open" in page
    assert "data-flag" in page
    file.write_bytes(DRAFT)
    assert "this outline is open" not in table.get("/work").text


@pytest.mark.parametrize(
    "spoiled",
    thinned(
        [
            b"[pattern",
            b"",
            b"\xff\xfe\x00",
            b"a = 1\n",
            b"x." * 300 + b"y=1",
            b"stack = 3\n[pattern]\nfile = 'hourglass.svg'\n",
            b"panel = []\n[stack]\nfabric = 5\n[pattern]\nfile = 'hourglass.svg'\n",
        ]
    ),
)
def test_a_job_with_faults_is_told_and_mended_on_the_page(table, spoiled) -> None:
    sound = table.text
    table.job.write_bytes(spoiled)
    page = table.get("/")
    assert page.status_code == 200
    assert "cannot be read as it is" in page.text
    assert "Traceback" not in page.text
    assert table.edit("fabric", set_thickness("lining", "0.3")).refused
    assert table.job.read_bytes() == spoiled
    assert not table.edit("text", {"text": sound}).refused
    assert table.text == sound
    table.post("/undo", {})
    assert table.job.read_bytes() == spoiled


@pytest.mark.slow
def test_a_job_file_that_cannot_be_read_any_more_is_let_alone(table) -> None:
    sound = table.text
    table.job.unlink()
    table.job.mkdir()
    for path in ("/", "/work", "/look", "/pulse"):
        assert table.get(path).status_code == 200
    assert "cannot read" in table.get("/").text
    for kind, form in (("fabric", set_thickness("lining", "0.3")), ("text", {"text": sound})):
        assert table.edit(kind, form).refused
    assert table.post("/undo", {}).refused
    assert "cannot read" in table.drop("hourglass.svg", DRAFT).text
    table.job.rmdir()
    table.job.write_text(sound)
    assert "look-picture" in table.get("/work").text
    assert not table.edit("fabric", set_thickness("lining", "0.3")).refused


@pytest.mark.slow
def test_a_restart_finds_the_same_state_and_can_still_undo(table) -> None:
    first = table.text
    table.edit("fabric", set_thickness("lining", "0.3"))
    second = table.text
    table.edit("fabric", set_thickness("lining", "0.4"))
    table.post("/undo", {})
    again = Table(table.folder, "hourglass.toml")
    assert again.text == second
    assert again.session.steps() == ("the thickness of lining", "the thickness of lining")
    again.post("/redo", {})
    assert thickness(again, "lining") == 0.4
    again.post("/undo", {})
    again.post("/undo", {})
    assert again.text == first
    assert again.post("/undo", {}).refused


@pytest.mark.slow
def test_a_job_file_that_vanished_is_written_again(table) -> None:
    text = table.text
    table.job.unlink()
    page = table.get("/work").text
    assert "is gone from its folder" in page
    assert "is on no disk until it is written again" in page
    assert table.edit("setting", {"place": "pattern.lacing_gap", "value": "51"}).refused is False
    assert table.text == text.replace("lacing_gap = 50", "lacing_gap = 51")


@pytest.mark.slow
def test_a_disk_that_takes_nothing_leaves_all_as_it_was(table, monkeypatch) -> None:
    before = table.job.read_bytes()

    def full(*args) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    answer = table.edit("fabric", set_thickness("lining", "0.3"))
    assert answer.refused
    assert "No space left" in answer.text
    monkeypatch.undo()
    assert table.job.read_bytes() == before
    assert sorted(os.listdir(table.folder)) == ["hourglass.svg", "hourglass.toml"]
    assert not table.edit("fabric", set_thickness("lining", "0.3")).refused


def test_a_linked_job_file_stays_a_link(tmp_path) -> None:
    for name in ("hourglass.svg", "hourglass.toml"):
        shutil.copy(SAMPLES / name, tmp_path)
    (tmp_path / "linked.toml").symlink_to(tmp_path / "hourglass.toml")
    table = Table(tmp_path, "linked.toml")
    table.edit("fabric", set_thickness("lining", "0.3"))
    assert (tmp_path / "linked.toml").is_symlink()
    assert "thickness = 0.3" in (tmp_path / "hourglass.toml").read_text()


# -- patterns ---------------------------------------------------------------------------


@pytest.mark.slow
def test_a_dropped_pattern_begins_the_job_that_the_command_would(tmp_path) -> None:
    table = Table(tmp_path)
    answer = table.drop("hourglass.svg", DRAFT)
    assert answer.said == "6 panels read from hourglass.svg."
    assert (tmp_path / "hourglass.svg").read_bytes() == DRAFT
    other = tmp_path / "other"
    other.mkdir()
    (other / "hourglass.svg").write_bytes(DRAFT)
    result = CliRunner().invoke(main, ["new", str(other / "hourglass.svg")])
    assert result.exit_code == 0
    assert table.text == (other / "hourglass.toml").read_text()
    # Thicknesses are still to be measured: steps 4 and 5 wait, 1 to 3 do not.
    page = table.get("/work").text
    assert "Still to be measured: lining, strength layer, fashion fabric" in page
    assert "look-picture" in page
    assert "take-form" not in page
    for name in ("lining", "strength layer", "fashion fabric"):
        table.edit("fabric", set_thickness(name, "0.4"))
    assert "take-form" not in table.get("/work").text
    drafted = {"place": "stack.drafted_layer", "value": "strength layer"}
    assert "take-form" in table.edit("setting", drafted).text
    assert "overlay-picture" in table.get("/look").text


@pytest.mark.slow
@pytest.mark.parametrize(
    ("name", "kept"),
    [
        ("../../outside.svg", "outside.svg"),
        ("..\\..\\outside.svg", "outside.svg"),
        ("/etc/cron.d/x.svg", "x.svg"),
        ("Façade Nº 40.SVG", "facade-no-40.svg"),
        (".svg", "svg.svg"),
        ("a.toml", "a.svg"),
        ("..", "unnamed.svg"),
        ("con.svg\x00.exe", "con-svg.svg"),
    ],
)
def test_no_name_leads_out_of_the_folder(tmp_path, name, kept) -> None:
    folder = tmp_path / "inside"
    folder.mkdir()
    table = Table(folder)
    table.session.take_pattern(name, DRAFT)
    assert sorted(os.listdir(tmp_path)) == ["inside"]
    assert kept in os.listdir(folder), os.listdir(folder)


def test_no_file_is_written_over(tmp_path) -> None:
    (tmp_path / "hourglass.svg").write_text("somebody's own")
    (tmp_path / "hourglass.toml").write_text("somebody's own too")
    table = Table(tmp_path)
    answer = table.drop("hourglass.svg", DRAFT)
    assert "kept as hourglass-2.svg" in answer.said
    assert (tmp_path / "hourglass.svg").read_text() == "somebody's own"
    assert (tmp_path / "hourglass.toml").read_text() == "somebody's own too"
    assert table.job.name == "hourglass-2.toml"


def test_a_file_that_is_no_drawing_is_told_and_nothing_is_kept(tmp_path) -> None:
    table = Table(tmp_path)
    answer = table.drop("draft.png", b"\x89PNG\r\n\x1a\n and so on")
    assert "draft.png was not taken" in answer.text
    assert "this is a picture (PNG), which holds no lines" in answer.text
    assert '<a href="/help/drafts-on-paper.md">How a draft on paper gets here</a>' in answer.text
    assert os.listdir(tmp_path) == []
    assert "draft.png was not taken" in table.get("/").text
    table.drop("hourglass.svg", DRAFT)
    assert "draft.png was not taken" not in table.get("/").text


@pytest.mark.slow
def test_another_pattern_keeps_what_still_fits(table) -> None:
    table.edit("class", {"panel": "2 front", "value": "side"})
    before = table.text
    bad = table.drop("plain.svg", svg(Draft("side").outline()).encode())
    assert "The job still uses hourglass.svg" in bad.text
    assert table.text == before
    three = svg(panels(half(3))).encode()
    answer = table.drop("new.svg", three)
    assert "taken out" in answer.said, answer.text
    job = resolve(read_job(table.job))
    assert len(job.pattern.panels) == 3
    assert job.stack.names[0] == "lining"
    table.post("/undo", {})
    assert table.text == before
    resolve(read_job(table.job))


@pytest.mark.slow
def test_another_pattern_takes_out_what_it_has_no_lines_for(tmp_path) -> None:
    body = panels(half(3)) + "".join(draft.line("hip", -60) for draft in half(3))
    own = 'order = ["panel 1", "panel 2", "panel 3"]\n'
    own += 'waistlines = ["waist panel 1", "waist panel 2", "waist panel 3"]'
    rest = '[panel."panel 1"]\ncut = 1\n[body]\nmodel = "mean"\n[body.girths]\n'
    write_job(tmp_path, body, head=own, rest=f'{rest}hip = 300\n"+50 mm" = 290\nwaist = 270\n')
    table = Table(tmp_path, "job.toml")
    answer = table.drop("new.svg", svg(panels(half(2, names=("a", "b")))).encode())
    assert not answer.refused, answer.text
    data = tomllib.loads(table.text)
    assert data["pattern"]["file"] == "new.svg"
    assert not {"order", "waistlines"} & set(data["pattern"])
    assert "panel" not in data
    assert data["body"]["girths"] == {"+50 mm": 290, "waist": 270}
    state = table.session.state()
    assert state is not None
    assert [panel.name for panel in state.pattern.value.panels] == ["a", "b"]
    # One that has all its panels keeps their order.
    table.post("/undo", {})
    again = [*half(3)[::-1]]
    assert not table.drop("again.svg", svg(panels(again)).encode()).refused
    assert tomllib.loads(table.text)["pattern"]["order"] == ["panel 1", "panel 2", "panel 3"]


def test_what_was_decided_otherwise_is_told_of_both(tmp_path) -> None:
    write_job(tmp_path, panels(half(2)), head="lacing_gap = 10")
    one = resolve(read_job(tmp_path / "job.toml"))
    other = resolve(
        read_job(write_job(tmp_path, panels(half(2)), stack=STACK.replace("0.8", "0.9")))
    )
    assert _differs(one, one) == []
    (name, own), (beside, others) = _differs(one, other)
    assert [name, beside] == list(SIDE_STYLES)
    assert "brocade: 0.8 mm thick" in own
    assert "brocade: 0.9 mm thick" in others
    assert not any("lining: " in line for line in (*own, *others) if "thick" in line)
    assert any("lacing gap: 10 mm" in line for line in own)


def test_going_on_with_a_job_of_the_folder(tmp_path) -> None:
    for name in ("hourglass.svg", "hourglass.toml"):
        shutil.copy(SAMPLES / name, tmp_path)
    (tmp_path / "other.toml").write_text("[tool]\nx = 1\n")
    (tmp_path.parent / "outside.toml").write_text((SAMPLES / "hourglass.toml").read_text())
    table = Table(tmp_path)
    assert table.session.jobs() == ["hourglass.toml"]
    for name in ("../outside.toml", "other.toml", "", "/etc/passwd"):
        assert table.post("/open", {"name": name}).refused
    # What was wrong with another job, and what was tried on it, is not this one's.
    table.session.trouble = JobError("it cannot be read", remedy="Mend it.")
    table.session.attempt = object()
    answer = table.post("/open", {"name": "hourglass.toml"})
    assert answer.said == "hourglass.toml is on the table."
    assert table.session.trouble is table.session.attempt is None
    assert "look-picture" in answer.text


def test_edits_before_there_is_a_job(tmp_path) -> None:
    table = Table(tmp_path)
    for kind in ("fabric", "text", "reading"):
        assert table.edit(kind, {}).refused
    assert table.post("/undo", {}).refused
    assert table.post("/pattern", {}).refused
    assert table.get("/look").status_code == 200
    assert table.get("/parcel.zip").headers["x-refused"] == "1"
    assert os.listdir(tmp_path) == []


def test_a_job_that_cannot_be_opened(tmp_path) -> None:
    with pytest.raises(JobError, match="cannot read"):
        Session(tmp_path, tmp_path / "nothing.toml")
    with pytest.raises(PanelshiftError, match="cannot read"):
        Session(tmp_path, tmp_path)
