"""What the walk has found so far: curves, texts and what is left out, within bounds."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from typing import Final

import numpy as np
from lxml import etree

from ...errors import SvgError
from ...files.one_line import collapsed
from ...outline import Curve, FloatArray
from ...pattern.drawing import Drawing, LeftOut, LineStyle, Shape, Text
from ...units import LONGEST_MM
from ..affine import Affine
from ..limits import MOST_CHARACTERS, refuse_too_many
from ..outlines import Outline, placed
from .elements import DRAWN, Idents, drawn_inside, own_words, speaks
from .lengths import Axis, Basis, user_length
from .primitives import drawn
from .properties import Look, Properties
from .surroundings import Surroundings, both_clips
from .viewport import EVEN, is_large, pulled, shrunk

_POSITIONS = ("x", "y", "dx", "dy")


def content(element: etree._Element) -> str:
    """Return the characters of a text element, white space collapsed.

    A ``tspan`` with a position of its own starts a new word, since programs write each line
    of a text as one. Elements of other namespaces and titles are not part of the text.
    """
    pieces: list[str] = []
    _collect(element, pieces)
    return collapsed("".join(pieces))


def _collect(element: etree._Element, pieces: list[str]) -> None:
    # Nesting is bounded by the parser, at about 250 levels.
    pieces.append(element.text or "")
    for child in element:
        if speaks(child):
            if any(name in child.attrib for name in _POSITIONS):
                pieces.append(" ")
            _collect(child, pieces)
        pieces.append(child.tail or "")


def start(element: etree._Element, basis: Basis) -> tuple[float, float]:
    """Return where a text starts, in user units.

    It is the x and y of the element or, where it has none, of the first ``tspan`` that has;
    of a list the first is taken. Shifts (dx, dy) and ``text-anchor`` are not followed.
    """
    return _first(element, "x", basis), _first(element, "y", basis)


def _first(element: etree._Element, axis: Axis, basis: Basis) -> float:
    for node in element.iter("text", "tspan"):
        words = (node.get(axis) or "").replace(",", " ").split()
        if words:
            return user_length(words[0], name=axis, axis=axis, basis=basis)
    return 0.0


def size_mm(font_size: float, transform: Affine) -> float:
    """Return the font's height across the baseline in mm."""
    along = math.hypot(transform.a, transform.b)
    return 0.0 if along == 0.0 else font_size * abs(transform.determinant) / along


def angle(transform: Affine) -> float:
    """Return the direction of the baseline in radians, from x towards y."""
    return math.atan2(transform.b, transform.a)


_HIDDEN_MM: Final = 0.5
"""What lies no further beyond a nested viewport is rounding, or half of a line's width."""


def _clip(curve: Curve, clip: FloatArray | None, frame: FloatArray | None) -> FloatArray | None:
    """Return the rectangle that shows a curve: of a viewport's that one that hides some of it.

    Programs fit viewports closely to what is drawn in them: an outline that only runs along the
    edge of one is whole.
    """
    if frame is None or not _goes_beyond(curve.hull_box, frame):
        return clip
    return both_clips(frame, clip) if _goes_beyond(curve.flatten(), frame) else clip


def _goes_beyond(points: FloatArray, box: FloatArray) -> bool:
    return bool(np.maximum(box[0] - points, points - box[1]).max() > _HIDDEN_MM)


_Other = tuple[
    str,
    tuple[str, ...],
    tuple[str, ...],
    Mapping[str, str],
    tuple[str, ...],
    str,
    LineStyle,
    FloatArray | None,
]


class Gathering:
    """Gathers the parts of a drawing, each under a name of its own."""

    def __init__(self) -> None:
        self._idents = Idents()
        self._segments = 0
        self._outlines: list[Outline] = []
        self._transforms: list[Affine] = []
        # What else a shape is, in the order of its fields after the curve.
        self._others: list[_Other] = []
        self._frames: list[FloatArray | None] = []
        self._own_transforms: list[str] = []
        self._texts: list[Text] = []
        self._letters: list[Affine] = []
        self._left_out: dict[tuple[str, str, bool], int] = {}

    def drawing(self, source: str, warnings: tuple[str, ...], page: Affine) -> Drawing:
        """Return all that was gathered. *page*: the map of the page, of which all is told."""
        curves = placed(self._outlines, self._transforms, [other[0] for other in self._others])
        shapes = tuple(
            Shape(curve, *other[:-1], _clip(curve, other[-1], frame))
            for curve, other, frame in zip(curves, self._others, self._frames, strict=True)
        )
        if page.pull > EVEN:
            maps = [(text.ident, own) for text, own in zip(self._texts, self._letters, strict=True)]
            maps += [
                (shape.ident, own)
                for shape, own in zip(shapes, self._transforms, strict=True)
                if own.pull <= EVEN and is_large(shape.curve)
            ]
            warnings += pulled(maps)
        return Drawing(
            shapes,
            tuple(self._texts),
            tuple(self._reasons()),
            warnings,
            source,
            shrunk=shrunk(curves, self._own_transforms),
        )

    def add_shapes(
        self, tag: str, properties: Properties, name: str, ident: str, own: Surroundings
    ) -> None:
        """Add the curves of a shape element in mm, and say what of it draws nothing."""
        transform = own.transform
        result = drawn(tag, properties, transform.stretch)
        element = properties.element
        names, data, classes = own_words(element, properties.attributes, name)
        several = len(result.outlines) > 1
        style = own.look.line(transform, properties.styled("vector-effect"))
        for outline in result.outlines:
            self._segments += len(outline.degrees)
        shapes = len(self._others) + len(result.outlines)
        refuse_too_many(shapes, self._segments, 0, SvgError)
        for place, outline in enumerate(result.outlines, start=1):
            unique = self._idents.unique(f"{ident}~{place}" if several else ident)
            self._outlines.append(outline)
            self._transforms.append(transform)
            self._own_transforms.append(properties.attributes.get("transform", ""))
            whole = ident if several else ""
            self._others.append((unique, names, own.groups, data, classes, whole, style, own.clip))
            self._frames.append(own.frame)
        for reason in result.reasons:
            self.leave(ident, reason)

    def add_text(
        self, properties: Properties, ident: str, own: Surroundings, size: float, look: Look
    ) -> None:
        """Add a text element, or say why it is left out.

        Size, in user units, and look are those of its first letter.
        """
        transform = own.transform
        element = properties.element
        if next(element.iter("textPath"), None) is not None:
            self.leave(ident, "text on a path is not read")
            return
        said = content(element)
        if not said:
            return
        if len(said) > MOST_CHARACTERS:
            self.leave(ident, f"text of {len(said)} characters is no label")
            return
        refuse_too_many(0, 0, len(self._texts) + 1, SvgError)
        anchor = transform.point(*start(element, properties.basis))
        if not max(map(abs, anchor)) <= LONGEST_MM:
            raise SvgError(
                "its text starts beyond 100 m",
                remedy="Check the drawing's units, viewBox and transforms.",
            )
        self._letters.append(transform)
        self._texts.append(
            Text(
                said,
                np.array(anchor),
                size_mm(size, transform),
                angle(transform),
                self._idents.unique(ident),
                own.groups,
                look.align,
                look.bold,
                transform.determinant < 0.0,
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
