"""Readings from a CSV file, in whatever units a maker's tape has.

What a file holds is told by its headings: `bones` for swatches with bones, `test` for pieces
measured before and after, else flat swatches.
"""

from __future__ import annotations

import difflib
import os
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final, TypeVar, cast

from ..errors import SwatchError, UnitError
from ..files import parse_table, read_text
from ..files.shipped import guide
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
Option = TypeVar("Option")


WORDS: Final = ("inner", "outer", "bends", "test", "layer", "way")
COUNTS: Final = ("bones", "count")
"""All other columns hold lengths."""

_FLAT: Final = ("inner", "outer", "former", "length", "overhang")
_FORMS: Final[Mapping[type[Reading], tuple[tuple[str, ...], tuple[str, ...]]]] = {
    SwatchReading: (_FLAT, ("u_overhang", "u_former", "u_length", "under")),
    BonedReading: (
        (*_FLAT, "bones", "bone_width", "bone_thickness", "flat_overhang"),
        ("bends", "u_overhang", "under"),
    ),
    Trial: (
        ("test", "layer"),
        ("inner", "way", "before", "after", "short", "u_length", "count"),
    ),
}
"""Columns of each kind of readings: those that it needs, and others."""

_HOLDS: Final[Mapping[type[Reading], str]] = {
    SwatchReading: "flat swatches",
    BonedReading: "swatches with bones",
    Trial: "test pieces",
}


@dataclass(frozen=True)
class _Heading:
    """A column: what it holds, its heading, and the unit the heading names."""

    name: str
    words: str
    unit: str


@dataclass(frozen=True)
class _Line:
    """What stands in a line, by column."""

    words: Mapping[str, str]
    lengths: Mapping[str, float]
    counts: Mapping[str, int]
    origin: str

    def length(self, name: str) -> float:
        """A length that this kind of reading needs.

        Raises `SwatchError` if it is not there.
        """
        if name not in self.lengths:
            raise SwatchError(f"no {name}", remedy="Write the length.", element=self.origin)
        return self.lengths[name]

    def chosen(self, name: str, choices: Mapping[str, Option]) -> Option:
        """What a word stands for.

        Raises `SwatchError` if it is none of them.
        """
        word = self.words.get(name, "").lower()
        if word not in choices:
            known = ", ".join(choice for choice in choices if choice)
            raise SwatchError(
                f"{name} is {word!r:.40}", remedy=f"Write one of {known}.", element=self.origin
            )
        return choices[word]


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
            remedy="Name the file with them; files of test pieces and bones are named in the job's "
            "[construction], as swatches, or go into it as the lines panelshift swatch prints.",
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
    every = {name for form in _FORMS.values() for names in form for name in names}
    table = parse_table(_without_comments(text), every, SwatchError, source=source)
    heads, body = tuple(head.lower() for head in table.heads), table.rows
    if not heads:
        raise _fault("an empty file", "Begin with a line of headings.", source)
    kind = BonedReading if "bones" in heads else Trial if "test" in heads else SwatchReading
    needed, optional = _FORMS[kind]
    layers = {"inner": inner, "outer": outer} if kind is not Trial else {}
    given = [name for name, layer in layers.items() if layer]
    columns, faults = _columns(heads, needed, optional, given)
    if not faults:
        faults += _mixed(columns, body)
    readings = []
    for number, cells in body if not faults else []:
        try:
            line = _line(columns, needed, len(heads), cells, f"line {number}", layers)
            readings.append(_READ[kind](line))
        except SwatchError as error:
            faults.append(f"{error.element}: {error.problem}. {error.remedy}")
    if faults:
        count = f"{len(faults)} faults" if len(faults) > 1 else "a fault"
        raise _fault(
            f"{count} in the readings:\n" + "\n".join(f"    {fault}" for fault in faults),
            f"Headings: {', '.join((*needed, *optional, NOTE))}; {guide('swatches')} shows a file.",
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
    heads: Sequence[str], needed: Sequence[str], optional: Sequence[str], given: Sequence[str]
) -> tuple[dict[int, _Heading], list[str]]:
    """Columns by their place, and faults of the headings; *given* need no column."""
    known = (*needed, *optional)
    columns: dict[int, _Heading] = {}
    faults = []
    for place, head in enumerate(heads):
        if head == NOTE:
            continue
        match = None if head in known else _UNIT_AT_END.match(head)
        name, unit = (match.group(1).strip(), match.group(2)) if match else (head, "")
        if name not in known or (unit and name in (*WORDS, *COUNTS)):
            close = difflib.get_close_matches(name, known, n=1)
            hint = f"; did you mean {close[0]}?" if close else ""
            faults.append(f"column {head!r} is not known{hint}")
        elif name in [column.name for column in columns.values()]:
            faults.append(f"column {name!r} is there twice")
        else:
            columns[place] = _Heading(name, head, unit)
    found = {*(column.name for column in columns.values()), *given}
    return columns, faults + [f"no column {name!r}" for name in needed if name not in found]


def _mixed(columns: dict[int, _Heading], body: Sequence[tuple[int, Sequence[str]]]) -> list[str]:
    """Columns of which some cells have a unit and others have none: nobody can tell which."""
    faults = []
    for place, column in columns.items():
        if column.unit or column.name in (*WORDS, *COUNTS):
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
                f"column {column.words!r} mixes numbers without a unit (line {bare[0][0]}: "
                f"{bare[0][1]}) and with one (line {named[0][0]}: {named[0][1]}); give each "
                f"its unit, or name the column {column.words}_mm"
            )
    return faults


def _line(
    columns: dict[int, _Heading],
    needed: Sequence[str],
    wide: int,
    cells: Sequence[str],
    origin: str,
    layers: Mapping[str, str],
) -> _Line:
    if len(cells) > wide:
        raise SwatchError(
            f"has {len(cells)} cells under {wide} headings",
            remedy="Decimals have a point where columns are parted by commas.",
            element=origin,
        )
    words, lengths, counts = dict(layers), dict[str, float](), dict[str, int]()
    for place, column in columns.items():
        cell, name = cells[place] if place < len(cells) else "", column.name
        try:
            if name in WORDS:
                words[name] = cell or words.get(name, "")
            elif not (cell or name in needed):
                continue
            elif name in COUNTS:
                counts[name] = _whole(cell)
            else:
                lengths[name] = to_mm(cell, bare=column.unit or "mm")
        except UnitError as error:
            raise SwatchError(
                f"{name}: {error.problem}", remedy=error.remedy, element=origin
            ) from None
    for name in needed:
        if name in WORDS and not words.get(name):
            what = f"no {name} layer" if name in layers else f"no {name}"
            raise SwatchError(what, remedy="Name it as in the job file.", element=origin)
    return _Line(words, lengths, counts, origin)


def _whole(cell: str) -> int:
    value = parse_number(cell)
    if not isinstance(value, int):
        raise UnitError(f"{cell!r:.40} is no whole number", remedy="Count them.")
    return value


def _flat(line: _Line, overhang: str = "overhang") -> SwatchReading:
    size = line.lengths
    return SwatchReading(
        line.words["inner"],
        line.words["outer"],
        size["former"],
        size["length"],
        size[overhang],
        size.get("u_overhang"),
        size.get("u_former", 0.0),
        size.get("u_length", CUT_MM),
        size.get("under", 0.0),
        line.origin,
    )


def _boned(line: _Line) -> BonedReading:
    bends = line.chosen("bends", {"": False, "no": False, "yes": True})
    width, thick, overhang = (
        line.lengths[name] for name in ("bone_width", "bone_thickness", "overhang")
    )
    flat = _flat(line, "flat_overhang")
    return BonedReading(flat, overhang, line.counts["bones"], width, thick, bends)


def _trial(line: _Line) -> Trial:
    test: TrialKind = line.chosen("test", {name: name for name in TAKEN})
    ways: dict[str, Way] = {
        "": "",
        "girth": "girth",
        "length": "length",
        "bias": "bias",
    }
    fold = test == "fold"
    if fold and not line.words.get("inner"):
        raise SwatchError("no inner layer", remedy="A fold has two cloths.", element=line.origin)
    return Trial(
        test,
        line.words["layer"],
        line.length("short" if fold else "before"),
        0.0 if fold else line.length("after"),
        line.chosen("way", ways),
        line.counts.get("count", 1),
        line.words.get("inner", "") if fold else "",
        line.lengths.get("u_length"),
        line.origin,
    )


_READ: Final[Mapping[type[Reading], Callable[[_Line], Reading]]] = {
    SwatchReading: _flat,
    BonedReading: _boned,
    Trial: _trial,
}


def _fault(problem: str, remedy: str, source: str) -> SwatchError:
    return SwatchError(problem, remedy=remedy, source=source)
