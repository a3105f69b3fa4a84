"""Output directories: what panelshift writes into one is one set, and never somebody else's.

A directory remembers what was written there, and by which command. A set is first written beside
its targets; then a note of what is pending is put down, and only then are files renamed. A process
that is killed before the note leaves the old set, and one killed after it leaves the new set to the
next run, which ends what is pending before it does anything else. So it is with one that is
interrupted, or fails, when some files are in place already.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import time
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from ..errors import OutputError
from .contents import file_bytes, file_digest
from .writing import (
    make_directory,
    output_error,
    put_in_place,
    refuse_device,
    staged,
    temporary_names,
    write_whole,
)

RECORD_NAME: Final = ".panelshift-written.json"
"""File in each output directory that remembers what panelshift wrote there."""

PENDING_NAME: Final = ".panelshift-pending.json"
"""File in an output directory while a set is put in place: what is still to be done."""

PATIENCE_S: Final = 10.0
"""How long another writer is waited for."""

_KEPT: Final = 2
"""Hashes remembered for a file: the new one and the one before. A process killed between
writing the record and renaming the files leaves the old files, which are still its own."""

_LARGEST_RECORD_BYTES: Final = 10_000_000

_NOTHING: Final[Mapping[Path, bytes]] = {}


@dataclass(frozen=True)
class _Set:
    """What goes into one directory: files by name, which command each is of, and records."""

    contents: dict[str, bytes]
    made_by: dict[str, str]
    records: dict[str, bytes]


@dataclass(frozen=True)
class Written:
    """What is remembered of a file: hashes of what was written, and by which command."""

    hashes: tuple[str, ...] = ()
    made_by: str = ""

    def with_content(self, content: bytes, made_by: str) -> Written:
        """The same file with other content."""
        new = sha256(content)
        kept = (new, *(known for known in self.hashes if known != new))[:_KEPT]
        return Written(kept, made_by or self.made_by)

    def data(self) -> dict[str, Any]:
        """As JSON has it."""
        return {"hashes": list(self.hashes), "made_by": self.made_by}


def write_outputs(
    files: Mapping[Path, bytes],
    *,
    overwrite: bool = False,
    inputs: Iterable[Path] = (),
    made_by: str | Mapping[Path, str] = "",
    records: Mapping[Path, bytes] = _NOTHING,
) -> list[Path]:
    """Write files as one set in each directory, never over what panelshift did not write.

    A file counts as panelshift's own while its content is what panelshift last wrote there: one
    that was edited by hand since is the maker's work. Hashes of what was written are kept in
    `RECORD_NAME` beside the files.

    *overwrite*: whether other files may be replaced too; the inputs never are. *inputs*: files that
    the outputs were made from. *made_by*: the command, of all or of each: what it wrote there
    before and does not write now is removed, unless it was changed since; a layer that was renamed
    would otherwise lie there twice, and somebody would cut the wrong one. *records*: what is noted
    of the set in its directory, last of all, whatever was noted there before.

    Returns: what was removed.

    Raises `OutputError` if a target is an input, or is not panelshift's own and may not be
    replaced, or cannot be written, or another process is writing there.
    """
    sources = [path for path in inputs if os.path.exists(path)]
    folders: dict[Path, _Set] = {}
    for path, content in files.items():
        made = folders.setdefault(path.parent, _Set({}, {}, {}))
        made.contents[path.name] = content
        made.made_by[path.name] = made_by if isinstance(made_by, str) else made_by[path]
    for path, content in records.items():
        folders[path.parent].records[path.name] = content
    gone: list[Path] = []
    for folder, made in folders.items():
        with _alone(folder):
            end_pending(folder)
            gone += _write_set(folder, made, overwrite, sources)
    return gone


def _write_set(folder: Path, made: _Set, overwrite: bool, sources: list[Path]) -> list[Path]:
    record = _read_written(folder)
    remove_left_behind(folder, [RECORD_NAME, PENDING_NAME, *record, *made.contents, *made.records])
    for name, content in made.contents.items():
        path = folder / name
        _refuse_input(path, sources)
        refuse_device(path)
        known = record.get(name, Written())
        if not overwrite:
            _refuse_foreign(path, content, known.hashes)
        record[name] = known.with_content(content, made.made_by[name])
    makers = {maker for maker in made.made_by.values() if maker}
    gone = {
        name: digest
        for name, known in record.items()
        if known.made_by in makers and name not in made.contents
        for digest in known.hashes
        if holds(folder, {name: digest})
    }
    record = {name: known for name, known in record.items() if name not in gone}
    # The record goes first: if all else fails, what is there is still known as panelshift's.
    own = record_bytes({name: w.data() for name, w in record.items()})
    data = {RECORD_NAME: own, **made.contents, **made.records}
    with staged({folder / name: content for name, content in data.items()}) as waiting:
        moves = {path.name: Path(temporary).name for temporary, path in waiting}
        was = {name: digest for name in moves if (digest := _digest_there(folder / name))}
        note = {"moves": moves, "was": was, "gone": gone}
        write_whole({folder / PENDING_NAME: record_bytes(note)})
        try:
            put_in_place(waiting)
            for name in gone:
                _remove(folder / name)
        except BaseException:
            if len(waiting) < len(moves):
                # Two sets are mixed: what is left to do stays for the next run.
                waiting.clear()
            else:
                _remove(folder / PENDING_NAME)
            raise
        _remove(folder / PENDING_NAME)
    return [folder / name for name in gone]


def _digest_there(path: Path) -> str:
    """Hash of what a target holds so far; nothing if it is not there, or cannot be read."""
    try:
        return file_digest(path)
    except (OSError, ValueError):
        return ""


def recover(folder: Path, names: Iterable[str]) -> None:
    """End what a process that was killed had begun in a directory, and remove what it left there.

    *names*: of files besides those in the directory's own record. A writer that is at work there is
    waited for.

    Raises `OutputError` as `write_outputs`.
    """
    if os.path.isdir(folder):
        with _alone(folder):
            end_pending(folder)
            known = _read_written(folder)
            remove_left_behind(folder, [RECORD_NAME, PENDING_NAME, *known, *names])


def end_pending(folder: Path) -> None:
    """End what a process that was killed had begun to put in place in a directory.

    Nobody else may be writing there. Raises `OutputError` if it cannot be ended.
    """
    note = read_record(folder / PENDING_NAME)
    if note is None:
        return
    # Somebody may have put the note there: nothing but files of our own making is touched. And
    # what was edited since is the maker's work.
    was = _texts(note, "was")
    put_in_place(
        [
            (str(folder / temporary), folder / name)
            for name, temporary in _texts(note, "moves").items()
            if temporary_names(name).fullmatch(temporary)
            and (folder / temporary).is_file()
            and _digest_there(folder / name) == was.get(name, "")
        ]
    )
    remove_left_behind(folder, _texts(note, "moves"))
    for name, digest in _texts(note, "gone").items():
        if holds(folder, {name: digest}):
            _remove(folder / name)
    _remove(folder / PENDING_NAME)


def _texts(note: Any, key: str) -> dict[str, str]:
    """What a note says under a key: texts by names of files in the directory."""
    found = note.get(key) if isinstance(note, dict) else None
    return {
        name: text
        for name, text in (found.items() if isinstance(found, dict) else ())
        if isinstance(text, str) and Path(name).name == name
    }


@contextlib.contextmanager
def _alone(folder: Path) -> Iterator[None]:
    """Keep other writers out of a directory; the system lets go if the process dies.

    Raises `OutputError` if another one is writing there for longer than `PATIENCE_S`.
    """
    try:
        made = make_directory(folder)
    except (OSError, ValueError) as error:
        raise output_error(error, folder) from error
    try:
        handle = _locked(folder)
        try:
            yield
        finally:
            if handle is not None:
                os.close(handle)
    finally:
        for place in reversed(made):
            # One that holds files by now stays.
            with contextlib.suppress(OSError):
                place.rmdir()


def _locked(folder: Path) -> int | None:
    """A locked handle of a directory; None where directories cannot be locked, as on Windows."""
    try:
        import fcntl
    except ImportError:
        return None
    try:
        handle = os.open(folder, os.O_RDONLY)
    except OSError:
        # What may not be listed may still be written to.
        return None
    until = time.monotonic() + PATIENCE_S
    while True:
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            if time.monotonic() < until:
                time.sleep(0.05)
                continue
            os.close(handle)
            raise OutputError(
                "another panelshift is writing there",
                remedy="Wait until it has ended, or choose another directory with --out.",
                source=str(folder),
            ) from None
        except OSError:
            # Some network disks know no locks.
            os.close(handle)
            return None
        return handle


def _refuse_input(path: Path, inputs: Iterable[Path]) -> None:
    for source in inputs:
        if os.path.exists(path) and os.path.samefile(path, source):
            raise OutputError(
                "this output would replace the file it is made from",
                remedy="Choose another directory with --out.",
                source=str(path),
            )


def _refuse_foreign(path: Path, content: bytes, hashes: tuple[str, ...]) -> None:
    if not os.path.isfile(path):
        return
    try:
        there = file_digest(path)
    except OSError as error:
        raise OutputError(
            f"cannot read what is there already: {error.strerror}",
            remedy="Choose another directory with --out.",
            source=str(path),
        ) from error
    if there != sha256(content) and there not in hashes:
        raise OutputError(
            "there is a file of that name that panelshift did not write, or that was changed since",
            remedy="Choose another directory with --out, or add --overwrite to replace it.",
            source=str(path),
        )


def sha256(content: bytes) -> str:
    """Return the SHA-256 of bytes in hexadecimal."""
    return hashlib.sha256(content).hexdigest()


def _read_written(folder: Path) -> dict[str, Written]:
    """What panelshift wrote in a directory; a record that cannot be read remembers nothing."""
    data = read_record(folder / RECORD_NAME)
    found = {}
    for name, entry in data.items() if isinstance(data, dict) else ():
        # Former releases kept the hashes alone.
        entry = {"hashes": entry} if isinstance(entry, list) else entry
        hashes = entry.get("hashes") if isinstance(entry, dict) else None
        if isinstance(hashes, list) and Path(name).name == name:
            found[name] = Written(tuple(map(str, hashes)), str(entry.get("made_by", "")))
    return found


def read_record(path: Path) -> Any:
    """What a record holds, as JSON has it; None if it is missing, damaged or far too large."""
    try:
        return json.loads(file_bytes(path, _LARGEST_RECORD_BYTES)[:_LARGEST_RECORD_BYTES])
    except (OSError, ValueError, RecursionError):
        return None


def record_bytes(record: Mapping[str, Any]) -> bytes:
    """Return a record as it is written: the same record always gives the same bytes."""
    return (json.dumps(record, indent=1, sort_keys=True) + "\n").encode()


def holds(folder: Path, files: Mapping[str, str]) -> bool:
    """Whether all files are in a directory with just the content that their hashes tell."""
    try:
        return all(file_digest(folder / name) == digest for name, digest in files.items())
    except (OSError, ValueError):
        # The latter for what no file can be called: records may be damaged.
        return False


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
