"""Jobs are handed out a few at a time, answered in order, and fail each by itself."""

from __future__ import annotations

import importlib
import os
import pickle
import random
import signal
import sys
import threading
import time
from collections.abc import Callable, Sequence
from concurrent.futures import (
    BrokenExecutor,
    Executor,
    Future,
    ProcessPoolExecutor,
    ThreadPoolExecutor,
)
from multiprocessing import get_context
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from panelshift.batch import BatchJob, Outcome, dispatch, iter_many, run_many, running, worker
from panelshift.batch.jobs import SettledJob
from panelshift.batch.products import makings
from panelshift.batch.worker import WorkOrder
from panelshift.errors import JobError, OutputError, ShiftError, WrongTypeError
from tests.support.batches import Inline, base_job, clients, inline, statuses
from tests.support.terminal import listing


def pretend(
    monkeypatch: pytest.MonkeyPatch, work: Callable[[str], str] = lambda name: ""
) -> list[list[str]]:
    """Replace the carrying out of jobs; returns the names of each chunk as it is begun."""
    chunks: list[list[str]] = []

    def carry_out(jobs: Sequence[SettledJob], order: WorkOrder) -> list[Outcome]:
        chunks.append([item.job.name for item in jobs])
        return [Outcome(item.job.name, "done", error=work(item.job.name)) for item in jobs]

    monkeypatch.setattr(dispatch, "carry_out", carry_out)
    return chunks


def named(count: int) -> list[BatchJob]:
    return [BatchJob(str(k), "none.toml") for k in range(count)]


# -- order and handing out ----------------------------------------------------------------


def test_results_keep_the_order_of_the_jobs_however_long_each_takes(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    durations = random.Random(6)

    def work(name: str) -> str:
        time.sleep(durations.choice([0.0, 0.001, 0.02]))
        return ""

    pretend(monkeypatch, work)
    seen: list[str] = []
    with ThreadPoolExecutor(8) as threads:
        outcomes = run_many(
            named(80),
            executor=threads,
            out=tmp_path,
            progress=lambda outcome, ended, total: seen.append(outcome.name),
        )
    assert [outcome.name for outcome in outcomes] == [str(k) for k in range(80)]
    assert sorted(seen) == sorted(str(k) for k in range(80))
    assert seen != [str(k) for k in range(80)]


def test_progress_counts_up_to_the_number_of_jobs(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    pretend(monkeypatch)
    counts: list[tuple[int, int]] = []
    inline(
        named(5),
        tmp_path,
        progress=lambda outcome, ended, total: counts.append((ended, total)),
    )
    assert counts == [(k, 5) for k in range(1, 6)]


class Counting(Executor):
    """Counts how many tasks, and how many jobs in them, are under way at once."""

    def __init__(self) -> None:
        self.threads = ThreadPoolExecutor(1)
        self.tasks = self.jobs = self.most_tasks = self.most_jobs = 0
        self.lock = threading.Lock()

    def submit(self, fn: Callable[..., Any], /, *args: Any, **kwargs: Any) -> Future[Any]:
        size = len(args[0])
        with self.lock:
            self.tasks, self.jobs = self.tasks + 1, self.jobs + size
            self.most_tasks = max(self.most_tasks, self.tasks)
            self.most_jobs = max(self.most_jobs, self.jobs)

        def counted() -> Any:
            try:
                return fn(*args, **kwargs)
            finally:
                with self.lock:
                    self.tasks, self.jobs = self.tasks - 1, self.jobs - size

        return self.threads.submit(counted)


@pytest.mark.slow
def test_ever_so_many_jobs_are_not_handed_over_all_at_once(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    chunks = pretend(monkeypatch)
    executor = Counting()
    with executor.threads:
        outcomes = run_many(named(20_000), executor=executor, out=tmp_path, workers=2)
    assert len(outcomes) == 20_000
    assert executor.most_tasks <= 2 * dispatch._AHEAD
    assert executor.most_jobs <= 2 * dispatch._AHEAD * dispatch._LARGEST_CHUNK
    # Short jobs go over many at once, and singly at the end, so that all workers end together.
    assert max(map(len, chunks)) == dispatch._LARGEST_CHUNK
    assert len(chunks[-1]) == 1


@pytest.mark.parametrize(("seconds", "most"), [(2.0, 1), (0.18, 2), (0.07, 7)])
def test_as_many_jobs_are_handed_over_at_once_as_take_half_a_second(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, seconds: float, most: int
) -> None:
    """All of them, once it is known what they take; singly in the beginning and at the end."""
    sizes: list[int] = []

    def slow(jobs: Sequence[SettledJob], order: WorkOrder) -> list[Outcome]:
        sizes.append(len(jobs))
        return [Outcome(item.job.name, "done", seconds=seconds) for item in jobs]

    monkeypatch.setattr(dispatch, "carry_out", slow)
    inline(named(150), tmp_path, workers=1)
    assert sum(sizes) == 150
    assert sizes[0] == sizes[-1] == 1
    assert sizes[len(sizes) // 2] == max(sizes) == most


def test_no_jobs_give_no_outcomes(tmp_path: Path) -> None:
    assert run_many([], out=tmp_path) == []


def test_jobs_may_come_from_a_generator(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    pretend(monkeypatch)
    outcomes = run_many((job for job in named(3)), executor=Inline(), out=tmp_path)
    assert [outcome.name for outcome in outcomes] == ["0", "1", "2"]


def test_interrupted_run_takes_back_what_it_has_handed_over(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def slowly(name: str) -> str:
        time.sleep(0.01)
        return ""

    started = pretend(monkeypatch, slowly)

    def stop(outcome: Outcome, ended: int, total: int) -> None:
        raise KeyboardInterrupt

    with ThreadPoolExecutor(1) as threads, pytest.raises(KeyboardInterrupt):
        run_many(named(500), executor=threads, out=tmp_path, progress=stop)
    assert len(started) < 10


# -- failures -----------------------------------------------------------------------------


def test_failure_of_one_job_is_told_and_the_rest_is_done(tmp_path: Path) -> None:
    job = base_job(tmp_path / "in")
    jobs = clients(job, 3)
    jobs[1] = BatchJob("thick", job, {"stack.fabric.brocade.thickness": 99})
    outcomes = inline(jobs, tmp_path / "out")
    assert statuses(outcomes) == ["done", "failed", "done"]
    assert outcomes[1].files == {}
    assert "stack.fabric[3] (brocade).thickness" in outcomes[1].error
    assert "What to do: " in outcomes[1].error
    made = sorted(p.name for p in (tmp_path / "out").iterdir() if p.is_dir())
    assert made == ["client-0", "client-2"]
    # Whoever asks for no summary gets none.
    assert not list((tmp_path / "out").glob("summary*"))


def test_failure_while_shifting_is_told_as_the_single_command_tells_it(tmp_path: Path) -> None:
    job = base_job(tmp_path / "in")
    wrong = BatchJob("wrong", job, {"pattern.drafted_waist": 999})
    (outcome,) = inline([wrong], tmp_path / "out")
    assert "the pattern's waist is" in outcome.error
    assert outcome.error.count("What to do: ") == 1
    assert not (tmp_path / "out" / "wrong").exists()


def test_job_file_that_is_not_there_fails_by_itself(tmp_path: Path) -> None:
    job = base_job(tmp_path / "in")
    outcomes = inline([tmp_path / "none.toml", job], tmp_path / "out")
    assert statuses(outcomes) == ["failed", "done"]
    assert "cannot read: No such file or directory" in outcomes[0].error


def test_unexpected_error_is_told_as_a_fault_of_the_program(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    real = worker.make

    def sometimes(job: Any, *rest: Any) -> Any:
        if job.gap == 11.0:
            raise ZeroDivisionError("division by nothing")
        return real(job, *rest)

    monkeypatch.setattr(worker, "make", sometimes)
    outcomes = inline(clients(base_job(tmp_path / "in"), 3), tmp_path / "out")
    assert statuses(outcomes) == ["done", "failed", "done"]
    assert outcomes[1].error.startswith("unexpected ZeroDivisionError: division by nothing (")
    assert "fault of panelshift" in outcomes[1].error
    # A file name and a line, but no directory of the machine.
    assert "/" not in outcomes[1].error.split("(")[1].split(")")[0]


def test_directory_that_cannot_be_written_fails_its_job_only(tmp_path: Path) -> None:
    job = base_job(tmp_path / "in")
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / "client-0").write_text("in the way")
    outcomes = inline(clients(job, 2), tmp_path / "out")
    assert statuses(outcomes) == ["failed", "done"]
    assert "cannot write" in outcomes[0].error


def test_job_does_not_write_over_its_own_drawing(tmp_path: Path) -> None:
    job = base_job(tmp_path / "in")
    drawing = tmp_path / "in" / "overlay.svg"
    (tmp_path / "in" / "draft.svg").rename(drawing)
    before = drawing.read_bytes()
    own = BatchJob("own", job, {"pattern.file": "overlay.svg"}, out=tmp_path / "in")
    job.write_text(job.read_text().replace("draft.svg", "overlay.svg"))
    (outcome,) = inline([own], tmp_path / "out")
    assert "would replace the file it is made from" in outcome.error
    assert drawing.read_bytes() == before


# -- executors ----------------------------------------------------------------------------


@pytest.fixture(scope="module")
def expected(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, dict[str, bytes | None]]:
    """A job for six clients, and all that it comes to."""
    folder = tmp_path_factory.mktemp("expected")
    job = base_job(folder / "in")
    inline(clients(job, 6), folder / "out")
    return job, listing(folder / "out")


@pytest.mark.slow
def test_threads_make_the_same_bytes(tmp_path: Path, expected: Any) -> None:
    job, files = expected
    with ThreadPoolExecutor(4) as threads:
        outcomes = run_many(clients(job, 6), executor=threads, out=tmp_path)
    assert statuses(outcomes) == ["done"] * 6
    assert listing(tmp_path) == files


@pytest.mark.slow
def test_processes_make_the_same_bytes(tmp_path: Path, expected: Any) -> None:
    job, files = expected
    with ProcessPoolExecutor(2, mp_context=get_context("spawn")) as processes:
        outcomes = run_many(clients(job, 6), executor=processes, out=tmp_path)
    assert statuses(outcomes) == ["done"] * 6
    assert listing(tmp_path) == files


class _Deadly(dict[str, Any]):
    """Job data that kills the process which receives it."""

    def __deepcopy__(self, _memo: object) -> _Deadly:
        return self

    def __repr__(self) -> str:
        return "deadly"

    def __reduce__(self) -> tuple[Any, ...]:
        return __import__("os")._exit, (3,)


@pytest.mark.slow
def test_own_processes_outlive_the_death_of_one(tmp_path: Path, expected: Any) -> None:
    """Also a job that cannot be handed over fails alone, and the working directory counts."""
    job, files = expected
    good = clients(job, 6)
    jobs = [
        *good[:2],
        BatchJob("deadly", _Deadly()),
        *good[2:4],
        BatchJob("odd", {"pattern": lambda: 0}),
        *good[4:],
    ]
    outcomes = run_many(jobs, out=tmp_path, workers=2)
    assert [o.name for o in outcomes] == [job.name for job in jobs]
    lost = {o.name: o.error for o in outcomes if o.status == "failed"}
    assert set(lost) == {"deadly", "odd"}
    assert "its process ended abruptly" in lost["deadly"]
    assert "could not be handed to a worker" in lost["odd"]
    assert listing(tmp_path) == files


def test_broken_executor_of_the_caller_fails_all_and_returns(tmp_path: Path) -> None:
    class Broken(Executor):
        def submit(self, *args: Any, **kwargs: Any) -> Any:
            raise BrokenExecutor("gone")

    outcomes = run_many(named(30), executor=Broken(), out=tmp_path)
    assert statuses(outcomes) == ["failed"] * 30


def test_processes_that_keep_dying_are_given_up(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    renewed: list[int] = []

    class Doomed:
        def __init__(self, *args: Any) -> None:
            pass

        def submit(self, *args: Any) -> Any:
            raise BrokenExecutor("gone")

        def renew(self) -> None:
            renewed.append(1)

        def close(self) -> None:
            renewed.append(0)

    monkeypatch.setattr(running, "LocalPool", Doomed)
    assert statuses(run_many(named(50), out=tmp_path)) == ["failed"] * 50
    assert renewed == [1] * (dispatch._MOST_DEATHS - 1) + [0]


def test_closed_executor_is_the_callers_error(tmp_path: Path) -> None:
    threads = ThreadPoolExecutor(1)
    threads.shutdown()
    with pytest.raises(RuntimeError, match="after shutdown"):
        run_many(named(2), executor=threads, out=tmp_path)


def test_relative_paths_start_where_the_batch_was_started(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    base_job(tmp_path / "in")
    elsewhere = tmp_path / "elsewhere"
    elsewhere.mkdir()
    monkeypatch.chdir(tmp_path)
    real = dispatch.carry_out

    def far_away(jobs: Sequence[SettledJob], order: WorkOrder) -> list[Outcome]:
        monkeypatch.chdir(elsewhere)
        try:
            return real(jobs, order)
        finally:
            monkeypatch.chdir(tmp_path)

    monkeypatch.setattr(dispatch, "carry_out", far_away)
    data = {
        "pattern": {"file": "in/draft.svg"},
        "stack": {"fabric": [{"name": "one", "thickness": 1}]},
    }
    outcomes = inline([Path("in/job.toml"), BatchJob("data", data)], Path("out"))
    assert statuses(outcomes) == ["done", "done"]
    assert "out/job/overlay.svg" in outcomes[0].files
    assert (tmp_path / "out" / "data" / "overlay.svg").exists()
    assert listing(elsewhere) == {}


# -- what is refused at once --------------------------------------------------------------


def test_unknown_product_is_refused_before_anything_is_done(tmp_path: Path) -> None:
    with pytest.raises(JobError, match="unknown product 'knit'") as caught:
        run_many(["a.toml"], out=tmp_path / "out", products=("cut", "knit"))
    assert "cut, tile, fit" in str(caught.value)
    with pytest.raises(JobError, match="no product is asked for"):
        run_many(["a.toml"], out=tmp_path / "out", products=())
    assert listing(tmp_path) == {}


def test_less_than_one_worker_is_refused(tmp_path: Path) -> None:
    with pytest.raises(ValueError, match="workers must be at least 1, not 0"):
        run_many(["a.toml"], out=tmp_path, workers=0)


@pytest.mark.parametrize("name", ["file", "file/sub"])
def test_impossible_directory_is_refused(tmp_path: Path, name: str) -> None:
    (tmp_path / "file").write_text("")
    with pytest.raises(OutputError, match="cannot make the directory"):
        run_many(["a.toml"], out=tmp_path / name)


def test_outcomes_pickle_and_compare_without_their_time() -> None:
    outcome = Outcome("Ann", "done", {"a.svg": "00"}, warnings=("look",), seconds=1.5)
    copy = pickle.loads(pickle.dumps(outcome))
    assert copy == outcome
    assert copy.seconds == 1.5
    # What serves the batch alone neither counts nor is shown.
    assert Outcome("Ann", "done", seconds=1.0) == Outcome("Ann", "done", seconds=2.0)
    served = Outcome("Ann", "done", sources=[("a.toml", "1")], stamp="2")
    assert served == Outcome("Ann", "done")
    assert repr(served) == repr(Outcome("Ann", "done"))
    with pytest.raises(AttributeError):
        outcome.status = "failed"  # type: ignore[misc]


def test_errors_cross_processes_whole() -> None:
    error = ShiftError("folds", remedy="thinner", source="a.svg", element="front")
    assert str(pickle.loads(pickle.dumps(error))) == str(error)


def test_process_is_made_ready_even_if_something_cannot_be_imported(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def missing(making: Any) -> None:
        raise ImportError("no such module")

    ignored: list[tuple[Any, ...]] = []
    monkeypatch.setattr(worker, "preload", missing)
    monkeypatch.setattr(worker.signal, "signal", lambda *arguments: ignored.append(arguments))
    # A thread waits for the end of the process that started this one, and ends this one then.
    ended, done = [], threading.Event()
    parent = SimpleNamespace(join=lambda: ended.append("parent"))
    monkeypatch.setattr(worker, "parent_process", lambda: parent)
    monkeypatch.setattr(worker.os, "_exit", lambda code: (ended.append("self"), done.set()))
    worker.start_process(makings(["cut"]))
    assert ignored == [(signal.SIGINT, signal.SIG_IGN)]
    assert done.wait(10.0)
    assert ended == ["parent", "self"]


def test_a_process_does_not_see_the_program_that_starts_it() -> None:
    main = sys.modules["__main__"]
    with running._main_hidden():
        hidden = sys.modules["__main__"]
    assert hidden is not main
    assert not hasattr(hidden, "__file__")
    assert sys.modules["__main__"] is main


# -- one pattern for many jobs ------------------------------------------------------------


@pytest.mark.slow
def test_jobs_that_share_a_pattern_read_it_once_until_it_changes(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    drafting = importlib.import_module("panelshift.job.drafted")
    job = base_job(tmp_path / "job")
    reads = []
    real = drafting.read_drawing

    def counted(path: Path, **how: Any) -> Any:
        reads.append(path)
        return real(path, **how)

    monkeypatch.setattr(drafting, "read_drawing", counted)
    first = inline(clients(job, 3), tmp_path / "out")
    assert statuses(first) == ["done"] * 3
    assert len(reads) == 1
    drawing = reads[0]
    drawing.write_text(drawing.read_text().replace("</svg>", "<!-- moved --></svg>"))
    second = inline(clients(job, 3), tmp_path / "out")
    assert len(reads) == 2
    assert [a.files for a in first] == [b.files for b in second]


@pytest.mark.slow
def test_a_worker_has_one_thread_for_its_matrices(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("OPENBLAS_NUM_THREADS", raising=False)
    pool = running.LocalPool(1, [])
    try:
        assert pool.submit(os.getenv, "OPENBLAS_NUM_THREADS").result() == "1"
    finally:
        pool.close()
    assert "OPENBLAS_NUM_THREADS" not in os.environ


# -- what the system refuses --------------------------------------------------------------


@pytest.mark.parametrize("at", ["__init__", "submit"])
def test_processes_that_cannot_be_started_are_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, at: str
) -> None:
    def refuse(self: object, *given: object, **named: object) -> None:
        raise OSError(24, "Too many open files")

    monkeypatch.setattr(running.ProcessPoolExecutor, at, refuse)
    with pytest.raises(OutputError, match="cannot start a process to work in: Too many open"):
        run_many(named(3), out=tmp_path, workers=2)


def test_a_working_directory_that_is_gone_is_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def gone() -> str:
        raise FileNotFoundError(2, "No such file or directory")

    job = base_job(tmp_path)
    monkeypatch.setattr(os, "getcwd", gone)
    for jobs in ([job], [BatchJob("one", job)]):
        with pytest.raises(OutputError, match="the directory in which panelshift is at work"):
            inline(jobs, tmp_path / "out")


@pytest.mark.parametrize("job", [None, 5, b"job.toml", ("a", "b")])
def test_what_is_no_job_is_refused(tmp_path: Path, job: object) -> None:
    for run in (run_many, iter_many):
        with pytest.raises(WrongTypeError, match="one of the jobs is"):
            list(run([job], executor=Inline(), out=tmp_path))  # type: ignore[list-item]


@pytest.mark.skipif(not hasattr(signal, "pthread_sigmask"), reason="no signals are held back here")
def test_a_worker_that_is_not_ready_yet_leaves_ctrl_c_to_the_one_that_started_it(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    masks: list[set[int]] = []

    def started(process: object) -> None:
        # What the process is born with.
        masks.append(signal.pthread_sigmask(signal.SIG_BLOCK, ()))

    monkeypatch.setattr(running.SpawnProcess, "_Popen", started)
    before = signal.pthread_sigmask(signal.SIG_BLOCK, ())
    running._Process._Popen(None)
    assert masks == [before | {signal.SIGINT}]
    assert signal.pthread_sigmask(signal.SIG_BLOCK, ()) == before
