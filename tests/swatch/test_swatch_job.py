"""Swatches on the command line and in jobs: from readings to grown layers."""

from __future__ import annotations

import json
import math
import re
import tomllib
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from panelshift.cli.reports.measurements import entry_toml
from panelshift.cli.reports.outcomes import cut_text
from panelshift.errors import JobError, PanelshiftError
from panelshift.job import Job, cut, read_job, resolve
from panelshift.stack import Fabric, MeasuredDistance, Stack
from panelshift.swatch import SwatchReading, compare, fit_pair
from panelshift.swatch.distance import BODY_LIKE_MM
from panelshift.swatch.pairs import Comparison
from panelshift.swatch.slope import NORMAL_FACTOR
from tests.support.drawings import STACK, Draft, panels, write_job
from tests.support.runs import SAMPLES
from tests.support.terminal import answered, refused, run

UPRIGHT = panels(
    [Draft(str(k), x=40.0 + 90.0 * k, waist=50.0 + k, left=(0, 0), right=(0, 0)) for k in range(4)]
)
"""Straight panels: an upright body, on which a girth grows by 2 pi d."""

READINGS = ("80,200,5.5", "60,180,6.7", "100,200,4.4")


def job(folder: Path, stack: str = STACK, rest: str = "") -> Job:
    # Classes, as their body is upright where the panels are straight.
    file = write_job(folder, UPRIGHT, stack=stack, rest=f'{rest}\n[body]\nmodel = "classes"\n')
    return resolve(read_job(file), source=str(file))


def options(*readings: str, inner: str = "coutille", outer: str = "brocade") -> list[str]:
    given = [part for text in readings for part in ("--reading", text)]
    return ["swatch", "--inner", inner, "--outer", outer, *given]


def csv(folder: Path, *rows: str, name: str = "swatches.csv") -> Path:
    file = folder / name
    text = "\n".join(("inner,outer,former,length,overhang", *rows)) + "\n"
    file.write_text(text, encoding="utf-8")
    return file


def swatch_rows(*readings: str) -> list[str]:
    return [f"coutille,brocade,{text}" for text in readings]


def growth(found: Job) -> float:
    """By how much the waist of brocade exceeds that of lining, the drafted layer."""
    layers = {layer.fabric.name: layer for layer in cut(found).shifted.layers}
    return layers["brocade"].pattern.waist - layers["lining"].pattern.waist


@pytest.mark.parametrize(
    ("off", "word"),
    [(0.0, "agrees"), (1.0, "agrees"), (-1.0, "agrees"), (1.01, "lofty"), (-1.01, "compressed")],
)
def test_a_distance_agrees_within_its_95_percent(off: float, word: str) -> None:
    found = Comparison(1.0, 0.5, (), off * NORMAL_FACTOR * 0.5, ())
    assert (found.deviations, found.word) == (pytest.approx(off * NORMAL_FACTOR), word)


# -- round trip ---------------------------------------------------------------------------


def test_the_printed_entry_gives_its_distance_and_the_growth_that_follows(tmp_path: Path) -> None:
    plain = job(tmp_path)
    before = growth(plain)
    # Lining 0.2, coutille 0.5, brocade 0.8: 0.35 and 0.65 apart.
    assert before == pytest.approx(2.0 * math.pi * 1.0, abs=1e-6)
    shown = run(*options(*READINGS), "--job", tmp_path / "job.toml").stdout
    entry = shown[shown.index("[[stack.measured]]") :]
    (measured,) = tomllib.loads(entry)["stack"]["measured"]
    expected = fit_pair(
        [SwatchReading("coutille", "brocade", *map(float, r.split(","))) for r in READINGS], 0.5
    )
    assert measured["distance"] == pytest.approx(expected.distance, abs=5.1e-4)
    assert 0.0 <= measured["uncertainty"] - expected.entry_uncertainty < 1e-3

    found = job(tmp_path, rest=entry)
    middles = found.stack.distances(["1"])[:, 0]
    assert middles[2] - middles[1] == pytest.approx(measured["distance"], abs=1e-12)
    assert middles[1] == pytest.approx(0.35)
    # Steiner's formula, with the distance that was measured.
    assert growth(found) == pytest.approx(2.0 * math.pi * (0.35 + measured["distance"]), abs=1e-6)
    assert growth(found) - before == pytest.approx(
        2.0 * math.pi * (measured["distance"] - 0.65), abs=1e-6
    )
    assert "measured on a swatch: coutille to brocade" in cut_text(cut(found), [])


def test_names_with_quotation_marks_come_back() -> None:
    name = 'silk "shot"\\ \x7f été'
    fit = fit_pair([SwatchReading("a = 1", name, 80, 200, 6.5)], 0.2)
    (entry,) = tomllib.loads(entry_toml(fit))["stack"]["measured"]
    assert (entry["inner"], entry["outer"]) == ("a = 1", name)


def test_an_entry_never_claims_more_than_the_readings() -> None:
    fit = fit_pair([SwatchReading("a", "b", 80, 200, 6.5, u_overhang=0.0123)], 0.0)
    entry = tomllib.loads(entry_toml(fit))["stack"]["measured"][0]
    assert entry["uncertainty"] >= fit.entry_uncertainty


@pytest.mark.slow
def test_measured_as_computed_leaves_the_job_as_it_was(tmp_path: Path) -> None:
    entry = '[[stack.measured]]\ninner = "lining"\nouter = "brocade"\ndistance = 1.0\n'
    same = cut(job(tmp_path, rest=entry + "uncertainty = 0.01\n")).files
    assert same == cut(job(tmp_path)).files
    other = cut(job(tmp_path, rest=entry.replace("1.0", "1.1") + "uncertainty = 0.01\n")).files
    assert other != same


# -- a file of swatches -------------------------------------------------------------------


def test_a_file_gives_what_the_options_give(tmp_path: Path) -> None:
    write_job(tmp_path, UPRIGHT)
    file = csv(tmp_path, *swatch_rows(*READINGS))
    by_options = answered(*options(*READINGS), "--job", tmp_path / "job.toml")
    with_job = ("swatch", "--csv", "-", "--job", tmp_path / "job.toml")
    by_file = answered(*with_job, given=file.read_bytes())

    def facts(answer: dict) -> list[dict]:
        pairs = answer["data"]["fits"]
        for pair in pairs:
            for reading in pair["readings"]:
                assert reading["origin"].startswith(("reading ", "line "))
                reading["origin"] = ""
        return pairs

    found = facts(by_file)
    assert found == facts(by_options)
    assert len(found[0]["readings"]) == 3


def test_the_job_uses_the_file_it_names(tmp_path: Path) -> None:
    (tmp_path / "deep").mkdir()
    csv(tmp_path / "deep", *swatch_rows(*READINGS))
    stack = '[stack]\nswatches = "deep/swatches.csv"\n' + STACK
    found = job(tmp_path, stack)
    (fit,) = found.swatches
    assert fit.inner_thickness == 0.5
    middles = found.stack.distances(["0"])[:, 0]
    assert middles[2] - middles[1] == pytest.approx(fit.distance, abs=1e-12)
    assert found.stack.surfaces("0").uncertainty(1, 2) == pytest.approx(fit.entry_uncertainty)
    assert growth(found) == pytest.approx(2.0 * math.pi * (0.35 + fit.distance), abs=1e-6)


def test_several_pairs_may_be_in_one_file(tmp_path: Path) -> None:
    file = csv(tmp_path, *swatch_rows("80,200,3.2"), "lining,coutille,80,200,1.8")
    found = job(tmp_path, f'[stack]\nswatches = "{file.name}"\n' + STACK)
    assert [(f.inner, f.outer) for f in found.swatches] == [
        ("coutille", "brocade"),
        ("lining", "coutille"),
    ]
    gaps = np.diff(found.stack.distances(["0"])[:, 0])
    assert gaps == pytest.approx([1.8 * 40.1 / 200, 3.2 * 40.25 / 200], abs=1e-12)


def test_warnings_of_swatches_reach_the_report(tmp_path: Path) -> None:
    csv(tmp_path, *swatch_rows("80,200,3.2"))
    found = job(tmp_path, '[stack]\nswatches = "swatches.csv"\n' + STACK)
    assert any("one reading only" in words for words in cut(found).warnings)
    assert not any("reading" in words for words in cut(job(tmp_path)).warnings)


def test_loft_and_uncertainty_of_the_inner_cloth_reach_the_fit(tmp_path: Path) -> None:
    csv(tmp_path, *swatch_rows("80,200,3.2"))
    changed = STACK.replace(
        "thickness = 0.5", "thickness = 0.5\nloft = 0.8\nthickness_uncertainty = 0.25"
    )
    found = job(tmp_path, '[stack]\nswatches = "swatches.csv"\n' + changed)
    assert found.stack.fabrics[1].thickness_uncertainty == 0.25
    (fit,) = found.swatches
    assert fit.inner_thickness == pytest.approx(0.4)
    part = fit.distance * 0.5 * 0.25 * 0.8 / 40.2
    own = math.hypot(0.5, 0.4, 0.3 * (1.0 + fit.distance / 40.2))
    assert fit.line.uncertainty == pytest.approx(math.hypot(own * 40.2 / 200, part), rel=1e-9)


ENTRY = '[[stack.measured]]\ninner = "coutille"\nouter = "brocade"\ndistance = 0.6\n'


@pytest.mark.parametrize(
    ("rows", "rest", "words"),
    [
        (["coutile,brocade,80,200,5"], "", "line 2: there is no layer 'coutile' in the stack"),
        ([f"{'x' * 9999},brocade,80,200,5"], "", f"there is no layer '{'x' * 119}... in the"),
        (["brocade,coutille,80,200,5"], "", "line 2: 'brocade' does not lie inside 'coutille'"),
        (["coutille,brocade,80,200,0"], "", "line 2: the measured distance coutille to brocade"),
        (["coutille,brocade,80,300,5"], "", "line 2: the swatch of 300 mm laps over itself"),
        (["coutille,brocade,80,200,5"], ENTRY + "uncertainty = 0.1", "the swatches give it too"),
        (
            ["lining,brocade,80,200,9.5"],
            ENTRY + 'uncertainty = 0.1\n[[stack.measured]]\ninner = "lining"\nouter = "coutille"\n'
            "distance = 0.4\nuncertainty = 0.1",
            "the measured distances contradict each other",
        ),
    ],
)
def test_swatches_that_do_not_fit_the_job(
    tmp_path: Path, rows: list[str], rest: str, words: str
) -> None:
    csv(tmp_path, *rows)
    with pytest.raises(PanelshiftError) as caught:
        job(tmp_path, '[stack]\nswatches = "swatches.csv"\n' + STACK, rest)
    assert words in str(caught.value)
    assert ".csv" in str(caught.value) or "job.toml" in str(caught.value)


@pytest.mark.parametrize(
    ("rest", "words"),
    [
        (ENTRY, "stack.measured[1].uncertainty: is required"),
        (ENTRY + "uncertainty = 0", "stack.measured[1].uncertainty: "),
        (ENTRY.replace("0.6", "-1") + "uncertainty = 0.1", "stack.measured[1].distance: "),
        (ENTRY + "uncertainty = 0.1\nlength = 1", "length: is not a known key; known here: inner"),
        (ENTRY.replace('"coutille"', '"x"') + "uncertainty = 0.1", "there is no layer 'x'"),
        (ENTRY.replace('"coutille"', '"brocade"') + "uncertainty = 0.1", "to itself"),
    ],
)
def test_entries_that_cannot_be_right(tmp_path: Path, rest: str, words: str) -> None:
    with pytest.raises(PanelshiftError) as caught:
        job(tmp_path, rest=rest)
    assert words in str(caught.value)
    assert "job.toml" in str(caught.value)


def test_a_pair_that_no_panel_can_use_is_not_left_out_unsaid(tmp_path: Path) -> None:
    stack = STACK.replace("thickness = 0.5", 'thickness = 0.5\npanels = ["0"]').replace(
        "thickness = 0.8", 'thickness = 0.8\npanels = ["1"]'
    )
    with pytest.raises(JobError, match="coutille to brocade counts on no panel"):
        job(tmp_path, stack, ENTRY + "uncertainty = 0.1")


# -- against the thicknesses --------------------------------------------------------------


@pytest.mark.parametrize(
    ("overhang", "word"), [(3.2, "agrees"), (2.0, "compressed"), (5.0, "lofty")]
)
def test_words_for_how_it_compares(overhang: float, word: str) -> None:
    stack = Stack([Fabric("a", 0.5, thickness_uncertainty=0.05), Fabric("b", 0.8)], "a")
    fit = fit_pair([SwatchReading("a", "b", 80, 200, overhang, u_overhang=0.3)], 0.5)
    found = compare(fit, stack)
    assert found.word == word
    assert found.by_thickness == pytest.approx(0.65)
    assert found.difference == pytest.approx(overhang * 40.25 / 200 - 0.65)
    # One thickness is not known to any uncertainty: the fit's alone counts.
    assert found.uncertainty == pytest.approx(fit.entry_uncertainty)
    assert found.unknown == ("b",)
    known = replace(stack, fabrics=[replace(f, thickness_uncertainty=0.05) for f in stack.fabrics])
    both = math.hypot(fit.entry_uncertainty, 0.025, 0.025)
    assert compare(fit, known).deviations == pytest.approx(found.difference / both)


def test_a_comparison_is_with_the_thicknesses_not_with_older_swatches() -> None:
    stack = Stack([Fabric("a", 0.5), Fabric("b", 0.8)], measured=[MeasuredDistance("a", "b", 2, 1)])
    found = compare(fit_pair([SwatchReading("a", "b", 80, 200, 3.2)], 0.5), stack)
    assert found.by_thickness == pytest.approx(0.65)


def test_report_of_a_sample_names_what_the_swatch_must_have_held() -> None:
    shown = run(*options(*READINGS), "--job", SAMPLES / "hourglass.toml").stdout
    assert "by thickness: 1.15 mm" in shown
    assert "0.4 standard uncertainties; agrees" in shown
    assert "between them in the job lie bones in channels, interlining" in shown
    assert "no thickness_uncertainty is given for coutille" in shown
    assert "the readings agree with each other" in shown
    assert "For the job file:\n" in shown
    assert re.findall(
        r"(?m)^reading (\d) +([\d.]+) +([\d.]+) .* ([\d.]+) +[\d.]+ +[-+]", shown
    ) == [
        ("1", "80.0", "200.0", "5.50"),
        ("2", "60.0", "180.0", "6.70"),
        ("3", "100.0", "200.0", "4.40"),
    ]
    for former, flat in ((99, False), (BODY_LIKE_MM, True), (250, True)):
        shown = run(*options(*READINGS, f"{former},200,3"), "--inner-thickness", "0.5").stdout
        assert "not covered: cloth held slack, or pressed thinner" in shown
        assert ("; one as flat as a body (150 to 250 mm) would show" in shown) is not flat


# -- the command --------------------------------------------------------------------------


def test_thickness_by_hand_and_what_lay_under() -> None:
    found = answered(*options("80,200,6.5"), "--inner-thickness", "0.02in", "--under", "1")
    (pair,) = found["data"]["fits"]
    assert pair["distance"] == pytest.approx(6.5 * (40 + 1 + 0.254) / 200)
    assert pair["against_thickness"] is None
    assert "one reading only" in found["look_at"][0]["words"]


def test_stated_uncertainties_reach_the_fit() -> None:
    stated = ("--u-overhang", "0.2", "--u-former", "1", "--u-length", "0.1 cm")
    (pair,) = answered(*options("80,200,6"), "--inner-thickness", "0", *stated)["data"]["fits"]
    d = 6 * 40 / 200
    assert pair["standard_uncertainty"] == pytest.approx(
        math.hypot(0.2 * 40 / 200, 0.4 * 40 / 200, d / 80, (1 + d / 40) * 40 / 200)
    )


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["swatch"], "no readings"),
        (["swatch", "--reading", "80,200,5"], "the layers of the swatch are not named"),
        (options("80,200,5"), "the thickness of the inner cloth is needed, once"),
        (
            [*options("80,200,5"), "--inner-thickness", "1", "--job", "x.toml"],
            "the thickness of the inner cloth is needed, once",
        ),
        ([*options("80,200,5"), "--job", "none.toml"], "none.toml: cannot read"),
        ([*options("80,200,5"), "--inner-thickness", "thin"], "'thin' is not a length"),
        ([*options("80,200,5"), "--csv", "x.csv"], "--csv and --reading do not go together"),
        (["swatch", "--csv", "x.csv", "--u-former", "1"], "--csv and --u-former do not go"),
        ([*options("80,200,250"), "--inner-thickness", "1"], "reading 1: the overhang of 250 mm"),
        (["swatch", "--formers", "60"], "--formers is for the sheet"),
        (["swatch", "--sheet", "out.png"], "a swatch sheet cannot be written as .png"),
        (["swatch", "--sheet", "out"], "cannot be written as a file without ending"),
        (["swatch", "--sheet", "out.svg", "--formers", "5"], "a former of 5 mm"),
        (["swatch", "--sheet", "out.svg", "--formers", "60,,80"], "'' is not a length"),
        (["swatch", "--sheet", "out.svg", "--formers", "60,61,62,63,64,65,66"], "7 formers"),
    ],
)
def test_refusals_leave_nothing_behind(
    arguments: list[str], words: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    assert words in refused(*arguments, folder=tmp_path)


def test_unknown_layers_are_refused_with_those_there_are(tmp_path: Path) -> None:
    arguments = options("80,200,5", inner="coutil")
    message = refused(*arguments, "--job", SAMPLES / "hourglass.toml", folder=tmp_path)
    assert "reading 1: there is no layer 'coutil' in the stack" in message
    assert "The fabrics of the stack are: lining, waist tape, coutille" in message


def test_one_thickness_cannot_be_that_of_two_cloths(tmp_path: Path) -> None:
    file = csv(tmp_path, "a,c,80,200,5", "b,c,80,200,5")
    message = refused("swatch", "--csv", file, "--inner-thickness", "1", folder=tmp_path)
    assert "one thickness is given for several inner cloths: a, b" in message


def test_readings_that_give_no_distance_get_no_entry() -> None:
    result = run(*options("80,200,0"), "--inner-thickness", "0.5")
    assert result.exit_code == 0
    assert "no distance can be told" in result.stdout
    assert "[[stack.measured]]" not in result.stdout


def test_faults_name_the_file_that_holds_them(tmp_path: Path) -> None:
    file = csv(tmp_path, *swatch_rows("80,300,5"))
    message = refused("swatch", "--csv", file, "--inner-thickness", "1", folder=tmp_path)
    assert "swatches.csv, line 2: the swatch of 300 mm laps over itself" in message
    file = write_job(tmp_path, UPRIGHT, stack=STACK.replace("brocade", "lining"))
    message = refused(*options("80,200,5"), "--job", file, folder=tmp_path)
    assert "job.toml, lining: two fabrics have the name 'lining'" in message


def test_the_report_of_a_file_says_how_a_job_may_name_it(tmp_path: Path) -> None:
    file = csv(tmp_path, *swatch_rows(*READINGS))
    shown = run("swatch", "--csv", file, "--inner-thickness", "0.5").stdout
    assert f"[stack] swatches = {json.dumps(str(file))}" in shown
    assert "line 4" in shown
