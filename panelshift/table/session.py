"""One job being worked on: edits in, states out; what is accepted is on the disk."""

from __future__ import annotations

import os
import threading
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final

from ..errors import JobError, PanelshiftError
from ..files import safe_name, write_whole
from ..pattern.drawing import Drawing
from .accepting import StaleError, proposal, refuse_stale, refuse_worse
from .altering_edits import redrafted
from .edits import Form
from .intake import RefusedError, Taken, put_sample, take_in
from .paper_desk import PaperDesk
from .stages import Reckoner, State
from .toml_changes import KeyPath, changed, put
from .workspace import History, Work, Workspace, free_place, jobs_in

_SWATCHES: Final[KeyPath] = ("stack", "swatches")


@dataclass(frozen=True, eq=False)
class Attempt:
    """A dropped file that was not taken: why, and its drawing if it has one."""

    name: str
    error: PanelshiftError
    drawing: Drawing | None = None


@dataclass(frozen=True)
class Saving:
    """Whether all that was accepted is on the disk, in words."""

    words: str
    sound: bool = True
    gone: bool = False


class Session:
    """The work in one folder.

    *folder*: where a new job begins. *job*: job file to open; none to begin with an empty table.

    Raises
    ------
    JobError
        If the job file cannot be read.
    """

    def __init__(self, folder: Path, job: Path | None = None) -> None:
        self.folder = folder
        self.reckoner = Reckoner()
        self.lock = threading.RLock()
        self.attempt: Attempt | None = None
        self.news = ""
        """What happened outside this page, to be told once."""
        self.trouble: PanelshiftError | None = None
        """Why the job file cannot be read at all; nothing is changed while it cannot."""
        self._work: Work | None = None
        self._history = History()
        self._stamp: object = None
        self.aside: State | None = None
        """What was kept as A, to be compared with: reckoned then, and on no disk."""
        self.workspace: Workspace | None = None
        self._paper = PaperDesk(folder)
        if job is not None:
            self.open(job)

    # -- reading --------------------------------------------------------------------

    def open(self, job: Path) -> None:
        """Open a job file.

        Raises `JobError` if it cannot be read.
        """
        workspace = Workspace(job)
        with self.lock:
            stamp = workspace.stamp()
            work = workspace.read()
            self.workspace, self._work, self._stamp = workspace, work, stamp
            self._history = workspace.history(work)
            self.attempt = self.trouble = None
            self.folder = workspace.folder

    def jobs(self) -> list[str]:
        """Job files in the folder, to go on with, without the one on the table."""
        own = "" if self.workspace is None else self.workspace.job.name
        return [name for name in jobs_in(self.folder) if name != own]

    def open_named(self, name: str) -> None:
        """Open one of `jobs`; a name that is not among them is refused.

        Raises `JobError` if there is none of that name, or it cannot be read.
        """
        if name not in self.jobs():
            raise JobError(
                f"there is no job file called {name!r:.80} here",
                remedy="Choose one of those listed.",
            )
        self.open(self.folder / name)

    def clear(self) -> None:
        """Take the job off the table; its files stay as they are."""
        with self.lock:
            self.workspace = self._work = self.attempt = self.trouble = None
            self._history, self._stamp = History(), None

    def begin_sample(self) -> str:
        """Put copies of the sample into the folder and go on with them; returns the job's name.

        Raises `JobError` if the sample was not installed.
        """
        path = put_sample(self.folder)
        self.open(path)
        return path.name

    def save_as(self, name: str) -> str:
        """Go on with a copy of the job under another name, and return that name.

        Raises `JobError` if the name is empty or taken.
        """
        with self.lock:
            state = self._open_state()
            stem = safe_name(name.strip().removesuffix(".toml"))
            path = self.folder / f"{stem}.toml"
            if not name.strip() or os.path.lexists(path):
                raise JobError(
                    f"{path.name} is there already" if name.strip() else "the copy has no name",
                    remedy="Give it another name.",
                )
            work = state.work
            if work.readings is not None:
                beside = free_place(self.folder, f"{stem}-swatches.csv").name
                text = changed(work.text, lambda data: put(data, _SWATCHES, beside))
                work = replace(work, job=text.encode())
            workspace = Workspace(path)
            workspace.write(work, History())
            self.open(path)
            return path.name

    def write_again(self) -> None:
        """Write a job file that is gone from its folder.

        Raises `PanelshiftError` if it cannot be written, or there is none.
        """
        with self.lock:
            if self._work is None or not self._is_gone:
                raise JobError("there is nothing to write", remedy="Go on with the work.")
            self._write(self._work, self._history)

    def state(self) -> State | None:
        """The state now, read again if the job file changed on the disk; None if no job is open."""
        with self.lock:
            self._refresh()
            if self._work is None or self.workspace is None:
                return None
            return self.reckoner.state(self._work, self.workspace.job)

    @property
    def paper(self) -> PaperDesk:
        """The draft on paper that is being traced in the folder."""
        with self.lock:
            if self._paper.folder != self.folder:
                self._paper.stop()
                self._paper = PaperDesk(self.folder)
            return self._paper

    def use_paper(self) -> str:
        """Let the approved tracing be the draft, as a drawing that is dropped, and say so.

        Raises `JobError` if it is not to be used yet.
        """
        words = self.take_pattern("paper-draft.svg", self.paper.drawing())
        if words:
            state = self.state()
            file = None if state is None else state.file.value
            self.paper.used_as("" if file is None else file.pattern.file.name)
        return words or "The drawing of the photos was not taken."

    def steps(self) -> tuple[str, str]:
        """What can be undone and what redone, in words; empty for nothing."""
        with self.lock:
            back, forward = self._history.back, self._history.forward
        return back[-1].words if back else "", forward[-1].words if forward else ""

    @property
    def kept(self) -> Saving:
        """Whether the disk holds what the page shows."""
        if self.workspace is None or self._work is None:
            return Saving("")
        name = self.workspace.job.name
        if self._is_gone:
            return Saving(f"Not saved: {name} is gone from its folder", sound=False, gone=True)
        if self.trouble is not None:
            return Saving(f"Not saved: {name} cannot be read", sound=False)
        return Saving("Saved")

    def mark(self) -> str:
        """Changes whenever the page should be drawn anew: after edits here, there or elsewhere."""
        state = self.state()
        attempt = "" if self.attempt is None else str(id(self.attempt))
        paper = self.paper.mark
        if state is None:
            return f"empty{attempt}{paper}"
        outside = f"{hash(state.outside) & 0xFFFFFFFF:08x}"
        gone = "-gone" if self._is_gone else ""
        kept = "" if self.aside is None else f"-a{self.aside.work.revision[:6]}"
        return f"{state.work.revision}{attempt}-{outside}{gone}{kept}{paper}"

    @property
    def _is_gone(self) -> bool:
        return isinstance(self._stamp, tuple) and self._stamp[0] is None

    def _refresh(self) -> None:
        """Read the job file again if somebody else wrote it."""
        if self.workspace is None or self._work is None:
            return
        stamp = self.workspace.stamp()
        if stamp == self._stamp:
            return
        if stamp[0] is None:
            self.news = (
                "The job file is gone from its folder: somebody deleted or moved it. What you see "
                "here is on no disk until it is written again, which the next change does as well."
            )
            self._stamp = stamp
            return
        self._stamp = stamp
        try:
            work = self.workspace.read()
        except JobError as error:
            self.trouble = error
            return
        self.trouble = None
        if work.revision != self._work.revision:
            self._history = self._history.after(self._work, "what an editor changed")
            self._work = work
            self.news = "The job file was changed outside this page and has been read again."

    # -- changing -------------------------------------------------------------------

    def edit(self, kind: str, form: Form) -> str:
        """Carry out an edit, and return what it did in words.

        *kind*: see `panelshift.table.edits`; or "text", "reading" and "unread". *form*: its fields,
        and the ``revision`` it was made on.

        Raises `StaleError` if something else changed the same place meanwhile. Raises
        `PanelshiftError` if it cannot be accepted: the work is then as it was.
        """
        with self.lock:
            state = self._open_state()
            found = proposal(kind, form, state)
            refuse_stale(form.get("revision", ""), found, state, self._history)
            if found.work.revision != state.work.revision:
                refuse_worse(self.reckoner.state(found.work, state.path), state, found.edit)
                self._accept(found.work, found.words)
            return found.words

    def undo(self, revision: str) -> str:
        """Take back the last change, and return what it was.

        Raises `JobError` if there is nothing to undo, or the page that asks is not up to date.
        """
        return self._step("undo", revision)

    def redo(self, revision: str) -> str:
        """Do again what was taken back; see `undo`."""
        return self._step("redo", revision)

    def take_pattern(self, name: str, raw: bytes) -> str:
        """Take in a dropped pattern: keep it beside the job, or begin a job with it.

        *name*: as the browser says it; never used as a path.

        Returns: what was done, in words; `attempt` says why it was not, if so.
        """
        state = self.state()
        try:
            if self.trouble is not None:
                raise RefusedError(self.trouble)
            # Not under the lock: reading a large drawing takes a while.
            taken = take_in(name, raw, self.folder, state)
        except RefusedError as refused:
            with self.lock:
                self.attempt = Attempt(name, refused.error, refused.drawing)
            return ""
        with self.lock:
            now = self.state()
            if (now and now.work.revision) != (state and state.work.revision):
                raise StaleError(
                    "something else was changed while the pattern was read",
                    remedy="Drop the pattern again.",
                )
            self._keep(taken, state)
            self.attempt = None
        return taken.words

    def _keep(self, taken: Taken, state: State | None) -> None:
        # The pattern first: a job never names a file that is not there.
        write_whole({taken.pattern: taken.content})
        if state is None:
            self.workspace = Workspace(free_place(self.folder, taken.job_name))
            self._work, self._history = Work(taken.job), History()
            self.workspace.write(self._work, self._history)
            self._stamp = self.workspace.stamp()
        else:
            work = replace(state.work, job=taken.job)
            if work.revision != state.work.revision:
                self._accept(work, "the pattern")

    def write_draft(self, called: str, revision: str) -> str:
        """Write the draft with the alterations made, let the job go on from it, and say so.

        *called*: see `redrafted`.

        Raises `PanelshiftError` as that, or if the page that asks is not up to date.
        """
        with self.lock:
            state = self._state_at(revision, "written")
            with state.lock:
                taken = redrafted(state, called)
            self._keep(taken, state)
            return taken.words

    def keep_aside(self) -> None:
        """Keep what is set now as A.

        Raises `JobError` if it cannot be reckoned yet.
        """
        state = self._open_state()
        with state.lock:
            # Reckoned now: files that it rests on may change.
            known = state.facts.value is not None
        if not known:
            raise JobError(
                "there is nothing to compare yet", remedy="First mend what is in the way."
            )
        self.aside = state

    def back_to_aside(self, revision: str) -> None:
        """Set everything as it was kept as A; that can be undone like any change.

        Raises `JobError` if nothing of this job was kept, or the page that asks is not up to date.
        """
        with self.lock:
            state = self._state_at(revision, "set back")
            if self.aside is None or self.aside.path != state.path:
                raise JobError(
                    "no A was kept of this job", remedy="Keep one, then change something."
                )
            if self.aside.work != state.work:
                self._accept(self.aside.work, "back to A")

    def _step(self, way: str, revision: str) -> str:
        with self.lock:
            state = self._state_at(revision, "undone or redone")
            history = self._history
            step = (history.undone if way == "undo" else history.redone)(state.work)
            if step is None:
                raise JobError(f"there is nothing to {way}", remedy="Go on with the work.")
            work, words, history = step
            self._write(work, history)
            return words

    def _state_at(self, revision: str, done: str) -> State:
        """The state, for what is done to the whole of it as a page has shown it."""
        state = self._open_state()
        if revision != state.work.revision:
            raise StaleError(
                f"something else was changed meanwhile, so nothing was {done}",
                remedy="Look at the page as it is now, then try again.",
            )
        return state

    def _open_state(self) -> State:
        state = self.state()
        if state is None:
            raise JobError("no pattern is on the table yet", remedy="Begin with step 1.")
        if self.trouble is not None:
            raise self.trouble
        return state

    def _accept(self, work: Work, words: str) -> None:
        assert self._work is not None
        self._write(work, self._history.after(self._work, words))

    def _write(self, work: Work, history: History) -> None:
        assert self.workspace is not None
        self.workspace.write(work, history)
        self._work, self._history = work, history
        self._stamp = self.workspace.stamp()
        self.attempt = None
