"""The solver's process ends when nobody waits for it any more, whatever its library is at."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import time
from pathlib import Path

import pytest

from panelshift.needs import packing

LIBRARY = """
import time
class Any:
    def __init__(self, *given, **named): pass
    def solve(self, config, reports): time.sleep(3600)
    def drain(self):
        open(__file__ + ".at-work", "w").close()
        return []
Item = StripPackingInstance = StripPackingConfig = ProgressQueue = Any
"""
"""In the place of the library: one that works for ever and finds nothing."""

WAITING = """
import json, os, sys
from panelshift.needs import packing
packing._run_child(json.dumps({**json.loads(sys.argv[1]), "parent": os.getpid()}))
"""

TASK = {"width": 50.0, "rings": [], "turns": [0.0], "seed": 7, "effort": 9, "enough": 0.0}


@pytest.fixture
def endless(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    library = tmp_path / "spyrrow.py"
    library.write_text(LIBRARY)
    monkeypatch.syspath_prepend(str(tmp_path))
    return library


def test_a_solver_that_finds_nothing_gives_up_by_itself(
    endless: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(packing, "_LONGEST_S", 30.0)
    begin = time.monotonic()
    told = packing._run_child(json.dumps({**TASK, "seconds": 0.05, "parent": os.getpid()}))
    assert told is not None
    assert told.strip() == "null"
    assert time.monotonic() - begin < 20.0


@pytest.mark.slow
@pytest.mark.skipif(not Path("/proc/self/stat").exists(), reason="needs /proc to see processes")
def test_the_solver_ends_with_a_parent_that_is_killed(endless: Path) -> None:
    task = json.dumps({**TASK, "seconds": 600.0})
    paths = os.pathsep.join([str(endless.parent), *filter(None, sys.path)])
    with subprocess.Popen(
        [sys.executable, "-c", WAITING, task], env={**os.environ, "PYTHONPATH": paths}
    ) as parent:
        mark = Path(f"{endless}.at-work")
        limit = time.monotonic() + 60.0
        while not mark.exists():
            assert time.monotonic() < limit, "the solver was not started"
            time.sleep(0.01)
        (child,) = _children(parent.pid)
        parent.kill()
    limit = time.monotonic() + 10.0
    while _lives(child):
        assert time.monotonic() < limit, "the solver goes on without its parent"
        time.sleep(0.01)


def _stat(pid: int) -> list[str]:
    # proc(5): after the name in brackets come state and parent.
    return Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()


def _lives(pid: int) -> bool:
    try:
        return _stat(pid)[0] != "Z"
    except OSError:
        return False


def _children(parent: int) -> list[int]:
    found = []
    for folder in Path("/proc").glob("[0-9]*"):
        try:
            if _stat(int(folder.name))[1] == str(parent):
                found.append(int(folder.name))
        except OSError:
            continue
    return found
