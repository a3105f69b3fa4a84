"""What many pages cost: hardly more than one, since the drawing is stored once."""

from __future__ import annotations

from panelshift.job.result import print_job
from tests.support.large import large_job
from tests.support.prints import options


def test_thirty_pages_of_fourteen_panels_stay_under_60_kb() -> None:
    item = print_job(large_job(), options(), layers=["outer"])[0]
    assert len(large_job().pattern.panels) == 14
    assert item.printed.pages >= 30
    assert len(item.printed.data) < 60_000


def test_more_pages_cost_little() -> None:
    few, many = (
        print_job(large_job(), options(paper), layers=["outer"])[0].printed
        for paper in ("a2", "a4")
    )
    more = many.pages - few.pages
    assert more > 20
    assert (len(many.data) - len(few.data)) / more < 1000.0
