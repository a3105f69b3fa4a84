"""Write files whole or not at all, and never over what somebody else wrote, or edited since."""

from __future__ import annotations

import contextlib
import errno
import hashlib
import json
import os
import re
import secrets
import unicodedata
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any, Final

from ..errors import OutputError
from .contents import file_bytes, file_digest


def write_whole(files: Mapping[Path, bytes]) -> None:
    """Write several files so that none of them is ever seen half-written.

    All are first written beside their targets and flushed to disk; only when that has
    succeeded for every one are they renamed into place.

    Raises `OutputError` if a directory cannot be made or a file cannot be written; the targets are
    then as they were, but for files already renamed when the disk itself fails, and directories
    made for them are gone again.
    """
    waiting: list[tuple[str, Path]] = []
    made: list[Path] = []
    path = Path()
    try:
        for path, content in files.items():
            made += _make_directory(path.parent)
            if path.is_dir():
                raise IsADirectoryError(errno.EISDIR, os.strerror(errno.EISDIR))
            handle, temporary = _open_beside(path)
            waiting.append((temporary, path))
            with os.fdopen(handle, "wb") as stream:
                stream.write(content)
                stream.flush()
                os.fsync(stream.fileno())
        while waiting:
            temporary, path = waiting[0]
            os.replace(temporary, path)
            waiting.pop(0)
        made.clear()
    except (OSError, ValueError) as error:
        raise output_error(error, path) from error
    finally:
        for temporary, _ in waiting:
            Path(temporary).unlink(missing_ok=True)
        for folder in reversed(made):
            # One that holds files by now stays.
            with contextlib.suppress(OSError):
                folder.rmdir()


_NOT_ALLOWED: Final = (
    "you may not write there",
    "Choose a directory that you may write to, or let its owner allow it.",
)
_FULL: Final = (
    "the disk is full",
    "Make room on it, or choose a directory on a disk that has room.",
)
_FILE_IN_THE_WAY: Final = (
    "a file is where a directory should be",
    "Move that file away, or choose another directory.",
)
_CAUSES: Final[Mapping[int, tuple[str, str]]] = {
    errno.ENOENT: (
        "its directory does not exist and cannot be made",
        "Choose a directory that is there, or one inside it.",
    ),
    errno.EACCES: _NOT_ALLOWED,
    errno.EPERM: _NOT_ALLOWED,
    errno.EROFS: ("the disk can only be read", "Choose a directory on another disk."),
    errno.ENOSPC: _FULL,
    errno.EDQUOT: _FULL,
    errno.ENAMETOOLONG: ("the name is too long", "Choose a shorter name, or another directory."),
    errno.ENOTDIR: _FILE_IN_THE_WAY,
    errno.EEXIST: _FILE_IN_THE_WAY,
    errno.EISDIR: (
        "a directory is where the file should be",
        "Move that directory away, or choose another one for the files.",
    ),
}
"""What the system's reasons mean to a maker, and what helps against each."""

_OTHER: Final = "Choose another directory, on a disk of this machine."


def output_error(
    error: OSError | ValueError, path: Path, problem: str = "cannot write"
) -> OutputError:
    """Return the error for a file or directory that could not be written: cause, then remedy.

    Examples
    --------
    >>> print(output_error(OSError(errno.ENOSPC, "No space left on device"), Path("a.svg")))
    a.svg: cannot write: No space left on device; the disk is full
      What to do: Make room on it, or choose a directory on a disk that has room.
    """
    if isinstance(error, OSError):
        words, remedy = _CAUSES.get(error.errno or 0, ("", _OTHER))
        reason = f"{error.strerror or error}" + (f"; {words}" if words else "")
    else:
        # A path with a null character is a ValueError to Python.
        reason, remedy = f"{error}; no file can have that name", "Choose another name."
    return OutputError(f"{problem}: {reason}", remedy=remedy, source=str(path))


def _make_directory(folder: Path) -> list[Path]:
    """Make a directory with its parents, and return those that were not there before."""
    absent = [place for place in (folder, *folder.parents) if not place.exists()]
    folder.mkdir(parents=True, exist_ok=True)
    return absent[::-1]


def temporary_names(name: str) -> re.Pattern[str]:
    """Return the pattern of the names that `write_whole` gives a file while it is written.

    Only a process that was killed leaves such a file behind.

    Examples
    --------
    >>> bool(temporary_names("one.svg").fullmatch(".one.svg.0123abcd"))
    True
    """
    return re.compile(rf"\.{re.escape(name[:_STEM])}\.[0-9a-f]{{8}}")


_STEM: Final = 40
"""Of a long name only so much goes into the temporary one, which must not be too long itself."""

_FLAGS: Final = os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0)


def _open_beside(path: Path) -> tuple[int, str]:
    """Make a file of a new name in the same directory.

    Not by tempfile, whose files are private to the user: giving them the usual mode would mean
    to read the umask, which cannot be done without changing it under the feet of other threads.
    """
    while True:
        name = path.with_name(f".{path.name[:_STEM]}.{secrets.token_hex(4)}")
        with contextlib.suppress(FileExistsError):
            return os.open(name, _FLAGS, 0o666), str(name)


def safe_name(name: str) -> str:
    """Return a file name part made of letters, digits and hyphens only, never empty.

    Examples
    --------
    >>> safe_name("../Brocade (façade)")
    'brocade-facade'
    """
    plain = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode()
    return re.sub(r"[^a-z0-9]+", "-", plain.lower()).strip("-")[:60].rstrip("-") or "unnamed"


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
        record = records.setdefault(folder, _read_written(folder))
        _refuse_input(path, sources)
        if not overwrite:
            _refuse_foreign(path, content, record.get(path.name, []))
        record[path.name] = _remembered(record.get(path.name, []), content)
    # The record goes first: if all else fails, what is there is still known as panelshift's.
    write_whole(
        {folder / RECORD_NAME: record_bytes(record) for folder, record in records.items()}
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


def _remembered(hashes: list[str], content: bytes) -> list[str]:
    new = sha256(content)
    return [new, *(known for known in hashes if known != new)][:_KEPT]


def _read_written(folder: Path) -> dict[str, list[str]]:
    """What panelshift wrote in a directory; a record that cannot be read remembers nothing."""
    data = read_record(folder / RECORD_NAME)
    try:
        return {str(name): [str(item) for item in hashes] for name, hashes in data.items()}
    except (AttributeError, TypeError):
        return {}


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
