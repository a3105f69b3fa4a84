"""Pages of a PDF as drawings in mm."""

from __future__ import annotations

import cmath
import math
from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from ...errors import PanelshiftError, PdfError
from ...pattern.drawing import Drawing, LeftOut, Shape, Text
from ..limits import MOST_CHARACTERS, refuse_too_many
from ..outlines import placed
from .graphics import Box, Painted, Said
from .opening import AGAIN, DAMAGE, Layers, PdfLeaf, opened, reason_of
from .walk import Walk

_SAME_LINE: Final = 0.25
"""Letters whose baselines lie apart by less than this part of their size are of one line."""

_NEXT_LETTER: Final = 0.2
_NEXT_WORD: Final = 1.2
"""Gaps, in parts of the size, up to which letters belong to one word, and words to one text."""

_SAME_MM: Final = 0.2


@dataclass(frozen=True, eq=False)
class PdfPage:
    """What one page holds.

    *number*: from 1 on. *label*: what viewers call it, if that is another word.
    """

    number: int
    drawing: Drawing

    @property
    def is_picture(self) -> bool:
        """Whether it holds a picture and hardly a line."""
        pictures = any("picture" in gone.reason for gone in self.drawing.left_out)
        return pictures and not self.drawing.shapes


def read_pages(data: bytes, source: str = "") -> tuple[PdfPage, ...]:
    """Read all pages of a PDF, each by itself.

    Curves stay what they are; lengths are true to the file's units and to ``UserUnit``. What lies
    wholly outside of the page, or in a layer that is switched off, is in `left_out`.

    Raises `PdfError` if the file cannot be read, and if there are more lines than any pattern has.
    """
    try:
        pdf = opened(data)
        layers = Layers(pdf)
        walk = Walk(layers)
        pages = []
        for number, page in enumerate(pdf.pages, start=1):
            several = len(pdf.pages) > 1
            try:
                pages.append(_page(PdfLeaf(page.obj, number), walk, source, several=several))
            except PanelshiftError as error:
                raise error.located(element=f"page {number}") from error
        return tuple(pages)
    except PanelshiftError as error:
        raise error.located(source=source) from error.__cause__
    except DAMAGE as error:
        # Anything may stand where a number, a name or a table should.
        raise PdfError(
            f"the PDF is damaged: {reason_of(error)}", remedy=AGAIN, source=source
        ) from error


def _page(sheet: PdfLeaf, walk: Walk, source: str, *, several: bool) -> PdfPage:
    walk.drawn, walk.said, walk.left = [], [], {}
    width, height = sheet.size
    clip = (0.0, 0.0, width, height)
    walk.page(sheet.content(), sheet.page_resources(), sheet.to_mm, clip)
    for note, look in sheet.notes():
        walk.note(note, look, sheet.to_mm, clip)
    prefix = f"page {sheet.number} " if several else ""
    shapes, gone = _shapes(walk.drawn, prefix, clip)
    texts, untold = _texts(walk.said, prefix)
    gone += untold
    gone += [LeftOut(f"page {sheet.number}", _counted(what, n)) for what, n in walk.left.items()]
    drawing = Drawing(
        tuple(shapes),
        tuple(texts),
        tuple(gone),
        source=source,
        page=np.array([[0.0, 0.0], [width, height]]),
    )
    return PdfPage(sheet.number, drawing)


def _counted(what: str, count: int) -> str:
    return f"{what} ({count} times)" if count > 1 else what


def _shapes(drawn: Iterable[Painted], prefix: str, page: Box) -> tuple[list[Shape], list[LeftOut]]:
    """The shapes that are seen, and what hides the others."""
    seen, hidden = [], Counter[str]()
    for one in drawn:
        if one.outline.is_point:
            continue
        if one.hidden:
            hidden[f"the layer {one.hidden!r} is switched off"] += 1
        elif not _overlaps(one):
            hidden["it lies outside of the page or of its clip"] += 1
        else:
            seen.append(one)
    segments = sum(len(one.outline.degrees) for one in seen)
    refuse_too_many(len(seen), segments, 0, PdfError)
    curves = placed(
        [one.outline for one in seen],
        [one.to_mm for one in seen],
        [f"{prefix}line {one.number}" for one in seen],
    )
    count = Counter(one.number for one in seen)
    place: Counter[int] = Counter()
    shapes = []
    for one, curve in zip(seen, curves, strict=True):
        place[one.number] += 1
        whole = f"{prefix}line {one.number}"
        ident = f"{whole}~{place[one.number]}" if count[one.number] > 1 else whole
        shapes.append(
            Shape(
                curve,
                ident,
                groups=one.groups,
                element=whole if ident != whole else "",
                style=one.style,
                clip=None if one.clip in (None, page) else np.array(one.clip).reshape(2, 2),
            )
        )
    name = prefix.strip() or "page 1"
    return shapes, [LeftOut(name, _counted(why, n)) for why, n in hidden.items()]


def _overlaps(one: Painted) -> bool:
    """Whether the frame of a line's control points meets what is seen."""
    if one.clip is None:
        return True
    rows = np.frombuffer(one.outline.rows).reshape(-1, 2)
    m = one.to_mm
    x = rows[:, 0] * m.a + rows[:, 1] * m.c + m.e
    y = rows[:, 0] * m.b + rows[:, 1] * m.d + m.f
    low_x, low_y, high_x, high_y = one.clip
    return bool(x.max() > low_x and x.min() < high_x and y.max() > low_y and y.min() < high_y)


def _texts(said: Iterable[Said], prefix: str) -> tuple[list[Text], list[LeftOut]]:
    """Texts of the letters that were shown one after the other."""
    texts: list[Text] = []
    gone = []
    seen: set[tuple[str, int, int]] = set()
    for one in _joined(said):
        words = " ".join(one.text.split())
        # A text with a white edge is written twice in its place.
        key = words, round(one.start.real / _SAME_MM), round(one.start.imag / _SAME_MM)
        if not words or key in seen:
            continue
        seen.add(key)
        ident = f"{prefix}text {len(texts) + 1}"
        if one.hidden:
            gone.append(LeftOut(ident, f"the layer {one.hidden!r} is switched off"))
        elif len(words) > MOST_CHARACTERS:
            gone.append(LeftOut(ident, f"text of {len(words)} characters is no label"))
        else:
            refuse_too_many(0, 0, len(texts) + 1, PdfError)
            anchor = np.array([one.start.real, one.start.imag])
            text = Text(words, anchor, one.size, one.angle, ident, one.groups, bold=one.bold)
            texts.append(replace(text, mirrored=one.mirrored))
    return texts, gone


def _joined(said: Iterable[Said]) -> Iterator[Said]:
    """Letters in a row as one: programs show a word in pieces, or letter by letter."""
    last: Said | None = None
    for one in said:
        if last is None:
            last = one
            continue
        gap = (one.start - last.end) * cmath.rect(1.0, -last.angle)
        along, across = gap.real / last.size, gap.imag / last.size
        alike = (
            math.isclose(one.size, last.size, rel_tol=0.05)
            and abs(math.remainder(one.angle - last.angle, math.tau)) < 0.01
            and (one.groups, one.hidden) == (last.groups, last.hidden)
        )
        if alike and abs(across) < _SAME_LINE and -_NEXT_LETTER < along < _NEXT_WORD:
            space = "" if along < _NEXT_LETTER or last.text.endswith(" ") else " "
            last = replace(last, text=f"{last.text}{space}{one.text}", end=one.end)
        else:
            yield last
            last = one
    if last is not None:
        yield last
