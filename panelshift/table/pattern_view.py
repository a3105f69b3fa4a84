"""What step 1 shows: the drawing as it was read, its faults, and what only its maker can say."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Any, Final

from ..job.choices import OpenChoice, Option
from ..job.model import JobFile
from ..job.said import Finding
from ..outline import Curve
from ..pattern.pattern import Pattern
from ..units import cloth_length, show, shown_length, trimmed
from .altering_view import altering_view
from .pattern_picture import (
    Flag,
    Pointing,
    drawing_picture,
    error_flag,
    flags,
    option_curves,
    pattern_picture,
    safe,
)
from .stages import State, shown_at


def pattern_view(state: State, file: JobFile) -> dict[str, Any]:
    """Return what step 1 shows: the drawing as it was read, and what it leaves open."""
    units = file.pattern.units
    values: dict[str, Any] = {
        "file": file.pattern.file.name,
        "halves": file.pattern.halves,
        "title": file.pattern.title,
        "drafted_waist": shown_at(state, ("pattern", "drafted_waist"), units),
        "join_tolerance": shown_at(state, ("pattern", "join_tolerance"), units),
        "usual_join": shown_length(file.pattern.join_tolerance, units),
        "scale": trimmed(file.pattern.scale, 6) if file.pattern.scale != 1.0 else "",
    }
    values["asked"] = asked = asked_of(state.choices)
    pages = state.pages if any(item.key == "page" for item in asked) else []
    values["pages"] = {
        str(number): safe(drawing_picture(drawing, f"page {number}"))
        for number, drawing in pages
        if drawing.shapes
    }
    values["fitting"] = altering_view(state, file)
    pattern, check = state.pattern.value, state.check.value
    if pattern is None or check is None:
        return values | _unread_view(state, asked)
    findings = (*check.faults, *check.warnings)
    numbered = flags(findings, pattern, state.scaled.value)
    if asked:
        # What a button beside it mends needs no advice on the job file.
        numbered = tuple(map(_briefly, numbered, findings))
    numbered = tuple(replace(flag, words=by_fields(flag.words)) for flag in numbered)
    key = ("read", state.pattern_key, findings)
    title = f"pattern {file.pattern.file.name} as read"
    shapes = () if state.scaled.value is None else state.scaled.value.shapes
    pieces = [e for item in asked if item.key == "leave_out" for e in item.answers[0].elements]
    seams = _seams(pattern) if pieces else []
    at = {
        **option_curves(_pointed_at(asked), shapes),
        **{Pointing(seam.ident, "", ()): list(seam.lines) for seam in seams},
    }
    svg = state.reckoner.pictures.recall(
        key, lambda: pattern_picture(pattern, title, numbered, options=at)
    )
    whole = pattern.waist
    return values | {
        "svg": safe(svg),
        "flags": numbered,
        "faults": len(check.faults),
        "count": len(pattern.panels),
        "full": pattern.full,
        "half_waist": sized(0.5 * whole, units),
        "waist": sized(whole, units),
        "laced": sized(whole + file.pattern.lacing_gap, units) if file.pattern.lacing_gap else "",
        "left_out": [by_fields(f"{item.ident}: {item.reason}") for item in pattern.left_out],
        "notes": [by_fields(line) for line in pattern.notes],
        "pieces": [
            (found.element, f"{place}: {found.element}")
            for place, found in enumerate(findings, start=1)
            if found.element in pieces
        ],
        "seams": seams,
        "gores": [
            f"{gore.panel}, "
            + (f"between {' and '.join(gore.between)}" if gore.between else f"in {gore.slit}")
            for gore in file.gore
        ],
    }


@dataclass(frozen=True, eq=False)
class SeamForGore:
    """Two neighbouring panels, in whose seam a gore may be set in, and the lines of their edges."""

    ident: str
    panels: tuple[str, str]
    lines: tuple[Curve, Curve]


def _seams(pattern: Pattern) -> list[SeamForGore]:
    crossed = [index for index, panel in enumerate(pattern.panels) if panel.waist is not None]
    found = []
    for place, (one, two) in enumerate(pairwise(crossed)):
        first, second = pattern.panels[one], pattern.panels[two]
        lines = first.edge(pattern.ends(one)[1]), second.edge(pattern.ends(two)[0])
        found.append(SeamForGore(f"gore-seam-{place}", (first.name, second.name), lines))
    return found


FIELDS: Final[Mapping[str, str]] = {
    "drafted_waist": "Waist you drafted to",
    "join_tolerance": "Close gaps in outlines up to",
    "scale": "Scale the drawing by",
    "halves": "What is drawn",
    "lacing_gap": "Lacing gap",
    "thickness_uncertainty": "Thickness, give or take",
}
"""What keys that messages name are called on the page."""

_CHOICES: Final[Mapping[str, str]] = {'"half"': "half a pattern", '"full"': "both halves"}
_IN_FILE: Final = " in the job file"
_KEYED: Final = re.compile(
    rf"(?:\[pattern\] |pattern\.)?\b({'|'.join(FIELDS)})\b"
    rf"(?: = (\"\w+\"|\d[\d.]*\d|\d))?({_IN_FILE})?"
)


def by_fields(words: str) -> str:
    """A message with the fields of the page in place of the keys that it names.

    What has no field stands in the job file as text, at the end of the page.
    """

    def named(found: re.Match[str]) -> str:
        key, value, _ = found.groups()
        # Words of every day are keys only where a table or a value stands with them.
        if key in ("scale", "halves") and found.group() == key:
            after = words[found.end() :]
            if key == "scale" or not after.startswith((" says", ")")):
                return key
        said = f"“{FIELDS[key]}”"
        return said if value is None else f"{said} to {_CHOICES.get(value, value)}"

    return _KEYED.sub(named, words).replace(_IN_FILE, f"{_IN_FILE} as text (step 5)")


def sized(length: float, units: str) -> str:
    """A length that a maker finds again with a tape: inches as rulers have them."""
    return cloth_length(length, units) if units == "in" else show(length, units)


def _briefly(flag: Flag, finding: Finding) -> Flag:
    return replace(flag, words=finding.problem) if finding.problem else flag


def _unread_view(state: State, asked: Sequence[Asked]) -> dict[str, Any]:
    """A file that is no pattern: its curves, with the fault at its place, and what may be said."""
    error, drawing = state.pattern.error, state.scaled.value
    if error is None or drawing is None or not drawing.shapes:
        unread = state.drawing.error
        shown = (error_flag(unread, None, brief=True),) if unread is not None and asked else ()
        return {"svg": "", "flags": shown, "faults": len(shown), "count": 0}
    flag = error_flag(error, drawing, brief=bool(asked))
    title = "the drawing, which is no pattern yet"
    svg = drawing_picture(drawing, title, flag, error.element, _pointed_at(asked))
    return {"svg": safe(svg), "flags": (flag,), "faults": 1, "count": 0}


def _pointed_at(asked: Sequence[Asked]) -> tuple[Pointing, ...]:
    """What can be pointed at, by the control that it is for."""
    found = []
    for answer in (answer for item in asked for answer in item.answers):
        if answer.value:
            found.append(Pointing(answer.ident, answer.letter, answer.elements))
        else:
            found += [
                Pointing(f"{answer.ident}-{k}", "", (one,)) for k, one in enumerate(answer.elements)
            ]
    return tuple(found)


@dataclass(frozen=True)
class Answer:
    """What the maker may say of a drawing.

    *ident*: of its button. *letter*: of it in the drawing, where there are several. *value*: for
    the job file, a line for each part; empty where some of the elements are to be chosen. *words*:
    on the button. *gives*: what comes of it. *elements*: ids of what it is about.
    """

    ident: str
    letter: str
    value: str
    words: str
    gives: str
    about: tuple[str, ...]
    elements: tuple[str, ...]


@dataclass(frozen=True)
class Asked:
    """What only the maker can say of a drawing, with every answer; *key*: of ``[pattern]``."""

    key: str
    question: str
    why: str
    answers: tuple[Answer, ...]


_SAYING: Final[Mapping[str, str]] = {
    "join_tolerance": "Close this gap",
    "waistlines": "This line is the waist",
    "leave_out": "These are no panels",
    "size": "This size: {value}, counted from inside",
    "allowance_drawn": "{value} are drawn in: take them off",
    "drafted_waist": "My waist is {value}: use it",
    "page": "Page {value} is the pattern",
    "scale": "Take the drawing {value} times as large",
}
"""Words of a button, by the key that it settles."""

_LETTERS: Final = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"

_HALVES: Final[Mapping[str, str]] = {"half": "One half is drawn", "full": "Both halves are drawn"}


def asked_of(choices: Sequence[OpenChoice]) -> tuple[Asked, ...]:
    """Return the library's choices as the page asks them."""
    return tuple(
        Asked(
            choice.key,
            choice.question,
            choice.why,
            tuple(_answer(choice, k, option) for k, option in enumerate(choice.options)),
        )
        for choice in choices
    )


def _answer(choice: OpenChoice, place: int, option: Option) -> Answer:
    value = option.value if isinstance(option.value, str) else "\n".join(option.value)
    words = _HALVES[value] if choice.key == "halves" else _SAYING[choice.key].format(value=value)
    ident = f"say-{choice.key}-{place}"
    # Sizes lie round each other: no room for letters, and they are counted from inside.
    lettered = choice.key != "size" and len(choice.options) > 1 and option.elements
    letter = _LETTERS[place] if lettered else ""
    return Answer(ident, letter, value, words, option.gives, option.about, option.elements)
