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
from pathlib import Path
from typing import Any, Final

from ..errors import OutputError
from ..version import __version__
from .jobs import Outcome, SettledJob
from .products import Making
from .record import RECORD_NAME

INDEX_NAME: Final = ".panelshift-batch.sqlite"
_FORMAT: Final = 1
_COMMIT_SECONDS: Final = 2.0

_encoded: Final = json.JSONEncoder(sort_keys=True, default=str).encode

_TABLE: Final = """
create table if not exists jobs (
  folder text primary key, run text, number integer, name text, key blob, status text,
  error text, warnings text, files text, sources text, stamp text,
  made integer default 0, told integer default 0)
"""


def stamp_of(paths: Iterable[str]) -> str:
    """Size and time of last change of files: what tells at once that none was touched since."""
    return " ".join(map(_seen, paths))


def _seen(path: str) -> str:
    try:
        found = os.stat(path)
    except (OSError, ValueError):
        return "absent"
    return f"{found.st_size}:{found.st_mtime_ns}"


class BatchIndex:
    """What became of each job of a batch's directory, and which were asked for in this run."""

    def __init__(self, out: Path | None, run: str, makings: Sequence[Making]) -> None:
        self._run = run
        self._options = _encoded([[making.options for making in makings], __version__])
        self._base: tuple[object, str] = (None, "")
        # Sources are seen as they were when a job of this run first asked.
        self._sources: dict[str, str] = {}
        self._store = _opened(None if out is None else out / INDEX_NAME)
        self._committed = time.monotonic()

    def begin(self, number: int, item: SettledJob, *, resume: bool) -> tuple[bytes, Outcome | None]:
        """Note that a job is asked for.

        Returns: its key, and what is known of it already: that none of its files was touched
        since it was done, or that another job of this run has its directory.
        """
        key, folder, name = self._key(item), item.out, item.job.name
        row = self._store.execute(
            "select run, key, files, warnings, sources, stamp from jobs where folder = ?", (folder,)
        ).fetchone()
        if row is not None and row[0] == self._run:
            return key, self._doubled(number, item)
        known = self._unchanged(item, row) if resume and row is not None and row[1] == key else None
        if row is None:
            self._store.execute(
                "insert into jobs (run, number, name, folder) values (?, ?, ?, ?)",
                (self._run, number, name, folder),
            )
        else:
            self._store.execute(
                "update jobs set run = ?, number = ?, name = ?, status = ? where folder = ?",
                (self._run, number, name, known and known.status, folder),
            )
        self._now_and_then()
        return key, known

    def _doubled(self, number: int, item: SettledJob) -> Outcome:
        outcome = Outcome(
            item.job.name,
            "failed",
            error=f"another job of this batch has its directory, {item.out}\n"
            "  What to do: List each job once, and give jobs names of their own.",
        )
        folder = f"{item.out} (job {number + 1})"
        self._store.execute(
            "insert or replace into jobs (run, number, name, folder, status, error) "
            "values (?, ?, ?, ?, ?, ?)",
            (self._run, number, item.job.name, folder, outcome.status, outcome.error),
        )
        return outcome

    def _unchanged(self, item: SettledJob, row: tuple[Any, ...]) -> Outcome | None:
        _, _, files, warnings, sources, stamp = row
        if not stamp:
            return None
        for path, seen in json.loads(sources):
            if path not in self._sources:
                self._sources[path] = _seen(path)
            if self._sources[path] != seen:
                return None
        made = json.loads(files)
        if stamp_of([*made, os.path.join(item.out, RECORD_NAME)]) != stamp:
            return None
        return Outcome(item.job.name, "unchanged", made, warnings=tuple(json.loads(warnings)))

    def keep(self, item: SettledJob, key: bytes, outcome: Outcome) -> None:
        """Note what became of a job."""
        self._store.execute(
            "update jobs set key = ?, status = ?, error = ?, warnings = ?, files = ?, sources = ?, "
            "stamp = ?, made = ?, told = ? where folder = ?",
            (
                key,
                outcome.status,
                outcome.error,
                json.dumps(outcome.warnings),
                json.dumps(dict(outcome.files)),
                json.dumps(outcome.sources),
                outcome.stamp,
                len(outcome.files),
                len(outcome.warnings),
                item.out,
            ),
        )
        self._now_and_then()

    def summary(self) -> Iterator[tuple[str, str, str, int, int, str]]:
        """Jobs of this run in their order: name, status, directory, files, warnings, error."""
        query = (
            "select name, status, folder, made, told, case status when 'failed' then error "
            "else '' end from jobs where run = ? order by number"
        )
        yield from self._store.execute(query, (self._run,))

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
        own = [self._base[1], job.name, str(job.folder), dict(job.overrides)]
        return hashlib.sha256(_encoded(own).encode()).digest()


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
            store.execute(f"pragma user_version = {_FORMAT}")
        store.execute(_TABLE)
        store.commit()
    except sqlite3.Error:
        store.close()
        raise
    return store
