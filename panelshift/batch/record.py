"""The record beside a job's files: what they were made from, so that they need no remaking."""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final

from ..errors import OutputError
from ..files import temporary_names
from ..job import JobFile
from ..version import __version__
from .products import Making

RECORD_NAME: Final = ".panelshift-batch.json"
FORMAT: Final = 1
"""Goes up whenever the meaning of a record changes; records of another format do not count."""

_LARGEST_RECORD: Final = 10_000_000


@dataclass(frozen=True)
class Entry:
    """What is recorded of one product.

    Parameters
    ----------
    inputs : str
        `Inputs.digest` at the time.
    files : mapping of file name to str
        SHA-256 of each file.
    """

    inputs: str
    files: Mapping[str, str]
    warnings: tuple[str, ...] = ()


@dataclass(frozen=True)
class Record:
    """All that is recorded of a job.

    Parameters
    ----------
    name : str
        Of the job, for whoever reads the record.
    """

    name: str = ""
    entries: Mapping[str, Entry] = field(default_factory=dict)

    def with_entry(self, name: str, key: str, entry: Entry) -> Record:
        """Return the record with one product's entry replaced."""
        return Record(name, {**self.entries, key: entry})

    def to_bytes(self) -> bytes:
        """Return the record as it is written: the same record always gives the same bytes."""
        data = {
            "format": FORMAT,
            "job": self.name,
            "panelshift": __version__,
            "products": {
                key: {
                    "files": dict(entry.files),
                    "inputs": entry.inputs,
                    "warnings": list(entry.warnings),
                }
                for key, entry in self.entries.items()
            },
        }
        return (json.dumps(data, indent=1, sort_keys=True) + "\n").encode()


def read_record(folder: Path) -> Record:
    """Read the record of a directory; one that is damaged counts as none."""
    try:
        with (folder / RECORD_NAME).open("rb") as stream:
            data = json.loads(stream.read(_LARGEST_RECORD))
        if data["format"] != FORMAT:
            return Record()
        entries = {str(key): _entry(item) for key, item in data["products"].items()}
        return Record(str(data["job"]), entries)
    except (OSError, ValueError, KeyError, TypeError, AttributeError, RecursionError):
        return Record()


def _entry(data: Any) -> Entry:
    files = {str(name): str(digest) for name, digest in data["files"].items()}
    # Files of a record may be removed one day: only those in its own directory.
    if any(os.path.basename(name) != name or name in ("", ".", "..") for name in files):
        raise ValueError("a file outside the directory")
    return Entry(str(data["inputs"]), files, tuple(str(words) for words in data["warnings"]))


_NOT_DRAWN = frozenset({"title", "lacing_gap"})
"""Keys of the job's pattern that say nothing of how it is read."""


@dataclass(frozen=True)
class Inputs:
    """All that decides a job's files, in a form that can be compared and hashed.

    Parameters
    ----------
    job : mapping
        The job's values with all defaults. A file is there as its name and the hash of its
        content: where it lies makes no difference, so that a whole directory may be moved.
    """

    job: Mapping[str, Any]

    @classmethod
    def of(cls, job: JobFile) -> Inputs | None:
        """Read the job's files; None if one of them is a pipe or device, read only once."""
        try:
            values = _plain(job.model_dump(by_alias=True))
        except _NotSettledError:
            return None
        # Whoever states the default is not warned that it is one.
        values["pattern"]["stated"] = sorted(job.pattern.model_fields_set & {"net_outline"})
        return cls(values)

    def drawn(self, file: JobFile) -> str:
        """Return the hash of what decides how the job's pattern is read, its place included."""
        table = {k: v for k, v in self.job["pattern"].items() if k not in _NOT_DRAWN}
        panels = {
            name: (panel["corners"], panel["joins"]) for name, panel in self.job["panel"].items()
        }
        data = [str(file.pattern.file), table, panels]
        return sha256(json.dumps(data, sort_keys=True).encode())

    def turned(self, drawn: str) -> str:
        """Return the hash of what decides how the panels turn, in a pattern drawn like this.

        All of the body, the classes and the gap; and the innermost cloth, which lies on a
        former.
        """
        classes = {name: panel["class"] for name, panel in self.job["panel"].items()}
        gap, inner = self.job["pattern"]["lacing_gap"], self.job["stack"]["fabric"][0]
        data = [drawn, self.job["body"], classes, gap, inner]
        return sha256(json.dumps(data, sort_keys=True).encode())

    def digest(self, making: Making) -> str:
        """Return the SHA-256 of these inputs, a product's options and panelshift's version."""
        data = {"job": self.job, "options": making.options, "panelshift": __version__}
        text = json.dumps(data, sort_keys=True, separators=(",", ":"))
        return sha256(text.encode())


class _NotSettledError(Exception):
    """A file whose content cannot be known beforehand."""


def _plain(value: Any) -> Any:
    if isinstance(value, Mapping):
        return {str(key): _plain(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(item) for item in value]
    if isinstance(value, Path):
        return {"name": value.name, "sha256": _content_digest(value)}
    return value


def _content_digest(path: Path) -> str:
    # os.path answers no, where pathlib raises, for a path that no file can have.
    if not os.path.exists(path):
        return "absent"
    if not os.path.isfile(path):
        raise _NotSettledError
    try:
        with path.open("rb") as stream:
            return hashlib.file_digest(stream, "sha256").hexdigest()
    except OSError:
        # Carrying the job out says what is wrong with it.
        return "unreadable"


def sha256(content: bytes) -> str:
    """Return the SHA-256 of bytes in hexadecimal."""
    return hashlib.sha256(content).hexdigest()


def holds(folder: Path, files: Mapping[str, str]) -> bool:
    """Whether all files are in a directory with just the content that their hashes tell."""
    try:
        return all(sha256((folder / name).read_bytes()) == digest for name, digest in files.items())
    except OSError:
        return False


def remove_stale(folder: Path, earlier: Mapping[str, str], now: Iterable[str]) -> None:
    """Remove files that an earlier run made and this one does not make any more.

    A layer that was renamed would otherwise lie there twice, and somebody would cut the wrong
    one. A file that was changed by hand since stays.
    """
    for name in sorted(earlier.keys() - set(now)):
        if holds(folder, {name: earlier[name]}):
            _remove(folder / name)


def remove_left_behind(folder: Path, names: Iterable[str]) -> None:
    """Remove temporary files of these names, which a process that was killed could not."""
    try:
        hidden = [name for name in os.listdir(folder) if name.startswith(".")]
    except OSError:
        return
    patterns = [temporary_names(name) for name in names] if hidden else []
    for name in hidden:
        if any(pattern.fullmatch(name) for pattern in patterns):
            _remove(folder / name)


def _remove(path: Path) -> None:
    try:
        path.unlink(missing_ok=True)
    except OSError as error:
        raise OutputError(
            f"cannot remove what an earlier run left: {error.strerror or error}",
            remedy="Remove the file yourself, or choose another directory.",
            source=str(path),
        ) from error
