"""What a cut comes to: growth by panel, layer and level, girths, and what to do next."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ...cutting.header import CAUTION
from ...job.resolved import Job
from ...job.result import CutResult
from ...job.settings import settings
from ...shift import LayerPattern, Shifted
from ...units import show
from .tables import listing, paragraphs, table


def cut_text(result: CutResult, written: Sequence[str]) -> str:
    """Return the whole report as text.

    Parameters
    ----------
    result : CutResult
    written : sequence of str
        Paths of the files that were written.
    """
    job, shifted = result.job, result.shifted
    units = job.units
    return paragraphs(
        f"{job.plan.title}: {len(job.pattern.panels)} panels, {len(shifted.layers)} layers; "
        f"lengths in {units}",
        "\n".join(settings(job)),
        *(_layer_text(shifted, layer, units) for layer in shifted.layers),
        _girths(shifted, units),
        _walk_text(shifted, units),
        listing("Look at", result.warnings),
        listing("Written", list(written)),
        listing("Next", _next_steps(job)),
        "\n".join(CAUTION),
    )


def _layer_text(shifted: Shifted, layer: LayerPattern, units: str) -> str:
    distances = layer.distances
    spread = f"{distances.min():+.3f}"
    if np.ptp(distances) > 5e-4:
        spread += f" to {distances.max():+.3f}"
    title = f"layer {layer.place + 1}, {layer.fabric.name}: {spread} mm from the drafted layer"
    if layer.drafted:
        return f"{title}: this is the drafted layer, cut as drafted"
    if not distances.any():
        return f"{title}: no change"
    pattern = shifted.turn.pattern
    levels = pattern.level_names()
    rows = []
    for index in layer.covered:
        panel = pattern.panels[index]
        found = [panel.level(name) for name in levels]
        rows.append(
            [panel.name]
            + [
                _cell(shifted.growth(layer.place, index, level.height), units) if level else "-"
                for level in found
            ]
        )
    sums = [
        sum(
            shifted.growth(layer.place, i, pattern.level_height(name))
            for i in range(len(pattern.panels))
            if i in layer.covered
        )
        * (1.0 if pattern.full else 2.0)
        for name in levels
    ]
    rows.append(["whole girth", *(_cell(value, units) for value in sums)])
    return f"{title}; growth across:\n" + table(["panel", *levels], rows)


def _cell(value: float, units: str) -> str:
    return show(value, units, signed=True).split()[0]


def _girths(shifted: Shifted, units: str) -> str:
    """Girth of the panels of each layer at the waist, without the gap."""
    drafted = shifted.turn.pattern.waist
    rows = []
    for layer in shifted.layers:
        if len(layer.covered) < len(layer.pattern.panels):
            continue
        waist = layer.pattern.waist
        rows.append(
            [
                layer.fabric.name,
                show(waist, units).split()[0],
                _cell(waist - drafted, units),
            ]
        )
    return "Waist of all panels, without the lacing gap:\n" + table(
        ["layer", "girth", "against the draft"], rows
    )


def _walk_text(shifted: Shifted, units: str) -> str:
    drafted = {walked.name: abs(walked.difference) for walked in shifted.turn.pattern.walk()}
    worst = max(
        (
            abs(walked.difference) - drafted[walked.name]
            for layer in shifted.layers
            for walked in layer.walk()
        ),
        default=0.0,
    )
    return (
        "Seams walked in every layer: none differs by more than "
        f"{max(worst, 0.0):.3f} mm beyond its difference in the draft."
    )


def _next_steps(job: Job) -> list[str]:
    return [
        "print one file at 100 % (no fit to page) and measure both test squares",
        "walk one seam of each layer along its mate before cutting cloth",
        "cut a mock-up of one panel in all layers, bend it over your hand: the edges should meet",
        f"the drafted size is kept on {job.stack.drafted}; layers outside it are larger, layers "
        "inside it smaller",
    ]
