"""The index of a batch against an enemy: what it may not take for known, and what may befall it."""

from __future__ import annotations

import csv
import json
import os
import sqlite3
from collections.abc import Sequence
from contextlib import closing
from pathlib import Path

import pytest

from panelshift.batch import BatchJob, Outcome, dispatch
from panelshift.batch.index import INDEX_NAME, BatchIndex, stamp_of
from panelshift.batch.jobs import SettledJob
from panelshift.batch.worker import WorkOrder
from panelshift.errors import OutputError
from tests.support.batches import inline, statuses


@pytest.fixture
def quick(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Jobs of one small file each, made of a drawing beside their job file; names of those made."""
    done: list[str] = []

    def carry_out(jobs: Sequence[SettledJob], order: WorkOrder) -> list[Outcome]:
        return [made(item, order) for item in jobs]

    def made(item: SettledJob, order: WorkOrder) -> Outcome:
        done.append(item.job.name)
        source = os.path.join(order.base, os.fspath(item.job.source))
        file = os.path.join(item.out, "a.svg")
        os.makedirs(item.out, exist_ok=True)
        Path(file).write_bytes(Path(source).read_bytes())
        own = stamp_of([file, os.path.join(item.out, ".panelshift-batch.json")])
        sources = [(source, stamp_of([source]))]
        return Outcome(item.job.name, "done", {file: "00"}, sources=sources, stamp=own)

    monkeypatch.setattr(dispatch, "carry_out", carry_out)
    return done


def test_the_same_path_is_another_job_in_another_directory(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, quick: list[str]
) -> None:
    for name in ("one", "two"):
        (tmp_path / name).mkdir()
        (tmp_path / name / "job.toml").write_text(name)
        monkeypatch.chdir(tmp_path / name)
        inline([Path("job.toml")], tmp_path / "out")
        assert (tmp_path / "out" / "job" / "a.svg").read_text() == name


@pytest.mark.skipif(os.name != "posix", reason="the time that nobody sets is POSIX's")
@pytest.mark.parametrize("changed", ["job.toml", "out/job/a.svg"])
def test_as_many_bytes_with_their_time_set_back_are_touched_all_the_same(
    tmp_path: Path, quick: list[str], changed: str
) -> None:
    job = tmp_path / "job.toml"
    job.write_text("one")
    for _ in range(2):
        inline([job], tmp_path / "out")
    assert quick == ["job"]
    path = tmp_path / changed
    before = path.stat()
    path.write_text("two")
    os.utime(path, ns=(before.st_atime_ns, before.st_mtime_ns))
    inline([job], tmp_path / "out")
    assert quick == ["job", "job"]


def test_a_clock_that_went_back_makes_no_difference(tmp_path: Path, quick: list[str]) -> None:
    job = tmp_path / "job.toml"
    job.write_text("one")
    inline([job], tmp_path / "out")
    job.write_text("two")
    os.utime(job, (1, 1))
    inline([job], tmp_path / "out")
    assert (tmp_path / "out" / "job" / "a.svg").read_text() == "two"


def test_names_that_are_no_text_are_names(tmp_path: Path, quick: list[str]) -> None:
    # What a name in Latin 1 is on a system whose names are UTF-8: no file of it has to be there.
    strange = "caf\udce9"
    (tmp_path / "job.toml").write_text("one")
    jobs = [BatchJob(f"{strange} {k}", tmp_path / "job.toml") for k in range(2)]
    for status in ("done", "unchanged"):
        found = inline(jobs, tmp_path / "out", summary=True)
        assert statuses(found) == [status] * 2
        assert [outcome.name for outcome in found] == [job.name for job in jobs]
        told = json.loads((tmp_path / "out" / "summary.json").read_bytes())
        assert [line["name"] for line in told] == [job.name for job in jobs]
        text = (tmp_path / "out" / "summary.csv").read_text(encoding="utf-8")
        assert [row[0] for row in csv.reader(text.splitlines())][1:] == [
            r"caf\udce9 0",
            r"caf\udce9 1",
        ]


def test_an_index_that_is_damaged_inside_is_told_and_made_again(
    tmp_path: Path, quick: list[str]
) -> None:
    (tmp_path / "job.toml").write_text("one")
    jobs = [BatchJob(f"client {k}", tmp_path / "job.toml") for k in range(40)]
    out = tmp_path / "out"
    inline(jobs, out)
    content = bytearray((out / INDEX_NAME).read_bytes())
    content[4096:] = b"\xff" * len(content[4096:])
    (out / INDEX_NAME).write_bytes(content)
    with pytest.raises(OutputError, match=r"sqlite: the index of the batch is damaged, and was"):
        inline(jobs, out)
    assert not (out / INDEX_NAME).exists()
    assert statuses(inline(jobs, out)) == ["done"] * 40
    assert statuses(inline(jobs, out)) == ["unchanged"] * 40


def test_a_disk_that_is_full_for_the_index_is_told(tmp_path: Path) -> None:
    index = BatchIndex(tmp_path, (), "")
    item = SettledJob(BatchJob("one", {}), "one")
    index.begin([(0, item)], resume=True)
    index._store.execute("pragma max_page_count = 1")
    many = [(n, SettledJob(item.job, f"{n}" * 100)) for n in range(1, 1_000)]
    with pytest.raises(OutputError, match="cannot be kept up: database or disk is full"):
        index.begin(many, resume=True)
    with pytest.raises(OutputError, match="cannot be kept up"):
        index.keep(item, b"", Outcome("one", "failed"))
    index.close()
    with closing(sqlite3.connect(tmp_path / INDEX_NAME)) as store:
        assert store.execute("select * from jobs").fetchall() == []
