"""No way through another program makes another pattern of a draft without a word."""

from __future__ import annotations

import pytest

from .drafts import Draft, drafts
from .judging import judge
from .programs import ROUTES
from .remake import case

DRAFTS = {draft.cause: draft for draft in drafts()}


@pytest.mark.parametrize("draft", DRAFTS.values(), ids=list(DRAFTS))
def test_a_draft_as_drawn_is_right_or_refused_with_its_cause(draft: Draft) -> None:
    outcome = judge(draft, draft.svg.encode())
    assert outcome.holds, outcome


@pytest.mark.parametrize(
    "route",
    [
        route.name if route is ROUTES[0] else pytest.param(route.name, marks=pytest.mark.slow)
        for route in ROUTES
    ],
)
@pytest.mark.parametrize("draft", DRAFTS.values(), ids=list(DRAFTS))
def test_a_draft_sent_through_a_program_is_right_or_refused_with_its_cause(
    draft: Draft, route: str
) -> None:
    outcome = judge(draft, case(draft.cause, route).read_bytes())
    assert outcome.holds, outcome


def test_a_wrong_pattern_is_found_out() -> None:
    usual, only = DRAFTS["usual"], DRAFTS["sizes"]
    assert judge(only, usual.svg.encode()).verdict == "WRONG"
    assert judge(DRAFTS["full"], usual.svg.encode()).verdict == "WRONG"
