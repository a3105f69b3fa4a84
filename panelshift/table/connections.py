"""Connections that keep the server waiting are ended: a request must come whole, and soon."""

from __future__ import annotations

import asyncio
from typing import Final

import h11
from uvicorn.protocols.http.h11_impl import H11Protocol

HEADERS_S: Final = 10.0
"""Within so many seconds a request must have its headers, from its first byte or from the
connection's beginning on. On one machine that takes milliseconds."""

BODY_S: Final = 30.0
"""Within so many seconds of its headers a request must have come whole."""

MOST_WAITED_FOR: Final = 50
"""Requests that may be on their way; of more, those that have been so longest are ended."""

AT_LEAST_S: Final = 1.0
"""No request is ended before that."""


class PatientProtocol(H11Protocol):
    """HTTP as uvicorn has it, with a limit to how long a request may take to come.

    By itself uvicorn waits for ever for the rest of a request, and counts it among those that it
    answers: some hundred half-sent ones kept everybody out.
    """

    _alarm: asyncio.TimerHandle | None = None
    _waits_since: float = 0.0

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        """Begin to wait for the headers."""
        super().connection_made(transport)
        self._wait(HEADERS_S)
        waiting = [
            other
            for other in self.connections
            if isinstance(other, PatientProtocol) and other._alarm is not None
        ]
        waiting.sort(key=lambda other: other._waits_since)
        for other in waiting[:-MOST_WAITED_FOR]:
            if self.loop.time() - other._waits_since > AT_LEAST_S:
                other._end()

    def data_received(self, data: bytes) -> None:
        """Take what has come, and wait for the rest if there is more to come."""
        began = self.conn.their_state
        super().data_received(data)
        now = self.conn.their_state
        if now is h11.SEND_BODY:
            if began is not h11.SEND_BODY:
                self._wait(BODY_S)
        elif now is h11.IDLE and self.conn.trailing_data[0]:
            if self._alarm is None:
                self._wait(HEADERS_S)
        else:
            self._rest()

    def connection_lost(self, exc: Exception | None) -> None:
        """Wait no longer."""
        self._rest()
        super().connection_lost(exc)

    def _wait(self, limit: float) -> None:
        self._rest()
        self._waits_since = self.loop.time()
        self._alarm = self.loop.call_later(limit, self._end)

    def _rest(self) -> None:
        if self._alarm is not None:
            self._alarm.cancel()
            self._alarm = None

    def _end(self) -> None:
        self._rest()
        self.transport.abort()
