"""The maker's own measures of the body: at any heights, filled in between, never beyond unsaid."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from scipy.interpolate import PchipInterpolator

from panelshift.body import SectionModel
from panelshift.body.ring import Ring, body_girths
from panelshift.errors import BodyError, JobError
from panelshift.fit.html_page import fit_page
from panelshift.job import read_job, resolve
from panelshift.job.resolved import Job
from panelshift.job.result import fit_job
from panelshift.job.said import settings
from tests.support.drawings import STACK, half, panels, write_job

BODY = "".join(
    draft.panel() + draft.line("bust", 80.0) + draft.line("hip", -70.0) for draft in half(4)
)
"""The side edges reach from -100 to +120 mm."""


def job(folder: Path, table: str, model: str = "section") -> Job:
    path = write_job(folder, BODY, rest=f'[body]\nmodel = "{model}"\n{table}\n')
    return resolve(read_job(path), source=str(path))


def line(job: Job, start: str) -> str:
    (found,) = [words for words in settings(job) if words.startswith(start)]
    return found


def model(job: Job) -> SectionModel:
    assert isinstance(job.body, SectionModel)
    return job.body


def test_heights_and_levels_stand_side_by_side(tmp_path: Path) -> None:
    read = job(
        tmp_path,
        'ratio = { waist = 1.3, bust = 1.2, "+120 mm" = 1.35, "-85" = 1.5, "+4 cm" = 1.25, '
        '"-1 in" = 1.33 }',
    )
    ratio = model(read).ratio
    assert ratio.heights == pytest.approx([-85.0, -25.4, 0.0, 40.0, 80.0, 120.0])
    assert list(ratio.values) == [1.5, 1.33, 1.3, 1.25, 1.2, 1.35]


def test_girths_may_be_given_by_height(tmp_path: Path) -> None:
    read = job(tmp_path, 'girths = { waist = 360, "-50 mm" = "14.5 in" }', "classes")
    girths = read.body.girths  # type: ignore[attr-defined]
    assert girths.heights == pytest.approx([-50.0, 0.0])
    assert list(girths.values) == pytest.approx([14.5 * 25.4, 360.0])


def test_gaps_are_filled_by_pchip_and_the_nearest_is_held_beyond(tmp_path: Path) -> None:
    given = {"-85": 1.5, "waist": 1.3, "+60": 1.2, "bust": 1.45}
    table = ", ".join(f'"{key}" = {value}' for key, value in given.items())
    ratio = model(job(tmp_path, f"ratio = {{ {table} }}")).ratio
    curve = PchipInterpolator([-85.0, 0.0, 60.0, 80.0], [1.5, 1.3, 1.2, 1.45])
    heights = np.linspace(-85.0, 80.0, 331)
    assert ratio.at(heights) == pytest.approx(curve(heights), abs=1e-12)
    # Monotone between neighbours: never outside what was measured.
    assert ratio.at(heights).min() == pytest.approx(1.2, abs=1e-9)
    assert ratio.at(np.array([-400.0, -86.0])) == pytest.approx([1.5, 1.5])
    assert ratio.at(np.array([81.0, 500.0])) == pytest.approx([1.45, 1.45])


def test_girths_keep_the_drafts_shape_between_and_its_ratio_beyond(tmp_path: Path) -> None:
    read = job(tmp_path, 'girths = { waist = 400, "+60" = 520 }')
    heights = np.linspace(-90.0, 110.0, 41)
    widths = np.column_stack([200.0 + 0.01 * heights**2, 180.0 + 0.3 * np.abs(heights)])
    ring = Ring(heights, widths, 10.0, ("front", "back"))
    found = body_girths(ring, model(read).girths)
    own = ring.girths
    at = {h: k for k, h in enumerate(heights)}
    assert found[at[0.0]] == pytest.approx(400.0)
    assert found[at[60.0]] == pytest.approx(520.0)
    low, high = 400.0 / own[at[0.0]], 520.0 / own[at[60.0]]
    assert found[heights <= 0.0] / own[heights <= 0.0] == pytest.approx(low)
    assert found[heights >= 60.0] / own[heights >= 60.0] == pytest.approx(high)
    between = (heights > 0.0) & (heights < 60.0)
    assert (np.diff(found[between] / own[between]) * np.sign(high - low) > 0.0).all()


def test_a_level_of_that_very_name_wins(tmp_path: Path) -> None:
    body = BODY + "".join(draft.line("+50 bust", 30.0) for draft in half(4))
    path = write_job(
        tmp_path, body, rest='[body]\nmodel = "section"\nratio = { "+50" = 1.2, waist = 1.4 }\n'
    )
    assert list(model(resolve(read_job(path))).ratio.heights) == pytest.approx([0.0, 50.0])


@pytest.mark.parametrize(
    ("table", "words"),
    [
        ("girths = { wiast = 400 }", "body.girths.wiast: no such level, nor a height such as"),
        ('girths = { "120 mm" = 400 }', "body.girths.120 mm: no such level"),
        ('ratio = { "+12 ells" = 1.2 }', "body.ratio.+12 ells: no such level"),
        ('ratio = { "-" = 1.2 }', "body.ratio.-: no such level"),
        ('ratio = { "+nan mm" = 1.2 }', "body.ratio.+nan mm: no such level"),
        ('girths = { "+200" = 500 }', "body.girths.+200: the pattern's side edges reach from"),
        ('girths = { "-101" = 500 }', "reach from -100 to +120 mm from the waist"),
    ],
)
def test_keys_that_mean_no_height_are_refused(tmp_path: Path, table: str, words: str) -> None:
    with pytest.raises(JobError) as caught:
        job(tmp_path, table)
    assert words in str(caught.value)


def test_two_keys_for_one_height_are_refused(tmp_path: Path) -> None:
    for table in (
        "ratio = { waist = 1.2, '+0 mm' = 1.3 }",
        "girths = { waist = 360, '+0 mm' = 370 }",
    ):
        with pytest.raises(BodyError, match="two measures of the body at one height") as caught:
            job(tmp_path, table)
        assert caught.value.source
    thick = STACK.rstrip() + "\nthickness_at = { waist = 1.2, '+0 mm' = 1.3 }\n"
    path = write_job(tmp_path, BODY, stack=thick)
    with pytest.raises(JobError, match=r"\(brocade\): two of waist, \+0 mm are one height"):
        resolve(read_job(path), source=str(path))


def test_a_ratio_may_be_measured_beyond_the_pattern(tmp_path: Path) -> None:
    assert model(job(tmp_path, 'ratio = { waist = 1.3, "+300" = 1.6 }')).ratio.heights[-1] == 300.0


def test_report_says_from_where_to_where_and_what_holds_beyond(tmp_path: Path) -> None:
    read = job(
        tmp_path, 'ratio = { waist = 1.3, "+120 mm" = 1.35 }\ngirths = { waist = 360, hip = 400 }'
    )
    girths, ratio = line(read, "body girths"), line(read, "breadth over depth")
    assert "waist 360 mm, hip 400 mm" in girths
    assert "given from -70 to +0 mm from the waist" in girths
    assert "PCHIP" in girths
    assert "beyond, the nearest one's ratio to the draft's own girth is held" in girths
    assert "waist 1.3, +120 mm 1.35" in ratio
    assert "given from +0 to +120 mm" in ratio
    assert "beyond, the nearest one is held" in ratio


def test_one_measure_says_that_it_is_held_everywhere(tmp_path: Path) -> None:
    read = job(tmp_path, "girths = { bust = 420 }", "classes")
    assert "given at one level, +80 mm, so everywhere" in line(read, "body girths")


def test_no_measure_says_nothing(tmp_path: Path) -> None:
    assert not [words for words in settings(job(tmp_path, "ratio = 1.3")) if "PCHIP" in words]


@pytest.mark.slow
def test_the_fit_sheet_says_so_too(tmp_path: Path) -> None:
    read = job(tmp_path, 'ratio = { "-60" = 1.3, "+60" = 1.45 }')
    page = fit_page(fit_job(read)).decode()
    assert "given from -60 to +60 mm from the waist" in page
    assert "beyond, the nearest one is held" in page


def test_measures_change_the_turning(tmp_path: Path) -> None:
    (tmp_path / "a").mkdir()
    flat = fit_job(job(tmp_path, 'ratio = { "-60" = 1.2, "+60" = 1.2 }'))
    bent = fit_job(job(tmp_path / "a", 'ratio = { "-60" = 1.2, "+60" = 1.6 }'))
    by_level = {
        level: next(
            (one.angle, two.angle)
            for one, two in zip(flat.turning, bent.turning, strict=True)
            if one.level == level and one.panel == "panel 1"
        )
        for level in ("bust", "hip")
    }
    assert by_level["hip"][0] == pytest.approx(by_level["hip"][1], abs=1e-4)
    assert by_level["bust"][1] < 0.9 * by_level["bust"][0]


def test_panels_helper_draws_what_is_measured() -> None:
    # The other tests reckon with a waist, a bust and a hip line on each of four panels.
    assert panels(half(4)).count("<path") == 8
    assert BODY.count("<path") == 16
