"""What a worker does: carry out a few jobs, each by itself but for what they share."""

from __future__ import annotations

import contextlib
import os
import signal
import threading
import time
import traceback
from collections import OrderedDict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from multiprocessing import parent_process
from pathlib import Path
from typing import Final

from ..body.turn import TurnOfCloth, turn_of_cloth
from ..errors import JobError, PanelshiftError
from ..files.outputs import holds, recover, sha256, write_outputs
from ..job import Job, JobFile, resolve
from ..job.result import shift_job
from ..pattern.edge_pieces import profile
from ..pattern.pattern import Pattern
from ..pattern.profile import Profile
from .index import stamp_of
from .jobs import BatchJob, Outcome, SettledJob
from .products import Made, Making, make, preload
from .record import RECORD_NAME, Entry, Inputs, Record, record_of

_MOST_KEPT: Final = 16
"""Patterns kept by a worker: rows of a table rarely take turns with more drawings."""


@dataclass
class _Known:
    """A pattern as it was read, its profile, and the turn reckoned last from them."""

    pattern: Pattern
    edges: Profile | None = None
    turned: str = ""
    turn: TurnOfCloth | None = None


class KeptPatterns:
    """The patterns used last, with what was reckoned from them.

    Each is known by a hash of all that decides it (see `record.Inputs`); a job with another hash
    gets nothing that was kept.
    """

    def __init__(self) -> None:
        self._known: OrderedDict[str, _Known] = OrderedDict()

    def pattern(self, drawn: str) -> Pattern | None:
        """The pattern, if it was read from just the same."""
        known = self._known.get(drawn)
        return None if known is None else known.pattern

    def keep(self, drawn: str, pattern: Pattern) -> None:
        """Keep a pattern whose file is known not to have changed while it was read."""
        if drawn not in self._known:
            self._known[drawn] = _Known(pattern)
        self._known.move_to_end(drawn)
        while len(self._known) > _MOST_KEPT:
            self._known.popitem(last=False)

    def turn(self, drawn: str, turned: str, job: Job) -> TurnOfCloth:
        """How the job's panels turn, as kept or reckoned anew."""
        known = self._known.get(drawn)
        if known is None or job.pattern is not known.pattern:
            return turn_of_cloth(job.pattern, job.body, job.classes, gap=job.opening)
        if known.turn is None or turned != known.turned:
            if known.edges is None:
                known.edges = profile(job.pattern)
            known.turn = turn_of_cloth(
                job.pattern, job.body, job.classes, gap=job.opening, edges=known.edges
            )
            known.turned = turned
        return known.turn


_kept = threading.local()
"""A `KeptPatterns` for each thread: an executor of threads carries out several chunks at once."""


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
    sources = [os.path.join(order.base, path) for path in _sources(item.job, file)]
    before = [(path, stamp_of([path])) for path in sources]
    folder, inputs = base / item.out, Inputs.of(file)
    recover(folder, [RECORD_NAME])
    record = record_of(folder)
    if record.name != name:
        # Somebody else's files: they are not up to date for this job.
        record = Record(name)
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
    files = {os.path.join(item.out, k): v for entry in found for k, v in entry.files.items()}
    whole = all(stamp_of([path]) == seen for path, seen in before)
    own = [*(str(base / path) for path in files), str(folder / RECORD_NAME)]
    return Outcome(
        name,
        "done" if missing else "unchanged",
        files,
        # Cutting and printing may warn of the same panel.
        warnings=tuple(dict.fromkeys(words for entry in found for words in entry.warnings)),
        sources=before,
        # What was touched meanwhile is looked at the next time.
        stamp=stamp_of(own) if whole else "",
    )


def _sources(job: BatchJob, file: JobFile) -> list[str]:
    """Every file that a job is made from."""
    own = [] if isinstance(job.job, Mapping) else [os.fspath(job.job)]
    return own + [str(path) for path in file.sources()]


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
    shifted = shift_job(job, kept.turn(drawn, inputs.turned(drawn), job))
    made = {making: make(job, making, shifted) for making in missing}
    if Inputs.of(file) != inputs:
        raise JobError(
            "its files were changed while it was carried out",
            remedy="Run the batch again.",
            source=item.job.source,
        )
    kept.keep(drawn, job.pattern)
    contents, made_by, entries = {}, {}, {}
    for making, result in made.items():
        for file_name, data in result.files.items():
            contents[folder / file_name] = data
            made_by[folder / file_name] = making.maker
        entry = entries[making.key] = _entry(result, inputs.digest(making))
        record = record.with_entry(item.job.name, making.key, entry)
    write_outputs(
        contents,
        overwrite=order.overwrite,
        inputs=file.sources(),
        made_by=made_by,
        records={folder / RECORD_NAME: record.to_bytes()},
    )
    return entries


def _own_kept() -> KeptPatterns:
    if not hasattr(_kept, "own"):
        _kept.own = KeptPatterns()
    own: KeptPatterns = _kept.own
    return own


def _entry(made: Made, digest: str) -> Entry:
    return Entry(digest, {name: sha256(data) for name, data in made.files.items()}, made.warnings)


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
