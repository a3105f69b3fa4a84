"""Memory held for each curve segment: by a pattern that was read, by its layers, by a process.

As a module it is the child process: ``python -m tests.bench.bench_memory 100`` prints bytes a
segment.
"""

from __future__ import annotations

import gc
import os
import subprocess
import sys
import tracemalloc
from collections.abc import Callable
from pathlib import Path
from typing import Any, Final

import pytest
from pytest_benchmark.fixture import BenchmarkFixture

from panelshift import Shifted, layer_svg, read_pattern
from panelshift.pattern.pattern import Pattern
from panelshift.shift import shift
from panelshift.shift.carrier import Carrier

from . import inputs

PATTERNS: Final = 100


@pytest.mark.parametrize("groups", [1, 10])
def bench_memory(benchmark: BenchmarkFixture, groups: int) -> None:
    """Bytes for each segment that is held: kept, and at most while it is made."""
    benchmark.extra_info.update(benchmark.pedantic(_measured, args=(groups,)))


def bench_resident_memory(benchmark: BenchmarkFixture) -> None:
    """Growth of a process's resident memory with patterns and layers that it keeps."""

    def child() -> float:
        answer = subprocess.run(
            [sys.executable, "-m", "tests.bench.bench_memory", str(PATTERNS)],
            cwd=Path(__file__).parents[2],
            env={**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)},
            capture_output=True,
            text=True,
            check=True,
        )
        return float(answer.stdout)

    benchmark.extra_info["bytes"] = benchmark.pedantic(child)


def segments(pattern: Pattern) -> int:
    """Curve segments of a pattern: outlines, levels and marks."""
    return len(Carrier.of(pattern).control)


def _measured(groups: int) -> dict[str, float]:
    """Bytes for each segment, of the draft or of all layers."""
    svg, reading = inputs.drawing(groups), inputs.reading(groups)

    def read() -> Pattern:
        return read_pattern(svg, reading=reading)

    def job() -> tuple[Shifted, list[bytes]]:
        shifted = shift(pattern, inputs.STACK, inputs.turned(pattern))
        return shifted, [layer_svg(shifted, fabric.name) for fabric in inputs.STACK.fabrics]

    # What is imported or remembered for all patterns must not count for one.
    pattern = read()
    job()
    pattern, read_kept, read_peak = _traced(read)
    (shifted, _), kept, peak = _traced(job)
    drafted = segments(pattern)
    held = sum(segments(layer.pattern) for layer in shifted.layers)
    return {
        "segments": drafted,
        "pattern": read_kept / drafted,
        "pattern at most": read_peak / drafted,
        "all layers": (read_kept + kept) / held,
        "all layers at most": max(read_peak, read_kept + peak) / held,
    }


def _traced(work: Callable[[], Any]) -> tuple[Any, int, int]:
    """What some work returns, and the bytes that are kept of it and that it took at most."""
    gc.collect()
    tracemalloc.start()
    try:
        result = work()
        gc.collect()
        kept, peak = tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()
    return result, kept, peak


def _resident() -> int:
    """Bytes of this process in memory (proc(5): the second number of statm, in pages)."""
    return int(Path("/proc/self/statm").read_text().split()[1]) * 4096


def _kept_by_process(count: int) -> float:
    """Bytes a segment by which this process grows with patterns and layers that it keeps."""
    drawings = list(inputs.many_drawings(count + 3))
    kept = []
    before = 0
    for k, svg in enumerate(drawings):
        pattern = read_pattern(svg)
        kept.append(shift(pattern, inputs.STACK, inputs.turned(pattern)))
        if k == 2:
            gc.collect()
            before = _resident()
    gc.collect()
    held = sum(segments(layer.pattern) for shifted in kept[3:] for layer in shifted.layers)
    return (_resident() - before) / held


if __name__ == "__main__":
    print(_kept_by_process(int(sys.argv[1])))
