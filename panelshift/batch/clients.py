"""A table of clients or sizes: each row is one job, each column one key of the job file."""

from __future__ import annotations

import os
import unicodedata
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Final

from ..errors import JobError, few
from ..files import parse_table, read_text
from ..files.contents import DELIMITERS, TextTable, decoded, opened_table
from ..files.plain_values import held_to_types
from ..files.shipped import guide
from ..job.keys import with_overrides
from .jobs import BatchJob, JobPath
from .key_columns import NAME, ChangedJob, KeyColumn, columns_of, headings, values_of

LARGEST_BYTES: Final = 64 * 1024 * 1024
"""A hundred thousand rows take a tenth of it."""

_TOO_LARGE: Final = (
    f"larger than {LARGEST_BYTES // 1024**2} MiB: this is no table of jobs",
    "Give the CSV file, in parts if need be.",
)

_MOST_LISTED: Final = 50
"""Of many faults the first tell enough."""


@dataclass(frozen=True)
class ClientTable:
    """A table that has been read and fits its job.

    Parameters
    ----------
    jobs : tuple of BatchJob
        One for each row, in their order.
    taken : str
        How the text was taken, for the maker to check.
    fit_only : tuple of str
        Headings of columns that no product but the fit sheet reads.
    """

    jobs: tuple[BatchJob, ...]
    taken: str
    fit_only: tuple[str, ...] = ()


@held_to_types
def read_table(table: JobPath | bytes, job: JobPath | BatchJob, *, source: str = "") -> ClientTable:
    """Read a CSV file whose rows change a job.

    Parameters
    ----------
    table : path-like or bytes
        The file or its content: UTF-8, with columns parted by commas, semicolons or tabs. The
        column ``name`` names each row's job; ``note`` is not read; every other heading is a dotted
        key of the job file, such as ``body.girths.waist`` or ``stack.fabric.brocade.thickness``.
        An empty cell leaves the job's own value. Bare numbers of lengths are mm; decimals may have
        a comma, within quotation marks where commas part the columns.
    job : path-like or BatchJob
        The job that each row changes. What a column gives need not be right in it, such as a
        thickness that is still "measure me".
    source : str
        What messages call the table; its path if not given.

    Returns
    -------
    ClientTable

    Raises
    ------
    JobError
        If either cannot be read, or the table has faults: each is listed with row and column.
    PanelshiftError
        If the table names panels or levels and the job's pattern cannot be read.

    Examples
    --------
    >>> from tempfile import TemporaryDirectory
    >>> data = {
    ...     "pattern": {"file": "draft.svg", "lacing_gap": 50},
    ...     "stack": {"fabric": [{"name": "drill", "thickness": 0.5}]},
    ... }
    >>> with TemporaryDirectory() as folder:
    ...     file = Path(folder, "clients.csv")
    ...     _ = file.write_text("name;pattern.lacing_gap\\nAnn;62,5\\nBo;\\n")
    ...     table = read_table(file, BatchJob("clients", data))
    >>> [(job.name, dict(job.overrides)) for job in table.jobs]
    [('Ann', {'pattern.lacing_gap': 62.5}), ('Bo', {})]
    >>> table.taken
    '2 rows; columns parted by semicolons, decimal commas'
    """
    main, base = _main(job)
    source = source or _called(table)
    cells = _read_cells(table, source)
    jobs: list[BatchJob] = []
    columns, faults = columns_of(cells.heads, cells.rows, base, main.source)
    if not faults:
        faults += _name_faults(cells)
        named = cells.heads.index(NAME)
        for number, row in cells.rows:
            values, wrong = _row(row, columns, cells.heads, base)
            name = row[named] if named < len(row) else ""
            faults += [f"row {number} ({name or 'no name'}){words}" for words in wrong]
            keys = {columns[k].key: value for k, value in values.items()}
            jobs.append(BatchJob(name, base.data, keys, folder=base.folder))
    if faults:
        raise _error(faults, source)
    if not jobs:
        raise JobError(
            "no rows below the headings", remedy="Write a row for each job.", source=source
        )
    fit_only = tuple(column.key for column in columns.values() if column.place[0] == "fit")
    return ClientTable(tuple(jobs), _taken(cells, columns), fit_only)


@held_to_types
def iter_table(
    table: JobPath | bytes, job: JobPath | BatchJob, *, source: str = ""
) -> Iterator[BatchJob]:
    """Read a CSV file whose rows change a job, row by row: it may be of any size.

    Parameters
    ----------
    table, job, source
        As for `read_table`.

    Yields
    ------
    BatchJob
        One for each row. What is wrong with a row is told when its job is carried out: it fails,
        and the others go on.

    Raises
    ------
    JobError
        If either cannot be read, or the headings have faults.
    PanelshiftError
        If the table names panels or levels and the job's pattern cannot be read.

    Examples
    --------
    >>> from tempfile import TemporaryDirectory
    >>> data = {
    ...     "pattern": {"file": "draft.svg"},
    ...     "stack": {"fabric": [{"name": "drill", "thickness": "measure me"}]},
    ... }
    >>> with TemporaryDirectory() as folder:
    ...     file = Path(folder, "clients.csv")
    ...     _ = file.write_text("name,stack.fabric.drill.thickness\\nAnn,0.5\\nBo,\\n")
    ...     rows = list(iter_table(file, BatchJob("clients", data)))
    >>> rows[0].load().stack.fabric[0].thickness
    0.5
    >>> rows[1].origin.endswith("clients.csv, row 3")
    True
    """
    main, base = _main(job)
    source = source or _called(table)
    content = _content(table, source) if isinstance(table, bytes) else Path(table)
    with opened_table(content, [NAME], JobError, source=source) as (heads, rows):
        heads = headings(heads, source)
        columns, faults = columns_of(heads, (), base, main.source)
        if faults:
            raise _error(faults, source)
        named = heads.index(NAME)
        for number, row in rows:
            name = row[named] if named < len(row) else ""
            fault = _name_fault(name)
            if any(row[len(heads) :]) or any(
                cell and not head for head, cell in zip(heads, row, strict=False)
            ):
                fault = fault or "has a cell without a heading above it"
            values = values_of(row, columns)
            idle = base.idle_classes({columns[k].place: value for k, value in values.items()})
            fault = fault or "; ".join(idle.values())
            keys = {columns[k].key: value for k, value in values.items()}
            origin = f"{source}, row {number}"
            yield BatchJob(
                name if name.strip() else f"row {number}",
                base.data,
                keys,
                folder=base.folder,
                origin=origin,
                fault=fault,
            )


def _main(job: JobPath | BatchJob) -> tuple[BatchJob, ChangedJob]:
    """The job that the rows change, which need not be whole without them."""
    main = job if isinstance(job, BatchJob) else BatchJob(Path(job).stem, job)
    data, folder = main.data()
    return main, ChangedJob(with_overrides(data, main.overrides, source=main.source), folder)


def _called(table: JobPath | bytes) -> str:
    return "the table" if isinstance(table, bytes) else os.fspath(table)


def _content(table: bytes, source: str) -> bytes:
    if len(table) > LARGEST_BYTES:
        raise JobError(_TOO_LARGE[0], remedy=_TOO_LARGE[1], source=source)
    return table


def _read_cells(table: JobPath | bytes, source: str) -> TextTable:
    if isinstance(table, bytes):
        text = decoded(_content(table, source), JobError, source=source)
    else:
        check = "Check the path of the table."
        text = read_text(Path(table), LARGEST_BYTES, JobError, check=check, too_large=_TOO_LARGE)
    cells = parse_table(text, [NAME], JobError, source=source)
    return replace(cells, heads=headings(cells.heads, source))


def _name_faults(cells: TextTable) -> Iterator[str]:
    column = cells.heads.index(NAME)
    first: dict[str, int] = {}
    seen: dict[str, str] = {}
    for number, row in cells.rows:
        name = row[column] if column < len(row) else ""
        # Two who are told apart by a capital or by how an accent is typed are one client twice.
        plain = unicodedata.normalize("NFKC", name).casefold()
        if fault := _name_fault(name):
            yield f"row {number}, {fault}"
        elif first.setdefault(plain, number) != number:
            but = "" if name == seen[plain] else f", as {seen[plain]!r}"
            yield f"row {number}, column {NAME}: {name!r} is in row {first[plain]} already{but}"
        seen.setdefault(plain, name)


def _name_fault(name: str) -> str:
    """What is wrong with a name by itself; nothing if all is well."""
    if not name:
        return f"column {NAME}: is empty"
    if any(unicodedata.category(ch) == "Cc" for ch in name):
        return f"column {NAME}: holds control characters"
    return ""


def _row(
    row: Sequence[str], columns: Mapping[int, KeyColumn], heads: Sequence[str], base: ChangedJob
) -> tuple[dict[int, Any], list[str]]:
    """Values of one row by their column, and what is wrong with them."""
    faults = []
    if any(row[len(heads) :]):
        faults.append(f": has {len(row)} cells below {len(heads)} headings")
    values = values_of(row, columns)
    together = base.faults({columns[k].place: value for k, value in values.items()})
    if together:
        # Only now is each cell tried by itself: a hundred thousand good rows need it not. What is
        # wrong without it as well, such as a thickness that another cell gives, is not its fault.
        without = base.faults({})
        for k, value in values.items():
            alone = base.faults({columns[k].place: value})
            own = [words for words in alone if words in together and words not in without]
            together = [words for words in together if words not in own]
            if own:
                faults.append(f", column {columns[k].key}: {'; '.join(own)}")
        if together:
            faults.append(f": {'; '.join(together)}")
    idle = base.idle_classes({columns[k].place: value for k, value in values.items()})
    keys = {column.place: column.key for column in columns.values()}
    faults += [f", column {keys[place]}: {words}" for place, words in idle.items()]
    return values, faults


def _taken(cells: TextTable, columns: Mapping[int, KeyColumn]) -> str:
    commas = any(
        "," in row[k]
        for _, row in cells.rows
        for k, column in columns.items()
        if k < len(row) and not column.words
    )
    rows = f"{len(cells.rows)} row{'s' if len(cells.rows) != 1 else ''}"
    parted = f"columns parted by {DELIMITERS[cells.delimiter]}"
    idle = [
        column.key
        for k, column in columns.items()
        if not any(k < len(row) and row[k] for _, row in cells.rows)
    ]
    empty = f"; empty in all rows: {few(idle)}" if idle else ""
    return f"{rows}; {parted}{', decimal commas' if commas else ''}{empty}"


def _error(faults: Sequence[str], source: str) -> JobError:
    count = f"{len(faults)} faults" if len(faults) > 1 else "a fault"
    lines = [f"    {fault}" for fault in faults[:_MOST_LISTED]]
    if len(faults) > _MOST_LISTED:
        lines.append(f"    and {len(faults) - _MOST_LISTED} more")
    return JobError(
        f"{count} in the table:\n" + "\n".join(lines),
        remedy=f"Mend the cells and headings named above; {guide('batch')} shows a table, "
        f"{guide('job-file')} explains each key.",
        source=source,
    )
