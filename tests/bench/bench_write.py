"""Drawing and writing the sheets of four layers."""

from __future__ import annotations

import re

import pytest
from pytest_benchmark.fixture import BenchmarkFixture

from panelshift import to_svgpathtools

from . import floors, inputs, steps


def bench_draw_sheets(benchmark: BenchmarkFixture) -> None:
    sheets = steps.measured(benchmark, steps.draw_sheets, like=steps.draw_sheets)
    cut = [stroke for stroke in sheets[0].strokes if stroke.kind == "cut-line"]
    assert len(cut) == inputs.PANELS


def bench_write(benchmark: BenchmarkFixture) -> None:
    written = steps.measured(benchmark, steps.write, like=steps.write)
    assert all(svg.startswith(b"<?xml") for svg in written)


def bench_write_floor(benchmark: BenchmarkFixture) -> None:
    data = " ".join(
        text for svg in _written() for text in re.findall(r' d="([^"]*)"', svg.decode())
    )
    values = [float(text) for text in re.findall(r"-?[\d.]+", data)]
    benchmark.extra_info["numbers"] = len(values)
    assert len(benchmark(floors.formatted, values).split()) == len(values)


def bench_write_svgpathtools(benchmark: BenchmarkFixture) -> None:
    library = pytest.importorskip("svgpathtools")
    sheets = steps.before(steps.write)
    curves = [[to_svgpathtools(s.curve) for s in sheet.strokes] for sheet in sheets]
    written = benchmark(lambda: [library.paths2Drawing(paths).tostring() for paths in curves])
    assert all("<path" in svg for svg in written)


def _written() -> list[bytes]:
    return steps.write(steps.before(steps.write))
