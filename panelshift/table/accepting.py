"""From a form to the work as it would be, and whether that may be accepted.

The work is a job file, and readings of pinned swatches in a CSV file beside it.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import Final

from ..errors import JobError, PanelshiftError, SwatchError
from ..job.materials import fabric_stack
from ..job.toml import job_data, job_faults
from ..stack import MeasuredDistance
from ..swatch import SwatchReading, fit_in_stack, measured_by
from ..swatch.recorded import only, parse_csv
from ..units import to_mm
from .altering_edits import ALTERED
from .body_view import BODY
from .edits import Edit, Form, bound_words, edit_of, field, read_as
from .sewing_edits import SEWN, renamed
from .stages import State
from .toml_changes import KeyPath, Table, as_if_measured, changed, numbered, put, value_at
from .workspace import HEADINGS, History, Work, free_place

_SWATCHES: Final[KeyPath] = ("stack", "swatches")


class StaleError(PanelshiftError, ValueError):
    """An edit made on a state that another tab or an editor has changed in the same place."""


@dataclass(frozen=True, eq=False)
class Proposal:
    """What an edit would come to.

    *words*: what it does. *edit*: None for what touches a whole file.
    """

    work: Work
    words: str
    edit: Edit | None = None


def proposal(kind: str, form: Form, state: State) -> Proposal:
    """Return what an edit would come to; nothing is accepted yet.

    *kind*: see `panelshift.table.edits`; or "text", "reading" and "unread".

    Raises `PanelshiftError` if the form makes no sense, or the job has faults that the text must be
    mended of first.
    """
    if kind == "text":
        return Proposal(_text(form, state.work), "the job file's text")
    for error in (state.data.error, state.file.error):
        if error is not None:
            raise error
    units = "mm" if state.file.value is None else state.file.value.pattern.units
    if kind in ("reading", "unread"):
        return Proposal(_reading(kind, form, state, units), "the swatch readings")
    edit = edit_of(kind, form, units, {**BODY, **SEWN, **ALTERED})

    def change(data: Table) -> None:
        edit.change(data)
        if kind == "rename":
            renamed(data, form.get("fabric", ""), field(form, "value"))

    job = changed(state.work.text, change, source=str(state.path)).encode()
    work = replace(state.work, job=job)
    if work.readings is not None:
        kept = following(readings_of(work.readings), kind, form)
        work = _keeping(work, kept, state)
    return Proposal(work, edit.words, edit)


def refuse_stale(revision: str, found: Proposal, state: State, history: History) -> None:
    """Let an edit of an older state pass only if its own place is as it was then.

    *revision*: that the edit was made on. *state*: as it is now.

    Raises `StaleError` if it cannot be done.
    """
    if revision == state.work.revision:
        return
    then = history.find(revision)
    if then is not None and found.edit is not None and state.data.value is not None:
        before = job_data(then.job, source=str(state.path))
        if found.edit.touches(before) == found.edit.touches(state.data.value):
            return
    raise StaleError(
        "this was changed in another tab, or in the job file itself, since the page was drawn",
        remedy="It now stands here as it is in the file; make your change again if you still want "
        "it.",
    )


def refuse_worse(new: State, old: State, edit: Edit | None = None) -> None:
    """Refuse work that is no job, or no longer fits its pattern though it did before.

    *edit*: of one field, in whose words the refusal is then.

    Raises `PanelshiftError` for what is wrong with it.
    """
    if new.file.error is not None and edit is not None and old.file.value is not None:
        units = old.file.value.pattern.units
        faults = job_faults(as_if_measured(new.data.value or {}))
        if faults:
            words = "; ".join(bound_words(fault, edit, units) for fault in faults)
            raise JobError(words, remedy="What was saved before stays.")
    for error in (new.data.error, new.file.error):
        if error is not None:
            raise error
    if edit is not None and old.pattern.value is not None and _made_otherwise(new, old):
        error = new.pattern.error
        if error is not None:
            raise error
    if new.work.readings != old.work.readings:
        # They are not on the disk yet, where a job would read them.
        _check_readings(new)
    elif old.job.value is not None and new.job.error is not None and not _asked(new, edit):
        raise new.job.error


def _asked(new: State, edit: Edit | None) -> bool:
    """Whether an edit leaves open what the page then asks."""
    return edit is not None and edit.asks and bool(new.choices)


def _made_otherwise(new: State, old: State) -> bool:
    """Whether a job says otherwise of what a fitting changed, or of gores."""
    files = (state.file.value for state in (new, old))
    return len({None if f is None else repr((f.alteration, f.gore)) for f in files}) > 1


def _text(form: Form, work: Work) -> Work:
    # Browsers send line ends as CR LF whatever they were given.
    text = form.get("text", "").replace("\r\n", "\n")
    if "\r\n" in work.text:
        text = text.replace("\n", "\r\n")
    return replace(work, job=text.encode("utf-8", "surrogateescape"))


def _reading(kind: str, form: Form, state: State, units: str) -> Work:
    """Add a reading or take one out, in a file that the job then names."""
    own = value_at(state.data.value or {}, _SWATCHES)
    if state.work.readings is None and own is not None:
        raise JobError(
            f"the readings in {own!r:.80} are in a form of your own",
            remedy="Add lines to that file; this page reads it again by itself.",
        )
    readings = readings_of(state.work.readings)
    if kind == "unread":
        return _keeping(state.work, without_reading(readings, form), state)
    return _keeping(state.work, with_reading(readings, form, units), state)


def _keeping(work: Work, readings: Sequence[SwatchReading], state: State) -> Work:
    """Work with these readings, in a file that the job names as long as there are any."""
    text = readings_text(readings) if readings else None
    if (text is None) == (work.readings is None):
        return replace(work, readings=text)
    name = None
    if text is not None:
        name = free_place(state.path.parent, f"{state.path.stem}-swatches.csv").name

    def name_file(data: Table) -> None:
        put(data, _SWATCHES, name)

    return Work(changed(work.text, name_file, source=str(state.path)).encode(), text)


def _check_readings(state: State) -> None:
    """Refuse readings that do not fit the fabrics, or contradict what the job states."""
    file = state.file.value
    assert file is not None
    stack = fabric_stack(file)
    readings = readings_of(state.work.readings)
    stated = [
        MeasuredDistance(item.inner, item.outer, item.distance, item.uncertainty)
        for item in file.stack.measured
    ]
    fitted = measured_by(fit_in_stack(readings, stack)) if readings else ()
    replace(stack, measured=(*stated, *fitted))


MOST_READINGS: Final = 200

MEASURED: Final[Mapping[str, str]] = {
    "former": "Former across",
    "length": "Swatch length",
    "overhang": "Overhang",
}
"""What is measured of a swatch, and how the page calls it."""


def readings_of(text: str | None, source: str = "") -> tuple[SwatchReading, ...]:
    """Readings of a file that this page keeps; none if it is empty.

    Raises `SwatchError` for see `panelshift.swatch.recorded.parse_csv`.
    """
    if text is None or not text.partition("\n")[2].strip():
        return ()
    return only(SwatchReading, parse_csv(text, source=source), source=source)


def with_reading(
    readings: Sequence[SwatchReading], form: Form, units: str
) -> tuple[SwatchReading, ...]:
    """Return readings with one more.

    Raises `PanelshiftError` if a number cannot be read, or cannot be right.
    """
    if len(readings) >= MOST_READINGS:
        raise SwatchError(
            f"there are {MOST_READINGS} readings already", remedy="Take old ones out first."
        )
    former, length, overhang = (
        read_as(called, partial(to_mm, field(form, name), bare=units))
        for name, called in MEASURED.items()
    )
    reading = SwatchReading(field(form, "inner"), field(form, "outer"), former, length, overhang)
    return (*readings, reading)


def without_reading(readings: Sequence[SwatchReading], form: Form) -> tuple[SwatchReading, ...]:
    """Return readings without the one of a number.

    Raises `JobError` if there is none.
    """
    number = numbered(field(form, "place"))
    if number is None or number >= len(readings):
        raise JobError("there is no such reading any more", remedy="Look at the readings again.")
    return (*readings[:number], *readings[number + 1 :])


def following(
    readings: Sequence[SwatchReading], kind: str, form: Form
) -> tuple[SwatchReading, ...]:
    """Return readings after an edit of the layers: renamed with them, gone with them."""
    name = form.get("fabric", "")
    if kind == "rename":
        new = field(form, "value")
        return tuple(
            replace(
                item,
                inner=new if item.inner == name else item.inner,
                outer=new if item.outer == name else item.outer,
            )
            for item in readings
        )
    if kind == "remove":
        return tuple(item for item in readings if name not in (item.inner, item.outer))
    return tuple(readings)


def readings_text(readings: Sequence[SwatchReading]) -> str:
    """Return readings as the file that keeps them."""
    stream = io.StringIO()
    writer = csv.writer(stream, lineterminator="\n")
    writer.writerow(HEADINGS)
    for item in readings:
        lengths = (item.former, item.length, item.overhang)
        writer.writerow([item.inner, item.outer, *(f"{value:.6g}" for value in lengths)])
    return stream.getvalue()
