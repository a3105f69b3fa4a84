"""How many jobs a second: one worker process against two, and memory for a hundred thousand.

Run as ``python tests/bench/bench_batch.py``. One and two workers take turns, so that whatever
else the machine does falls on both; the median of the ratios is what counts. Starting the
processes is part of each time. A machine that is busy otherwise gives the batch a share that does
not depend on the number of its processes, and shows nothing: how many cores others took is printed.
"""

from __future__ import annotations

import argparse
import os
import resource
import shutil
import statistics
import tempfile
import time
import tracemalloc
from collections.abc import Callable, Sequence
from concurrent.futures import Executor, Future
from pathlib import Path
from typing import Any

from panelshift.batch import BatchJob, Outcome, run_many, running
from panelshift.batch.jobs import Placed
from panelshift.batch.worker import Order

SAMPLE = Path(__file__).parents[2] / "sample_patterns" / "hourglass.toml"
TARGET = 1.7


def clients(count: int) -> list[BatchJob]:
    return [BatchJob(f"client {k}", SAMPLE, {"pattern.lacing_gap": 20.0 + k}) for k in range(count)]


def timed(
    count: int, workers: int, folder: Path, products: Sequence[str]
) -> tuple[float, float, float]:
    """Seconds that a batch takes; seconds of computing by its workers; by the parent."""
    out = folder / f"workers-{workers}"
    workers_before, parent_before = _computing(resource.RUSAGE_CHILDREN), time.process_time()
    start = time.perf_counter()
    outcomes = run_many(clients(count), out=out, workers=workers, products=products)
    seconds = time.perf_counter() - start
    parent = time.process_time() - parent_before
    shutil.rmtree(out)
    assert all(outcome.status == "done" for outcome in outcomes)
    return seconds, _computing(resource.RUSAGE_CHILDREN) - workers_before, parent


def _computing(whose: int) -> float:
    usage = resource.getrusage(whose)
    return usage.ru_utime + usage.ru_stime


def _busy() -> float:
    """Seconds that all cores together have computed since the machine was started."""
    # proc(5): user, nice, system, idle, iowait, irq, softirq, steal.
    fields = [int(word) for word in Path("/proc/stat").read_text().split("\n")[0].split()[1:9]]
    return (sum(fields) - fields[3] - fields[4]) / os.sysconf("SC_CLK_TCK")


def speed(count: int, rounds: int, products: Sequence[str]) -> None:
    found: dict[int, list[tuple[float, float, float]]] = {1: [], 2: []}
    others: list[float] = []
    with tempfile.TemporaryDirectory() as folder:
        for turn in range(rounds):
            # Also which comes first takes turns.
            for workers in (1, 2) if turn % 2 == 0 else (2, 1):
                busy = _busy()
                seconds, cpu, parent = timed(count, workers, Path(folder), products)
                others.append(max(0.0, (_busy() - busy - cpu - parent) / seconds))
                found[workers].append((seconds, cpu, parent))
                print(
                    f"{workers} worker(s): {count} jobs in {seconds:6.2f} s; computing: workers "
                    f"{cpu:.2f} s, parent {parent:.2f} s; others took {others[-1]:.2f} cores",
                    flush=True,
                )
    for workers, runs in found.items():
        seconds, cpu, parent = (statistics.median(column) for column in zip(*runs, strict=True))
        print(
            f"{workers} worker(s), medians: {count / seconds:.2f} jobs/s; computing a job: "
            f"workers {1e3 * cpu / count:.0f} ms, parent {1e3 * parent / count:.1f} ms"
        )
    ratios = [one[0] / two[0] for one, two in zip(found[1], found[2], strict=True)]
    ratio = statistics.median(ratios)
    print(
        f"two workers are {ratio:.2f} times as fast as one (median of {rounds} rounds, "
        f"{min(ratios):.2f} to {max(ratios):.2f}); target {TARGET}: "
        f"{'met' if ratio >= TARGET else 'missed'}; others took {statistics.mean(others):.2f} cores"
    )


class _AtOnce(Executor):
    def submit(self, fn: Callable[..., Any], /, *args: Any, **kwargs: Any) -> Future[Any]:
        future: Future[Any] = Future()
        future.set_result(fn(*args, **kwargs))
        return future


def memory(count: int) -> None:
    """Memory beyond the jobs themselves, with work that takes no time."""

    def nothing(jobs: Sequence[Placed], order: Order) -> list[Outcome]:
        return [Outcome(item.job.name, "unchanged") for item in jobs]

    jobs = [BatchJob(str(k), "none.toml") for k in range(count)]
    real, running.carry_out = running.carry_out, nothing  # type: ignore[assignment]
    try:
        with tempfile.TemporaryDirectory() as out:
            start = time.perf_counter()
            run_many(jobs, executor=_AtOnce(), out=out)
            seconds = time.perf_counter() - start
            tracemalloc.start()
            outcomes = run_many(jobs, executor=_AtOnce(), out=out)
            kept, peak = tracemalloc.get_traced_memory()
            tracemalloc.stop()
    finally:
        running.carry_out = real
    print(
        f"{len(outcomes)} empty jobs: {seconds:.1f} s; {kept / count:.0f} bytes a job kept in "
        f"outcomes, {peak / count:.0f} at most"
    )


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0] if __doc__ else "")
    parser.add_argument("--jobs", type=int, default=60)
    parser.add_argument("--rounds", type=int, default=5)
    parser.add_argument("--products", default="cut")
    parser.add_argument("--memory", type=int, default=100_000, metavar="JOBS")
    options = parser.parse_args()
    memory(options.memory)
    if options.rounds:
        speed(options.jobs, options.rounds, options.products.split(","))
