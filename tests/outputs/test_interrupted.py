"""A writer that is killed, or a disk that is full, leaves old files or new ones, never parts.

PANELSHIFT_KILL_TRIALS=200 python -m pytest -m "" tests/outputs/test_interrupted.py makes the full
run whose figure docs/reliability.md gives; CI makes 12 trials.
"""

from __future__ import annotations

import os
import random
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from panelshift.errors import OutputError
from panelshift.files import temporary_names
from panelshift.files.outputs import RECORD_NAME, write_outputs

TRIALS = int(os.environ.get("PANELSHIFT_KILL_TRIALS", "12"))
NAMES = ("layer-1-lining.svg", "layer-2-coutille.svg", "overlay.svg")

WRITER = """
import sys
from pathlib import Path
from panelshift.files.outputs import write_outputs
folder = Path(sys.argv[1])
print("ready", flush=True)
turn = 0
while True:
    letter = b"ab"[turn % 2 : turn % 2 + 1]
    write_outputs({folder / name: letter * 300_000 for name in sys.argv[2:]})
    turn += 1
"""


def is_whole(path: Path) -> bool:
    content = path.read_bytes()
    return content in (b"a" * 300_000, b"b" * 300_000)


def test_check_for_parts_can_fail(tmp_path: Path) -> None:
    part = tmp_path / "part"
    part.write_bytes(b"a" * 299_999)
    assert not is_whole(part)
    part.write_bytes(b"a" * 150_000 + b"b" * 150_000)
    assert not is_whole(part)


@pytest.mark.slow
def test_killed_writer_leaves_whole_files(tmp_path: Path) -> None:
    write_outputs({tmp_path / name: b"a" * 300_000 for name in NAMES})
    chance = random.Random(20)
    for _ in range(TRIALS):
        with subprocess.Popen(
            [sys.executable, "-c", WRITER, str(tmp_path), *NAMES], stdout=subprocess.PIPE
        ) as writer:
            assert writer.stdout is not None
            assert writer.stdout.readline() == b"ready\n"
            time.sleep(chance.uniform(0.0, 0.06))
            os.kill(writer.pid, signal.SIGKILL)
        assert all(is_whole(tmp_path / name) for name in NAMES)
        # The next run is not refused: what is there is still known as panelshift's own.
        write_outputs({tmp_path / name: b"a" * 300_000 for name in NAMES})
    left = {path.name for path in tmp_path.iterdir()} - {*NAMES, RECORD_NAME}
    patterns = [temporary_names(name) for name in (*NAMES, RECORD_NAME)]
    assert all(any(pattern.fullmatch(name) for pattern in patterns) for name in left)


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    place = tmp_path / "disk"
    place.mkdir()
    mount = ["mount", "-t", "tmpfs", "-o", "size=128k", "tmpfs", str(place)]
    if subprocess.run(mount, capture_output=True, check=False).returncode:
        pytest.skip("no tmpfs can be mounted here")
    yield place
    subprocess.run(["umount", str(place)], check=True)


def test_full_disk_is_an_error_that_keeps_the_old_files(small_disk: Path) -> None:
    target = small_disk / "layer.svg"
    write_outputs({target: b"old"})
    with pytest.raises(OutputError, match="cannot write: No space left"):
        write_outputs({target: b"n" * 300_000})
    assert target.read_bytes() == b"old"
    assert {path.name for path in small_disk.iterdir()} == {"layer.svg", RECORD_NAME}
