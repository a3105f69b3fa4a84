"""A job with a directory of its own has no say in how the others are called."""

from __future__ import annotations

from pathlib import Path

from panelshift.batch import BatchJob, Outcome
from panelshift.batch.folders import settle
from tests.support.batches import told


def test_only_names_in_the_batch_s_directory_are_told_apart() -> None:
    jobs = [BatchJob("Ann", "a.toml", out="elsewhere"), BatchJob("ann", "a.toml")]
    assert [item.out for item in settle(jobs, "out")] == ["elsewhere", "out/ann"]


def test_paths_of_a_job_start_where_it_lies_or_where_it_is_said(tmp_path: Path) -> None:
    (tmp_path / "jobs").mkdir()
    (tmp_path / "jobs" / "a.toml").write_text("", encoding="utf-8")
    for folder, start in ((None, "jobs"), ("drafts", "drafts")):
        assert BatchJob("a", "jobs/a.toml", folder=folder).data(tmp_path)[1] == tmp_path / start
    assert BatchJob("a", {}, folder="drafts").data(tmp_path) == ({}, tmp_path / "drafts")


def test_what_is_unchanged_has_its_files_and_what_failed_has_not() -> None:
    outcomes = [
        Outcome("a", "done"),
        Outcome("b", "unchanged"),
        Outcome("c", "failed", error="bad"),
        Outcome("d", "unchanged"),
    ]
    text = told(outcomes, "out")
    assert "3 of 4 jobs have their files" in text
    rows = dict(line.rsplit(maxsplit=1) for line in text.splitlines()[2:5])
    assert rows == {"done": "1", "unchanged since the last run": "2", "failed": "1"}
