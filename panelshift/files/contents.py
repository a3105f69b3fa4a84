"""What files hold that may be anything: never more of them than a bound, texts, and CSV tables."""

from __future__ import annotations

import csv
import errno
import hashlib
import io
import os
import stat
from collections.abc import Collection, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from io import BufferedReader
from pathlib import Path
from typing import Final

from ..errors import PanelshiftError

DELIMITERS: Final = {",": "commas", ";": "semicolons", "\t": "tabs"}
"""What may part the columns of a table."""


class NoFileError(OSError):
    """A pipe, a device or a socket where a file is wanted: it may have no end, or never answer."""

    def __init__(self) -> None:
        super().__init__(errno.EINVAL, "this is a pipe or a device, not a file")

    remedy: Final = "Save what comes out of it as a file, and name that."


def file_bytes(path: str | os.PathLike[str], most: int) -> bytes:
    """Return the content of a file, or one byte more than the most that is wanted.

    Raises `OSError` if it cannot be read, `NoFileError` at once if it is no file, and `ValueError`
    if no file can have that path.
    """
    with _opened(path) as stream:
        return stream.read(most + 1)


def file_digest(path: str | os.PathLike[str]) -> str:
    """Return the SHA-256 of a file's content in hexadecimal; raises as `file_bytes` does."""
    with _opened(path) as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest()


@contextmanager
def _opened(path: str | os.PathLike[str]) -> Iterator[BufferedReader]:
    with open(path, "rb", opener=_without_waiting) as stream:
        if not stat.S_ISREG(os.fstat(stream.fileno()).st_mode):
            raise NoFileError
        yield stream


def _without_waiting(path: str, flags: int) -> int:
    # Opening a named pipe would wait until somebody writes to it, perhaps for ever.
    return os.open(path, flags | getattr(os, "O_NONBLOCK", 0))


def read_bounded(
    path: Path, most: int, error: type[PanelshiftError], *, check: str, too_large: tuple[str, str]
) -> bytes:
    """Return the content of a file of at most so many bytes.

    *error*: of the room that reads. *check*: remedy if the file cannot be read. *too_large*:
    problem and remedy of a file that holds more.

    Raises `PanelshiftError` of the given type, naming the file.

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
        raw = file_bytes(path, most)
    except (OSError, ValueError) as fault:
        # A path with a null character is a ValueError to Python.
        reason = fault.strerror if isinstance(fault, OSError) else str(fault)
        remedy = fault.remedy if isinstance(fault, NoFileError) else check
        raise error(f"cannot read: {reason}", remedy=remedy, source=str(path)) from None
    if len(raw) > most:
        raise error(too_large[0], remedy=too_large[1], source=str(path))
    return raw


def read_text(
    path: Path, most: int, error: type[PanelshiftError], *, check: str, too_large: tuple[str, str]
) -> str:
    """Return the text of a CSV file, with or without a byte order mark: see `read_bounded`."""
    raw = read_bounded(path, most, error, check=check, too_large=too_large)
    return decoded(raw, error, source=str(path))


def decoded(raw: bytes, error: type[PanelshiftError], *, source: str) -> str:
    """Return the text of a CSV file's content, with or without a byte order mark."""
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise error(
            "not a text file in UTF-8", remedy="Save it as CSV in UTF-8.", source=source
        ) from None


@dataclass(frozen=True)
class TextTable:
    """A table as text: its headings, and its rows that are not empty.

    A row has its number as a spreadsheet counts them, from 1 on and empty ones among them.
    `delimiter` is what parts the columns.
    """

    heads: tuple[str, ...]
    rows: tuple[tuple[int, tuple[str, ...]], ...]
    delimiter: str


def parse_table(
    text: str, known: Collection[str], error: type[PanelshiftError], *, source: str = ""
) -> TextTable:
    """Read the text of a CSV file: the first row that is not empty holds its headings.

    *known*: headings in lower case that tell what parts the columns; commas, semicolons or tabs.

    Raises `PanelshiftError` of the given type if quotation marks are wrong.

    Examples
    --------
    >>> table = parse_table("name;pattern.scale\\n\\nAnn;0,98\\n", ["name"], PanelshiftError)
    >>> table.heads, table.rows, table.delimiter
    (('name', 'pattern.scale'), ((3, ('Ann', '0,98')),), ';')
    """
    first = next((line for line in io.StringIO(text) if line.strip()), "")
    delimiter = _delimiter(first, known)
    rows = [*_rows(io.StringIO(text, newline=""), delimiter, error, source)]
    heads, body = (rows[0][1], rows[1:]) if rows else ((), [])
    return TextTable(heads, tuple(body), delimiter)


Row = tuple[int, tuple[str, ...]]
"""A row's number, as a spreadsheet counts them, and its cells."""


@contextmanager
def opened_table(
    table: Path | bytes, known: Collection[str], error: type[PanelshiftError], *, source: str
) -> Iterator[tuple[tuple[str, ...], Iterator[Row]]]:
    """Open a CSV file that may be far larger than memory: its headings, and its rows one by one.

    As `parse_table` reads the text of one. Raises `PanelshiftError` of the given type, while rows
    are taken as well.
    """
    try:
        opened = io.BytesIO(table) if isinstance(table, bytes) else _opened(table)
        with opened as raw, io.TextIOWrapper(raw, "utf-8-sig", newline="") as stream:
            first = next((line for line in stream if line.strip()), "")
            delimiter = _delimiter(first, known)
            stream.seek(0)
            rows = _rows(stream, delimiter, error, source)
            yield next((cells for _, cells in rows), ()), rows
    except UnicodeDecodeError:
        raise error(
            "not a text file in UTF-8", remedy="Save it as CSV in UTF-8.", source=source
        ) from None
    except OSError as fault:
        remedy = fault.remedy if isinstance(fault, NoFileError) else "Check the path of the table."
        raise error(f"cannot read: {fault.strerror}", remedy=remedy, source=source) from None


def _rows(
    stream: Iterable[str], delimiter: str, error: type[PanelshiftError], source: str
) -> Iterator[Row]:
    """Rows that are not empty."""
    reader = csv.reader(stream, delimiter=delimiter, strict=True)
    begun = 1
    try:
        for number, row in enumerate(reader, start=1):
            begun = reader.line_num + 1
            cells = tuple(cell.strip() for cell in row)
            if any(cells):
                yield number, cells
    except csv.Error as fault:
        raise error(
            f"line {begun}: {fault}", remedy="Put text with quotation marks right.", source=source
        ) from None


def csv_bytes(rows: Iterable[Iterable[float | str]]) -> bytes:
    """Rows as CSV (RFC 4180) in UTF-8, for people to open: no text in it runs as a formula."""
    stream = io.StringIO()
    writer = csv.writer(stream, lineterminator="\r\n")
    writer.writerows([_plain(cell) for cell in row] for row in rows)
    # Names of files may be no text: what cannot be written in UTF-8 is told by its number.
    return stream.getvalue().encode(errors="backslashreplace")


def _plain(cell: float | str) -> float | str:
    # Spreadsheets take a cell that begins so for a formula, and names come from drawings.
    if isinstance(cell, str) and cell[:1] in ("=", "+", "-", "@", "\t", "\r"):
        return f"'{cell}"
    return cell


def _delimiter(first: str, known: Collection[str]) -> str:
    """What parts the columns: that by which the headings hold most known ones, then most at all."""

    def found(delimiter: str) -> tuple[int, int]:
        try:
            heads = next(csv.reader([first], delimiter=delimiter, strict=True), [])
        except csv.Error:
            return 0, 0
        return sum(head.strip().lower() in known for head in heads), len(heads)

    return max(DELIMITERS, key=found)
