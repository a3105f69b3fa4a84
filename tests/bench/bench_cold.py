"""Commands from a cold process: what somebody at a terminal waits for.

Compiled modules are kept, as after an installation, but in a directory of their own.
"""

from __future__ import annotations

import os
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

import pytest
from pytest_benchmark.fixture import BenchmarkFixture

REPOSITORY = Path(__file__).parents[2]
JOB = REPOSITORY / "sample_patterns" / "hourglass.toml"
ROUNDS = 15

pytestmark = pytest.mark.benchmark(timer=time.perf_counter)


@pytest.fixture(scope="module")
def compiled(tmp_path_factory: pytest.TempPathFactory) -> dict[str, str]:
    environment = {k: v for k, v in os.environ.items() if k != "PYTHONDONTWRITEBYTECODE"}
    environment["PYTHONPYCACHEPREFIX"] = str(tmp_path_factory.mktemp("compiled"))
    return environment


def bench_cold_cut(benchmark: BenchmarkFixture, compiled: dict[str, str], tmp_path: Path) -> None:
    _measure(benchmark, compiled, "-m", "panelshift", "cut", str(JOB), out=tmp_path)
    assert len(list((tmp_path / "0").iterdir())) > 3


def bench_cold_help(benchmark: BenchmarkFixture, compiled: dict[str, str]) -> None:
    _measure(benchmark, compiled, "-m", "panelshift", "--help")


def bench_cold_python(benchmark: BenchmarkFixture, compiled: dict[str, str]) -> None:
    """The floor of `--help`."""
    _measure(benchmark, compiled, "-c", "import click")


def bench_cold_libraries(benchmark: BenchmarkFixture, compiled: dict[str, str]) -> None:
    """The floor of `cut`: the libraries that it cannot do without."""
    _measure(benchmark, compiled, "-c", "import click, lxml.etree, numpy, pydantic, shapely")


def _measure(
    benchmark: BenchmarkFixture,
    environment: dict[str, str],
    *arguments: str,
    out: Path | None = None,
) -> None:
    """Time a Python process; each run writes to a directory that is new."""
    runs = 0

    def setup() -> tuple[tuple[list[str]], dict[str, Any]]:
        nonlocal runs
        target = [] if out is None else ["--out", str(out / str(runs))]
        runs += 1
        return ([sys.executable, *arguments, *target],), {}

    def run(command: list[str]) -> None:
        subprocess.run(
            command,
            cwd=REPOSITORY,
            env=environment,
            stdout=subprocess.DEVNULL,
            check=True,
        )

    benchmark.pedantic(run, setup=setup, rounds=ROUNDS, warmup_rounds=2)
