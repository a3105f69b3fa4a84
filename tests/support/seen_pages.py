"""What another program, PDFium, sees on printed pages: each word and line, and where it is."""

from __future__ import annotations

import ctypes
from collections.abc import Iterator
from typing import Any, Final

import pypdfium2 as pdfium
import pypdfium2.raw as raw

_MM: Final = 25.4 / 72.0
_CLEARED: Final = 1


def seen_on(content: bytes) -> str:
    """One line for each word and line, in the order in which they are drawn; mm, y downwards.

    What lies in a form, a sheet that several pages show a part of, is told once, y upwards.
    """
    document = pdfium.PdfDocument(content)
    lines: list[str] = []
    known: set[str] = set()
    for number in range(len(document)):
        page = document[number]
        lines += _Page(page, number + 1).lines(known)
        page.close()
    document.close()
    return "\n".join(lines)


class _Page:
    def __init__(self, page: Any, number: int) -> None:
        self._page, self._texts = page, page.get_textpage()
        width, self._height = (_MM * size for size in page.get_size())
        self._head = f"PAGE {number}: {width:.1f} by {self._height:.1f}"
        # The white edge round words; PDFium takes the words upon it for a shadow of these.
        self._edge = ""

    def lines(self, known: set[str]) -> Iterator[str]:
        yield self._head
        form: list[str] = []
        for each in [*self._page.get_objects(max_depth=2), None]:
            if each is not None and each.level:
                form += self._told(each)
                continue
            if form:
                text = "\n".join(f"    {line}" for line in form)
                yield "    as before" if text in known else text
                known.add(text)
                form = []
            if each is not None and each.type == raw.FPDF_PAGEOBJ_FORM:
                yield "  FORM " + " ".join(f"{v + 0.0:.2f}" for v in each.get_matrix().get())
            elif each is not None:
                yield from (f"  {line}" for line in self._told(each))

    def _told(self, each: Any) -> Iterator[str]:
        if each.type == raw.FPDF_PAGEOBJ_TEXT:
            words = self._words(each)
            if raw.FPDFTextObj_GetTextRenderMode(each) == _CLEARED:
                self._edge = words
                return
            colour = _colour(each, raw.FPDFPageObj_GetFillColor)
            edged, self._edge = self._edge, ""
            yield f"{self._box(each)} {colour}{' edged' * bool(edged)} {words or edged!r}"
        elif each.type == raw.FPDF_PAGEOBJ_PATH:
            filled, stroked = ctypes.c_int(), ctypes.c_int()
            raw.FPDFPath_GetDrawMode(each, filled, stroked)
            way = raw.FPDFPageObj_GetStrokeColor if stroked.value else raw.FPDFPageObj_GetFillColor
            style = f"line {_width(each):.2f} [{_dash(each)}]" if stroked.value else "area"
            yield f"{self._box(each)} {_colour(each, way)} {style}"

    def _box(self, each: Any) -> str:
        """Left, top, right and bottom."""
        left, bottom, right, top = each.get_bounds()
        if each.level:
            box = [left, top, right, bottom]
        else:
            box = [_MM * left, self._height - _MM * top, _MM * right, self._height - _MM * bottom]
        return " ".join(f"{value + 0.0:.1f}" for value in box)

    def _words(self, each: Any) -> str:
        size = raw.FPDFTextObj_GetText(each, self._texts, None, 0)
        found = ctypes.create_string_buffer(size)
        there = ctypes.cast(found, ctypes.POINTER(ctypes.c_ushort))
        raw.FPDFTextObj_GetText(each, self._texts, there, size)
        return found.raw.decode("utf-16-le").rstrip("\0 ")


def _colour(each: Any, way: Any) -> str:
    parts = [ctypes.c_uint() for _ in range(4)]
    way(each, *parts)
    return "#" + "".join(f"{part.value:02x}" for part in parts[:3])


def _width(each: Any) -> float:
    found = ctypes.c_float()
    raw.FPDFPageObj_GetStrokeWidth(each, found)
    return found.value


def _dash(each: Any) -> str:
    count = raw.FPDFPageObj_GetDashCount(each)
    found = (ctypes.c_float * max(count, 0))()
    raw.FPDFPageObj_GetDashArray(each, found, count)
    return " ".join(f"{value:.1f}" for value in found)
