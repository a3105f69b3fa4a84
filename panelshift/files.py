"""Write files whole or not at all."""

from __future__ import annotations

import os
import re
import tempfile
import unicodedata
from collections.abc import Mapping
from pathlib import Path

from .errors import OutputError


def write_whole(files: Mapping[Path, bytes]) -> None:
    """Write several files so that none of them is ever seen half-written.

    All are first written beside their targets and flushed to disk; only when that has
    succeeded for every one are they renamed into place.

    Parameters
    ----------
    files : mapping of Path to bytes

    Raises
    ------
    OutputError
        If a directory cannot be made or a file cannot be written; the targets are then as
        they were, but for files already renamed when the disk itself fails.
    """
    waiting: list[tuple[str, Path]] = []
    try:
        for path, content in files.items():
            path.parent.mkdir(parents=True, exist_ok=True)
            if path.is_dir():
                raise IsADirectoryError(f"{path} is a directory")
            handle, temporary = tempfile.mkstemp(prefix=f".{path.name}.", dir=path.parent)
            waiting.append((temporary, path))
            with os.fdopen(handle, "wb") as stream:
                stream.write(content)
                stream.flush()
                os.fsync(stream.fileno())
            os.chmod(temporary, 0o666 & ~_umask())
        while waiting:
            temporary, path = waiting[0]
            os.replace(temporary, path)
            waiting.pop(0)
    except OSError as error:
        target = waiting[-1][1] if waiting else path
        raise OutputError(
            f"cannot write: {error.strerror or error}",
            remedy="Choose a directory that you may write to and that has room.",
            source=str(target),
        ) from error
    finally:
        for temporary, _ in waiting:
            Path(temporary).unlink(missing_ok=True)


def _umask() -> int:
    # The only way to read the mask is to set it.
    mask = os.umask(0)
    os.umask(mask)
    return mask


def safe_name(name: str) -> str:
    """Return a file name part made of letters, digits and hyphens only, never empty.

    Examples
    --------
    >>> safe_name("../Brocade (façade)")
    'brocade-facade'
    """
    plain = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode()
    return re.sub(r"[^a-z0-9]+", "-", plain.lower()).strip("-")[:60] or "unnamed"
