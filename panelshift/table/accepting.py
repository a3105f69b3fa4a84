"""From a form to the work as it would be, and whether that may be accepted."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

from ..errors import JobError, PanelshiftError
from ..job.stacking import fabric_stack
from ..job.toml import job_data
from ..stack import MeasuredDistance
from ..swatch import SwatchReading, fit_in_stack, measured_by
from .edits import Edit, Form, edit_of
from .stages import State
from .swatch_file import following, readings_of, readings_text, with_reading, without_reading
from .toml_changes import KeyPath, Table, changed, put, value_at
from .workspace import History, Work, free_place

_SWATCHES: Final[KeyPath] = ("stack", "swatches")


class StaleError(PanelshiftError, ValueError):
    """An edit made on a state that another tab or an editor has changed in the same place."""


@dataclass(frozen=True, eq=False)
class Proposal:
    """What an edit would come to.

    Parameters
    ----------
    words : str
        What it does.
    edit : Edit or None
        None for what touches a whole file.
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
    edit = edit_of(kind, form, units)
    job = changed(state.work.text, edit.change, source=str(state.path)).encode()
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
        remedy="Here is how it stands now; make your change again if it is still wanted.",
    )


def refuse_worse(new: State, old: State) -> None:
    """Refuse work that is no job, or no longer fits its pattern though it did before.

    Raises `PanelshiftError` for what is wrong with it.
    """
    for error in (new.data.error, new.file.error):
        if error is not None:
            raise error
    if new.work.readings != old.work.readings:
        # They are not on the disk yet, where a job would read them.
        _check_readings(new)
    elif old.job.value is not None and new.job.error is not None:
        raise new.job.error


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
