"""The samples are what their script draws, and a maker can start from them."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest

from tests.support.runs import SAMPLES
from tests.support.terminal import listing, run

NAMES = ["hourglass", "fuller_figure"]
FILES = sorted(f"{name}.{kind}" for name in NAMES for kind in ("svg", "toml"))


def test_script_makes_the_committed_files_byte_for_byte(tmp_path: Path) -> None:
    subprocess.run(
        [sys.executable, str(SAMPLES / "make_samples.py"), str(tmp_path)], check=True, timeout=60
    )
    assert listing(tmp_path) == {name: (SAMPLES / name).read_bytes() for name in FILES}


@pytest.mark.parametrize("name", NAMES)
def test_sample_checks_clean(name: str) -> None:
    result = run("check", SAMPLES / f"{name}.toml", "--json")
    data = json.loads(result.stdout)
    assert result.exit_code == 0
    assert data["faults"] == data["warnings"] == []
    assert data["waist"] == pytest.approx(data["drafted_waist"], rel=0.005)
    assert len(data["panels"]) == {"hourglass": 6, "fuller_figure": 7}[name]
    assert all(len(panel["levels"]) >= 3 for panel in data["panels"])
    assert all(abs(seam["difference"]) < 0.5 for seam in data["seams"])


@pytest.mark.parametrize("name", NAMES)
def test_what_a_sample_leaves_out_is_sheet_furniture_only(name: str) -> None:
    data = json.loads(run("check", SAMPLES / f"{name}.toml", "--json").stdout)
    assert {item["reason"] for item in data["left_out"]} == {
        "text outside every panel",
        "named as a sheet mark; not part of a net panel",
    }


@pytest.mark.parametrize("name", NAMES)
def test_sample_is_cut_without_a_warning(name: str, tmp_path: Path) -> None:
    result = run("cut", SAMPLES / f"{name}.toml", "--out", tmp_path)
    assert result.exit_code == 0
    assert "Look at" not in result.stdout
    assert "overlay.svg" in listing(tmp_path)
    assert len(listing(tmp_path)) >= 4


@pytest.mark.parametrize("name", NAMES)
def test_new_finds_the_same_panels_as_the_samples_own_job(name: str, tmp_path: Path) -> None:
    assert run("new", SAMPLES / f"{name}.svg", "--out", tmp_path / "n.toml").exit_code == 0
    job = tmp_path / "n.toml"
    job.write_text(job.read_text().replace('"measure me"', "0.4"))
    new, own = (
        json.loads(run("check", file, "--json").stdout) for file in (job, SAMPLES / f"{name}.toml")
    )
    assert [p["edges"] for p in new["panels"]] == [p["edges"] for p in own["panels"]]
