"""What the page's server is started with, by a server that only says so."""

from __future__ import annotations

import asyncio
import socket
import threading
from pathlib import Path
from types import SimpleNamespace
from typing import Any
from urllib.parse import parse_qs, urlsplit

import pytest
import uvicorn

from panelshift.table import server
from panelshift.table.connections import PatientProtocol
from panelshift.table.session import Session


@pytest.mark.parametrize("browse", [True, False])
def test_a_session_is_served_on_one_port_of_the_loopback_until_it_is_interrupted(
    browse: bool, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    found: dict[str, Any] = {}
    opened, shown = list[str](), threading.Event()

    def startup(own: uvicorn.Server, sockets: Any = None) -> Any:
        found["began"] = sockets
        return asyncio.sleep(0)

    def run(own: Any, sockets: list[socket.socket]) -> None:
        found.update(config=own.config, sockets=sockets, at=sockets[0].getsockname())
        asyncio.run(own.startup(sockets))
        raise KeyboardInterrupt

    def show(address: str) -> None:
        opened.append(address)
        shown.set()

    monkeypatch.setattr(uvicorn.Server, "startup", startup)
    monkeypatch.setattr(uvicorn.Server, "run", run)
    monkeypatch.setattr(server, "webbrowser", SimpleNamespace(open=show))
    session = Session(tmp_path)
    stopped, told = list[bool](), list[str]()
    monkeypatch.setattr(type(session.paper), "stop", lambda desk: stopped.append(True))
    server.serve(session, browse=browse, started=told.append)
    (address,) = told
    assert not browse or shown.wait(5.0)
    assert opened == told * browse
    parts = urlsplit(address)
    (listener,) = found["sockets"]
    assert found["began"] == found["sockets"]
    assert (parts.scheme, parts.hostname, parts.port, parts.path) == ("http", *found["at"], "/")
    assert found["at"][0] == "127.0.0.1"
    assert listener.fileno() == -1
    assert stopped == [True]
    config = found["config"]
    guard = config.app
    assert isinstance(guard, server.Guard)
    assert parse_qs(parts.query) == {"token": [guard.token]}
    # 32 random bytes as base64 without padding.
    assert (guard.port, len(guard.token)) == (parts.port, 43)
    assert {
        key: getattr(config, key)
        for key in (
            *("http", "log_config", "access_log", "server_header", "proxy_headers", "lifespan"),
            *("ws", "limit_concurrency", "timeout_graceful_shutdown"),
        )
    } == {
        "http": PatientProtocol,
        "log_config": None,
        "access_log": False,
        "server_header": False,
        "proxy_headers": False,
        "lifespan": "off",
        "ws": "none",
        "limit_concurrency": 200,
        "timeout_graceful_shutdown": 3,
    }
