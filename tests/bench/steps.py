"""The steps of the work on fourteen panels, each taking what the one before it made.

Curves and patterns remember what was computed of them. So a step is measured on an input that no
step after it has seen yet, made anew for each round.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from typing import Any, Final

from pytest_benchmark.fixture import BenchmarkFixture

from panelshift import CutPlan, Shifted, layer_svg, read_pattern, shift_pattern
from panelshift.body.turn import TurnOfCloth
from panelshift.cutting.layer_sheets import layer_sheets
from panelshift.cutting.plan import cut_layers
from panelshift.draft import assemble
from panelshift.pattern.drawing import Drawing
from panelshift.pattern.pattern import Pattern
from panelshift.sheets.sheet import Sheet
from panelshift.sheets.svg_writer import sheet_svg
from panelshift.shift import shift
from panelshift.sources.svg import read_svg

from . import inputs

ROUNDS: Final = 25


@cache
def draft() -> bytes:
    """The drawing of fourteen panels."""
    return inputs.drawing()


def read(svg: bytes) -> Drawing:
    """SVG to curves in mm."""
    return read_svg(svg)


def find_panels(drawing: Drawing) -> Pattern:
    """Curves to panels with edges, corners, levels and marks."""
    return assemble(drawing)


def turn(pattern: Pattern) -> TurnOfCloth:
    """How each panel turns and tilts."""
    return inputs.turned(pattern)


def carry(turned: TurnOfCloth) -> Shifted:
    """Panels to four layers."""
    return shift(turned.pattern, inputs.STACK, turned)


def draw_sheets(shifted: Shifted) -> list[Sheet]:
    """Cut lines, labels and places of all four layers."""
    plan = CutPlan()
    return layer_sheets(shifted, cut_layers(shifted), plan)


def write(sheets: list[Sheet]) -> list[bytes]:
    """Sheets of four layers as SVG."""
    return [sheet_svg(sheet) for sheet in sheets]


STEPS: Final[tuple[Callable[[Any], Any], ...]] = (
    read,
    find_panels,
    turn,
    carry,
    draw_sheets,
    write,
)
"""One after the other they are the whole job."""


def turn_and_carry(pattern: Pattern) -> Shifted:
    """Panels to four layers, their turn unknown."""
    return shift_pattern(pattern, inputs.STACK, gap=inputs.GAP_MM)


def whole_job(svg: bytes) -> list[bytes]:
    """From the SVG read to the four written, as a script does it."""
    shifted = shift_pattern(read_pattern(svg), inputs.STACK, gap=inputs.GAP_MM)
    return [layer_svg(shifted, fabric.name) for fabric in inputs.STACK.fabrics]


def before(step: Callable[[Any], Any]) -> Any:
    """Return a new input for a step."""
    made: Any = draft()
    for earlier in STEPS[: STEPS.index(step)]:
        made = earlier(made)
    return made


def measured(
    benchmark: BenchmarkFixture, work: Callable[[Any], Any], *, like: Callable[[Any], Any]
) -> Any:
    """Measure some work on new inputs of the step `like`, and return what it made last."""
    return benchmark.pedantic(
        work, setup=lambda: ((before(like),), {}), rounds=ROUNDS, warmup_rounds=3
    )
