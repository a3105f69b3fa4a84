"""Batches of small jobs, and executors that can be watched."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import Executor, Future
from pathlib import Path
from typing import Any, ParamSpec, TypeVar

from panelshift.batch import BatchJob, Outcome, run_many
from panelshift.cli.reports.outcomes import BatchTally
from tests.support.drawings import half, panels, write_job

P = ParamSpec("P")
T = TypeVar("T")

PATTERN = panels(half(2))


class Inline(Executor):
    """Does the work at once, in this thread: errors and patches are those of the test."""

    def submit(self, fn: Callable[P, T], /, *args: P.args, **kwargs: P.kwargs) -> Future[T]:
        future: Future[T] = Future()
        try:
            future.set_result(fn(*args, **kwargs))
        except Exception as error:
            future.set_exception(error)
        return future


def base_job(folder: Path) -> Path:
    """A job file with its drawing in a folder of its own."""
    folder.mkdir(parents=True, exist_ok=True)
    return write_job(folder, PATTERN, rest='[body]\nmodel = "classes"\n')


def clients(job: Path, count: int) -> list[BatchJob]:
    """One job file with another lacing gap for each of some clients."""
    return [
        BatchJob(f"client {k}", job, {"pattern.lacing_gap": float(10 + k)}) for k in range(count)
    ]


def inline(jobs: Sequence[BatchJob | Path], out: Path, **options: Any) -> list[Outcome]:
    """Run a batch in this process."""
    return run_many(jobs, executor=Inline(), out=out, **options)


def statuses(outcomes: Sequence[Outcome]) -> list[str]:
    return [outcome.status for outcome in outcomes]


def told(outcomes: Sequence[Outcome], out: str) -> str:
    """What the command line says of a batch."""
    tally = BatchTally()
    for outcome in outcomes:
        tally.add(outcome)
    return tally.text(out)
