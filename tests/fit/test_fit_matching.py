"""The pattern beside the body that was measured: girths, lengths, waists, tapes that disagree."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from panelshift.body import TapeModel, Tapes
from panelshift.body.form import FormErrors
from panelshift.body.support import Sections
from panelshift.fit.fact_rows import facts_json, rows
from panelshift.fit.fact_tables import matching_table
from panelshift.fit.facts import FitFacts
from panelshift.fit.html_page import fit_page
from panelshift.fit.matching import disagreeing_tapes, matched
from panelshift.form.section_file import MeasuredForm, section_file
from panelshift.job import cut, read_job, resolve
from panelshift.job.result import fit_job, shift_job
from tests.support.runs import SAMPLES

HEIGHTS = np.linspace(-200.0, 200.0, 81)
LEAN = 0.75
"""A cone's outline of 3, 4, 5: its length is 1.25 times its height."""


def cone(names: dict[str, float], waist_girth: float = 700.0) -> MeasuredForm:
    """Round sections that widen upwards and downwards from the waist."""
    radii = waist_girth / (2.0 * np.pi) + LEAN * np.abs(HEIGHTS)
    rows_ = np.zeros((len(HEIGHTS), 41), dtype=np.complex128)
    rows_[:, 0] = radii
    return MeasuredForm(HEIGHTS, Sections(rows_), "traced", FormErrors(), (), names)


def facts_with(folder: Path, body: str) -> FitFacts:
    text = (SAMPLES / "hourglass.toml").read_text(encoding="utf-8")
    (folder / "hourglass.svg").write_bytes((SAMPLES / "hourglass.svg").read_bytes())
    (folder / "job.toml").write_text(f"{text}\n[body]\n{body}\n", encoding="utf-8")
    return fit_job(resolve(read_job(folder / "job.toml")), lay_cloth=False)


def test_girth_lengths_and_waist_stand_beside_those_of_a_scan(tmp_path: Path) -> None:
    form = cone({"waist": 0.0, "bust": 120.0})
    (tmp_path / "body.json").write_bytes(section_file(form))
    facts = facts_with(tmp_path, 'model = "form"\nfile = "body.json"')
    found = {(item.level, item.quantity): item for item in facts.matched}
    waist = found["waist", "girth"]
    assert (waist.pattern, waist.body) == pytest.approx((690.0, 700.0), abs=0.01)
    assert waist.difference == pytest.approx(10.0, abs=0.01)
    for words in ("centre front", "centre back"):
        length = found["bust", f"{words} from the waist"]
        assert length.pattern == pytest.approx(facts.pattern.level_height("bust"))
        assert length.body == pytest.approx(1.25 * 120.0, abs=0.1)
    narrowest = found["waist", "narrowest above it by"]
    assert (narrowest.pattern, narrowest.body) == pytest.approx((0.0, 0.0), abs=3.0)
    table = matching_table(facts)
    girth = next(row for row in table.rows if row.head == "waist: girth")
    assert [cell.text for cell in girth.cells] == ["690 mm", "700 mm", "+10 mm"]
    assert table.heads == ("pattern", "body", "body less pattern")
    # The hip of the draft lies lower along the panel than upright, and is read off there.
    assert found["hip", "girth"].body > 1000.0
    assert ("hip", "centre front from the waist") not in found


@pytest.mark.slow
def test_it_is_on_the_page_in_whole_mm_and_in_json_as_it_is(tmp_path: Path) -> None:
    (tmp_path / "body.json").write_bytes(section_file(cone({"bust": 120.0}, 700.4)))
    facts = facts_with(tmp_path, 'model = "form"\nfile = "body.json"')
    page = fit_page(facts).decode()
    assert "The pattern against the body" in page
    assert "+10 mm" in page
    assert "690 mm" in page
    assert ">700 mm<" in page
    stated = {row.quantity: row.value for row in rows(facts) if row.level == "waist"}
    assert stated["girth, body"] == pytest.approx(700.4, abs=0.05)
    assert "girth, body less pattern" in json.dumps(json.loads(facts_json(facts)))


@pytest.mark.slow
def test_girths_of_tapes_stand_beside_the_patterns(tmp_path: Path) -> None:
    facts = facts_with(tmp_path, 'model = "tapes"\n[body.tapes.waist]\ngirth = 712\n')
    (only,) = facts.matched
    assert (only.level, only.quantity) == ("waist", "girth")
    assert (only.pattern, only.body) == pytest.approx((690.0, 712.0), abs=0.01)


def test_girths_given_beside_a_model_stand_there_too(tmp_path: Path) -> None:
    facts = facts_with(tmp_path, 'model = "mean"\ngirths = { waist = 720, "+40 mm" = 760 }')
    assert [item.level for item in facts.matched] == ["+40 mm from the waist", "waist"]


@pytest.mark.slow
def test_with_nothing_measured_there_is_no_table(tmp_path: Path) -> None:
    facts = facts_with(tmp_path, 'model = "mean"')
    assert facts.matched == ()
    assert "against the body" not in fit_page(facts).decode()


@pytest.mark.slow
def test_tapes_that_disagree_are_told_by_level_with_the_amount(tmp_path: Path) -> None:
    # Half the girth lies before the widest points of any oval that is as wide and as deep.
    body = """model = "tapes"
[body.tapes.waist]
breadth = 240
depth = 180
girth = 668
front_arc = 420
"""
    facts = facts_with(tmp_path, body)
    told = [words for code, words in facts.look_at() if code == "tapes-disagree"]
    assert told
    assert all(words.startswith("tapes at the waist: the ") for words in told)
    assert any("front arc is " in words and "longer than the others" in words for words in told)
    job = resolve(read_job(tmp_path / "job.toml"))
    assert set(told) <= set(cut(job).warnings)


def test_tapes_that_agree_are_not_told_of() -> None:
    job = resolve(read_job(SAMPLES / "hourglass.toml"))
    turn = shift_job(job).turn
    calm = TapeModel({0.0: Tapes(breadth=236.0, depth=180.0)}, "women")
    assert disagreeing_tapes(turn, calm, "mm") == ()
    assert disagreeing_tapes(turn, job.body, "mm") == ()
    assert matched(turn, calm, "mm") == ()
