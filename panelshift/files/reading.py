"""Read files that may be anything: never more of them than a bound."""

from __future__ import annotations

from pathlib import Path

from ..errors import PanelshiftError


def read_bounded(
    path: Path, most: int, error: type[PanelshiftError], *, check: str, too_large: tuple[str, str]
) -> bytes:
    """Return the content of a file.

    *most*: bytes at most. A device or a pipe states no size, so the reading itself stops there.
    *error*: of the room that reads. *check*: remedy if the file cannot be read. *too_large*: (str,
    str). Problem and remedy of a file that holds more.

    Raises `PanelshiftError` for of the given type, naming the file.

    Examples
    --------
    >>> from panelshift.errors import JobError
    >>> read_bounded(Path("none.toml"), 10, JobError, check="Look.", too_large=("", ""))
    Traceback (most recent call last):
        ...
    panelshift.errors.JobError: none.toml: cannot read: No such file or directory
      What to do: Look.
    """
    try:
        with path.open("rb") as stream:
            raw = stream.read(most + 1)
    except (OSError, ValueError) as fault:
        # A path with a null character is a ValueError to Python.
        reason = fault.strerror if isinstance(fault, OSError) else str(fault)
        raise error(f"cannot read: {reason}", remedy=check, source=str(path)) from None
    if len(raw) > most:
        raise error(too_large[0], remedy=too_large[1], source=str(path))
    return raw


def utf8_text(raw: bytes, error: type[PanelshiftError], *, source: str) -> str:
    """Return the text of a CSV file, with or without a byte order mark.

    Raises `PanelshiftError` for of the given type, if it is no UTF-8.
    """
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise error(
            "not a text file in UTF-8", remedy="Save it as CSV in UTF-8.", source=source
        ) from None
