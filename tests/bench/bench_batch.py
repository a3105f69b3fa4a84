"""How many jobs a second: one worker process against two, and memory for a hundred thousand.

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
from collections.abc import Callable, Sequence
from concurrent.futures import Executor, Future
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import pytest
from pytest_benchmark.fixture import BenchmarkFixture

from panelshift.batch import BatchJob, Outcome, run_many, running
from panelshift.batch.jobs import SettledJob
from panelshift.batch.worker import WorkOrder

from .machine import Watch

SAMPLE = Path(__file__).parents[2] / "sample_patterns" / "hourglass.toml"
JOBS: Final = 100
ROUNDS: Final = 3
EMPTY_JOBS: Final = 100_000

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
    ratios = [one.seconds / two.seconds for one, two in zip(found[1], found[2], strict=True)]
    benchmark.extra_info["ratios"] = ratios
    benchmark.extra_info["others"] = statistics.mean(
        r.others for runs in found.values() for r in runs
    )
    for workers, runs in found.items():
        benchmark.extra_info[f"{workers} workers"] = {
            "jobs a second": JOBS / statistics.median(run.seconds for run in runs),
            "worker ms a job": 1e3 * statistics.median(run.workers for run in runs) / JOBS,
            "parent ms a job": 1e3 * statistics.median(run.parent for run in runs) / JOBS,
        }


def bench_batch_memory(
    benchmark: BenchmarkFixture, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Memory beyond the jobs themselves, with work that takes no time."""

    def nothing(jobs: Sequence[SettledJob], order: WorkOrder) -> list[Outcome]:
        return [Outcome(item.job.name, "unchanged") for item in jobs]

    monkeypatch.setattr(running, "carry_out", nothing)
    jobs = [BatchJob(str(k), "none.toml") for k in range(EMPTY_JOBS)]
    outcomes = benchmark.pedantic(run_many, args=(jobs,), kwargs=_at_once(tmp_path / "timed"))
    assert len(outcomes) == EMPTY_JOBS
    del outcomes
    tracemalloc.start()
    outcomes = run_many(jobs, **_at_once(tmp_path / "traced"))
    kept, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert len(outcomes) == EMPTY_JOBS
    benchmark.extra_info["bytes a job kept"] = kept / EMPTY_JOBS
    benchmark.extra_info["bytes a job at most"] = peak / EMPTY_JOBS


class _AtOnce(Executor):
    def submit(self, fn: Callable[..., Any], /, *args: Any, **kwargs: Any) -> Future[Any]:
        future: Future[Any] = Future()
        future.set_result(fn(*args, **kwargs))
        return future


def _at_once(out: Path) -> dict[str, Any]:
    out.mkdir()
    return {"executor": _AtOnce(), "out": out}


def _timed(workers: int, out: Path) -> Run:
    jobs = [BatchJob(f"client {k}", SAMPLE, {"pattern.lacing_gap": 20.0 + k}) for k in range(JOBS)]
    watch = Watch()
    outcomes = run_many(jobs, out=out, workers=workers)
    run = Run(watch.seconds, watch.children, watch.own, watch.others)
    assert all(outcome.status == "done" for outcome in outcomes), outcomes[0].error
    shutil.rmtree(out)
    return run
