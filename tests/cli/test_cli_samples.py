"""The samples are what their script draws, and a maker can start from them."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest

from panelshift.fit.fact_rows import facts_json
from panelshift.fit.html_page import fit_page
from panelshift.job import read_job, resolve
from panelshift.job.result import fit_job
from tests.support.runs import SAMPLES
from tests.support.terminal import answered, listing, run

NAMES = ["hourglass", "fuller_figure"]
SEWN = [f"{name}_sewn" for name in NAMES]
_OTHERS = [*NAMES, "fuller_figure_sewn"]
FILES = sorted(
    [
        "gored.svg",
        "gored.toml",
        "slit_gores.svg",
        "slit_gores.toml",
        *(f"{name}.svg" for name in NAMES),
        *(f"{n}.toml" for n in (*NAMES, *SEWN)),
    ]
)


@pytest.mark.slow
def test_script_makes_the_committed_files_byte_for_byte(tmp_path: Path) -> None:
    subprocess.run(
        [sys.executable, str(SAMPLES / "make_samples.py"), str(tmp_path)], check=True, timeout=60
    )
    assert listing(tmp_path) == {name: (SAMPLES / name).read_bytes() for name in FILES}


@pytest.mark.parametrize("name", NAMES)
def test_sample_checks_clean(name: str) -> None:
    found = answered("check", SAMPLES / f"{name}.toml")
    data = found["data"]
    assert found["must_be_mended"] == found["look_at"] == []
    assert data["waist"] == pytest.approx(data["drafted_waist"], rel=0.005)
    assert len(data["panels"]) == {"hourglass": 6, "fuller_figure": 7}[name]
    assert all(len(panel["levels"]) >= 3 for panel in data["panels"])
    assert all(abs(seam["difference"]) < 0.5 for seam in data["seams"])


@pytest.mark.parametrize("name", NAMES)
def test_what_a_sample_leaves_out_is_sheet_furniture_only(name: str) -> None:
    data = answered("check", SAMPLES / f"{name}.toml")["data"]
    assert {item["reason"] for item in data["left_out"]} == {
        "text outside every panel",
        "named as a sheet mark; not part of a net panel",
    }


@pytest.mark.parametrize(
    "name", ["hourglass_sewn", *(pytest.param(n, marks=pytest.mark.slow) for n in _OTHERS)]
)
def test_sample_is_cut_without_a_warning(name: str, tmp_path: Path) -> None:
    result = run("cut", SAMPLES / f"{name}.toml", "--out", tmp_path)
    assert result.exit_code == 0
    assert "Look at" not in result.stdout
    assert "overlay.svg" in listing(tmp_path)
    assert len(listing(tmp_path)) >= 4


@pytest.mark.slow
@pytest.mark.parametrize("name", NAMES)
def test_new_finds_the_same_panels_as_the_samples_own_job(name: str, tmp_path: Path) -> None:
    assert run("new", SAMPLES / f"{name}.svg", "--out", tmp_path / "n.toml").exit_code == 0
    job = tmp_path / "n.toml"
    job.write_text(job.read_text().replace('"measure me"', "0.4"))
    new, own = (answered("check", file)["data"] for file in (job, SAMPLES / f"{name}.toml"))
    assert [p["edges"] for p in new["panels"]] == [p["edges"] for p in own["panels"]]


def test_new_offers_to_set_gores_in(tmp_path: Path) -> None:
    # Something is left to be chosen.
    assert run("new", SAMPLES / "gored.svg", "--out", tmp_path / "n.toml").exit_code == 1
    text = (tmp_path / "n.toml").read_text()
    asked = text[: text.index("[stack]")]
    for key in ("# [[gore]]", "# between = [", "# [[stands_on]]", "# upper = "):
        assert asked.count(key) == 3
    assert "# slit = " not in asked
    # Lines that are called slits are offered in their place.
    run("new", SAMPLES / "slit_gores.svg", "--out", tmp_path / "s.toml")
    asked = (tmp_path / "s.toml").read_text()
    assert asked.count("# between = [") == asked.count("# slit = ") == 3


def test_gores_in_slits_check_clean() -> None:
    found = answered("check", SAMPLES / "slit_gores.toml")
    assert found["must_be_mended"] == found["look_at"] == []
    panels = {panel["name"]: panel for panel in found["data"]["panels"]}
    slits = [mark for mark in panels["1 front"]["marks"] if mark["kind"] == "slit"]
    assert len(slits) == 2
    # A gore in a slit curves as the panel around it.
    assert panels["front bust gore"]["class"] == panels["1 front"]["class"] == "front"
    assert all(abs(seam["difference"]) < 1e-3 for seam in found["data"]["seams"])


@pytest.mark.slow
@pytest.mark.parametrize("name", NAMES)
def test_what_sewing_adds_is_said_and_cut(name: str, tmp_path: Path) -> None:
    plain = run("cut", SAMPLES / f"{name}.toml", "--out", tmp_path / "plain").stdout
    sewn = run("cut", SAMPLES / f"{name}_sewn.toml", "--out", tmp_path / "sewn").stdout
    assert "Nothing is said of how it is sewn" in plain
    assert "Nothing is said of how it is sewn" not in sewn
    assert "more round the waist for what it rides over" in sewn
    outer = sorted((tmp_path / "sewn").glob("layer-*"))[-1]
    flat = sorted((tmp_path / "plain").glob("layer-*"))[-1]
    assert outer.read_bytes() != flat.read_bytes()


@pytest.mark.slow
def test_a_fit_sheet_says_how_it_is_sewn() -> None:
    found = fit_job(resolve(read_job(SAMPLES / "hourglass_sewn.toml")), lay_cloth=False)
    facts = json.loads(facts_json(found))
    entries = facts["sections"]["sewing"]
    needed = {
        (e["layer"], e["level"]): e["value"]
        for e in entries
        if e["quantity"] == "needed over ridges"
    }
    assert needed["brocade", "waist"] == pytest.approx(12.8, abs=0.3)
    assert needed["coutille", "waist"] == needed["lining", "waist"] == 0.0
    plies = [e["value"] for e in entries if e["quantity"] == "plies at the waist"]
    # Five cloths with the tape; two more of the shell, one of the lining, one of the coutille.
    assert plies == [9.0] * 5
    girths = {
        (g["layer"], g["level"]): g["value"]
        for g in facts["sections"]["finished girth"]
        if g["drafted"] == "coutille" and g["quantity"] == "with gap"
    }
    over, outside = girths["outside, tape over all", "waist"], girths["outside", "waist"]
    assert girths["brocade", "waist"] < over <= outside + 1e-6
    page = fit_page(found).decode()
    assert "How it is sewn, and what comes of it" in page
