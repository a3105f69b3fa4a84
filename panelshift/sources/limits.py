"""How much a draft may hold: far more than any pattern, less than would keep a maker waiting."""

from __future__ import annotations

from typing import Final

from ..errors import PanelshiftError

MOST_SHAPES: Final = 10_000
"""Curves in a drawing at most: panels, marks and texts drawn as outlines are a few hundred."""

MOST_SEGMENTS: Final = 200_000
"""Segments of all curves together at most."""

MOST_TEXTS: Final = 5_000
"""Texts in a drawing at most."""

MOST_CHARACTERS: Final = 2_000
"""Characters in one text at most; a longer one is no label and is left out."""


def refuse_too_many(shapes: int, segments: int, texts: int, error: type[PanelshiftError]) -> None:
    """Raise an error of the given type if a drawing holds more than any pattern does."""
    for count, most, what in (
        (shapes, MOST_SHAPES, "lines"),
        (segments, MOST_SEGMENTS, "pieces of lines"),
        (texts, MOST_TEXTS, "texts"),
    ):
        if count > most:
            raise error(
                f"the drawing holds more than {most} {what}",
                remedy="Keep the pattern alone on its sheet: delete hatching, pictures and traced "
                "noise.",
            )
