"""The record beside a job's files: what they were made from, so that they need no remaking."""

from __future__ import annotations

import json
import os
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final

from ..files.contents import file_digest
from ..files.outputs import read_record, record_bytes, sha256
from ..job import JobFile
from ..job.drafted import reading_key
from ..version import __version__
from .products import Making

RECORD_NAME: Final = ".panelshift-batch.json"
FORMAT: Final = 1
"""Goes up whenever the meaning of a record changes; records of another format do not count."""


@dataclass(frozen=True)
class Entry:
    """What is recorded of one product.

    *inputs*: `Inputs.digest` at the time. *files*: SHA-256 of each file.
    """

    inputs: str
    files: Mapping[str, str]
    warnings: tuple[str, ...] = ()


@dataclass(frozen=True)
class Record:
    """All that is recorded of a job.

    *name*: of the job, for whoever reads the record.
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
        return record_bytes(data)


def record_of(folder: Path) -> Record:
    """Read the record of a directory; one that is damaged counts as none."""
    data = read_record(folder / RECORD_NAME)
    try:
        if data["format"] != FORMAT:
            return Record()
        entries = {str(key): _entry(item) for key, item in data["products"].items()}
        return Record(str(data["job"]), entries)
    except (ValueError, KeyError, TypeError, AttributeError):
        return Record()


def _entry(data: Any) -> Entry:
    files = {str(name): str(digest) for name, digest in data["files"].items()}
    # Files of a record may be removed one day: only those in its own directory.
    if any(os.path.basename(name) != name or name in ("", ".", "..") for name in files):
        raise ValueError("a file outside the directory")
    return Entry(str(data["inputs"]), files, tuple(str(words) for words in data["warnings"]))


@dataclass(frozen=True)
class Inputs:
    """All that decides a job's files, in a form that can be compared and hashed.

    *job*: the job's values with all defaults. A file is there as its name and the hash of its
    content: where it lies makes no difference, so that a whole directory may be moved.
    """

    job: Mapping[str, Any]

    @classmethod
    def of(cls, job: JobFile) -> Inputs:
        """Read the job's files."""
        values = _plain(job.model_dump(by_alias=True))
        # Whoever states the default is not warned that it is one.
        values["pattern"]["stated"] = sorted(job.pattern.model_fields_set & {"net_outline"})
        return cls(values)

    def drawn(self, file: JobFile) -> str:
        """Return the hash of what decides how the job's pattern is read, its place included."""
        own = self.job["pattern"]["file"]
        data = [str(file.pattern.file), own, reading_key(file), self.job["alteration"]]
        return sha256(json.dumps(data, sort_keys=True).encode())

    def turned(self, drawn: str) -> str:
        """Return the hash of what decides how the panels turn, in a pattern drawn like this.

        All of the body, the classes and the gap; and the innermost cloth, which lies on a
        former.
        """
        classes = {name: panel["class"] for name, panel in self.job["panel"].items()}
        table, inner = self.job["pattern"], self.job["stack"]["fabric"][0]
        gap = [table["lacing_gap"], table["gap_at"]]
        data = [drawn, self.job["body"], classes, gap, inner]
        return sha256(json.dumps(data, sort_keys=True).encode())

    def digest(self, making: Making) -> str:
        """Return the SHA-256 of these inputs, a product's options and panelshift's version."""
        data = {"job": self.job, "options": making.options, "panelshift": __version__}
        text = json.dumps(data, sort_keys=True, separators=(",", ":"))
        return sha256(text.encode())


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
    try:
        return file_digest(path)
    except OSError:
        # Carrying the job out says what is wrong with it.
        return "unreadable"
