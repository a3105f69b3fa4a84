"""Arc lengths to 1e-6 mm: of fourteen panels' cubics, and where quadrature is hard."""

from __future__ import annotations

import warnings
from collections.abc import Sequence
from typing import Any

import numpy as np
import pytest
from pytest_benchmark.fixture import BenchmarkFixture

from panelshift.outline import Curve, FloatArray
from panelshift.outline.curve import CUBIC
from panelshift.outline.measure import LENGTH_TOLERANCE_MM, segment_lengths

from . import floors, hard_curves, inputs


def bench_lengths(benchmark: BenchmarkFixture) -> None:
    curve = inputs.cubics()
    lengths = benchmark(segment_lengths, curve)
    assert np.abs(lengths - floors.one_quadrature(curve.control)).max() < LENGTH_TOLERANCE_MM


def bench_lengths_floor(benchmark: BenchmarkFixture) -> None:
    benchmark(floors.one_quadrature, inputs.cubics().control)


def bench_lengths_svgpathtools(benchmark: BenchmarkFixture) -> None:
    library = pytest.importorskip("svgpathtools")
    control = inputs.cubics().control

    def setup() -> tuple[tuple[list[Any]], dict[str, Any]]:
        # Its curves remember their length: each round has new ones.
        return (_svgpathtools_curves(library, control),), {}

    lengths = benchmark.pedantic(_svgpathtools_lengths, setup=setup, rounds=60, warmup_rounds=3)
    assert np.abs(lengths - segment_lengths(inputs.cubics())).max() < LENGTH_TOLERANCE_MM


def bench_lengths_kurbopy(benchmark: BenchmarkFixture) -> None:
    curves = _kurbopy_curves(pytest.importorskip("kurbopy"), inputs.cubics().control)
    lengths = benchmark(_kurbopy_lengths, curves)
    assert np.abs(lengths - segment_lengths(inputs.cubics())).max() < LENGTH_TOLERANCE_MM


def bench_hard_lengths(benchmark: BenchmarkFixture) -> None:
    """Cusps and hairpins against their closed forms; errors go into the report."""
    control, exact = hard_curves.all_hard()
    curve = Curve.trusted(control.copy(), np.full(len(control), CUBIC), False)
    found = {
        "panelshift": benchmark(segment_lengths, curve),
        "16 nodes once": floors.one_quadrature(control),
    }
    svgpathtools = pytest.importorskip("svgpathtools")
    found["svgpathtools"] = _svgpathtools_lengths(_svgpathtools_curves(svgpathtools, control))
    kurbopy = pytest.importorskip("kurbopy")
    found["kurbopy"] = _kurbopy_lengths(_kurbopy_curves(kurbopy, control))
    errors = {name: np.abs(lengths - exact) for name, lengths in found.items()}
    benchmark.extra_info["curves"] = len(exact)
    benchmark.extra_info["largest"] = {name: float(e.max()) for name, e in errors.items()}
    benchmark.extra_info["beyond"] = {
        name: int((e > LENGTH_TOLERANCE_MM).sum()) for name, e in errors.items()
    }


def _svgpathtools_curves(library: Any, control: FloatArray) -> list[Any]:
    points = control[..., 0] + 1j * control[..., 1]
    return [library.CubicBezier(*row) for row in points.tolist()]


def _svgpathtools_lengths(curves: Sequence[Any]) -> FloatArray:
    with warnings.catch_warnings():
        # Its quadrature warns where it gives up; what it answers is compared all the same.
        warnings.simplefilter("ignore")
        return np.array([curve.length(error=LENGTH_TOLERANCE_MM) for curve in curves])


def _kurbopy_curves(library: Any, control: FloatArray) -> list[Any]:
    return [library.CubicBez(*[library.Point(x, y) for x, y in row]) for row in control.tolist()]


def _kurbopy_lengths(curves: Sequence[Any]) -> FloatArray:
    return np.array([curve.arclen(LENGTH_TOLERANCE_MM) for curve in curves])
