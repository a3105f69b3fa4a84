"""Requests and answers of the page."""

from __future__ import annotations

import json
from collections.abc import Callable
from importlib.resources import files
from typing import Any, Final, TypeVar

from markupsafe import Markup
from starlette.concurrency import run_in_threadpool
from starlette.datastructures import FormData, UploadFile
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import HTMLResponse, PlainTextResponse, Response
from starlette.routing import Route

from ..cutting.composing import CAUTION
from ..errors import JobError, PanelshiftError
from ..fit.html_page import templates
from ..sources.svg.document import MOST_BYTES
from ..swatch.strip_kinds import SHEETS, sheet_bytes
from ..swatch.strips import DEFAULT_FORMERS_MM
from .accepting import StaleError
from .body_view import section_view
from .handbook import figure, help_page
from .looks import LOOKS, look_view, tables_view
from .paper_view import PaperRoutes
from .parcel import Handing
from .session import Session
from .solid_view import SolidRoutes
from .views import Refusal, told_beside, tried_view, work_view

T = TypeVar("T")

_TYPES: Final = {".css": "text/css", ".js": "text/javascript", ".svg": "image/svg+xml"}

_HOME: Final = files("panelshift.table") / "static"

_FILES: Final = {
    item.name: item
    for folder in (_HOME, _HOME / "vendor")
    for item in sorted(folder.iterdir(), key=lambda item: item.name)
    if item.name[item.name.rfind(".") :] in _TYPES
}

STATIC: Final = {name: _TYPES[name[name.rfind(".") :]] for name in _FILES}
"""All files that the page loads, and their types; nothing else can be asked for."""

_MOST_FIELDS: Final = 120


class PageRoutes:
    """The page of one session."""

    def __init__(self, session: Session) -> None:
        self.session = session
        self._templates = templates("panelshift.table")
        self._static = {name: item.read_bytes() for name, item in _FILES.items()}
        self._handing = Handing(session)
        self._solid = SolidRoutes(session)
        self._paper = PaperRoutes(
            session,
            change=self._change,
            posted=self._posted,
            work=self._work,
            render=lambda template, view: HTMLResponse(self._render(template, view)),
        )

    def routes(self) -> list[Route]:
        """Everything that can be asked for."""
        return [
            Route("/", self.whole),
            Route("/work", self.work),
            Route("/section", self.section),
            Route("/look", self.look),
            Route("/look/{name}", self.one_look),
            Route("/tables", self.tables),
            Route("/pulse", self.pulse),
            Route("/strips.pdf", self.strips),
            Route("/tried", self.tried),
            Route("/static/{name}", self.static),
            Route("/edit/{kind}", self.edit, methods=["POST"]),
            Route("/undo", self.step, methods=["POST"]),
            Route("/redo", self.step, methods=["POST"]),
            Route("/pattern", self.pattern, methods=["POST"]),
            Route("/jobs", self.jobs),
            Route("/open", self.open, methods=["POST"]),
            Route("/job/{act}", self.job, methods=["POST"]),
            Route("/help/figures/{name}", self.figure),
            Route("/help/{name:path}", self.help),
            *self._handing.routes(),
            *self._solid.routes(),
            *self._paper.routes(),
        ]

    # -- the page and its parts -----------------------------------------------------

    async def whole(self, request: Request) -> Response:
        """The whole page."""
        return await self._work(request, "page.html")

    async def work(self, request: Request) -> Response:
        """The work alone, to bring a page up to date."""
        return await self._work(request)

    async def section(self, request: Request) -> Response:
        """The body's section at another level."""
        level = request.query_params.get("section", "")

        def draw() -> str:
            state = self.session.state()
            if state is None:
                return ""
            with state.lock:
                return self._render("section.html", {"body": section_view(state, level)})

        return HTMLResponse(await run_in_threadpool(draw))

    async def look(self, request: Request) -> Response:
        """Step 4: the layers, and the tables."""

        def draw() -> str:
            return self._render(
                "look.html", look_view(self.session.state(), query, self.session.aside)
            )

        query = dict(request.query_params)
        answer = HTMLResponse(await run_in_threadpool(draw))
        # The tables take longer than the picture, and come after it.
        answer.headers["hx-trigger-after-settle"] = json.dumps({"looked": {}})
        return answer

    async def tables(self, request: Request) -> Response:
        """What follows the picture of step 4."""

        def draw() -> str:
            return self._render("tables.html", tables_view(self.session.state()))

        return HTMLResponse(await run_in_threadpool(draw))

    async def tried(self, request: Request) -> Response:
        """What readings of bones and test pieces come to, which nothing is changed by."""
        text = request.query_params.get("readings", "")

        def draw() -> str:
            state = self.session.state()
            if state is None:
                return ""
            with state.lock:
                return self._render("tried.html", tried_view(state, text))

        return HTMLResponse(await run_in_threadpool(draw))

    async def one_look(self, request: Request) -> Response:
        """A way to look at the layers, as its own controls ask for it."""
        chosen = LOOKS.get(request.path_params["name"])
        if chosen is None:
            raise HTTPException(404)
        query = dict(request.query_params)

        def draw() -> str:
            state = self.session.state()
            if state is None:
                return ""
            with state.lock:
                if state.facts.value is None:
                    return ""
                look = chosen.view(state, query, self.session.aside)
                return self._render(chosen.template, {"look": look})

        return HTMLResponse(await run_in_threadpool(draw))

    async def pulse(self, request: Request) -> Response:
        """Whether a page that was drawn at a mark is out of date."""
        mark = await run_in_threadpool(self.session.mark)
        return PlainTextResponse("same" if request.query_params.get("mark") == mark else "changed")

    async def static(self, request: Request) -> Response:
        """A file of the page's own."""
        name = request.path_params["name"]
        if name not in STATIC:
            raise HTTPException(404)
        return Response(self._static[name], media_type=STATIC[name])

    # -- changes --------------------------------------------------------------------

    async def edit(self, request: Request) -> Response:
        """Carry out an edit."""
        kind = request.path_params["kind"]
        return await self._posted(request, lambda form: f"Saved: {self.session.edit(kind, form)}.")

    async def step(self, request: Request) -> Response:
        """Take the last change back, or do again what was taken back."""
        session = self.session
        steps = {"/undo": (session.undo, "Taken back"), "/redo": (session.redo, "Done again")}
        step, words = steps[request.url.path]
        return await self._posted(
            request, lambda form: f"{words}: {step(form.get('revision', ''))}."
        )

    async def open(self, request: Request) -> Response:
        """Go on with a job file of the folder."""

        def opened(form: dict[str, str]) -> str:
            name = form.get("name", "")
            self.session.open_named(name)
            return f"{name} is on the table."

        return await self._posted(request, opened)

    async def jobs(self, request: Request) -> Response:
        """The other jobs of the folder."""
        names = await run_in_threadpool(self.session.jobs)
        return HTMLResponse(self._render("jobs.html", {"jobs": names}))

    async def job(self, request: Request) -> Response:
        """Another job: none yet, the sample, or a copy of this one; or what is kept beside it."""
        act, session = request.path_params["act"], self.session

        def change(form: dict[str, str]) -> str:
            if act == "new":
                session.clear()
                return "The table is empty; the job's files are as they were."
            if act == "sample":
                return f"{session.begin_sample()} is on the table: try it, it is yours."
            if act == "again":
                session.write_again()
                return "The job file is in its folder again."
            if act == "keep":
                session.keep_aside()
                return "This is A now: change something, and look at A and B."
            if act == "back":
                session.back_to_aside(form.get("revision", ""))
                return "All is set as in A again; Undo goes back to B."
            if act == "redraft":
                return session.write_draft(form.get("name", ""), form.get("revision", ""))
            if act == "forget":
                session.aside = None
                return "A is forgotten."
            return f"You now work on {session.save_as(form.get('name', ''))}."

        if act not in ("new", "sample", "again", "copy", "keep", "back", "redraft", "forget"):
            raise HTTPException(404)
        return await self._posted(request, change)

    async def help(self, request: Request) -> Response:
        """A page of the documentation."""
        found = await run_in_threadpool(help_page, request.path_params["name"])
        if found is None:
            raise HTTPException(404)
        page = self._templates.get_template("help.html")
        # Made from the project's own pages, in which no HTML is taken over.
        return HTMLResponse(page.render(title=found["title"], body=Markup(found["body"])))

    async def figure(self, request: Request) -> Response:
        """A figure of the documentation."""
        found = await run_in_threadpool(figure, request.path_params["name"])
        if found is None:
            raise HTTPException(404)
        # Its styles are its own; nothing in it can run.
        policy = {"content-security-policy": "default-src 'none'; style-src 'unsafe-inline'"}
        return Response(found[0], media_type=found[1], headers=policy)

    async def pattern(self, request: Request) -> Response:
        """Take in a dropped pattern."""
        async with request.form(max_files=1, max_fields=_MOST_FIELDS) as data:
            upload = data.get("pattern")
            form = _fields(data)
            if not isinstance(upload, UploadFile):
                return await self._change(request, form, _no_file)
            name, raw = upload.filename or "pattern.svg", await upload.read()

        def words() -> str:
            return self.session.take_pattern(name, raw) or f"{name:.80} was not taken."

        return await self._change(request, form, words)

    async def strips(self, request: Request) -> Response:
        """Paper strips for swatches, to print."""
        kind = request.query_params.get("of", "flat")
        if kind not in SHEETS:
            raise HTTPException(404)
        formers = (80.0,) if kind == "bones" else DEFAULT_FORMERS_MM
        content = await run_in_threadpool(sheet_bytes, formers, ".pdf", kind)
        return Response(
            content,
            media_type="application/pdf",
            headers={"content-disposition": 'attachment; filename="swatch-strips.pdf"'},
        )

    # -- how ------------------------------------------------------------------------

    async def _work(
        self,
        request: Request,
        template: str = "work.html",
        *,
        refusal: Refusal | None = None,
        said: str = "",
        level: str = "",
    ) -> HTMLResponse:
        level = level or request.query_params.get("section", "")

        def draw() -> str:
            view = work_view(self.session, refusal=refusal, said=said, level=level)
            return self._render(template, view)

        return HTMLResponse(await run_in_threadpool(draw))

    async def _posted(self, request: Request, change: Callable[[dict[str, str]], str]) -> Response:
        """Make a change that a form asks for."""
        form = _fields(await request.form(max_files=0, max_fields=_MOST_FIELDS))
        return await self._change(request, form, lambda: change(form))

    async def _change(
        self, request: Request, form: dict[str, str], change: Callable[[], str]
    ) -> Response:
        """Make a change and answer with the work as it is then, or say why not."""
        level = form.get("section", "")
        try:
            said = await run_in_threadpool(change)
        except PanelshiftError as error:
            typed = form.get("text") or form.get("value", "")
            field = request.headers.get("hx-trigger", "").removesuffix("-again")
            refusal = Refusal(field, typed, told_beside(error), isinstance(error, StaleError))
            answer = await self._work(request, refusal=refusal, level=level)
            answer.headers["x-refused"] = "1"
            return answer
        answer = await self._work(request, said=said, level=level)
        answer.headers["hx-trigger-after-settle"] = json.dumps({"revised": {}})
        return answer

    def _render(self, template: str, view: dict[str, Any]) -> str:
        found = self._templates.get_template(template)
        return found.render(cautions=CAUTION, most_bytes=MOST_BYTES, oob=False, **view)


def _no_file() -> str:
    raise JobError("no file came with that", remedy="Choose an SVG file, or drop one.")


def _fields(data: FormData) -> dict[str, str]:
    """Fields of a form; what came several times stands in lines."""
    found: dict[str, list[str]] = {}
    for name, value in data.multi_items():
        if isinstance(value, str):
            found.setdefault(name, []).append(value)
    return {name: "\n".join(values) for name, values in found.items()}
