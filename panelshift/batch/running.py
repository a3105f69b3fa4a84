"""Run many jobs: hand them out a few at a time, and gather what becomes of them."""

from __future__ import annotations

import os
import uuid
from collections import deque
from collections.abc import Callable, Iterable, Sequence
from concurrent.futures import (
    FIRST_COMPLETED,
    BrokenExecutor,
    CancelledError,
    Executor,
    Future,
    wait,
)
from pathlib import Path
from typing import Final

from ..errors import OutputError
from ..printing import PageOptions
from .jobs import BatchJob, JobPath, Outcome, Placed
from .placing import as_jobs, place
from .pool import LocalPool, cores
from .products import makings
from .worker import Order, carry_out

Progress = Callable[[Outcome, int, int], None]
"""Called with the outcome of each job as it ends, how many have ended, and how many there are."""

_CHUNK_SECONDS: Final = 0.5
"""Work handed over at once: far more than the handing over takes, which is milliseconds."""

_LARGEST_CHUNK: Final = 64
_AHEAD: Final = 4
"""Chunks for each worker that are handed over before their turn: none must wait for its next."""

_MOST_DEATHS: Final = 10
"""Processes that may die in a row before no more are started: then it is not the jobs."""


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
    >>> svg = '''<svg xmlns="http://www.w3.org/2000/svg" width="100mm" height="200mm"
    ...  viewBox="0 0 100 200"><path id="side" d="M20 20 H80 V180 H20 Z"/>
    ...  <path id="waist" d="M20 110 H80"/></svg>'''
    >>> data = {
    ...     "pattern": {"file": "side.svg"},
    ...     "stack": {"fabric": [{"name": "drill", "thickness": 0.5}]},
    ... }
    >>> with TemporaryDirectory() as folder, ThreadPoolExecutor(1) as threads:
    ...     _ = Path(folder, "side.svg").write_text(svg)
    ...     jobs = [BatchJob("Ann", data, folder=folder), "not_there.toml"]
    ...     outcomes = run_many(jobs, executor=threads, out=Path(folder, "cut"))
    >>> [(outcome.name, outcome.status) for outcome in outcomes]
    [('Ann', 'done'), ('not_there', 'failed')]
    """
    if workers is not None and workers < 1:
        raise ValueError(f"workers must be at least 1, not {workers}")
    wanted = makings(products, pages)
    placed = place(as_jobs(list(jobs)), out)
    if out is not None:
        _make_directory(Path(out))
    order = Order(wanted, resume, overwrite, os.getcwd(), uuid.uuid4().hex)
    width = min(workers or cores(), max(1, len(placed)))
    if executor is not None:
        return _Run(placed, order, executor.submit, None, workers or cores(), progress).outcomes()
    pool = LocalPool(width, wanted)
    try:
        return _Run(placed, order, pool.submit, pool.renew, width, progress).outcomes()
    finally:
        pool.close()


def _make_directory(out: Path) -> None:
    try:
        out.mkdir(parents=True, exist_ok=True)
    except (OSError, ValueError) as error:
        reason = error.strerror if isinstance(error, OSError) else None
        raise OutputError(
            f"cannot make the directory: {reason or error}",
            remedy="Name a directory that you may write to.",
            source=str(out),
        ) from error


Chunk = Future[list[Outcome]]
Submit = Callable[[Callable[[Sequence[Placed], Order], list[Outcome]], list[Placed], Order], Chunk]


class _Run:
    """One run: what is still to be handed over, what is under way and what has ended."""

    def __init__(
        self,
        placed: Sequence[Placed],
        order: Order,
        submit: Submit,
        renew: Callable[[], None] | None,
        width: int,
        progress: Progress | None,
    ) -> None:
        self._placed, self._order = placed, order
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
        try:
            self._hand_over()
            while self._pending:
                ended, _ = wait(self._pending, return_when=FIRST_COMPLETED)
                self._gather(ended)
                self._hand_over()
        finally:
            for future in self._pending:
                future.cancel()
        return [self._ended[index] for index in range(len(self._placed))]

    def _hand_over(self) -> None:
        """Hand over as much as is due, never all at once: memory does not grow with the jobs."""
        if self._suspects:
            if not self._pending:
                self._alone = True
                self._start([self._suspects.popleft()])
            return
        self._alone = False
        while self._next < len(self._placed) and len(self._pending) < _AHEAD * self._width:
            chunk = range(self._next, min(self._next + self._size(), len(self._placed)))
            self._next = chunk.stop
            self._start(chunk)

    def _size(self) -> int:
        """Jobs in the next chunk: fewer towards the end, so that all workers end together."""
        share = (len(self._placed) - self._next) // (2 * self._width)
        return max(1, min(_LARGEST_CHUNK, int(_CHUNK_SECONDS / self._pace), share))

    def _start(self, indices: Sequence[int]) -> None:
        jobs = [self._placed[index] for index in indices]
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
        name = self._placed[index].job.name
        text = f"{problem}\n  What to do: {remedy}"
        self._end(index, Outcome(name, "failed", error=text))

    def _end(self, index: int, outcome: Outcome) -> None:
        self._ended[index] = outcome
        if self._progress is not None:
            self._progress(outcome, len(self._ended), len(self._placed))


def _is_broken(future: Chunk) -> bool:
    return not future.cancelled() and isinstance(future.exception(), BrokenExecutor)


def _seconds(outcomes: Sequence[Outcome]) -> float:
    """Mean time of a job, never 0."""
    return max(sum(outcome.seconds for outcome in outcomes) / len(outcomes), 1e-6)
