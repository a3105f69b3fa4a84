"""Shifting fourteen panels to four layers, and the whole job in memory."""

from __future__ import annotations

from pytest_benchmark.fixture import BenchmarkFixture

from . import inputs, steps


def bench_turn(benchmark: BenchmarkFixture) -> None:
    turned = steps.measured(benchmark, steps.turn, like=steps.turn)
    assert len(turned.angles) == inputs.PANELS


def bench_carry(benchmark: BenchmarkFixture) -> None:
    shifted = steps.measured(benchmark, steps.carry, like=steps.carry)
    assert len(shifted.layers) == 4


def bench_turn_and_carry(benchmark: BenchmarkFixture) -> None:
    shifted = steps.measured(benchmark, steps.turn_and_carry, like=steps.turn)
    assert all(len(layer.pattern.panels) == inputs.PANELS for layer in shifted.layers)


def bench_whole_job(benchmark: BenchmarkFixture) -> None:
    written = benchmark(steps.whole_job, steps.draft())
    assert len(set(written)) == 4
