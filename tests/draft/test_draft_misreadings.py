"""No drawing made to tempt the reader is read as another pattern without a word."""

from __future__ import annotations

import pytest

from .misreadings import MAKERS, judged

CASES = {maker().draft.cause: maker for maker in MAKERS}


def test_every_drawing_is_named_once() -> None:
    assert len(CASES) == len(MAKERS)


@pytest.mark.parametrize("about", CASES)
def test_a_tempting_drawing_is_right_or_refused_with_its_cause(about: str) -> None:
    case = CASES[about]()
    outcome = judged(case)
    assert outcome.verdict in (("right",) if case.plain else ("right", "refused", "warned")), (
        outcome
    )
