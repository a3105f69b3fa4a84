"""Readings from a CSV file, in whatever units a maker's tape has.

What a file holds is told by its headings: `bones` for swatches with bones, `test` for pieces
measured before and after, else flat swatches.
"""

from __future__ import annotations

import difflib
import os
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final, TypeVar, cast

from ..errors import SwatchError, UnitError
from ..files import parse_table, read_text
from ..units import length_parts, parse_number, to_mm
from .boned import BonedReading
from .pinned import CUT_MM, SwatchReading
from .trials import TAKEN, Trial, TrialKind, Way

NOTE: Final = "note"
"""A column for the maker's own words; not read."""

LARGEST_BYTES: Final = 1_000_000

_UNIT_AT_END = re.compile(r"^(.*?)[_ ]*\(?(?<=[_ (])(mm|cm|in)\)?$")

Reading = SwatchReading | BonedReading | Trial
Kind = TypeVar("Kind", SwatchReading, BonedReading, Trial)


@dataclass(frozen=True)
class _Form:
    """Columns of a kind of readings: words, lengths and counts, of which some are needed."""

    words: tuple[str, ...]
    lengths: tuple[str, ...]
    counts: tuple[str, ...]
    needed: frozenset[str]

    @property
    def known(self) -> tuple[str, ...]:
        """Every heading but that of notes."""
        return (*self.words, *self.lengths, *self.counts)


_FLAT: Final = _Form(
    ("inner", "outer"),
    ("former", "length", "overhang", "u_overhang", "u_former", "u_length", "under"),
    (),
    frozenset(("inner", "outer", "former", "length", "overhang")),
)
_BONED: Final = _Form(
    ("inner", "outer", "bends"),
    (
        *("former", "length", "overhang", "flat_overhang", "bone_width", "bone_thickness"),
        *("u_overhang", "under"),
    ),
    ("bones",),
    frozenset(
        (
            *("inner", "outer", "former", "length", "overhang", "flat_overhang"),
            *("bone_width", "bone_thickness", "bones"),
        )
    ),
)
_TRIAL: Final = _Form(
    ("test", "layer", "inner", "way"),
    ("before", "after", "short", "u_length"),
    ("count",),
    frozenset(("test", "layer")),
)
_FORMS: Final[Mapping[type[Reading], _Form]] = {
    SwatchReading: _FLAT,
    BonedReading: _BONED,
    Trial: _TRIAL,
}
_HOLDS: Final[Mapping[type[Reading], str]] = {
    SwatchReading: "flat swatches",
    BonedReading: "swatches with bones",
    Trial: "test pieces",
}


@dataclass(frozen=True)
class _Column:
    """A column: what it holds, its heading, and the unit the heading names."""

    name: str
    heading: str
    unit: str


@dataclass(frozen=True)
class _Row:
    """What stands in a line, by column."""

    words: Mapping[str, str]
    lengths: Mapping[str, float]
    counts: Mapping[str, int]
    origin: str

    def needs(self, name: str) -> float:
        """A length that this kind of reading needs.

        Raises `SwatchError` if it is not there.
        """
        if name not in self.lengths:
            raise SwatchError(f"no {name}", remedy="Write the length.", element=self.origin)
        return self.lengths[name]


def read_csv(
    path: str | os.PathLike[str], *, inner: str = "", outer: str = ""
) -> tuple[Reading, ...]:
    """Read a file of readings, all of one kind.

    *path*: CSV with a heading; docs/swatches.md lists the columns. A heading may name its unit
    (``former_mm``, ``length (in)``), or the cells may (``80 mm``); bare numbers without either are
    mm. Columns may be parted by commas, semicolons or tabs. Decimals may have a comma, within
    quotation marks where commas part the columns. *inner*, *outer*: layers of readings that name
    none.

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


def only(kind: type[Kind], readings: Sequence[Reading], *, source: str = "") -> tuple[Kind, ...]:
    """The readings, if they are of a kind.

    Raises `SwatchError` if they are of another.
    """
    strange = next((item for item in readings if not isinstance(item, kind)), None)
    if strange is not None:
        raise SwatchError(
            f"the file holds {_HOLDS[type(strange)]}, and {_HOLDS[kind]} are asked for here",
            remedy="Name the file with them; what panelshift swatch finds from test pieces and "
            "bones goes into the job as the lines it prints.",
            source=source,
        )
    return cast("tuple[Kind, ...]", tuple(readings))


def parse_csv(
    text: str, *, source: str = "", inner: str = "", outer: str = ""
) -> tuple[Reading, ...]:
    """Read readings from the text of a CSV file; see `read_csv`.

    Examples
    --------
    >>> found = parse_csv("inner,outer,former_mm,length_mm,overhang_in\\na,b,80,200,0.25\\n")
    >>> round(found[0].overhang, 3)
    6.35
    """
    every = {name for form in _FORMS.values() for name in form.known}
    table = parse_table(_without_comments(text), every, SwatchError, source=source)
    heads, body = tuple(head.lower() for head in table.heads), table.rows
    if not heads:
        raise _fault("an empty file", "Begin with a line of headings.", source)
    kind = BonedReading if "bones" in heads else Trial if "test" in heads else SwatchReading
    form = _FORMS[kind]
    layers = {"inner": inner, "outer": outer} if kind is not Trial else {}
    columns, faults = _columns(heads, form, [name for name, given in layers.items() if given])
    if not faults:
        faults += _mixed(columns, form, body)
    readings = []
    for line, cells in body if not faults else []:
        try:
            readings.append(_reading(kind, _row(columns, form, heads, cells, line, layers)))
        except SwatchError as error:
            faults.append(f"{error.element}: {error.problem}. {error.remedy}")
    if faults:
        count = f"{len(faults)} faults" if len(faults) > 1 else "a fault"
        raise _fault(
            f"{count} in the readings:\n" + "\n".join(f"    {fault}" for fault in faults),
            f"Headings: {', '.join((*form.known, NOTE))}; docs/swatches.md shows a file.",
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


def _columns(
    heads: Sequence[str], form: _Form, given: Sequence[str]
) -> tuple[dict[int, _Column], list[str]]:
    """Columns by their place, and faults of the headings; *given* need no column."""
    columns: dict[int, _Column] = {}
    faults = []
    for place, head in enumerate(heads):
        if head == NOTE:
            continue
        match = None if head in form.known else _UNIT_AT_END.match(head)
        name, unit = (match.group(1).strip(), match.group(2)) if match else (head, "")
        if name not in form.known or (unit and name not in form.lengths):
            close = difflib.get_close_matches(name, form.known, n=1)
            hint = f"; did you mean {close[0]}?" if close else ""
            faults.append(f"column {head!r} is not known{hint}")
        elif name in [column.name for column in columns.values()]:
            faults.append(f"column {name!r} is there twice")
        else:
            columns[place] = _Column(name, head, unit)
    found = {*(column.name for column in columns.values()), *given}
    faults += [f"no column {n!r}" for n in form.known if n in form.needed and n not in found]
    return columns, faults


def _mixed(
    columns: dict[int, _Column], form: _Form, body: Sequence[tuple[int, Sequence[str]]]
) -> list[str]:
    """Columns of which some cells have a unit and others have none: nobody can tell which."""
    faults = []
    for place, column in columns.items():
        if column.unit or column.name not in form.lengths:
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


def _row(
    columns: dict[int, _Column],
    form: _Form,
    heads: Sequence[str],
    cells: Sequence[str],
    line: int,
    layers: Mapping[str, str],
) -> _Row:
    origin = f"line {line}"
    if len(cells) > len(heads):
        raise SwatchError(
            f"has {len(cells)} cells under {len(heads)} headings",
            remedy="Decimals have a point where columns are parted by commas.",
            element=origin,
        )
    words, lengths, counts = dict(layers), dict[str, float](), dict[str, int]()
    for place, column in columns.items():
        cell = cells[place] if place < len(cells) else ""
        if column.name in form.words:
            words[column.name] = cell or words.get(column.name, "")
        elif cell or column.name in form.needed:
            try:
                if column.name in form.lengths:
                    lengths[column.name] = to_mm(cell, bare=column.unit or "mm")
                else:
                    counts[column.name] = _whole(cell)
            except UnitError as error:
                raise SwatchError(
                    f"{column.name}: {error.problem}", remedy=error.remedy, element=origin
                ) from None
    for name in form.words:
        if name in form.needed and not words.get(name):
            what = f"no {name} layer" if name in layers else f"no {name}"
            raise SwatchError(what, remedy="Name it as in the job file.", element=origin)
    return _Row(words, lengths, counts, origin)


def _whole(cell: str) -> int:
    value = parse_number(cell)
    if not isinstance(value, int):
        raise UnitError(f"{cell!r:.40} is no whole number", remedy="Count them.")
    return value


def _reading(kind: type[Reading], row: _Row) -> Reading:
    if kind is Trial:
        return _trial(row)
    size = row.lengths
    flat = SwatchReading(
        row.words["inner"],
        row.words["outer"],
        size["former"],
        size["length"],
        size["overhang"] if kind is SwatchReading else size["flat_overhang"],
        size.get("u_overhang"),
        size.get("u_former", 0.0),
        size.get("u_length", CUT_MM),
        size.get("under", 0.0),
        row.origin,
    )
    if kind is SwatchReading:
        return flat
    bends = _chosen(row, "bends", {"": False, "no": False, "yes": True})
    sizes = size["bone_width"], size["bone_thickness"]
    return BonedReading(flat, size["overhang"], row.counts["bones"], *sizes, bends)


def _trial(row: _Row) -> Trial:
    test: TrialKind = _chosen(row, "test", {name: name for name in TAKEN})
    ways: dict[str, Way] = {"": "", "girth": "girth", "length": "length"}
    fold = test == "fold"
    if fold and not row.words.get("inner"):
        raise SwatchError("no inner layer", remedy="A fold has two cloths.", element=row.origin)
    return Trial(
        test,
        row.words["layer"],
        row.needs("short") if fold else row.needs("before"),
        0.0 if fold else row.needs("after"),
        _chosen(row, "way", ways),
        row.counts.get("count", 1),
        row.words.get("inner", "") if fold else "",
        row.lengths.get("u_length"),
        row.origin,
    )


Choice = TypeVar("Choice")


def _chosen(row: _Row, name: str, choices: Mapping[str, Choice]) -> Choice:
    word = row.words.get(name, "").lower()
    if word not in choices:
        raise SwatchError(
            f"{name} is {word!r:.40}",
            remedy=f"Write one of {', '.join(choice for choice in choices if choice)}.",
            element=row.origin,
        )
    return choices[word]


def _fault(problem: str, remedy: str, source: str) -> SwatchError:
    return SwatchError(problem, remedy=remedy, source=source)
