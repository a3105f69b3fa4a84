"""Run many jobs: settle where each goes, and have them carried out."""

from __future__ import annotations

import os
import uuid
from collections.abc import Iterable, Sequence
from concurrent.futures import Executor
from pathlib import Path

from ..files import output_error
from ..printing import PageOptions
from .dispatch import Dispatch, LocalPool, Progress, cores
from .jobs import BatchJob, JobPath, Outcome, as_jobs, settle
from .products import makings
from .worker import Order


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
        Whether files may be resettled that panelshift did not write, or that were edited since;
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
    settled = settle(as_jobs(list(jobs)), out)
    if out is not None:
        _make_directory(Path(out))
    order = Order(wanted, resume, overwrite, os.getcwd(), uuid.uuid4().hex)
    width = min(workers or cores(), max(1, len(settled)))
    if executor is not None:
        return Dispatch(
            settled, order, executor.submit, None, workers or cores(), progress
        ).outcomes()
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
