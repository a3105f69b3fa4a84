"""What a batch is given and what it answers: jobs, their names and directories, and outcomes."""

from __future__ import annotations

import os
from collections.abc import Mapping, Sequence
from copy import deepcopy
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final, Literal

from ..errors import JobError, WrongTypeError
from ..files.plain_values import refuse_misfits
from ..job import JobFile, read_job
from ..job.keys import with_overrides
from ..job.toml import job_bytes, job_data, parse_job

Status = Literal["done", "unchanged", "failed"]

JobPath = str | os.PathLike[str]
JobData = Mapping[str, Any]

_PLAIN: Final = frozenset((str, int, float, bool))
"""Values that nobody can change: almost all that a row of a table gives."""

_last_kept: tuple[str, JobData] = "", {}


def _kept(data: JobData) -> JobData:
    """A copy of a job's data; the same one for jobs that follow each other with the same data."""
    global _last_kept
    said = repr(data)
    if said != _last_kept[0]:
        _last_kept = said, deepcopy(data)
    return _last_kept[1]


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
    origin : str
        Where it comes from, for messages; none for its job file or its name.
    fault : str
        What is wrong with it already: it fails with that, and the others go on.

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
    origin: str = ""
    fault: str = ""

    def __post_init__(self) -> None:
        refuse_misfits(self, "a job of a batch")
        # Jobs run long after they are made, while a script may go on filling its own tables.
        own = dict(self.overrides)
        if not _PLAIN.issuperset(map(type, own.values())):
            own = deepcopy(own)
        object.__setattr__(self, "overrides", own)
        if isinstance(self.job, Mapping):
            object.__setattr__(self, "job", _kept(self.job))

    @property
    def source(self) -> str:
        """The job file's path, or the job's name if it has no file; for messages."""
        if self.origin:
            return self.origin
        return self.name if isinstance(self.job, Mapping) else os.fspath(self.job)

    def load(self, base: JobPath = ".") -> JobFile:
        """Read the job, put the overrides in and check it.

        Parameters
        ----------
        base : path-like
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
        if self.fault:
            raise JobError(
                self.fault, remedy="Mend it in the table, and run again.", source=self.source
            )
        if not isinstance(self.job, Mapping):
            path = _folder(base) / self.job
            if not self.overrides and self.folder is None:
                return read_job(path)
        data, folder = self.data(base)
        data = with_overrides(data, self.overrides, source=self.source)
        return parse_job(data, source=self.source, folder=folder)

    def data(self, base: JobPath = ".") -> tuple[dict[str, Any], Path]:
        """Job as TOML gives it, without the overrides, and the directory its paths start from.

        Parameters
        ----------
        base : path-like
            Directory that relative paths start from.

        Returns
        -------
        (dict, Path)

        Raises
        ------
        JobError
            If there is a job file and it cannot be read, or is no TOML.
        """
        base = _folder(base)
        if isinstance(self.job, Mapping):
            return dict(self.job), base / (self.folder or "")
        path = base / self.job
        data = job_data(job_bytes(path), source=self.source)
        return data, path.parent if self.folder is None else base / self.folder


def _folder(base: JobPath) -> Path:
    WrongTypeError.unless(base, (str, os.PathLike), "the directory of a job", "a path")
    return Path(base)


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
    sources, stamp : sequence of (str, str), and str
        What tells whether the files that the job is made from were touched since, and its own:
        for the batch's index. They do not count either.
    """

    name: str
    status: Status
    files: Mapping[str, str] = field(default_factory=dict)
    error: str = ""
    warnings: tuple[str, ...] = ()
    seconds: float = field(default=0.0, compare=False)
    sources: Sequence[tuple[str, str]] = field(default=(), compare=False, repr=False)
    stamp: str = field(default="", compare=False, repr=False)


@dataclass(frozen=True, slots=True)
class SettledJob:
    """A job whose directory is settled.

    *out*: directory for its files.
    """

    job: BatchJob
    out: str
