"""The summary of a batch: a line for each job, as CSV and as JSON, however many there are."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Iterator
from itertools import islice
from pathlib import Path
from typing import Any, Final

from ..errors import OutputError
from ..files import csv_bytes
from ..files.contents import file_digest
from ..files.outputs import read_record, record_bytes
from ..files.writing import write_streamed, write_whole

HEADS: Final = ("name", "status", "directory", "files", "warnings", "error")
SUMMARY_FILES: Final = ("summary.csv", "summary.json")
_OWN: Final = ".panelshift-summary.json"
"""What was written last: a summary that was edited since is somebody's work."""

Line = tuple[Any, ...]


def refuse_foreign_summary(out: Path) -> None:
    """Refuse to go on where a summary would replace what panelshift did not write.

    Raises `OutputError`.
    """
    known = read_record(out / _OWN)
    for name in SUMMARY_FILES:
        path = out / name
        if path.exists() and (
            not path.is_file()
            or not isinstance(known, dict)
            or file_digest(path) != known.get(name)
        ):
            raise OutputError(
                "there is a file of that name that panelshift did not write, or that was changed "
                "since",
                remedy="Choose another directory with --out, or add --overwrite to replace it.",
                source=str(path),
            )


def write_summary(out: Path, lines: Callable[[], Iterable[Line]]) -> list[Path]:
    """Write the summary into the directory of a batch, and return its files.

    *lines*: gives the lines anew each time. Raises `OutputError`.
    """
    paths = [out / name for name in SUMMARY_FILES]
    write_streamed(paths[0], _as_csv(lines()))
    write_streamed(paths[1], _as_json(lines()))
    write_whole({out / _OWN: record_bytes({path.name: file_digest(path) for path in paths})})
    return paths


def _as_csv(lines: Iterable[Line]) -> Iterator[bytes]:
    yield csv_bytes([HEADS])
    waiting = iter(lines)
    # Far fewer calls than one for each line.
    while some := list(islice(waiting, 1_000)):
        yield csv_bytes(some)


def _as_json(lines: Iterable[Line]) -> Iterator[bytes]:
    start = b"[\n "
    for line in lines:
        yield start + json.dumps(dict(zip(HEADS, line, strict=True))).encode()
        start = b",\n "
    yield b"[]\n" if start.startswith(b"[") else b"\n]\n"
