"""Reading fourteen panels: SVG to curves, beside other readers; and curves to panels."""

from __future__ import annotations

import io

import numpy as np
import pytest
from pytest_benchmark.fixture import BenchmarkFixture
from scipy.spatial import cKDTree

from . import floors, inputs, steps

SVG = steps.draft()
MM_PER_PX = 25.4 / 96.0


def bench_read(benchmark: BenchmarkFixture) -> None:
    drawing = benchmark(steps.read, SVG)
    assert sum(len(shape.curve) for shape in drawing.shapes) == 292
    assert not drawing.left_out


def bench_read_floor(benchmark: BenchmarkFixture) -> None:
    numbers = benchmark(floors.parsed_numbers, SVG)
    assert len(numbers) > 6 * len(inputs.cubics())


def bench_read_svgpathtools(benchmark: BenchmarkFixture) -> None:
    svgpathtools = pytest.importorskip("svgpathtools")
    text = SVG.decode()
    paths = benchmark(lambda: svgpathtools.Document.from_svg_string(text).paths())
    found = [s for path in paths for s in path if isinstance(s, svgpathtools.CubicBezier)]
    benchmark.extra_info["off_mm"] = _distance(np.array([s.bpoints() for s in found]))
    assert benchmark.extra_info["off_mm"] < 1e-6


def bench_read_svgelements(benchmark: BenchmarkFixture) -> None:
    svgelements = pytest.importorskip("svgelements")

    def read() -> list[object]:
        document = svgelements.SVG.parse(io.BytesIO(SVG), reify=True)
        return [
            svgelements.Path(element)
            for element in document.elements()
            if isinstance(element, svgelements.Shape)
        ]

    paths = benchmark(read)
    found = [s for path in paths for s in path if isinstance(s, svgelements.CubicBezier)]
    points = [[complex(p) for p in (s.start, s.control1, s.control2, s.end)] for s in found]
    benchmark.extra_info["off_mm"] = _distance(np.array(points) * MM_PER_PX)
    # It takes a millimetre for 0.0393701 in.
    assert benchmark.extra_info["off_mm"] < 0.01


def bench_find_panels(benchmark: BenchmarkFixture) -> None:
    pattern = steps.measured(benchmark, steps.find_panels, like=steps.find_panels)
    assert len(pattern.panels) == inputs.PANELS
    assert not pattern.left_out


def _distance(theirs: np.ndarray) -> float:
    """How far their cubics are from ours, in mm, whatever their order."""
    ours = inputs.cubics().control.reshape(-1, 8)
    flat = np.stack([theirs.real, theirs.imag], axis=-1).reshape(-1, 8)
    assert flat.shape == ours.shape
    return float(cKDTree(flat).query(ours)[0].max())
