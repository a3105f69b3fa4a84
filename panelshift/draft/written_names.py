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
from ..outline import Curve, FloatArray
from ..outline.nearness import Boxes
from ..outline.planar import Areas
from ..pattern.drawing import Text, spaced
from ..pattern.two_sides import Side, side_of
from .draft import Draft, FoundPanel, UprightPanel, homes_of, middle_of
from .names import first_role
from .panel_words import (
    body_side,
    centre_of,
    is_counting_word,
    names_centre,
    panel_number,
    series_of,
)

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
_OF_SHEET: Final = re.compile(r"\b(key|date|drawn by|sheets?|bindings?|bias)\b")
_LOW: Final = 0.5
_FEW: Final = 3
"""Words of a label; more are a note."""

_TOWARDS: Final = frozenset(("to", "towards", "toward", "from"))
_OTHER: Final = {"front": "back", "back": "front"}
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

    Not looked at where no letters are mirrored, or turned by an eighth or more.
    """
    tops = [np.zeros(2) for _ in panels]
    texts = draft.drawing.texts
    if any(text.mirrored or math.cos(text.angle) < math.sqrt(0.5) for text in texts):
        outlines = [found.outline for found in panels]
        homes = homes_of(texts, Boxes(outlines), Areas(outlines))
        for text, home in zip(texts, homes, strict=True):
            if home is not None:
                sense = -1.0 if text.mirrored else 1.0
                tops[home] += sense * np.array([math.sin(text.angle), -math.cos(text.angle)])
    return tops


def end_against(
    draft: Draft, placed: Sequence[UprightPanel], full: bool, *, by_place: bool
) -> tuple[Text, str] | None:
    """Words that put a centre at another panel than the order does, and which end; None if none do.

    Those on one panel alone, or, where the order was taken *by_place*, beside it or in a note.
    """
    said = [
        (text, end, side)
        for text in draft.drawing.texts
        if len(text.content) <= _LONGEST * (1 + by_place)
        for end, side in _centres(text.content)
    ]
    if not said:
        return None
    outlines = [panel.found.outline for panel in placed]
    areas, everyone = Areas(outlines), range(len(outlines))
    homes = homes_of([text for text, _, _ in said], Boxes(outlines), areas)
    last, middle = len(placed) - 1, len(placed) // 2
    at = {"front": {middle, last - middle}, "back": {0, last}}
    at = at if full else {"front": {0}, "back": {last}}
    for (text, end, side), home in zip(said, homes, strict=True):
        if home is not None:
            alike = {h for (_, e, _), h in zip(said, homes, strict=True) if e == end}
            wrong = alike == {home} and home not in at[end]
        elif side is not None:
            wrong = by_place and not full and (side == "left") != (end == "front")
        else:
            away = areas.distances(everyone, np.tile(middle_of(text), (len(outlines), 1)))
            nearest = int(np.argmin(away))
            wrong = by_place and away[nearest] <= _BESIDE_MM and {nearest} == at[_OTHER[end]]
        if wrong:
            return text, end
    return None


def numbers_against(draft: Draft, placed: Sequence[UprightPanel]) -> list[str]:
    """Numbers on most panels, one on each, that are not their places in the order taken."""
    only = _numbers_on(draft, placed)
    counts = [_number_in(word) for word in only.values()]
    return [] if counts in (list(only), [k + 1 for k in only]) else list(only.values())


def numbers_unlike_names(draft: Draft, placed: Sequence[UprightPanel]) -> list[str]:
    """Numbers on most panels, one on each, of which some differ from those in the panels' names."""
    only = _numbers_on(draft, placed)
    named = [panel_number(placed[k].name) for k in only]
    unlike = any(
        number is not None and number != _number_in(word)
        for number, word in zip(named, only.values(), strict=True)
    )
    return list(only.values()) if unlike else []


def _numbers_on(draft: Draft, placed: Sequence[UprightPanel]) -> dict[int, str]:
    """The one number on each panel by place; none if few have one, or they do not count panels."""
    on, _ = _texts_by(draft, [panel.found for panel in placed])
    said = [[w for w in dict.fromkeys(_candidates(texts)) if _is_number(w)] for texts in on]
    only = {k: words[0] for k, words in enumerate(said) if len(words) == 1}
    counts = [_number_in(word) for word in only.values()]
    few_have = 2 * len(counts) <= len(placed)
    if few_have or max(counts) > len(placed) or len(set(counts)) < len(counts):
        return {}
    return only


def _number_in(word: str) -> int:
    return int(re.findall(r"\d+", word)[0])


def _centres(content: str) -> list[tuple[str, Side | None]]:
    """Each centre that words speak of, and the side of the sheet that they put it on, if any."""
    content = re.sub("-+>|→", " right ", re.sub("<-+|←", " left ", content))
    words = spaced(content).split()
    if "busk" in words and len(words) <= _FEW:
        return [("front", None)]
    ends = [end for word in words if (end := centre_of((word,))) is not None]
    if not names_centre(content) or _TOWARDS.intersection(words):
        return []
    sides = [side for word in words if (side := side_of(word)) is not None]
    if len(sides) == len(ends):
        return list(zip(ends, sides, strict=True))
    return [(ends[0], None)] if len(ends) == 1 and not sides and len(words) <= _FEW else []


def sheet_words(draft: Draft, outline: Curve, panels: Sequence[FoundPanel]) -> str:
    """Words inside an outline that speak of the sheet, as in a title block, a legend or a binding.

    None if it is not low beside the panels: one that was left without its waistline is as high.
    """
    step = panels[0].waist.points[1] - panels[0].waist.points[0]
    up = np.array([-step[1], step[0]])
    least = min(float(np.ptp(panel.outline.flatten() @ up)) for panel in panels)
    if float(np.ptp(outline.flatten() @ up)) > _LOW * least:
        return ""
    texts = draft.drawing.texts
    homes = homes_of(texts, Boxes([outline]), Areas([outline]))
    inside = [text.content for text, home in zip(texts, homes, strict=True) if home is not None]
    found = (first_role((words,)) for words in inside)
    return next(
        (
            words
            for words, role in zip(inside, found, strict=True)
            if (role and role.kind == "aside") or _OF_SHEET.search(spaced(words))
        ),
        "",
    )


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
