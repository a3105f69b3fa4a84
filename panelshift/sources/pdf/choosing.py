"""Which page of a PDF is the pattern: the one that is named, the only one, or all that join."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from typing import Final

from ...errors import PdfError
from ...pattern.drawing import Drawing
from .joined import join_pages
from .reading import PdfPage, read_pages

_MOST_LISTED: Final = 8


def read_pdf(data: bytes, *, page: int | None = None, name: str = "") -> Drawing:
    """Read the curves and texts of a PDF.

    *page*: its number, from 1 on. Without one it is the only page on which lines are drawn;
    several are joined if they are parts of one drawing. *name*: for messages.

    Raises `PdfError` if the file cannot be read, there is no such page, or several pages hold
    lines that do not go on from one to the other.
    """
    pages = read_pages(data, name)
    try:
        if page is not None:
            if not 1 <= page <= len(pages):
                raise PdfError(
                    f"there is no page {page}: it has {len(pages)}",
                    remedy="Name one of its pages: page under [pattern], or --page.",
                    key="page",
                )
            pages = pages[page - 1 : page]
        drawn = [one for one in pages if one.drawing.shapes]
        if not drawn:
            raise _empty(pages)
        if len(drawn) == 1:
            return drawn[0].drawing
        return _joined(drawn)
    except PdfError as error:
        raise error.located(source=name) from None


def _joined(drawn: Sequence[PdfPage]) -> Drawing:
    try:
        return join_pages(drawn)
    except PdfError as error:
        held = "; ".join(page_words(one.number, one.drawing) for one in drawn[:_MOST_LISTED])
        more = f" and {len(drawn) - _MOST_LISTED} more" if len(drawn) > _MOST_LISTED else ""
        raise PdfError(
            f"{error.problem}. What they hold: {held}{more}", remedy=error.remedy, key="page"
        ) from None


def _empty(pages: Sequence[PdfPage]) -> PdfError:
    if any(page.is_picture for page in pages):
        return PdfError(
            "it holds a picture, no lines: it was scanned or photographed",
            remedy="Trace the picture in a drawing program, in true size, and save that as SVG.",
        )
    reasons = [gone.reason for page in pages for gone in page.drawing.left_out]
    words = f" ({reasons[0]})" if reasons else ""
    return PdfError(
        f"no lines are drawn in it{words}",
        remedy="Save the drawing again with its lines shown, or name another page.",
    )


def page_words(number: int, drawing: Drawing) -> str:
    """What a page holds, for people to tell it from others."""
    lines = len(drawing.shapes)
    words = [f"page {number}: {lines} line{'s' * (lines != 1)}"]
    if drawing.page is not None:
        across, down = (drawing.page[1] - drawing.page[0]).tolist()
        words.append(f"{across:.0f} by {down:.0f} mm")
    layers = Counter(shape.groups[-1] for shape in drawing.shapes if shape.groups)
    if layers:
        words.append("layers " + ", ".join(repr(name) for name, _ in layers.most_common(6)))
    if drawing.texts:
        words.append(f"the words {drawing.texts[0].content[:30]!r}")
    return ", ".join(words)
