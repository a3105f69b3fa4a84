"""One tab on the table, and everything that its page asks for and says."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import Any, Final
from urllib.parse import urlsplit

from playwright.sync_api import (
    BrowserContext,
    Locator,
    Request,
    Response,
    expect,
)

PATIENCE_MS: Final = 20_000
"""For whatever the page is to do; a laden machine takes its time."""

STEPS: Final = ("pattern", "body", "fabrics", "look", "take")

_UNDER_WAY = ".htmx-request, .htmx-swapping, .htmx-settling"

_SLOW_DRIVER: Final = "GL Driver Message (OpenGL, Performance"
"""Said by a browser without a graphics card when a canvas is pictured."""

_BREACHES = """
addEventListener("securitypolicyviolation",
  event => console.error(`breach of ${event.violatedDirective} by ${event.blockedURI}`));
"""
"""Tells of everything that the page's own policy forbids it."""

expect.set_options(timeout=PATIENCE_MS)


class Desk:
    """A tab: what a maker does in it.

    Parameters
    ----------
    context : BrowserContext
        Of the tab.
    origin : str
        Of the server.
    """

    def __init__(self, context: BrowserContext, origin: str) -> None:
        self.origin = origin
        self.messages: list[str] = []
        self.requests: list[str] = []
        self._looks = 0
        self.page = page = context.new_page()
        page.set_default_timeout(PATIENCE_MS)
        page.add_init_script(_BREACHES)
        page.on("console", lambda message: self.messages.append(f"{message.type}: {message.text}"))
        page.on("pageerror", lambda error: self.messages.append(f"thrown: {error}"))
        page.on("crash", lambda page: self.messages.append("the tab crashed"))
        page.on("request", lambda request: self.requests.append(request.url))
        page.on("response", self._note)
        # From the start: a key can be faster than the order to catch the browser's own window.
        page.on("filechooser", lambda chooser: None)

    def _note(self, response: Response) -> None:
        self._looks += urlsplit(response.url).path == "/look"

    # -- going somewhere ------------------------------------------------------------

    def open(self, address: str = "") -> None:
        """Go to the page and wait until step 4 has come as well."""
        looks = self._looks
        self.page.goto(address or self.origin)
        self.until(lambda: self._looks > looks)
        self.rest()

    def rest(self) -> None:
        """Wait until nothing is under way."""
        # Not wait_for_function: it runs text as script, which the page's policy forbids.
        expect(self.page.locator(_UNDER_WAY)).to_have_count(0)

    def until(self, true: Callable[[], bool]) -> None:
        """Wait for something that the page is to bring about."""
        for _ in range(PATIENCE_MS // 10):
            if true():
                return
            # Hands over to Playwright, which then notes what has come.
            self.page.wait_for_timeout(10)
        raise TimeoutError("the page did not do what was waited for")

    # -- changing something ---------------------------------------------------------

    def change(self, act: Callable[[], object]) -> Response:
        """Do what the server is to answer, and wait until the page shows it, with step 4."""
        looks = self._looks
        with self.page.expect_response(_is_change) as answered:
            act()
        answer = answered.value
        if answer.ok and "x-refused" not in answer.headers:
            self.until(lambda: self._looks > looks)
        self.rest()
        return answer

    def type(self, box: Locator, text: str) -> Response:
        """Write something into a field and leave it."""

        def act() -> None:
            box.fill(text)
            box.press("Tab")

        return self.change(act)

    def choose_pattern(self, name: str, content: bytes) -> Response:
        """Choose a file in the browser's own window for it."""
        file: Any = {"name": name, "mimeType": "image/svg+xml", "buffer": content}

        def act() -> None:
            with self.page.expect_file_chooser() as chooser:
                self.page.locator("#pattern-file").click()
            chooser.value.set_files(file)

        return self.change(act)

    def drop_pattern(self, name: str, content: str) -> Response:
        """Let a file fall on the page, as a drag from another window ends."""
        carried = self.page.evaluate_handle(
            """([name, content]) => {
                const carried = new DataTransfer();
                carried.items.add(new File([content], name, {type: "image/svg+xml"}));
                return carried;
            }""",
            [name, content],
        )

        def act() -> None:
            for kind in ("dragenter", "dragover", "drop"):
                self.page.locator("main").dispatch_event(kind, {"dataTransfer": carried})

        return self.change(act)

    def by_classes(self) -> Response:
        """Take the body by classes."""
        self.page.locator("#body-more > summary").click()
        return self.change(self.page.locator("#model-classes button").click)

    def parcel(self, act: Callable[[], object] | None = None) -> dict[str, bytes]:
        """Take everything away; names in the zip and what is in them."""
        with self.page.expect_download(timeout=3 * PATIENCE_MS) as download:
            (act or self.page.locator("#take").click)()
        with zipfile.ZipFile(io.BytesIO(Path(download.value.path()).read_bytes())) as archive:
            return {name: archive.read(name) for name in archive.namelist()}

    # -- parts of the page ----------------------------------------------------------

    def id(self, ident: str) -> Locator:
        return self.page.locator(f"[id={ident!r}]")

    def layer(self, name: str) -> Locator:
        """The row of a fabric."""
        return self.page.locator(f".layer[data-fabric={name!r}]")

    def layers(self) -> list[str]:
        """Names of the fabrics from the body outwards."""
        rows = self.page.locator(".layer").all()
        return [row.get_attribute("data-fabric") or "" for row in rows]

    def thickness(self, name: str) -> Locator:
        return self.layer(name).locator("[id$='-thickness']")

    def focused(self) -> str:
        """Id of what has the focus."""
        return str(self.page.evaluate("document.activeElement.id"))

    # -- what must never be ---------------------------------------------------------

    def strays(self) -> list[str]:
        """Everything asked for that is not the server's own."""
        return [
            url
            for url in self.requests
            if not url.startswith((f"{self.origin}/", f"blob:{self.origin}/", "data:"))
        ]

    def faults(self) -> list[str]:
        """Warnings and errors that the browser or the page wrote down."""
        return [
            words
            for words in self.messages
            if not words.startswith(("log:", "info:", "debug:")) and _SLOW_DRIVER not in words
        ]


def _is_change(response: Response) -> bool:
    request: Request = response.request
    return request.method == "POST"
