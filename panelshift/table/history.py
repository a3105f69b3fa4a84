"""What can be undone and redone: whole states of the work, bounded, kept beside the job file."""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass
from functools import cached_property
from typing import Any, Final

MOST_STEPS: Final = 60
"""Steps kept in each direction."""

MOST_CHARACTERS: Final = 1_000_000
"""Text that all steps hold together; the oldest go first."""


@dataclass(frozen=True)
class Work:
    """All that the maker decided: a job file's bytes, and the readings of swatches beside it.

    Parameters
    ----------
    job : bytes
    readings : str or None
        Text of the job's own swatch file; None if it has none that this page may write.
    """

    job: bytes
    readings: str | None = None

    @cached_property
    def text(self) -> str:
        """The job file as text; what is no UTF-8 shows as a question mark."""
        return self.job.decode("utf-8-sig", errors="replace")

    @cached_property
    def revision(self) -> str:
        """Short name of this very state: the same content has the same name anywhere."""
        whole = self.job + b"\0" + (self.readings or "").encode("utf-8", "surrogateescape")
        return hashlib.sha256(whole).hexdigest()[:16]


@dataclass(frozen=True)
class Step:
    """A state to go back or forward to, and what the step between did."""

    work: Work
    words: str


@dataclass(frozen=True)
class History:
    """Steps back and forward, the nearest last.

    Parameters
    ----------
    back, forward : tuple of Step
    """

    back: tuple[Step, ...] = ()
    forward: tuple[Step, ...] = ()

    def after(self, before: Work, words: str) -> History:
        """History after a change that began at `before`; nothing can be redone any more."""
        return History(_bounded((*self.back, Step(before, words))))

    def undone(self, current: Work) -> tuple[Work, str, History] | None:
        """Go one step back: the state, what was undone, and the history then; None if at the end.

        Parameters
        ----------
        current : Work
            The state that is left.
        """
        if not self.back:
            return None
        step = self.back[-1]
        forward = _bounded((*self.forward, Step(current, step.words)))
        return step.work, step.words, History(self.back[:-1], forward)

    def redone(self, current: Work) -> tuple[Work, str, History] | None:
        """Go one step forward, as `undone` goes back."""
        if not self.forward:
            return None
        step = self.forward[-1]
        back = _bounded((*self.back, Step(current, step.words)))
        return step.work, step.words, History(back, self.forward[:-1])

    def find(self, revision: str) -> Work | None:
        """A state that was there before, by its revision."""
        for step in (*self.back[::-1], *self.forward[::-1]):
            if step.work.revision == revision:
                return step.work
        return None


def _bounded(steps: tuple[Step, ...]) -> tuple[Step, ...]:
    kept: list[Step] = []
    room = MOST_CHARACTERS
    for step in reversed(steps[-MOST_STEPS:]):
        room -= len(step.work.job) + len(step.work.readings or "")
        if room < 0:
            break
        kept.append(step)
    return tuple(reversed(kept))


def history_bytes(history: History, current: Work) -> bytes:
    """Return a history as the file that keeps it."""
    data = {
        "about": "panelshift table: what can be undone; it may be deleted",
        "current": current.revision,
        "back": [_plain(step) for step in history.back],
        "forward": [_plain(step) for step in history.forward],
    }
    return (json.dumps(data) + "\n").encode()


def read_history(raw: bytes, current: Work) -> History:
    """Return the history that a file keeps; a damaged one is empty.

    Parameters
    ----------
    raw : bytes
    current : Work
        The state now. If the file was kept for another one, nothing can be redone.
    """
    try:
        data = json.loads(raw)
        back = tuple(_step(item) for item in data["back"])
        forward = tuple(_step(item) for item in data["forward"])
        known = data["current"] == current.revision
    except (ValueError, TypeError, KeyError, AttributeError, RecursionError):
        return History()
    return History(_bounded(back), _bounded(forward) if known else ())


def _plain(step: Step) -> dict[str, Any]:
    job = step.work.job.decode("utf-8", "surrogateescape")
    return {"words": step.words, "job": job, "readings": step.work.readings}


def _step(item: Any) -> Step:
    readings = item["readings"]
    job = str(item["job"]).encode("utf-8", "surrogateescape")
    return Step(Work(job, None if readings is None else str(readings)), str(item["words"]))
