"""No drawing made to tempt the reader is read as another pattern without a word."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from tests.support.examples import thinned

from .misreadings import MAKERS, Case, judged

# Drawing them all takes seconds: not while tests are collected.
CASES = [
    pytest.param(maker, id=f"{number}-{maker.__name__.strip('_')}")
    for number, maker in enumerate(MAKERS)
]


@pytest.mark.parametrize("maker", thinned(CASES, 20))
def test_a_tempting_drawing_is_right_or_refused_with_its_cause(
    maker: Callable[[], Case],
) -> None:
    case = maker()
    outcome = judged(case)
    assert outcome.verdict in (("right",) if case.plain else ("right", "refused", "warned")), (
        outcome
    )
