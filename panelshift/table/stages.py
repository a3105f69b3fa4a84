"""What one state of the work comes to, stage by stage, each reckoned when first asked for."""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable, Hashable
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Any, Final, Generic, TypeVar

from ..body import ClassModel
from ..body.turn import TurnOfCloth, turn_of_cloth
from ..errors import PanelshiftError
from ..fit.facts import FitFacts
from ..job import Job, JobFile, resolve
from ..job.altering import alter
from ..job.choices import (
    HALVES_DOUBTS,
    SETTLED,
    OpenChoice,
    Survey,
    Units,
    drafted_choices,
    halves_choice,
    page_choice,
    survey,
)
from ..job.drafted import drafted_pattern, reading_key, reading_of
from ..job.result import cloth_in_rows, fit_job, shift_job
from ..job.said import Check, check_pattern
from ..job.toml import job_data, parse_job
from ..needs.buying import FabricNeeds
from ..pattern.drawing import Drawing
from ..pattern.edge_pieces import profile
from ..pattern.pattern import Pattern
from ..shift import Shifted
from ..shift.altered import Altered
from ..sources.drawings import pages_of, read_drawing
from ..units import shown_length
from .toml_changes import KeyPath, as_if_measured, unmeasured, value_at
from .workspace import Work, stamp_of

T = TypeVar("T")

_KEPT: Final = 8
"""Results of each stage that are remembered: enough to go back and forth a few steps."""


@dataclass(frozen=True)
class Found(Generic[T]):
    """A stage's result, or why there is none; neither if an earlier stage has none."""

    value: T | None = None
    error: PanelshiftError | None = None


class Memory:
    """The last few results by what they were reckoned from."""

    def __init__(self) -> None:
        self._kept: OrderedDict[Hashable, Any] = OrderedDict()
        self._lock = threading.Lock()

    def recall(self, key: Hashable, reckon: Callable[[], T]) -> T:
        """Return what was reckoned for a key, or reckon it; errors are not remembered."""
        with self._lock:
            if key in self._kept:
                self._kept.move_to_end(key)
                found: T = self._kept[key]
                return found
        result = reckon()
        with self._lock:
            self._kept[key] = result
            while len(self._kept) > _KEPT:
                self._kept.popitem(last=False)
        return result


class Reckoner:
    """Makes states, and lets them share what they have in common."""

    def __init__(self) -> None:
        self.drawings, self.drafts, self.patterns = Memory(), Memory(), Memory()
        self.profiles, self.turns = Memory(), Memory()
        self.pictures = Memory()
        self._states = Memory()

    def state(self, work: Work, path: Path) -> State:
        """Return the state of some work whose job file has that path."""
        state = State(work, path, self)
        # The pattern may be saved anew by a drawing program while the job stays as it is.
        return self._states.recall((work.revision, path, state.outside), lambda: state)


class State:
    """One state of the work.

    *path*: of the job file: other paths are relative to its folder.
    """

    def __init__(self, work: Work, path: Path, reckoner: Reckoner) -> None:
        self.work, self.path, self.reckoner = work, path, reckoner
        self.lock = threading.RLock()
        """Held while anything is reckoned or drawn, so that nothing is done twice."""

    @property
    def _source(self) -> str:
        return str(self.path)

    @cached_property
    def data(self) -> Found[dict[str, Any]]:
        """The job file as TOML gives it."""
        return _attempt(lambda: job_data(self.work.job, source=self._source))

    @cached_property
    def unmeasured(self) -> tuple[str, ...]:
        """Names of the fabrics whose thickness is still to be measured."""
        return tuple(str(entry.get("name", "")) for entry in unmeasured(self.data.value or {}))

    @cached_property
    def file(self) -> Found[JobFile]:
        """The job file, checked; a thickness still to be measured counts as nothing."""
        return _attempt(
            lambda data: parse_job(
                as_if_measured(data), source=self._source, folder=self.path.parent
            ),
            self.data,
        )

    @cached_property
    def outside(self) -> Hashable:
        """What changes when a file that the job names does."""
        if self.file.value is None:
            return None
        return tuple((str(path), stamp_of(path)) for path in self.file.value.sources())

    @cached_property
    def drawing(self) -> Found[Drawing]:
        """Everything read from the pattern's file, at its own scale."""
        memory = self.reckoner.drawings
        return _attempt(
            lambda job: memory.recall(
                self.drawing_key, lambda: read_drawing(job.pattern.file, page=job.pattern.page)
            ),
            self.file,
        )

    @cached_property
    def drawing_key(self) -> Hashable:
        """What changes when the pattern's file does."""
        if self.file.value is None:
            return None
        table = self.file.value.pattern
        return str(table.file), table.page, stamp_of(table.file)

    @cached_property
    def scaled(self) -> Found[Drawing]:
        """The drawing to the scale that the job says."""
        return _attempt(
            lambda job, drawing: drawing.scaled(job.pattern.scale), self.file, self.drawing
        )

    @cached_property
    def draft_key(self) -> Hashable:
        """Everything that decides how the draft is read."""
        if self.file.value is None:
            return None
        return self.drawing_key, reading_key(self.file.value)

    @cached_property
    def pattern_key(self) -> Hashable:
        """Everything that decides what all layers are made from."""
        file = self.file.value
        return self.draft_key, "" if file is None else repr(file.alteration)

    @cached_property
    def draft(self) -> Found[Pattern]:
        """The panels as they are drawn, in order."""
        return _attempt(
            lambda job, drawing: self.reckoner.drafts.recall(
                self.draft_key, lambda: drafted_pattern(job, source=self._source, drawing=drawing)
            ),
            self.file,
            self.drawing,
        )

    @cached_property
    def altered(self) -> Found[Altered]:
        """The panels with what a fitting changed, and what that was."""
        return _attempt(
            lambda job, drawing, draft: self.reckoner.patterns.recall(
                self.pattern_key, lambda: alter(draft, job, drawing, self._source)
            ),
            self.file,
            self.drawing,
            self.draft,
        )

    @cached_property
    def pattern(self) -> Found[Pattern]:
        """The panels that everything is made from."""
        found = self.altered
        pattern = None if found.value is None else found.value.pattern
        return Found(pattern, self.draft.error or found.error)

    @cached_property
    def pages(self) -> list[tuple[int, Drawing]]:
        """The pages of a PDF by number, where it is to be said which is the pattern."""
        file = self.file.value
        if file is None:
            return []
        found = _attempt(
            lambda job: self.reckoner.drawings.recall(
                ("pages", self.drawing_key), lambda: pages_of(job.pattern.file)
            ),
            self.file,
        )
        return found.value or []

    @cached_property
    def choices(self) -> tuple[OpenChoice, ...]:
        """What only the maker can decide of the drawing, each with all that may be answered."""
        file, pattern = self.file.value, self.pattern.value
        unread = self.drawing.error
        if unread is not None and unread.key == "page" and self.pages:
            return (page_choice(self.pages, unread.problem),)
        if file is None or self.scaled.value is None:
            return ()
        units = file.pattern.units
        if pattern is None:
            return self._survey(file, units).choices if self.pattern.error is not None else ()
        codes = {remark.code: remark for remark in pattern.ledger}
        found = list(self._survey(file, units).choices) if codes.keys() & SETTLED else []
        for code in HALVES_DOUBTS & codes.keys():
            found.append(halves_choice(pattern, codes[code].words, units))
        drafted = file.pattern.drafted_waist
        check = self.check.value
        if drafted and check is not None and any(fault.code == "scale" for fault in check.faults):
            found += drafted_choices(pattern, drafted, units)
        return tuple(found)

    def _survey(self, file: JobFile, units: Units) -> Survey:
        drawing = self.scaled.value
        assert drawing is not None  # as `choices` has seen to
        key = ("survey", self.pattern_key, units)
        return self.reckoner.patterns.recall(
            key, lambda: survey(drawing, reading_of(file), units=units)
        )

    @cached_property
    def check(self) -> Found[Check]:
        """What is to be said of the pattern as it was read."""
        # Slips are told beside their fields.
        job = self.job.value
        also = () if job is None else job.stack_doubts
        return _attempt(
            lambda file, pattern: check_pattern(pattern, file, also=also), self.file, self.pattern
        )

    @cached_property
    def job(self) -> Found[Job]:
        """The job with its pattern."""
        return _attempt(
            lambda job, pattern: resolve(job, source=self._source, pattern=pattern),
            self.file,
            self.pattern,
        )

    @cached_property
    def turn_key(self) -> Hashable:
        """Everything that decides how the panels turn round the body."""
        job = self.job.value
        if job is None:
            return None
        inner = job.stack.fabrics[0].build if job.file.body.model == "former" else 0.0
        body = job.file.body
        measured = None if body.file is None else stamp_of(body.file)
        gap = job.gap, repr(job.file.pattern.gap_at)
        # Of other bodies classes change the colours of panels, and nothing else.
        asked = job.classes if isinstance(job.body, ClassModel) else ()
        return self.pattern_key, asked, gap, repr(body), measured, inner

    @cached_property
    def turn(self) -> Found[TurnOfCloth]:
        """How each panel turns and tilts."""

        def reckon(job: Job) -> TurnOfCloth:
            edges = self.reckoner.profiles.recall(self.pattern_key, lambda: profile(job.pattern))
            return turn_of_cloth(job.pattern, job.body, job.classes, gap=job.opening, edges=edges)

        memory = self.reckoner.turns
        return _attempt(
            lambda job: memory.recall(self.turn_key, lambda: reckon(job)).with_classes(job.classes),
            self.job,
        )

    @cached_property
    def shifted(self) -> Found[Shifted]:
        """All layers, once every fabric has its thickness."""
        if self.unmeasured:
            return Found()
        return _attempt(lambda job, turn: shift_job(job, turn), self.job, self.turn)

    @cached_property
    def facts(self) -> Found[FitFacts]:
        """The fit sheet's facts without the layout of the cloth, which takes seconds."""
        return _attempt(
            lambda job, shifted: fit_job(job, shifted, lay_cloth=False), self.job, self.shifted
        )

    @cached_property
    def cloth(self) -> Found[FabricNeeds]:
        """The cloth it needs at most."""
        return _attempt(cloth_in_rows, self.job, self.shifted)


def _attempt(stage: Callable[..., T], *needs: Found[Any]) -> Found[T]:
    if any(need.value is None for need in needs):
        return Found()
    try:
        return Found(stage(*(need.value for need in needs)))
    except PanelshiftError as error:
        return Found(error=error)


def shown_at(state: State, path: KeyPath, units: str) -> str:
    """Return the length at a path of a job as it stands in a field, nothing if there is none."""
    value = value_at(state.data.value or {}, path)
    return "" if value is None else shown_length(value, units)
