"""Job files for scripts: as objects, and as text that reads back as the same."""

from __future__ import annotations

import json
import os
from pathlib import Path

import pytest

from panelshift import (
    PageOptions,
    PanelshiftError,
    job_facts,
    job_layers,
    job_pdfs,
    job_text,
    open_job,
    parse_paper,
)
from panelshift.job import JobFile, opened, read_job
from panelshift.job.keys import with_overrides
from tests.support.drawings import half, panels, write_job
from tests.support.terminal import OUTPUT

SAMPLES = Path(__file__).parents[2] / "sample_patterns"


@pytest.mark.parametrize("file", sorted(SAMPLES.glob("*.toml")), ids=lambda file: file.stem)
def test_every_sample_reads_back_as_the_same(file: Path, tmp_path: Path) -> None:
    job = open_job(file)
    (tmp_path / "again.toml").write_text(job_text(job, tmp_path), encoding="utf-8")
    again = read_job(tmp_path / "again.toml")

    def solid(read: JobFile) -> str:
        values = read.model_dump(by_alias=True, exclude_unset=True)
        return json.dumps(values, default=os.path.realpath)

    assert solid(again) == solid(job.file)
    assert open_job(tmp_path / "again.toml").pattern == job.pattern


REST = """
[body]
model = "tapes"
tapes = { waist = { girth = 640 }, "+120" = { breadth = 300 } }
[panel."odd \\"name\\""]
corners = { front_top = [1.5, 2] }
[[stack.measured]]
inner = "lining"
outer = "brocade"
distance = 0.9
uncertainty = 0.1
"""


def test_names_of_all_kinds_and_changes_are_kept(tmp_path: Path) -> None:
    file = write_job(
        tmp_path, panels(half(3)), rest=REST.replace("[panel", "[fit]\nneeds = false\n[panel")
    )
    read = read_job(file)
    job = open_job(SAMPLES / "hourglass.toml")
    object.__setattr__(job, "file", read)
    (tmp_path / "again.toml").write_text(job_text(job, tmp_path))
    again = read_job(tmp_path / "again.toml")
    assert again == read
    assert 'file = "draft.svg"' in job_text(job, tmp_path)


def test_what_comes_of_a_job(tmp_path: Path) -> None:
    file = write_job(tmp_path, panels(half(3)))
    job = open_job(file, {"pattern.lacing_gap": "6 cm"})
    assert (job.gap, open_job(file).gap) == (60.0, 0.0)
    assert [layer.fabric.name for layer in job_layers(job).layers] == list(job.stack.names)
    # Flat panels of a sample: nothing at home is as thick as what they would be rolled on.
    sample = open_job(SAMPLES / "fuller_figure.toml")
    facts = job_facts(sample, cloth=False) | {"compared": []}
    schema = OUTPUT.evolve(
        schema={**OUTPUT.schema["$defs"]["fit"], "$defs": OUTPUT.schema["$defs"]}
    )
    assert schema.is_valid(json.loads(json.dumps(facts)))
    stretch = {"warp": 0.003, "weft": 0.008, "bias": 0.05}
    assert "weft = 0.008" in job_text(open_job(file, {"stack.fabric.lining.stretch": stretch}))
    pages = job_pdfs(job, PageOptions(parse_paper("a3")), layers=["lining"])
    assert [data[:5] for data in pages.values()] == [b"%PDF-"]


def test_what_is_no_job_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    for ask in (job_layers, job_facts, job_text, lambda job: job_pdfs(job, None)):
        with pytest.raises(TypeError, match="job of job_"):
            ask("corset.toml")
    file = write_job(tmp_path, panels(half(3)))
    with pytest.raises(TypeError, match="options of job_pdfs"):
        job_pdfs(open_job(file), "a4")
    with pytest.raises(PanelshiftError, match="values for keys that are not there"):
        open_job(file, {"stack.fabric.felt.thickness": 1})
    with pytest.raises(PanelshiftError, match="cannot read"):
        open_job(tmp_path / "none.toml")

    def no_way(path: object, start: object) -> str:
        raise ValueError("path is on mount 'C:', start on mount 'D:'")

    job = open_job(file)
    monkeypatch.setattr(opened.os.path, "relpath", no_way)
    with pytest.raises(PanelshiftError, match="no path leads from"):
        job_text(job)
    assert with_overrides({}, {}) == {}
