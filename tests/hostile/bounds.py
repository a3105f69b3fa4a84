"""How the tests of bounds measure time and memory."""

from __future__ import annotations

import contextlib
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Final

import pytest

LONGEST_S: Final = 10.0
"""Generous, for slow and busy machines: the bounds are set for one to three seconds."""

MOST_MIB: Final = 900.0
"""What a child process may grow to; the libraries alone take about 100."""

_CHILD: Final = """
import sys
from pathlib import Path
from panelshift.errors import PanelshiftError
from panelshift.draft import assemble
from panelshift.sources.svg import read_svg
try:
    assemble(read_svg(sys.argv[1]))
    words = "read"
except PanelshiftError as error:
    words = error.problem
# Not getrusage: its peak may be that of the process that started this one.
(line,) = [line for line in Path("/proc/self/status").open() if line.startswith("VmHWM")]
print(int(line.split()[1]) / 1024.0, words)
"""


@contextlib.contextmanager
def bounded(seconds: float = LONGEST_S) -> Iterator[None]:
    """Fail if the block takes more processor time than that."""
    begin = time.process_time()
    yield
    spent = time.process_time() - begin
    assert spent <= seconds, f"took {spent:.1f} s"


def memory_of(file: Path) -> tuple[float, str]:
    """Read and assemble a file in a process of its own: its peak in MiB and what it said.

    Only where the system tells the peak; elsewhere the test is skipped.
    """
    if not Path("/proc/self/status").exists():
        pytest.skip("the peak of memory is not told here")
    done = subprocess.run(
        [sys.executable, "-c", _CHILD, str(file)],
        capture_output=True,
        text=True,
        timeout=6 * LONGEST_S,
        check=True,
    )
    peak, _, words = done.stdout.strip().partition(" ")
    return float(peak), words
