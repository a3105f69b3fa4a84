"""A batch that was killed, wherever it was, comes to the same bytes when it is run again."""

from __future__ import annotations

import os
import random
import signal
import subprocess
import sys
import time
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import pytest

from panelshift.batch.record import RECORD_NAME
from tests.support.batches import base_job, inline, statuses
from tests.support.terminal import listing

pytestmark = pytest.mark.slow

PROC = Path("/proc/self/stat").exists()


class Killed(BaseException):
    """Stands for the end of the process: nothing catches it, nothing cleans up."""


@pytest.mark.parametrize("call", ["replace", "fsync"])
def test_killed_at_any_step_of_writing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, call: str
) -> None:
    job = base_job(tmp_path / "in")
    inline([job], tmp_path / "whole")
    whole = listing(tmp_path / "whole")
    left_behind = 0
    real = getattr(os, call)
    # What is written first, three layers, the overlay, and the record of the batch: one step
    # each, and one beyond the last.
    for step in range(7):
        out = tmp_path / str(step)
        count = iter(range(100))

        def killed(*arguments: Any, at: int = step) -> None:
            # `count` is this round's: the function does not outlive it.
            if next(count) >= at:  # noqa: B023
                raise Killed
            real(*arguments)

        with monkeypatch.context() as patch:
            patch.setattr(os, call, killed)
            patch.setattr(Path, "unlink", lambda self, missing_ok=False: None)
            patch.setattr(Path, "rmdir", lambda self: None)
            try:
                inline([job], out)
            except Killed:
                left_behind += any(path.name[0] == "." for path in out.rglob("*.????????"))
        inline([job], out)
        assert listing(out) == whole, step
    assert left_behind > 1


def command(job: Path, table: Path, out: Path) -> list[str]:
    return [
        *(sys.executable, "-m", "panelshift", "batch", str(job), "--table", str(table)),
        *("--out", str(out), "--workers", "2"),
    ]


def started(arguments: Sequence[str]) -> subprocess.Popen[bytes]:
    """A batch in a process group of its own."""
    return subprocess.Popen(
        arguments,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        start_new_session=True,
    )


def records(out: Path) -> int:
    return len(list(out.glob(f"*/{RECORD_NAME}")))


def wait_for(out: Path, count: int, process: subprocess.Popen[bytes]) -> None:
    """Wait until so many jobs are done or all is over."""
    limit = time.monotonic() + 60.0
    while records(out) < count and process.poll() is None:
        assert time.monotonic() < limit, "the batch does not get on"
        time.sleep(0.002)


@pytest.mark.skipif(not hasattr(os, "killpg"), reason="the platform has no process groups")
def test_killed_with_all_its_processes_at_random_moments(tmp_path: Path) -> None:
    from panelshift.batch import read_table

    job, table = base_job(tmp_path / "in"), tmp_path / "clients.csv"
    rows = [f"client {k},{10 + k}" for k in range(16)]
    table.write_text("name,pattern.lacing_gap\n" + "\n".join(rows))
    whole, out = tmp_path / "whole", tmp_path / "out"
    assert set(statuses(inline(read_table(table, job).jobs, whole))) == {"done"}

    moments = random.Random(2024)
    done = []
    for _ in range(3):
        process = started(command(job, table, out))
        wait_for(out, records(out) + moments.randrange(1, 5), process)
        time.sleep(moments.uniform(0.0, 0.05))
        os.killpg(process.pid, signal.SIGKILL)
        process.wait()
        done.append(records(out))
    assert 0 < done[0] < 16, "killed too early or too late to show anything"
    assert done == sorted(done)

    outcomes = inline(read_table(table, job).jobs, out)
    assert statuses(outcomes).count("unchanged") >= done[0]
    assert "failed" not in statuses(outcomes)
    assert listing(out) == listing(whole)


@pytest.mark.skipif(not PROC, reason="needs /proc to see the processes")
def test_processes_end_when_the_one_that_started_them_is_killed(tmp_path: Path) -> None:
    job, table, out = base_job(tmp_path / "in"), tmp_path / "clients.csv", tmp_path / "out"
    rows = [f"client {k},{10 + k}" for k in range(400)]
    table.write_text("name,pattern.lacing_gap\n" + "\n".join(rows))
    process = started(command(job, table, out))
    try:
        wait_for(out, 1, process)
        assert len(_of_session(process.pid)) > 2
        process.kill()
        process.wait()
        limit = time.monotonic() + 20.0
        while _of_session(process.pid):
            assert time.monotonic() < limit, "workers go on without the batch"
            time.sleep(0.02)
        assert records(out) < 160
    finally:
        for pid in _of_session(process.pid):
            os.kill(pid, signal.SIGKILL)


def _of_session(session: int) -> list[int]:
    """Living processes of a session."""
    found = []
    for stat in Path("/proc").glob("[0-9]*/stat"):
        try:
            fields = stat.read_text().rpartition(")")[2].split()
        except OSError:
            continue
        # proc(5): state, parent, group, session.
        if fields[3] == str(session) and fields[0] != "Z":
            found.append(int(stat.parent.name))
    return found


def test_script_without_a_guard_for_its_main_part_runs_once(tmp_path: Path) -> None:
    job = base_job(tmp_path / "in")
    script = tmp_path / "sizes.py"
    script.write_text(
        "from pathlib import Path\n"
        "from panelshift.batch import BatchJob, run_many\n"
        f"with open({str(tmp_path / 'ran')!r}, 'a') as stream:\n"
        "    stream.write('x')\n"
        f"jobs = [BatchJob(str(k), {str(job)!r}, {{'pattern.lacing_gap': k}}) for k in range(4)]\n"
        f"found = run_many(jobs, out={str(tmp_path / 'out')!r}, workers=1)\n"
        "print(*(outcome.status for outcome in found))\n"
    )
    result = subprocess.run(
        [sys.executable, str(script)], capture_output=True, text=True, timeout=120, check=False
    )
    assert result.stdout.split() == ["done"] * 4, result.stderr
    assert (tmp_path / "ran").read_text() == "x"
