"""Text that ends up in drawings, in file names and on the terminal: one line of it."""

from __future__ import annotations

import unicodedata
from typing import Final

from ..errors import PanelshiftError

_TURNING: Final = frozenset(map(chr, (*range(0x202A, 0x202F), *range(0x2066, 0x206A))))
"""Marks that turn the direction of writing, so that a name reads otherwise than it is."""

_NO_CHARACTERS: Final = frozenset("\ufffe\uffff")
"""Code points that hold no character: XML takes neither."""

_CONTROLS: Final = frozenset({"Cc", "Cs", "Zl", "Zp"})
"""Control characters, halves of pairs, which no file can hold, and what parts lines."""

MOST_LETTERS: Final = 300
"""In a name or a title: it has to fit on a sheet and in a file name."""


def as_line(text: str) -> str:
    """Text as one line: spaces for what would break it, and no more than its first letters."""
    return "".join(" " if _breaks(ch) else ch for ch in text)[:MOST_LETTERS]


def collapsed(text: str) -> str:
    """Return text with every run of white space made one space, and none at the ends.

    What cannot be printed counts as white space: control characters could steer a terminal,
    and marks of direction could make a name read otherwise than it is.

    Examples
    --------
    >>> collapsed(" centre\tfront\x9b2J ")
    'centre front 2J'
    """
    if not text.isprintable():
        text = "".join(character if character.isprintable() else " " for character in text)
    return " ".join(text.split())


def line_fault(text: str) -> str:
    """Why text is no line of words, to be put behind its name; empty if it is one."""
    if not text.isprintable() and any(map(_breaks, text)):
        return "must be one line of text without control characters"
    if len(text) > MOST_LETTERS:
        return f"has {len(text)} letters, more than {MOST_LETTERS}"
    return ""


def _breaks(ch: str) -> bool:
    return unicodedata.category(ch) in _CONTROLS or ch in _TURNING or ch in _NO_CHARACTERS


def refuse_broken_line(
    text: str, what: str, kind: type[PanelshiftError], *, empty: bool = True
) -> None:
    """Refuse text of a script that a job file would refuse as well.

    *what*: what the text is, for the message. *empty*: whether there may be none.
    """
    problem = line_fault(text) if text.strip() or empty else "must not be empty"
    if problem:
        raise kind(
            f"{what} {problem} (found {text!a:.60})",
            remedy=f"Give it as it is to stand on the pieces: {MOST_LETTERS} letters at most, "
            "without line breaks, tabs and marks that do not show.",
        )
