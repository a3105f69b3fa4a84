"""Take in a dropped pattern: read it, find it a place beside the job, and say so in the job."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Final

from ..draft import assemble
from ..errors import JobError, PanelshiftError
from ..files import write_whole
from ..files.shipped import sample_files
from ..job.choices import Survey, survey
from ..job.drafted import read_pattern
from ..job.resolved import resolve
from ..job.starter import starter_job
from ..job.toml import job_data, parse_job
from ..pattern.drawing import Drawing
from ..pattern.pattern import Pattern
from ..sources.drawings import read_drawing
from .stages import State
from .toml_changes import Table, as_if_measured, changed, put, value_at
from .workspace import free_place, pattern_name


class RefusedError(Exception):
    """A file that was not taken in.

    *error*: why. *drawing*: what could be read of it.
    """

    def __init__(self, error: PanelshiftError, drawing: Drawing | None = None) -> None:
        self.error, self.drawing = error, drawing
        super().__init__(str(error))


@dataclass(frozen=True, eq=False)
class Taken:
    """A pattern that was taken in.

    *pattern*: where it is to be kept: nothing else is there. *job*: the job that names it. *words*:
    what was done, with whatever had to be left out.
    """

    pattern: Path
    content: bytes
    job: bytes
    words: str

    @property
    def job_name(self) -> str:
        """Name that a new job file of this pattern should have."""
        return f"{self.pattern.stem}.toml"


def take_in(uploaded: str, content: bytes, folder: Path, state: State | None) -> Taken:
    """Read a pattern and put it into the job, or into a new one.

    *uploaded*: its name, as a browser says it. *folder*: where patterns are kept. *state*: the job
    it is for; None to begin a new one.

    Raises `RefusedError` if it is no pattern; nothing is changed then.
    """
    name = pattern_name(uploaded)
    if state is not None and state.data.error is not None:
        raise RefusedError(state.data.error)
    try:
        drawing = read_drawing(content, name=name)
    except PanelshiftError as error:
        if error.key != "page":
            raise RefusedError(error) from None
        return _with_pages(uploaded, content, free_place(folder, name, content), state)
    try:
        path = free_place(folder, name, content)
        if state is None:
            # A job exists from the first drop on: what is amiss is mended on the page.
            found = survey(drawing)
            job = starter_job(found, Path(path.name), asks=False).encode()
            words = f"{uploaded:.80} is on the table; something in it is open: see below"
            if found.pattern is not None:
                words = f"{len(found.pattern.panels)} panels read from {uploaded:.80}"
        else:
            job, words = _in_its_place(state, drawing, path, f"{uploaded:.80}")
    except PanelshiftError as error:
        raise RefusedError(error, drawing) from None
    if path.name != name:
        words += f". {name} is there already with other content, so it is kept as {path.name}"
    return Taken(path, content, job, words + ".")


def _with_pages(uploaded: str, content: bytes, path: Path, state: State | None) -> Taken:
    """A PDF of which it is to be said which page is the pattern."""
    words = f"{uploaded:.80} is on the table; which of its pages is the pattern is asked below."
    if state is not None:
        return Taken(path, content, _afresh(state, path), words)
    job = starter_job(Survey(()), Path(path.name), asks=False).encode()
    return Taken(path, content, job, words)


def _in_its_place(state: State, drawing: Drawing, path: Path, called: str) -> tuple[bytes, str]:
    """The job with another drawing, and what was done in words."""
    try:
        job, pattern, dropped = _into(state, drawing, path)
    except PanelshiftError:
        if not survey(drawing).choices and state.pattern.value is not None:
            raise
        words = f"{called} is in its place; something in it is open: see below"
        return _afresh(state, path), words
    words = f"{len(pattern.panels)} panels read from {called}"
    if dropped:
        gone = ", ".join(dropped)
        words += f"; what the job said of panels that are not in it was taken out ({gone})"
    return job, words


_OF_ONE_DRAWING: Final = (
    *("order", "halves", "waistlines", "leave_out", "leave_layers", "join_tolerance"),
    *("net_outline", "size", "allowance_drawn", "scale", "page"),
)
"""Keys of ``[pattern]`` that say how one drawing is read, and mean nothing for another."""


def _afresh(state: State, path: Path) -> bytes:
    """The job with a drawing of which nothing has been settled yet."""

    def change(job: Table) -> None:
        put(job, ("pattern", "file"), path.name)
        for key in _OF_ONE_DRAWING:
            put(job, ("pattern", key), None)
        put(job, ("panel",), None)
        put(job, ("body", "girths"), None)

    return changed(state.work.text, change, source=str(state.path)).encode()


def _into(state: State, drawing: Drawing, path: Path) -> tuple[bytes, Pattern, list[str]]:
    """Put a pattern in the place of the job's own, leaving out what it has no panels for."""
    data = state.data.value or {}
    plain = _plainly(state, drawing)
    names = {panel.name for panel in plain.panels}
    lost = [str(name) for name in value_at(data, ("panel",)) or () if name not in names]
    gone: list[tuple[str, ...]] = [("panel", name) for name in lost]
    if lost:
        gone += [("pattern", key) for key in ("order", "waistlines") if key in data["pattern"]]
        girths = value_at(data, ("body", "girths")) or ()
        known = plain.level_names()
        gone += [
            ("body", "girths", level)
            for level in girths
            if level not in known and not level.startswith(("+", "-"))
        ]

    def change(job: Table) -> None:
        put(job, ("pattern", "file"), path.name)
        for keys in gone:
            put(job, keys, None)

    raw = changed(state.work.text, change, source=str(state.path)).encode()
    pattern = checked(raw, drawing, state)
    return raw, pattern, lost


def _plainly(state: State, drawing: Drawing) -> Pattern:
    """The panels as they are without the names that the job gives for the old ones."""
    file = state.file.value
    if file is None:
        return assemble(drawing, keep_faults=True)
    table = file.pattern.model_copy(update={"order": (), "waistlines": ()})
    return read_pattern(
        file.model_copy(update={"pattern": table, "panel": {}, "alteration": ()}), drawing=drawing
    )


def checked(raw: bytes, drawing: Drawing, state: State) -> Pattern:
    """The pattern as a job reads it, once the job is sure to fit it.

    Raises `PanelshiftError` if it does not.
    """
    data = as_if_measured(job_data(raw, source=str(state.path)))
    file = parse_job(data, source=str(state.path), folder=state.path.parent)
    pattern = read_pattern(file, source=str(state.path), drawing=drawing)
    resolve(file, source=str(state.path), pattern=pattern, keep_faults=True)
    return pattern


def put_sample(folder: Path) -> Path:
    """Put copies of the sample's pattern and job into a folder, and return the job.

    Raises `JobError` if the sample was not installed.
    """
    files = sample_files()
    if not files:
        raise JobError(
            "the sample is not on this machine",
            remedy="Install panelshift from its wheel or from a copy of the repository.",
        )
    pattern, job = files
    drawn = free_place(folder, pattern, files[pattern])
    text = changed(files[job].decode(), lambda data: put(data, ("pattern", "file"), drawn.name))
    path = free_place(folder, job, text.encode())
    write_whole({drawn: files[pattern], path: text.encode()})
    return path
