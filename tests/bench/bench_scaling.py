"""Cost against size: one drawing of more and more panels, and more and more drawings of fourteen.

One drawing may have 500 panels at most, and shapes for about as many: bounds against hostile
files. So the largest size is a hundred patterns.
"""

from __future__ import annotations

import statistics
import time
from typing import Any, Final

import pytest
from pytest_benchmark.fixture import BenchmarkFixture

from panelshift import CutPlan, Reading
from panelshift.cutting.layer_sheets import layer_sheet
from panelshift.cutting.plan import cut_layers
from panelshift.draft import assemble
from panelshift.sheets.svg_writer import sheet_svg
from panelshift.shift import shift
from panelshift.sources.svg import read_svg

from . import inputs

RING_GROUPS: Final = (1, 4, 10, 35)
PATTERNS: Final = (1, 10, 100)
ROUNDS: Final = {1: 15, 4: 7, 10: 5, 35: 3}
"""How often each size is done; once if it is not here."""


@pytest.mark.parametrize("groups", RING_GROUPS)
def bench_one_drawing(benchmark: BenchmarkFixture, groups: int) -> None:
    """One pattern of `groups` times fourteen panels."""
    svg, reading = inputs.drawing(groups), inputs.reading(groups)

    def run() -> dict[str, float]:
        laps = Laps()
        _job(svg, reading, laps)
        return laps.seconds

    _measure(benchmark, groups, run)


@pytest.mark.parametrize("count", PATTERNS)
def bench_many_patterns(benchmark: BenchmarkFixture, count: int) -> None:
    """`count` patterns of fourteen panels, one after the other."""

    def run() -> dict[str, float]:
        laps = Laps()
        for svg in inputs.many_drawings(count):
            laps.start()
            _job(svg, inputs.reading(), laps)
        return laps.seconds

    _measure(benchmark, count, run)


class Laps:
    """Processor seconds that each step has taken, added up."""

    def __init__(self) -> None:
        self.seconds: dict[str, float] = {}
        self.start()

    def start(self) -> None:
        self._since = time.process_time()

    def lap(self, step: str) -> None:
        now = time.process_time()
        self.seconds[step] = self.seconds.get(step, 0.0) + now - self._since
        self._since = now


def _job(svg: bytes, reading: Reading, laps: Laps) -> None:
    """Read, shift to four layers and write one of them."""
    drawing = read_svg(svg)
    laps.lap("read")
    pattern = assemble(drawing, reading)
    laps.lap("find the panels")
    turn = inputs.turned(pattern)
    laps.lap("turn")
    shifted = shift(pattern, inputs.STACK, turn)
    laps.lap("shift")
    sheet = layer_sheet(shifted, cut_layers(shifted)[0], CutPlan())
    laps.lap("draw a sheet")
    sheet_svg(sheet)
    laps.lap("write it")


def _measure(benchmark: BenchmarkFixture, groups: int, run: Any) -> None:
    rounds: list[dict[str, float]] = []
    benchmark.pedantic(
        lambda: rounds.append(run()),
        rounds=ROUNDS.get(groups, 1),
        warmup_rounds=1 if groups <= 10 else 0,
    )
    benchmark.extra_info["panels"] = groups * inputs.PANELS
    benchmark.extra_info["seconds"] = {
        step: statistics.median(laps[step] for laps in rounds) for step in rounds[0]
    }
