"""A headless Chromium driven over its developer protocol, by a pipe and the standard library.

The browser gets its orders through file descriptor 3 and answers through 4, each message JSON
with a null byte after it (``--remote-debugging-pipe``): no port is opened, and no package is
needed beyond Debian's ``chromium``.
"""

from __future__ import annotations

import base64
import contextlib
import json
import os
import select
import shutil
import subprocess
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any, Final

PROGRAMS: Final = ("chromium", "chromium-browser", "google-chrome")

QUIET: Final = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)
"""Without these it asks for things on the network at every start."""

OPTIONS: Final = (
    "--headless",
    *QUIET,
    "--disable-extensions",
    "--hide-scrollbars",
    "--force-device-scale-factor=1",
    "--remote-debugging-pipe",
)

_PATIENCE_S: Final = 60.0


def program() -> str | None:
    """Path of the installed browser, or None."""
    return next((path for name in PROGRAMS if (path := shutil.which(name))), None)


class Page:
    """One open page: everything it asked for and said is kept."""

    def __init__(self, orders: int, answers: int) -> None:
        self._orders, self._answers = orders, answers
        self._rest = b""
        self._count = 0
        self._session = ""
        self.requests: list[str] = []
        self.messages: list[str] = []
        self._loaded = False

    def attach(self) -> None:
        target = self._call("Target.createTarget", url="about:blank")["targetId"]
        self._session = self._call("Target.attachToTarget", targetId=target, flatten=True)[
            "sessionId"
        ]
        for domain in ("Page", "Network", "Runtime", "Log"):
            self._call(f"{domain}.enable")

    def open(self, file: Path) -> None:
        """Open a file and wait until it has loaded."""
        self._loaded = False
        self.requests.clear()
        self.messages.clear()
        self._call("Page.navigate", url=file.resolve().as_uri())
        deadline = time.monotonic() + _PATIENCE_S
        while not self._loaded:
            self._take(deadline)
        # Late requests and messages come before the answer to a question.
        self.ask("new Promise(done => setTimeout(done, 150))")

    def ask(self, expression: str) -> Any:
        """Value of a JavaScript expression; promises are waited for."""
        answer = self._call(
            "Runtime.evaluate", expression=expression, returnByValue=True, awaitPromise=True
        )
        if "exceptionDetails" in answer:
            raise RuntimeError(str(answer["exceptionDetails"])[:2000])
        return answer["result"].get("value")

    def size(self, width: int, height: int) -> None:
        """Set the window's size in px."""
        self._call(
            "Emulation.setDeviceMetricsOverride",
            width=width,
            height=height,
            deviceScaleFactor=1,
            mobile=False,
        )

    def media(self, name: str) -> None:
        """Show the page as for ``print``, or as usual with an empty name."""
        self._call("Emulation.setEmulatedMedia", media=name)

    def picture(self) -> bytes:
        """PNG of the whole page."""
        answer = self._call("Page.captureScreenshot", format="png", captureBeyondViewport=True)
        return base64.b64decode(answer["data"])

    def pdf(self, width_in: float, height_in: float) -> bytes:
        """Print to PDF on paper of that size; margins are the page's own."""
        answer = self._call(
            "Page.printToPDF",
            paperWidth=width_in,
            paperHeight=height_in,
            printBackground=True,
            preferCSSPageSize=False,
            displayHeaderFooter=False,
        )
        return base64.b64decode(answer["data"])

    def _call(self, method: str, **parameters: Any) -> Any:
        self._count += 1
        order: dict[str, Any] = {"id": self._count, "method": method, "params": parameters}
        if self._session:
            order["sessionId"] = self._session
        self._write(json.dumps(order).encode() + b"\0")
        deadline = time.monotonic() + _PATIENCE_S
        while True:
            message = self._take(deadline)
            if message.get("id") == self._count:
                if "error" in message:
                    raise RuntimeError(f"{method}: {message['error']}")
                return message["result"]

    def _write(self, data: bytes) -> None:
        while data:
            data = data[os.write(self._orders, data) :]

    def _take(self, deadline: float) -> dict[str, Any]:
        while b"\0" not in self._rest:
            ready, _, _ = select.select([self._answers], [], [], deadline - time.monotonic())
            if not ready:
                raise TimeoutError("the browser does not answer")
            read = os.read(self._answers, 1 << 20)
            if not read:
                raise RuntimeError("the browser has closed its pipe")
            self._rest += read
        raw, self._rest = self._rest.split(b"\0", 1)
        message: dict[str, Any] = json.loads(raw)
        self._note(message.get("method", ""), message.get("params", {}))
        return message

    def _note(self, method: str, about: dict[str, Any]) -> None:
        if method == "Page.loadEventFired":
            self._loaded = True
        elif method == "Network.requestWillBeSent":
            self.requests.append(about["request"]["url"])
        elif method == "Runtime.consoleAPICalled":
            words = " ".join(str(a.get("value", a.get("description"))) for a in about["args"])
            self.messages.append(f"{about['type']}: {words}")
        elif method == "Runtime.exceptionThrown":
            self.messages.append(f"exception: {about['exceptionDetails']}")
        elif method == "Log.entryAdded":
            self.messages.append(f"{about['entry']['level']}: {about['entry']['text']}")


@contextlib.contextmanager
def browser(folder: Path) -> Iterator[Page]:
    """Start a browser with its profile in a folder, and end it."""
    path = program()
    if path is None:
        raise RuntimeError("no Chromium is installed")
    to_browser, orders = os.pipe()
    answers, from_browser = os.pipe()

    def place() -> None:
        # The ends may already have the wanted numbers, or each other's.
        spare = [os.dup(to_browser), os.dup(from_browser)]
        spare = [os.dup(end) if end in (3, 4) else end for end in spare]
        os.dup2(spare[0], 3)
        os.dup2(spare[1], 4)

    process = subprocess.Popen(
        [path, *OPTIONS, f"--user-data-dir={folder}", "about:blank"],
        stdin=subprocess.DEVNULL,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        close_fds=False,
        preexec_fn=place,
        start_new_session=True,
    )
    os.close(to_browser)
    os.close(from_browser)
    try:
        page = Page(orders, answers)
        page.attach()
        yield page
    finally:
        os.close(orders)
        os.close(answers)
        try:
            process.wait(timeout=10)
        except subprocess.TimeoutExpired:
            process.kill()
            process.wait()
