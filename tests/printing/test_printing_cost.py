"""What many pages cost: hardly more than one, since the drawing is stored once."""

from __future__ import annotations

import pytest

from panelshift.job.result import print_job
from tests.support.large import large_job
from tests.support.prints import options


@pytest.mark.parametrize(
    ("body", "most"),
    [
        ('[body]\nmodel = "classes"\n', 50_000),
        # Where no body is told the mean form stands: seams follow a change of its slopes at each of
        # its levels, which takes two to three times as many segments a stitch line.
        ("", 64_000),
    ],
)
def test_thirty_pages_of_fourteen_panels_take_little_room(body: str, most: int) -> None:
    job = large_job(body)
    item = print_job(job, options(), layers=["outer"])[0]
    assert len(job.pattern.panels) == 14
    assert item.printed.pages >= 30
    assert len(item.printed.data) < most


def test_more_pages_cost_little() -> None:
    few, many = (
        print_job(large_job(), options(paper), layers=["outer"])[0].printed
        for paper in ("a2", "a4")
    )
    more = many.pages - few.pages
    assert more > 20
    assert (len(many.data) - len(few.data)) / more < 1000.0
