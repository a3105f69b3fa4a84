"""Handing the parcel over: begun by a form, asked after while it is made, taken or looked at."""

from __future__ import annotations

import secrets
import threading
from collections import OrderedDict
from collections.abc import Callable
from typing import Final

from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse, PlainTextResponse, Response
from starlette.routing import Route

from ..errors import JobError, PanelshiftError
from .parcel import ParcelMaking, Wish, parcel_name, wish_of, zipped
from .session import Session
from .views import told

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
