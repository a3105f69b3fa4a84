"""Bodies that a job names: tapes, a section file, the mean form; and what is refused of them."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from panelshift.body import MeanFormModel, TapeModel
from panelshift.body.form import FormErrors, FormModel
from panelshift.body.support import Sections
from panelshift.errors import BodyError, FormError, JobError
from panelshift.form.section_file import MeasuredForm, section_file
from panelshift.job import read_job
from panelshift.job.resolved import Job, resolve
from panelshift.job.result import shift_job
from panelshift.job.said import settings

SAMPLES = Path(__file__).parents[2] / "sample_patterns"


def hourglass(folder: Path, body: str) -> Job:
    """The sample with a body of its own."""
    (folder / "hourglass.svg").write_bytes((SAMPLES / "hourglass.svg").read_bytes())
    text = (SAMPLES / "hourglass.toml").read_text(encoding="utf-8")
    (folder / "job.toml").write_text(f"{text}\n[body]\n{body}\n", encoding="utf-8")
    return resolve(read_job(folder / "job.toml"), source="job.toml")


def write_round(folder: Path) -> None:
    """A section file of a round body that is as wide as it is deep everywhere."""
    round_body = Sections.of_support(lambda psi: np.full((2, psi.shape[-1]), 110.0))
    form = MeasuredForm(np.array([-300.0, 300.0]), round_body, "scan", FormErrors())
    (folder / "sections.json").write_bytes(section_file(form))


def test_a_section_file_lies_beside_the_job_and_round_sections_turn_by_width(
    tmp_path: Path,
) -> None:
    write_round(tmp_path)
    job = hourglass(tmp_path, 'model = "form"\nfile = "sections.json"')
    assert isinstance(job.body, FormModel)
    assert tmp_path / "sections.json" in job.file.sources()
    turn = shift_job(job).turn
    girth = job.pattern.waist + job.gap
    for index, panel in enumerate(job.pattern.panels):
        wanted = 2.0 * np.pi * panel.waist_width / girth
        # The waist lies between two levels of the spline, 3 mm apart.
        assert turn.angle_at(index, 0.0) == pytest.approx(wanted, abs=1e-5)
    assert "2 measured sections from -300 to +300 mm" in "\n".join(settings(job))


def test_a_section_file_that_is_missing_is_named(tmp_path: Path) -> None:
    with pytest.raises(FormError, match=r"sections\.json: cannot read"):
        hourglass(tmp_path, 'model = "form"\nfile = "sections.json"')


def test_tapes_stand_at_levels_and_heights_in_any_unit(tmp_path: Path) -> None:
    job = hourglass(
        tmp_path,
        'model = "tapes"\nof = "women"\nerror = "2 mm"\n'
        'tapes = { waist = { breadth = "9 in", depth = 170 }, '
        '"-80 mm" = { girth = "90 cm", stand_out = "-5 mm" } }',
    )
    assert isinstance(job.body, TapeModel)
    below, waist = (job.body.tapes[height] for height in sorted(job.body.tapes))
    assert sorted(job.body.tapes) == pytest.approx([-80.0, 0.0])
    assert waist.breadth == pytest.approx(228.6)
    assert below.stand_out == -5.0
    assert job.body.error == 2.0
    assert not job.body.upright
    words = "\n".join(settings(job))
    assert "tapes at waist: breadth 228.6 mm, depth 170 mm" in words


def test_the_bust_may_be_put_where_it_is(tmp_path: Path) -> None:
    job = hourglass(tmp_path, 'model = "mean"\nbust_height = "16 cm"')
    assert isinstance(job.body, MeanFormModel)
    assert job.body.bust_height == 160.0


@pytest.mark.parametrize(
    ("body", "kind", "words"),
    [
        ('model = "form"', JobError, "'form' needs a file"),
        ('model = "tapes"', JobError, "'tapes' needs a table of tapes"),
        ('model = "tapes"\ntapes = { waist = {} }', JobError, "tapes.waist: needs one of breadth"),
        ('model = "tapes"\ntapes = { chin = { girth = 500 } }', JobError, "chin: no such level"),
        ('model = "tapes"\ntapes = { waist = { bredth = 1 } }', JobError, "did you mean breadth"),
        (
            'model = "tapes"\ntapes = { waist = { girth = 700 }, "+0 mm" = { depth = 180 } }',
            JobError,
            "given twice",
        ),
        (
            'model = "tapes"\ntapes = { waist = { breadth = 250, depth = 200, girth = 500 } }',
            BodyError,
            "is between",
        ),
        ('model = "mean"\nfile = "a.json"', JobError, "file has no meaning for"),
        ('model = "mean"\nbust_height = 5', JobError, "bust_height"),
        ('model = "torso"', JobError, "is not one of"),
    ],
)
def test_bodies_that_are_none_are_refused(
    tmp_path: Path, body: str, kind: type[Exception], words: str
) -> None:
    with pytest.raises(kind, match=words):
        hourglass(tmp_path, body)
