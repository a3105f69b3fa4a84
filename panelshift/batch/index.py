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
from array import array
from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import chain
from operator import attrgetter
from pathlib import Path
from typing import Any, Final

from ..errors import OutputError
from ..version import __version__
from .jobs import Outcome, SettledJob
from .products import Making
from .record import RECORD_NAME

INDEX_NAME: Final = ".panelshift-batch.sqlite"
_FORMAT: Final = 5
_COMMIT_SECONDS: Final = 2.0

ASKED_AT_ONCE: Final = 32
"""Jobs that are best asked for together: each question to the index has a price of its own."""

_NONE: Final = "[]"
_BETWEEN: Final = "\0"

_encoded: Final = json.JSONEncoder(sort_keys=True, default=str).encode

_TABLES: Final = (
    # Names and paths are bytes: a system may have some that are no text (see `_packed`). Paths of
    # files are joined by what no path can hold.
    "create table if not exists jobs (id integer primary key, folder blob unique, key blob, "
    "files blob, digests text, warnings text, sources text, stamp text)",
    # Of this run alone: a job that need not be done writes nothing to the index.
    "create temporary table asked (job integer primary key, number integer, name blob, "
    "folder blob, status text, made integer, told integer, error blob)",
)

_FIND: Final = (
    "select jobs.folder, id, number, key, files, digests, warnings, sources, stamp "
    "from jobs left join asked on job = id where jobs.folder in (%s)"
)

# The time of last change of contents can be set back by whoever writes a file; that of the file
# itself (ctime) cannot, where the system keeps one.
_touched: Final = attrgetter("st_size", "st_mtime_ns", "st_ctime_ns")


def stamp_of(paths: Iterable[str]) -> str:
    """Size and times of last change of files, hashed: tells at once that none was touched since."""
    paths = list(paths)
    try:
        seen = array("q", chain.from_iterable(map(_touched, map(os.stat, paths)))).tobytes()
    except (OSError, ValueError, OverflowError):
        seen = repr([_seen(path) for path in paths]).encode()
    return hashlib.blake2b(seen, digest_size=16).hexdigest()


def _seen(path: str) -> tuple[int, int, int] | None:
    try:
        found: tuple[int, int, int] = _touched(os.stat(path))
    except (OSError, ValueError):
        return None
    return found


def _packed(text: str) -> bytes:
    """A name or path as it is stored, whatever it holds."""
    return text.encode("utf-8", "surrogatepass")


def _unpacked(stored: bytes) -> str:
    return stored.decode("utf-8", "surrogatepass")


_DAMAGED: Final = (sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB)


class BatchIndex:
    """What became of each job of a batch's directory, and which were asked for in this run.

    *base*: the working directory: the same relative path is another job in another one.
    """

    def __init__(self, out: Path | None, makings: Sequence[Making], base: str) -> None:
        self._options = _encoded([[making.options for making in makings], __version__, base])
        self._base: tuple[object, str] = (None, "")
        # Sources are seen as they were when a job of this run first asked.
        self._sources: dict[str, str] = {}
        self._as_before = ""
        self._path = None if out is None else out / INDEX_NAME
        self._store = _opened(self._path)
        self._committed = time.monotonic()

    def begin(
        self, asked: Sequence[tuple[int, SettledJob]], *, resume: bool
    ) -> list[tuple[bytes, Outcome | None]]:
        """Note that jobs are asked for.

        Returns: of each its key, and what is known of it already: that none of its files was
        touched since it was done, or that another job of this run has its directory.

        Raises `OutputError` as `keep`.
        """
        with self._kept_up():
            return self._begin(asked, resume)

    def _begin(
        self, asked: Sequence[tuple[int, SettledJob]], resume: bool
    ) -> list[tuple[bytes, Outcome | None]]:
        found = {row[0]: row[1:] for row in self._rows([_packed(item.out) for _, item in asked])}
        answers, notes = [], []
        for number, item in asked:
            key, folder, known = self._key(item), _packed(item.out), None
            row, job = found.get(folder), None
            if row is not None and row[1] is not None:
                known = _doubled(item)
                job, shown = -1 - number, folder + f" (job {number + 1})".encode()
            else:
                job, shown = row[0] if row is not None else self._added(folder), folder
                if row is not None and resume and row[2] == key:
                    known = self._unchanged(item, row[3:])
                found[folder] = job, number
            answers.append((key, known))
            notes.append((job, number, _packed(item.job.name), shown, *_told(known)))
        self._store.executemany("insert into asked values (?, ?, ?, ?, ?, ?, ?, ?)", notes)
        self._now_and_then()
        return answers

    def _rows(self, folders: Sequence[bytes]) -> Iterator[tuple[Any, ...]]:
        return self._store.execute(_FIND % ", ".join("?" * len(folders)), folders)

    def _added(self, folder: bytes) -> int | None:
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
        paths = _unpacked(files).split(_BETWEEN)
        if stamp_of([*paths, f"{item.out}{os.sep}{RECORD_NAME}"]) != stamp:
            return None
        told = tuple(json.loads(warnings)) if warnings != _NONE else ()
        # As many digests as files: both were written together.
        made = dict(zip(paths, digests.split(_BETWEEN), strict=True))
        return Outcome(item.job.name, "unchanged", made, warnings=told)

    def keep(self, item: SettledJob, key: bytes, outcome: Outcome) -> None:
        """Note what became of a job.

        Raises `OutputError` if the index cannot be kept up: on a full disk, or if it is damaged.
        """
        with self._kept_up():
            self._keep(_packed(item.out), key, outcome)

    def _keep(self, folder: bytes, key: bytes, outcome: Outcome) -> None:
        self._store.execute(
            "update jobs set key = ?, files = ?, digests = ?, warnings = ?, sources = ?, "
            "stamp = ? where folder = ?",
            (
                key,
                _packed(_BETWEEN.join(outcome.files)),
                _BETWEEN.join(outcome.files.values()),
                json.dumps(outcome.warnings),
                json.dumps(outcome.sources),
                outcome.stamp,
                folder,
            ),
        )
        self._store.execute(
            "update asked set status = ?, made = ?, told = ?, error = ? "
            "where job = (select id from jobs where folder = ?)",
            (*_told(outcome), folder),
        )
        self._now_and_then()

    def summary(self) -> Iterator[tuple[str, str, str, int, int, str]]:
        """Jobs of this run in their order: name, status, directory, files, warnings, error."""
        query = "select name, status, folder, made, told, error from asked order by number"
        with self._kept_up():
            for name, status, folder, made, told, error in self._store.execute(query):
                yield _unpacked(name), status, _unpacked(folder), made, told, _unpacked(error)

    def close(self) -> None:
        """Put everything on disk."""
        with contextlib.suppress(sqlite3.Error):
            self._store.commit()
        self._store.close()

    @contextlib.contextmanager
    def _kept_up(self) -> Iterator[None]:
        try:
            yield
        except sqlite3.Error as error:
            damaged = getattr(error, "sqlite_errorcode", 0) & 0xFF in _DAMAGED
            self._store.close()
            if damaged and self._path is not None:
                self._path.unlink(missing_ok=True)
            raise OutputError(
                "the index of the batch is damaged, and was removed"
                if damaged
                else f"the index of the batch cannot be kept up: {error}",
                remedy="Run the batch again: what is done is not done again."
                if damaged
                else "See that there is room on the disk, and in the system's directory for "
                "temporary files, and run the batch again: what is done is not done again.",
                source=str(self._path or ""),
            ) from error

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


def _told(outcome: Outcome | None) -> tuple[str | None, int, int, bytes]:
    """Status, numbers of files and of warnings, and what is wrong."""
    if outcome is None:
        return None, 0, 0, b""
    return outcome.status, len(outcome.files), len(outcome.warnings), _packed(outcome.error)


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
