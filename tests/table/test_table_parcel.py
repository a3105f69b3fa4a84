"""What is taken away is what the commands write."""

from __future__ import annotations

import io
import zipfile
import zlib
from pathlib import Path

import pytest
from click.testing import CliRunner

from panelshift.cli import main
from panelshift.table.parcel import zipped

from .client import Table, sample

ALL = ("pages", "cut", "fit", "job")


def taken(table: Table, *, parts: tuple[str, ...] = ALL, **options: str) -> dict[str, bytes]:
    answer = table.get("/parcel.zip", params={"part": list(parts), **options})
    assert "x-refused" not in answer.headers, answer.text
    assert answer.headers["content-type"] == "application/zip"
    with zipfile.ZipFile(io.BytesIO(answer.content)) as archive:
        assert archive.testzip() is None
        return {name: archive.read(name) for name in archive.namelist()}


def written(*arguments: str | Path) -> dict[str, bytes]:
    result = CliRunner().invoke(main, [str(argument) for argument in arguments])
    assert result.exit_code == 0, result.output
    out = Path(arguments[arguments.index("--out") + 1])
    return {path.name: path.read_bytes() for path in out.iterdir() if path.name[0] != "."}


@pytest.mark.slow
@pytest.mark.parametrize(
    "name", [pytest.param("hourglass", marks=pytest.mark.slow), "fuller_figure"]
)
def test_the_same_bytes_as_the_commands_write(tmp_path, name) -> None:
    folder = tmp_path / "work"
    folder.mkdir()
    table = sample(folder, name)
    table.edit("fabric", {"fabric": "lining", "key": "thickness", "value": "0,27"})
    # The cloth's layout takes seconds: once is enough.
    parts = ALL if name == "hourglass" else ("pages", "cut", "job")
    found = taken(table, parts=parts, paper="letter", margin="12 mm", overlap="8 mm")
    job = table.job
    expected = {
        **{f"cut/{k}": v for k, v in written("cut", job, "--out", tmp_path / "cut").items()},
        **{
            f"pages/{k}": v
            for k, v in written(
                "tile", job, "--paper", "letter", "--margin", "12", "--overlap", "8",
                "--out", tmp_path / "pages",
            ).items()
        },
        job.name: job.read_bytes(),
        f"{name}.svg": (folder / f"{name}.svg").read_bytes(),
    }  # fmt: skip
    if "fit" in parts:
        sheet = written("fit", job, "--out", tmp_path / "fit")
        expected |= {f"fit/{k}": v for k, v in sheet.items()}
    assert found.keys() == expected.keys()
    for file, content in expected.items():
        assert found[file] == content, file


@pytest.mark.slow
def test_the_same_bytes_wherever_the_command_runs(tmp_path, monkeypatch) -> None:
    """The table of a folder names its files without the folder, as a maker does in it."""
    table = sample(tmp_path)
    monkeypatch.chdir(tmp_path)
    here = Table(Path(), "hourglass.toml")
    found = taken(here, parts=("cut", "job"))
    assert found == taken(table, parts=("cut", "job"))
    assert written("cut", "hourglass.toml", "--out", "out") == {
        name.removeprefix("cut/"): content
        for name, content in found.items()
        if name.startswith("cut/")
    }


@pytest.mark.slow
def test_options_of_the_print(tmp_path) -> None:
    folder = tmp_path / "work"
    folder.mkdir()
    table = sample(folder)
    nested = taken(table, parts=("pages",), nested="yes", together="yes", own_paper="roll:610")
    expected = written(
        "tile", table.job, "--nested", "--keep-together", "--paper", "roll:610",
        "--out", tmp_path / "out",
    )  # fmt: skip
    assert nested == {f"pages/{name}": content for name, content in expected.items()}


@pytest.mark.slow
def test_the_same_work_gives_the_same_zip(tmp_path) -> None:
    table = sample(tmp_path)
    params = {"part": ["cut", "job"]}
    first, second = (table.get("/parcel.zip", params=params) for _ in range(2))
    assert first.content == second.content
    assert first.headers["content-disposition"] == 'attachment; filename="hourglass.zip"'
    with zipfile.ZipFile(io.BytesIO(first.content)) as archive:
        assert {entry.date_time for entry in archive.infolist()} == {(1980, 1, 1, 0, 0, 0)}


def test_swatch_readings_go_along(tmp_path) -> None:
    table = sample(tmp_path)
    table.edit(
        "reading",
        {"inner": "coutille", "outer": "brocade", "former": "80", "length": "180", "overhang": "4"},
    )
    found = taken(table, parts=("job",))
    assert sorted(found) == ["hourglass-swatches.csv", "hourglass.svg", "hourglass.toml"]


def test_a_pattern_elsewhere_stays_there(tmp_path) -> None:
    folder = tmp_path / "inside"
    folder.mkdir()
    table = sample(folder)
    (folder / "hourglass.svg").rename(tmp_path / "hourglass.svg")
    table.job.write_text(table.text.replace('"hourglass.svg"', '"../hourglass.svg"'))
    assert sorted(taken(table, parts=("job",))) == ["hourglass.toml"]


@pytest.mark.parametrize(
    ("params", "words"),
    [
        ({}, "nothing is chosen"),
        ({"part": "everything"}, "nothing is chosen"),
        ({"part": "pages", "paper": "papyrus"}, "unknown paper"),
        ({"part": "pages", "margin": "wide"}, "is not a length"),
        ({"part": "pages", "margin": "200"}, "margin"),
    ],
)
def test_what_cannot_be_made_is_told_in_words(tmp_path, params, words) -> None:
    table = sample(tmp_path)
    answer = table.get("/parcel.zip", params=params)
    assert answer.headers["x-refused"] == "1"
    assert answer.headers["content-type"].startswith("text/plain")
    assert words in answer.text


def test_an_unmeasured_fabric_is_told_in_words(tmp_path) -> None:
    table = sample(tmp_path)
    table.job.write_text(table.text.replace("thickness = 0.2 ", 'thickness = "measure me" '))
    answer = table.get("/parcel.zip", params={"part": "cut"})
    assert answer.headers["x-refused"] == "1"
    assert "thickness" in answer.text


def test_strips_for_swatches_are_those_of_the_command(tmp_path) -> None:
    table = sample(tmp_path)
    answer = table.get("/strips.pdf")
    assert answer.headers["content-type"] == "application/pdf"
    target = tmp_path / "strips.pdf"
    result = CliRunner().invoke(main, ["swatch", "--sheet", str(target)])
    assert result.exit_code == 0
    assert answer.content == target.read_bytes()


def test_a_zip_holds_files_as_they_are_packed_and_may_be_read_by_all() -> None:
    """Each as zlib packs it at its usual level, of one date, and in the order given."""
    words = " ".join(f"{k * k % 7919} of {k % 13}" for k in range(4000)).encode()
    files = {"pages/a.pdf": words, "job.toml": b"[pattern]\n", "b.svg": b""}
    with zipfile.ZipFile(io.BytesIO(zipped(files))) as archive:
        found = [
            (i.filename, i.date_time, i.external_attr >> 16, i.create_system, i.compress_size)
            for i in archive.infolist()
        ]
        assert {name: archive.read(name) for name in archive.namelist()} == files
    sizes = []
    for content in files.values():
        packer = zlib.compressobj(6, zlib.DEFLATED, -15)
        sizes.append(len(packer.compress(content) + packer.flush()))
    assert found == [
        (name, (1980, 1, 1, 0, 0, 0), 0o644, 3, size)
        for name, size in zip(files, sizes, strict=True)
    ]
    other = zlib.compressobj(7, zlib.DEFLATED, -15)
    assert len(other.compress(words) + other.flush()) != sizes[0]
