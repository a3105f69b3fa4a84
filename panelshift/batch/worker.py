"""What a worker does: carry out a few jobs, each by itself but for what they share."""

from __future__ import annotations

import contextlib
import os
import signal
import threading
import time
import traceback
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from multiprocessing import parent_process
from pathlib import Path

from ..body.turn import TurnOfCloth, turn_of_cloth
from ..errors import JobError, PanelshiftError
from ..files import write_whole
from ..files.outputs import (
    end_pending,
    holds,
    remove_left_behind,
    remove_stale,
    sha256,
    write_outputs,
)
from ..job import Job, JobFile, resolve
from ..job.result import shift_job
from ..pattern.pattern import Pattern
from ..pattern.profile import Profile, profile
from .jobs import Outcome, SettledJob
from .products import Made, Making, make, preload
from .record import RECORD_NAME, Entry, Inputs, Record, record_of


@dataclass
class Kept:
    """The pattern read last, its profile, and the turn reckoned last from them.

    Each is known by a hash of all that decides it (see `record.Inputs`); a job with another hash
    gets nothing that was kept.
    """

    _drawn: str = ""
    _pattern: Pattern | None = None
    _edges: Profile | None = None
    _turned: str = ""
    _turn: TurnOfCloth | None = None

    def pattern(self, drawn: str) -> Pattern | None:
        """The pattern, if it was read from just the same."""
        return self._pattern if drawn == self._drawn else None

    def keep(self, drawn: str, pattern: Pattern) -> None:
        """Keep a pattern whose file is known not to have changed while it was read."""
        if drawn != self._drawn:
            self._drawn, self._pattern = drawn, pattern
            self._edges, self._turned, self._turn = None, "", None

    def turn(self, turned: str, job: Job) -> TurnOfCloth:
        """How the job's panels turn, as kept or reckoned anew."""
        if job.pattern is not self._pattern:
            return turn_of_cloth(job.pattern, job.body, job.classes, gap=job.opening)
        if self._turn is None or turned != self._turned:
            if self._edges is None:
                self._edges = profile(job.pattern)
            self._turn = turn_of_cloth(
                job.pattern, job.body, job.classes, gap=job.opening, edges=self._edges
            )
            self._turned = turned
        return self._turn


_kept = threading.local()
"""A `Kept` for each thread: an executor of threads carries out several chunks at once."""


@dataclass(frozen=True)
class WorkOrder:
    """What is to be done with every job of a batch.

    *resume*: whether what an earlier run has done counts. *overwrite*: whether files may be
    replaced that panelshift did not write, or that were edited since. *base*: working directory of
    whoever started the batch: relative paths start there, wherever the worker itself may be. *run*:
    different in every run. Engines that keep the results of equal tasks would otherwise answer from
    memory, without a look at the files.
    """

    makings: tuple[Making, ...]
    resume: bool
    overwrite: bool
    base: str
    run: str


def carry_out(jobs: Sequence[SettledJob], order: WorkOrder) -> list[Outcome]:
    """Carry out some jobs, one after the other; what fails is in its outcome.

    Examples
    --------
    >>> from panelshift.batch.jobs import BatchJob
    >>> from panelshift.batch.products import makings
    >>> order = WorkOrder(makings(["cut"]), True, False, os.getcwd(), "")
    >>> [outcome] = carry_out([SettledJob(BatchJob("none", "none.toml"), "out")], order)
    >>> outcome.status
    'failed'
    """
    # Messages then show paths as they were given.
    base = Path() if os.getcwd() == order.base else Path(order.base)
    outcomes = []
    for item in jobs:
        start = time.perf_counter()
        try:
            outcome = _carry_out(item, order, base)
        except PanelshiftError as error:
            outcome = Outcome(item.job.name, "failed", error=str(error))
        except Exception as error:
            # Whatever it is, the other jobs are none the worse for it.
            outcome = Outcome(item.job.name, "failed", error=_unexpected(error))
        outcomes.append(replace(outcome, seconds=time.perf_counter() - start))
    return outcomes


def _carry_out(item: SettledJob, order: WorkOrder, base: Path) -> Outcome:
    name, file = item.job.name, item.job.load(base)
    folder, inputs = base / item.out, Inputs.of(file)
    record = record_of(folder)
    if record.name != name:
        # Somebody else's files: they are neither up to date for this job nor to be removed.
        record = Record(name)
    end_pending(folder)
    remove_left_behind(folder, [RECORD_NAME, *_names(record.entries)])
    entries: dict[str, Entry] = {}
    missing = []
    for making in order.makings:
        earlier = record.entries.get(making.key)
        up_to_date = (
            order.resume
            and earlier is not None
            and earlier.inputs == inputs.digest(making)
            and holds(folder, earlier.files)
        )
        if earlier is not None and up_to_date:
            entries[making.key] = earlier
        else:
            missing.append(making)
    if missing:
        entries |= _make(item, file, inputs, missing, folder, record, order)
    found = [entries[making.key] for making in order.makings]
    return Outcome(
        name,
        "done" if missing else "unchanged",
        {os.path.join(item.out, k): v for entry in found for k, v in entry.files.items()},
        # Cutting and printing may warn of the same panel.
        warnings=tuple(dict.fromkeys(words for entry in found for words in entry.warnings)),
    )


def _make(
    item: SettledJob,
    file: JobFile,
    inputs: Inputs,
    missing: Sequence[Making],
    folder: Path,
    record: Record,
    order: WorkOrder,
) -> dict[str, Entry]:
    """Make products and write them; the record comes last, so that it never promises too much."""
    kept = _own_kept()
    drawn = inputs.drawn(file)
    job = resolve(file, source=item.job.source, pattern=kept.pattern(drawn))
    shifted = shift_job(job, kept.turn(inputs.turned(drawn), job))
    made = {making: make(job, making, shifted) for making in missing}
    if Inputs.of(file) != inputs:
        raise JobError(
            "its files were changed while it was carried out",
            remedy="Run the batch again.",
            source=item.job.source,
        )
    kept.keep(drawn, job.pattern)
    contents = {
        folder / name: data for result in made.values() for name, data in result.files.items()
    }
    write_outputs(contents, overwrite=order.overwrite, inputs=file.sources())
    entries = {}
    for making, result in made.items():
        entry = _entry(result, inputs.digest(making))
        if (earlier := record.entries.get(making.key)) is not None:
            remove_stale(folder, earlier.files, entry.files)
        entries[making.key] = entry
        record = record.with_entry(item.job.name, making.key, entry)
    write_whole({folder / RECORD_NAME: record.to_bytes()})
    return entries


def _own_kept() -> Kept:
    if not hasattr(_kept, "own"):
        _kept.own = Kept()
    own: Kept = _kept.own
    return own


def _entry(made: Made, digest: str) -> Entry:
    return Entry(digest, {name: sha256(data) for name, data in made.files.items()}, made.warnings)


def _names(entries: Mapping[str, Entry]) -> list[str]:
    return [name for entry in entries.values() for name in entry.files]


def _unexpected(error: Exception) -> str:
    frames = traceback.extract_tb(error.__traceback__)
    place = (
        f" ({os.path.basename(frames[-1].filename)}, line {frames[-1].lineno})" if frames else ""
    )
    return (
        f"unexpected {type(error).__name__}: {error}{place}\n"
        "  What to do: This is a fault of panelshift, not of the job; please report it."
    )


def start_process(makings: Sequence[Making]) -> None:
    """Make a process of the local pool ready: imports first, so that no job pays for them."""
    # Ctrl-C goes to every process of the terminal; the one that started the batch ends it.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    threading.Thread(target=_end_with_parent, daemon=True).start()
    # What cannot be imported is told by the job that needs it.
    with contextlib.suppress(Exception):
        for making in makings:
            preload(making)


def _end_with_parent() -> None:
    """Do not go on waiting for work when the process that would give it was killed."""
    parent = parent_process()
    if parent is not None:
        parent.join()
        # Files are only ever renamed into place whole, so this is safe at any moment.
        os._exit(1)
