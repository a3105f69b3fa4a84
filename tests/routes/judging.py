"""What came of a draft: the right pattern, a refusal that names the cause, or a wrong answer."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

import numpy as np

from panelshift import PanelshiftError, Reading, read_pattern
from panelshift.outline.measure import length

from .drafts import Draft

WITHIN_MM: Final = 0.1
MOST_SHRUNK_MM: Final = 0.3
"""What a page shrunk by 0.06 % takes from an edge, and its digits; it is warned of by a code."""

Verdict = Literal["right", "refused", "warned", "refused for another reason", "WRONG"]

SHRUNK: Final = "shrunk-page"
UNCHECKED: Final = "outline-unchecked"


@dataclass(frozen=True)
class Outcome:
    """A verdict with its words, the refusal or what is wrong, and how far lengths are off in mm."""

    verdict: Verdict
    words: str = ""
    off: float = 0.0

    @property
    def holds(self) -> bool:
        """Whether no cloth can be spoilt by it, and the maker knows why."""
        return self.verdict in ("right", "refused", "warned")


def judge(draft: Draft, drawing: bytes, reading: Reading | None = None) -> Outcome:
    """Read a drawing and hold the pattern against what the draft is."""
    try:
        pattern = read_pattern(drawing, reading=reading)
    except PanelshiftError as error:
        words = f"{error.problem} {error.remedy}"
        named = any(word in words.lower() for word in draft.told)
        return Outcome("refused" if named else "refused for another reason", words)
    codes = {remark.code for remark in pattern.ledger if remark.kind == "warning"}
    if draft.truth is None:
        if codes & set(draft.told):
            return Outcome("warned", f"by code: {', '.join(sorted(codes & set(draft.told)))}")
        # Where the words that say it have become outlines, nothing in the drawing tells.
        if "allowance" in draft.told and UNCHECKED in codes:
            return Outcome("warned", "whether allowance is drawn in is not told")
        return Outcome("WRONG", f"read as {len(pattern.panels)} panels, waist {pattern.waist:.1f}")
    truth = draft.truth
    if (len(pattern.panels), pattern.full) != (len(truth.waists), truth.full):
        which = "full" if pattern.full else "half"
        return Outcome("WRONG", f"read as a {which} pattern of {len(pattern.panels)} panels")
    found = [
        (panel.waist_width, length(panel.edge("front")), length(panel.edge("back")))
        for panel in pattern.panels
    ]
    expected = [(w, *edges) for w, edges in zip(truth.waists, truth.edges, strict=True)]
    off = float(np.abs(np.array(found) - np.array(expected)).max())
    if off > WITHIN_MM:
        if SHRUNK in codes and off <= MOST_SHRUNK_MM:
            return Outcome("warned", f"the page was shrunk: {off:.2f} mm", off)
        return Outcome("WRONG", f"a length is {off:.2f} mm off", off)
    return Outcome("right", off=off)
