"""Run many jobs: handed out to processes a few at a time, and what becomes of them gathered."""

from __future__ import annotations

import os
import sys
import threading
import uuid
from collections import deque
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import (
    FIRST_COMPLETED,
    BrokenExecutor,
    CancelledError,
    Executor,
    Future,
    ProcessPoolExecutor,
    wait,
)
from contextlib import contextmanager
from multiprocessing.context import SpawnContext, SpawnProcess
from pathlib import Path
from types import ModuleType
from typing import Any, ClassVar, Final, ParamSpec, TypeVar

from ..files import output_error
from ..printing import PageOptions
from .jobs import BatchJob, JobPath, Outcome, SettledJob, as_jobs, settle
from .products import Making, makings
from .worker import WorkOrder, carry_out, start_process

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
        return ProcessPoolExecutor(
            self._workers,
            mp_context=_Context(),
            initializer=start_process,
            initargs=(self._makings,),
        )

    def submit(self, work: Callable[P, T], /, *args: P.args, **kwargs: P.kwargs) -> Future[T]:
        """Hand over some work."""
        return self._pool.submit(work, *args, **kwargs)

    def renew(self) -> None:
        """Start anew after a process has died; what was handed over is lost."""
        self._pool.shutdown(wait=True, cancel_futures=True)
        self._pool = self._start()

    def close(self) -> None:
        """End the processes once they have done what they are at."""
        self._pool.shutdown(wait=True, cancel_futures=True)


class _Process(SpawnProcess):
    @staticmethod
    def _Popen(process_obj: Any) -> Any:  # noqa: N802  (multiprocessing's name)
        with _main_hidden():
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


Progress = Callable[[Outcome, int, int], None]
"""Called with the outcome of each job as it ends, how many have ended, and how many there are."""

_CHUNK_SECONDS: Final = 0.5
"""Work handed over at once: far more than the handing over takes, which is milliseconds."""

_LARGEST_CHUNK: Final = 64

_AHEAD: Final = 4
"""Chunks for each worker that are handed over before their turn: none must wait for its next."""

_MOST_DEATHS: Final = 10
"""Processes that may die in a row before no more are started: then it is not the jobs."""


Chunk = Future[list[Outcome]]
Work = Callable[[Sequence[SettledJob], WorkOrder], list[Outcome]]
Submit = Callable[[Work, list[SettledJob], WorkOrder], Chunk]


class Dispatch:
    """One batch under way: what is to be handed over, what is handed over, what has ended."""

    def __init__(
        self,
        settled: Sequence[SettledJob],
        order: WorkOrder,
        submit: Submit,
        renew: Callable[[], None] | None,
        width: int,
        progress: Progress | None,
    ) -> None:
        self._settled, self._order = settled, order
        self._submit, self._renew = submit, renew
        self._width, self._progress = width, progress
        self._next = 0
        self._ended: dict[int, Outcome] = {}
        self._pending: dict[Chunk, Sequence[int]] = {}
        # Jobs of chunks that came to grief as a whole: each is tried again with nothing else
        # under way, so that only the one at fault fails.
        self._suspects: deque[int] = deque()
        self._alone = False
        self._deaths = 0
        self._pace = _CHUNK_SECONDS

    def outcomes(self) -> list[Outcome]:
        """Carry all jobs out, and return what became of each, in the order of the jobs."""
        try:
            self._hand_over()
            while self._pending:
                ended, _ = wait(self._pending, return_when=FIRST_COMPLETED)
                self._gather(ended)
                self._hand_over()
        finally:
            for future in self._pending:
                future.cancel()
        return [self._ended[index] for index in range(len(self._settled))]

    def _hand_over(self) -> None:
        """Hand over as much as is due, never all at once: memory does not grow with the jobs."""
        if self._suspects:
            if not self._pending:
                self._alone = True
                self._start([self._suspects.popleft()])
            return
        self._alone = False
        while self._next < len(self._settled) and len(self._pending) < _AHEAD * self._width:
            chunk = range(self._next, min(self._next + self._size(), len(self._settled)))
            self._next = chunk.stop
            self._start(chunk)

    def _size(self) -> int:
        """Jobs in the next chunk: fewer towards the end, so that all workers end together."""
        share = (len(self._settled) - self._next) // (2 * self._width)
        return max(1, min(_LARGEST_CHUNK, int(_CHUNK_SECONDS / self._pace), share))

    def _start(self, indices: Sequence[int]) -> None:
        jobs = [self._settled[index] for index in indices]
        try:
            future = self._submit(carry_out, jobs, self._order)
        except BrokenExecutor as error:
            future = Future()
            future.set_exception(error)
        self._pending[future] = indices

    def _gather(self, ended: set[Chunk]) -> None:
        broken = any(_is_broken(future) for future in ended)
        if broken:
            # Nothing that is under way will come back: these end at once.
            ended = wait(self._pending).done
        for future in ended:
            indices = self._pending.pop(future)
            try:
                outcomes = future.result()
            except (Exception, CancelledError) as error:
                self._failed(indices, error)
            else:
                self._deaths = 0
                self._pace = 0.5 * self._pace + 0.5 * _seconds(outcomes)
                for index, outcome in zip(indices, outcomes, strict=True):
                    self._end(index, outcome)
        if broken and self._renew is not None:
            self._deaths += 1
            if self._deaths < _MOST_DEATHS:
                self._renew()
            else:
                self._renew = None

    def _failed(self, indices: Sequence[int], error: BaseException) -> None:
        """Tell a failure that no job told itself, or find out which job it belongs to."""
        died = isinstance(error, BrokenExecutor)
        if len(indices) > 1 or (died and not self._alone):
            self._suspects.extend(indices)
            return
        (index,) = indices
        if died:
            problem = "its process ended abruptly: killed, out of memory, or crashed"
            remedy = "Run the batch again, with fewer workers if memory is short."
        else:
            problem = f"could not be handed to a worker or back: {type(error).__name__}: {error}"
            remedy = "Check the executor, and that the job is made of plain data."
        name = self._settled[index].job.name
        text = f"{problem}\n  What to do: {remedy}"
        self._end(index, Outcome(name, "failed", error=text))

    def _end(self, index: int, outcome: Outcome) -> None:
        self._ended[index] = outcome
        if self._progress is not None:
            self._progress(outcome, len(self._ended), len(self._settled))


def _is_broken(future: Chunk) -> bool:
    return not future.cancelled() and isinstance(future.exception(), BrokenExecutor)


def _seconds(outcomes: Sequence[Outcome]) -> float:
    """Mean time of a job, never 0."""
    return max(sum(outcome.seconds for outcome in outcomes) / len(outcomes), 1e-6)


def run_many(
    jobs: Iterable[BatchJob | JobPath],
    *,
    executor: Executor | None = None,
    out: JobPath | None = None,
    products: Sequence[str] = ("cut",),
    pages: PageOptions | None = None,
    progress: Progress | None = None,
    resume: bool = True,
    overwrite: bool = False,
    workers: int | None = None,
) -> list[Outcome]:
    """Carry out many jobs, each in a directory of its own.

    A job that fails is told in its outcome, and the others go on. A job whose inputs, options
    and panelshift version are those of an earlier run, and whose files are still there as they
    were written, is not done again: so a batch that was stopped goes on where it was.

    Parameters
    ----------
    jobs : iterable of path-like or BatchJob
        Job files, or jobs with data of their own. Each needs its own directory.
    executor : Executor or None
        Whatever carries the work out: threads, processes, or a cluster's. Its workers must see
        the same files under the same paths. None for processes on this machine.
    out : path-like or None
        Directory in which each job gets one named after it; made if it is not there.
    products : sequence of str
        Any of ``cut``, ``tile`` and ``fit``: the files are those of the single commands.
    pages : PageOptions or None
        Paper, margin and overlap (mm) of tiles; None for A4 with the usual ones.
    progress : callable or None
        Called in this thread after each job, in the order in which they end: see `Progress`.
    resume : bool
        False to do everything again.
    overwrite : bool
        Whether files may be replaced that panelshift did not write, or that were edited since;
        a job that meets one fails otherwise.
    workers : int or None
        Number of processes, without an executor; None for the number of cores. With an
        executor it only says how much work is handed over ahead of time.

    Returns
    -------
    list of Outcome
        In the order of the jobs.

    Raises
    ------
    JobError
        Before anything is done: if jobs have no directory or share one, or a product is unknown.
    OutputError
        If the directory cannot be made.
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
    if workers is not None and workers < 1:
        raise ValueError(f"workers must be at least 1, not {workers}")
    wanted = makings(products, pages)
    settled = settle(as_jobs(list(jobs)), out)
    if out is not None:
        _make_directory(Path(out))
    order = WorkOrder(wanted, resume, overwrite, os.getcwd(), uuid.uuid4().hex)
    width = workers or cores()
    if executor is not None:
        return Dispatch(settled, order, executor.submit, None, width, progress).outcomes()
    width = min(width, max(1, len(settled)))
    pool = LocalPool(width, wanted)
    try:
        return Dispatch(settled, order, pool.submit, pool.renew, width, progress).outcomes()
    finally:
        pool.close()


def _make_directory(out: Path) -> None:
    try:
        out.mkdir(parents=True, exist_ok=True)
    except (OSError, ValueError) as error:
        raise output_error(error, out, "cannot make the directory") from error
