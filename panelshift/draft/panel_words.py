"""What panels' names say of their places: numbers, letters, and words for parts of the body."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from functools import lru_cache
from typing import Final, Literal

from ..pattern.drawing import spaced
from ..pattern.two_sides import Side, side_of

_ROMAN: Final = ("i", "ii", "iii", "iv", "v", "vi", "vii", "viii", "ix", "x", "xi", "xii")
_SPELLED: Final = (
    "one",
    "two",
    "three",
    "four",
    "five",
    "six",
    "seven",
    "eight",
    "nine",
    "ten",
    "eleven",
    "twelve",
)

# English, German, French, Italian, Spanish and Dutch, from memory; accents are gone by then.
_BODY: Final = {
    "front": r"\w*front|avant|devant|\w*vorder\w*|vorn\w*|davanti|anteriore|delanter[oa]|frente"
    r"|\w*voor\w*",
    "side": r"side\w*|seiten?\w*|seitlich\w*|cotes?|lateral\w*|fianco|costado|zij\w*",
    "back": r"\w*back|\w*hinter\w*|hinten|\w*rucken\w*|dos|arriere|dietro|posteriore|espalda"
    r"|traser[oa]|\w*achter\w*",
    "centre": r"cent(re|er)\w*|mittler\w*|mitte\w*|\w+mitte|milieu|centr[oa]|central[ei]?"
    r"|midden\w*",
}
_SHORT: Final = {
    "cf": {"centre", "front"},
    "cb": {"centre", "back"},
    "sf": {"side", "front"},
    "sb": {"side", "back"},
    "vm": {"centre", "front"},
    "hm": {"centre", "back"},
}
_RANKS: Final = [
    frozenset(words.split())
    for words in ("centre front", "front", "side front", "side", "side back", "back", "centre back")
]


@lru_cache(maxsize=4096)
def _body_words(name: str) -> frozenset[str]:
    """Which of front, side, back and centre a name speaks of."""
    found = set[str]()
    for word in spaced(name).split():
        found |= _SHORT.get(word, set())
        found |= {part for part, pattern in _BODY.items() if re.fullmatch(pattern, word)}
    return frozenset(found)


def body_rank(name: str) -> int | None:
    """Place of a name's words from the centre front, 0, over the side to the centre back."""
    words = _body_words(name)
    return _RANKS.index(words) if words in _RANKS else None


def panel_number(name: str) -> int | None:
    """Return the one number in a panel's name, or None if it has none or several."""
    numbers = re.findall(r"\d+", name)
    return int(numbers[0]) if len(numbers) == 1 else None


def series_of(names: Iterable[str]) -> list[int] | None:
    """Places of names that count up, in any order: 1 to n, 0 to n - 1, or A, B, C.

    None if they do not. A name counts by its number, of several by the one that counts up alone
    (1/6, or size 12 panel 1), by its one single letter, by I, II, III or by one, two, three.
    """
    names = list(names)
    numbers = [[int(number) for number in re.findall(r"\d+", name)] for name in names]
    if len({len(row) for row in numbers}) == 1:
        counting = [column for column in zip(*numbers, strict=True) if _counts(column)]
        if len(counting) == 1:
            return list(counting[0])
    for places in (
        [_panel_letter(name) for name in names],
        [_counted_in(_ROMAN, name) for name in names],
        [_counted_in(_SPELLED, name) for name in names],
    ):
        known = [place for place in places if place is not None]
        if len(known) == len(names) and _counts(known):
            return known
    return None


def is_counting_word(name: str) -> bool:
    """Whether a name counts by one word: a Roman number, or one, two, three."""
    return any(_counted_in(words, name) is not None for words in (_ROMAN, _SPELLED))


def _counts(places: Sequence[int]) -> bool:
    """Whether numbers are 0 to n - 1 or 1 to n, in any order."""
    count = len(places)
    return sorted(places) in (list(range(count)), list(range(1, count + 1)))


def _panel_letter(name: str) -> int | None:
    """Place in the alphabet of a name that is one letter, after the word panel or piece."""
    match = re.fullmatch(r"(?:(?:panel|piece|part) )?([a-z])", spaced(name))
    return ord(match.group(1)) - ord("a") if match else None


def _counted_in(words: Sequence[str], name: str) -> int | None:
    """Place, from 1 on, of the one word of a name that is among those that count."""
    found = [words.index(word) + 1 for word in spaced(name).split() if word in words]
    return found[0] if len(found) == 1 else None


def centre_of(names: Iterable[str]) -> Literal["front", "back"] | None:
    """Whether the first of some names that says it speaks of the front or of the back."""
    for name in names:
        words = _body_words(name)
        if "front" in words:
            return "front"
        if "back" in words:
            return "back"
    return None


def names_centre(words: str) -> bool:
    """Whether words speak of a centre, front or back."""
    return "centre" in _body_words(words)


def says_fold(words: str) -> bool:
    """Whether words on a panel put it on a fold of the cloth."""
    return bool(re.search(r"\b(on|to|at) (the )?fold\b|\bfold line\b", spaced(words)))


# A slash stands where words go on in the next line, as on our own cutting files.
_CUT: Final = re.compile(
    r"\bcut (?:/ )?(?:(?:(?:a|1|one) )?(?:/ )?pair\b"
    rf"|(?P<count>\d{{1,2}}|{'|'.join(_SPELLED)})\b(?! (?:mm|cm|in|inch|inches|\d)\b)"
    r"(?P<pairs> pairs\b)?)"
)


def cut_counts(words: str) -> list[int]:
    """How many pieces words on a panel ask to be cut, each time that they do: cut 2, cut a pair."""
    counts = []
    for match in _CUT.finditer(" / ".join(spaced(line) for line in words.split(" / "))):
        said = match["count"]
        each = 1 if said is None else int(said) if said.isdigit() else _SPELLED.index(said) + 1
        counts.append(each * (2 if said is None or match["pairs"] else 1))
    return [count for count in counts if count]


def body_side(names: Iterable[str]) -> Side | None:
    """Which half of the body the first of some names that tells one speaks of."""
    return next((side for name in names if (side := side_of(name)) is not None), None)


def at_centre(names: Iterable[str], *, plain: bool = False) -> Literal["front", "back"] | None:
    """Whether names put a panel right at the centre front or back, not beside it.

    A plain front or back, with a side of the body perhaps, counts if it is asked for.
    """
    for name in names:
        words = spaced(name)
        for end in ("front", "back"):
            if _body_words(name) == {"centre", end} or (
                plain and re.fullmatch(rf"((l|r|left|right) )?{end}( (l|r|left|right))?", words)
            ):
                return "front" if end == "front" else "back"
    return None
