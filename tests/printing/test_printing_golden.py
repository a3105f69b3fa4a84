"""Printed pages of one small job, of cards and of strips, as another program sees them.

When they are meant to change, look at the new ones and then refresh them:

    PANELSHIFT_REFRESH_GOLDEN=1 pytest tests/printing/test_printing_golden.py
"""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.support.golden import changes, golden_job
from tests.support.seen_pages import seen_on
from tests.support.terminal import run

TILE = ["tile", "job.toml"]


@pytest.mark.parametrize(
    ("name", "command"),
    [
        ("pages-glued.txt", [*TILE, "--paper", "150x200", "--layers", "coutille"]),
        ("pages-nested.txt", [*TILE, "--nested", "--paper", "roll:914", "--margin", "5"]),
        ("pages-projector.txt", [*TILE, "--projector", "dark", "--layers", "lining,brocade"]),
        ("pages-one-file.txt", [*TILE, "--one-file", "--share", "--paper", "150x200", "--strip"]),
        ("pages-spread.txt", [*TILE, "--spread", "10", "--keep-together", "--paper", "letter"]),
        ("pages-cards.txt", ["cards"]),
        ("pages-swatch-flat.txt", ["swatch", "--formers", "60,100"]),
        ("pages-swatch-bones.txt", ["swatch", "--strips", "bones", "--formers", "80"]),
        ("pages-swatch-pieces.txt", ["swatch", "--strips", "pieces"]),
    ],
)
def test_another_program_sees_the_golden_pages(
    name: str, command: list[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    golden_job(tmp_path)
    monkeypatch.chdir(tmp_path)
    out = ["--sheet", "out/strips.pdf"] if "swatch" in command else ["--out", "out"]
    (tmp_path / "out").mkdir()
    done = run(*command, *out)
    assert done.exit_code == 0, done.output
    files = sorted(Path("out").glob("*.pdf"))
    found = "\n".join(f"{file.name}\n{seen_on(file.read_bytes())}" for file in files)
    assert changes(name, found) == []
