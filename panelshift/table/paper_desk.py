"""Tracing a draft on paper as the page does it: what is asked for, in a process of its own.

It takes half a minute and 700 MB, and reads files from anywhere: the page goes on meanwhile, it can
be stopped, and what breaks it breaks nothing else.
"""

from __future__ import annotations

import multiprocessing
import signal
import threading
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from multiprocessing.connection import Connection
from multiprocessing.context import SpawnProcess
from pathlib import Path
from typing import Any, Final

from ..errors import JobError, PhotoError
from ..files import file_bytes
from ..sources.paper.rectified import opencv
from ..sources.paper.spots import Place, Pointed
from ..units import to_mm
from .paper_work import (
    DRAWING,
    HOME,
    PICTURE,
    PaperWish,
    changed_pointed,
    read_outcome,
    read_wish,
    tidy,
    with_photos,
    write_wish,
)

_MOST_PICTURE: Final = 200_000_000
_LARGEST_DRAWING: Final = 20_000_000


class PaperDesk:
    """The photos of one folder's draft, and what is done with them."""

    def __init__(self, folder: Path) -> None:
        self.folder, self.home = folder, folder / HOME
        self.lock = threading.RLock()
        self.wish = read_wish(self.home)
        self.run: PaperRun | None = None
        self._outcome = read_outcome(self.home)

    @property
    def running(self) -> bool:
        """Whether it is being traced."""
        self._settle()
        return self.run is not None

    @property
    def outcome(self) -> dict[str, Any] | None:
        """What came of these photos, maybe before the last thing was pointed at."""
        self._settle()
        found = self._outcome
        return found if found is not None and found["seen_key"] == self.wish.seen_key else None

    @property
    def fresh(self) -> bool:
        """Whether the outcome is of everything that the maker has said."""
        outcome = self.outcome
        return outcome is not None and outcome["key"] == self.wish.key and not self.running

    @property
    def mark(self) -> str:
        """Changes whenever the page should show something else."""
        done = "" if self.outcome is None else self.outcome["key"]
        run = "-runs" if self.running else ""
        approved = hash((self.wish.approved, self.wish.used)) & 0xFFFFFF
        return f"{self.wish.key}{done}{approved:x}{run}" if self.wish.photos else ""

    def _settle(self) -> None:
        with self.lock:
            if self.run is not None and self.run.ended:
                broken = self.run.broken
                self.run = None
                self._outcome = read_outcome(self.home)
                if broken and not self.fresh:
                    self._outcome = {
                        "key": self.wish.key,
                        "seen_key": self.wish.seen_key,
                        "refused": _BROKEN,
                    }

    # -- what the maker does ----------------------------------------------------------

    def add(self, given: Sequence[tuple[str, bytes]]) -> str:
        """Take in photos; returns what was done.

        Raises `PhotoError` if there is a picture among them that cannot be read, or the package for
        them is missing, and `OutputError` if they cannot be kept.
        """
        opencv()
        with self.lock:
            wish, new = with_photos(self.wish, given)
            if not new:
                return "These photos are here already."
            self.stop()
            self._put(wish, new)
            return f"{len(new)} photo{'s' * (len(new) != 1)} taken in: now say what you measured."

    def act(self, kind: str, form: Mapping[str, str]) -> str:
        """Do what a control of the page asks for; returns what was done.

        Raises `PanelshiftError` if it cannot be; then all is as it was.
        """
        with self.lock:
            return ACTS[kind](self, form)

    def drawing(self) -> bytes:
        """The drawing, once each panel is approved and nothing is left to be mended.

        Raises `JobError` if it is not to be used yet.
        """
        outcome = self.outcome
        if not self.fresh or outcome is None or "panels" not in outcome:
            raise JobError("the tracing is not done", remedy="Wait until it is, then look at it.")
        waits = [
            number
            for number, panel in enumerate(outcome["panels"], start=1)
            if panel["mark"] not in self.wish.approved
        ]
        if waits or not outcome["panels"] or any(spot["remedy"] for spot in outcome["spots"]):
            raise JobError(
                "something of the tracing is open",
                remedy="Mend what is in the way, and approve each panel or leave it out.",
            )
        return file_bytes(self.home / DRAWING, _LARGEST_DRAWING)

    def picture(self) -> bytes | None:
        """PNG of the tracing over the paper, None if there is none."""
        try:
            return file_bytes(self.home / PICTURE, _MOST_PICTURE)
        except OSError:
            return None

    def used_as(self, name: str) -> None:
        """Keep which pattern the drawing became."""
        with self.lock:
            self._put(replace(self.wish, used=name))

    def stop(self) -> str:
        """End what is running; what is on the disk stays as it is."""
        with self.lock:
            run, self.run = self.run, None
        if run is not None:
            run.stop()
        return "Stopped."

    def _trace(self, form: Mapping[str, str]) -> str:
        lengths = tuple(text for text in map(str.strip, form.get("length", "").split("\n")) if text)
        scans, scaled = form.get("scans") == "yes", form.get("scaled") == "yes"
        wish = replace(self.wish, lengths=lengths, scans=scans, scaled=scaled)
        if wish.seen_key != self.wish.seen_key:
            # Places on the picture are others then.
            wish = replace(wish, pointed=Pointed(), approved=(), used="")
        # It needs SciPy, which the page starts without.
        from ..sources.paper.doubts import parse_measured, refuse_unmeasured

        # What was typed stays, even if it cannot be read.
        self.stop()
        self._put(wish)
        refuse_unmeasured([parse_measured(text) for text in lengths])
        if not wish.scans and len(wish.photos) < 2:
            raise PhotoError(
                "one photo does not show the lens",
                remedy="Drop another, tilted by about a quarter of a right angle; or say that it "
                "is a scan.",
            )
        self._start()
        return "Tracing has begun."

    def _remove(self, form: Mapping[str, str]) -> str:
        name = form.get("name", "")
        photos = tuple(photo for photo in self.wish.photos if photo[0] != name)
        self.stop()
        if not photos:
            return self._discard(form)
        self._put(replace(self.wish, photos=photos, pointed=Pointed(), approved=(), used=""))
        tidy(self.home, self.wish)
        return f"{name} was taken out."

    def _discard(self, form: Mapping[str, str]) -> str:
        self.stop()
        self.wish, self._outcome = PaperWish(), None
        tidy(self.home, self.wish)
        return "The copies of the photos are gone; your own are where they were."

    def _strike(self, form: Mapping[str, str]) -> str:
        struck = (*self.wish.pointed.struck, _place(form, "x", "y"))
        return self._point("struck", struck, "The line is struck out.")

    def _leave(self, form: Mapping[str, str]) -> str:
        panel = self._panel(form)
        left = (*self.wish.pointed.left_out, (panel["inside"][0], panel["inside"][1]))
        return self._point("left_out", left, "The panel is left out.")

    def _gore(self, form: Mapping[str, str]) -> str:
        panel = self._panel(form)
        gores = (*self.wish.pointed.gores, (panel["inside"][0], panel["inside"][1]))
        return self._point("gores", gores, "The piece is a gore.")

    def _waist(self, form: Mapping[str, str]) -> str:
        panel = self._panel(form)
        ends: tuple[Place, ...]
        if "x2" in form:
            ends = (_place(form, "x", "y"), _place(form, "x2", "y2"))
        else:
            ends = (_place(form, "x", "y"),)
        # The last counts: what was pointed at before on this panel is gone.
        gone = [[list(place) for place in ends] for ends in panel["pointed"]]
        others = tuple(
            known for known in self.wish.pointed.waists if [list(p) for p in known] not in gone
        )
        return self._point("waists", (*others, ends), "The waistline is where you pointed.")

    def _back(self, form: Mapping[str, str]) -> str:
        kind, number = form.get("kind", ""), form.get("number", "")
        known: tuple[Any, ...] = getattr(self.wish.pointed, kind, ()) if kind in _KINDS else ()
        if not (number.isascii() and number.isdigit() and int(number[:6]) < len(known)):
            raise JobError("there is no such place any more", remedy="Look at the page again.")
        left = tuple(place for k, place in enumerate(known) if k != int(number))
        return self._point(kind, left, "It counts again.")

    def _approve(self, form: Mapping[str, str]) -> str:
        mark = self._panel(form)["mark"]
        others = tuple(known for known in self.wish.approved if known != mark)
        approved = form.get("value") == "yes"
        self._put(replace(self.wish, approved=(*others, mark) if approved else others))
        return "The panel is approved." if approved else "The panel is not approved any more."

    def _point(self, kind: str, places: tuple[Any, ...], words: str) -> str:
        wish = changed_pointed(self.wish, kind, places)
        self.stop()
        self._put(wish)
        self._start()
        return f"{words} The lines are traced anew."

    def _panel(self, form: Mapping[str, str]) -> dict[str, Any]:
        outcome = self.outcome or {}
        for panel in outcome.get("panels", ()):
            if panel["mark"] == form.get("mark"):
                found: dict[str, Any] = panel
                return found
        raise JobError(
            "this panel was traced anew meanwhile", remedy="Look at it as it is now, and say again."
        )

    def _put(self, wish: PaperWish, photos: Sequence[tuple[str, bytes]] = ()) -> None:
        write_wish(self.home, wish, photos)
        self.wish = wish

    def _start(self) -> None:
        self.run = PaperRun(self.home)


ACTS: Final[Mapping[str, Callable[[PaperDesk, Mapping[str, str]], str]]] = {
    "trace": PaperDesk._trace,
    "stop": lambda desk, form: desk.stop(),
    "remove": PaperDesk._remove,
    "discard": PaperDesk._discard,
    "strike": PaperDesk._strike,
    "leave": PaperDesk._leave,
    "gore": PaperDesk._gore,
    "waist": PaperDesk._waist,
    "back": PaperDesk._back,
    "approve": PaperDesk._approve,
}
"""What can be asked for, by the name that the page has for it."""

_KINDS: Final = ("struck", "left_out", "waists", "gores")

_BROKEN: Final = {
    "problem": "tracing ended without an answer, maybe for want of memory",
    "remedy": "Close other programs and try again, with photos of at most 12 megapixels.",
    "source": "",
    "element": "",
}


def _place(form: Mapping[str, str], *names: str) -> Place:
    x, y = (to_mm(form.get(name, ""), bare="mm") for name in names)
    return x, y


class PaperRun:
    """A tracing on its way, in a process of its own.

    *part*: how much of 1 is done. *words*: what is being done now.
    """

    def __init__(self, home: Path) -> None:
        context = multiprocessing.get_context("spawn")
        self.part, self.words = 0.0, "beginning"
        self._told, end = context.Pipe(duplex=False)
        self._process: SpawnProcess = context.Process(target=_run, args=(home, end), daemon=True)
        self._process.start()
        end.close()
        threading.Thread(target=self._listen, daemon=True).start()

    @property
    def ended(self) -> bool:
        """Whether it is over."""
        return not self._process.is_alive()

    @property
    def broken(self) -> bool:
        """Whether it ended without having come to its end."""
        return self.ended and self._process.exitcode != 0

    def stop(self) -> None:
        """End it at once."""
        self._process.kill()
        self._process.join()

    def _listen(self) -> None:
        try:
            while True:
                self.part, self.words = self._told.recv()
        except (EOFError, OSError):
            self._told.close()


def _run(home: Path, told: Connection) -> None:
    # Ctrl-C ends the page, which ends this.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    from ..sources.paper.photos import step_words
    from .paper_trace import trace_in

    done = 0.0

    def tell(part: float) -> None:
        nonlocal done
        done += part
        told.send((done, step_words(done)))

    trace_in(home, tell)
    told.close()
