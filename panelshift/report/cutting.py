"""What a cut comes to: growth by panel, layer and level, girths, and what to do next."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from ..body import ClassModel, FormerModel, SectionModel
from ..cutting.header import CAUTION
from ..cutting.plan import Allowances
from ..job.checks import height_of
from ..job.resolved import Job
from ..job.result import CutResult
from ..shift import LayerPattern, Shifted
from ..units import show
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


def settings(job: Job) -> list[str]:
    """Return every choice that decides the lines, defaults included."""
    body = job.body
    if isinstance(body, ClassModel):
        factors = ", ".join(f"{name} {body.factors[name]:.3f}" for name in body.factors)
        model = f"classes (radius over mean radius: {factors})"
    elif isinstance(body, SectionModel):
        ratios = ", ".join(f"{value:g}" for value in body.ratio.values)
        model = f"section (breadth to depth {ratios}; exponent {body.exponent:g})"
    elif isinstance(body, FormerModel):
        model = f"former (diameter {body.diameter:g} mm; does not close round the body)"
    else:
        model = type(body).__name__
    pairs = ", ".join(
        f"{panel.name} = {cls}{'*' if panel.name in job.inferred else ''}"
        for panel, cls in zip(job.pattern.panels, job.classes, strict=True)
    )
    star = " (* inferred from its place)" if job.inferred else ""
    lines = [
        f"drafted layer: {job.stack.drafted}"
        + ("" if job.file.stack.drafted_layer else " (the innermost, as none is named)"),
        f"body model: {model}",
        *_body_measures(job),
        f"classes: {pairs}{star}",
        f"lacing gap: {show(job.gap, job.units)}",
        *_measured(job),
    ]
    default = Allowances()
    for fabric in job.stack.fabrics:
        own = job.plan.allowances.get(fabric.name, default)
        if fabric.cut_out:
            lines.append(
                f"allowances of {fabric.name}, mm: seam {own.seam:g}, centre front "
                f"{own.centre_front:g}, centre back {own.centre_back:g}, top {own.top:g}, "
                f"bottom {own.bottom:g}"
            )
        else:
            lines.append(f"{fabric.name}: counted, but gets no cutting file")
    return lines


def _body_measures(job: Job) -> list[str]:
    """What the maker measured on the body, and how far that reaches."""
    table = job.file.body
    units = job.units
    lines = []
    if table.girths:
        given = {key: show(value, units) for key, value in table.girths.items()}
        held = "the nearest one's ratio to the draft's own girth is held"
        lines.append(
            _reach("body girths", given, job, "their ratio to the draft's own girth", held)
        )
    if isinstance(table.ratio, dict):
        given = {key: f"{value:g}" for key, value in table.ratio.items()}
        lines.append(_reach("breadth over depth", given, job, "them", "the nearest one is held"))
    return lines


def _reach(what: str, given: Mapping[str, str], job: Job, filled: str, held: str) -> str:
    """Say where a measure was given, how gaps are filled, and what counts beyond."""
    heights = [round(height_of(key, job.pattern) or 0.0) for key in given]
    values = ", ".join(f"{key} {value}" for key, value in given.items())
    if len(given) == 1:
        return f"{what}: {values}; given at one level, {heights[0]:+d} mm, so everywhere {held}"
    return (
        f"{what}: {values}; given from {min(heights):+d} to {max(heights):+d} mm from the "
        f"waist, between them a monotone curve through {filled} (PCHIP); beyond, {held}"
    )


def _measured(job: Job) -> list[str]:
    """Distances that swatches gave, beside what the thicknesses say."""
    lines = []
    for item in job.stack.measured:
        places = job.stack.places(item.inner, item.outer)
        plain = replace(job.stack, measured=()).surfaces().distance(*places)
        lines.append(
            f"measured on a swatch: {item.pair} {item.distance:.3f} mm, "
            f"uncertainty {item.uncertainty:.3f} (by thickness {plain:.3f})"
        )
    return lines


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
