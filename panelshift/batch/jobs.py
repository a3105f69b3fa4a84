"""What a batch is given and what it answers: jobs, their names and directories, and outcomes."""

from __future__ import annotations

import hashlib
import os
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final, Literal

from ..errors import JobError
from ..files import safe_name
from ..job import JobFile, read_job
from ..job.toml import job_bytes, job_data, parse_job
from .keys import with_overrides

Status = Literal["done", "unchanged", "failed"]

JobPath = str | os.PathLike[str]
JobData = Mapping[str, Any]


_MOST_LISTED: Final = 20
"""Of many faults of one kind the first few tell enough."""

_DIGITS: Final = 8
"""Hexadecimal digits of the mark that tells names apart which are the same once made safe."""


@dataclass(frozen=True, slots=True)
class BatchJob:
    """One job of a batch.

    Parameters
    ----------
    name : str
        Names the job in messages, and its directory below the batch's, made safe.
    job : path-like or mapping
        A job file, or a job as TOML would give it: tables as dictionaries, lengths as numbers
        of mm or as text with a unit.
    overrides : mapping of str to value
        Dotted keys whose values replace those of the job: ``pattern.lacing_gap``,
        ``body.girths.waist``, ``panel.NAME.class``, ``stack.fabric.NAME.thickness``.
    out : path-like or None
        Directory for the job's own files; None for one named after it in the batch's.
    folder : path-like or None
        What the paths in the job are relative to; None for the job file's directory, or for
        the working directory if the job is a mapping.

    Examples
    --------
    >>> data = {
    ...     "pattern": {"file": "draft.svg", "lacing_gap": 50},
    ...     "stack": {"fabric": [{"name": "drill", "thickness": 0.5}]},
    ... }
    >>> job = BatchJob("Ann", data, {"pattern.lacing_gap": "6 cm"})
    >>> job.load().pattern.lacing_gap
    60.0
    """

    name: str
    job: JobPath | JobData
    overrides: Mapping[str, Any] = field(default_factory=dict)
    out: JobPath | None = None
    folder: JobPath | None = None

    @property
    def source(self) -> str:
        """The job file's path, or the job's name if it has no file; for messages."""
        return self.name if isinstance(self.job, Mapping) else os.fspath(self.job)

    def load(self, base: Path = Path()) -> JobFile:
        """Read the job, put the overrides in and check it.

        Parameters
        ----------
        base : Path
            Directory that relative paths start from.

        Returns
        -------
        JobFile
            Checked, with the overrides.

        Raises
        ------
        JobError
            If the job file cannot be read, an override has no place in the job, or the job
            has faults: all are listed.
        """
        if not isinstance(self.job, Mapping):
            path = base / self.job
            if not self.overrides and self.folder is None:
                return read_job(path)
        data, folder = self.data(base)
        data = with_overrides(data, self.overrides, source=self.source)
        return parse_job(data, source=self.source, folder=folder)

    def data(self, base: Path = Path()) -> tuple[dict[str, Any], Path]:
        """Job as TOML gives it, without the overrides, and the directory its paths start from.

        Parameters
        ----------
        base : Path
            Directory that relative paths start from.

        Returns
        -------
        (dict, Path)

        Raises
        ------
        JobError
            If there is a job file and it cannot be read or has faults.
        """
        if isinstance(self.job, Mapping):
            return dict(self.job), base / (self.folder or "")
        path = base / self.job
        # Refuses whatever is no job file, with a message; what is left can be parsed.
        read_job(path)
        data = job_data(job_bytes(path), source=self.source)
        return data, path.parent if self.folder is None else base / self.folder


@dataclass(frozen=True, slots=True)
class Outcome:
    """What became of one job.

    Parameters
    ----------
    name : str
        Of the job.
    status : "done", "unchanged" or "failed"
        Unchanged: an earlier run has done the job, and neither its inputs nor its files are
        other than they were then.
    files : mapping of str to str
        Path of each file of the job and the SHA-256 of its content in hexadecimal; empty if
        the job failed.
    error : str
        What is wrong and what to do about it, if the job failed.
    warnings : tuple of str
        What the maker should look at.
    seconds : float
        Time that the job took; it does not count when outcomes are compared.
    """

    name: str
    status: Status
    files: Mapping[str, str] = field(default_factory=dict)
    error: str = ""
    warnings: tuple[str, ...] = ()
    seconds: float = field(default=0.0, compare=False)


@dataclass(frozen=True, slots=True)
class SettledJob:
    """A job whose directory is settled.

    *out*: directory for its files.
    """

    job: BatchJob
    out: str


def _refuse_nameless(job: BatchJob) -> None:
    if not job.name.strip():
        raise JobError(
            "a job without a name",
            remedy="Give every job of a batch a name of its own.",
            source=job.source,
        )


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


def settle(jobs: Sequence[BatchJob], out: JobPath | None) -> list[SettledJob]:
    """Settle the directory of every job.

    *out*: directory in which jobs without one of their own get theirs. Names that are the same once
    made safe get a mark made from the name itself, so that a job keeps its directory when others
    are added before it.

    Raises `JobError` if a job has no name, or there is no directory for it or it can be none, or
    several would have the same.

    Examples
    --------
    >>> clients = [BatchJob("Ann", "a.toml"), BatchJob("Bo B.", "a.toml")]
    >>> [item.out for item in settle(clients, "out")]
    ['out/ann', 'out/bo-b']
    """
    alike = _alike(jobs)
    settled = []
    for job in jobs:
        _refuse_nameless(job)
        if job.out is not None:
            settled.append(SettledJob(job, os.fspath(job.out)))
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
        settled.append(SettledJob(job, os.path.join(out, name)))
    _refuse_shared(settled)
    return settled


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
