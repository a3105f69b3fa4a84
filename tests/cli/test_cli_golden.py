"""What commands say of one small job and of readings, as it was looked over.

When it is meant to change, look at the new words and then refresh them:

    PANELSHIFT_REFRESH_GOLDEN=1 pytest tests/cli/test_cli_golden.py
"""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.support.golden import changes, golden_job
from tests.support.terminal import run

READINGS = [
    part for text in ("80,200,5.5", "60,180,6.7", "100,200,4.4") for part in ("--reading", text)
]
CLOTH = ["--inner", "coutille", "--outer", "brocade", "--inner-thickness", "0.5"]


@pytest.mark.parametrize("name", ["swatch.txt", "swatch.json"])
def test_the_words_on_readings_are_the_golden_ones(name: str) -> None:
    more = ["--json"] if name.endswith("json") else []
    told = run("swatch", *CLOTH, *READINGS, *more)
    assert changes(name, told.stdout) == []


def test_the_words_on_readings_against_a_job_are_the_golden_ones(tmp_path: Path) -> None:
    job = golden_job(tmp_path)
    # Of lining to brocade coutille lies between them; a short strip tells what pinning does.
    stated = job.read_text(encoding="utf-8")
    known = stated.replace("thickness = 0.", "thickness_uncertainty = 0.02\nthickness = 0.")
    told = []
    for text in (stated, known):
        job.write_text(text, encoding="utf-8")
        short = ["--reading", "80,90,2.9"]
        for inner in ("lining", "coutille"):
            layers = ["--inner", inner, "--outer", "brocade", "--job", str(job)]
            told.append(run("swatch", *layers, *READINGS, *short).stdout)
    assert changes("swatch-job.txt", "\n".join(told)) == []


@pytest.mark.parametrize(
    ("name", "command"),
    [
        ("check.txt", ["check", "job.toml"]),
        ("cut.txt", ["cut", "job.toml", "--out", "cut"]),
        ("tile.txt", ["tile", "job.toml", "--out", "tile"]),
        ("fit.txt", ["fit", "job.toml", "--out", "fit"]),
        ("cut.json", ["cut", "job.toml", "--out", "cut", "--json"]),
    ],
)
def test_the_words_on_a_job_are_the_golden_ones(
    name: str, command: list[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert golden_job(tmp_path).name == "job.toml"
    monkeypatch.chdir(tmp_path)
    assert changes(name, run(*command).stdout.replace(str(tmp_path), "FOLDER")) == []
