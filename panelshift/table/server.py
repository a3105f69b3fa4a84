"""Serve the page on this machine alone, until Ctrl-C."""

from __future__ import annotations

import contextlib
import secrets
import socket
import threading
import webbrowser
from collections.abc import Callable
from typing import Final

import uvicorn

from ..errors import OutputError
from .app import create_app
from .session import Session

LOOPBACK: Final = "127.0.0.1"

MOST_AT_ONCE: Final = 200
"""Requests answered at once; more are told to come again (503)."""

_PATIENCE_S: Final = 3


class _Server(uvicorn.Server):
    """Says when it has started."""

    def __init__(self, config: uvicorn.Config, started: Callable[[], None]) -> None:
        super().__init__(config)
        self._on_start = started

    async def startup(self, sockets: list[socket.socket] | None = None) -> None:
        await super().startup(sockets)
        self._on_start()


def serve(
    session: Session,
    *,
    port: int = 0,
    browse: bool = True,
    say: Callable[[str], None],
) -> None:
    """Serve a session until it is interrupted.

    Parameters
    ----------
    session : Session
    port : int
        0 for any that is free.
    browse : bool
        Whether to open the page in the browser.
    say : callable
        Prints a line.

    Raises
    ------
    OutputError
        If the port is taken.
    """
    listener = _listener(port)
    token = secrets.token_urlsafe(32)
    number = listener.getsockname()[1]
    address = f"http://{LOOPBACK}:{number}/?token={token}"

    def started() -> None:
        say(f"The table is laid at {address}")
        say("Nothing leaves this machine. End with Ctrl-C; the work is saved as you go.")
        if browse:
            threading.Thread(target=webbrowser.open, args=(address,), daemon=True).start()

    config = uvicorn.Config(
        create_app(session, token=token, port=number),
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
        _Server(config, started).run(sockets=[listener])


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
