"""What a batch came to, in words."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Sequence
from typing import Final

from ...batch.jobs import STATUSES, Outcome
from .tables import paragraphs, table

_MOST_NAMES: Final = 5
"""Names beside a warning; failures name every job."""

_TITLES: Final = {
    "done": "done",
    "unchanged": "unchanged since the last run",
    "failed": "failed",
}


def batch_text(outcomes: Sequence[Outcome], out: str) -> str:
    """Return the summary of a batch: counts, what to look at, and every failure.

    *out*: directory of the batch.

    Examples
    --------
    >>> print(batch_text([Outcome("Ann", "done"), Outcome("Bo", "unchanged")], "sizes"))
    Jobs                            Number
    ----------------------------  --------
    done                                 1
    unchanged since the last run         1
    failed                               0
    <BLANKLINE>
    2 of 2 jobs have their files, each in a directory of its own, in sizes.
    """
    counts = Counter(outcome.status for outcome in outcomes)
    rows = [[_TITLES[status], str(counts[status])] for status in STATUSES]
    whole = len(outcomes) - counts["failed"]
    return paragraphs(
        table(["Jobs", "Number"], rows),
        _warnings(outcomes),
        _failures(outcomes),
        f"{whole} of {len(outcomes)} jobs have their files, each in a directory of its own, "
        f"in {out}." + (" Mend what failed and run the batch again." if counts["failed"] else ""),
    )


def _warnings(outcomes: Sequence[Outcome]) -> str:
    """Every warning once: the rows of a table mostly share theirs."""
    jobs: defaultdict[str, list[str]] = defaultdict(list)
    for outcome in outcomes:
        for words in outcome.warnings:
            jobs[words].append(outcome.name)
    lines = [f"  - {_few(names)}: {words}" for words, names in jobs.items()]
    return "\n".join(["Look at:", *lines]) if lines else ""


def _few(names: Sequence[str]) -> str:
    more = len(names) - _MOST_NAMES
    return ", ".join(names[:_MOST_NAMES]) + (f" and {more} more" if more > 0 else "")


def _failures(outcomes: Sequence[Outcome]) -> str:
    lines = [
        f"  - {outcome.name}: " + outcome.error.replace("\n", "\n    ")
        for outcome in outcomes
        if outcome.status == "failed"
    ]
    return "\n".join(["Failed:", *lines]) if lines else ""
