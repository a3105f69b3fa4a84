"""Names of jobs, and a directory of its own for each of them."""

from __future__ import annotations

import hashlib
import os
from collections import defaultdict
from collections.abc import Sequence
from pathlib import Path
from typing import Final

from ..errors import JobError
from ..files import safe_name
from .jobs import BatchJob, JobPath, Placed, refuse_nameless

_MOST_LISTED: Final = 20
"""Of many faults of one kind the first few tell enough."""

_DIGITS: Final = 8
"""Hexadecimal digits of the mark that tells names apart which are the same once made safe."""


def as_jobs(jobs: Sequence[BatchJob | JobPath]) -> list[BatchJob]:
    """Give every job that is only a path a name: its file's, with as much of the folder as needed.

    Examples
    --------
    >>> [job.name for job in as_jobs(["size_36/corset.toml", "size_38/corset.toml", "vest.toml"])]
    ['size_36/corset', 'size_38/corset', 'vest']
    """
    paths = [os.path.abspath(job) for job in jobs if not isinstance(job, BatchJob)]
    names = iter(_distinct_names(paths))
    return [job if isinstance(job, BatchJob) else BatchJob(next(names), job) for job in jobs]


def _distinct_names(paths: Sequence[str]) -> list[str]:
    """Shortest ends of the paths that tell those apart whose files have the same name."""
    parts = [Path(path).with_suffix("").parts for path in paths]
    alike: defaultdict[str, list[int]] = defaultdict(list)
    for index, words in enumerate(parts):
        alike[safe_name(words[-1])].append(index)
    names = [words[-1] for words in parts]
    for group in alike.values():
        different = {parts[index] for index in group}
        depth = 1
        while len({words[-depth:] for words in different}) < len(different):
            depth += 1
        for index in group:
            names[index] = "/".join(parts[index][-depth:])
    return names


def place(jobs: Sequence[BatchJob], out: JobPath | None) -> list[Placed]:
    """Settle the directory of every job.

    Parameters
    ----------
    jobs : sequence of BatchJob
    out : path-like or None
        Directory in which jobs without one of their own get theirs. Names that are the same
        once made safe get a mark made from the name itself, so that a job keeps its directory
        when others are added before it.

    Raises
    ------
    JobError
        If a job has no name, or there is no directory for it or it can be none, or several
        would have the same.

    Examples
    --------
    >>> clients = [BatchJob("Ann", "a.toml"), BatchJob("Bo B.", "a.toml")]
    >>> [item.out for item in place(clients, "out")]
    ['out/ann', 'out/bo-b']
    """
    alike = _alike(jobs)
    placed = []
    for job in jobs:
        refuse_nameless(job)
        if job.out is not None:
            placed.append(Placed(job, os.fspath(job.out)))
            continue
        if out is None:
            raise JobError(
                f"there is no directory for the files of {job.name!r}",
                remedy="Give run_many a directory (out), or each BatchJob its own.",
                source=job.source,
            )
        name = safe_name(job.name)
        if name in alike:
            mark = hashlib.sha256(job.name.encode("utf-8", "surrogatepass")).hexdigest()
            name = f"{name}-{mark[:_DIGITS]}"
        placed.append(Placed(job, os.path.join(out, name)))
    _refuse_shared(placed)
    return placed


def _alike(jobs: Sequence[BatchJob]) -> set[str]:
    """Safe names that different names of jobs come to."""
    first: dict[str, str] = {}
    return {
        name
        for job in jobs
        if job.out is None and first.setdefault(name := safe_name(job.name), job.name) != job.name
    }


def _refuse_shared(placed: Sequence[Placed]) -> None:
    first: dict[str, Placed] = {}
    owners: dict[str, Placed] = {}
    users: defaultdict[str, list[Placed]] = defaultdict(list)
    for item in placed:
        folder = _real(item)
        if (owner := first.setdefault(folder, item)) is not item:
            users[folder].append(item)
            owners[folder] = owner
    if not users:
        return
    lines = [
        f"{owners[folder].out}: "
        + ", ".join(_first([f"{i.job.name} ({i.job.source})" for i in (owners[folder], *items)]))
        for folder, items in users.items()
    ]
    raise JobError(
        "several jobs would write to the same directory:\n    " + "\n    ".join(_first(lines)),
        remedy="List each job once, and give jobs names or directories of their own.",
    )


def _first(items: list[str]) -> list[str]:
    more = len(items) - _MOST_LISTED
    return [*items[:_MOST_LISTED], f"and {more} more"] if more > 0 else items


def _real(item: Placed) -> str:
    """The one path of a directory, however it was named."""
    try:
        return os.path.normcase(os.path.realpath(item.out))
    except ValueError as error:
        # A path with a null character.
        raise JobError(
            f"{item.out!r} cannot be a directory: {error}",
            remedy="Choose another directory for the files.",
            source=item.job.source,
        ) from None
