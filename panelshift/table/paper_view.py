"""What the page shows of a draft on paper, and what it may ask for it."""

from __future__ import annotations

import contextlib
import os
import re
from collections.abc import Awaitable, Callable, Mapping
from importlib.util import find_spec
from typing import Any, Final

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import UploadFile
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import PlainTextResponse, Response
from starlette.routing import Route

from ..errors import JobError, PhotoError
from ..printing import PAPERS
from ..sources.paper.rectified import opencv
from ..units import trimmed
from .paper_desk import ACTS, PaperDesk
from .paper_work import MOST_PHOTO_BYTES, MOST_PHOTOS
from .session import Session

_FLAG: Final = 0.022
"""Radius of a numbered flag, as a part of the picture's width."""

_BY_HAND: Final = re.compile(r"\s*\(--[^)]*\)")


def paper_words(words: str) -> str:
    """A message without the command's own options, which stand in brackets in it."""
    return _BY_HAND.sub("", words)


def missing_words() -> str:
    """What has to be installed before photos can be read, empty if nothing has."""
    if find_spec("cv2") is not None:
        return ""
    try:
        opencv()
    except PhotoError as error:
        return f"{error.problem[:1].upper()}{error.problem[1:]}. {error.remedy}"
    return ""


def paper_view(desk: PaperDesk) -> dict[str, Any]:
    """Return what there is of a draft on paper: photos, how far it is, what came of it."""
    wish, outcome, run = desk.wish, desk.outcome, desk.run
    view: dict[str, Any] = {
        "photos": [name for name, _ in wish.photos],
        "most": MOST_PHOTOS,
        "most_bytes": MOST_PHOTO_BYTES,
        "lengths": [*wish.lengths, "", ""][:2],
        "scans": wish.scans,
        "scaled": wish.scaled,
        "run": None,
        "refused": "",
        "traced": None,
        "used": wish.used,
        "missing": missing_words(),
    }
    if run is not None and desk.running:
        view["run"] = run_view(desk)
    if outcome is None:
        return view
    # Nobody but the page's own process writes it, but a file may be damaged.
    with contextlib.suppress(KeyError, TypeError, ValueError, IndexError):
        if "refused" in outcome:
            refused = outcome["refused"]
            about = f"{refused['source']}: " if refused["source"] else ""
            view["refused"] = paper_words(f"{about}{refused['problem']}. {refused['remedy']}")
        else:
            view["traced"] = _traced(desk, outcome)
    return view


def run_view(desk: PaperDesk) -> dict[str, Any]:
    """How far a tracing is."""
    run = desk.run
    return (
        {"part": 0, "words": "beginning"}
        if run is None
        else {
            "part": round(100.0 * run.part),
            "words": run.words,
        }
    )


def _traced(desk: PaperDesk, outcome: Mapping[str, Any]) -> dict[str, Any]:
    wish = desk.wish
    wide, high = outcome["size"]
    radius = round(_FLAG * wide, 1)
    spots = [
        {
            "number": number,
            "flag": _beside(spot, radius, wide, high),
            "words": paper_words(spot["words"]),
            "remedy": paper_words(spot["remedy"]),
            "at": [
                round(min(max(at, 0.0), most), 1)
                for at, most in zip(spot["place"], (wide, high), strict=True)
            ],
            "line": spot["kind"] == "line" and bool(spot["remedy"]),
        }
        for number, spot in enumerate(
            sorted(outcome["spots"], key=lambda spot: not spot["remedy"]), start=1
        )
    ]
    panels = [
        {
            "number": number,
            "mark": panel["mark"],
            "wide": trimmed(panel["size"][0], 0),
            "high": trimmed(panel["size"][1], 0),
            "waist": panel["waist"],
            "gore": panel["gore"],
            "lines": [(trimmed(x, 1), trimmed(y, 1)) for x, y in panel["lines"]],
            "approved": panel["mark"] in wish.approved,
            "path": panel["path"],
            "at": panel["inside"],
        }
        for number, panel in enumerate(outcome["panels"], start=1)
    ]
    pointed = wish.pointed
    faults = sum(bool(spot["remedy"]) for spot in spots)
    waits = [panel["number"] for panel in panels if not panel["approved"]]
    return {
        "key": outcome["key"],
        "wide": trimmed(wide, 1),
        "high": trimmed(high, 1),
        "radius": radius,
        "spots": spots,
        "faults": faults,
        "panels": panels,
        "waits": waits,
        "trusted": outcome["trusted"],
        "taken_back": [
            *(("struck", k, "The line struck out", at) for k, at in enumerate(pointed.struck)),
            *(("left_out", k, "The piece left out", at) for k, at in enumerate(pointed.left_out)),
            *(("waists", k, "The waistline", ends[0]) for k, ends in enumerate(pointed.waists)),
            *(("gores", k, "The gore", at) for k, at in enumerate(pointed.gores)),
        ],
        "stale": not desk.fresh,
        "ready": desk.fresh and bool(panels) and not faults and not waits,
    }


def _beside(
    spot: Mapping[str, Any], radius: float, wide: float, high: float
) -> tuple[float, float]:
    """Where a flag covers neither its place nor the picture's edge; faults to the right of it."""
    side = 1.6 if spot["remedy"] else -1.6
    x, y = spot["place"][0] + side * radius, spot["place"][1] - 2.0 * radius
    return (
        round(min(max(x, 1.1 * radius), wide - 1.1 * radius), 1),
        round(min(max(y, 1.1 * radius), high - 1.1 * radius), 1),
    )


def _plainly(act: Callable[[], str]) -> str:
    """Do something; a refusal names the photo, and has the page's words."""
    try:
        return act()
    except PhotoError as error:
        # Sentences begin with a capital on the page, and a file's name is not to be changed.
        about = f"photo {os.path.basename(error.source)}: " if error.source else ""
        words = paper_words(f"{about}{error.problem}")
        raise PhotoError(words, remedy=paper_words(error.remedy)) from None


class PaperRoutes:
    """What the page asks for a draft on paper.

    *change*: carries a change out and answers with the work. *work*: answers with the work.
    *render*: a template.
    """

    def __init__(
        self,
        session: Session,
        *,
        change: Callable[[Request, dict[str, str], Callable[[], str]], Awaitable[Response]],
        posted: Callable[[Request, Callable[[dict[str, str]], str]], Awaitable[Response]],
        work: Callable[[Request], Awaitable[Response]],
        render: Callable[[str, dict[str, Any]], Response],
    ) -> None:
        self.session = session
        self._change, self._posted, self._work, self._render = change, posted, work, render

    def routes(self) -> list[Route]:
        """Everything that can be asked for."""
        return [
            Route("/photos", self.photos, methods=["POST"]),
            Route("/paper", self.progress),
            Route("/paper/picture.png", self.picture),
            Route("/paper/{act}", self.act, methods=["POST"]),
            Route("/cards.pdf", self.cards),
        ]

    async def photos(self, request: Request) -> Response:
        """Take in dropped photos."""
        given: list[tuple[str, bytes]] = []
        async with request.form(max_files=2 * MOST_PHOTOS, max_fields=8) as data:
            form = {"section": str(data.get("section", ""))}
            for upload in data.getlist("photos"):
                if isinstance(upload, UploadFile):
                    given.append((upload.filename or "photo.jpg", await upload.read()))

        def add() -> str:
            if not given:
                raise JobError("no file came with that", remedy="Choose photos, or drop them.")
            return _plainly(lambda: self.session.paper.add(given))

        return await self._change(request, form, add)

    async def progress(self, request: Request) -> Response:
        """How far the tracing is; all of the work once it is done."""
        desk = self.session.paper
        if desk.running:
            return self._render("paper-run.html", {"paper": {"run": run_view(desk)}})
        answer = await self._work(request)
        answer.headers["hx-retarget"] = "#work"
        answer.headers["hx-reswap"] = "morph:innerHTML"
        return answer

    async def picture(self, request: Request) -> Response:
        """The tracing over the paper."""
        found = await run_in_threadpool(self.session.paper.picture)
        if found is None:
            raise HTTPException(404)
        return Response(found, media_type="image/png")

    async def act(self, request: Request) -> Response:
        """What a control asks for."""
        act = request.path_params["act"]
        if act not in ACTS and act != "use":
            raise HTTPException(404)
        session = self.session

        def do(form: dict[str, str]) -> str:
            if act == "use":
                return session.use_paper()
            return _plainly(lambda: session.paper.act(act, form))

        return await self._posted(request, do)

    async def cards(self, request: Request) -> Response:
        """Strips to lay round a draft, to print."""
        # It needs a library that the page starts without.
        from ..printing.card_prints import print_cards

        paper = PAPERS["letter" if request.query_params.get("paper") == "letter" else "a4"]
        try:
            content = await run_in_threadpool(print_cards, paper)
        except PhotoError as error:
            return PlainTextResponse(f"{error.problem}. {error.remedy}\n", 503)
        headers = {"content-disposition": 'attachment; filename="cards.pdf"'}
        return Response(content, media_type="application/pdf", headers=headers)
