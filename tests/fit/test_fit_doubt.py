"""What the body leaves open stands beside what the cloth does, wherever growth is told."""

from __future__ import annotations

import json
import math
from functools import cache
from pathlib import Path

import pytest

from panelshift.cli.reports.outcomes import cut_text
from panelshift.fit.fact_rows import facts_json, rows
from panelshift.fit.facts import FitFacts
from panelshift.fit.girths import doubt_words, growth_spread, together
from panelshift.job import read_job
from panelshift.job.model import JobFile
from panelshift.job.resolved import resolve
from panelshift.job.result import cut, fit_job

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
        cloth = growth_spread(shifted.stack, turn, layer.place, panel, level.height)
        assert cloth is not None
        assert item.plus_minus == pytest.approx(math.sqrt(cloth**2 + item.by_body**2))
        seen += item.by_body > cloth > 0.0
    # The body is less well known than cloth that was measured.
    assert seen > 10


def test_lengths_of_seams_carry_both() -> None:
    found = [walk for walk in facts_of("mean").walks if walk.by_body]
    assert found
    assert all(walk.plus_minus is not None and walk.plus_minus >= walk.by_body for walk in found)


def test_it_is_told_in_rows_json_and_report_with_what_would_narrow_it() -> None:
    facts = facts_of("mean")
    quantities = {row.quantity for row in rows(facts) if row.section == "growth"}
    assert "plus or minus by the body (95 %)" in quantities
    words = doubt_words(facts.shifted, "mm")
    assert json.loads(facts_json(facts))["body"] == words
    assert "What would narrow that most: the " in words[1]
    report = cut_text(cut(resolve(job_with("mean")), facts.shifted), [])
    assert words[0] in report
    assert "by the body plus or minus" in report


def test_a_body_that_states_no_doubt_adds_none() -> None:
    facts = facts_of("classes")
    assert {item.by_body for item in facts.grown} == {None}
    assert doubt_words(facts.shifted, "mm") == []
    assert together(0.3, None) == 0.3
    assert together(None, 0.3) is None
    assert together(0.3, 0.4) == pytest.approx(0.5)
