"""A table of clients or sizes: each row is one job, each column one key of the job file."""

from __future__ import annotations

import unicodedata
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Final

from ..errors import JobError, UnitError
from ..files import parse_table, read_text
from ..files.contents import DELIMITERS, TextTable
from ..files.shipped import guide
from ..job.resolved import read_pattern
from ..job.toml import parse_job
from ..units import parse_number
from .jobs import BatchJob, JobPath
from .keys import Place, is_known, place_of, takes_text, with_overrides, with_value

NAME: Final = "name"
"""Heading of the column that every table has."""

NOTE: Final = "note"
"""A column for the maker's own words; not read."""

LARGEST_BYTES: Final = 64 * 1024 * 1024
"""A hundred thousand rows take a tenth of it."""

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
    """

    jobs: tuple[BatchJob, ...]
    taken: str


@dataclass(frozen=True)
class _KeyColumn:
    """A column of values: its heading, where its values go, whether they are words."""

    key: str
    place: Place
    words: bool


@dataclass(frozen=True)
class _Base:
    """The job that the rows change."""

    data: Mapping[str, Any]
    folder: Path

    def fault(self, values: Mapping[Place, Any]) -> str:
        """Return what is wrong with the job once values are put in; nothing if all is well."""
        data: Any = self.data
        for place, value in values.items():
            data = with_value(data, place, value)
        try:
            parse_job(data, source="", folder=self.folder)
        except JobError as error:
            # The first line counts the faults; each of the others is one.
            head, *lines = error.problem.split("\n")
            return "; ".join(line.strip() for line in lines) or head
        return ""


def read_table(path: JobPath, job: JobPath | BatchJob) -> ClientTable:
    """Read a CSV file whose rows change a job.

    Parameters
    ----------
    path : path-like
        UTF-8, with columns parted by commas, semicolons or tabs. The column ``name`` names
        each row's job; ``note`` is not read; every other heading is a dotted key of the job
        file, such as ``body.girths.waist`` or ``stack.fabric.brocade.thickness``. An empty
        cell leaves the job's own value. Bare numbers of lengths are mm; decimals may have a
        comma, within quotation marks where commas part the columns.
    job : path-like or BatchJob
        The job that each row changes.

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
    main = job if isinstance(job, BatchJob) else BatchJob(Path(job).stem, job)
    main.load()
    data, folder = main.data()
    base = _Base(with_overrides(data, main.overrides, source=main.source), folder)
    cells = _read_cells(Path(path))
    jobs: list[BatchJob] = []
    columns, faults = _columns(cells, base)
    faults += _unknown_in_pattern(columns.values(), main)
    if not faults:
        faults += _name_faults(cells)
        named = cells.heads.index(NAME)
        for number, row in cells.rows:
            values, wrong = _row(row, columns, cells, base)
            name = row[named] if named < len(row) else ""
            faults += [f"row {number} ({name or 'no name'}){words}" for words in wrong]
            keys = {columns[k].key: value for k, value in values.items()}
            jobs.append(BatchJob(name, base.data, keys, folder=folder))
    if faults:
        raise _error(faults, str(path))
    if not jobs:
        raise JobError(
            "no rows below the headings", remedy="Write a row for each job.", source=str(path)
        )
    return ClientTable(tuple(jobs), _taken(cells, columns))


def _read_cells(path: Path) -> TextTable:
    text = read_text(
        path,
        LARGEST_BYTES,
        JobError,
        check="Check the path of the table.",
        too_large=(
            f"larger than {LARGEST_BYTES // 1024**2} MiB: this is no table of jobs",
            "Give the CSV file, in parts if need be.",
        ),
    )
    cells = parse_table(text, [NAME], JobError, source=str(path))
    heads = tuple(NAME if head.lower() == NAME else head for head in cells.heads)
    if NAME not in heads:
        raise JobError(
            f"the first line has no column {NAME!r}",
            remedy=f"Begin with a line of headings: {NAME}, and keys of the job file such as "
            "pattern.lacing_gap, parted by commas, semicolons or tabs.",
            source=str(path),
        )
    return replace(cells, heads=heads)


def _columns(cells: TextTable, base: _Base) -> tuple[dict[int, _KeyColumn], list[str]]:
    """Columns of values by their position, and faults of the headings."""
    columns: dict[int, _KeyColumn] = {}
    faults = [
        f"column {head!r}: is there {count} times"
        for head, count in Counter(cells.heads).items()
        if count > 1 and head
    ]
    for index, head in enumerate(cells.heads):
        if head in (NAME, NOTE):
            continue
        if not head:
            if any(index < len(row) and row[index] for _, row in cells.rows):
                faults.append(f"column {index + 1}: has no heading")
            continue
        try:
            place = place_of(head, base.data)
        except JobError as error:
            faults.append(f"column {head!r}: {error.problem}. {error.remedy}")
            continue
        if is_known(place):
            columns[index] = _KeyColumn(head, place, takes_text(place))
        else:
            faults.append(f"column {head!r}: {base.fault({place: 1.0})}")
    return columns, faults


def _unknown_in_pattern(columns: Iterable[_KeyColumn], main: BatchJob) -> Iterator[str]:
    """Columns of panels and levels that the pattern has not."""
    places = {column.key: column.place for column in columns}
    if ("pattern", "file") in places.values():
        # Each row may have its own; its job tells.
        return
    panels = {key: place[1] for key, place in places.items() if place[0] == "panel"}
    levels = {key: place[-1] for key, place in places.items() if _is_level(place)}
    if not panels and not levels:
        return
    pattern = read_pattern(main.load(), source=main.source)
    known_panels, known_levels = [panel.name for panel in pattern.panels], pattern.level_names()
    for kind, named, known in (("panel", panels, known_panels), ("level", levels, known_levels)):
        for key, name in named.items():
            if name not in known:
                yield f"column {key!r}: no such {kind}; here: {', '.join(known)}"


def _is_level(place: Place) -> bool:
    return len(place) == 3 and place[:2] in (("body", "girths"), ("body", "ratio"))


def _name_faults(cells: TextTable) -> Iterator[str]:
    column = cells.heads.index(NAME)
    first: dict[str, int] = {}
    for number, row in cells.rows:
        name = row[column] if column < len(row) else ""
        if not name:
            yield f"row {number}, column {NAME}: is empty"
        elif any(unicodedata.category(ch) == "Cc" for ch in name):
            yield f"row {number}, column {NAME}: holds control characters"
        elif first.setdefault(name, number) != number:
            yield f"row {number}, column {NAME}: {name!r} is in row {first[name]} already"


def _row(
    row: Sequence[str], columns: Mapping[int, _KeyColumn], cells: TextTable, base: _Base
) -> tuple[dict[int, Any], list[str]]:
    """Values of one row by their column, and what is wrong with them."""
    faults = []
    if any(row[len(cells.heads) :]):
        faults.append(f": has {len(row)} cells below {len(cells.heads)} headings")
    values: dict[int, Any] = {}
    for index, column in columns.items():
        cell = row[index] if index < len(row) else ""
        if cell:
            values[index] = cell if column.words else value_of(cell)
    together = base.fault({columns[k].place: value for k, value in values.items()})
    if together:
        # Only now is each cell tried by itself: a hundred thousand good rows need it not.
        single = {k: base.fault({columns[k].place: value}) for k, value in values.items()}
        alone = [f", column {columns[k].key}: {words}" for k, words in single.items() if words]
        faults += alone or [f": {together}"]
    return values, faults


def _taken(cells: TextTable, columns: Mapping[int, _KeyColumn]) -> str:
    commas = any(
        "," in row[k]
        for _, row in cells.rows
        for k, column in columns.items()
        if k < len(row) and not column.words
    )
    rows = f"{len(cells.rows)} row{'s' if len(cells.rows) != 1 else ''}"
    parted = f"columns parted by {DELIMITERS[cells.delimiter]}"
    return f"{rows}; {parted}{', decimal commas' if commas else ''}"


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
