"""The commands do what they say: new, check, cut, help and version."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
import tomllib
from pathlib import Path
from types import SimpleNamespace

import click
import pytest
from click.testing import CliRunner

import panelshift
from panelshift.cli import main
from panelshift.cli.answering import AnsweringCommand, Reply
from panelshift.cli.common import out_option, page_options
from panelshift.cli.reports.outcomes import _paper
from panelshift.files import shipped
from panelshift.files.outputs import RECORD_NAME
from panelshift.printing import PageOptions, parse_paper
from tests.support.drawings import (
    STACK,
    Draft,
    full,
    half,
    panels,
    path,
    svg,
    text,
    write_job,
)
from tests.support.examples import thinned
from tests.support.terminal import answered, listing, process, refused, run

GOOD = panels(half(3))


def filled(job: Path, thickness: str = "0.4") -> None:
    """Fill in every thickness of a starting job file."""
    job.write_text(job.read_text().replace('"measure me"', thickness))


# -- new ----------------------------------------------------------------------------------


def test_new_puts_a_sample_that_checks_without_a_fault(tmp_path: Path) -> None:
    made = run("new", "--sample", tmp_path / "corset")
    assert made.exit_code == 0, made.output
    assert sorted(each.name for each in (tmp_path / "corset").iterdir()) == [
        "hourglass.svg",
        "hourglass.toml",
    ]
    assert run("check", tmp_path / "corset/hourglass.toml").exit_code == 0
    (tmp_path / "corset/hourglass.svg").unlink()
    assert "--overwrite" in refused("new", "--sample", tmp_path / "corset", folder=tmp_path)
    assert not (tmp_path / "corset/hourglass.svg").exists()
    assert run("new", "--sample", tmp_path / "corset", "--overwrite").exit_code == 0
    assert "Name a pattern" in run("new").stderr


def test_new_without_the_sample_installed_says_so(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(shipped, "home", lambda kind: None)
    assert "came without its sample" in refused("new", "--sample", tmp_path, folder=tmp_path)
    assert not list(tmp_path.iterdir())


@pytest.mark.slow
def test_new_writes_a_job_beside_the_pattern_that_works_once_filled_in(tmp_path: Path) -> None:
    (tmp_path / "draft.svg").write_text(svg(GOOD))
    made = run("new", tmp_path / "draft.svg")
    job = tmp_path / "draft.toml"
    assert made.exit_code == 0, made.output
    assert "3 panels found" in made.stdout
    assert f"panelshift check {job}" in made.stdout
    data = tomllib.loads(job.read_text())
    assert data["pattern"]["file"] == "draft.svg"
    assert [table["class"] for table in data["panel"].values()] == ["front", "side", "back"]

    message = refused("check", job, folder=tmp_path)
    for k, name in enumerate(("lining", "strength layer", "fashion fabric"), start=1):
        assert f"stack.fabric[{k}] ({name}).thickness: 'measure me' is not a length" in message
    assert "3 faults in the job file" in message

    filled(job)
    assert run("check", job).exit_code == 0
    assert run("cut", job, "--out", tmp_path / "out").exit_code == 0


def test_new_elsewhere_names_the_pattern_from_there(tmp_path: Path) -> None:
    (tmp_path / "in").mkdir()
    (tmp_path / "jobs").mkdir()
    (tmp_path / "in" / "draft.svg").write_text(svg(GOOD))
    job = tmp_path / "jobs" / "mine.toml"
    assert run("new", tmp_path / "in" / "draft.svg", "--out", job).exit_code == 0
    named = tomllib.loads(job.read_text())["pattern"]["file"]
    assert named == os.path.join("..", "in", "draft.svg")
    filled(job)
    assert run("check", job).exit_code == 0


def test_new_does_not_overwrite_unless_told_to(tmp_path: Path) -> None:
    (tmp_path / "draft.svg").write_text(svg(GOOD))
    (tmp_path / "draft.toml").write_text("mine")
    message = refused("new", tmp_path / "draft.svg", folder=tmp_path)
    assert "there is a file of that name already" in message
    assert "--overwrite" in message
    assert run("new", tmp_path / "draft.svg", "--overwrite").exit_code == 0
    assert "[pattern]" in (tmp_path / "draft.toml").read_text()


def test_new_twice_gives_the_same_file(tmp_path: Path) -> None:
    (tmp_path / "draft.svg").write_text(svg(GOOD))
    run("new", tmp_path / "draft.svg", "--out", tmp_path / "a.toml")
    run("new", tmp_path / "draft.svg", "--out", tmp_path / "b.toml")
    assert (tmp_path / "a.toml").read_bytes() == (tmp_path / "b.toml").read_bytes()


# -- check --------------------------------------------------------------------------------


def test_check_of_a_drawing_says_what_was_read(tmp_path: Path) -> None:
    first = half(3)[0]
    body = GOOD + first.line("hip", -60) + text("stray", 900, 900, "t9")
    (tmp_path / "draft.svg").write_text(svg(body))
    result = run("check", tmp_path / "draft.svg")
    assert result.exit_code == 0
    assert result.stderr == ""
    for words in (
        "half pattern of 3 panels, whole waist 264 mm; lengths in mm",
        "waist: half 132 mm, whole 264 mm",
        "panel 1 to panel 2",
        "* class inferred from the panel's place",
        "How it was read:",
        "Left out:\n  - t9: text outside every panel",
        "ordered by the numbers in their names",
        "t9: text outside every panel",
        "Nothing that must be mended.",
    ):
        assert words in result.stdout
    walked = re.findall(
        r"(?m)^(panel \d to panel \d) +([\d.]+) +([\d.]+) +([\d.]+)$", result.stdout
    )
    assert [seam[0] for seam in walked] == ["panel 1 to panel 2", "panel 2 to panel 3"]
    assert walked[0][1:] == ("220.4", "220.4", "0.0")
    assert re.search(r"(?m)^seam +first edge +second edge +difference$", result.stdout)
    (row,) = [line for line in result.stdout.splitlines() if line.startswith("panel 1  ")]
    assert row.split() == [
        *("panel", "1", "front*", "40.0", "220.0", "44.0", "220.4", "47.0", "hip", "0"),
    ]


def test_check_of_a_job_compares_the_waist_and_counts_the_gap(tmp_path: Path) -> None:
    job = write_job(tmp_path, GOOD, head='drafted_waist = 263\nlacing_gap = "2 in"\nunits = "in"')
    result = run("check", job)
    assert result.exit_code == 0
    assert "whole 10.39 in, with the lacing gap 12.39 in" in result.stdout
    assert "drafted to 10.35 in (+0.04 in)" in result.stdout
    assert "lengths in inches" in result.stdout
    assert "in in" not in result.stdout.replace("lengths in inches", "")


def test_check_of_a_full_pattern_says_so(tmp_path: Path) -> None:
    (tmp_path / "draft.svg").write_text(svg(panels(full(6))))
    result = run("check", tmp_path / "draft.svg")
    assert "full pattern of 6 panels" in result.stdout
    assert result.stdout.count(" to ") >= 5


@pytest.mark.parametrize(
    ("extra", "code", "where"), [(0.5, 0, ""), (2.0, 0, "Look at"), (7.0, 1, "Must be mended")]
)
def test_check_walks_the_seams(tmp_path: Path, extra: float, code: int, where: str) -> None:
    straight = {"left": (0.0, 0.0), "right": (0.0, 0.0)}
    first = Draft("1", x=60.0, **straight)
    second = Draft("2", x=160.0, below=100.0 + extra, **straight)
    (tmp_path / "draft.svg").write_text(svg(panels([first, second])))
    result = run("check", tmp_path / "draft.svg")
    assert result.exit_code == code
    told = f"seam 1 to 2: its edges differ by {extra:g} mm (220 mm and {220 + extra:g} mm)"
    assert (told in result.stdout) == bool(where)
    if where:
        assert told in result.stdout.split(f"{where}:")[1]
    found = answered("check", tmp_path / "draft.svg", exits=code)
    assert [entry["code"] for entry in found["must_be_mended"]] == ["seam"] * code


def test_check_exits_1_on_a_wrong_scale_and_still_prints_the_table(tmp_path: Path) -> None:
    job = write_job(tmp_path, GOOD, head="drafted_waist = 352")
    result = run("check", job)
    assert result.exit_code == 1
    assert "panel 1 to panel 2" in result.stdout
    assert "72/96" in result.stdout.split("Must be mended:")[1]


def test_check_as_json_holds_everything(tmp_path: Path) -> None:
    first = half(3)[0]
    body = GOOD + first.line("hip", -60) + path("M70 120V280", "grain 1")
    body += text("größe", 70, 150, "t1") + text("stray", 900, 900, "t9")
    job = write_job(tmp_path, body, head="drafted_waist = 264\nlacing_gap = 50")
    data = answered("check", job)["data"]
    assert data["halves"] == "half"
    assert (data["waist"], data["drafted_waist"], data["lacing_gap"]) == (264.0, 264.0, 50.0)
    panel = data["panels"][0]
    assert panel["name"] == panel["id"] == "panel 1"
    assert (panel["class"], panel["class_inferred"]) == ("front", True)
    assert panel["waist"] == 40.0
    assert panel["edges"] == {"front": 220.0, "top": 44.0, "back": 220.3733, "bottom": 47.0}
    assert panel["levels"] == {"hip": {"height": -60.0, "width": 44.536}}
    assert panel["marks"] == [{"kind": "grainline", "id": "grain 1"}]
    assert panel["texts"] == ["größe"]
    assert data["seams"][0] == {
        "name": "panel 1 to panel 2",
        "first": 220.3733,
        "second": 220.3733,
        "difference": 0.0,
    }
    assert data["left_out"] == [{"id": "t9", "reason": "text outside every panel"}]


def test_json_holds_plain_numbers_even_when_faults_are_found(tmp_path: Path) -> None:
    job = write_job(tmp_path, GOOD, head="drafted_waist = 352")
    assert len(answered("check", job, exits=1)["must_be_mended"]) == 1


# -- cut ----------------------------------------------------------------------------------


def test_cut_writes_a_file_a_layer_and_reports(tmp_path: Path) -> None:
    job = write_job(
        tmp_path,
        GOOD,
        head="lacing_gap = 40",
        stack='[stack]\ndrafted_layer = "coutille"\n' + STACK,
    )
    out = tmp_path / "out" / "deep"
    result = run("cut", job, "--out", out)
    assert result.exit_code == 0, result.output
    names = ["layer-1-lining.svg", "layer-2-coutille.svg", "layer-3-brocade.svg", "overlay.svg"]
    assert sorted(listing(out)) == [RECORD_NAME, "cutting-list.csv", *names]
    for words in (
        "draft: half pattern of 3 panels, whole waist 264 mm, 3 layers; lengths in mm",
        "drafted layer: coutille",
        "body model: mean (the mean form of women and men, at the draft's girths)",
        "classes: panel 1 = front*, panel 2 = side*, panel 3 = back* (* inferred from its place)",
        "lacing gap: 40 mm",
        "allowances of lining: seam 10 mm, centre front 10 mm",
        "layer 1, lining: -0.35 mm from the drafted layer; growth across, by the body ",
        "layer 2, coutille: +0 mm from the drafted layer: this is the drafted layer",
        "layer 3, brocade: +0.65 mm from the drafted layer; growth across, by the body ",
        "whole girth",
        "Waist of all panels, without the lacing gap:",
        "Seams walked in every layer",
        "Next:",
        "print one file at 100 %",
        "Sharp tools",
        "licensed health professional",
        *(str(out / name) for name in names),
    ):
        assert words in result.stdout
    assert re.search(
        r"a mock-up of panel \d in all layers and lay it over something round, \d+ ± \d+ mm across",
        result.stdout,
    )


def test_cut_prints_girths_that_are_those_of_the_layers(tmp_path: Path) -> None:
    job = write_job(tmp_path, GOOD)
    result = run("cut", job, "--out", tmp_path / "out")
    _, table = result.stdout.split("Waist of all panels, without the lacing gap:")
    rows = {line.split()[0]: line.split()[1:] for line in table.splitlines()[3:6]}
    # Without a gap the girth grows by 2 pi d cos(tilt), and the waist is nearly upright.
    assert rows["lining"] == ["264.0", "+0.0"]
    assert float(rows["coutille"][1]) == pytest.approx(2 * 3.14159 * 0.35, abs=0.1)
    assert float(rows["brocade"][0]) == pytest.approx(264 + float(rows["brocade"][1]), abs=0.011)
    # What a layer grows by, panel by panel and in all: a half pattern's panels lie there twice.
    own = result.stdout.split("layer 3, brocade: ")[1].splitlines()
    cells = {row[:10].strip(): row.split()[-1] for row in own[3:7]}
    whole = cells.pop("whole girt")
    assert all(cell[0] == "+" for cell in (whole, *cells.values()))
    assert whole == rows["brocade"][1]
    # Each is told to a tenth of a mm.
    rounded = 0.05 * (2 * len(cells) + 1)
    assert float(whole) == pytest.approx(2 * sum(map(float, cells.values())), abs=rounded)


@pytest.mark.slow
def test_cut_twice_gives_the_same_bytes_and_leaves_other_files_alone(tmp_path: Path) -> None:
    job = write_job(tmp_path, GOOD)
    out = tmp_path / "out"
    out.mkdir()
    (out / "notes.txt").write_text("mine")
    assert run("cut", job, "--out", out).exit_code == 0
    first = listing(out)
    assert run("cut", job, "--out", out).exit_code == 0
    assert listing(out) == first
    assert first["notes.txt"] == b"mine"


@pytest.mark.slow
def test_cut_does_not_depend_on_the_hash_seed_or_the_process(tmp_path: Path) -> None:
    job = write_job(tmp_path, GOOD + "".join(d.line("hip", -50) for d in half(3)))
    here, there = tmp_path / "here", tmp_path / "there"
    made = run("cut", job, "--out", here)
    result = process("cut", job, "--out", there, env={"PYTHONHASHSEED": "4242"})
    assert result.returncode == 0, result.stderr
    outs = [
        (listing(out), printed.replace(str(out), "OUT"))
        for out, printed in ((here, made.stdout), (there, result.stdout))
    ]
    assert outs[0] == outs[1]
    written = {"cutting-list.csv", "overlay.svg", RECORD_NAME}
    assert {name for name in outs[0][0] if not name.startswith("layer-")} == written


def test_cut_shows_lengths_in_the_jobs_unit(tmp_path: Path) -> None:
    stack = STACK.replace("0.8", "0.02").replace("0.5", "0.02")
    job = write_job(tmp_path, GOOD, head='units = "in"', stack=stack)
    result = run("cut", job, "--out", tmp_path / "out")
    # What differs by less than cloth can hold is judged on a table.
    assert "flat on the table the edges should meet" in result.stdout
    assert "lengths in inches" in result.stdout
    assert "lacing gap: 0 in" in result.stdout


@pytest.mark.parametrize(
    ("body", "words"),
    [
        (
            'model = "section"\nratio = 1.3',
            "body model: section (breadth to depth 1.3; exponent 2)",
        ),
        ('model = "former"\ndiameter = 80', "body model: former (diameter 80 mm; does not close"),
    ],
)
def test_cut_states_the_body_model_with_its_defaults(tmp_path: Path, body: str, words: str) -> None:
    job = write_job(tmp_path, GOOD, rest=f"[body]\n{body}\n")
    assert words in run("cut", job, "--out", tmp_path / "out").stdout


@pytest.mark.parametrize("command", ["cut", "fit", "tile"])
def test_a_panel_that_is_not_read_stops_every_command_that_writes(
    tmp_path: Path, command: str
) -> None:
    job = write_job(tmp_path, GOOD + Draft("forgotten", x=700.0).outline())
    result = run(command, job, "--out", tmp_path / "out")
    assert result.exit_code == 2
    assert "forgotten: it looks like a panel, but no waistline crosses it" in result.stderr
    assert "leave_out" in result.stderr
    assert not (tmp_path / "out").exists()
    checked = run("check", job)
    assert checked.exit_code == 1
    assert "forgotten: it looks like a panel" in checked.stdout


def test_cut_lists_the_warnings_of_the_reading(tmp_path: Path) -> None:
    job = write_job(tmp_path, GOOD + '<path id="waist far" d="M800 200H860"/>')
    result = run("cut", job, "--out", tmp_path / "out")
    assert "waist far: a waistline that crosses no panel; is a panel missing?" in result.stdout


@pytest.mark.parametrize(
    "command", [["cut", "--out", "out"], *thinned([["check"], ["fit", "--out", "out"]], 2)]
)
def test_a_thickness_that_may_be_a_slip_is_pointed_out(tmp_path: Path, command: list[str]) -> None:
    job = write_job(tmp_path, GOOD, stack=STACK.replace("thickness = 0.8", 'thickness = "0.8 cm"'))
    rest = [tmp_path / "out" if word == "out" else word for word in command[1:]]
    result = run(command[0], job, *rest)
    assert result.exit_code == 0
    assert "brocade is 8 mm thick, more than cloth for corsets is" in result.stdout
    assert "lining is" not in result.stdout


def test_cut_needs_a_directory() -> None:
    result = run("cut", "job.toml")
    assert result.exit_code == 2
    assert "--out" in result.stderr


def test_control_characters_never_reach_the_terminal(tmp_path: Path) -> None:
    body = GOOD + '<circle id="&#x9b;31mred" cx="900" cy="900" r="4"/>'
    job = write_job(tmp_path, body)
    result = run("check", job)
    assert "31mred: closed, but no waistline crosses it" in result.stdout
    assert "\x9b" not in result.stdout
    named = write_job(tmp_path, GOOD, rest='[panel."\\u001b[31m"]\n')
    message = refused("check", named, folder=tmp_path)
    assert "\\x1b[31m" in message
    assert "\x1b" not in message


# -- help and version ---------------------------------------------------------------------


@pytest.mark.parametrize("arguments", [["--help"], ["-h"], ["new", "--help"], ["cut", "-h"]])
def test_help_is_printed(arguments: list[str]) -> None:
    result = run(*arguments)
    assert result.exit_code == 0
    assert result.stdout.startswith("Usage: panelshift")


def test_every_option_of_every_command_says_what_it_is_for() -> None:
    @click.command(cls=AnsweringCommand)
    @page_options
    @out_option("what is made")
    def made(**given: object) -> Reply:
        """Make something."""
        return Reply(lambda: "words", lambda: {name: str(given[name]) for name in sorted(given)})

    for command in (*main.commands.values(), made):
        assert command.get_short_help_str()
        for option in command.params:
            if isinstance(option, click.Option):
                assert len(option.help or "") > 8, (command.name, option.name)
                silent = option.default == "" or not isinstance(option.default, str)
                assert option.show_default or silent, (command.name, option.name)
    given = {"margin": "10", "out": "x", "overlap": "10", "overwrite": "False", "paper": "a4"}
    told = CliRunner().invoke(made, ["--out", "x", "--json"], obj=True)
    assert json.loads(told.output)["data"] == given
    assert "Missing option '--out'" in CliRunner().invoke(made).output
    # It takes nothing of what follows.
    assert CliRunner().invoke(made, ["--out", "x", "--json", "job"], obj=True).exit_code == 2


def test_version_is_the_packages() -> None:
    result = process("--version")
    assert result.returncode == 0
    assert result.stdout == f"panelshift, version {panelshift.__version__}\n"


@pytest.mark.parametrize("arguments", ["--help", "--version", "check --help", "cut --help"])
def test_help_and_version_import_nothing_heavy(arguments: str) -> None:
    code = (
        "import sys\n"
        "from panelshift.cli import main\n"
        "try:\n"
        f"    main({arguments.split()!r})\n"
        "except SystemExit as end:\n"
        "    assert end.code == 0, end.code\n"
        "heavy = {'numpy', 'lxml', 'svgpathtools', 'pydantic', 'scipy', 'shapely', 'tabulate'}\n"
        "print('loaded:', sorted(heavy & set(sys.modules)))\n"
    )
    import subprocess

    result = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, timeout=60, check=True
    )
    assert result.stdout.splitlines()[-1] == "loaded: []"


def test_unknown_command_and_option_exit_2() -> None:
    assert run("stitch").exit_code == 2
    assert run("check", "--colour", "x.svg").exit_code == 2


@pytest.mark.slow
def test_cut_keeps_a_cutting_file_that_was_edited_by_hand(tmp_path: Path) -> None:
    job = write_job(tmp_path, GOOD)
    out = tmp_path / "out"
    assert run("cut", job, "--out", out).exit_code == 0
    edited = out / "overlay.svg"
    edited.write_bytes(b"edited by hand")
    result = run("cut", job, "--out", out)
    assert result.exit_code == 2
    assert "changed since" in result.stderr
    assert edited.read_bytes() == b"edited by hand"
    assert run("cut", job, "--out", out, "--overwrite").exit_code == 0
    assert edited.read_bytes() != b"edited by hand"


def test_cut_never_replaces_its_own_pattern(tmp_path: Path) -> None:
    job = write_job(tmp_path, GOOD)
    pattern = tmp_path / "draft.svg"
    pattern.rename(tmp_path / "overlay.svg")
    job.write_text(job.read_text().replace("draft.svg", "overlay.svg"))
    before = (tmp_path / "overlay.svg").read_bytes()
    result = run("cut", job, "--out", tmp_path, "--overwrite")
    assert result.exit_code == 2
    assert "made from" in result.stderr
    assert (tmp_path / "overlay.svg").read_bytes() == before


@pytest.mark.slow
def test_a_terminal_that_knows_few_letters_shows_codes(tmp_path: Path) -> None:
    # The names of level lines are the drawing's own, and are printed.
    drawn = GOOD.replace('id="panel', 'id="\u88cf\u5730 panel')
    job = write_job(tmp_path, drawn, stack=STACK.replace('"lining"', '"\u88cf\u5730"'))
    out = str(tmp_path / "out")
    made = subprocess.run(
        [sys.executable, "-m", "panelshift", "cut", str(job), "--out", out],
        capture_output=True,
        env={**os.environ, "PYTHONUTF8": "0", "PYTHONIOENCODING": "cp1252"},
        check=False,
    )
    assert made.returncode == 0, made.stderr
    assert b"\\u88cf" in made.stdout


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no device here is always full")
@pytest.mark.slow
def test_a_full_output_is_told(tmp_path: Path) -> None:
    job = write_job(tmp_path, GOOD)
    with open("/dev/full", "wb") as full_device:
        made = subprocess.run(
            [sys.executable, "-m", "panelshift", "check", str(job)],
            stdout=full_device,
            stderr=subprocess.PIPE,
            check=False,
        )
    assert made.returncode == 2
    assert b"standard output: cannot print: No space left" in made.stderr
    assert b"Traceback" not in made.stderr


def test_thousands_of_faults_make_a_short_message(tmp_path: Path) -> None:
    rest = "".join(f'[panel."x{k}"]\ncut = 1\n' for k in range(2_000))
    message = refused("check", write_job(tmp_path, GOOD, rest=rest), folder=tmp_path)
    assert "1976 more" in message
    assert len(message) < 4_000


@pytest.mark.parametrize(
    ("unit", "words"),
    [
        ("mm", "1.86 m of a roll 914.4 mm wide."),
        ("cm", "1.86 m of a roll 91.44 cm wide."),
        ("in", "2.03 yd of a roll 36 in wide."),
    ],
)
def test_paper_of_a_roll_is_told_by_its_length(unit: str, words: str) -> None:
    prints = [SimpleNamespace(printed=SimpleNamespace(size=(914.0, long))) for long in (1000, 856)]
    options = PageOptions(parse_paper("roll:36in"), unit=unit)
    assert _paper(prints, options) == words
