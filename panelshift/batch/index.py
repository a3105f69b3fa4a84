"""The index of a batch: what is done and unchanged is told without opening any job.

SQLite, since a batch may have a million jobs: rows are found one by one on disk, so that memory
does not grow with their number, and a process that is killed leaves the index whole. It is no more
than a short cut. What it does not know, or what was touched since, is looked at job by job, by
content; and if it is lost, it is made again.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import sqlite3
import time
from collections.abc import Iterable, Iterator, Mapping, Sequence
from operator import attrgetter
from pathlib import Path
from typing import Any, Final

from ..errors import OutputError
from ..version import __version__
from .jobs import Outcome, SettledJob
from .products import Making
from .record import RECORD_NAME

INDEX_NAME: Final = ".panelshift-batch.sqlite"
_FORMAT: Final = 4
_COMMIT_SECONDS: Final = 2.0

ASKED_AT_ONCE: Final = 32
"""Jobs that are best asked for together: each question to the index has a price of its own."""

_NONE: Final = "[]"
_BETWEEN: Final = "\0"

_encoded: Final = json.JSONEncoder(sort_keys=True, default=str).encode

_TABLES: Final = (
    # Paths of files are joined by what no path can hold.
    "create table if not exists jobs (id integer primary key, folder text unique, key blob, "
    "files text, digests text, warnings text, sources text, stamp text)",
    # Of this run alone: a job that need not be done writes nothing to the index.
    "create temporary table asked (job integer primary key, number integer, name text, "
    "folder text, status text, made integer, told integer, error text)",
)

_FIND: Final = (
    "select jobs.folder, id, number, key, files, digests, warnings, sources, stamp "
    "from jobs left join asked on job = id where jobs.folder in (%s)"
)

_size_and_change: Final = attrgetter("st_size", "st_mtime_ns")


def stamp_of(paths: Iterable[str]) -> str:
    """Size and time of last change of files: what tells at once that none was touched since."""
    paths = list(paths)
    try:
        return repr([*map(_size_and_change, map(os.stat, paths))])
    except (OSError, ValueError):
        return repr([_seen(path) for path in paths])


def _seen(path: str) -> tuple[int, int] | None:
    try:
        found: tuple[int, int] = _size_and_change(os.stat(path))
    except (OSError, ValueError):
        return None
    return found


class BatchIndex:
    """What became of each job of a batch's directory, and which were asked for in this run."""

    def __init__(self, out: Path | None, makings: Sequence[Making]) -> None:
        self._options = _encoded([[making.options for making in makings], __version__])
        self._base: tuple[object, str] = (None, "")
        # Sources are seen as they were when a job of this run first asked.
        self._sources: dict[str, str] = {}
        self._as_before = ""
        self._store = _opened(None if out is None else out / INDEX_NAME)
        self._committed = time.monotonic()

    def begin(
        self, asked: Sequence[tuple[int, SettledJob]], *, resume: bool
    ) -> list[tuple[bytes, Outcome | None]]:
        """Note that jobs are asked for.

        Returns: of each its key, and what is known of it already: that none of its files was
        touched since it was done, or that another job of this run has its directory.
        """
        found = {row[0]: row[1:] for row in self._rows([item.out for _, item in asked])}
        answers, notes = [], []
        for number, item in asked:
            key, row, known = self._key(item), found.get(item.out), None
            job: int | None
            if row is not None and row[1] is not None:
                known = _doubled(item)
                job, shown = -1 - number, f"{item.out} (job {number + 1})"
            else:
                job, shown = row[0] if row is not None else self._added(item.out), item.out
                if row is not None and resume and row[2] == key:
                    known = self._unchanged(item, row[3:])
                found[item.out] = job, number
            answers.append((key, known))
            notes.append((job, number, item.job.name, shown, *_told(known)))
        self._store.executemany("insert into asked values (?, ?, ?, ?, ?, ?, ?, ?)", notes)
        self._now_and_then()
        return answers

    def _rows(self, folders: Sequence[str]) -> Iterator[tuple[Any, ...]]:
        return self._store.execute(_FIND % ", ".join("?" * len(folders)), folders)

    def _added(self, folder: str) -> int | None:
        return self._store.execute("insert into jobs (folder) values (?)", (folder,)).lastrowid

    def _unchanged(self, item: SettledJob, row: tuple[Any, ...]) -> Outcome | None:
        files, digests, warnings, sources, stamp = row
        if not stamp:
            return None
        # The rows of a table share their files.
        if sources != self._as_before:
            for path, seen in json.loads(sources):
                if path not in self._sources:
                    self._sources[path] = stamp_of([path])
                if self._sources[path] != seen:
                    return None
            self._as_before = sources
        made = files.split(_BETWEEN)
        if stamp_of([*made, f"{item.out}{os.sep}{RECORD_NAME}"]) != stamp:
            return None
        told = tuple(json.loads(warnings)) if warnings != _NONE else ()
        # As many digests as files: both were written together.
        made = dict(zip(made, digests.split(_BETWEEN), strict=True))
        return Outcome(item.job.name, "unchanged", made, warnings=told)

    def keep(self, item: SettledJob, key: bytes, outcome: Outcome) -> None:
        """Note what became of a job."""
        self._store.execute(
            "update jobs set key = ?, files = ?, digests = ?, warnings = ?, sources = ?, "
            "stamp = ? where folder = ?",
            (
                key,
                _BETWEEN.join(outcome.files),
                _BETWEEN.join(outcome.files.values()),
                json.dumps(outcome.warnings),
                json.dumps(outcome.sources),
                outcome.stamp,
                item.out,
            ),
        )
        self._store.execute(
            "update asked set status = ?, made = ?, told = ?, error = ? "
            "where job = (select id from jobs where folder = ?)",
            (*_told(outcome), item.out),
        )
        self._now_and_then()

    def summary(self) -> Iterator[tuple[str, str, str, int, int, str]]:
        """Jobs of this run in their order: name, status, directory, files, warnings, error."""
        query = "select name, status, folder, made, told, error from asked order by number"
        yield from self._store.execute(query)

    def close(self) -> None:
        """Put everything on disk."""
        with contextlib.suppress(sqlite3.Error):
            self._store.commit()
        self._store.close()

    def _now_and_then(self) -> None:
        # Each time costs a flush to disk.
        if time.monotonic() - self._committed > _COMMIT_SECONDS:
            self._store.commit()
            self._committed = time.monotonic()

    def _key(self, item: SettledJob) -> bytes:
        """Hash of all that a job is, but for what its files hold."""
        job = item.job
        if self._base[0] is not job.job:
            # The rows of a table share their job.
            data = job.job if isinstance(job.job, Mapping) else os.fspath(job.job)
            text = _encoded([data, str(job.folder), self._options])
            self._base = job.job, hashlib.sha256(text.encode()).hexdigest()
        own = self._base[1], job.name, str(job.folder), sorted(job.overrides.items())
        return hashlib.sha256(repr(own).encode()).digest()


def _doubled(item: SettledJob) -> Outcome:
    return Outcome(
        item.job.name,
        "failed",
        error=f"another job of this batch has its directory, {item.out}\n"
        "  What to do: List each job once, and give jobs names of their own.",
    )


def _told(outcome: Outcome | None) -> tuple[str | None, int, int, str]:
    """Status, numbers of files and of warnings, and what is wrong."""
    if outcome is None:
        return None, 0, 0, ""
    return outcome.status, len(outcome.files), len(outcome.warnings), outcome.error


def _opened(path: Path | None) -> sqlite3.Connection:
    """An index that is whole and nobody else's; one on disk for this run alone where it cannot be.

    Raises `OutputError` if another batch has it open.
    """
    if path is None:
        return _connected("")
    try:
        return _connected(str(path))
    except sqlite3.OperationalError as error:
        if error.sqlite_errorcode in (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED):
            raise OutputError(
                "another batch is at work there",
                remedy="Wait until it has ended, or choose another directory.",
                source=str(path.parent),
            ) from None
        # Some network disks know no locks.
        return _connected("")
    except sqlite3.DatabaseError:
        # Damaged: it is a short cut, and no more.
        path.unlink(missing_ok=True)
        return _connected(str(path))


def _connected(path: str) -> sqlite3.Connection:
    store = sqlite3.connect(path, timeout=0.0, check_same_thread=False)
    try:
        store.execute("pragma locking_mode = exclusive")
        store.execute("pragma journal_mode = delete")
        store.execute("pragma synchronous = normal")
        store.execute("begin immediate")
        known = store.execute("pragma user_version").fetchone()[0]
        if known != _FORMAT:
            store.execute("drop table if exists jobs")
            store.execute("drop table if exists asked")
            store.execute(f"pragma user_version = {_FORMAT}")
        for table in _TABLES:
            store.execute(table)
        store.commit()
    except sqlite3.Error:
        store.close()
        raise
    return store
