"""Bad input ends with a message and exit code 2: no traceback, nothing half-written."""

from __future__ import annotations

import os
import tomllib
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.support.drawings import STACK, Draft, half, job_text, panels, path, svg, write_job
from tests.support.terminal import process, refused, run

ONE = Draft("side")
GOOD = panels(half(3))

SVG_FAULTS: dict[str, tuple[str, str]] = {
    "no waistline": (ONE.outline(), "no waistline found"),
    "waistline crosses once": (
        ONE.outline() + path("M60 200H120", "waist"),
        "crosses this outline once, not twice",
    ),
    "waistline crosses four times": (
        path("M40 80H90V220H80V190H70V300H40Z", "side") + path("M30 200H100", "waist"),
        "crosses this outline 4 times, not twice",
    ),
    "self-crossing": (
        path("M40 80L90 300H40L90 80Z", "side") + path("M0 220H130", "waist"),
        "this outline crosses itself at (65.0, 190.0) mm",
    ),
    "two panels of one name": (
        "".join(path(d.data, f"p{k}", 'data-panel="a"') + d.line() for k, d in enumerate(half(2))),
        "two panels have the name 'a': p0 and p1",
    ),
    "pointed top": (
        path("M65 80L90 200V300H40V200Z", "side") + path("M30 230H100", "waist"),
        "comes to a point",
    ),
    "nan in a path": (path("M0 0L10 NaN", "bad") + GOOD, "draft.svg, bad: "),
    "infinity in points": ('<polygon id="bad" points="0,0 inf,1"/>' + GOOD, "draft.svg, bad: "),
    "huge in a path": (path("M0 0L1e400 1", "bad") + GOOD, "too large to be a coordinate"),
    "huge but finite": (path("M0 0L1e9 1", "bad") + GOOD, "beyond 100 m"),
    "nan in a transform": (f'<g id="bad" transform="scale(nan)">{GOOD}</g>', "draft.svg, bad: "),
    "huge scale": (f'<g transform="scale(1e9)">{GOOD}</g>', "beyond 100 m"),
    "nothing drawn": ("", "no waistline found"),
}


def commands(folder: Path) -> list[tuple[str | Path, ...]]:
    return [
        ("check", folder / "draft.svg"),
        ("check", folder / "job.toml"),
        ("new", folder / "draft.svg", "--out", folder / "new.toml"),
        ("cut", folder / "job.toml", "--out", folder / "out"),
    ]


@pytest.mark.parametrize(("body", "words"), SVG_FAULTS.values(), ids=SVG_FAULTS)
def test_fault_in_the_drawing(tmp_path: Path, body: str, words: str) -> None:
    write_job(tmp_path, body)
    for command in commands(tmp_path):
        if command[0] == "new" and words not in UNREADABLE:
            continue
        message = refused(*command, folder=tmp_path)
        assert words in message
        assert "draft.svg" in message


def test_a_gap_is_asked_about_and_nothing_is_cut(tmp_path: Path) -> None:
    write_job(tmp_path, ONE.pieces(3.0) + ONE.line())
    *looks, new, cut = commands(tmp_path)
    for command in (*looks, new):
        told = run(*command)
        assert told.exit_code == 1
        assert "this outline is open: a gap of 3.00 mm at" in told.stdout
        assert "3.01 mm" in told.stdout
    assert '# join_tolerance = "3.01 mm"' in (tmp_path / "new.toml").read_text()
    assert "this outline is open: a gap of 3.00 mm" in refused(*cut, folder=tmp_path)


UNREADABLE = {"draft.svg, bad: ", "too large to be a coordinate", "beyond 100 m"}


@pytest.mark.parametrize(
    ("body", "words"),
    [fault for fault in SVG_FAULTS.values() if fault[1] not in UNREADABLE],
    ids=[name for name, fault in SVG_FAULTS.items() if fault[1] not in UNREADABLE],
)
def test_a_drawing_that_is_no_pattern_has_a_job_file_that_says_so(
    tmp_path: Path, body: str, words: str
) -> None:
    (tmp_path / "draft.svg").write_text(svg(body))
    made = run("new", tmp_path / "draft.svg")
    assert made.exit_code == 1
    assert words in made.stdout
    assert "Traceback" not in made.stderr
    text = (tmp_path / "draft.toml").read_text()
    assert tomllib.loads(text)["pattern"] == {
        "file": "draft.svg",
        "units": "mm",
        "lacing_gap": 0,
    }
    comments = " ".join(line.lstrip("# ") for line in text.splitlines())
    assert words in comments


FILE_FAULTS: dict[str, tuple[bytes, str]] = {
    "empty": (b"", "empty"),
    "blank": (b"  \n ", ""),
    "not XML": (b"hello, I am a text", "XML"),
    "binary": (bytes(range(256)) * 4, "XML"),
    "cut short": (svg(GOOD).encode()[:-30], "XML"),
    "another XML": (b"<html><body/></html>", "svg"),
    "broken zip": (b"\x1f\x8b\x08\x00broken", ""),
    "entity bomb": (
        b'<!DOCTYPE svg [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;&a;">]>'
        b'<svg xmlns="http://www.w3.org/2000/svg"><text>&b;</text></svg>',
        "",
    ),
}


@pytest.mark.parametrize(("content", "words"), FILE_FAULTS.values(), ids=FILE_FAULTS)
def test_file_that_is_no_drawing(tmp_path: Path, content: bytes, words: str) -> None:
    write_job(tmp_path, "")
    (tmp_path / "draft.svg").write_bytes(content)
    for command in commands(tmp_path):
        message = refused(*command, folder=tmp_path)
        assert words in message
        assert "draft.svg" in message


def test_directory_in_place_of_a_drawing(tmp_path: Path) -> None:
    (tmp_path / "draft.svg").mkdir()
    (tmp_path / "job.toml").write_text(job_text())
    for command in commands(tmp_path):
        assert "directory" in refused(*command, folder=tmp_path).lower()
    refused("new", tmp_path, folder=tmp_path)
    refused("check", tmp_path, folder=tmp_path)


@pytest.mark.parametrize("place", ["/", ".", ".."])
def test_directory_without_a_name_in_place_of_a_drawing(tmp_path: Path, place: str) -> None:
    refused("new", place, folder=tmp_path)


def test_absent_drawing(tmp_path: Path) -> None:
    (tmp_path / "job.toml").write_text(job_text())
    for command in commands(tmp_path):
        assert "no such file" in refused(*command, folder=tmp_path)


def test_drawing_with_a_null_character_in_its_path(tmp_path: Path) -> None:
    (tmp_path / "job.toml").write_text(job_text("a\\u0000b.svg"))
    refused("cut", tmp_path / "job.toml", "--out", tmp_path / "out", folder=tmp_path)


def stack_of(**keys: str) -> str:
    own = {"name": '"lining"', "thickness": "0.2", **keys}
    return "[[stack.fabric]]\n" + "".join(f"{k} = {v}\n" for k, v in own.items() if v)


JOB_FAULTS: dict[str, tuple[dict[str, str], str]] = {
    "missing thickness": (
        {"stack": stack_of(thickness="")},
        "stack.fabric[1] (lining).thickness: is required",
    ),
    "negative thickness": (
        {"stack": stack_of(thickness="-0.3")},
        "stack.fabric[1] (lining).thickness: must be at least 0",
    ),
    "thickness not filled in": (
        {"stack": stack_of(thickness='"measure me"')},
        "stack.fabric[1] (lining).thickness: 'measure me' is not a length",
    ),
    "thickness nan": ({"stack": stack_of(thickness="nan")}, "thickness: must be a finite length"),
    "thickness inf": ({"stack": stack_of(thickness="inf")}, "thickness: must be a finite length"),
    "thickness 1e400": (
        {"stack": stack_of(thickness="1e400")},
        "thickness: must be a finite length",
    ),
    "huge whole number": (
        {"head": "lacing_gap = 1" + "0" * 400},
        "pattern.lacing_gap: must be a finite length",
    ),
    "unknown layer": (
        {"stack": '[stack]\ndrafted_layer = "linen"\n' + STACK},
        "Layers: lining, coutille, brocade.",
    ),
    "unknown class": (
        {"rest": '[panel."panel 1"]\nclass = "belly"'},
        "'belly' is not one of 'front', 'side' or 'back'",
    ),
    "unknown panel": (
        {"rest": '[panel."panel 9"]\nclass = "side"'},
        "Panels here: panel 1, panel 2, panel 3.",
    ),
    "unknown panel of a fabric": (
        {"stack": STACK + 'panels = ["x"]'},
        "stack.fabric (brocade).panels: the pattern has no panel 'x'",
    ),
    "unknown level": (
        {"rest": "[body]\ngirths = { knee = 400 }"},
        "body.girths.knee: no such level",
    ),
    "unknown key": ({"head": "drafted_wast = 3"}, "did you mean drafted_waist?"),
    "unknown panel in joins": (
        {"rest": '[panel."panel 1"]\njoins = "x"'},
        "joins names panel 'x', which the pattern has not",
    ),
    "unknown waistline": ({"head": 'waistlines = ["x"]'}, "waistline 'x' is not in the drawing"),
    "order incomplete": ({"head": 'order = ["panel 1"]'}, "not in the order: panel 2, panel 3"),
    "layers of one name": (
        {"stack": stack_of() + stack_of()},
        "two fabrics have the name 'lining'",
    ),
}


@pytest.mark.parametrize(("parts", "words"), JOB_FAULTS.values(), ids=JOB_FAULTS)
def test_fault_in_the_job(tmp_path: Path, parts: dict[str, str], words: str) -> None:
    job = write_job(tmp_path, GOOD, **parts)
    for command in (("check", job), ("cut", job, "--out", tmp_path / "out")):
        message = refused(*command, folder=tmp_path)
        assert words in message
        assert "job.toml" in message or "draft.svg" in message


def test_what_cannot_be_made_of_a_job_names_the_job(tmp_path: Path) -> None:
    job = write_job(tmp_path, GOOD, rest="[extras]\nback_facing = 60")
    message = refused("cut", job, "--out", tmp_path / "out", folder=tmp_path)
    assert "job.toml, extras.back_facing: the facing along the back edge" in message


def test_wrong_scale_fails_the_cut_and_is_a_fault_of_the_check(tmp_path: Path) -> None:
    # The waist is 2 (40 + 44 + 48) = 264 mm; drafted at 72 px to the inch and read at 96.
    job = write_job(tmp_path, GOOD, head="drafted_waist = 352")
    message = refused("cut", job, "--out", tmp_path / "out", folder=tmp_path)
    assert "which looks like 72/96: the drawing has 72 px to the inch" in message
    assert "pattern.scale = 1.33333" in message


JOB_FILES: dict[str, Callable[[Path], object]] = {
    "directory": Path.mkdir,
    "absent": lambda file: None,
    "not TOML": lambda file: file.write_text("= ="),
    "binary": lambda file: file.write_bytes(bytes(range(256))),
    "too large": lambda file: file.write_bytes(b"#" * 1_000_001),
    "empty": lambda file: file.write_bytes(b""),
    "a drawing": lambda file: file.write_text(svg(GOOD)),
}


@pytest.mark.parametrize("make", JOB_FILES.values(), ids=JOB_FILES)
def test_file_that_is_no_job(tmp_path: Path, make: Callable[[Path], object]) -> None:
    job = tmp_path / "job.toml"
    make(job)
    for command in (("check", job), ("cut", job, "--out", tmp_path / "out")):
        assert str(job) in refused(*command, folder=tmp_path)


# -- output that cannot be written --------------------------------------------------------


def test_file_where_the_directory_should_be(tmp_path: Path) -> None:
    job = write_job(tmp_path, GOOD)
    (tmp_path / "out").write_bytes(b"mine")
    message = refused("cut", job, "--out", tmp_path / "out", folder=tmp_path)
    assert "is a file, not a directory" in message


@pytest.mark.parametrize(
    "place",
    ["plain/sub", "n" * 300, "/proc/panelshift", "/dev/null/x"],
    ids=["below a file", "name too long", "proc", "below a device"],
)
@pytest.mark.skipif(os.name != "posix", reason="paths of POSIX systems")
def test_unwritable_directory(tmp_path: Path, place: str) -> None:
    job = write_job(tmp_path, GOOD)
    (tmp_path / "plain").write_bytes(b"")
    refused("cut", job, "--out", tmp_path / place, folder=tmp_path)
    refused("new", tmp_path / "draft.svg", "--out", tmp_path / place / "new.toml", folder=tmp_path)


def test_directory_where_a_cutting_file_should_be(tmp_path: Path) -> None:
    job = write_job(tmp_path, GOOD)
    (tmp_path / "out" / "layer-3-brocade.svg").mkdir(parents=True)
    message = refused("cut", job, "--out", tmp_path / "out", folder=tmp_path)
    assert "layer-3-brocade.svg" in message


def test_new_job_file_that_is_a_directory(tmp_path: Path) -> None:
    write_job(tmp_path, GOOD)
    (tmp_path / "new.toml").mkdir()
    for extra in ((), ("--overwrite",)):
        refused(
            "new", tmp_path / "draft.svg", "--out", tmp_path / "new.toml", *extra, folder=tmp_path
        )


def test_disk_that_is_full_leaves_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def full_disk(_: int) -> None:
        raise OSError(28, "No space left on device")

    job = write_job(tmp_path, GOOD)
    monkeypatch.setattr(os, "fsync", full_disk)
    message = refused("cut", job, "--out", tmp_path / "out", folder=tmp_path)
    assert "No space left on device" in message


# -- the same from outside ----------------------------------------------------------------


@pytest.mark.slow
def test_process_ends_with_2_and_prints_no_traceback(tmp_path: Path) -> None:
    write_job(tmp_path, ONE.outline())
    result = process("cut", tmp_path / "job.toml", "--out", tmp_path / "out")
    assert result.returncode == 2
    assert result.stdout == ""
    assert result.stderr.startswith("panelshift: ")
    assert "no waistline found" in result.stderr
    assert "Traceback" not in result.stderr


@pytest.mark.slow
@pytest.mark.skipif(os.name != "posix", reason="file names of POSIX systems")
def test_file_name_that_is_no_text_is_no_traceback(tmp_path: Path) -> None:
    odd = os.fsdecode(os.fsencode(tmp_path) + b"/dr\xff.svg")
    Path(odd).write_text(svg(GOOD))
    assert run("check", odd).exit_code == 0
    # In a process of its own, whose standard output is what it is for a maker.
    made = process("new", odd, "--out", tmp_path / "new.toml")
    assert made.returncode == 2
    assert "Traceback" not in made.stderr
    assert "What to do: " in made.stderr
    assert not (tmp_path / "new.toml").exists()
