"""Who is let in, and what every answer carries."""

from __future__ import annotations

import re

import anyio
import httpx
import pytest

from panelshift.table import server
from panelshift.table.app import STATIC
from panelshift.table.server import HEADERS, LARGEST_EDIT, LARGEST_UPLOAD

from .client import ORIGIN, PORT, TOKEN, Table, sample, tree

COOKIE = f"panelshift-table-{PORT}={TOKEN}"
PATHS = ("/", "/work", "/look", "/section", "/pulse", "/parcel.zip", "/static/table.js", "/nowhere")


@pytest.fixture(scope="module")
def table(tmp_path_factory) -> Table:
    return sample(tmp_path_factory.mktemp("table"))


@pytest.mark.parametrize("path", PATHS)
@pytest.mark.parametrize(
    "headers",
    [
        {},
        {"cookie": f"panelshift-table-{PORT}=wrong"},
        {"cookie": f"panelshift-table-{PORT + 1}={TOKEN}"},
        {"cookie": f"panelshift-table-{PORT}="},
        {"authorization": f"Bearer {TOKEN}"},
    ],
)
def test_nothing_is_answered_without_the_token(table, path, headers) -> None:
    answer = table.ask("GET", path, headers=headers)
    assert answer.status_code == 403
    assert answer.headers["content-type"].startswith("text/plain")
    assert "hourglass" not in answer.text


@pytest.mark.parametrize(
    "host",
    [
        "evil.example",
        f"evil.example:{PORT}",
        "127.0.0.1",
        f"127.0.0.1:{PORT + 1}",
        f"127.0.0.1.evil.example:{PORT}",
        f"[::1]:{PORT}",
        f"0.0.0.0:{PORT}",
        "",
    ],
)
@pytest.mark.parametrize("path", ["/", f"/?token={TOKEN}", "/static/table.js"])
def test_only_its_own_name_is_answered(table, host, path) -> None:
    """A hostile name server that points its name here (DNS rebinding) gets nothing."""
    assert table.ask("GET", path, headers={"host": host, "cookie": COOKIE}).status_code == 403


@pytest.mark.parametrize("host", [f"127.0.0.1:{PORT}", f"localhost:{PORT}", f"LOCALHOST:{PORT}"])
def test_its_own_names(table, host) -> None:
    assert table.ask("GET", "/work", headers={"host": host, "cookie": COOKIE}).status_code == 200


def test_two_hosts_are_none(table) -> None:
    async def send() -> int:
        status = []

        async def receive() -> dict[str, object]:
            return {"type": "http.request", "body": b""}

        async def answer(message) -> None:
            status.append(message.get("status"))

        scope = {
            "type": "http",
            "method": "GET",
            "path": "/work",
            "query_string": b"",
            "headers": [
                (b"host", f"127.0.0.1:{PORT}".encode()),
                (b"host", b"evil.example"),
                (b"cookie", COOKIE.encode()),
            ],
        }
        await table.app(scope, receive, answer)
        return status[0]

    assert anyio.run(send) == 403


def test_the_opening_address_gives_a_strict_cookie_and_leaves_the_address(table) -> None:
    answer = table.ask("GET", "/", params={"token": TOKEN})
    assert answer.status_code == 303
    assert answer.headers["location"] == "/"
    cookie = answer.headers["set-cookie"].lower()
    assert TOKEN in cookie
    assert "httponly" in cookie
    assert "samesite=strict" in cookie
    for wrong in (TOKEN[:-1], TOKEN + "x", "", "é"):
        assert table.ask("GET", "/", params={"token": wrong}).status_code == 403
    assert table.ask("GET", "/work", params={"token": TOKEN}).status_code == 403
    assert table.ask("GET", f"/?token={TOKEN}&token=x").status_code == 403


def test_a_cookie_among_strange_ones(table) -> None:
    for cookie in (f'a="\x22; {COOKIE}', f"b[]=1; ;;=; {COOKIE}; c", f"{COOKIE}; d={{1}}"):
        answer = table.ask("GET", "/work", headers={"cookie": cookie})
        assert answer.status_code == 200, cookie


@pytest.mark.parametrize(
    "origin",
    [
        {"origin": "http://evil.example"},
        {"origin": "null"},
        {"origin": f"http://127.0.0.1:{PORT + 1}"},
        {"origin": f"https://127.0.0.1:{PORT}"},
        {"origin": f"http://localhost:{PORT}"},
        {"origin": f"{ORIGIN}.evil.example"},
        {"origin": "http://evil.example", "sec-fetch-site": "same-origin"},
        {"sec-fetch-site": "cross-site"},
        {"sec-fetch-site": "same-site"},
        {"sec-fetch-site": "none"},
        {},
    ],
)
@pytest.mark.parametrize("path", ["/edit/setting", "/undo", "/redo", "/pattern", "/open"])
def test_changes_are_taken_from_the_page_alone(table, origin, path) -> None:
    before = table.text
    data = {"place": "pattern.lacing_gap", "value": "1", "revision": table.revision}
    answer = table.ask("POST", path, data=data, headers={"cookie": COOKIE, **origin})
    assert answer.status_code == 403
    assert table.text == before


@pytest.mark.parametrize("origin", [{"origin": ORIGIN}, {"sec-fetch-site": "same-origin"}])
def test_the_page_s_own_changes(table, origin) -> None:
    answer = table.ask("POST", "/undo", data={}, headers={"cookie": COOKIE, **origin})
    assert answer.status_code == 200


@pytest.mark.parametrize("method", ["PUT", "DELETE", "PATCH", "OPTIONS", "TRACE", "CONNECT"])
def test_no_other_methods(table, method) -> None:
    headers = {"cookie": COOKIE, "origin": ORIGIN}
    for path in ("/", "/edit/setting"):
        assert table.ask(method, path, headers=headers).status_code == 405


def test_reading_changes_nothing_and_changing_is_not_reading(table) -> None:
    headers = {"cookie": COOKIE, "origin": ORIGIN}
    for path in ("/edit/setting", "/undo", "/redo", "/pattern", "/open"):
        assert table.ask("GET", path, headers=headers).status_code == 405
    for path in ("/", "/work", "/parcel.zip"):
        assert table.ask("POST", path, headers=headers).status_code == 405


@pytest.mark.parametrize(
    "name",
    ["..%2Fapp.py", "%2e%2e/app.py", "....//app.py", "vendor/README.md", "", "table.css%00", "x"],
)
def test_no_path_leads_out(table, name) -> None:
    answer = table.ask("GET", f"/static/{name}", headers={"cookie": COOKIE})
    assert answer.status_code == 404
    assert "import" not in answer.text


@pytest.mark.parametrize("name", STATIC)
def test_every_file_of_the_page(table, name) -> None:
    answer = table.ask("GET", f"/static/{name}", headers={"cookie": COOKIE})
    assert answer.status_code == 200
    assert answer.headers["content-type"].partition(";")[0] == STATIC[name]


@pytest.mark.parametrize("path", [*PATHS, f"/?token={TOKEN}"])
@pytest.mark.parametrize("cookie", [COOKIE, ""])
def test_every_answer_carries_the_headers(table, path, cookie) -> None:
    answer = table.ask("GET", path, headers={"cookie": cookie})
    for name, value in HEADERS.items():
        assert answer.headers[name] == value
    policy = answer.headers["content-security-policy"]
    assert "default-src 'none'" in policy
    assert "unsafe" not in policy
    assert "*" not in policy


def test_the_page_needs_nothing_that_the_policy_forbids(table) -> None:
    """No inline script, style or handler, and nothing from any other address."""
    for path in ("/", "/look", "/look/overlay"):
        text = table.get(path).text
        page = tree(text)
        assert not page.xpath("//script[not(@src)]"), path
        assert not page.xpath("//style | //*[@style]"), path
        assert not [a for a in page.xpath("//@*") if str(a.attrname).startswith("on")]
        links = [str(a) for a in page.xpath("//@src | //@href | //@action")]
        assert all(re.match(r"[/#][^/]?", link) for link in links), links
        assert not re.search(r"hx-(on|vals=.js:|headers)", text)


# -- sizes ------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("path", "most"), [("/edit/text", LARGEST_EDIT), ("/pattern", LARGEST_UPLOAD)]
)
def test_a_stated_size_that_is_too_large(table, path, most) -> None:
    for length in (str(most + 1), "9" * 30, "-1", "x", "1e3"):
        headers = {"cookie": COOKIE, "origin": ORIGIN, "content-length": length}
        assert table.ask("POST", path, headers=headers).status_code == 413


def test_a_body_that_grows_beyond_what_it_said(table, monkeypatch) -> None:
    monkeypatch.setattr(server, "LARGEST_EDIT", 10_000)
    taken = []

    async def endless():
        yield b"value="
        while True:
            taken.append(1)
            yield b"x" * 4000

    async def send() -> int:
        transport = httpx.ASGITransport(app=table.app)
        async with httpx.AsyncClient(transport=transport, base_url=ORIGIN) as client:
            kind = "application/x-www-form-urlencoded"
            headers = {"cookie": COOKIE, "origin": ORIGIN, "content-type": kind}
            answer = await client.post("/edit/setting", content=endless(), headers=headers)
            return answer.status_code

    assert anyio.run(send) == 413
    assert len(taken) < 10


def test_forms_with_too_much_in_them(table) -> None:
    headers = {"cookie": COOKIE, "origin": ORIGIN}
    fields = [(f"f{k}", (None, "x")) for k in range(200)]
    assert table.ask("POST", "/edit/setting", files=fields, headers=headers).status_code == 400
    files = [("pattern", ("a.svg", b"<svg/>"))] * 3
    assert table.ask("POST", "/pattern", files=files, headers=headers).status_code == 400
    upload = [("value", ("a.svg", b"<svg/>"))]
    assert table.ask("POST", "/edit/setting", files=upload, headers=headers).status_code == 400


def test_web_sockets_are_closed(table) -> None:
    async def send() -> list[dict[str, object]]:
        sent: list[dict[str, object]] = []

        async def receive() -> dict[str, object]:
            return {"type": "websocket.connect"}

        async def answer(message) -> None:
            sent.append(message)

        scope = {"type": "websocket", "path": "/", "headers": [], "query_string": b""}
        await table.app(scope, receive, answer)
        return sent

    assert anyio.run(send)[0]["type"] == "websocket.close"
