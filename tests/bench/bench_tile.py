"""Printing fourteen large panels: about thirty pages of A4."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import pytest
from pytest_benchmark.fixture import BenchmarkFixture

from panelshift.cutting.composing import compose
from panelshift.cutting.parts import Part, layer_parts
from panelshift.cutting.plan import cut_layers
from panelshift.job.result import print_job, shift_job
from panelshift.printing.arranging import Footprint, arrange_for_pages
from panelshift.printing.sheet_prints import Printed, print_tiles
from panelshift.printing.tiling import drawn_lines
from tests.support.large import large_job
from tests.support.prints import options


@pytest.fixture(scope="module")
def parts() -> list[Part]:
    job = large_job()
    shifted = shift_job(job)
    return layer_parts(shifted, cut_layers(shifted)[1], job.plan)


def bench_tile(benchmark: BenchmarkFixture, parts: list[Part]) -> None:
    """Places, sheet and PDF, from lines that are drawn already."""

    def tile() -> Printed:
        arrange, turned = _arranged(parts)
        sheet = compose("large: outer", [], parts, arrange, headed=False)
        return print_tiles(sheet, options(), [], turned=turned)

    printed = benchmark(tile)
    benchmark.extra_info["pages"] = printed.pages
    benchmark.extra_info["bytes"] = len(printed.data)
    assert printed.pages >= 25


def bench_tile_document(benchmark: BenchmarkFixture, parts: list[Part]) -> None:
    """The PDF alone, of a sheet that is placed already."""
    arrange, turned = _arranged(parts)
    sheet = compose("large: outer", [], parts, arrange, headed=False)
    benchmark(print_tiles, sheet, options(), ["about"], turned=turned)


def bench_tile_lines(benchmark: BenchmarkFixture) -> None:
    """The lines of one layer's panels, of a shift that nothing was drawn of: they are kept."""

    def fresh() -> tuple[Any, dict[str, Any]]:
        job = large_job()
        shifted = shift_job(job)
        return (shifted, cut_layers(shifted)[1], job.plan), {}

    benchmark.pedantic(layer_parts, setup=fresh, rounds=12, warmup_rounds=1)


def bench_tile_shift(benchmark: BenchmarkFixture) -> None:
    """The shift of both layers."""
    benchmark(shift_job, large_job())


def bench_tile_job(benchmark: BenchmarkFixture) -> None:
    """The whole job, both layers."""
    assert len(benchmark(print_job, large_job(), options())) == 2


def _arranged(parts: Sequence[Part]) -> Any:
    pieces = [Footprint(part.box(), drawn_lines(part.strokes, part.labels)) for part in parts]
    return arrange_for_pages(pieces, options(), keep_together=False, plain_width=900.0)
