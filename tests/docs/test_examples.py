"""Everything on the pages that can be run: Python, commands, example scripts and figures.

When output or figures are meant to change, look at the difference and then refresh them:

    PANELSHIFT_REFRESH_GOLDEN=1 pytest tests/docs/test_examples.py
"""

from __future__ import annotations

import contextlib
import io
import os
import shlex
import shutil
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from panelshift.cli import main
from tests.docs.doc_pages import DOCS, ROOT, Block, blocks, commands, is_shortened, printed_by

REFRESH = os.environ.get("PANELSHIFT_REFRESH_GOLDEN") == "1"
SCRIPTS = sorted((DOCS / "examples").glob("*.py"))
WITH_PYTHON = [
    ROOT / "README.md",
    *(page for page in sorted(DOCS.rglob("*.md")) if printed_by(page)),
]
LONG = {"batch.md", "getting-started-scripts.md"}
WITH_COMMANDS = [DOCS / "getting-started-makers.md"]


@pytest.fixture
def copy(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A working directory that looks like a copy of the repository to a page's reader."""
    shutil.copytree(ROOT / "sample_patterns", tmp_path / "sample_patterns")
    monkeypatch.chdir(tmp_path)
    return tmp_path


@pytest.mark.parametrize(
    "page",
    [
        # Their batches take longer than all else on the pages.
        pytest.param(page, marks=pytest.mark.slow if page.name in LONG else ())
        for page in WITH_PYTHON
    ],
    ids=lambda page: page.name,
)
def test_python_on_a_page_runs_and_prints_what_stands_there(page: Path, copy: Path) -> None:
    namespace: dict[str, Any] = {"__name__": "page"}
    answers: list[tuple[Block, str]] = []
    for block, shown in printed_by(page):
        if "distributed" in block.text:
            pytest.importorskip("distributed", reason="dask is not installed: panelshift[dask]")
        out = io.StringIO()
        with contextlib.redirect_stdout(out):
            exec(compile(block.text, f"{page.name}, line {block.line}", "exec"), namespace)
        if shown is not None:
            answers.append((shown, out.getvalue()))
    if REFRESH:
        _replace(page, answers)
        return
    for shown, printed in answers:
        assert printed == shown.text, f"{page.name}, line {shown.line}"


def _replace(page: Path, answers: list[tuple[Block, str]]) -> None:
    text = page.read_text(encoding="utf-8")
    for shown, printed in reversed(answers):
        text = text[: shown.start] + printed + text[shown.end :]
    page.write_text(text, encoding="utf-8")


@pytest.mark.parametrize("page", WITH_COMMANDS, ids=lambda page: page.name)
@pytest.mark.slow
def test_commands_on_a_page_print_what_stands_there(page: Path, copy: Path) -> None:
    ran = 0
    for block in blocks(page):
        if block.note == "file":
            (copy / block.value).write_text(block.text, encoding="utf-8")
        for command, shown in commands(block) if block.language == "console" else ():
            program, *arguments = shlex.split(command)
            assert program == "panelshift"
            printed = CliRunner().invoke(main, arguments).output
            assert is_shortened(printed, shown), f"line {block.line}, {command}:\n{printed}"
            ran += 1
    assert ran >= 8


def test_a_shortened_output_must_keep_its_lines() -> None:
    printed = "one\ntwo\nthree\nfour\n"
    assert is_shortened(printed, "one\n[...]\nfour\n")
    assert is_shortened(printed, "[...]\nthree\n[...]\n")
    for wrong in ("one\nthree\n[...]\n", "one\n[...]\nfive\n", "[...]\nthree\n", "one\ntwo\n"):
        assert not is_shortened(printed, wrong)


@pytest.mark.slow
@pytest.mark.parametrize(
    "script",
    [
        pytest.param(script, marks=pytest.mark.slow if script.stem == "size_range" else ())
        for script in SCRIPTS
    ],
    ids=lambda script: script.stem,
)
def test_example_script_prints_its_stored_output(script: Path, tmp_path: Path) -> None:
    done = subprocess.run(
        [sys.executable, str(script), "out"],
        capture_output=True,
        text=True,
        cwd=tmp_path,
        check=False,
        timeout=120,
    )
    assert done.returncode == 0, done.stderr
    assert done.stderr == ""
    stored = script.with_suffix(".txt")
    if REFRESH:
        stored.write_text(done.stdout, encoding="utf-8")
    assert done.stdout == stored.read_text(encoding="utf-8")
    page = script.with_suffix(".md").read_text(encoding="utf-8")
    assert f"{script.name}" in page
    assert f"{stored.name}" in page


def test_there_are_three_examples() -> None:
    assert [script.stem for script in SCRIPTS] == [
        "compare_stacks",
        "parametric_block",
        "size_range",
    ]


@pytest.mark.slow
def test_figures_are_those_that_the_code_draws_now(tmp_path: Path) -> None:
    maker = DOCS / "figures" / "make_figures.py"
    folder = maker.parent if REFRESH else tmp_path
    done = subprocess.run(
        [sys.executable, str(maker), str(folder)], capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    drawn = sorted(path.name for path in folder.glob("*.svg"))
    assert drawn == sorted(path.name for path in maker.parent.glob("*.svg"))
    stale = [
        name for name in drawn if (folder / name).read_bytes() != (maker.parent / name).read_bytes()
    ]
    assert stale == [], "refresh the figures: see the head of this file"
