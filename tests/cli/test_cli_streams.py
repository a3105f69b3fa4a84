"""Standard streams that are closed or full: told where it can be, and by the exit code."""

from __future__ import annotations

import io
import json
import subprocess
import sys
from pathlib import Path
from types import SimpleNamespace

import pytest

from panelshift.cli import answering
from panelshift.cli.answering import Reply, envelope, input_bytes
from panelshift.cli.common import progress_bar
from panelshift.errors import SvgError
from tests.support.drawings import half, job_text, panels, svg

pytestmark = pytest.mark.skipif(not Path("/dev/full").exists(), reason="a device of Linux")

SHELL = (
    "import os, sys\n"
    "for handle in map(int, sys.argv[1]):\n"
    "    os.close(handle)\n"
    "os.execv(sys.executable, [sys.executable, '-m', 'panelshift', *sys.argv[2:]])\n"
)


def ran(*command: str, closed: str = "", **streams: object) -> subprocess.CompletedProcess[bytes]:
    """A command in a process that lacks some of the standard streams."""
    start = [sys.executable, "-c", SHELL, closed, *command]
    return subprocess.run(start, check=False, timeout=60, **streams)  # type: ignore[call-overload, no-any-return]


@pytest.mark.parametrize("command", [("--help",), ("cut", "--help"), ("--version",)])
def test_help_that_cannot_be_printed_is_told(command: tuple[str, ...]) -> None:
    with open("/dev/full", "wb") as full:
        done = ran(*command, stdout=full, stderr=subprocess.PIPE)
    assert done.returncode == 2
    assert done.stderr.startswith(b"panelshift: standard output: cannot print: No space left")


def test_a_closed_standard_output_is_told_with_what_helps() -> None:
    done = ran("--version", closed="1", stderr=subprocess.PIPE)
    assert done.returncode == 2
    assert b"it is closed\n  What to do: Start it with that open" in done.stderr


def test_a_wrong_option_ends_with_2_though_nobody_can_be_told() -> None:
    with open("/dev/full", "wb") as full:
        assert ran("cut", "--nothing", stdout=full, stderr=full).returncode == 2


def test_a_bar_goes_on_where_standard_error_is_full(monkeypatch: pytest.MonkeyPatch) -> None:
    full = open("/dev/full", "w")  # noqa: SIM115  (its closing fails as well)
    monkeypatch.setattr(sys, "stderr", full)
    with progress_bar("Jobs", 3) as bar:
        bar.update(1)
        bar.update(2)
    assert bar.pos == 3
    with pytest.raises(OSError, match="No space left"):
        full.close()
    # Closed it is no trouble either, as when the bar is thrown away.
    bar.file.write("more")
    bar.file.flush()


@pytest.mark.slow
@pytest.mark.parametrize("extra", [(), ("--json",)])
def test_a_process_without_standard_streams(tmp_path: Path, extra: tuple[str, ...]) -> None:
    (tmp_path / "draft.svg").write_text(svg(panels(half(3))))
    (tmp_path / "job.toml").write_text(job_text())
    job, out = str(tmp_path / "job.toml"), tmp_path / "out"
    # Its files are written, and not into each other; what it says is lost, which is an error.
    assert ran("cut", job, "--out", str(out), *extra, closed="012").returncode == 2
    written = {path.name: path.read_bytes() for path in out.iterdir()}
    assert len(written) > 2
    assert ran("cut", job, "--out", str(out), *extra, stdout=subprocess.DEVNULL).returncode == 0
    assert {path.name: path.read_bytes() for path in out.iterdir()} == written
    done = ran("check", job, *extra, closed="1", stderr=subprocess.PIPE)
    assert done.returncode == 2
    assert done.stderr.startswith(b"panelshift: standard output: cannot print: Bad file descriptor")
    done = ran("check", "-", *extra, closed="0", stdout=subprocess.PIPE, stderr=subprocess.PIPE)
    assert done.returncode == 2
    assert b"Traceback" not in done.stderr


def test_of_too_much_one_byte_more_is_read(monkeypatch: pytest.MonkeyPatch) -> None:
    stream = io.BytesIO(b"abcdef")
    monkeypatch.setattr(sys, "stdin", SimpleNamespace(buffer=stream))
    assert [input_bytes(2), input_bytes(1), input_bytes(9)] == [b"abc", b"de", b"f"]


def test_no_object_holds_a_number_that_json_has_not() -> None:
    assert json.loads(envelope("fit", Reply(str, lambda: {"a": 0.1})))["data"] == {"a": 0.1}
    for value in (float("nan"), float("inf")):
        with pytest.raises(ValueError, match="not JSON compliant"):
            envelope("fit", Reply(str, lambda value=value: {"a": value}))


def test_a_drawing_is_taken_from_standard_input_or_from_its_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(answering, "input_bytes", lambda: b"piped")
    monkeypatch.chdir(tmp_path)
    Path("draft.svg").write_bytes(b"kept")
    assert answering.read_drawn(answering.STANDARD) == b"piped"
    assert answering.read_drawn(Path("draft.svg")) == b"kept"
    with pytest.raises(SvgError) as caught:
        answering.read_drawn(Path("none.svg"))
    assert (caught.value.source, caught.value.remedy) == (
        "none.svg",
        "Check the name and the folder.",
    )
