"""Layers beside the draft in its own document, and the extension of a drawing program."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from lxml import etree

from panelshift.cli.extension import panelshift_layers as script
from panelshift.job import read_job
from panelshift.job.drafted import read_pattern
from panelshift.sources.svg import read_svg
from tests.support.drawings import half, panels, svg, write_job
from tests.support.pdfs import made, stroked
from tests.support.terminal import answered, refused, run

GOOD = panels(half(3))
SAMPLES = Path(__file__).parents[2] / "sample_patterns"


def groups(document: Path) -> list[etree._Element]:
    return [g for g in etree.parse(document).getroot() if g.get("data-panelshift") == "layer"]


def without_mark(document: Path) -> bytes:
    """The document as a program that knows nothing of the mark shows it."""
    return document.read_bytes().replace(b"data-panelshift", b"data-other")


def reached(document: bytes, prefix: str) -> np.ndarray:
    """Low and high corner in mm of every cut line of one layer."""
    shapes = [s for s in read_svg(document).shapes if s.ident.startswith(prefix)]
    boxes = np.array([shape.curve.bounds() for shape in shapes])
    return np.array([boxes[:, 0].min(axis=0), boxes[:, 1].max(axis=0)])


PAGES = {
    "mm": ('width="400mm" height="400mm" viewBox="0 0 400 400"', 1.0, 1.0),
    "other user units": ('width="400mm" height="400mm" viewBox="-10 -20 800 800"', 2.0, 1.0),
    "px": ('width="2000" height="2000"', 96 / 25.4, 1.0),
    "px that are points": ('width="2000" height="2000"', 72 / 25.4, 96 / 72),
}
"""What a page says, its user units to a mm of the pattern, and the job's scale."""


@pytest.mark.parametrize(
    ("page", "units", "scale"),
    [
        pytest.param(*case, id=name, marks=pytest.mark.slow if name in ("mm", "px") else ())
        for name, case in PAGES.items()
    ],
)
@pytest.mark.slow
def test_layers_are_in_true_size_beside_the_draft(
    page: str, units: float, scale: float, tmp_path: Path
) -> None:
    job = write_job(tmp_path, GOOD, head=f'title = "t"\nscale = {scale}')
    (tmp_path / "draft.svg").write_text(
        f'<svg xmlns="http://www.w3.org/2000/svg" {page}><!-- mine -->'
        f"<g transform='scale({units})'>{GOOD}</g></svg>"
    )
    before = read_pattern(read_job(job))
    answered("layers", job, tmp_path / "all.svg")
    answered("cut", job, "--out", tmp_path / "cut")
    drawn = tmp_path / "all.svg"
    assert b"<!-- mine -->" in drawn.read_bytes()
    assert [g.get("aria-label") for g in groups(drawn)] == [
        path.stem for path in sorted((tmp_path / "cut").glob("layer*.svg"))
    ]
    # What a ruler would read on the drawing: in px, where these are points, 96/72 of it.
    rule = 1.0 if "mm" in page else scale
    far = reached((tmp_path / "draft.svg").read_bytes(), "panel")[1, 0]
    for group in groups(drawn):
        alone = reached((tmp_path / f"cut/{group.get('aria-label')}.svg").read_bytes(), "cut-")
        found = reached(without_mark(drawn), f"{group.get('id')}-cut-")
        assert found[1] - found[0] == pytest.approx((alone[1] - alone[0]) / rule, abs=2e-3)
        assert found[0, 0] > far
        far = found[1, 0]
    # Read again it is the draft; drawn again, the same document.
    data = job.read_text().replace("draft.svg", "all.svg")
    (tmp_path / "again.toml").write_text(data)
    again = read_pattern(read_job(tmp_path / "again.toml"))
    assert [p.outline for p in again.panels] == [p.outline for p in before.panels]
    assert sum("panelshift drew it" in gone.reason for gone in again.left_out) == len(groups(drawn))
    answered("layers", tmp_path / "again.toml", tmp_path / "twice.svg")
    assert (tmp_path / "twice.svg").read_bytes() == drawn.read_bytes()


@pytest.mark.slow
def test_the_open_drawing_stands_for_the_file_and_is_never_replaced(tmp_path: Path) -> None:
    job = write_job(tmp_path, GOOD)
    wider = svg(GOOD.replace("data-none", "")).encode()
    (tmp_path / "draft.svg").unlink()
    piped = run("layers", job, "-", "--drawing", "-", given=wider)
    assert piped.exit_code == 0, piped.output
    assert piped.stdout_bytes.startswith(b"<?xml")
    assert "4 layers" in piped.stderr or "3 layers" in piped.stderr
    (tmp_path / "open.svg").write_bytes(wider)
    again = run("layers", job, tmp_path / "open.svg", "--drawing", tmp_path / "open.svg")
    assert again.exit_code == 2
    assert "would replace the file it is made from" in again.stderr
    pages = answered("tile", job, "--drawing", tmp_path / "open.svg", "--out", tmp_path / "pages")
    assert pages["data"]["prints"]
    message = refused("layers", job, tmp_path / "x.svg", folder=tmp_path)
    assert "draft.svg: cannot read" in message
    assert (
        "need a job file"
        in run("tile", tmp_path / "open.svg", "--drawing", "-", "--out", tmp_path / "p").stderr
    )


def test_a_draft_that_is_no_svg_becomes_one(tmp_path: Path) -> None:
    drawing = read_svg(svg(GOOD).encode())
    lines = " ".join(stroked(shape.curve, 400.0) for shape in drawing.shapes)
    (tmp_path / "draft.pdf").write_bytes(made([lines], (400.0, 400.0)))
    text = write_job(tmp_path, GOOD).read_text().replace("draft.svg", "draft.pdf")
    (tmp_path / "pdf.toml").write_text(f"{text}\n")
    answered("layers", tmp_path / "pdf.toml", tmp_path / "all.svg")
    assert len(groups(tmp_path / "all.svg")) == 3
    assert answered("check", tmp_path / "all.svg")["data"]["waist"] == pytest.approx(264, abs=0.02)


# -- the extension ------------------------------------------------------------------------


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    for name in ("hourglass.svg", "hourglass.toml"):
        shutil.copy(SAMPLES / name, tmp_path)
    found = answered("extension", tmp_path / "extensions")
    assert [Path(file).suffix for file in found["files"]] == [".inx", ".py", ".json"]
    return tmp_path


def test_a_job_file_that_is_none_leaves_it_to_the_drawing_s_own(tmp_path: Path) -> None:
    own, given = tmp_path / "draft.toml", tmp_path / "other.toml"
    own.touch()
    given.touch()
    drawing = str(tmp_path / "draft.svg")
    assert script.job_of(str(given), drawing) == given
    for none in ("", str(tmp_path / "nowhere.toml"), str(tmp_path)):
        assert script.job_of(none, drawing) == own


def test_what_the_dialog_asks_the_script_takes(folder: Path) -> None:
    inx = etree.parse(folder / "extensions/panelshift_layers.inx").getroot()
    space = "{http://www.inkscape.org/namespace/inkscape/extension}"
    source = (folder / "extensions/panelshift_layers.py").read_text()
    command = json.loads((folder / "extensions/panelshift_layers.json").read_text())
    assert command[:2] == [sys.executable, "-P"]
    # This very panelshift.
    assert f"sys.path.insert(0, {str(SAMPLES.parent)!r})" in command[-1]
    for param in inx.iter(f"{space}param"):
        assert f'("{param.get("name")}", ' in source
    named = {e.text for kind in ("dependency", "command") for e in inx.iter(f"{space}{kind}")}
    assert named == {"panelshift_layers.py", "panelshift_layers.json"}
    papers = [option.get("value") for option in inx.iter(f"{space}option")]
    from panelshift.printing import parse_paper

    assert [parse_paper(paper).name.lower() for paper in papers] == papers


def effect(folder: Path, *arguments: str, drawing: str = "hourglass.svg") -> tuple[bytes, str, int]:
    """Run the script as the drawing program does."""
    done = subprocess.run(
        [sys.executable, folder / "extensions/panelshift_layers.py", "--id=path1", *arguments]
        + [str(folder / "hourglass.svg")],
        capture_output=True,
        # The program puts its own modules before all others.
        env={**os.environ, "DOCUMENT_PATH": drawing and str(folder / drawing)},
        check=False,
    )
    return done.stdout, done.stderr.decode(), done.returncode


@pytest.mark.slow
def test_the_script_as_a_filter(folder: Path) -> None:
    drawn, told, code = effect(folder, "--pages=true", "--paper=letter")
    assert (told, code) == ("", 0)
    answered("layers", folder / "hourglass.toml", folder / "all.svg")
    assert drawn == (folder / "all.svg").read_bytes()
    assert list((folder / "pages").glob("*.pdf"))
    # A job that names another drawing is no job of this one, though it be the only one there.
    nothing, told, code = effect(folder, drawing="other.svg")
    assert (nothing, code) == (b"", 1)
    assert "no job file of it lies beside the drawing" in told
    (folder / "hourglass.toml").rename(folder / "summer.toml")
    assert effect(folder)[0] == drawn
    shutil.copy(folder / "summer.toml", folder / "b.toml")
    nothing, told, code = effect(folder)
    assert (nothing, code) == (b"", 1)
    assert "several job files of it lie beside the drawing" in told
    assert effect(folder, f"--job={folder / 'b.toml'}", drawing="")[0] == drawn
    (folder / "b.toml").write_text("[pattern]\n")
    nothing, told, code = effect(folder, f"--job={folder / 'b.toml'}")
    assert (nothing, code) == (b"", 1)
    assert "pattern.file: is required" in told
    assert "What to do:" in told


def test_what_the_script_asks_and_hands_on(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capfdbinary: pytest.CaptureFixture[bytes]
) -> None:
    asked: list[list[str]] = []
    told: dict[str, object] = {"error": None, "look_at": [{"words": "the page is small"}]}

    def ran(
        command: list[str], *, capture_output: bool, env: dict[str, str], check: bool
    ) -> object:
        assert (capture_output, check) == (True, False)
        assert not [name for name in env if name.startswith("PYTHON")]
        assert env["DOCUMENT_PATH"]
        asked.append(command)
        both = [b"drawn", json.dumps(told).encode() if told else b"no such command"]
        return subprocess.CompletedProcess(command, 0, *(both if "-" in command else both[::-1]))

    own = tmp_path / "panelshift_layers.py"
    own.with_suffix(".json").write_text('["python", "-m", "panelshift"]')
    job = tmp_path / "draft.toml"
    job.touch()
    monkeypatch.setattr(script, "__file__", str(own))
    monkeypatch.setattr(script.subprocess, "run", ran)
    monkeypatch.setenv("DOCUMENT_PATH", str(tmp_path / "draft.svg"))
    monkeypatch.setenv("PYTHONHOME", "the program's own")

    def effect_of(*arguments: str) -> tuple[bytes, bytes]:
        asked.clear()
        monkeypatch.setattr(sys, "argv", ["script", "--id=path1", *arguments, "open.svg"])
        script.main()
        sys.stdout.flush()
        out, err = capfdbinary.readouterr()
        return out, err

    start, end = ["python", "-m", "panelshift"], ["--drawing", "open.svg", "--json"]
    layers = [*start, "layers", str(job), "-", *end]
    assert effect_of() == (b"drawn", b"Look at: the page is small\n")
    assert asked == [layers]
    drawn, words = effect_of("--pages=true", "--paper=a3")
    assert (drawn, words.count(b"the page is small")) == (b"drawn", 2)
    pages = ["tile", str(job), "--out", str(tmp_path / "pages"), "--paper", "a3"]
    assert asked == [layers, [*start, *pages, *end]]
    effect_of("--pages=true")
    assert asked[1][-4] == "a4"
    told["error"] = {"source": "j.toml", "element": "", "problem": "is empty", "remedy": "Fill it."}
    for words in ("j.toml: is empty\nWhat to do: Fill it.", "no such command"):
        with pytest.raises(SystemExit) as caught:
            effect_of()
        assert caught.value.code == words
        told.clear()


def test_where_the_job_is_looked_for(tmp_path: Path) -> None:
    with pytest.raises(SystemExit, match="Save the drawing first"):
        script.job_of("", "")
    with pytest.raises(SystemExit, match="no job file of it lies beside the drawing"):
        script.job_of("", str(tmp_path / "a.svg"))
    for name in ("a.toml", "b.toml"):
        (tmp_path / name).touch()
    assert script.job_of("", str(tmp_path / "a.svg")) == tmp_path / "a.toml"
    assert script.job_of(str(tmp_path / "b.toml"), "") == tmp_path / "b.toml"


@pytest.mark.slow
@pytest.mark.skipif(
    not (shutil.which("inkscape") and shutil.which("xvfb-run")), reason="no Inkscape, or no Xvfb"
)
def test_inside_the_drawing_program(folder: Path) -> None:
    """The program itself reads the descriptor, runs the script, and saves what comes back."""
    actions = f"panelshift.layers.noprefs;export-filename:{folder / 'saved.svg'};export-do"
    program = ["inkscape", "--batch-process", f"--actions={actions}", str(folder / "hourglass.svg")]
    profile = {"INKSCAPE_PROFILE_DIR": str(folder), "HOME": str(folder)}
    subprocess.run(
        ["xvfb-run", "-a", *program],
        env={**os.environ, **profile},
        check=True,
        capture_output=True,
        timeout=120,
    )
    assert len(groups(folder / "saved.svg")) == 4
    own, saved = (
        answered("check", folder / name)["data"]["panels"]
        for name in ("hourglass.svg", "saved.svg")
    )
    assert [panel["edges"] for panel in saved] == [panel["edges"] for panel in own]
    answered("layers", folder / "hourglass.toml", folder / "all.svg")
    for group in groups(folder / "all.svg"):
        prefix = f"{group.get('id')}-cut-"
        sizes = [
            np.diff(reached(without_mark(folder / name), prefix), axis=0)
            for name in ("all.svg", "saved.svg")
        ]
        assert sizes[0] == pytest.approx(sizes[1], abs=1e-3)
