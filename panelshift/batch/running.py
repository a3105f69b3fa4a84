"""Run many jobs, in processes of this machine or by any executor."""

from __future__ import annotations

import os
import signal
import sys
import threading
import uuid
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import (
    Executor,
    Future,
    ProcessPoolExecutor,
)
from contextlib import ExitStack, contextmanager
from itertools import chain, islice
from multiprocessing import resource_tracker
from multiprocessing.context import SpawnContext, SpawnProcess
from pathlib import Path
from types import ModuleType
from typing import Any, ClassVar, Final, ParamSpec, TypeVar

from ..errors import JobError, OutputError
from ..files import output_error
from ..files.plain_values import held_to_types
from ..printing import PageOptions
from .dispatch import Dispatch
from .folders import SHARDED_BEYOND, as_jobs, here, present, refuse_no_job, settle, sharded
from .index import BatchIndex
from .jobs import BatchJob, JobPath, Outcome, SettledJob
from .products import Making, makings
from .summary import refuse_foreign_summary, write_summary
from .worker import WorkOrder, start_process

P = ParamSpec("P")
T = TypeVar("T")

_HIDING: Final = threading.Lock()


def cores() -> int:
    """Return how many cores this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return max(1, len(os.sched_getaffinity(0)))
    return os.cpu_count() or 1


class LocalPool:
    """A pool of processes that outlives the death of any of them.

    Processes are spawned, not forked: a fork of a process with threads may hang.

    *workers*: number of processes. *makings*: what they are to be ready for.
    """

    def __init__(self, workers: int, makings: Sequence[Making]) -> None:
        self._workers = workers
        self._makings = tuple(makings)
        self._pool = self._start()

    def _start(self) -> ProcessPoolExecutor:
        with _startable():
            return ProcessPoolExecutor(
                self._workers,
                mp_context=_Context(),
                initializer=start_process,
                initargs=(self._makings,),
            )

    def submit(self, work: Callable[P, T], /, *args: P.args, **kwargs: P.kwargs) -> Future[T]:
        """Hand over some work.

        Raises `OutputError` if the system starts no process for it.
        """
        with _startable():
            return self._pool.submit(work, *args, **kwargs)

    def renew(self) -> None:
        """Start anew after a process has died; what was handed over is lost."""
        self._pool.shutdown(wait=True, cancel_futures=True)
        self._pool = self._start()

    def close(self) -> None:
        """End the processes once they have done what they are at."""
        self._pool.shutdown(wait=True, cancel_futures=True)


@contextmanager
def _startable() -> Iterator[None]:
    try:
        yield
    except OSError as error:
        raise OutputError(
            f"cannot start a process to work in: {error.strerror or error}",
            remedy="Ask for fewer workers, or end other programs; how many files one may have open "
            "is told by ulimit -n.",
        ) from error


class _Process(SpawnProcess):
    @staticmethod
    def _Popen(process_obj: Any) -> Any:  # noqa: N802  (multiprocessing's name)
        with _main_hidden(), _one_thread(), _deaf():
            return SpawnProcess._Popen(process_obj)


class _Context(SpawnContext):
    """Spawns processes that do not import the program which started them.

    They need nothing of it. A script without ``if __name__ == "__main__"`` would otherwise
    start its batch again in each of them, and a long script would hold each of them up.
    """

    # The stubs want the very class that is replaced here.
    Process: ClassVar[Any] = _Process


@contextmanager
def _main_hidden() -> Iterator[None]:
    # Spawning takes the main module's name from here, and has no switch to leave it out.
    with _HIDING:
        main = sys.modules["__main__"]
        sys.modules["__main__"] = ModuleType("__main__")
        try:
            yield
        finally:
            sys.modules["__main__"] = main


_THREADS: Final = "OPENBLAS_NUM_THREADS"


@contextmanager
def _one_thread() -> Iterator[None]:
    # Each worker has a core: threads of its matrix library would only wait for those of others.
    # It reads this when it is loaded, which is before a worker could say so itself.
    if _THREADS in os.environ:
        yield
        return
    os.environ[_THREADS] = "1"
    try:
        yield
    finally:
        del os.environ[_THREADS]


@contextmanager
def _deaf() -> Iterator[None]:
    # Ctrl-C goes to every process of the terminal. A worker that still imports what it needs, and
    # cannot yet leave it to the one that started it, would tell of it with a traceback.
    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    # Where it is started meanwhile, it lets signals through again.
    resource_tracker.ensure_running()
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


Progress = Callable[[Outcome, int, int], None]
"""Called with the outcome of each job as it ends, how many have ended, and how many there are."""


@held_to_types
def run_many(
    jobs: Iterable[BatchJob | JobPath],
    *,
    progress: Progress | None = None,
    executor: Executor | None = None,
    out: JobPath | None = None,
    products: Sequence[str] = ("cut",),
    pages: PageOptions | None = None,
    resume: bool = True,
    overwrite: bool = False,
    workers: int | None = None,
    summary: bool = False,
) -> list[Outcome]:
    """Carry out many jobs, each in a directory of its own.

    A job that fails is told in its outcome, and the others go on. A job whose inputs, options
    and panelshift version are those of an earlier run, and whose files are still there as they
    were written, is not done again: so a batch that was stopped goes on where it was.

    Parameters
    ----------
    jobs : iterable of path-like or BatchJob
        Job files, or jobs with data of their own. Each needs its own directory.
    progress : callable or None
        Called in this thread after each job, in the order in which they end: see `Progress`.
    executor : Executor or None
        Whatever carries the work out: threads, processes, or a cluster's. Its workers must see
        the same files under the same paths. None for processes on this machine.
    out : path-like or None
        Directory in which each job gets one named after it; made if it is not there. Of more than
        1,000 jobs the directories lie in 256 others there.
    products : sequence of str
        Any of ``cut``, ``tile`` and ``fit``: the files are those of the single commands.
    pages : PageOptions or None
        Paper, margin and overlap (mm) of tiles; None for A4 with the usual ones.
    resume : bool
        False to do everything again.
    overwrite : bool
        Whether files may be replaced that panelshift did not write, or that were edited since;
        a job that meets one fails otherwise.
    workers : int or None
        Number of processes, without an executor; None for the number of cores. With an
        executor it only says how much work is handed over ahead of time.
    summary : bool
        Whether to write ``summary.csv`` and ``summary.json`` into `out` in the end: a line for
        each job, in their order.

    Returns
    -------
    list of Outcome
        In the order of the jobs.

    Raises
    ------
    JobError
        Before anything is done: if jobs have no directory or share one, or a product is unknown.
    OutputError
        If the directory cannot be made, another batch is at work in it, its index cannot be kept up
        (on a full disk), or a summary would replace somebody else's file.
    ValueError
        If `workers` is less than 1.

    Examples
    --------
    >>> from concurrent.futures import ThreadPoolExecutor
    >>> from tempfile import TemporaryDirectory
    >>> with TemporaryDirectory() as folder, ThreadPoolExecutor(1) as threads:
    ...     outcomes = run_many(["not_there.toml"], executor=threads, out=folder)
    >>> [(outcome.name, outcome.status) for outcome in outcomes]
    [('not_there', 'failed')]
    """
    settled = settle(as_jobs(list(jobs)), out)
    found: list[Outcome | None] = [None] * len(settled)
    running = _running(
        settled, executor, out, products, pages, resume, overwrite, workers, summary, len(settled)
    )
    for ended, (number, outcome) in enumerate(running, start=1):
        found[number] = outcome
        if progress is not None:
            progress(outcome, ended, len(settled))
    return [outcome for outcome in found if outcome is not None]


@held_to_types
def iter_many(
    jobs: Iterable[BatchJob | JobPath],
    *,
    executor: Executor | None = None,
    out: JobPath | None = None,
    products: Sequence[str] = ("cut",),
    pages: PageOptions | None = None,
    resume: bool = True,
    overwrite: bool = False,
    workers: int | None = None,
    summary: bool = False,
) -> Iterator[Outcome]:
    """Carry out ever so many jobs, and give each outcome as soon as it is there.

    As `run_many`, for jobs that come one by one, from a generator: neither they nor their outcomes
    are all in memory at any time, and the directory of a job depends on no other job. Those of more
    than 1,000 jobs lie in 256 others. Whoever stops asking for outcomes stops the batch.

    Parameters
    ----------
    jobs : iterable of path-like or BatchJob
        Job files are called by their whole path.
    executor, out, products, pages, resume, overwrite, workers, summary
        As for `run_many`.

    Returns
    -------
    iterator of Outcome
        In the order in which the jobs end. A job whose directory another one of the batch has
        fails.

    Raises
    ------
    JobError
        If a job has no name or no directory, or a product is unknown.
    OutputError
        If the directory cannot be made, another batch is at work in it, or its index cannot be kept
        up (on a full disk).
    ValueError
        If `workers` is less than 1.

    Examples
    --------
    >>> from concurrent.futures import ThreadPoolExecutor
    >>> from tempfile import TemporaryDirectory
    >>> with TemporaryDirectory() as folder, ThreadPoolExecutor(1) as threads:
    ...     for outcome in iter_many(iter(["not_there.toml"]), executor=threads, out=folder):
    ...         print(outcome.name, outcome.status)
    not_there failed
    """
    every = (_named(job) for job in jobs)
    first = list(islice(every, SHARDED_BEYOND + 1))
    settled: Iterable[SettledJob]
    if len(first) > SHARDED_BEYOND:
        there = present(out)
        settled = (sharded(job, out, there) for job in chain(first, every))
    else:
        settled = settle(first, out, refuse=False)
    for _, outcome in _running(
        settled, executor, out, products, pages, resume, overwrite, workers, summary, None
    ):
        yield outcome


def _named(job: BatchJob | JobPath) -> BatchJob:
    """A job, which is called by its whole path if it is no more than that."""
    if isinstance(job, BatchJob):
        return job
    refuse_no_job(job)
    return BatchJob(os.path.splitext(os.fspath(job))[0], job)


def _running(
    settled: Iterable[SettledJob],
    executor: Executor | None,
    out: JobPath | None,
    products: Sequence[str],
    pages: PageOptions | None,
    resume: bool,
    overwrite: bool,
    workers: int | None,
    summary: bool,
    total: int | None,
) -> Iterator[tuple[int, Outcome]]:
    """Each job's number and outcome, as they end; all that was opened is closed in the end."""
    if workers is not None and workers < 1:
        raise JobError(
            f"workers must be at least 1, not {workers}",
            remedy="Give 1 or more; without a number there is one for each core.",
        )
    wanted = makings(products, pages)
    if out is not None:
        _make_directory(Path(out))
        if summary and not overwrite:
            refuse_foreign_summary(Path(out))
    order = WorkOrder(wanted, resume, overwrite, here(), uuid.uuid4().hex)
    width = workers or cores()
    with ExitStack() as opened:
        index = BatchIndex(None if out is None else Path(out), wanted, order.base)
        opened.callback(index.close)
        if executor is not None:
            dispatch = Dispatch(settled, order, executor.submit, None, width, index, total)
        else:
            width = width if total is None else min(width, max(1, total))
            pool = LocalPool(width, wanted)
            opened.callback(pool.close)
            dispatch = Dispatch(settled, order, pool.submit, pool.renew, width, index, total)
        yield from dispatch.outcomes()
        if out is not None and summary:
            write_summary(Path(out), index.summary)


def _make_directory(out: Path) -> None:
    try:
        out.mkdir(parents=True, exist_ok=True)
    except (OSError, ValueError) as error:
        raise output_error(error, out, "cannot make the directory") from error
