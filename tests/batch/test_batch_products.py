"""A batch makes the very bytes of the single commands."""

from __future__ import annotations

from pathlib import Path

import pytest

from panelshift.batch import BatchJob
from panelshift.batch.products import makings, preload
from panelshift.batch.record import RECORD_NAME
from panelshift.files.outputs import RECORD_NAME as WRITTEN_NAME
from panelshift.printing import PageOptions, parse_paper
from tests.support.batches import base_job, inline
from tests.support.runs import SAMPLES
from tests.support.terminal import listing, run


def without_records(folder: Path) -> dict[str, bytes | None]:
    names = (RECORD_NAME, WRITTEN_NAME)
    return {name: data for name, data in listing(folder).items() if name not in names}


@pytest.mark.slow
@pytest.mark.parametrize(
    "sample", ["hourglass", pytest.param("fuller_figure", marks=pytest.mark.slow)]
)
def test_cut_is_that_of_the_single_command(tmp_path: Path, sample: str) -> None:
    job = SAMPLES / f"{sample}.toml"
    assert run("cut", job, "--out", tmp_path / "single").exit_code == 0
    inline([job], tmp_path / "many")
    folder = tmp_path / "many" / sample.replace("_", "-")
    assert without_records(folder) == without_records(tmp_path / "single")


@pytest.mark.slow
def test_tiles_and_fit_are_those_of_the_single_commands(tmp_path: Path) -> None:
    job, single = base_job(tmp_path / "in"), tmp_path / "single"
    options = ("--paper", "a3", "--margin", "12", "--overlap", "15")
    assert run("tile", job, "--out", single, *options).exit_code == 0
    assert run("fit", job, "--out", single).exit_code == 0
    pages = PageOptions(parse_paper("a3"), 12.0, 15.0)
    inline([job], tmp_path / "many", products=("tile", "fit"), pages=pages)
    assert without_records(tmp_path / "many" / "job") == without_records(single)


def test_overrides_make_what_a_job_file_with_those_values_makes(tmp_path: Path) -> None:
    job = base_job(tmp_path / "in")
    changed = BatchJob("x", job, {"pattern.lacing_gap": 30, "stack.fabric.brocade.thickness": 1.1})
    inline([changed], tmp_path / "many")
    text = job.read_text().replace("[pattern]", "[pattern]\nlacing_gap = 30").replace("0.8", "1.1")
    job.write_text(text)
    assert run("cut", job, "--out", tmp_path / "single").exit_code == 0
    assert without_records(tmp_path / "many" / "x") == without_records(tmp_path / "single")


def test_products_are_made_once_each_in_one_order() -> None:
    wanted = makings(["fit", "cut", "tile", "cut"])
    assert [making.key for making in wanted] == ["cut", "tile a4", "fit"]


def test_preloading_imports_without_doing_anything() -> None:
    for making in makings(["fit", "cut", "tile"]):
        preload(making)
