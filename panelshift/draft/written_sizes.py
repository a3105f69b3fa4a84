"""What the words on a drawing say of its size: lengths in them, and the waist it was drawn for."""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import Final

from ..errors import UnitError
from ..pattern.pattern import Pattern
from ..units import to_mm, trimmed
from .draft import Draft
from .halves import LEAST_GIRTH_MM, MOST_GIRTH_MM

_ONE_LENGTH: Final = (
    r"(?<![\d.,])(?<!\d[/:])(?:(?:\d+[ -]+)?\d+[/\u2044]\d+|\d+ ?[¼½¾⅛⅜⅝⅞]|\d+(?:[.,]\d+)?)"
    r" ?(?:mm|cm|inch(?:es)?|in|\"|''|[\u2033\u201d])(?![\w/])"
)
LENGTH: Final = re.compile(_ONE_LENGTH)
"""A length with its unit, in lower case."""

_OF: Final = (
    r"(?:[ (]+(?:girth|size|measure(?:s|d|ment)?|circumference|round|is|of|finished|total))*"
)
_SAID: Final = re.compile(
    # Words before it put a length beside a waist, or say whose it is.
    r"(?P<before>(?:[\w/½]+[ -]+)?)\b(?:waist"
    rf"{_OF}[ ):=~/-]*(?P<after>{_ONE_LENGTH})|(?P<first>{_ONE_LENGTH}) waist\b(?! (?:to|line)))"
)
_BESIDE: Final = frozenset(("above", "below", "under", "over", "from", "to", "beside", "per"))
_UNLACED: Final = frozenset(("natural", "body", "own", "before", "unlaced"))
_HALF: Final = frozenset(("half", "1/2", "½"))

_AGREES: Final = 0.02
"""Words are in whole cm or inches, and the inside of a corset is a little less than its draft."""

_FAR: Final = 1.25
"""No gap and no reduction makes a waist so much another one."""

_CLUES: Final[tuple[tuple[float, str], ...]] = (
    (72.0 / 96.0, "72/96: the drawing has 72 px to the inch"),
    (90.0 / 96.0, "90/96: the drawing has 90 px to the inch"),
    (96.0 / 72.0, "96/72: the drawing's points were taken for px"),
    (96.0 / 90.0, "96/90: the drawing was scaled up from 90 px to the inch"),
    (25.4, "25.4: mm were taken for inches"),
    (1.0 / 25.4, "1/25.4: inches were taken for mm"),
    (2.54, "2.54: cm were taken for inches"),
    (1.0 / 2.54, "1/2.54: inches were taken for cm"),
    (10.0, "10: mm were taken for cm"),
    (0.1, "1/10: cm were taken for mm"),
    (25.4 / 96.0, "25.4/96: mm were taken for px"),
    (96.0 / 25.4, "96/25.4: px were taken for mm"),
    (2.0, "2: both halves are drawn but were read as one (halves), or the waist is a half"),
    (0.5, "1/2: one half is drawn but was read as both (halves), or the waist is doubled"),
)


def likely_scale(ratio: float) -> str:
    """What a pattern's waist over the drafted one looks like, in words; empty if like nothing."""
    return next((words for value, words in _CLUES if abs(ratio / value - 1.0) < 0.01), "")


def lengths_in(words: str) -> list[float]:
    """Lengths in words, in mm, that have a unit; none if one can be read in two ways."""
    try:
        return [to_mm(match.group()) for match in LENGTH.finditer(words.lower())]
    except UnitError:
        return []


def waists_in(texts: Iterable[str]) -> list[tuple[str, float]]:
    """Words that say a whole waist, each with that waist in mm.

    What is less than any adult's is taken for a half's; less than half of one is a panel's.
    """
    return [
        (words, waist)
        for words in texts
        for line in re.split(r"[;\n]|,(?!\d)", words.lower())
        for match in _SAID.finditer(" ".join(line.split()))
        if (waist := _whole(match)) is not None
    ]


def _whole(match: re.Match[str]) -> float | None:
    before = match["before"].strip(" -")
    found = lengths_in(match["after"] or match["first"])
    if not found or before in _BESIDE or before in _UNLACED:
        return None
    waist = 2.0 * found[0] if before in _HALF or found[0] < LEAST_GIRTH_MM else found[0]
    return waist if LEAST_GIRTH_MM <= waist <= MOST_GIRTH_MM else None


def unlike_waist(pattern: Pattern, beside: Iterable[float] = ()) -> tuple[str, float] | None:
    """Words on a drawing of which none says the waist that it has, and what the first says.

    *beside*: waists that they may say as well, in mm: with the lacing gap, or the body's.
    """
    texts = [text.content for panel in pattern for text in panel.texts]
    said = waists_in((*texts, *pattern.words))
    panels = [panel.waist_width for panel in pattern if panel.waist is not None]
    known = (pattern.waist, *beside, *(2.0 * width for width in panels))
    if any(abs(waist / other - 1.0) <= _AGREES for _, waist in said for other in known):
        return None
    return said[0] if said else None


def tell_written_waist(draft: Draft, pattern: Pattern) -> None:
    """Say that words on a drawing say a waist that it has if its unit was mistaken: a fault."""
    found = unlike_waist(pattern)
    if found is None or draft.reading.drafted_waist is not None:
        return
    words, waist = found
    times = waist / pattern.waist
    if 1.0 / _FAR < times < _FAR or not (clue := likely_scale(1.0 / times)):
        return
    draft.ledger.fault(
        "reduced",
        f"the words {words!r:.60} stand on the drawing, whose whole waist is {pattern.waist:.0f} "
        f"mm as it was read: the ratio looks like {clue}",
        remedy=f"Set pattern.scale = {trimmed(times, 5)} in the job file, or halves if the wrong "
        "half was read. If the drawing is right all the same, state drafted_waist = "
        f"'{pattern.waist:.0f} mm'; if the words are of the body before it is laced, let them say "
        "natural waist.",
    )
