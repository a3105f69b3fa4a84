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
from ..files.outputs import read_record, record_bytes, remove_left_behind
from ..files.writing import put_in_place, staged, write_whole

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
        ours = known.get(name) if isinstance(known, dict) else None
        if path.exists() and (
            not path.is_file() or not isinstance(ours, list | str) or file_digest(path) not in ours
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
    remove_left_behind(out, [*SUMMARY_FILES, _OWN])
    paths = [out / name for name in SUMMARY_FILES]
    parts = dict(zip(paths, (_as_csv(lines()), _as_json(lines())), strict=True))
    with staged(parts) as waiting:
        # What is known as ours goes first, with what is there so far: a process that is killed
        # among these steps leaves nothing that the next run takes for somebody else's.
        hashes = {path.name: [file_digest(Path(new)), *_there(path)] for new, path in waiting}
        write_whole({out / _OWN: record_bytes(hashes)})
        put_in_place(waiting)
    return paths


def _there(path: Path) -> list[str]:
    return [file_digest(path)] if path.exists() else []


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
