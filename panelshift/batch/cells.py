"""The text of a table: what parts its columns, its rows, and what a cell stands for."""

from __future__ import annotations

import csv
import io
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from ..errors import JobError, UnitError
from ..files import read_bounded, utf8_text
from ..units import parse_number

NAME: Final = "name"
"""Heading of the column that every table has."""

LARGEST_BYTES: Final = 64 * 1024 * 1024
"""A hundred thousand rows take a tenth of it."""

DELIMITERS: Final = {",": "commas", ";": "semicolons", "\t": "tabs"}


@dataclass(frozen=True)
class Cells:
    """A table as text.

    Parameters
    ----------
    rows : tuple of (int, tuple of str)
        Rows that are not empty, with their numbers as a spreadsheet counts them: the headings
        are row 1.
    delimiter : str
        What parts the columns.
    """

    heads: tuple[str, ...]
    rows: tuple[tuple[int, tuple[str, ...]], ...]
    delimiter: str


def read_cells(path: Path) -> Cells:
    """Read a CSV file as text.

    Raises `JobError` if it cannot be read, is not UTF-8, or its first line has no column ``name``.
    """
    raw = read_bounded(
        path,
        LARGEST_BYTES,
        JobError,
        check="Check the path of the table.",
        too_large=(
            f"larger than {LARGEST_BYTES // 1024**2} MiB: this is no table of jobs",
            "Give the CSV file, in parts if need be.",
        ),
    )
    text = utf8_text(raw, JobError, source=str(path))
    return parse_cells(text, source=str(path))


def parse_cells(text: str, *, source: str = "") -> Cells:
    """Read the text of a CSV file.

    Raises `JobError` if its first line has no column ``name``, or quotation marks are wrong.

    Examples
    --------
    >>> cells = parse_cells("name;pattern.scale\\n\\nAnn;0,98\\n")
    >>> cells.rows, cells.delimiter
    (((3, ('Ann', '0,98')),), ';')
    """
    delimiter = _delimiter(text, source)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    rows = []
    try:
        for number, row in enumerate(reader, start=1):
            cells = tuple(cell.strip() for cell in row)
            if any(cells):
                rows.append((number, cells))
    except csv.Error as error:
        raise JobError(
            f"line {reader.line_num}: {error}",
            remedy="Put text with quotation marks right.",
            source=source,
        ) from None
    (_, heads), *body = rows
    heads = tuple(NAME if head.lower() == NAME else head for head in heads)
    return Cells(heads, tuple(body), delimiter)


def _delimiter(text: str, source: str) -> str:
    """Find what parts the columns: the first line then has a column ``name`` among the most."""
    first = io.StringIO(text, newline="").readline()
    counts = {}
    for delimiter in DELIMITERS:
        try:
            heads = next(csv.reader([first], delimiter=delimiter, strict=True), [])
        except csv.Error:
            continue
        if NAME in [head.strip().lower() for head in heads]:
            counts[delimiter] = len(heads)
    if not counts:
        raise JobError(
            f"the first line has no column {NAME!r}",
            remedy=f"Begin with a line of headings: {NAME}, and keys of the job file such as "
            "pattern.lacing_gap, parted by commas, semicolons or tabs.",
            source=source,
        )
    return max(counts, key=lambda delimiter: counts[delimiter])


def value_of(cell: str) -> str | int | float | bool:
    """Return what a cell stands for as TOML would have it; what is no bare number stays text.

    Lengths with a unit, fractions and faults are for the job to read, which tells what is
    wrong with them.

    Examples
    --------
    >>> value_of("640"), value_of("0,45"), value_of("25 in"), value_of("TRUE")
    (640, 0.45, '25 in', True)
    """
    if cell.lower() in ("true", "false"):
        return cell.lower() == "true"
    try:
        return parse_number(cell)
    except UnitError:
        return cell
