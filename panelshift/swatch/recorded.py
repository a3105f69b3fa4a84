"""Readings from a CSV file, in whatever units a maker's tape has."""

from __future__ import annotations

import difflib
import os
import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from ..errors import SwatchError, UnitError
from ..files import parse_table, read_text
from ..units import length_parts, to_mm
from .pinned import CUT_MM, SwatchReading

NAMES: Final = ("inner", "outer")
NEEDED: Final = ("former", "length", "overhang")
OPTIONAL: Final = ("u_overhang", "u_former", "u_length", "under")
NOTE: Final = "note"
"""A column for the maker's own words; not read."""

LARGEST_BYTES: Final = 1_000_000

_UNIT_AT_END = re.compile(r"^(.*?)[_ ]*\(?(?<=[_ (])(mm|cm|in)\)?$")


@dataclass(frozen=True)
class _LengthColumn:
    """A column of lengths: what it holds, its heading, and the unit the heading names."""

    name: str
    heading: str
    unit: str


def read_csv(
    path: str | os.PathLike[str], *, inner: str = "", outer: str = ""
) -> tuple[SwatchReading, ...]:
    """Read a file of readings.

    *path*: CSV with a heading: ``inner, outer, former, length, overhang`` and, where wanted,
    ``u_overhang, u_former, u_length, under, note``. A heading may name its unit (``former_mm``,
    ``length (in)``), or the cells may (``80 mm``); bare numbers without either are mm. Columns may
    be parted by commas, semicolons or tabs. Decimals may have a comma, within quotation marks where
    commas part the columns. *inner*, *outer*: layers of readings that name none.

    Raises `SwatchError` if the file cannot be read or has faults: each is listed with its line.
    """
    source = str(path)
    text = read_text(
        Path(path),
        LARGEST_BYTES,
        SwatchError,
        check="Check the path of the CSV file.",
        too_large=("larger than 1 MB: this is no file of readings", "Give the CSV file."),
    )
    return parse_csv(text, source=source, inner=inner, outer=outer)


def parse_csv(
    text: str, *, source: str = "", inner: str = "", outer: str = ""
) -> tuple[SwatchReading, ...]:
    """Read readings from the text of a CSV file; see `read_csv`.

    Raises `SwatchError` for see `read_csv`.

    Examples
    --------
    >>> found = parse_csv("inner,outer,former_mm,length_mm,overhang_in\\na,b,80,200,0.25\\n")
    >>> round(found[0].overhang, 3)
    6.35
    """
    table = parse_table(_without_comments(text), NAMES, SwatchError, source=source)
    heads, body = tuple(head.lower() for head in table.heads), table.rows
    if not heads:
        raise _fault("an empty file", "Begin with a line of headings.", source)
    columns, faults = _columns(heads)
    if not (inner and outer):
        faults += [f"no column {name!r}" for name in NAMES if name not in heads]
    if not faults:
        faults += _mixed(columns, body)
    readings = []
    for line, cells in body if not faults else []:
        try:
            readings.append(_reading(columns, heads, cells, line, (inner, outer)))
        except SwatchError as error:
            faults.append(f"{error.element}: {error.problem}. {error.remedy}")
    if faults:
        count = f"{len(faults)} faults" if len(faults) > 1 else "a fault"
        raise _fault(
            f"{count} in the readings:\n" + "\n".join(f"    {fault}" for fault in faults),
            f"Headings: {', '.join((*NAMES, *NEEDED, *OPTIONAL, NOTE))}; docs/swatches.md "
            "shows a file.",
            source,
        )
    if not readings:
        raise _fault(
            "no readings below the headings", "Write a line for each swatch that was read.", source
        )
    return tuple(readings)


def _without_comments(text: str) -> str:
    """The same with lines of comment empty, so that all others keep their numbers."""
    return "\n".join("" if line.startswith("#") else line for line in text.splitlines())


def _columns(heads: Sequence[str]) -> tuple[dict[int, _LengthColumn], list[str]]:
    """Columns of lengths by their place, and faults of the headings."""
    columns: dict[int, _LengthColumn] = {}
    faults = []
    known = (*NEEDED, *OPTIONAL)
    for place, head in enumerate(heads):
        if head in (*NAMES, NOTE):
            continue
        match = _UNIT_AT_END.match(head)
        name, unit = (match.group(1).strip(), match.group(2)) if match else (head, "")
        if name not in known:
            close = difflib.get_close_matches(name, (*known, *NAMES), n=1)
            hint = f"; did you mean {close[0]}?" if close else ""
            faults.append(f"column {head!r} is not known{hint}")
        elif name in [column.name for column in columns.values()]:
            faults.append(f"column {name!r} is there twice")
        else:
            columns[place] = _LengthColumn(name, head, unit)
    found = [column.name for column in columns.values()]
    faults += [f"no column {name!r}" for name in NEEDED if name not in found]
    faults += [f"column {name!r} is there twice" for name in NAMES if list(heads).count(name) > 1]
    return columns, faults


def _mixed(
    columns: dict[int, _LengthColumn], body: Sequence[tuple[int, Sequence[str]]]
) -> list[str]:
    """Columns of which some cells have a unit and others have none: nobody can tell which."""
    faults = []
    for place, column in columns.items():
        if column.unit:
            continue
        bare: list[tuple[int, str]] = []
        named: list[tuple[int, str]] = []
        for line, cells in body:
            cell = cells[place] if place < len(cells) else ""
            try:
                (named if length_parts(cell)[1] else bare).append((line, cell))
            except UnitError:
                # Told with its line when the cell is read.
                continue
        if bare and named:
            faults.append(
                f"column {column.heading!r} mixes numbers without a unit (line {bare[0][0]}: "
                f"{bare[0][1]}) and with one (line {named[0][0]}: {named[0][1]}); give each "
                f"its unit, or name the column {column.heading}_mm"
            )
    return faults


def _reading(
    columns: dict[int, _LengthColumn],
    heads: Sequence[str],
    cells: Sequence[str],
    line: int,
    layers: tuple[str, str],
) -> SwatchReading:
    origin = f"line {line}"
    if len(cells) > len(heads):
        raise SwatchError(
            f"has {len(cells)} cells under {len(heads)} headings",
            remedy="Decimals have a point where columns are parted by commas.",
            element=origin,
        )
    filled = dict(enumerate(cells))
    names = []
    for name, default in zip(NAMES, layers, strict=True):
        cell = filled.get(list(heads).index(name), "") if name in heads else ""
        if not (cell or default):
            raise SwatchError(
                f"no {name} layer", remedy="Name it as in the job file.", element=origin
            )
        names.append(cell or default)
    values: dict[str, float] = {}
    for place, column in columns.items():
        cell = filled.get(place, "")
        if not cell and column.name in OPTIONAL:
            continue
        try:
            values[column.name] = to_mm(cell, bare=column.unit or "mm")
        except UnitError as error:
            raise SwatchError(
                f"{column.name}: {error.problem}", remedy=error.remedy, element=origin
            ) from None
    return SwatchReading(
        names[0],
        names[1],
        values["former"],
        values["length"],
        values["overhang"],
        values.get("u_overhang"),
        values.get("u_former", 0.0),
        values.get("u_length", CUT_MM),
        values.get("under", 0.0),
        origin,
    )


def _fault(problem: str, remedy: str, source: str) -> SwatchError:
    return SwatchError(problem, remedy=remedy, source=source)
