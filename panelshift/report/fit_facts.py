"""Everything the fit sheet states, gathered from a job, and as plain rows."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from ..cutting.sheet import Style
from ..cutting.sheets import cut_layers, layer_styles
from ..fit.alike import Alike, cut_alike
from ..fit.girths import LevelGirths, finished_girths
from ..fit.rolling import OneFormer, RollingStep, one_former, rolling_guide, useful_formers
from ..fit.section import Section, section_at
from ..job.resolve import Job
from ..job.result import shift_job
from ..shift import LayerPattern, Shifted


@dataclass(frozen=True)
class Walked:
    """One seam of one layer: its difference in mm beyond the draft's, and whether it passes."""

    layer: str
    seam: str
    first: float
    second: float
    difference: float
    passes: bool


@dataclass(frozen=True, eq=False)
class FitFacts:
    """All results of a fit sheet; lengths in mm, angles in radians."""

    job: Job
    shifted: Shifted
    girths: tuple[LevelGirths, ...]
    walks: tuple[Walked, ...]
    alike: tuple[Alike, ...]
    rolling: tuple[RollingStep, ...]
    formers: tuple[OneFormer, ...]
    sections: tuple[Section, ...]

    @property
    def layers(self) -> list[LayerPattern]:
        """Layers that are cut, from the body outwards."""
        return cut_layers(self.shifted)

    @property
    def styles(self) -> dict[str, Style]:
        """Line style of each of those layers."""
        return layer_styles([layer.fabric.name for layer in self.layers])


def fit_facts(job: Job) -> FitFacts:
    """Compute everything the fit sheet states.

    Raises
    ------
    PanelshiftError
        See `panelshift.job.result.shift_job`.
    """
    shifted = shift_job(job)
    turn, options = shifted.turn, job.file.fit
    girths = [
        row
        for fabric in job.stack.fabrics
        if fabric.panels is None and fabric.cut_out
        for row in finished_girths(turn, job.stack, fabric.name, gap=job.gap, busk=options.busk)
    ]
    formers = useful_formers(shifted)
    if options.former is not None:
        formers = [one_former(shifted, options.former), *formers]
    return FitFacts(
        job,
        shifted,
        tuple(girths),
        tuple(_walks(shifted, options.seam_tolerance)),
        tuple(cut_alike(shifted)),
        tuple(rolling_guide(shifted)),
        tuple(formers),
        tuple(section_at(turn, job.body, name, gap=job.gap) for name in _levels_all_round(job)),
    )


def _levels_all_round(job: Job) -> list[str]:
    """Levels that every panel carries: only there is the whole section drawn."""
    panels = job.pattern.panels
    return [
        name
        for name in job.pattern.level_names()
        if all(panel.level(name) is not None for panel in panels)
    ]


def _walks(shifted: Shifted, tolerance: float) -> Iterator[Walked]:
    for layer in cut_layers(shifted):
        for walked in layer.walk():
            passes = abs(walked.difference) <= tolerance
            yield Walked(
                layer.fabric.name,
                walked.name,
                walked.first,
                walked.second,
                walked.difference,
                passes,
            )


@dataclass(frozen=True)
class Fact:
    """One number with its place: a row of the CSV file."""

    section: str
    layer: str
    panel: str
    level: str
    quantity: str
    value: float | str
    unit: str


def rows(facts: FitFacts) -> list[Fact]:
    """Every number of the sheet as plain rows, lengths in mm, angles in degrees."""
    return [
        *_girth_rows(facts),
        *_panel_rows(facts),
        *(
            replace(row, value=round(row.value, 6) if isinstance(row.value, float) else row.value)
            for row in _other_rows(facts)
        ),
    ]


def _girth_rows(facts: FitFacts) -> Iterator[Fact]:
    low, high = facts.job.file.fit.seasoning
    for row in facts.girths:
        for surface, value in row.closed.items():
            place = ("finished girth", surface, "", row.level)
            kept = f"drafted size kept on {row.drafted}"
            yield Fact(*place, f"closed with gap, {kept}", round(value, 6), "mm")
            alone = row.edge_to_edge[surface]
            yield Fact(*place, f"edge to edge, {kept}", round(alone, 6), "mm")
            error = row.plus_minus[surface]
            if error is not None:
                yield Fact(*place, f"plus or minus, {kept}", round(error, 6), "mm")
            if high > 0.0:
                for part, name in ((low, "least"), (high, "most")):
                    seasoned = round(value * (1.0 + part), 6)
                    yield Fact(*place, f"seasoned, {name}, {kept}", seasoned, "mm")


def _panel_rows(facts: FitFacts) -> Iterator[Fact]:
    turn = facts.shifted.turn
    for index, panel in enumerate(turn.pattern.panels):
        for level in (panel.waist, *panel.levels):
            angle = float(np.degrees(turn.angle_at(index, level.height)))
            yield Fact("turning", "", panel.name, level.name, "angle", round(angle, 6), "deg")
            for layer in facts.shifted.layers:
                if index in layer.covered:
                    growth = facts.shifted.growth(layer.place, index, level.height)
                    yield Fact(
                        "growth",
                        layer.fabric.name,
                        panel.name,
                        level.name,
                        "across",
                        round(growth, 6) + 0.0,
                        "mm",
                    )


def _other_rows(facts: FitFacts) -> Iterator[Fact]:
    for walk in facts.walks:
        place = ("seam walk", walk.layer, walk.seam, "")
        yield Fact(*place, "first edge", walk.first, "mm")
        yield Fact(*place, "second edge", walk.second, "mm")
        yield Fact(*place, "difference", walk.difference, "mm")
        yield Fact(*place, "passes", "yes" if walk.passes else "no", "")
    for item in facts.alike:
        place = ("all cut alike", item.layer, item.panel, item.level)
        if item.strain is not None:
            yield Fact(*place, "strain", 100.0 * item.strain, "%")
        if item.buckle is not None:
            yield Fact(*place, "excess", -item.growth, "mm")
            yield Fact(*place, "buckle at most", item.buckle, "mm")
    for step in facts.rolling:
        place = ("rolling guide", "", step.panel, step.level)
        yield Fact(*place, "former diameter", step.former, "mm")
        yield Fact(*place, "step at front edge", step.step_front, "mm")
        yield Fact(*place, "step at back edge", step.step_back, "mm")
    for former in facts.formers:
        place = ("one former", "", "", "waist")
        yield Fact(*place, f"gained on {former.diameter:g} mm", former.gained, "mm")
        yield Fact(*place, f"too much on {former.diameter:g} mm", former.excess, "mm")


def facts_csv(facts: FitFacts) -> bytes:
    """All rows as CSV (RFC 4180), in UTF-8."""
    stream = io.StringIO()
    writer = csv.writer(stream, lineterminator="\r\n")
    writer.writerow(["section", "layer", "panel", "level", "quantity", "value", "unit"])
    for row in rows(facts):
        writer.writerow(
            [row.section, row.layer, row.panel, row.level, row.quantity, row.value, row.unit]
        )
    return stream.getvalue().encode()


def facts_json(facts: FitFacts) -> bytes:
    """All rows as JSON, grouped by section."""
    job = facts.job
    grouped: dict[str, list[dict[str, Any]]] = {}
    for row in rows(facts):
        entry = {
            "layer": row.layer,
            "panel": row.panel,
            "level": row.level,
            "quantity": row.quantity,
            "value": row.value,
            "unit": row.unit,
        }
        grouped.setdefault(row.section, []).append({k: v for k, v in entry.items() if v != ""})
    data = {
        "title": job.plan.title,
        "drafted_layer": job.stack.drafted,
        "lacing_gap": job.gap,
        "busk": job.file.fit.busk,
        "seasoning": list(job.file.fit.seasoning),
        "levels": {name: job.pattern.level_height(name) for name in job.pattern.level_names()},
        "sections": grouped,
    }
    return (json.dumps(data, indent=1, ensure_ascii=False) + "\n").encode()
