"""What the body leaves open stands beside what the cloth does, wherever growth is told."""

from __future__ import annotations

import json
import math
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any
from unittest.mock import patch

import pytest

from panelshift.body.turn import turn_of_cloth
from panelshift.cli.reports.outcomes import cut_text
from panelshift.construction.sewing import Bones, Construction, Shell
from panelshift.construction.sewn import Sewn
from panelshift.fit.fact_rows import facts_json, rows
from panelshift.fit.facts import FitFacts
from panelshift.fit.girths import finished_girths
from panelshift.fit.plus_minus import (
    Doubt,
    doubt_words,
    doubted,
    growth_by_body,
    growth_spread,
    seam_by_cloth,
    together,
)
from panelshift.job import read_job
from panelshift.job.model import JobFile
from panelshift.job.resolved import resolve
from panelshift.job.result import cut, fit_job
from panelshift.shift import Shifted, shift
from panelshift.stack import Stack
from panelshift.units import cloth_length

SAMPLE = Path(__file__).parents[2] / "sample_patterns" / "hourglass.toml"


def job_with(model: str) -> JobFile:
    """The sample with thicknesses known to 0.02 mm and a body of its own."""
    job = read_job(SAMPLE)
    fabrics = tuple(
        fabric.model_copy(update={"thickness_uncertainty": 0.02}) for fabric in job.stack.fabric
    )
    body = type(job.body).model_validate({"model": model})
    stack = job.stack.model_copy(update={"fabric": fabrics})
    return job.model_copy(update={"stack": stack, "body": body})


@cache
def facts_of(model: str) -> FitFacts:
    return fit_job(resolve(job_with(model)), lay_cloth=False)


@pytest.mark.slow
def test_growth_carries_body_and_cloth_in_quadrature() -> None:
    facts = facts_of("mean")
    turn, shifted = facts.shifted.turn, facts.shifted
    names = [panel.name for panel in turn.pattern.panels]
    places = {layer.fabric.name: layer for layer in shifted.layers}
    seen = 0
    for item in facts.grown:
        layer, panel = places[item.layer], names.index(item.panel)
        level = turn.pattern.panels[panel].level(item.level)
        assert level is not None
        spread = turn.spread_at(panel, level.height)
        assert spread is not None
        assert item.by_body == pytest.approx(abs(layer.distances[panel]) * spread)
        cloth = growth_spread(shifted, layer.place, panel, level.height)
        assert cloth is not None
        assert item.plus_minus == pytest.approx(math.sqrt(cloth**2 + item.by_body**2))
        seen += item.by_body > cloth > 0.0
    # The body is less well known than cloth that was measured.
    assert seen > 10


def sewn_with(*shells: Shell, **others: Any) -> Shifted:
    """The sample of known thicknesses without part-covering layers, sewn so."""
    job = resolve(job_with("mean"))
    stack = Stack([f for f in job.stack.fabrics if f.coverage == 1.0], "coutille")
    how = Sewn(Construction(shells, **others), stack)
    turn = turn_of_cloth(job.pattern, job.body, job.classes, gap=job.gap)
    return shift(job.pattern, stack, turn, how)


@pytest.mark.slow
def test_laid_anew_with_each_number_changed_is_the_flat_formula_where_all_is_flat() -> None:
    names = ("lining", "coutille", "interlining", "brocade")
    sewn = sewn_with(*(Shell([name], held="fused") for name in names))
    flat = shift(sewn.turn.pattern, sewn.stack, sewn.turn)
    for layer, panel in ((0, 1), (3, 2), (3, 5)):
        for of in (growth_spread, growth_by_body):
            assert of(sewn, layer, panel, 0.0) == pytest.approx(of(flat, layer, panel, 0.0))
    one, two = (
        finished_girths(found.turn, found.stack, "lining", gap=50.0, lay=found.lay, leeway=leeway)
        for found, leeway in ((flat, None), (sewn, sewn.leeway))
    )
    for row, other in zip(one, two, strict=True):
        for surface, spread in row.plus_minus.items():
            assert other.plus_minus[surface] == pytest.approx(spread, rel=1e-4)


@pytest.mark.slow
def test_what_is_measured_of_the_sewing_is_in_the_plus_or_minus() -> None:
    bones = Bones("coutille", 5.5, 1.5, standing=1.0, standing_uncertainty=0.1)
    lined = Shell(["interlining", "brocade"])
    at, higher = (sewn_with(lined, bones=[replace(bones, standing=1.0 + by)]) for by in (0.0, 0.1))
    sure = sewn_with(lined, bones=[replace(bones, standing_uncertainty=0.0)])
    more = higher.growth(3, 2, 0.0) - at.growth(3, 2, 0.0)
    known, all_in = (growth_spread(found, 3, 2, 0.0) for found in (sure, at))
    assert known is not None
    assert all_in is not None
    # To first order, as such ranges are.
    assert math.sqrt(all_in**2 - known**2) == pytest.approx(1.96 * more, rel=0.05)
    folded = sewn_with(lined, fold_factor=0.5, fold_factor_uncertainty=0.2)
    plain = sewn_with(lined, fold_factor=0.5)
    wide, slim = (growth_spread(found, 3, 2, 0.0) for found in (folded, plain))
    assert wide is not None
    assert slim is not None
    turned = 0.475 * math.pi
    assert math.sqrt(wide**2 - slim**2) == pytest.approx(1.96 * 0.2 * turned, rel=0.01)


@pytest.mark.slow
def test_what_sewing_takes_up_is_in_the_plus_or_minus_of_its_layer() -> None:
    sewn = sewn_with(Shell(["interlining", "brocade"]))
    fabrics = [*sewn.stack.fabrics[:-1]]
    quilted = replace(sewn.stack.fabrics[-1], take_up=0.04, take_up_uncertainty=0.005)
    stack = replace(sewn.stack, fabrics=[*fabrics, quilted])
    found = shift(sewn.turn.pattern, stack, sewn.turn, replace(sewn.lay.sewn, stack=stack))
    known, all_in = (growth_spread(each, 3, 2, 0.0) for each in (sewn, found))
    assert known is not None
    assert all_in is not None
    width = sewn.turn.width_at(2, 0.0)
    assert math.sqrt(all_in**2 - known**2) == pytest.approx(1.96 * width * 0.005 / 0.96, rel=1e-3)


@pytest.mark.slow
def test_lengths_of_seams_carry_both() -> None:
    found = [walk for walk in facts_of("mean").walks if walk.by_body]
    assert found
    assert all(walk.plus_minus is not None and walk.plus_minus >= walk.by_body for walk in found)
    # Nothing is unsure of the layer that was drafted.
    shifted = facts_of("mean").shifted
    (drafted,) = (layer for layer in shifted.layers if layer.drafted)
    assert seam_by_cloth(shifted, drafted, 0, "front", 0.0) == 0.0


@pytest.mark.slow
def test_it_is_told_in_rows_json_and_report_with_what_would_narrow_it() -> None:
    facts = facts_of("mean")
    quantities = {row.quantity for row in rows(facts) if row.section == "growth"}
    assert "plus or minus by the body (95 %)" in quantities
    words = doubt_words(facts.shifted, "mm")
    assert json.loads(facts_json(facts))["body"] == words
    assert words[1].startswith("What would narrow that: no one measure takes a tenth of that away")
    report = cut_text(cut(resolve(job_with("mean")), facts.shifted), [])
    assert words[0] in report
    assert "by the body plus or minus" in report


def test_a_measure_that_takes_a_tenth_away_is_named() -> None:
    told = Doubt("silk", 0.4, "breadth over depth at the hip", 0.8, measurable=True)
    assert told.remedy() == "the breadth over depth at the hip would leave about 80% of that"
    shifted = facts_of("mean").shifted
    spread = shifted.turn.body.spread
    assert spread is not None
    helped = replace(spread, narrowing=(("depth", 0.0, 0.4),))
    with patch.dict(vars(shifted.turn.body), spread=helped):
        found = doubted(shifted, "mm")
        said = doubt_words(shifted, "mm")
    assert found is not None
    assert cloth_length(found.width, up=True) in said[0]
    assert said[1] == f"What would narrow that: {found.remedy()}."
    assert (found.measure, found.left) == ("depth at the waist", pytest.approx(math.sqrt(0.6)))


def test_a_body_that_states_no_doubt_adds_none() -> None:
    facts = facts_of("classes")
    assert {item.by_body for item in facts.grown} == {None}
    assert doubt_words(facts.shifted, "mm") == []
    assert together(0.3, None) == 0.3
    assert together(None, 0.3) is None
    assert together(0.3, 0.4) == pytest.approx(0.5)
