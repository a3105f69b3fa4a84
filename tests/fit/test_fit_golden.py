"""The fit sheet of one small job against one that was looked over by eye.

When it is meant to change, look at the new one and then refresh it:

    PANELSHIFT_REFRESH_GOLDEN=1 pytest tests/fit/test_fit_golden.py
"""

from __future__ import annotations

import pytest

from panelshift.fit.fact_rows import facts_csv, facts_json
from panelshift.fit.facts import FitFacts
from panelshift.fit.html_page import fit_page
from panelshift.job import read_job, resolve
from panelshift.job.result import fit_job
from tests.support.golden import changes, golden_job


@pytest.fixture(scope="module")
def facts(tmp_path_factory: pytest.TempPathFactory) -> FitFacts:
    return fit_job(resolve(read_job(golden_job(tmp_path_factory.mktemp("golden")))))


def test_the_page_is_the_golden_one(facts: FitFacts) -> None:
    assert changes("fit.html", fit_page(facts).decode()) == []


def test_the_data_are_the_golden_ones(facts: FitFacts) -> None:
    assert changes("fit.csv", facts_csv(facts).decode()) == []
    assert changes("fit.json", facts_json(facts).decode()) == []
