"""Write outputs without ever replacing what somebody else wrote, or edited since."""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Final

from ..errors import OutputError
from .writing import write_whole

RECORD_NAME: Final = ".panelshift-written.json"
"""File in each output directory that remembers what panelshift wrote there."""

_KEPT: Final = 2
"""Hashes remembered for a file: the new one and the one before. A process killed between
writing the record and renaming the files leaves the old files, which are still its own."""

_LARGEST_RECORD_BYTES: Final = 10_000_000


def write_outputs(
    files: Mapping[Path, bytes], *, overwrite: bool = False, inputs: Iterable[Path] = ()
) -> None:
    """Write files whole, refusing to replace files that panelshift did not write.

    A file counts as panelshift's own while its content is what panelshift last wrote there: one
    that was edited by hand since is the maker's work. Hashes of what was written are kept in
    `RECORD_NAME` beside the files.

    *overwrite*: whether other files may be replaced too; the inputs never are. *inputs*: files that
    the outputs were made from.

    Raises `OutputError` if a target is an input, or is not panelshift's own and may not be
    replaced, or cannot be written.
    """
    sources = [path for path in inputs if os.path.exists(path)]
    records: dict[Path, dict[str, list[str]]] = {}
    for path, content in files.items():
        folder = path.parent
        record = records.setdefault(folder, _read_record(folder))
        _refuse_input(path, sources)
        if not overwrite:
            _refuse_foreign(path, content, record.get(path.name, []))
        record[path.name] = _remembered(record.get(path.name, []), content)
    # The record goes first: if all else fails, what is there is still known as panelshift's.
    write_whole(
        {folder / RECORD_NAME: _record_bytes(record) for folder, record in records.items()}
        | dict(files)
    )


def _refuse_input(path: Path, inputs: Iterable[Path]) -> None:
    for source in inputs:
        if os.path.exists(path) and os.path.samefile(path, source):
            raise OutputError(
                "this output would replace the file it is made from",
                remedy="Choose another directory with --out.",
                source=str(path),
            )


def _refuse_foreign(path: Path, content: bytes, hashes: list[str]) -> None:
    if not os.path.isfile(path):
        return
    try:
        there = path.read_bytes()
    except OSError as error:
        raise OutputError(
            f"cannot read what is there already: {error.strerror}",
            remedy="Choose another directory with --out.",
            source=str(path),
        ) from error
    if there != content and _hash(there) not in hashes:
        raise OutputError(
            "there is a file of that name that panelshift did not write, or that was changed since",
            remedy="Choose another directory with --out, or add --overwrite to replace it.",
            source=str(path),
        )


def _hash(content: bytes) -> str:
    return hashlib.sha256(content).hexdigest()


def _remembered(hashes: list[str], content: bytes) -> list[str]:
    new = _hash(content)
    return [new, *(known for known in hashes if known != new)][:_KEPT]


def _read_record(folder: Path) -> dict[str, list[str]]:
    """What panelshift wrote in a directory; a record that cannot be read remembers nothing."""
    path = folder / RECORD_NAME
    try:
        if path.stat().st_size > _LARGEST_RECORD_BYTES:
            return {}
        data = json.loads(path.read_bytes())
        return {str(name): [str(item) for item in hashes] for name, hashes in data.items()}
    except (OSError, ValueError, AttributeError, TypeError, RecursionError):
        return {}


def _record_bytes(record: dict[str, list[str]]) -> bytes:
    return (json.dumps(record, indent=1, sort_keys=True) + "\n").encode()
