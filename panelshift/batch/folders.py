"""Where the files of each job of a batch go: names made safe, told apart, and spread out."""

from __future__ import annotations

import hashlib
import os
from collections import defaultdict
from collections.abc import Collection, Sequence
from pathlib import Path
from typing import Final

from ..errors import JobError, OutputError, WrongTypeError
from ..files import safe_name
from .jobs import BatchJob, JobPath, SettledJob
from .record import record_of

SHARDED_BEYOND: Final = 1_000
"""Jobs beyond which their directories lie in 256 others: no file manager likes a million."""

_MOST_LISTED: Final = 20
"""Of many faults of one kind the first few tell enough."""

_DIGITS: Final = 8
"""Hexadecimal digits of the mark that tells names apart which are the same once made safe."""


def _refuse_nameless(job: BatchJob) -> None:
    if not job.name.strip():
        raise JobError(
            "a job without a name",
            remedy="Give every job of a batch a name of its own.",
            source=job.source,
        )


def here() -> str:
    """The working directory, from which relative paths start.

    Raises `OutputError` if it has been removed.
    """
    try:
        return os.getcwd()
    except OSError as error:
        raise OutputError(
            f"the directory in which panelshift is at work is gone: {error.strerror}",
            remedy="Change into a directory that is there, and try again.",
        ) from None


def refuse_no_job(job: object) -> None:
    """Raise `WrongTypeError` for what is no job, nor the path of one."""
    wanted = "a BatchJob, or the path of a job file"
    WrongTypeError.unless(job, (BatchJob, str, os.PathLike), "one of the jobs", wanted)


def as_jobs(jobs: Sequence[BatchJob | JobPath]) -> list[BatchJob]:
    """Give every job that is only a path a name: its file's, with as much of the folder as needed.

    Examples
    --------
    >>> [job.name for job in as_jobs(["size_36/corset.toml", "size_38/corset.toml", "vest.toml"])]
    ['size_36/corset', 'size_38/corset', 'vest']
    """
    base = here()
    for job in jobs:
        refuse_no_job(job)
    paths = [
        os.path.normpath(os.path.join(base, job)) for job in jobs if not isinstance(job, BatchJob)
    ]
    names = iter(_distinct_names(paths))
    return [job if isinstance(job, BatchJob) else BatchJob(next(names), job) for job in jobs]


def _distinct_names(paths: Sequence[str]) -> list[str]:
    """Shortest ends of the paths that tell those apart whose files have the same name."""
    parts = [Path(path).with_suffix("").parts for path in paths]
    alike: defaultdict[str, list[int]] = defaultdict(list)
    for index, words in enumerate(parts):
        alike[safe_name(words[-1])].append(index)
    names = [""] * len(parts)
    for group in alike.values():
        different = {parts[index] for index in group}
        depth = 1
        while len({words[-depth:] for words in different}) < len(different):
            depth += 1
        for index in group:
            names[index] = "/".join(parts[index][-depth:])
    return names


def settle(
    jobs: Sequence[BatchJob], out: JobPath | None, *, refuse: bool = True
) -> list[SettledJob]:
    """Settle the directory of every job.

    *out*: directory in which jobs without one of their own get theirs. Names that are the same once
    made safe get a mark made from the name itself, and a job keeps the directory that it has from
    an earlier run, so that no other job that is added, in this run or another, takes it. *refuse*:
    whether jobs that share one are refused.

    Raises `JobError` if a job has no name, or there is no directory for it or it can be none, or
    several would have the same.

    Examples
    --------
    >>> clients = [BatchJob("Ann", "a.toml"), BatchJob("Bo B.", "a.toml")]
    >>> [item.out for item in settle(clients, "out")]
    ['out/ann', 'out/bo-b']
    """
    if len(jobs) > SHARDED_BEYOND:
        there = present(out)
        settled = [sharded(job, out, there) for job in jobs]
    else:
        alike = _alike(jobs)
        settled = [_named(job, out, alike) for job in jobs]
    if refuse:
        _refuse_shared(settled)
    return settled


def _named(job: BatchJob, out: JobPath | None, alike: Collection[str]) -> SettledJob:
    """A job in a directory of its name; *alike*: safe names that need a mark."""
    if (own := _own(job, out)) is not None:
        return own
    name = safe_name(job.name)
    places = [os.path.join(out or "", place) for place in (name, f"{name}-{_mark(job)}")]
    if name in alike:
        places.reverse()
    return SettledJob(job, _kept(job, [*places, _sharded(job, out, name)]))


def present(out: JobPath | None) -> frozenset[str]:
    """What a batch's directory holds so far."""
    try:
        return frozenset(os.listdir(out)) if out is not None else frozenset()
    except OSError:
        return frozenset()


def sharded(job: BatchJob, out: JobPath | None, there: Collection[str] = frozenset()) -> SettledJob:
    """A job in a directory that does not depend on any other job's name, in one of 256 others.

    *there*: as `present` gives it: a job that has its directory from when the batch was smaller
    keeps it.

    Raises `JobError` as `settle`.

    Examples
    --------
    >>> sharded(BatchJob("Ann", "a.toml"), "out").out
    'out/17/ann-17239b6e'
    """
    if (own := _own(job, out)) is not None:
        return own
    name = safe_name(job.name)
    place = _sharded(job, out, name)
    former = [n for n in (name, os.path.basename(place)) if n in there] if there else []
    if not former:
        return SettledJob(job, place)
    return SettledJob(job, _kept(job, [place, *(os.path.join(out or "", n) for n in former)]))


def _own(job: BatchJob, out: JobPath | None) -> SettledJob | None:
    """The job in the directory that it names itself, if it does."""
    _refuse_nameless(job)
    if job.out is not None:
        return SettledJob(job, os.fspath(job.out))
    if out is None:
        raise JobError(
            f"there is no directory for the files of {job.name!r}",
            remedy="Give run_many a directory (out), or each BatchJob its own.",
            source=job.source,
        )
    return None


def _mark(job: BatchJob) -> str:
    return hashlib.sha256(job.name.encode("utf-8", "surrogatepass")).hexdigest()[:_DIGITS]


def _sharded(job: BatchJob, out: JobPath | None, name: str) -> str:
    mark = _mark(job)
    return os.path.join(out or "", f"{mark[:2]}{os.sep}{name}-{mark}")


def _kept(job: BatchJob, places: Sequence[str]) -> str:
    """The place that is this job's from an earlier run; or else the first that is no other's."""
    free = []
    for place in places:
        owner = record_of(Path(place)).name if os.path.isdir(place) else ""
        if owner == job.name:
            return place
        if not owner:
            free.append(place)
    return free[0] if free else places[0]


def _alike(jobs: Sequence[BatchJob]) -> set[str]:
    """Safe names that different names of jobs come to."""
    first: dict[str, str] = {}
    return {
        name
        for job in jobs
        if job.out is None and first.setdefault(name := safe_name(job.name), job.name) != job.name
    }


def _refuse_shared(settled: Sequence[SettledJob]) -> None:
    first: dict[str, SettledJob] = {}
    owners: dict[str, SettledJob] = {}
    users: defaultdict[str, list[SettledJob]] = defaultdict(list)
    for item in settled:
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


def _real(item: SettledJob) -> str:
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
