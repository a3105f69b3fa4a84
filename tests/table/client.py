"""A page without a browser: requests straight to the application, or over a real socket."""

from __future__ import annotations

import html
import re
import shutil
import signal
import subprocess
import sys
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import Any, Final
from urllib.parse import urlsplit

import anyio
import httpx
from lxml import etree, html as lxml_html

from panelshift.table.server import create_app
from panelshift.table.session import Session
from tests.support.runs import SAMPLES

TOKEN: Final = "a-token-for-tests"
PORT: Final = 8765
ORIGIN: Final = f"http://127.0.0.1:{PORT}"


class Table:
    """A session and its application, spoken to as the page does."""

    def __init__(self, folder: Path, job: str | None = None) -> None:
        self.folder = folder
        self.session = Session(folder, None if job is None else folder / job)
        self.app = create_app(self.session, token=TOKEN, port=PORT)
        self.cookies = {f"panelshift-table-{PORT}": TOKEN}

    @property
    def job(self) -> Path:
        assert self.session.workspace is not None
        return self.session.workspace.job

    @property
    def text(self) -> str:
        return self.job.read_text()

    @property
    def revision(self) -> str:
        state = self.session.state()
        return "" if state is None else state.work.revision

    def ask(self, method: str, path: str, **options: Any) -> httpx.Response:
        """Send a request as it is, with nothing of the page's own in it."""

        async def send() -> httpx.Response:
            transport = httpx.ASGITransport(app=self.app)
            async with httpx.AsyncClient(transport=transport, base_url=ORIGIN) as client:
                return await client.request(method, path, **options)

        return anyio.run(send)

    def get(self, path: str, **options: Any) -> httpx.Response:
        return self.ask("GET", path, headers=self._headers(), **options)

    def post(self, path: str, fields: Mapping[str, str], *, of: str = "", **more: Any) -> Answer:
        """Send what a control of the page sends; `of` is its id."""
        data = {"revision": self.revision, **fields}
        headers = self._headers() | {"origin": ORIGIN, "hx-request": "true", "hx-trigger": of}
        return Answer(self.ask("POST", path, data=data, headers=headers, **more))

    def edit(self, kind: str, fields: Mapping[str, str], *, of: str = "") -> Answer:
        return self.post(f"/edit/{kind}", fields, of=of)

    def drop(self, name: str, content: bytes) -> Answer:
        return self.post("/pattern", {}, files={"pattern": (name, content, "image/svg+xml")})

    def _headers(self) -> dict[str, str]:
        return {"cookie": "; ".join(f"{k}={v}" for k, v in self.cookies.items())}


class Answer:
    """What the page got back after a change."""

    def __init__(self, response: httpx.Response) -> None:
        assert response.status_code == 200, response.text
        self.response = response
        self.text = response.text
        self.refused = "x-refused" in response.headers

    @property
    def said(self) -> str:
        return inner(self.text, "said")

    def why(self, field: str) -> str:
        """Words beside a field."""
        return inner(self.text, f"{field}-why")


def tree(text: str) -> etree._Element:
    return lxml_html.document_fromstring(text)


def apart(look: etree._Element) -> tuple[list[etree._Element], list[etree._Element]]:
    """Parts of an answer that go into step 4, and those that go to their own places."""
    parts = list(look)
    own = [part for part in parts if "hx-swap-oob" not in part.attrib]
    return own, [part for part in parts if "hx-swap-oob" in part.attrib]


def inner(text: str, ident: str) -> str:
    """Words in the element of an id, empty if there is none."""
    found = tree(text).xpath("//*[@id=$ident]", ident=ident)
    return " ".join("".join(found[0].itertext()).split()) if found else ""


def sample(folder: Path, name: str = "hourglass") -> Table:
    """A table with a copy of a sample on it."""
    for suffix in ("svg", "toml"):
        shutil.copy(SAMPLES / f"{name}.{suffix}", folder)
    return Table(folder, f"{name}.toml")


# -- a real server ----------------------------------------------------------------------


class Served:
    """A server in a process of its own."""

    def __init__(self, process: subprocess.Popen[str], address: str) -> None:
        self.process = process
        parts = urlsplit(address)
        self.address = address
        self.origin = f"{parts.scheme}://{parts.netloc}"
        self.client = httpx.Client(base_url=self.origin, timeout=30.0)
        assert self.client.get(address).status_code == 303

    def another_client(self) -> httpx.Client:
        """One more that may ask what the first may."""
        return httpx.Client(base_url=self.origin, timeout=30.0, cookies=dict(self.client.cookies))

    def revision(self) -> str:
        found = re.search(r'name="revision" value="(\w*)"', self.client.get("/work").text)
        assert found is not None
        return html.unescape(found.group(1))

    def edit(self, kind: str, fields: Mapping[str, str]) -> httpx.Response:
        data = {"revision": self.revision(), **fields}
        headers = {"origin": self.origin}
        return self.client.post(f"/edit/{kind}", data=data, headers=headers)


@contextmanager
def served(folder: Path, *arguments: str) -> Iterator[Served]:
    """Run `panelshift table` in a folder, and end it."""
    process = subprocess.Popen(
        [sys.executable, "-m", "panelshift", "table", *arguments, "--no-browser"],
        cwd=folder,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    assert process.stdout is not None
    assert process.stderr is not None
    try:
        line = process.stdout.readline()
        assert "http://127.0.0.1:" in line, line + process.stderr.read()
        server = Served(process, line.split()[-1])
        try:
            yield server
        finally:
            server.client.close()
    finally:
        if process.poll() is None:
            process.send_signal(signal.SIGINT)
        try:
            process.wait(timeout=20)
        except subprocess.TimeoutExpired:
            process.kill()
            process.wait()
        process.stdout.close()
        process.stderr.close()
