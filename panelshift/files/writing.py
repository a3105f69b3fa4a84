"""Write files whole or not at all."""

from __future__ import annotations

import contextlib
import errno
import os
import re
import secrets
import unicodedata
from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path
from typing import Final

from ..errors import OutputError


def write_whole(files: Mapping[Path, bytes]) -> None:
    """Write several files so that none of them is ever seen half-written.

    All are first written beside their targets and flushed to disk; only when that has
    succeeded for every one are they renamed into place.

    Raises `OutputError` if a directory cannot be made or a file cannot be written; the targets are
    then as they were, but for files already renamed when the disk itself fails, and directories
    made for them are gone again. A pipe or a device is refused.
    """
    for path in files:
        refuse_device(path)
    with staged(files) as waiting:
        put_in_place(waiting)


@contextlib.contextmanager
def staged(files: Mapping[Path, bytes | Iterable[bytes]]) -> Iterator[list[tuple[str, Path]]]:
    """Write files beside their targets, for the block to rename: pairs of temporary and target.

    What is left in the list when the block ends is removed, and so are directories made for
    targets that came to nothing. Raises `OutputError`.
    """
    waiting: list[tuple[str, Path]] = []
    made: list[Path] = []
    path = Path()
    try:
        try:
            for path, content in files.items():
                made += make_directory(path.parent)
                if path.is_dir():
                    raise IsADirectoryError(errno.EISDIR, os.strerror(errno.EISDIR))
                handle, temporary = _open_beside(path)
                waiting.append((temporary, path))
                with os.fdopen(handle, "wb") as stream:
                    stream.writelines([content] if isinstance(content, bytes) else content)
                    stream.flush()
                    os.fsync(stream.fileno())
        except (OSError, ValueError) as error:
            raise output_error(error, path) from error
        yield waiting
    finally:
        for temporary, _ in waiting:
            Path(temporary).unlink(missing_ok=True)
        for folder in reversed(made):
            # One that holds files by now stays.
            with contextlib.suppress(OSError):
                folder.rmdir()


def refuse_device(path: Path) -> None:
    """Refuse a pipe or a device: a file would be put in its place."""
    if os.path.exists(path) and not os.path.isfile(path) and not os.path.isdir(path):
        raise OutputError(
            "there is a pipe or a device of that name, not a file",
            remedy="Choose another name; - is standard output, where one file goes out.",
            source=str(path),
        )


def put_in_place(waiting: list[tuple[str, Path]]) -> None:
    """Rename temporaries to their targets, taking each pair out of the list.

    Raises `OutputError`.
    """
    while waiting:
        temporary, path = waiting[0]
        try:
            os.replace(temporary, path)
        except OSError as error:
            raise output_error(error, path) from error
        waiting.pop(0)


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
    errno.EBADF: ("it is closed", "Start it with that open: to a terminal, a file or a pipe."),
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


def make_directory(folder: Path) -> list[Path]:
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


_DEVICES: Final = re.compile(r"con|prn|aux|nul|com\d|lpt\d")
"""What Windows takes for a device, whatever comes after a dot: no file can have that name."""


def safe_name(name: str) -> str:
    """Return a file name part made of letters, digits and hyphens only, never empty.

    Examples
    --------
    >>> safe_name("../Brocade (façade)")
    'brocade-facade'
    >>> safe_name("Con")
    'the-con'
    """
    plain = name
    if not name.isascii():
        plain = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode()
    safe = re.sub(r"[^a-z0-9]+", "-", plain.lower()).strip("-")[:60].rstrip("-") or "unnamed"
    return f"the-{safe}" if _DEVICES.fullmatch(safe) else safe
