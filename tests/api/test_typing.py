"""The library in a user's hands: a script of theirs, run and type-checked outside the source."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

import panelshift as ps

pytestmark = pytest.mark.slow

SCRIPT = Path(__file__).with_name("user_script.py")


@pytest.fixture(scope="module")
def desk(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A user's folder: the script, and nothing of the source tree."""
    folder = tmp_path_factory.mktemp("desk")
    shutil.copy(SCRIPT, folder)
    return folder


def python(folder: Path, *arguments: str, path: str = "") -> subprocess.CompletedProcess[str]:
    env = {key: value for key, value in os.environ.items() if key != "PYTHONPATH"}
    if path:
        env["PYTHONPATH"] = path
    return subprocess.run(
        [sys.executable, *arguments],
        cwd=folder,
        env=env,
        capture_output=True,
        text=True,
        timeout=300,
        check=False,
    )


@pytest.fixture(scope="module")
def done(desk: Path) -> subprocess.CompletedProcess[str]:
    """The script, run for its files and what it prints."""
    return python(desk, "-W", "error", SCRIPT.name, ".")


@pytest.fixture(scope="module")
def checked(desk: Path) -> subprocess.CompletedProcess[str]:
    """``mypy --strict`` on the user's script and on one that makes mistakes."""
    (desk / "wrong.py").write_text(WRONG, "utf-8")
    # An editable install is found by an import hook, which no type checker runs: so its place
    # is named. For an ordinary install this names the place where it is looked for anyway.
    found = python(desk, "-c", "import panelshift; print(panelshift.__file__)").stdout.strip()
    home = str(Path(found).parent.parent)
    options = ("--strict", "--no-color-output", "--no-error-summary", "--cache-dir", "cache")
    return python(desk, "-m", "mypy", *options, "user_script.py", "wrong.py", path=home)


WRONG = """
import panelshift as ps

ps.Fabric("silk", "0.3")
ps.read_patern("draft.svg")
edge = ps.read_pattern("draft.svg").panels[0].edge("left")
width: str = ps.Allowances().of("seam")
ps.Fabric("silk", 0.3).thickness = 0.4
"""


def test_the_script_runs_and_its_figures_are_right(
    done: subprocess.CompletedProcess[str],
) -> None:
    assert done.returncode == 0, done.stderr
    assert done.stderr == ""
    found = re.search(r"draft ([\d.]+) mm, silk ([\d.]+) mm.*\n.*silk: (.*) mm\n", done.stdout)
    assert found, done.stdout
    draft, silk = float(found[1]), float(found[2])
    assert draft == pytest.approx(2 * (56 + 48 + 52))
    growth = [float(text) for text in found[3].split(", ")]
    assert silk - draft == pytest.approx(2.0 * sum(growth), abs=0.005)
    # Steiner's formula for a body of this girth, with what the lacing gap takes of it: the
    # middle of the silk lies half of both thicknesses outside that of the coutille.
    assert 0.0 < 2.0 * np.pi * 0.375 - (silk - draft) < 2.0 * np.pi * 0.375 * 0.2
    assert "seams differ by 0.000 mm" in done.stdout
    assert "ann: done, 5 files\nbo: done, 5 files\n" in done.stdout


@pytest.mark.usefixtures("done")
def test_what_the_script_wrote_can_be_read_again(desk: Path) -> None:
    pattern = ps.read_pattern(desk / "draft.svg")
    assert [panel.name for panel in pattern.panels] == ["1 front", "2 side", "3 back"]
    assert pattern.waist == pytest.approx(312.0)
    assert (
        sorted(path.name for path in desk.glob("cut/*/layer-3-silk.svg"))
        == ["layer-3-silk.svg"] * 2
    )


def test_the_script_is_clean_under_strict(checked: subprocess.CompletedProcess[str]) -> None:
    assert [line for line in checked.stdout.splitlines() if "user_script" in line] == []
    assert checked.stderr == ""


@pytest.mark.parametrize(
    ("line", "words"),
    [
        (4, r'incompatible type "str"; expected "float"'),
        (5, r'has no attribute "read_patern"'),
        (6, r"Literal\['left'\]"),
        (7, r"Incompatible types in assignment"),
        (8, r"read-only"),
    ],
)
def test_wrong_use_is_reported(
    checked: subprocess.CompletedProcess[str], line: int, words: str
) -> None:
    """Which also shows that the types are found at all: without py.typed all would be Any."""
    reports = [text for text in checked.stdout.splitlines() if f"wrong.py:{line}:" in text]
    assert any(re.search(words, text) for text in reports), checked.stdout
