"""What many pages cost: hardly more than one, since the drawing is stored once."""

from __future__ import annotations

from functools import cache

import pytest

from panelshift.job.result import print_job
from panelshift.printing.sheet_prints import Printed
from tests.support.large import large_job
from tests.support.prints import options

pytestmark = pytest.mark.slow


@cache
def printed(body: str, paper: str) -> Printed:
    """One layer of fourteen panels, printed once on each paper."""
    return print_job(large_job(body), options(paper), layers=["outer"])[0].printed


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
    made = printed(body, "a4")
    assert len(large_job(body).pattern.panels) == 14
    assert made.pages >= 30
    assert len(made.data) < most


def test_more_pages_cost_little() -> None:
    few, many = (printed("", paper) for paper in ("a2", "a4"))
    more = many.pages - few.pages
    assert more > 20
    assert (len(many.data) - len(few.data)) / more < 1000.0
