"""Serve the page on this machine alone, until Ctrl-C.

The server listens on the loopback only. Even so, any page open in the browser can send requests
to it (cross-site request forgery), a hostile name server can make its own name point here (DNS
rebinding), and other users of the machine can reach the port. Hence: the Host must be this very
server's, a change must come from this very origin, and every request needs a random token that
only the opening address carries.
"""

from __future__ import annotations

import contextlib
import hmac
import secrets
import socket
import threading
import webbrowser
from collections.abc import Callable
from dataclasses import dataclass
from http.cookies import CookieError, SimpleCookie
from typing import Final
from urllib.parse import parse_qs

import uvicorn
from starlette.applications import Starlette
from starlette.datastructures import Headers, MutableHeaders
from starlette.exceptions import HTTPException
from starlette.requests import ClientDisconnect
from starlette.responses import PlainTextResponse, RedirectResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from ..errors import OutputError
from ..sources.svg.document import MOST_BYTES
from .app import PageRoutes
from .connections import PatientProtocol
from .paper_work import MOST_PHOTO_BYTES
from .session import Session

LARGEST_UPLOAD: Final = MOST_BYTES + 64 * 1024
"""Bytes of a dropped pattern with the form round it."""

UPLOADS: Final = {"/pattern": LARGEST_UPLOAD, "/photos": MOST_PHOTO_BYTES + 64 * 1024}
"""The paths to which large bodies may be sent, and how many bytes."""

LARGEST_EDIT: Final = 2 * 1024 * 1024
"""Bytes of any other request."""

POLICY: Final = "; ".join(
    (
        "default-src 'none'",
        "script-src 'self'",
        "style-src 'self'",
        "img-src 'self' data:",
        "connect-src 'self'",
        "form-action 'self'",
        "base-uri 'none'",
        "frame-ancestors 'none'",
    )
)

HEADERS: Final = {
    "content-security-policy": POLICY,
    "x-content-type-options": "nosniff",
    # Not no-referrer: browsers would then send a form's Origin as null.
    "referrer-policy": "same-origin",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "permissions-policy": "camera=(), geolocation=(), microphone=()",
    "x-frame-options": "DENY",
    "cache-control": "no-store",
}


@dataclass(frozen=True)
class Guard:
    """ASGI middleware that lets only this page's own requests through.

    *token*: random; in the opening address as ``?token=``, in a cookie from then on.
    """

    app: ASGIApp
    port: int
    token: str

    @property
    def hosts(self) -> tuple[str, str]:
        """Values of the Host header that mean this server."""
        return f"127.0.0.1:{self.port}", f"localhost:{self.port}"

    @property
    def cookie(self) -> str:
        """Name of the cookie; cookies are shared by all ports, so the port is in it."""
        return f"panelshift-table-{self.port}"

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer or pass on one request."""
        if scope["type"] == "lifespan":
            await self.app(scope, receive, send)
            return
        if scope["type"] != "http":
            # There are no web sockets here.
            await send({"type": "websocket.close", "code": 1008})
            return
        guarded = _with_headers(send)
        refusal = self._refusal(scope)
        if refusal is not None:
            await refusal(scope, receive, guarded)
            return
        limit = UPLOADS.get(scope["path"], LARGEST_EDIT)
        # A request that broke off is nobody's to be answered.
        with contextlib.suppress(ClientDisconnect):
            await self.app(scope, _limited(receive, limit), guarded)

    def _refusal(self, scope: Scope) -> Response | None:
        """Why a request is not passed on, None if it is."""
        headers = Headers(scope=scope)
        hosts = headers.getlist("host")
        if len(hosts) != 1 or hosts[0].lower() not in self.hosts:
            return _plain(403, "this server answers under its own address only")
        if scope["method"] not in ("GET", "HEAD", "POST"):
            return _plain(405, "method not allowed", {"allow": "GET, HEAD, POST"})
        opening = self._opening(scope, hosts[0])
        if opening is not None:
            return opening
        if not _same(_cookie(headers, self.cookie), self.token):
            return _plain(403, "open the address that panelshift table printed: it holds a token")
        if scope["method"] == "POST" and not self._own_origin(headers, hosts[0]):
            return _plain(403, "changes are taken from this page only")
        length = headers.get("content-length", "0")
        limit = UPLOADS.get(scope["path"], LARGEST_EDIT)
        if not (length.isascii() and length.isdigit()) or int(length[:18]) > limit:
            return _plain(413, "too large")
        return None

    def _opening(self, scope: Scope, host: str) -> Response | None:
        """Take the token from the opening address into a cookie, and out of the address."""
        if scope["path"] != "/" or scope["method"] != "GET":
            return None
        given = parse_qs(scope["query_string"].decode("latin-1")).get("token", [])
        if len(given) != 1 or not _same(given[0], self.token):
            return None
        response = RedirectResponse("/", status_code=303)
        response.set_cookie(self.cookie, self.token, httponly=True, samesite="strict", path="/")
        return response

    def _own_origin(self, headers: Headers, host: str) -> bool:
        origins = headers.getlist("origin")
        if origins:
            return origins == [f"http://{host.lower()}"]
        return headers.getlist("sec-fetch-site") == ["same-origin"]


def _plain(status: int, words: str, headers: dict[str, str] | None = None) -> Response:
    return PlainTextResponse(words + "\n", status, headers)


def _same(given: str, token: str) -> bool:
    return hmac.compare_digest(given.encode("utf-8", "replace"), token.encode())


def _cookie(headers: Headers, name: str) -> str:
    # Other servers on this host may have set cookies of any form; each is read by itself.
    for part in ";".join(headers.getlist("cookie")).split(";"):
        try:
            found = SimpleCookie(part.strip())
        except CookieError:
            continue
        if name in found:
            return found[name].value
    return ""


def _with_headers(send: Send) -> Send:
    async def guarded(message: Message) -> None:
        if message["type"] == "http.response.start":
            headers = MutableHeaders(scope=message)
            for name, value in HEADERS.items():
                # Files that are shown by themselves have policies of their own.
                headers.setdefault(name, value)
        await send(message)

    return guarded


def _limited(receive: Receive, most: int) -> Receive:
    """Stop a body that is longer than it may be, whatever its headers said."""
    taken = 0

    async def counting() -> Message:
        nonlocal taken
        message = await receive()
        taken += len(message.get("body", b""))
        if taken > most:
            # Answered by the application that was reading.
            raise HTTPException(413)
        return message

    return counting


LOOPBACK: Final = "127.0.0.1"

MOST_AT_ONCE: Final = 200
"""Requests answered at once; more are told to come again (503)."""

_PATIENCE_S: Final = 3


def create_app(session: Session, *, token: str, port: int) -> Guard:
    """Return the ASGI application of a session.

    *token*: random; every request needs it. *port*: that it is served on.
    """
    return Guard(Starlette(routes=PageRoutes(session).routes()), port, token)


class _Server(uvicorn.Server):
    """Says when it has started."""

    def __init__(self, config: uvicorn.Config, started: Callable[[], None]) -> None:
        super().__init__(config)
        self._on_start = started

    async def startup(self, sockets: list[socket.socket] | None = None) -> None:
        await super().startup(sockets)
        self._on_start()


def serve(
    session: Session, *, port: int = 0, browse: bool = True, started: Callable[[str], None]
) -> None:
    """Serve a session until it is interrupted.

    *port*: 0 for any that is free. *browse*: whether to open the page in the browser.
    *started*: told the address, with its token, once the page is served.

    Raises `OutputError` if the port is taken.
    """
    listener = _listener(port)
    token = secrets.token_urlsafe(32)
    number = listener.getsockname()[1]
    address = f"http://{LOOPBACK}:{number}/?token={token}"

    def up() -> None:
        started(address)
        if browse:
            threading.Thread(target=webbrowser.open, args=(address,), daemon=True).start()

    config = uvicorn.Config(
        create_app(session, token=token, port=number),
        http=PatientProtocol,
        log_config=None,
        access_log=False,
        server_header=False,
        proxy_headers=False,
        lifespan="off",
        ws="none",
        limit_concurrency=MOST_AT_ONCE,
        timeout_graceful_shutdown=_PATIENCE_S,
    )
    with contextlib.closing(listener), contextlib.suppress(KeyboardInterrupt):
        _Server(config, up).run(sockets=[listener])
    session.paper.stop()


def _listener(port: int) -> socket.socket:
    """A socket on the loopback: no other machine can reach it."""
    listener = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    try:
        if hasattr(socket, "SO_EXCLUSIVEADDRUSE"):
            # Elsewhere the default; on Windows others could otherwise take over the port.
            listener.setsockopt(socket.SOL_SOCKET, socket.SO_EXCLUSIVEADDRUSE, 1)
        else:
            listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        listener.bind((LOOPBACK, port))
    except (OSError, OverflowError) as error:
        listener.close()
        raise OutputError(
            f"port {port} cannot be used: {getattr(error, 'strerror', None) or error}",
            remedy="Leave out --port to take any that is free, or name another.",
        ) from None
    return listener
