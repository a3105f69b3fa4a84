"""The fit sheet of one small job against one that was looked over by eye.

When it is meant to change, look at the new one and then refresh it:

    PANELSHIFT_REFRESH_GOLDEN=1 pytest tests/fit/test_fit_golden.py
"""

from __future__ import annotations

from pathlib import Path

import pytest

from panelshift.fit.compared import ComparedCorsets, CorsetSide
from panelshift.fit.compared_tables import (
    compared_csv,
    compared_figures,
    compared_tables,
    compared_words,
)
from panelshift.fit.fact_rows import facts_csv, facts_json
from panelshift.fit.facts import FitFacts
from panelshift.fit.html_page import fit_page
from panelshift.fit.share_card import share_card
from panelshift.job import read_job, resolve
from panelshift.job.result import fit_job
from panelshift.needs.buying import fabric_needs
from tests.support.golden import changes, golden_job


@pytest.fixture(scope="module")
def facts(tmp_path_factory: pytest.TempPathFactory) -> FitFacts:
    return fit_job(resolve(read_job(golden_job(tmp_path_factory.mktemp("golden")))))


def test_the_page_is_the_golden_one(facts: FitFacts) -> None:
    assert changes("fit.html", fit_page(facts).decode()) == []


def test_the_data_are_the_golden_ones(facts: FitFacts) -> None:
    assert changes("fit.csv", facts_csv(facts).decode()) == []
    assert changes("fit.json", facts_json(facts).decode()) == []


def test_the_card_to_show_others_is_the_golden_one(facts: FitFacts) -> None:
    assert changes("share-card.svg", share_card(facts)) == []


def test_what_another_corset_is_beside_it_is_the_golden_page(
    facts: FitFacts, tmp_path: Path
) -> None:
    """A thicker layer, two that go by other names, a wider gap, and a busk; each cloth laid."""
    file = golden_job(tmp_path)
    text = file.read_text().replace("thickness = 0.8", "thickness = 1.3").replace("brocade", "silk")
    file.write_text(text.replace("lacing_gap = 40", "lacing_gap = 55"))
    other = resolve(read_job(file))
    sides = [
        CorsetSide(shifted, gap, busk, fabric_needs(shifted, plan, effort=0))
        for shifted, plan, gap, busk in (
            (facts.shifted, facts.basis.plan, 40.0, 0.0),
            (fit_job(other, lay_cloth=False).shifted, other.plan, 55.0, 4.0),
        )
    ]
    both = ComparedCorsets(*sides)
    told = []
    for units in ("mm", "in"):
        told += [f"IN {units}", *compared_words(both, units)]
        for grid in compared_tables(both, units):
            told.append(" | ".join((grid.caption, grid.corner, *grid.heads)))
            for row in grid.rows:
                cells = (" ".join((cell.text, cell.note, cell.css)).strip() for cell in row.cells)
                told.append(" | ".join((row.head, *cells, "kept" if row.kept else "")))
    told.append(compared_csv(both).decode())
    for name, svg in compared_figures(both):
        told += [name, svg]
    assert changes("compared.txt", "\n".join(told)) == []
