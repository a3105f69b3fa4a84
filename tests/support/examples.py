"""How many examples hypothesis draws: all in CI, an eighth of them after each change."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, Final

import pytest
from hypothesis import HealthCheck, settings

WHOLE: Final = 40


def load_profile(*, whole: bool) -> None:
    """Make the settings of the test run those of everything drawn from here on."""
    settings.register_profile(
        "panelshift",
        derandomize=True,
        deadline=None,
        database=None,
        max_examples=WHOLE if whole else _few(WHOLE),
        suppress_health_check=[HealthCheck.too_slow],
    )
    settings.load_profile("panelshift")


def examples(count: int) -> settings:
    """Settings with so many examples in CI, for tests whose examples are dear."""
    whole = settings().max_examples >= WHOLE
    return settings(max_examples=count if whole else _few(count))


def thinned(cases: Iterable[Any], every: int = 3) -> list[Any]:
    """Cases of one test that are dear together: all in CI, the first of each few otherwise."""
    found = []
    for number, case in enumerate(cases):
        param = case
        if not hasattr(case, "marks"):
            param = pytest.param(*(case if isinstance(case, tuple) else (case,)))
        marks = [*param.marks, *([pytest.mark.slow] if number % every else [])]
        found.append(pytest.param(*param.values, marks=marks, id=param.id))
    return found


def _few(count: int) -> int:
    return max(-(-count // 8), 2)
