"""What the words that stand on panels call them, where no id, label or layer does."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Sequence
from typing import Final

from ..outline.nearness import Boxes
from ..outline.planar import Areas
from ..pattern.drawing import Text
from .draft import Draft, FoundPanel, homes_of
from .names import body_side, centre_of, first_role, series_of, spaced

_LONGEST: Final = 40
"""Letters of a name; what is longer is a note."""

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


def named_by_words(
    draft: Draft, panels: Sequence[FoundPanel], names: Sequence[str]
) -> tuple[list[str], list[int]]:
    """Give panels that have no name the one that is written on them, and say which got one.

    A number or a letter names panels only if they count up over all of them; a word for a part of
    the body (front, side, back, left, right) always; any other word if there is just one on each.
    What stands on several panels alike names none: it is a cloth's, a size's or a seam's.
    """
    nameless = [k for k, name in enumerate(names) if not name]
    if not nameless:
        return list(names), []
    words = [_candidates(texts) for texts in _texts_on(draft, panels)]
    count = Counter(spaced(word) for said in words for word in dict.fromkeys(said))
    taken = {spaced(name) for name in names if name}
    words = [
        [w for w in dict.fromkeys(said) if count[spaced(w)] == 1 and spaced(w) not in taken]
        for said in words
    ]
    given = list(names)
    found = _chosen([words[k] for k in nameless])
    for k, name in zip(nameless, found, strict=True):
        given[k] = name
    return given, [k for k in nameless if given[k]]


def _texts_on(draft: Draft, panels: Sequence[FoundPanel]) -> list[list[Text]]:
    """The texts on each panel, the largest first."""
    result: list[list[Text]] = [[] for _ in panels]
    texts = sorted(draft.drawing.texts, key=lambda text: -text.size)
    outlines = [found.outline for found in panels]
    homes = homes_of(texts, Boxes(outlines), Areas(outlines))
    for text, home in zip(texts, homes, strict=True):
        if home is not None:
            result[home].append(text)
    return result


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
    for pick in (_is_number, _begins_with_number, _is_letter):
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
