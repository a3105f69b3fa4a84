"""What the walk has found so far: curves, texts and what is left out, within bounds."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

import numpy as np
from lxml import etree

from ...errors import SvgError
from ...pattern.drawing import Drawing, LeftOut, Shape, Text
from ...units import LONGEST_MM
from . import texts
from .affine import Affine
from .elements import DRAWN, drawn_inside
from .frames import Frame
from .naming import Idents, own_classes, own_data, own_names
from .primitives import drawn
from .properties import Properties

MOST_SHAPES: Final = 10_000
"""Curves in a drawing at most: panels, marks and texts drawn as outlines are a few hundred."""

MOST_SEGMENTS: Final = 200_000
"""Segments of all curves together at most; `MOST_PATH_SEGMENTS` bounds a single path."""

MOST_TEXTS: Final = 5_000
"""Texts in a drawing at most."""

MOST_CHARACTERS: Final = 2_000
"""Characters in one text at most; a longer one is no label and is left out."""


class Gathering:
    """Gathers the parts of a drawing, each under a name of its own."""

    def __init__(self) -> None:
        self._idents = Idents()
        self._segments = 0
        self._shapes: list[Shape] = []
        self._texts: list[Text] = []
        self._left_out: dict[tuple[str, str, bool], int] = {}

    def drawing(self, source: str, warnings: tuple[str, ...]) -> Drawing:
        """Return all that was gathered."""
        return Drawing(
            tuple(self._shapes), tuple(self._texts), tuple(self._reasons()), warnings, source
        )

    def add_shapes(
        self, tag: str, properties: Properties, ident: str, frame: Frame, transform: Affine
    ) -> None:
        """Add the curves of a shape element in mm, and say what of it draws nothing.

        Raises
        ------
        SvgError
            If its attributes cannot be read, or the drawing holds too much.
        CurveError
            If a coordinate is not finite or beyond 100 m.
        """
        result = drawn(tag, properties, transform.stretch)
        element = properties.element
        names, data, classes = own_names(element), own_data(element), own_classes(element)
        several = len(result.outlines) > 1
        style = frame.look.line(transform, properties.styled("vector-effect"))
        self._segments += sum(len(outline.control) for outline in result.outlines)
        if len(self._shapes) + len(result.outlines) > MOST_SHAPES:
            raise _too_many(f"{MOST_SHAPES} lines")
        if self._segments > MOST_SEGMENTS:
            raise _too_many(f"{MOST_SEGMENTS} pieces of lines")
        for place, outline in enumerate(result.outlines, start=1):
            unique = self._idents.unique(f"{ident}~{place}" if several else ident)
            curve = outline.placed(transform)
            self._shapes.append(
                Shape(
                    curve,
                    unique,
                    names,
                    frame.groups,
                    data,
                    classes,
                    element=ident if several else "",
                    style=style,
                    clip=frame.clip,
                )
            )
        for reason in result.reasons:
            self.leave(ident, reason)

    def add_text(
        self, properties: Properties, ident: str, frame: Frame, transform: Affine, size: float
    ) -> None:
        """Add a text element, or say why it is left out.

        The size, in user units, and the frame's look are those of its first letter.

        Raises
        ------
        SvgError
            If its attributes cannot be read, or the drawing holds too much.
        """
        element = properties.element
        if next(element.iter("textPath"), None) is not None:
            self.leave(ident, "text on a path is not read")
            return
        content = texts.content(element)
        if not content:
            return
        if len(content) > MOST_CHARACTERS:
            self.leave(ident, f"text of {len(content)} characters is no label")
            return
        if len(self._texts) >= MOST_TEXTS:
            raise _too_many(f"{MOST_TEXTS} texts")
        anchor = transform.applied(texts.start(element, properties.basis))
        if not np.abs(anchor).max() <= LONGEST_MM:
            raise SvgError(
                "its text starts beyond 100 m",
                remedy="Check the drawing's units, viewBox and transforms.",
            )
        self._texts.append(
            Text(
                content,
                anchor,
                texts.size_mm(size, transform),
                texts.angle(transform),
                self._idents.unique(ident),
                frame.groups,
                frame.look.align,
                frame.look.bold,
            )
        )

    def leave(self, ident: str, reason: str, *, counted: bool = False, count: int = 1) -> None:
        """Say that an element is left out; `counted` ones stand for all those inside it."""
        key = (ident, reason, counted)
        self._left_out[key] = self._left_out.get(key, 0) + count

    def leave_whole(self, element: etree._Element, ident: str, reason: str) -> None:
        """Say that an element is left out with all that it would draw; nothing if it is empty."""
        if element.tag in DRAWN:
            self.leave(ident, reason)
        elif count := drawn_inside(element):
            self.leave(ident, reason, counted=True, count=count)

    def _reasons(self) -> Iterator[LeftOut]:
        for (ident, reason, counted), count in self._left_out.items():
            if counted:
                yield LeftOut(ident, f"{reason} ({count} element{'s' if count > 1 else ''})")
            else:
                yield from [LeftOut(ident, reason)] * count


def _too_many(what: str) -> SvgError:
    return SvgError(
        f"the drawing holds more than {what}",
        remedy="Keep the pattern alone on its sheet: delete hatching, pictures and traced noise.",
    )
