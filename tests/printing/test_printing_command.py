"""The command `tile`: what it writes and says, and bad input, which leaves nothing behind."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from panelshift.files.outputs import RECORD_NAME
from tests.support import drafts
from tests.support.drawings import svg
from tests.support.prints import sample_prints
from tests.support.runs import SAMPLES
from tests.support.terminal import listing, refused, run

JOB = SAMPLES / "hourglass.toml"
FABRICS = ("lining", "coutille", "interlining", "brocade")


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A folder with a job of two small panels, and with other files."""
    sheet = drafts.drawn(drafts.walls([60.0, 70.0, 80.0], reach=(-60.0, 60.0)))
    (tmp_path / "p.svg").write_bytes(sheet)
    (tmp_path / "j.toml").write_text(
        '[pattern]\nfile = "p.svg"\nlacing_gap = 20\nhalves = "half"\n'
        '[stack]\ndrafted_layer = "a"\n'
        '[[stack.fabric]]\nname = "a"\nthickness = 0.4\n'
        '[[stack.fabric]]\nname = "silk, red"\nthickness = 0.3\n'
        '[[stack.fabric]]\nname = "tape"\nthickness = 0.5\ncut_out = false\n'
    )
    (tmp_path / "text.svg").write_text(
        '<svg xmlns="http://www.w3.org/2000/svg" width="9mm" height="9mm"><text>a</text></svg>'
    )
    (tmp_path / "file").write_text("in the way")
    return tmp_path


def pdfs(folder: Path) -> list[str]:
    """What was written, but for the record that panelshift keeps of it."""
    return [name for name in sorted(listing(folder)) if name != RECORD_NAME]


def tile(folder: Path, *arguments: str, file: str = "j.toml") -> str:
    return refused("tile", folder / file, "--out", folder / "out", *arguments, folder=folder)


def refused_at_work(folder: Path, *arguments: str | Path) -> str:
    """Message of a run that fails after it has told of its progress, and leaves no file."""
    before = listing(folder)
    done = run("tile", folder / "j.toml", *arguments)
    assert done.exit_code == 2, done.output
    assert done.stdout == ""
    lines = done.stderr.splitlines()
    told = [line for line in lines if re.fullmatch(r"printing .+ \.\.\.", line)]
    assert lines[: len(told)] == told
    assert lines[len(told)].startswith("panelshift: ")
    assert "What to do: " in done.stderr
    assert listing(folder) == before
    return done.stderr


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["--paper", "a7"], ["unknown paper 'a7'", "a4", "letter", "legal", "tabloid", "roll:914"]),
        (["--paper", "0x300"], ["no usable size"]),
        (["--paper", "roll:0"], ["no usable size"]),
        (["--paper", "nanxnan"], ["unknown paper"]),
        (["--paper", "-5x300"], ["unknown paper"]),
        (["--margin", "nan"], ["not a length"]),
        (["--margin", "-3"], ["a margin of -3 mm"]),
        (["--margin", "5 furlongs"], ["unknown unit"]),
        (["--margin", "90"], ["leave 20 mm of 210 mm paper", "52 mm"]),
        (["--overlap", "-1mm"], ["an overlap of -1 mm"]),
        (["--overlap", "9e99"], ["leave 0 mm"]),
        (["--overlap", "100"], ["more than half"]),
        (["--layers", "velvet"], ["there is no layer 'velvet'", "a, silk, red"]),
        (["--layers", "tape"], ["no panel to cut in layer 'tape'"]),
        (["--layers", "a,velvet"], ["there is no layer 'velvet'"]),
        (["--layers", ","], ["there is no layer ''"]),
        (["--paper", "72x72", "--overlap", "0", "--margin", "11"], ["leave 50 mm of 72 mm"]),
    ],
)
def test_bad_input_is_refused_in_words(
    folder: Path, arguments: list[str], words: list[str]
) -> None:
    message = tile(folder, *arguments)
    for part in words:
        assert part in message


def test_a_roll_narrower_than_a_panel_is_refused(folder: Path) -> None:
    message = refused_at_work(folder, "--paper", "roll:80", "--out", folder / "out")
    assert "the roll leaves 60 mm" in message
    assert "roll of at least" in message


def test_a_drawing_without_lines_is_refused(folder: Path) -> None:
    assert "holds no lines" in tile(folder, file="text.svg")


@pytest.mark.parametrize(
    "arguments", [["--nested"], ["--layers", "a"], ["--keep-together"]], ids=lambda a: a[0]
)
def test_a_drawing_takes_no_options_of_a_job(folder: Path, arguments: list[str]) -> None:
    assert "need a job file" in tile(folder, *arguments, file="p.svg")


@pytest.mark.parametrize("name", ["absent.toml", "absent.svg", "file"])
def test_a_file_that_is_not_there_or_no_drawing_is_refused(folder: Path, name: str) -> None:
    assert name in tile(folder, file=name)


@pytest.mark.slow
def test_a_file_in_the_target_s_place_is_refused(folder: Path) -> None:
    message = refused("tile", folder / "j.toml", "--out", folder / "file", folder=folder)
    assert "is a file, not a directory" in message
    assert "file" in refused_at_work(folder, "--out", folder / "file" / "deeper")


def test_a_target_that_cannot_be_written_leaves_no_other_file(folder: Path) -> None:
    out = folder / "out"
    (out / "layer-2-silk-red-a4.pdf").mkdir(parents=True)
    message = refused_at_work(folder, "--out", out)
    assert "layer-2-silk-red-a4.pdf" in message
    assert pdfs(out) == ["layer-2-silk-red-a4.pdf"], "as before"


def test_no_layer_to_cut_is_refused(folder: Path) -> None:
    job = folder / "j.toml"
    job.write_text(re.sub(r"(thickness = 0\.[34])", r"\1\ncut_out = false", job.read_text()))
    assert "no layer of the stack is cut out of cloth" in tile(folder)


@pytest.mark.slow
def test_one_file_for_each_layer_and_a_summary(tmp_path: Path) -> None:
    done = run("tile", JOB, "--out", tmp_path)
    assert done.exit_code == 0
    assert [line for line in done.stderr.splitlines() if "printing" in line] == [
        f"printing hourglass: {fabric} ..." for fabric in FABRICS
    ]
    names = pdfs(tmp_path)
    assert [name.split("-", 2)[2] for name in names] == [
        "lining-a4.pdf", "coutille-a4.pdf", "interlining-a4.pdf", "brocade-a4.pdf",
    ]  # fmt: skip
    expected = sample_prints()
    total = sum(item.printed.pages for item in expected)
    assert f"{total} pages of a4 in all" in done.stdout
    assert "one sheet of paper a page" in done.stdout
    for item in expected:
        grid = item.printed.grid
        assert grid is not None
        row = next(line for line in done.stdout.splitlines() if item.title in line)
        size = f"{grid.taped[0]:.0f} x {grid.taped[1]:.0f} mm"
        assert re.search(rf"{item.printed.pages}\s+{grid.columns} x {grid.rows}\s+{size}", row)
        assert (tmp_path / item.name).read_bytes() == item.printed.data


@pytest.mark.slow
def test_layers_are_picked_by_name_even_with_a_comma_in_it(folder: Path) -> None:
    for arguments, names in (
        (["--layers", "silk, red"], ["layer-2-silk-red-a4.pdf"]),
        (["--layers", "a"], ["layer-1-a-a4.pdf"]),
        (
            ["--layers", "silk, red", "--layers", "a"],
            ["layer-1-a-a4.pdf", "layer-2-silk-red-a4.pdf"],
        ),
    ):
        out = folder / "-".join(names)
        assert run("tile", folder / "j.toml", "--out", out, *arguments).exit_code == 0
        assert pdfs(out) == names


@pytest.mark.slow
def test_layers_are_picked_with_commas(tmp_path: Path) -> None:
    done = run("tile", JOB, "--out", tmp_path, "--layers", "brocade,lining", "--paper", "a3")
    assert done.exit_code == 0
    assert pdfs(tmp_path) == ["layer-1-lining-a3.pdf", "layer-6-brocade-a3.pdf"]


@pytest.mark.slow
def test_rolls_and_single_pages_are_summed_up_without_taping(tmp_path: Path) -> None:
    done = run("tile", JOB, "--out", tmp_path, "--paper", "roll:36in", "--layers", "lining")
    assert re.search(r"0\.\d\d m of a roll 914\.4 mm wide", done.stdout)
    assert "tape the pages" not in done.stdout
    assert pdfs(tmp_path) == ["layer-1-lining-roll.pdf"]
    done = run("tile", JOB, "--out", tmp_path, "--paper", "a0", "--layers", "lining")
    assert "1 page of a0 in all; one sheet" in done.stdout
    assert "map" not in done.stdout
    assert "tape the pages" not in done.stdout


@pytest.mark.slow
def test_characters_without_a_glyph_are_told(folder: Path) -> None:
    job = folder / "j.toml"
    job.write_text(job.read_text().replace('name = "silk, red"', 'name = "silk \U0001f600"'))
    done = run("tile", job, "--out", folder / "out")
    assert done.exit_code == 0
    assert "no font has these characters, printed as boxes: \U0001f600" in done.stdout


@pytest.mark.slow
def test_printed_anew_takes_away_what_it_printed_before_and_prints_no_more(folder: Path) -> None:
    out = folder / "out"
    run("tile", folder / "j.toml", "--out", out, "--layers", "a")
    assert pdfs(out) == ["layer-1-a-a4.pdf"]
    made = run("tile", folder / "j.toml", "--out", out, "--layers", "a", "--paper", "a3")
    assert "removed, as an earlier run made it and this one does not" in made.stderr
    assert pdfs(out) == ["layer-1-a-a3.pdf"]
    # Single drawings are printed one after the other, and each on another paper.
    square = svg('<path d="M1 1H9V9"/>')
    for name in ("one", "two"):
        (folder / f"{name}.svg").write_text(square)
        run("tile", folder / f"{name}.svg", "--out", out)
    run("tile", folder / "one.svg", "--out", out, "--paper", "a3")
    assert pdfs(out) == ["layer-1-a-a3.pdf", "one-a3.pdf", "two-a4.pdf"]
