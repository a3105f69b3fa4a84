"""What programs read: one object for each command, by its schema; files by standard streams."""

from __future__ import annotations

import itertools
import json
import os
import sys
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from panelshift.batch import Outcome
from panelshift.body.form import FormErrors
from panelshift.body.support import Sections
from panelshift.cli.reports.measurements import form_text
from panelshift.cli.reports.outcomes import BatchTally
from panelshift.form.section_file import MeasuredForm
from panelshift.table import server
from tests.form.test_form_traced import traced
from tests.support.drawings import Draft, half, panels, svg, write_job
from tests.support.terminal import OUTPUT, answered, run

GOOD = panels(half(3))
SAMPLES = Path(__file__).parents[2] / "sample_patterns"


def test_the_schema_is_one_and_knows_every_command() -> None:
    from panelshift.cli import main

    OUTPUT.check_schema(OUTPUT.schema)
    assert set(main.commands) <= set(OUTPUT.schema["$defs"])
    for wrong in ({"exit": 0}, {"exit": 2, "data": None}):
        whole = {"panelshift": "1", "command": "cards", "error": None, "must_be_mended": []}
        whole |= {"look_at": [], "files": [], "data": {"paper": "a4"}, **wrong}
        assert OUTPUT.is_valid(whole) == (wrong == {"exit": 0})
        assert not OUTPUT.is_valid(whole | {"data": {"papers": "a4"}})


def test_a_cut_adds_up(tmp_path: Path) -> None:
    found = answered("cut", write_job(tmp_path, GOOD), "--out", tmp_path / "out")
    data = found["data"]
    assert sorted(found["files"]) == sorted(
        str(path) for path in (tmp_path / "out").iterdir() if path.name[0] != "."
    )
    assert [layer["drafted"] for layer in data["layers"]].count(True) == 1
    for layer in data["layers"]:
        grown = 2 * sum(panel["growth"]["waist"] for panel in layer["panels"])
        assert layer["waist"] - data["waist"] == pytest.approx(grown, abs=1e-3)
        assert all(abs(seam["difference"]) < 1e-3 for seam in layer["seams"])
    assert sum(line["drawn"] + line["mirrored"] for line in data["pieces"]) == 18


@pytest.mark.slow
def test_prints_sheets_and_strips(tmp_path: Path) -> None:
    job = write_job(tmp_path, GOOD)
    found = answered("tile", job, "--out", tmp_path / "pages")
    (first, *_) = found["data"]["prints"]
    assert first["pages"] == first["columns"] * first["rows"] + 1
    assert [item["file"] for item in found["data"]["prints"]] == found["files"]
    assert answered("cards", "--out", tmp_path)["files"] == [str(tmp_path / "cards_a4.pdf")]
    strips = answered("swatch", "--sheet", tmp_path / "strips.pdf", "--formers", "60")
    assert strips["files"] == [str(tmp_path / "strips.pdf")]


@pytest.mark.slow
def test_fit_and_what_it_is_laid_beside(tmp_path: Path) -> None:
    # Panels of other lengths beside each other: the seams that fail are told last.
    odd = panels([replace(draft, above=120.0 + 20.0 * k) for k, draft in enumerate(half(3))])
    job = write_job(tmp_path, odd, rest="[fit]\nneeds = false\n")
    found = answered("fit", job, "--out", tmp_path / "fit", "--against", job)
    kept = json.loads((tmp_path / "fit/fit.json").read_bytes())
    assert found["data"].pop("compared")[1].startswith("The finished waist of B")
    assert found["data"] == kept
    told = run("fit", job, "--out", tmp_path / "again").stdout.splitlines()
    first = told.index("Look at:") + 1
    listed = list(itertools.takewhile(lambda line: line.startswith("  - "), told[first:]))
    assert len(listed) > 1
    assert [f"  - {one['words']}" for one in found["look_at"]] == listed


def test_a_measured_body(tmp_path: Path) -> None:
    (tmp_path / "body.svg").write_bytes(traced())
    found = answered("form", tmp_path / "body.svg", "--out", tmp_path)
    heights = [section["height"] for section in found["data"]["sections"]]
    assert heights == sorted(heights)
    assert [Path(file).name for file in found["files"]] == ["sections.json", "sections.svg"]


MEASURED = """\
Waist 62.8 cm round; sections from -6.0 cm to +10.0 cm of the waist.

Found:
  - a waist
  - a front

Counted with (one standard deviation):
  - surface 0.4 mm
  - direction of the front 2.0 degrees
  - height of the waist 3 mm

Compare these girths with a tape, held level:
height      level    girth
--------  -------  -------
+10.0 cm     bust  69.1 cm
+5.0 cm            66.0 cm
+0.0 cm     waist  62.8 cm
-5.0 cm            62.8 cm

Next:
  - look at the picture: is the front at the top, and the waist where it should be?
  - in the job file: [body] model = "form", file = "sections.json"

Written:
  - x.json
  - x.svg"""


def test_a_round_body_as_it_is_told() -> None:
    """200 mm across as far up as the waist, and 20 mm more 100 mm above it."""
    support = np.array([100.0, 100.0, 110.0])[:, None]
    body = Sections.of_support(lambda psi: support + np.zeros((3, psi.shape[-1])))
    errors = FormErrors(0.4, np.radians(2.0), 3.0)
    found = ("a waist", "a front")
    heights = np.array([-60.0, 0.0, 100.0])
    form = MeasuredForm(heights, body, "traced", errors, found, {"bust": 100.0})
    assert form_text(form, ["x.json", "x.svg"], "cm") == MEASURED


def test_a_batch_of_many_that_fail_names_the_first_thousand() -> None:
    tally = BatchTally()
    for k in range(1002):
        tally.add(Outcome(f"c{k}", "failed", error=f"wrong {k}\nmore"))
    for k in range(7):
        tally.add(Outcome(f"d{k}", "done", warnings=("look", *["other"][: k < 5])))
    failed = [line for k in range(1000) for line in (f"  - c{k}: wrong {k}", "    more")]
    assert tally.text("out").splitlines() == [
        "Jobs                            Number",
        "----------------------------  --------",
        "done                                 7",
        "unchanged since the last run         0",
        "failed                            1002",
        "",
        "Look at:",
        "  - d0, d1, d2, d3, d4 and 2 more: look",
        "  - d0, d1, d2, d3, d4: other",
        "",
        "Failed:",
        *failed,
        "  - and 2 more: see summary.csv",
        "",
        "7 of 1009 jobs have their files, each in a directory of its own, in out. Mend what failed "
        "and run the batch again.",
    ]
    assert tally.data() == {
        "jobs": {"done": 7, "unchanged": 0, "failed": 1002},
        "failed": [{"name": f"c{k}", "error": f"wrong {k}\nmore"} for k in range(1000)],
    }


@pytest.mark.slow
def test_a_batch_tells_what_failed(tmp_path: Path) -> None:
    job = write_job(tmp_path, GOOD)
    (tmp_path / "broken.toml").write_text("[pattern]\n")
    every = ("batch", job, tmp_path / "broken.toml", "--out", tmp_path / "many", "--workers", "1")
    found = answered(*every, exits=1)
    assert found["data"]["jobs"] == {"done": 1, "unchanged": 0, "failed": 1}
    assert found["data"]["failed"][0]["name"] == "broken"
    rows = b"name,pattern.lacing_gap\nAnn,60\nBo,no\n"
    table = ("batch", job, "--table", "-", "--out", tmp_path / "rows", "--workers", "1")
    refused = answered(*table, given=rows, exits=2)["error"]
    assert refused["source"] == "standard input"
    found = answered(*table, "--keep-going", given=rows, exits=1)
    assert found["data"]["jobs"] == {"done": 1, "unchanged": 0, "failed": 1}
    assert "standard input, row 3" in found["data"]["failed"][0]["error"]


def test_new_tells_pages_a_sample_and_what_is_open(tmp_path: Path) -> None:
    (tmp_path / "draft.svg").write_text(svg(GOOD))
    found = answered("new", tmp_path / "draft.svg")
    assert found["data"]["panels"] == ["panel 1", "panel 2", "panel 3"]
    pages = answered("new", "-", "--list", given=svg(GOOD).encode())["data"]["pages"]
    assert sum(line["count"] for line in pages[0]["lines"]) == 6
    assert answered("new", "--sample", tmp_path / "s")["data"]["job"].endswith("hourglass.toml")
    (tmp_path / "none.svg").write_text(svg(Draft("side").outline()))
    assert answered("new", tmp_path / "none.svg", exits=1)["must_be_mended"]


def test_the_table_tells_its_address_and_then_its_end(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def serve(session: object, *, started: Callable[[str], None], **how: object) -> None:
        started("http://127.0.0.1:1/?token=t")

    monkeypatch.setattr(server, "serve", serve)
    told = run("table", write_job(tmp_path, GOOD), "--json").stdout
    first, end = json.JSONDecoder().raw_decode(told)
    last = json.loads(told[end:])
    assert [OUTPUT.is_valid(each) for each in (first, last)] == [True, True]
    job, address = str(tmp_path / "job.toml"), "http://127.0.0.1:1/?token=t"
    assert first["data"] == {"state": "laid", "address": address, "job": job}
    assert last["data"] == {"state": "cleared", "job": job}
    said = [
        f"The table is laid at {address}",
        "Nothing leaves this machine. End with Ctrl-C; the work is saved as you go.",
    ]
    end = f"The table is cleared. Your work is in {job}."
    assert run("table", job).stdout.splitlines() == [*said, end]
    # Without a job none is there until a draft is dropped on the page.
    (tmp_path / "empty").mkdir()
    monkeypatch.chdir(tmp_path / "empty")
    assert run("table").stdout.splitlines() == [*said, "The table is cleared."]
    first, end = json.JSONDecoder().raw_decode(run("table", "--json").stdout)
    assert first["data"] == {"state": "laid", "address": address, "job": None}
    assert first["data"]["address"] == "http://127.0.0.1:1/?token=t"


def test_the_table_says_which_package_it_wants(monkeypatch: pytest.MonkeyPatch) -> None:
    for missing, wanted in (("starlette.routing", True), ("uvicorn", True), ("own", False)):
        fault = ModuleNotFoundError("not there", name=missing)

        class Missing:
            def find_spec(self, name: str, *where: object, fault: Exception = fault) -> None:
                if name == server.__name__:
                    raise fault

        with monkeypatch.context() as patch:
            patch.delitem(sys.modules, server.__name__)
            patch.delattr("panelshift.table.server")
            patch.setattr(sys, "meta_path", [Missing(), *sys.meta_path])
            if wanted:
                error = answered("table", exits=2)["error"]
                assert error["problem"].startswith(f"the table needs the package {missing!r}, ")
                assert error["remedy"].endswith("pip install '.[table]'")
            else:
                assert run("table").exception is fault


# -- errors -------------------------------------------------------------------------------


def test_an_error_has_the_same_shape_and_its_parts_apart(tmp_path: Path) -> None:
    (tmp_path / "draft.svg").write_text("<svg")
    error = answered("check", tmp_path / "draft.svg", exits=2)["error"]
    assert error["kind"] == "SvgError"
    assert error["source"] == str(tmp_path / "draft.svg")
    assert error["remedy"]
    wrong = answered("cut", exits=2)
    assert wrong["error"]["kind"] == "CommandLineError"
    assert wrong["command"] == "cut"
    assert answered("cutt", exits=2)["command"] is None
    # Before any command, where only the group reads it.
    alone = run("--json")
    assert (alone.exit_code, json.loads(alone.stdout)["error"]["kind"]) == (2, "CommandLineError")
    assert run("cutt").stderr.startswith("Usage: ")


@pytest.mark.skipif(not os.path.exists("/dev/full"), reason="a device of Linux")
@pytest.mark.slow
def test_an_object_that_cannot_be_printed_is_an_error(tmp_path: Path) -> None:
    (tmp_path / "draft.svg").write_text(svg(GOOD))
    import subprocess

    with open("/dev/full", "w") as full:
        command = [sys.executable, "-m", "panelshift", "check", str(tmp_path / "draft.svg")]
        done = subprocess.run([*command, "--json"], stdout=full, stderr=-1, text=True, check=False)
    assert done.returncode == 2
    assert done.stderr.startswith("panelshift: standard output: cannot print")


# -- standard streams ---------------------------------------------------------------------


@pytest.mark.slow
def test_what_comes_by_standard_input_is_read_as_its_file_is(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    job = write_job(tmp_path, GOOD)
    monkeypatch.chdir(tmp_path)
    for file in (job, tmp_path / "draft.svg"):
        own, piped = answered("check", file), answered("check", "-", given=file.read_bytes())
        assert own["data"].pop("source")
        piped["data"].pop("source")
        assert piped == own
    answered("cut", "-", "--out", "piped", given=job.read_bytes())
    answered("cut", job, "--out", "named")
    for made in Path("named").iterdir():
        assert (Path("piped") / made.name).read_bytes() == made.read_bytes()
    layer = Path("named/layer-1-lining.svg").read_bytes()
    (one,) = answered("tile", "-", "--out", "pages", given=layer)["data"]["prints"]
    assert one["file"].endswith("drawing.pdf") or one["file"].endswith(".pdf")
    answered("tile", "-", "--out", "all", given=job.read_bytes())
    beside = answered("fit", job, "--out", "fit", "--against", "-", given=job.read_bytes())
    assert beside["data"]["compared"][0].endswith(", B is standard input.")
    message = run("check", "-", given=b"\xff").stderr
    assert message.startswith("panelshift: standard input: not a TOML file")
    assert run("new", "-").stderr.endswith("give a file, or add --list.\n")


@pytest.mark.slow
def test_what_goes_to_standard_output_is_nothing_but_the_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    job = write_job(tmp_path, GOOD)
    monkeypatch.chdir(tmp_path)
    for command in (
        ("alter", job, "--out"),
        ("new", "draft.svg", "--out"),
        ("new", "draft.svg", "--overwrite", "--svg"),
        ("swatch", "--formers", "60", "--sheet"),
    ):
        name = "own.svg" if command[0] != "swatch" else "own.pdf"
        assert run(*command, name).exit_code == 0
        piped = run(*command, "-")
        assert piped.exit_code == 0
        assert piped.stdout_bytes == Path(name).read_bytes()
        assert piped.stderr
        Path(name).unlink()
    both = run("alter", job, "--out", "-", "--json")
    assert json.loads(both.stderr)["data"]
    assert both.stdout.startswith("<?xml")
    failed = run("alter", "none.toml", "--out", "-", "--json")
    assert failed.stdout == ""
    assert json.loads(failed.stderr)["error"]
    assert (
        "save it as a file, and run: panelshift check JOB"
        in run("new", "draft.svg", "--out", "-").stderr
    )
    for wrong in (("new", "draft.svg", "--out", "-", "--svg", "-"), ("alter", job, "--out", "-")):
        assert run(*wrong, *(["--mock-up", "-"] if wrong[0] == "alter" else [])).exit_code == 2


# -- completion ---------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("args", "words"),
    [
        (
            ("fit", "-", "--out", "out", "--against", "-"),
            "Only one of JOB and --against comes from",
        ),
        (("layers", "-", "-", "--drawing", "-"), "Only one of JOB and --drawing comes from"),
        (("swatch", "--csv", "-", "--job", "-"), "Only one of --csv and --job comes from"),
        (("cut", "job.toml", "--out", "-"), "not one file goes out"),
        (("cut", "job.toml", "--out", ""), "is empty"),
        (("cards", "--out", "-"), "not one file goes out"),
        (("extension", "-"), "not one file goes out"),
        (("trace", "a.jpg", "--out", "-"), "not one file goes out"),
    ],
)
def test_streams_that_cannot_be_meant_are_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, args: tuple[str, ...], words: str
) -> None:
    # Directories were made that are called "-", and an empty name was the working directory.
    monkeypatch.chdir(tmp_path)
    done = run(*args)
    assert done.exit_code == 2
    assert words in " ".join(done.stderr.split())
    assert not list(tmp_path.iterdir())


def test_shells_complete_commands_options_and_files() -> None:
    from click.shell_completion import BashComplete

    from panelshift.cli import main

    shell = BashComplete(main, {}, "panelshift", "_PANELSHIFT_COMPLETE")
    page = (Path(__file__).parents[2] / "docs/installing.md").read_text()
    assert page.count(shell.complete_var) == 3
    assert [item.value for item in shell.get_completions([], "la")] == ["layers"]
    options = [item.value for item in shell.get_completions(["cut"], "--o")]
    assert options == ["--out", "--overwrite"]
    assert [item.type for item in shell.get_completions(["cut"], "corset")] == ["file"]
