"""How many jobs a second: one worker process against two, a cluster of one against one of two,
and memory for a hundred thousand.

One and two workers take turns, so that whatever else the machine does falls on both; the median
of the ratios is what counts. Starting the processes is part of each time. A machine that is busy
otherwise gives the batch a share that does not depend on the number of its processes, and shows
nothing: how many cores others took is recorded.
"""

from __future__ import annotations

import shutil
import statistics
import time
import tracemalloc
from collections import Counter
from collections.abc import Callable, Sequence
from concurrent.futures import Executor, Future
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import pytest
from pytest_benchmark.fixture import BenchmarkFixture

from panelshift.batch import BatchJob, Outcome, dispatch, iter_many, run_many
from panelshift.batch.index import INDEX_NAME, stamp_of
from panelshift.batch.jobs import SettledJob
from panelshift.batch.record import RECORD_NAME
from panelshift.batch.worker import WorkOrder

from .machine import Watch

SAMPLE = Path(__file__).parents[2] / "sample_patterns" / "hourglass.toml"
JOBS: Final = 60
ROUNDS: Final = 3
EMPTY_JOBS: Final = 100_000
KNOWN_JOBS: Final = 5_000
FILES: Final = (*(f"layer-{k}-fabric.svg" for k in range(1, 7)), "overlay.svg", "cutting-list.csv")

pytestmark = pytest.mark.benchmark(timer=time.perf_counter)


@dataclass(frozen=True)
class Run:
    """One batch: seconds it took, seconds of computing by its workers and by its parent."""

    seconds: float
    workers: float
    parent: float
    others: float
    """Cores that other processes of the machine took meanwhile."""


def bench_two_workers(benchmark: BenchmarkFixture, tmp_path: Path) -> None:
    """`panelshift batch` of the same jobs with one worker and with two."""
    found: dict[int, list[Run]] = {1: [], 2: []}

    def take_turns() -> None:
        for turn in range(ROUNDS):
            # Also which comes first takes turns.
            for workers in (1, 2) if turn % 2 == 0 else (2, 1):
                found[workers].append(_timed(workers, tmp_path / f"workers-{workers}"))

    benchmark.pedantic(take_turns)
    _keep_ratios(benchmark, found)
    for workers, runs in found.items():
        benchmark.extra_info[f"{workers} workers"] = {
            "jobs a second": JOBS / statistics.median(run.seconds for run in runs),
            "worker ms a job": 1e3 * statistics.median(run.workers for run in runs) / JOBS,
            "parent ms a job": 1e3 * statistics.median(run.parent for run in runs) / JOBS,
        }


def bench_cluster_of_two(benchmark: BenchmarkFixture, tmp_path: Path) -> None:
    """The same by clusters that have started and carried a few jobs out, as one that is kept."""
    distributed = pytest.importorskip("distributed", reason="pip install 'panelshift[dask]'")
    dask = pytest.importorskip("dask")
    found: dict[int, list[Run]] = {1: [], 2: []}

    def take_turns() -> None:
        for turn in range(ROUNDS):
            for workers in (1, 2) if turn % 2 == 0 else (2, 1):
                with (
                    distributed.LocalCluster(
                        n_workers=workers, threads_per_worker=1, dashboard_address=None
                    ) as cluster,
                    distributed.Client(cluster, timeout="60s") as client,
                ):
                    kept = client.get_executor()
                    _timed(workers, tmp_path / "first", kept, jobs=2 * workers)
                    found[workers].append(_timed(workers, tmp_path / f"cluster-{workers}", kept))

    with dask.config.set({"temporary_directory": str(tmp_path / "dask")}):
        benchmark.pedantic(take_turns)
    _keep_ratios(benchmark, found)
    benchmark.extra_info["jobs a second"] = JOBS / statistics.median(r.seconds for r in found[2])


def bench_batch_memory(
    benchmark: BenchmarkFixture, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Memory of the process that hands jobs out one by one, with work that takes no time."""

    def nothing(jobs: Sequence[SettledJob], order: WorkOrder) -> list[Outcome]:
        return [Outcome(item.job.name, "done", dict.fromkeys(FILES, "0" * 64)) for item in jobs]

    monkeypatch.setattr(dispatch, "carry_out", nothing)
    benchmark.pedantic(_counted, args=(tmp_path / "timed", EMPTY_JOBS))
    peaks = {}
    for count in (EMPTY_JOBS // 10, EMPTY_JOBS):
        tracemalloc.start()
        _counted(tmp_path / str(count), count)
        peaks[count] = tracemalloc.get_traced_memory()[1]
        tracemalloc.stop()
    benchmark.extra_info["peaks"] = list(peaks.values())
    index = (tmp_path / "timed" / INDEX_NAME).stat().st_size
    benchmark.extra_info["index bytes a job"] = index / EMPTY_JOBS


def bench_batch_resume(
    benchmark: BenchmarkFixture, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Processor time of each job that is done and was not touched since."""
    sources = [(str(SAMPLE), stamp_of([str(SAMPLE)]))]

    def empty_files(jobs: Sequence[SettledJob], order: WorkOrder) -> list[Outcome]:
        found = []
        for item in jobs:
            Path(item.out).mkdir(parents=True)
            files = [f"{item.out}/{name}" for name in (*FILES, RECORD_NAME)]
            for file in files:
                Path(file).touch()
            made, stamp = dict.fromkeys(files[:-1], "0" * 64), stamp_of(files)
            found.append(Outcome(item.job.name, "done", made, sources=sources, stamp=stamp))
        return found

    monkeypatch.setattr(dispatch, "carry_out", empty_files)
    _counted(tmp_path / "out", KNOWN_JOBS)
    start = time.process_time()
    statuses = benchmark.pedantic(_counted, args=(tmp_path / "out", KNOWN_JOBS))
    assert statuses == {"unchanged": KNOWN_JOBS}
    benchmark.extra_info["ms a job"] = 1e3 * (time.process_time() - start) / KNOWN_JOBS


def _counted(out: Path, count: int) -> Counter[str]:
    jobs = (BatchJob(str(k), SAMPLE, {"pattern.lacing_gap": float(k)}) for k in range(count))
    return Counter(outcome.status for outcome in iter_many(jobs, out=out, executor=_AtOnce()))


class _AtOnce(Executor):
    def submit(self, fn: Callable[..., Any], /, *args: Any, **kwargs: Any) -> Future[Any]:
        future: Future[Any] = Future()
        future.set_result(fn(*args, **kwargs))
        return future


def _timed(workers: int, out: Path, executor: Executor | None = None, jobs: int = JOBS) -> Run:
    clients = [
        BatchJob(f"client {k}", SAMPLE, {"pattern.lacing_gap": 20.0 + k}) for k in range(jobs)
    ]
    watch = Watch()
    outcomes = run_many(clients, out=out, workers=workers, executor=executor)
    run = Run(watch.seconds, watch.children, watch.own, watch.others)
    assert all(outcome.status == "done" for outcome in outcomes), outcomes[0].error
    shutil.rmtree(out)
    return run


def _keep_ratios(benchmark: BenchmarkFixture, found: dict[int, list[Run]]) -> None:
    """How much faster two workers were, round by round, and what else the machine did."""
    benchmark.extra_info["ratios"] = [
        one.seconds / two.seconds for one, two in zip(found[1], found[2], strict=True)
    ]
    benchmark.extra_info["others"] = statistics.mean(
        run.others for runs in found.values() for run in runs
    )
