"""The folder that holds the work: the job file, the pattern beside it, and what can be undone."""

from __future__ import annotations

import hashlib
import json
import os
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Any, Final

from ..errors import JobError, PanelshiftError
from ..files import file_bytes, safe_name, write_whole
from ..form.section_file import FORMAT
from ..job.toml import job_bytes, job_data
from .toml_changes import value_at

MOST_STEPS: Final = 60
"""Steps kept in each direction."""

MOST_CHARACTERS: Final = 1_000_000
"""Text that all steps hold together; the oldest go first."""


@dataclass(frozen=True)
class Work:
    """All that the maker decided: a job file's bytes, and the readings of swatches beside it.

    *readings*: text of the job's own swatch file; None if it has none that this page may write.
    """

    job: bytes
    readings: str | None = None

    @cached_property
    def text(self) -> str:
        """The job file as text; what is no UTF-8 shows as a question mark."""
        return self.job.decode("utf-8-sig", errors="replace")

    @cached_property
    def revision(self) -> str:
        """Short name of this very state: the same content has the same name anywhere."""
        whole = self.job + b"\0" + (self.readings or "").encode("utf-8", "surrogateescape")
        return hashlib.sha256(whole).hexdigest()[:16]


@dataclass(frozen=True)
class Step:
    """A state to go back or forward to, and what the step between did."""

    work: Work
    words: str


@dataclass(frozen=True)
class History:
    """Steps back and forward, the nearest last."""

    back: tuple[Step, ...] = ()
    forward: tuple[Step, ...] = ()

    def after(self, before: Work, words: str) -> History:
        """History after a change that began at `before`; nothing can be redone any more."""
        return History(_bounded((*self.back, Step(before, words))))

    def undone(self, current: Work) -> tuple[Work, str, History] | None:
        """Go one step back: the state, what was undone, and the history then; None if at the end.

        *current*: the state that is left.
        """
        if not self.back:
            return None
        step = self.back[-1]
        forward = _bounded((*self.forward, Step(current, step.words)))
        return step.work, step.words, History(self.back[:-1], forward)

    def redone(self, current: Work) -> tuple[Work, str, History] | None:
        """Go one step forward, as `undone` goes back."""
        if not self.forward:
            return None
        step = self.forward[-1]
        back = _bounded((*self.back, Step(current, step.words)))
        return step.work, step.words, History(back, self.forward[:-1])

    def find(self, revision: str) -> Work | None:
        """A state that was there before, by its revision."""
        for step in (*self.back[::-1], *self.forward[::-1]):
            if step.work.revision == revision:
                return step.work
        return None


def _bounded(steps: tuple[Step, ...]) -> tuple[Step, ...]:
    kept: list[Step] = []
    room = MOST_CHARACTERS
    for step in reversed(steps[-MOST_STEPS:]):
        room -= len(step.work.job) + len(step.work.readings or "")
        if room < 0:
            break
        kept.append(step)
    return tuple(reversed(kept))


def history_bytes(history: History, current: Work) -> bytes:
    """Return a history as the file that keeps it."""
    data = {
        "about": "panelshift table: what can be undone; it may be deleted",
        "current": current.revision,
        "back": [_plain(step) for step in history.back],
        "forward": [_plain(step) for step in history.forward],
    }
    return (json.dumps(data) + "\n").encode()


def read_history(raw: bytes, current: Work) -> History:
    """Return the history that a file keeps; a damaged one is empty.

    *current*: the state now. If the file was kept for another one, nothing can be redone.
    """
    try:
        data = json.loads(raw)
        back = tuple(_step(item) for item in data["back"])
        forward = tuple(_step(item) for item in data["forward"])
        known = data["current"] == current.revision
    except (ValueError, TypeError, KeyError, AttributeError, RecursionError):
        return History()
    return History(_bounded(back), _bounded(forward) if known else ())


def _plain(step: Step) -> dict[str, Any]:
    job = step.work.job.decode("utf-8", "surrogateescape")
    return {"words": step.words, "job": job, "readings": step.work.readings}


def _step(item: Any) -> Step:
    readings = item["readings"]
    job = str(item["job"]).encode("utf-8", "surrogateescape")
    return Step(Work(job, None if readings is None else str(readings)), str(item["words"]))


HEADINGS: Final = ("inner", "outer", "former_mm", "length_mm", "overhang_mm")
"""Of the files that this page writes; a file with other columns is the maker's own to edit."""

_LARGEST_HISTORY_BYTES: Final = 20_000_000
_MOST_COPIES: Final = 1000
_LONGEST_NAME: Final = 50
"""Of a job file's name in that of its history, which file systems must be able to hold."""

_MOST_SECTIONS: Final = 50
_SECTIONS_HEAD: Final = 4000
"""Bytes in which a file of sections says that it is one."""

Stamp = tuple[int, int, int]
"""What changes when a file does: time of change in ns, size, number in the file system."""


class Workspace:
    """Where a job is read from and written to.

    *job*: the job file, as the maker named it; it need not be there yet.
    """

    def __init__(self, job: Path) -> None:
        self.job = job
        self._readings: Path | None = None

    @property
    def folder(self) -> Path:
        """Directory that the job's paths are relative to."""
        return self.job.parent

    @property
    def _history(self) -> Path:
        return self.folder / f".{self.job.name[:_LONGEST_NAME]}.panelshift-undo.json"

    def stamp(self) -> tuple[Stamp | None, Stamp | None]:
        """Stamps of the job file and of its readings, None for what is not there."""
        return stamp_of(self.job), None if self._readings is None else stamp_of(self._readings)

    def read(self) -> Work:
        """Read the work from the disk.

        Raises `JobError` if the job file cannot be read at all, or is far too large.
        """
        raw = job_bytes(self.job)
        readings = self._readings = self._readings_file(raw)
        if readings is None:
            return Work(raw)
        try:
            text = job_bytes(readings).decode("utf-8")
        except (JobError, UnicodeDecodeError):
            return Work(raw)
        return Work(raw, text if may_write(text) else None)

    def write(self, work: Work, history: History) -> None:
        """Write the work and its history, whole and flushed to the disk.

        Raises `OutputError` if they cannot be written; what was there is then there still.
        """
        files = {self._history: history_bytes(history, work)}
        readings = self._readings = self._readings_file(work.job)
        if readings is not None and work.readings is not None:
            files[readings] = work.readings.encode()
        # A link stays a link: its file is written. The job goes last: it says what counts.
        files[Path(os.path.realpath(self.job))] = work.job
        write_whole(files)

    def history(self, current: Work) -> History:
        """Read what can be undone; nothing if its file is missing or damaged."""
        try:
            raw = job_bytes(self._history, _LARGEST_HISTORY_BYTES)
        except JobError:
            return History()
        return read_history(raw, current)

    def _readings_file(self, raw: bytes) -> Path | None:
        """The job's file of readings, if it lies beside the job file itself."""
        try:
            name = value_at(job_data(raw, source=""), ("stack", "swatches"))
        except PanelshiftError:
            return None
        if not isinstance(name, str) or not name or os.path.basename(name) != name:
            return None
        return self.folder / name


def may_write(text: str) -> bool:
    """Whether a file of readings is one that this page may add to."""
    first, _, _ = text.partition("\n")
    return tuple(first.strip().split(",")) == HEADINGS


def stamp_of(path: Path) -> Stamp | None:
    """Stamp of a file, None if it is not there."""
    try:
        found = os.stat(path)
    except (OSError, ValueError):
        return None
    return found.st_mtime_ns, found.st_size, found.st_ino


def jobs_in(folder: Path) -> list[str]:
    """Names of the files in a folder that look like job files, in order."""
    found = []
    for path in sorted(folder.glob("*.toml"))[:200]:
        try:
            data = job_data(job_bytes(path), source="")
        except PanelshiftError:
            continue
        if isinstance(value_at(data, ("pattern", "file")), str) and "stack" in data:
            found.append(path.name)
    return found


def section_files(folder: Path) -> list[str]:
    """Names of the files in a folder that may hold sections of a body, in order."""
    found = []
    for path in sorted(folder.glob("*.json"))[:_MOST_SECTIONS]:
        try:
            head = file_bytes(path, _SECTIONS_HEAD)
        except OSError:
            continue
        if FORMAT.encode() in head:
            found.append(path.name)
    return found


def pattern_name(uploaded: str) -> str:
    """Return the name under which an uploaded pattern is kept: never a path.

    Examples
    --------
    >>> pattern_name("../../Façade No 40.SVG"), pattern_name("C:\\\\draft.svgz")
    ('facade-no-40.svg', 'draft.svgz')
    """
    last = uploaded.replace("\\", "/").rpartition("/")[2]
    stem, _, suffix = last.rpartition(".")
    kind = suffix.lower()
    return f"{safe_name(stem or last)}.{kind if kind in ('svgz', 'pdf', 'dxf') else 'svg'}"


def free_place(folder: Path, name: str, content: bytes | None = None) -> Path:
    """Return a path in a folder that holds nothing yet, or this very content.

    *name*: tried first; a number is added where something else is.
    """
    stem, dot, suffix = name.rpartition(".")
    for count in range(1, _MOST_COPIES):
        path = folder / (name if count == 1 else f"{stem}-{count}{dot}{suffix}")
        if not os.path.lexists(path):
            return path
        if content is not None and path.is_file() and path.read_bytes() == content:
            return path
    raise JobError(
        f"there are {_MOST_COPIES} files called like {name} already",
        remedy="Move some of them to another folder.",
        source=str(folder),
    )
