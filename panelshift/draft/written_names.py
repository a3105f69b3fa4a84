"""What the words that stand on panels call them, where no id, label or layer does."""

from __future__ import annotations

import math
import re
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence, Set
from dataclasses import replace
from typing import Final

import numpy as np

from ..errors import few
from ..outline import FloatArray
from ..outline.nearness import Boxes
from ..outline.planar import Areas
from ..pattern.drawing import Text, spaced
from .draft import Draft, FoundPanel, UprightPanel, homes_of
from .names import first_role
from .panel_words import body_side, centre_of, is_counting_word, series_of

_LONGEST: Final = 40
"""Letters of a name; what is longer is a note."""

_BESIDE_MM: Final = 40.0
"""Words stand no further over or under the panel that they name."""

# What is to be done with a piece goes to its end, or to a line of its own.
_TO_DO: Final = re.compile(
    r"\b(cut|fold|place|sew|mark|draft(ed)?|scale|size|interline|allowances?|date)\b.*$",
    re.IGNORECASE,
)
_MEASURE: Final = re.compile(
    r"""[+-]?\d+([.,/ ]\d+)*\s*(mm|cm|in(ch(es)?)?|"|''|%|x)?""", re.IGNORECASE
)
_NUMBER: Final = re.compile(r"(panel|piece|part|pattern|pc|no|nr|p)? ?\d{1,2}\b")
_SIDE: Final = re.compile(r"\bsides?\b")


def named_by_words(draft: Draft, placed: Sequence[UprightPanel]) -> list[UprightPanel]:
    """Give panels, in their places on the sheet, that have no name the one that is written on them.

    A number or a letter names panels only if they count up over all of them; a word for a part of
    the body (front, side, back, left, right) always; any other word if there is just one on each.
    What stands on several panels alike names none: it is a cloth's, a size's or a seam's. But where
    each word stands once on either half of the panels, they are those of the left and the right.
    Words over or under panels count where none on them names any, and only if they name all.
    """
    nameless = [k for k, panel in enumerate(placed) if not panel.name]
    if not nameless:
        return list(placed)
    panels = [panel.found for panel in placed]
    texts, over_or_under = _texts_by(draft, panels)
    names = _names_from(texts, placed, nameless)
    if not any(names):
        names = _names_from(over_or_under, placed, nameless)
        if not all(names):
            return list(placed)
    given = list(placed)
    for k, name in zip(nameless, names, strict=True):
        given[k] = replace(given[k], name=name)
    draft.ledger.note(
        "named-by-words", f"panels named by the words on them: {few(filter(None, names))}"
    )
    return given


def _names_from(
    texts: Sequence[Sequence[Text]], placed: Sequence[UprightPanel], nameless: Sequence[int]
) -> list[str]:
    """Names of the nameless panels by the texts of all, empty where they give none."""
    words = [_candidates(on_one) for on_one in texts]
    count = Counter(spaced(word) for said in words for word in dict.fromkeys(said))
    taken = {spaced(panel.name) for panel in placed if panel.name}
    own = [_said(said, count, 1, taken) for said in words]
    names = _chosen([own[k] for k in nameless])
    if not any(names) and len(nameless) == len(placed):
        names = _of_two_halves([_said(said, count, 2, taken) for said in words])
    return names


def _said(words: Iterable[str], count: Mapping[str, int], times: int, taken: Set[str]) -> list[str]:
    """Of the words on one panel those that stand on so many panels, and are no one's name."""
    return [
        word
        for word in dict.fromkeys(words)
        if count[spaced(word)] == times and spaced(word) not in taken
    ]


def _of_two_halves(words: Sequence[Sequence[str]]) -> list[str]:
    """Names of panels of which each half bears the same words, with the side of the body.

    Pieces are drawn as they are seen from outside: the half whose front lies towards the left of
    the sheet is the left one (common practice, no source).
    """
    middle = len(words) // 2
    halves = [_chosen(words[:middle]), _chosen(words[middle:])]
    sides = [_front_first(names) for names in halves]
    alike = sorted(map(spaced, halves[0])) == sorted(map(spaced, halves[1]))
    if len(words) % 2 or not alike or not all(halves[0]) or set(sides) != {True, False}:
        return [""] * len(words)
    return [
        f"{'left' if side else 'right'} {name}"
        for names, side in zip(halves, sides, strict=True)
        for name in names
    ]


def _front_first(names: Sequence[str]) -> bool | None:
    """Whether names of half the panels run from the front to the back; None if they do not say."""
    if not names:
        return None
    first, last = centre_of((names[0],)), centre_of((names[-1],))
    if first == "back" or last == "front":
        return False
    if first == "front" or last == "back":
        return True
    series = series_of(names)
    return None if series is None or series[0] == series[-1] else series[0] < series[-1]


def _texts_by(
    draft: Draft, panels: Sequence[FoundPanel]
) -> tuple[list[list[Text]], list[list[Text]]]:
    """The texts on each panel, and those that stand over or under it alone, the largest first."""
    on: list[list[Text]] = [[] for _ in panels]
    near: list[list[Text]] = [[] for _ in panels]
    texts = sorted(draft.drawing.texts, key=lambda text: -text.size)
    outlines = [found.outline for found in panels]
    homes = homes_of(texts, Boxes(outlines), Areas(outlines))
    low, high = np.array([outline.hull_box for outline in outlines]).transpose(1, 0, 2)
    for text, home in zip(texts, homes, strict=True):
        if home is not None:
            on[home].append(text)
            continue
        room = np.array([0.0, _BESIDE_MM])
        meets = (text.anchor >= low - room).all(axis=1) & (text.anchor <= high + room).all(axis=1)
        if meets.sum() == 1:
            near[int(np.argmax(meets))].append(text)
    return on, near


def tops_by_words(draft: Draft, panels: Sequence[FoundPanel]) -> list[FloatArray]:
    """Where the tops of the letters on each panel lie: a direction on the sheet, or no length.

    Not looked at where no letters are turned by an eighth or more.
    """
    tops = [np.zeros(2) for _ in panels]
    texts = [text for text in draft.drawing.texts if not text.mirrored]
    if any(math.cos(text.angle) < math.sqrt(0.5) for text in texts):
        outlines = [found.outline for found in panels]
        homes = homes_of(texts, Boxes(outlines), Areas(outlines))
        for text, home in zip(texts, homes, strict=True):
            if home is not None:
                tops[home] += [math.sin(text.angle), -math.cos(text.angle)]
    return tops


def _candidates(texts: Iterable[Text]) -> list[str]:
    """Words that may be names, without what is to be done with the piece."""
    words = []
    for text in texts:
        # A slash stands where words go on in the next line.
        for line in text.content.split(" / "):
            word = " ".join(_TO_DO.sub("", line).split()).strip(" -,;:()/")
            plain = spaced(word)
            if not plain or len(word) > _LONGEST or first_role((word,)) is not None:
                continue
            if _MEASURE.fullmatch(word) and not _NUMBER.fullmatch(plain):
                continue
            words.append(word)
    return words


def _chosen(words: Sequence[Sequence[str]]) -> list[str]:
    """One name for each panel, empty where its words give none."""
    counted = _counted(words)
    bodily = [[w for w in said if _of_body(w)] for said in words]
    if counted:
        # A number may stand beside the word that says where the panel lies.
        more = [[w for w in said if w != own] for said, own in zip(bodily, counted, strict=True)]
        return [" ".join([own, *said[:1]]) for own, said in zip(counted, more, strict=True)]
    if all(len(said) == 1 for said in words):
        only = [said[0] for said in words]
        if not any(_is_counter(word) for word in only):
            return only
    return [said[0] if len(said) == 1 else "" for said in bodily]


def _counted(words: Sequence[Sequence[str]]) -> list[str]:
    """The one word with a number, or the one letter, on each panel, if they count up."""
    for pick in (_is_number, _begins_with_number, _is_letter, is_counting_word):
        found = [[w for w in said if pick(w)] for said in words]
        if all(len(said) == 1 for said in found):
            only = [said[0] for said in found]
            if series_of(only) is not None:
                return only
    return []


def _is_number(word: str) -> bool:
    return bool(_NUMBER.fullmatch(spaced(word)))


def _begins_with_number(word: str) -> bool:
    return bool(_NUMBER.match(spaced(word)))


def _is_letter(word: str) -> bool:
    return bool(re.fullmatch(r"((panel|piece|part) )?[a-z]", spaced(word)))


def _is_counter(word: str) -> bool:
    plain = spaced(word)
    return plain.isdigit() or len(plain) == 1


def _of_body(word: str) -> bool:
    return (
        centre_of((word,)) is not None
        or body_side((word,)) is not None
        or bool(_SIDE.search(spaced(word)))
    )
