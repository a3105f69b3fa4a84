"""The draft after a fitting, written anew, and what the job must say of it from then on."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import groupby
from typing import Any, Final

import numpy as np

from ..errors import AlterationError
from ..outline import FloatArray
from ..pattern.drawing import refusal
from ..pattern.panel import EDGE_NAMES, Panel
from ..pattern.pattern import Pattern
from ..shift.altered import Altered
from ..sources.drawings import read_drawing
from ..sources.svg import draft_page, draft_svg
from ..units import tidy
from .altering import MARKED, MET_MM, alter, marks_done
from .drafted import drafted_pattern
from .keys import with_value
from .model import JobFile
from .side_names import with_sides

KeyChange = tuple[tuple[str, ...], Any]
"""Keys from the top of a job down to a value, and that value; None for what is to be taken out."""


@dataclass(frozen=True, eq=False)
class NewDraft:
    """A draft as it is saved after a fitting.

    *svg*: its file. *altered*: what was changed. *changes*: what the job file must say of the new
    draft, and no longer.
    """

    svg: bytes
    altered: Altered
    changes: tuple[KeyChange, ...]

    @property
    def advice(self) -> tuple[str, ...]:
        """The changes of the job file, in words."""
        return tuple(_advice(self.changes))


def new_draft(
    job: JobFile, *, source: str = "", name: str = "draft-2.svg", saved: bool = True
) -> NewDraft:
    """Read a job's draft, alter it as the job says, and save it; the file is read again to see.

    *saved*: whether it is to be saved at all, rather than looked at; then it has no file.

    Raises `PanelshiftError` as `read_pattern` and `alter`; and `AlterationError` if what would be
    written does not read back as the altered pattern, by the job as it is to be changed.
    """
    drawing = read_drawing(job.pattern.file, page=job.pattern.page)
    draft = drafted_pattern(job, source=source, drawing=drawing)
    if (fault := refusal(draft.ledger)) is not None:
        raise fault.located(source=draft.source)
    found = alter(draft, job, drawing, source)
    if saved and found.pattern.full and not draft.full and (job.gore or job.stands_on):
        raise AlterationError(
            "the new draft would have a left and a right one of every gore and piece, which the "
            "job file does not name in [[gore]] and [[stands_on]]",
            remedy="Keep the alteration in the job file: cut, tile and fit make it. Or draw both "
            "halves, and name the gores and pieces of each.",
            source=source,
        )
    if not saved:
        return NewDraft(b"", found, ())
    marks = sorted(marks_done(drawing) | {table.mark for table in job.alteration})
    svg = draft_svg(
        found.pattern,
        title=job.pattern.title,
        altered={MARKED: " ".join(marks)} if marks else None,
    )
    changes = tuple(_changes(job, found, name, source))
    _refuse_other(found.pattern, _read_again(svg, _changed(job, changes), source), source)
    return NewDraft(svg, found, changes)


def _read_again(svg: bytes, job: JobFile, source: str) -> Pattern:
    """The pattern that a saved draft is read as."""
    return drafted_pattern(job, source=source, drawing=read_drawing(svg))


def _changed(job: JobFile, changes: tuple[KeyChange, ...]) -> JobFile:
    """The job as it will be."""
    data: Any = job.model_dump(by_alias=True, exclude_unset=True, exclude_none=True)
    for place, value in changes:
        data = with_value(data, place, value)
    return JobFile.model_validate(_without_nothing(data))


def _without_nothing(data: Any) -> Any:
    if not isinstance(data, dict):
        return data
    return {key: _without_nothing(value) for key, value in data.items() if value is not None}


def _refuse_other(wanted: Pattern, found: Pattern, source: str) -> None:
    """Refuse a file that does not read back as the pattern that it was written from."""
    same = [p.name for p in wanted] == [p.name for p in found] and wanted.full == found.full
    if same:
        for one, two in zip(wanted, found, strict=True):
            # The sheet may have been moved as a whole.
            ends = [
                np.array([p.edge(name).start for name in EDGE_NAMES]) - p.edge("front").start
                for p in (one, two)
            ]
            levels = [[level.name for level in p.levels] for p in (one, two)]
            same &= bool(np.abs(ends[0] - ends[1]).max() < MET_MM) and levels[0] == levels[1]
    lengths = [p.edge_lengths() for p in (wanted, found)] if same else []
    if not same or np.abs(lengths[0] - lengths[1]).max() >= MET_MM:
        raise AlterationError(
            "the altered draft would not be read as what was altered",
            remedy="Panels may have come to lie on each other, or a corner may be too blunt now: "
            "move the panels of the draft further apart in the drawing program, or name the "
            "corners in the job file.",
            source=source,
        )


_OF_THE_OLD: Final = (
    "page",
    "scale",
    "waistlines",
    "leave_out",
    "leave_layers",
    "fitting_layer",
    "net_outline",
    "size",
    "allowance_drawn",
)
"""Keys of ``[pattern]`` that say how the old drawing is read; the new one has all of it named."""


def _changes(job: JobFile, found: Altered, name: str, source: str) -> Iterator[KeyChange]:
    """What the job must say of the new draft: a table's changes one after the other."""
    said, pattern = job.pattern.model_fields_set, found.pattern
    yield ("pattern", "file"), name
    yield ("pattern", "halves"), "full" if pattern.full else "half"
    if "drafted_waist" in said:
        drafted = (job.pattern.drafted_waist or 0.0) + pattern.waist - found.before.waist
        yield ("pattern", "drafted_waist"), tidy(round(drafted, 2))
    names = [panel.name for panel in pattern]
    gone = {*job.panel, *job.pattern.order}.difference(names)
    if gone and (job.pattern.order or any(table.joins for table in job.panel.values())):
        yield ("pattern", "order"), names
    for key in _OF_THE_OLD:
        if key in said:
            yield ("pattern", key), None
    low = draft_page(pattern)[0]
    called = with_sides(job, pattern, source=source).panel
    for panel in pattern:
        if panel.name in called and called[panel.name].corners:
            yield ("panel", panel.name, "corners"), _corners(panel, low)
    for old, table in job.panel.items():
        if old not in names:
            # Its sides have names of their own now.
            for key in ("corners", "joins"):
                if key in table.model_fields_set:
                    yield ("panel", old, key), None
    if job.alteration:
        yield ("alteration",), None


def _corners(panel: Panel, low: FloatArray) -> dict[str, list[float]]:
    """The four corners of a panel on a page whose low corner is given, in mm."""
    front, back = panel.edge("front"), panel.edge("back")
    places = {
        "front_top": front.end,
        "back_top": back.end,
        "back_bottom": back.start,
        "front_bottom": front.start,
    }
    return {key: np.round(at - low, 2).tolist() for key, at in places.items()}


def _advice(changes: tuple[KeyChange, ...]) -> Iterator[str]:
    for table, group in groupby(changes, lambda change: change[0][:-1]):
        own = list(group)
        if not table:
            yield "take out every [[alteration]]: the new draft has them, and refuses them again"
            continue
        name = ".".join([table[0], *(f'"{part}"' for part in table[1:])])
        given = [f"{place[-1]} = {_toml(value)}" for place, value in own if value is not None]
        gone = [place[-1] for place, value in own if value is None]
        if given:
            yield f"in [{name}]: {', '.join(given)}"
        if gone:
            yield f"take out of [{name}]: {', '.join(gone)}"


def _toml(value: Any) -> str:
    """A value as a job file has it."""
    if isinstance(value, Mapping):
        return f"{{ {', '.join(f'{key} = {_toml(part)}' for key, part in value.items())} }}"
    if isinstance(value, list):
        return f"[{', '.join(map(_toml, value))}]"
    return f'"{value}"' if isinstance(value, str) else f"{value:.2f}"
