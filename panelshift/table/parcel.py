"""Everything to take away: the same bytes as the commands write for the job, in one zip.

A form begins it; it is asked after while it is made, and taken whole or looked at in parts.
"""

from __future__ import annotations

import io
import os
import secrets
import threading
import zipfile
from collections import OrderedDict
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final, Literal

from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse, PlainTextResponse, Response
from starlette.routing import Route

from ..batch.products import Making, Product, make
from ..errors import JobError, PanelshiftError
from ..files import file_bytes, safe_name
from ..job import read_job, resolve
from ..job.result import print_job
from ..job.toml import job_bytes
from ..printing import PageOptions, parse_paper
from ..sources.svg.document import MOST_BYTES
from ..units import to_mm
from .session import Session
from .views import told

PARTS: Final = ("pages", "cut", "fit", "job")
"""What may be in a parcel: PDF pages, cutting files, the fit sheet, and the job with its files."""

_BEGINNING: Final = (1980, 1, 1, 0, 0, 0)
"""The earliest date that a zip can hold: the same work gives the same bytes on any day."""

_READABLE: Final = 0o644 << 16


@dataclass(frozen=True)
class Wish:
    """What a maker wants to take away.

    *parts*: of `PARTS`. *pages*: for the pages. *nested*: all layers of a panel in each other on
    one print. *keep_together*: each panel on as few pages as can be.
    """

    parts: tuple[str, ...]
    pages: PageOptions
    nested: bool = False
    keep_together: bool = False


def wish_of(
    form: Mapping[str, str], parts: Sequence[str], units: Literal["mm", "cm", "in"]
) -> Wish:
    """Return what a form asks for.

    Raises `PanelshiftError` if nothing is asked for, or paper, margin or overlap cannot be read.
    """
    wanted = tuple(part for part in PARTS if part in parts)
    if not wanted:
        raise JobError("nothing is chosen", remedy="Choose at least one thing to take away.")
    paper = form.get("own_paper", "").strip() or form.get("paper", "a4")
    margin, overlap = (
        to_mm(form.get(name) or "10 mm", bare=units) for name in ("margin", "overlap")
    )
    options = PageOptions(parse_paper(paper, bare=units), margin, overlap, units)
    return Wish(wanted, options, form.get("nested") == "yes", form.get("together") == "yes")


_ABOUT: Final[Mapping[str, str]] = {
    "pages": "the pages to print",
    "cut": "the cutting files",
    "fit": "the fit sheet, with the cloth laid out",
    "job": "the job and its files",
}


def parcel_files(
    job: Path, wish: Wish, tell: Callable[[str], None] = lambda part: None
) -> dict[str, bytes]:
    """Return everything that is wished for, by its name in the parcel.

    *job*: read anew, as the commands read it. *tell*: is told of each part before it is made.

    Raises `PanelshiftError` as the commands raise it.
    """
    resolved = resolve(read_job(job), source=str(job))
    files: dict[str, bytes] = {}
    if "pages" in wish.parts:
        tell(_ABOUT["pages"])
        prints = print_job(
            resolved, wish.pages, nested=wish.nested, keep_together=wish.keep_together
        )
        files |= {f"pages/{item.name}": item.printed.data for item in prints}
    products: tuple[Product, ...] = ("cut", "fit")
    for product in products:
        if product in wish.parts:
            tell(_ABOUT[product])
            made = make(resolved, Making(product)).files
            files |= {f"{product}/{name}": content for name, content in made.items()}
    if "job" in wish.parts:
        tell(_ABOUT["job"])
        files |= _job_files(job, resolved.file.sources())
    return files


def _job_files(job: Path, sources: Sequence[Path]) -> dict[str, bytes]:
    """The job file, and the files it names that lie in its folder or below."""
    files = {job.name: job_bytes(job)}
    for path in sources:
        name = os.path.relpath(path, job.parent)
        if not os.path.isabs(name) and not name.startswith(os.pardir):
            files[Path(name).as_posix()] = file_bytes(path, MOST_BYTES)
    return files


def zipped(files: Mapping[str, bytes]) -> bytes:
    """Return files as a zip; the same files always give the same bytes."""
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w") as archive:
        for name, content in files.items():
            entry = zipfile.ZipInfo(name, _BEGINNING)
            entry.external_attr = _READABLE
            entry.create_system = 3
            archive.writestr(entry, content, zipfile.ZIP_DEFLATED, 6)
    return stream.getvalue()


def parcel_name(job: Path) -> str:
    """Name of the zip: that of the job file."""
    return f"{safe_name(job.stem)}.zip"


class ParcelMaking:
    """A parcel that is being made: how far it is, and what is in it once it is done.

    *files*: None until then. *refusal*: why there is none.
    """

    def __init__(self, job: Path, wish: Wish) -> None:
        self.job, self.wish = job, wish
        self.begun: list[str] = []
        self.files: dict[str, bytes] | None = None
        self.refusal: PanelshiftError | None = None
        self.broken = False

    def make(self, turn: threading.Lock) -> None:
        """Make it; *turn*: held meanwhile, as a layout of cloth takes a processor for seconds."""
        try:
            with turn:
                self.files = parcel_files(self.job, self.wish, self.begun.append)
        except PanelshiftError as error:
            self.refusal = error
        except BaseException:
            self.broken = True
            raise

    @property
    def ends(self) -> bool:
        """Whether nothing more comes of it."""
        return self.files is not None or self.refusal is not None or self.broken


_MOST: Final = 3
"""Parcels that are kept: the last ones."""

_SHOWN: Final[dict[str, tuple[str, str]]] = {
    ".pdf": ("application/pdf", "frame-ancestors 'none'"),
    # The fit sheet carries its own styles, and nothing that runs.
    ".html": ("text/html; charset=utf-8", "default-src 'none'; style-src 'unsafe-inline'"),
}
"""What browsers can show, with the policy that it needs."""


class Handing:
    """The parcels of one session."""

    def __init__(self, session: Session) -> None:
        self.session = session
        self._turn = threading.Lock()
        self._makings: OrderedDict[str, ParcelMaking] = OrderedDict()

    def routes(self) -> list[Route]:
        """Everything that can be asked for."""
        return [
            Route("/parcel.zip", self.at_once),
            Route("/parcel", self.begin, methods=["POST"]),
            Route("/parcel/{number}", self.progress),
            Route("/parcel/{number}/{name:path}", self.part),
        ]

    async def at_once(self, request: Request) -> Response:
        """The parcel in one go, as a page without scripts asks for it; or in words why not."""
        return await self._refusing(lambda: self._made_at_once(request))

    async def begin(self, request: Request) -> Response:
        """Begin to make a parcel."""
        return await self._refusing(lambda: self._begun(request))

    async def progress(self, request: Request) -> Response:
        """How far a parcel is, and what is in it."""
        making = self._making(request)
        if making.refusal is not None:
            return PlainTextResponse(told(making.refusal), headers={"x-refused": "1"})
        if making.broken:
            raise HTTPException(500)
        files = making.files or {}
        return JSONResponse(
            {
                "done": making.files is not None,
                "step": len(making.begun),
                "of": len(making.wish.parts),
                "making": making.begun[-1] if making.begun else "",
                "name": parcel_name(making.job),
                "shown": [name for name in files if name[name.rfind(".") :] in _SHOWN],
            }
        )

    async def part(self, request: Request) -> Response:
        """The parcel, or one file of it to be shown."""
        making, name = self._making(request), request.path_params["name"]
        files = making.files or {}
        if name == parcel_name(making.job) and files:
            return _zip(await run_in_threadpool(zipped, files), name)
        kind = _SHOWN.get(name[name.rfind(".") :])
        if name not in files or kind is None:
            raise HTTPException(404)
        headers = {"content-security-policy": kind[1], "content-disposition": "inline"}
        return Response(files[name], media_type=kind[0], headers=headers)

    def _making(self, request: Request) -> ParcelMaking:
        making = self._makings.get(request.path_params["number"])
        if making is None:
            raise HTTPException(404)
        return making

    def _wished(self, request: Request) -> ParcelMaking:
        state = self.session.state()
        if state is None or state.file.value is None:
            raise JobError("there is no job yet", remedy="Begin with step 1.")
        query = request.query_params
        units = state.file.value.pattern.units
        wish: Wish = wish_of(dict(query), query.getlist("part"), units)
        return ParcelMaking(state.path, wish)

    def _begun(self, request: Request) -> Response:
        making = self._wished(request)
        number = secrets.token_hex(8)
        self._makings[number] = making
        while len(self._makings) > _MOST:
            self._makings.popitem(last=False)
        threading.Thread(target=making.make, args=(self._turn,), daemon=True).start()
        return JSONResponse({"number": number})

    def _made_at_once(self, request: Request) -> Response:
        making = self._wished(request)
        making.make(self._turn)
        if making.refusal is not None:
            raise making.refusal
        return _zip(zipped(making.files or {}), parcel_name(making.job))

    async def _refusing(self, answer: Callable[[], Response]) -> Response:
        try:
            return await run_in_threadpool(answer)
        except PanelshiftError as error:
            return PlainTextResponse(told(error), headers={"x-refused": "1"})


def _zip(content: bytes, name: str) -> Response:
    headers = {"content-disposition": f'attachment; filename="{name}"'}
    return Response(content, media_type="application/zip", headers=headers)
