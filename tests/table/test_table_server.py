"""The server itself: a process of its own on the loopback."""

from __future__ import annotations

import concurrent.futures
import contextlib
import os
import random
import shutil
import signal
import socket
import subprocess
import sys
import threading
import time
from pathlib import Path
from urllib.parse import urlsplit

import httpx
import pytest
from click.testing import CliRunner

from panelshift.cli import main
from panelshift.job import read_job
from panelshift.table.connections import HEADERS_S
from tests.support.runs import SAMPLES

from .client import Served, Table, inner, served


@pytest.fixture
def folder(tmp_path) -> Path:
    for name in ("hourglass.svg", "hourglass.toml"):
        shutil.copy(SAMPLES / name, tmp_path)
    return tmp_path


def thickness(folder: Path) -> float:
    return read_job(folder / "hourglass.toml").stack.fabric[0].thickness


_TOKENS: list[str] = []
"""Of the starts that tests here make."""


@pytest.mark.slow
def test_it_serves_the_job_and_ends_with_ctrl_c(folder) -> None:
    with served(folder, "hourglass.toml") as server:
        page = server.client.get("/")
        assert page.status_code == 200
        assert "hourglass.toml" in page.text
        assert "server" not in page.headers
        assert httpx.get(server.origin).status_code == 403
        _TOKENS.append(server.address.rpartition("=")[2])
        server.process.send_signal(signal.SIGINT)
        assert server.process.wait(timeout=20) == 0
        assert server.process.stdout is not None
        assert server.process.stderr is not None
        assert "Your work is in hourglass.toml" in server.process.stdout.read()
        assert server.process.stderr.read() == ""


@pytest.mark.slow
def test_it_listens_at_a_wished_port_on_the_loopback_alone(folder) -> None:
    with socket.create_server(("127.0.0.1", 0)) as other:
        port = other.getsockname()[1]
    with served(folder, "--port", str(port)) as server:
        assert server.origin.endswith(f":{port}")
        _TOKENS.append(server.address.rpartition("=")[2])
        others = {
            info[4][0]
            for info in socket.getaddrinfo(socket.gethostname(), None, socket.AF_INET)
            if not str(info[4][0]).startswith("127.")
        }
        for address in others:
            with socket.socket() as probe:
                probe.settimeout(2)
                assert probe.connect_ex((str(address), port)) != 0
        table = Path("/proc/net/tcp")
        if table.exists():
            wanted = f"{port:04X}"
            bound = [line.split()[1] for line in table.read_text().splitlines()[1:]]
            assert {b.split(":")[0] for b in bound if b.endswith(f":{wanted}")} == {"0100007F"}


def test_each_start_has_its_own_token() -> None:
    if len(_TOKENS) < 2:
        pytest.skip("it looks at the starts of the tests before it")
    assert len(set(_TOKENS)) == len(_TOKENS)
    assert min(map(len, _TOKENS)) >= 40


@pytest.mark.slow
def test_a_killed_server_loses_no_accepted_edit(folder) -> None:
    """Killed between edits, and in the middle of them: what was answered is on the disk."""
    lots = random.Random(7)
    accepted = thickness(folder)
    for round_ in range(2):
        with served(folder, "hourglass.toml") as server:
            tried = accepted

            def edit(value: float, server=server) -> bool:
                fields = {"fabric": "lining", "key": "thickness", "value": str(value)}
                answer = server.edit("fabric", fields)
                return answer.status_code == 200 and "x-refused" not in answer.headers

            # The first edit takes longer: everything is read then.
            accepted = round(0.1 + round_, 3)
            assert edit(accepted)
            stop = time.monotonic() + lots.uniform(0.4, 0.9)
            with concurrent.futures.ThreadPoolExecutor(1) as pool:
                count = 0
                while True:
                    count += 1
                    tried = round(0.1 + round_ + 0.001 * count, 3)
                    done = pool.submit(edit, tried)
                    try:
                        assert done.result(timeout=max(stop - time.monotonic(), 0.01))
                        accepted = tried
                    except concurrent.futures.TimeoutError:
                        # In the middle of an edit.
                        os.kill(server.process.pid, signal.SIGKILL)
                        break
                try:
                    if done.result():
                        accepted = tried
                except httpx.HTTPError:
                    pass
            server.process.wait(timeout=10)
            assert count >= 2
        # The last one may have got to the disk before its answer got away.
        assert thickness(folder) in (accepted, tried)
        accepted = thickness(folder)
    with served(folder, "hourglass.toml") as server:
        answer = server.client.post(
            "/undo", data={"revision": server.revision()}, headers={"origin": server.origin}
        )
        assert "Taken back: the thickness of lining" in answer.text


@pytest.mark.slow
def test_a_thousand_requests_at_once_do_not_stop_it(folder) -> None:
    """Readers and writers together; every edit that was accepted is there in the end."""
    requests, workers = 1000, 24
    with served(folder, "hourglass.toml") as server:
        fabrics = [fabric.name for fabric in read_job(folder / "hourglass.toml").stack.fabric]
        revision = server.revision()
        deadline = time.monotonic() + 40.0

        def ask(k: int) -> int:
            if time.monotonic() > deadline:
                return 0
            if k % 10 == 0:
                fields = {
                    "fabric": fabrics[k // 10 % len(fabrics)],
                    "key": "thickness",
                    "value": f"{0.2 + 0.001 * k:.3f}",
                    "revision": revision,
                }
                headers = {"origin": server.origin}
                return own.client.post("/edit/fabric", data=fields, headers=headers).status_code
            path = ("/static/table.css", "/pulse?mark=x", "/section", "/nowhere")[k % 4]
            return own.client.get(path).status_code

        # Threads that share one may take a connection that another has just closed.
        own = threading.local()
        clients = [server.another_client() for _ in range(workers)]
        with (
            contextlib.ExitStack() as opened,
            concurrent.futures.ThreadPoolExecutor(
                workers, initializer=lambda: setattr(own, "client", clients.pop())
            ) as pool,
        ):
            for client in clients:
                opened.enter_context(client)
            found = list(pool.map(ask, range(requests)))
        counts = {status: found.count(status) for status in set(found)}
        assert counts.pop(0, 0) == 0, "too slow"
        assert set(counts) <= {200, 404, 503}
        assert counts[200] >= 700
        assert server.client.get("/").status_code == 200
        assert server.process.poll() is None
        read_job(folder / "hourglass.toml")


def test_a_port_that_is_taken(folder) -> None:
    with socket.create_server(("127.0.0.1", 0)) as other:
        port = other.getsockname()[1]
        result = CliRunner().invoke(main, ["table", "--no-browser", "--port", str(port)])
    assert result.exit_code == 2
    assert f"port {port} cannot be used" in result.output
    assert "What to do" in result.output


@pytest.mark.parametrize(
    ("argument", "words"),
    [("nothing.toml", "cannot read"), ("hourglass.svg", "is a drawing, not a job file")],
)
def test_what_cannot_be_opened(folder, argument, words) -> None:
    result = CliRunner().invoke(main, ["table", "--no-browser", str(folder / argument)])
    assert result.exit_code == 2
    assert words in result.output


@pytest.mark.slow
@pytest.mark.parametrize("missing", ["starlette", "uvicorn", "tomlkit"])
def test_without_the_extra_the_command_says_what_to_install(folder, missing) -> None:
    code = (
        "import sys\n"
        "class Missing:\n"
        "    def find_spec(self, name, path=None, target=None):\n"
        "        if name.partition('.')[0] == sys.argv[1]:\n"
        "            raise ModuleNotFoundError(name, name=name)\n"
        "sys.meta_path.insert(0, Missing())\n"
        "from panelshift.cli import main\n"
        "main(['table', '--no-browser'])"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, missing], capture_output=True, text=True, cwd=folder
    )
    assert done.returncode == 2
    assert "pip install '.[table]'" in done.stderr
    assert "Traceback" not in done.stderr


def test_help_loads_nothing_of_it() -> None:
    code = (
        "import sys\nfrom panelshift.cli import main\n"
        "try: main(['table', '--help'])\n"
        "except SystemExit: pass\n"
        "print(sorted({'starlette', 'uvicorn', 'tomlkit', 'numpy'} & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip().endswith("[]")


def half_sent(server: Served, words: bytes) -> socket.socket:
    """A connection on which the rest of a request never comes."""
    host, port = urlsplit(server.origin).hostname, urlsplit(server.origin).port
    opened = socket.create_connection((host, port), timeout=60.0)
    opened.sendall(words)
    return opened


@pytest.mark.slow
def test_half_sent_requests_keep_nobody_out(folder) -> None:
    """250 heads and bodies that never end, as a broken program or a hostile page may send them."""
    with served(folder, "hourglass.toml") as server:
        head = f"GET / HTTP/1.1\r\nHost: {urlsplit(server.origin).netloc}\r\n".encode()
        begun = time.monotonic()
        left_open = [half_sent(server, head) for _ in range(250)]
        answers = []
        while time.monotonic() - begun < 20.0:
            answers.append(server.client.get("/work").status_code)
            if answers[-1] == 200:
                break
            time.sleep(0.25)
        assert answers[-1] == 200
        assert time.monotonic() - begun < 5.0
        # And none of them is waited for without end.
        left_open[-1].settimeout(HEADERS_S + 5.0)
        assert left_open[-1].recv(1) == b""
        for opened in left_open:
            opened.close()


def test_a_drawing_that_is_a_pipe_is_refused_at_once(folder) -> None:
    """Opening it would wait for somebody to write into it."""
    (folder / "hourglass.svg").unlink()
    os.mkfifo(folder / "hourglass.svg")
    table = Table(folder, "hourglass.toml")
    begun = time.monotonic()
    text = inner(table.get("/work").text, "step-pattern")
    assert "this is a pipe or a device, not a file" in text
    assert time.monotonic() - begun < 2.0
    assert table.get("/parcel.zip", params={"part": "job"}).headers["x-refused"] == "1"
    (folder / "hourglass.toml").unlink()
    os.mkfifo(folder / "hourglass.toml")
    assert "cannot be read" in table.get("/work").text
    assert table.session.jobs() == []
