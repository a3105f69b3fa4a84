"""Ever so many jobs: one by one, in 256 directories, and told as unchanged without being opened."""

from __future__ import annotations

import csv
import itertools
import json
import os
import sqlite3
from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path
from typing import Any

import pytest

from panelshift.batch import (
    BatchJob,
    Outcome,
    dispatch,
    iter_many,
    iter_table,
    read_table,
    run_many,
    worker,
)
from panelshift.batch.folders import SHARDED_BEYOND, settle, sharded
from panelshift.batch.index import ASKED_AT_ONCE, INDEX_NAME
from panelshift.batch.jobs import SettledJob
from panelshift.batch.running import cores
from panelshift.batch.worker import WorkOrder
from panelshift.errors import JobError, OutputError
from tests.support.batches import Inline, base_job, clients, inline, statuses
from tests.support.drawings import Draft, panels, svg
from tests.support.terminal import run


@pytest.fixture
def job(tmp_path: Path) -> Path:
    return base_job(tmp_path / "in")


@pytest.fixture
def out(tmp_path: Path) -> Path:
    return tmp_path / "out"


def pretend(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Have jobs done without doing anything; returns the names of those that were."""
    done: list[str] = []

    def carry_out(jobs: Sequence[SettledJob], order: WorkOrder) -> list[Outcome]:
        done.extend(item.job.name for item in jobs)
        return [Outcome(item.job.name, "done", {f"{item.out}/a.svg": "00"}) for item in jobs]

    monkeypatch.setattr(dispatch, "carry_out", carry_out)
    return done


def named(names: Iterable[Any]) -> Iterator[BatchJob]:
    return (BatchJob(str(name), {}) for name in names)


# -- one by one ---------------------------------------------------------------------------


@pytest.mark.slow
def test_jobs_are_asked_for_as_outcomes_are_taken(
    out: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    pretend(monkeypatch)
    asked = itertools.count()
    endless = named(next(asked) for _ in itertools.count())
    outcomes = iter_many(endless, executor=Inline(), out=out)
    first = [next(outcomes).name for _ in range(3_000)]
    assert len(set(first)) == 3_000
    ahead = dispatch._AHEAD * dispatch._LARGEST_CHUNK * 64
    assert next(asked) <= 3_000 + SHARDED_BEYOND + 1 + ahead
    outcomes.close()
    # What was opened is closed: another batch may begin.
    assert next(iter_many(named(range(1)), executor=Inline(), out=out)).status == "done"


@pytest.mark.parametrize("apart", [1, ASKED_AT_ONCE, 2 * ASKED_AT_ONCE])
def test_two_jobs_of_one_name_are_not_both_done(
    out: Path, monkeypatch: pytest.MonkeyPatch, apart: int
) -> None:
    done = pretend(monkeypatch)
    different = [f"other {k}" for k in range(apart)]
    found = list(iter_many(named(["a", *different, "a", "a"]), executor=Inline(), out=out))
    assert sorted(done) == sorted(["a", *different])
    doubled = [outcome for outcome in found if outcome.status == "failed"]
    assert [outcome.name for outcome in doubled] == ["a", "a"]
    assert all("another job of this batch has its directory" in each.error for each in doubled)


def test_a_batch_wants_workers(out: Path) -> None:
    with pytest.raises(ValueError, match="workers must be at least 1"):
        next(iter_many(named(range(1)), out=out, workers=0))
    assert list(iter_many([], executor=Inline(), out=out)) == []


def test_two_batches_do_not_work_in_one_directory(
    out: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    pretend(monkeypatch)
    running = iter_many(named(range(2_000)), executor=Inline(), out=out)
    next(running)
    with pytest.raises(OutputError, match="another batch is at work there"):
        run_many(named(range(1)), executor=Inline(), out=out)
    running.close()


# -- where they lie -----------------------------------------------------------------------


def test_many_jobs_lie_in_256_directories_whatever_their_order(out: Path) -> None:
    jobs = [BatchJob(f"client {k}", {}) for k in range(SHARDED_BEYOND + 1)]
    settled = settle(jobs, "out")
    assert [item.out for item in settle(jobs[::-1], "out")] == [item.out for item in settled][::-1]
    assert settled[7] == sharded(jobs[7], "out")
    assert len({Path(item.out).parent for item in settled}) > 200
    assert len({item.out for item in settled}) == len(jobs)
    assert {item.out for item in settle(jobs[1:], "out")}.isdisjoint(i.out for i in settled)
    with pytest.raises(JobError, match="there is no directory"):
        sharded(jobs[0], None)
    assert sharded(BatchJob("own", {}, out="mine"), None).out == "mine"


def test_a_batch_that_grows_or_shrinks_keeps_its_directories(
    job: Path, out: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    small = inline(clients(job, 2), out)
    from panelshift.batch import folders as placing

    monkeypatch.setattr(placing, "SHARDED_BEYOND", 2)
    grown = inline(clients(job, 3), out)
    assert statuses(grown) == ["unchanged", "unchanged", "done"]
    assert [outcome.files for outcome in grown[:2]] == [outcome.files for outcome in small]
    monkeypatch.setattr(placing, "SHARDED_BEYOND", 1_000)
    assert placing.present(out / "none") == placing.present(None) == frozenset()
    assert statuses(inline(clients(job, 3), out)) == ["unchanged"] * 3


# -- what is unchanged --------------------------------------------------------------------


def test_what_was_not_touched_is_not_even_opened(
    job: Path, out: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    first = inline(clients(job, 3), out)
    opened = pretend(monkeypatch)
    again = inline(clients(job, 4), out)
    assert opened == ["client 3"]
    assert [(o.name, o.files, o.warnings) for o in again[:3]] == [
        (o.name, o.files, o.warnings) for o in first
    ]
    assert statuses(inline(clients(job, 1), out, resume=False)) == ["done"]


@pytest.mark.parametrize(
    "touched", ["in/draft.svg", "in/job.toml", "out/client-0/overlay.svg", "out/client-0/.record"]
)
def test_what_was_touched_is_looked_at_by_its_content(
    touched: str, job: Path, out: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    inline(clients(job, 1), out)
    path = job.parent.parent / touched.replace(".record", worker.RECORD_NAME)
    path.write_bytes(path.read_bytes())
    looked: list[str] = []
    real = dispatch.carry_out

    def carry_out(jobs: Sequence[SettledJob], order: WorkOrder) -> list[Outcome]:
        looked.extend(item.job.name for item in jobs)
        return real(jobs, order)

    monkeypatch.setattr(dispatch, "carry_out", carry_out)
    for _ in range(2):
        assert statuses(inline(clients(job, 1), out)) == ["unchanged"]
    assert looked == ["client 0"]  # once: then the index knows it again


def test_a_drawing_touched_meanwhile_is_not_taken_for_known(
    job: Path, out: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    real = worker.shift_job

    def touching(*arguments: Any) -> Any:
        drawing = job.parent / "draft.svg"
        drawing.write_bytes(drawing.read_bytes())
        return real(*arguments)

    monkeypatch.setattr(worker, "shift_job", touching)
    (outcome,) = inline(clients(job, 1), out)
    assert (outcome.status, outcome.stamp) == ("done", "")


@pytest.mark.parametrize("content", [b"no index", b"SQLite format 3\x00" + bytes(200)])
def test_an_index_that_is_lost_is_made_again(job: Path, out: Path, content: bytes) -> None:
    inline(clients(job, 2), out)
    (out / INDEX_NAME).write_bytes(content)
    assert statuses(inline(clients(job, 2), out)) == ["unchanged"] * 2
    store = sqlite3.connect(out / INDEX_NAME)
    store.execute("pragma user_version = 99")
    store.close()
    assert statuses(inline(clients(job, 2), out)) == ["unchanged"] * 2
    (out / INDEX_NAME).unlink()
    (out / INDEX_NAME).mkdir()
    assert statuses(inline(clients(job, 2), out)) == ["unchanged"] * 2


@pytest.mark.slow
def test_drawings_that_take_turns_are_each_read_once(
    job: Path, out: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from panelshift.job import drafted

    other = job.parent / "other.svg"
    other.write_text(svg(panels([Draft("1", x=60.0), Draft("2", x=160.0)])))
    reads: list[Path] = []
    real = drafted.read_drawing

    def counted(path: Path, **how: Any) -> Any:
        reads.append(Path(path))
        return real(path, **how)

    monkeypatch.setattr(drafted, "read_drawing", counted)
    jobs = [
        BatchJob(f"{k}", job, {"pattern.file": ("draft.svg", "other.svg")[k % 2]}) for k in range(4)
    ]
    assert statuses(inline(jobs, out)) == ["done"] * 4
    assert sorted(path.name for path in reads) == ["draft.svg", "other.svg"]
    monkeypatch.setattr(worker, "_MOST_KEPT", 1)
    inline(jobs[:3], out, resume=False)
    assert len(reads) == 4


# -- tables of any size -------------------------------------------------------------------

HEADS = "name,pattern.lacing_gap,stack.fabric.brocade.thickness"


def test_bad_rows_fail_and_the_others_are_done(job: Path, out: Path) -> None:
    table = job.parent / "clients.csv"
    table.write_text(f"{HEADS},\nAnn,20,0.7,\n,30,,\nBo,wide,,\n\nCy,,,,x\nDo,,,odd\nAnn,40,,\n")
    found: dict[str, set[str]] = {}
    how = {"executor": Inline(), "out": out, "summary": True}
    for outcome in iter_many(iter_table(table, job), **how):
        found.setdefault(outcome.name, set()).add(outcome.error or outcome.status)
    for name, words in (
        ("Ann", "another job of this batch"),
        ("row 3", "clients.csv, row 3: column name: is empty"),
        ("Bo", "clients.csv, row 4"),
        ("Bo", "pattern.lacing_gap: 'wide' is not a length"),
        ("Cy", "has a cell without a heading above it"),
        ("Do", "has a cell without a heading above it"),
    ):
        assert any(words in error for error in found[name])
    assert "done" in found["Ann"]
    assert [o.status for o in iter_many(iter_table(table, job), **how)].count("unchanged") == 1
    lines = list(csv.DictReader((out / "summary.csv").read_text().splitlines()))
    assert [line["status"] for line in lines] == ["unchanged", *["failed"] * 5]
    assert [line["name"] for line in lines] == ["Ann", "row 3", "Bo", "Cy", "Do", "Ann"]
    assert json.loads((out / "summary.json").read_text())[0]["files"] == int(lines[0]["files"]) > 4


def test_a_table_that_is_kept_going_on_is_read_row_by_row(
    job: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    given: list[BatchJob] = []

    def taken(work: Iterable[BatchJob], **_: object) -> Iterator[Outcome]:
        given.extend(work)
        return iter(())

    monkeypatch.setattr("panelshift.batch.iter_many", taken)
    rows = f"{HEADS}\nAnn,20,0.7\n,30,\nBo,wide,\n".encode()
    options = ("--table", "-", "--keep-going", "--out", tmp_path / "o")
    made = run("batch", job, *options, given=rows)
    assert made.exit_code == 0, made.stderr
    assert [(row.name, bool(row.fault)) for row in given] == [
        ("Ann", False),
        ("row 3", True),
        ("Bo", False),
    ]


def test_the_cores_of_a_machine_that_does_not_say_which_are_ours(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    assert cores() >= 1
    monkeypatch.delattr(os, "sched_getaffinity", raising=False)
    for count, found in ((6, 6), (None, 1)):
        monkeypatch.setattr(os, "cpu_count", lambda count=count: count)
        assert cores() == found


def test_headings_and_files_are_refused_at_once(job: Path, tmp_path: Path) -> None:
    table = tmp_path / "t.csv"
    for content, words in (
        (b"name,body.girts.waist\nAnn,1\n", "body.girts"),
        (b"gap\n1\n", "has no column 'name'"),
        (b"\xff\n", "not a text file in UTF-8"),
        (b'name\n"Ann\n', "line 2"),
    ):
        table.write_bytes(content)
        with pytest.raises(JobError, match=words):
            list(iter_table(table, job))
    with pytest.raises(JobError, match="cannot read: No such file"):
        list(iter_table(tmp_path / "none.csv", job))
    assert (
        "--keep-going is for the rows"
        in run("batch", job, "--keep-going", "--out", tmp_path / "o").stderr
    )


def test_rows_complete_a_starting_job(job: Path, out: Path) -> None:
    job.write_text(job.read_text().replace("thickness = 0.8", 'thickness = "measure me"'))
    table = job.parent / "clients.csv"
    table.write_text(f"{HEADS}\nAnn,20,0.7\nBo,30,\n")
    outcomes = iter_many(iter_table(table, job), executor=Inline(), out=out)
    failed, done = sorted(outcomes, key=lambda outcome: outcome.name, reverse=True)
    assert (done.status, failed.status) == ("done", "failed")
    assert "'measure me' is not a length" in failed.error
    with pytest.raises(JobError, match=r"row 3 \(Bo\).*'measure me' is not a length"):
        read_table(table, job)
    # A cell is told by its own faults alone: not by what the job lacks and another cell gives.
    table.write_text(f"{HEADS}\nAnn,-5,0.7\nBo,-6,\n")
    with pytest.raises(JobError) as refused:
        read_table(table, job)
    ann, bo, thickness = refused.value.problem.splitlines()[1:]
    assert ann.startswith("    row 2 (Ann), column pattern.lacing_gap: pattern.lacing_gap: must be")
    assert "measure me" not in ann + bo
    assert thickness.startswith("    row 3 (Bo): stack.fabric[3] (")
    table.write_text(f"{HEADS}\nAnn,20,0.7\n")
    assert read_table(table, job).jobs[0].load().stack.fabric[2].thickness == 0.7
    # What no column gives must be right by itself.
    job.write_text(job.read_text().replace("thickness = 0.2", 'thickness = "measure me"'))
    with pytest.raises(JobError, match=r"\(lining\).thickness"):
        read_table(table, job)


# -- the summary --------------------------------------------------------------------------


def test_a_summary_is_never_written_over_somebody_elses(job: Path, out: Path) -> None:
    for _ in range(2):
        inline([job], out, summary=True)
    assert (out / "summary.json").read_text().startswith('[\n {"name": "job"')
    (out / "summary.csv").write_text("mine")
    with pytest.raises(OutputError, match="that panelshift did not write"):
        inline([job], out, summary=True)
    inline([job], out, summary=True, overwrite=True)
    assert (out / "summary.csv").read_text().startswith("name,status")
    inline([], out, summary=True)
    assert json.loads((out / "summary.json").read_text()) == []


def test_a_summary_that_was_killed_at_any_step_is_our_own_for_the_next_run(
    out: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    pretend(monkeypatch)
    real = os.replace
    for step in range(3):
        names = [f"{step}", "other"]
        inline(list(named(["before"])), out, summary=True)
        count = iter(range(9))

        def killed(old: str, new: Path, *, at: int = step, count: Iterator[int] = count) -> None:
            if next(count) == at:
                raise KeyboardInterrupt
            real(old, new)

        with monkeypatch.context() as patch:
            patch.setattr(os, "replace", killed)
            # Nothing cleans up after a kill.
            patch.setattr(Path, "unlink", lambda self, missing_ok=False: None)
            with pytest.raises(KeyboardInterrupt):
                inline(list(named(names)), out, summary=True)
        assert any(path.name.startswith(".summary") for path in out.iterdir())
        inline(list(named(names)), out, summary=True)
        assert [x["name"] for x in json.loads((out / "summary.json").read_bytes())] == names
        assert not any(path.name.startswith(".summary") for path in out.iterdir())
