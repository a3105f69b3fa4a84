"""Columns of a table of clients: each one key of the job that its rows change."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Final

from ..errors import JobError, UnitError
from ..files.contents import Row
from ..job.drafted import read_pattern
from ..job.keys import Place, is_known, place_of, takes_text, with_value
from ..job.model import BodyTable
from ..job.toml import job_faults, parse_job
from ..units import parse_number

NAME: Final = "name"
"""Heading of the column that every table has."""

NOTE: Final = "note"
"""A column for the maker's own words; not read."""


@dataclass(frozen=True)
class KeyColumn:
    """A column of values: its heading, where its values go, whether they are words."""

    key: str
    place: Place
    words: bool


@dataclass(frozen=True)
class ChangedJob:
    """The job that the rows change."""

    data: Mapping[str, Any]
    folder: Path

    def completed(self, columns: Iterable[KeyColumn], source: str) -> ChangedJob:
        """The job with a length wherever it has none yet and a column gives it.

        Raises `JobError` if anything else is wrong with it.
        """
        open_ = {column.place for column in columns}
        data: Any = self.data
        for fault in job_faults(dict(self.data)):
            if fault.place in open_:
                data = with_value(data, fault.place, 1.0)
        parse_job(data, source=source, folder=self.folder)
        return replace(self, data=data)

    def faults(self, values: Mapping[Place, Any]) -> list[str]:
        """Return all that is wrong with the job once values are put in."""
        data: Any = self.data
        for place, value in values.items():
            data = with_value(data, place, value)
        try:
            parse_job(data, source="", folder=self.folder)
        except JobError as error:
            # The first line counts the faults; each of the others is one.
            head, *lines = error.problem.split("\n")
            return [line.strip() for line in lines] or [head]
        return []

    def idle_classes(self, values: Mapping[Place, Any]) -> dict[Place, str]:
        """Classes of panels that change nothing, by their place, and why: the body has no use."""
        table = self.data.get("body")
        own = table.get("model") if isinstance(table, Mapping) else None
        model = values.get(("body", "model"), own or BodyTable.model_fields["model"].default)
        if model == "classes":
            return {}
        words = f"changes nothing, as the body model is {model!r}; it counts with 'classes'"
        return {place: words for place in values if place[0] == "panel" and place[-1] == "class"}


def headings(heads: Sequence[str], source: str) -> tuple[str, ...]:
    """Headings, that of the names among them."""
    known = tuple(NAME if head.lower() == NAME else head for head in heads)
    if NAME not in known:
        raise JobError(
            f"the first line has no column {NAME!r}",
            remedy=f"Begin with a line of headings: {NAME}, and keys of the job file such as "
            "pattern.lacing_gap, parted by commas, semicolons or tabs.",
            source=source,
        )
    return known


def columns_of(
    heads: Sequence[str], rows: Sequence[Row], base: ChangedJob, source: str
) -> tuple[dict[int, KeyColumn], list[str]]:
    """Columns of values by their position, and faults of the headings.

    Raises `JobError` if the job is wrong by itself, beside what the columns give.
    """
    columns: dict[int, KeyColumn] = {}
    faults = [
        f"column {head!r}: is there {count} times"
        for head, count in Counter(heads).items()
        if count > 1 and head
    ]
    for index, head in enumerate(heads):
        if head in (NAME, NOTE):
            continue
        if not head:
            if any(index < len(row) and row[index] for _, row in rows):
                faults.append(f"column {index + 1}: has no heading")
            continue
        try:
            place = place_of(head, base.data)
        except JobError as error:
            faults.append(f"column {head!r}: {error.problem}. {error.remedy}")
            continue
        columns[index] = KeyColumn(head, place, takes_text(place))
    whole = base.completed(columns.values(), source)
    for index, column in list(columns.items()):
        if not is_known(column.place):
            del columns[index]
            faults.append(f"column {column.key!r}: {'; '.join(whole.faults({column.place: 1.0}))}")
    faults += _unknown_in_pattern(columns.values(), whole, source)
    return columns, faults


def _unknown_in_pattern(
    columns: Iterable[KeyColumn], whole: ChangedJob, source: str
) -> Iterator[str]:
    """Columns of panels and levels that the pattern has not."""
    places = {column.key: column.place for column in columns}
    if ("pattern", "file") in places.values():
        # Each row may have its own; its job tells.
        return
    panels = {key: place[1] for key, place in places.items() if place[0] == "panel"}
    levels = {key: str(place[-1]) for key, place in places.items() if _is_level(place)}
    if not panels and not levels:
        return
    job = parse_job(dict(whole.data), source=source, folder=whole.folder)
    pattern = read_pattern(job, source=source)
    known = [panel.name for panel in pattern.panels]
    for key, name in panels.items():
        if name not in known:
            yield f"column {key!r}: no such panel; here: {', '.join(known)}"
    for key, name in levels.items():
        if pattern.height_of(name) is None:
            here = ", ".join(pattern.level_names())
            yield f"column {key!r}: no such level, nor a height such as +120 mm; here: {here}"


def _is_level(place: Place) -> bool:
    return len(place) == 3 and place[:2] in (("body", "girths"), ("body", "ratio"))


def values_of(row: Sequence[str], columns: Mapping[int, KeyColumn]) -> dict[int, Any]:
    """Values of one row by their column."""
    cells = {index: row[index] for index in columns if index < len(row) and row[index]}
    return {k: cell if columns[k].words else value_of(cell) for k, cell in cells.items()}


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
