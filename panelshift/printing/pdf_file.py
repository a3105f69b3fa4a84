"""A PDF document of tiled pages, or of one long page.

pikepdf writes it: it is kept up, works on qpdf (whose check it therefore passes), and lets a
form XObject be shared between pages, which drawing libraries with a canvas of their own do
not.
"""

from __future__ import annotations

import io
from collections.abc import Sequence
from typing import Any, Final

import pikepdf
from pikepdf import Array, Dictionary, Name, OutlineItem, Pdf, Stream, String

from ..sheets.lettering import FaceName, Subset
from ..sheets.sheet import Sheet
from .content import Beam, Content, PdfLayer, draw_sheet

POINTS_PER_MM: Final = 72.0 / 25.4
"""A PDF unit is 1/72 in by default (ISO 32000-1, 8.3.2.3)."""

LARGEST_UNITS: Final = 14_400.0
"""Largest page side that viewers need take (ISO 32000-1, annex C.2): 5.08 m."""

_VERSION: Final = "1.6"
"""The first with UserUnit and PrintScaling; optional content came with 1.5."""


class PdfFile:
    """A PDF in the making.

    Parameters
    ----------
    layers : sequence of PdfLayer
        All layers that its content names.
    fonts : mapping of face to Subset
        All fonts that its content names.
    """

    def __init__(
        self, title: str, layers: Sequence[PdfLayer], fonts: dict[FaceName, Subset]
    ) -> None:
        self._pdf = Pdf.new()
        self._pdf.docinfo["/Title"] = String(title)
        self._pdf.docinfo["/Creator"] = String("panelshift")
        self.fonts = fonts
        self._fonts = Dictionary({f"/{face}": self._font(font) for face, font in fonts.items()})
        groups = {
            layer.resource: self._pdf.make_indirect(
                Dictionary(Type=Name.OCG, Name=String(layer.title))
            )
            for layer in layers
        }
        self._properties = Dictionary({f"/{name}": group for name, group in groups.items()})
        everything = Array(list(groups.values()))
        self._pdf.Root.OCProperties = Dictionary(
            OCGs=everything,
            D=Dictionary(
                Name=String("all lines"),
                Order=Array(list(groups.values())),
                ON=Array(list(groups.values())),
            ),
        )
        self._pdf.Root.PageMode = Name.UseOC
        # Viewers then offer 100 % instead of fit to page (ISO 32000-1, table 150).
        self._pdf.Root.ViewerPreferences = Dictionary(
            PrintScaling=Name("/None"), DisplayDocTitle=True
        )
        self._pdf.Root.Lang = String("en")
        self._document = self._pdf.make_indirect(
            Dictionary(Type=Name.StructElem, S=Name.Document, K=Array([]))
        )
        self._parents = Array([])
        self._names: list[str] = []
        self._bookmarks: list[tuple[str, int]] = []

    def form(self, sheet: Sheet, beam: Beam | None = None) -> pikepdf.Object:
        """Store a sheet's drawing once, to be used by any number of pages; units are mm."""
        content = Content(self.fonts, sheet.height, beam)
        draw_sheet(content, sheet)
        stream = Stream(self._pdf, content.data())
        stream.Type, stream.Subtype, stream.FormType = Name.XObject, Name.Form, 1
        stream.BBox = Array([0, 0, round(sheet.width, 3), round(sheet.height, 3)])
        stream.Resources = Dictionary(Font=self._fonts, Properties=self._properties)
        return self._pdf.make_indirect(stream)

    def bookmark(self, title: str) -> None:
        """Let the next page be found by a title."""
        self._bookmarks.append((title, len(self._pdf.pages)))

    def page(
        self,
        width: float,
        height: float,
        content: Content,
        form: pikepdf.Object | None,
        name: str = "",
    ) -> None:
        """Add a page of a size in mm, its content in mm, under a name that viewers show."""
        self._names.append(name)
        unit = max(width, height) * POINTS_PER_MM / LARGEST_UNITS
        user_unit = 1 if unit <= 1.0 else int(unit) + 1
        scale = POINTS_PER_MM / user_unit
        data = f"q {scale:.9g} 0 0 {scale:.9g} 0 0 cm\n".encode() + content.data() + b"Q\n"
        resources = Dictionary(Font=self._fonts, Properties=self._properties)
        if form is not None:
            resources.XObject = Dictionary(Sheet=form)
        page = Dictionary(
            Type=Name.Page,
            MediaBox=Array([0, 0, round(width * scale, 4), round(height * scale, 4)]),
            Resources=resources,
            Contents=Stream(self._pdf, data),
        )
        if user_unit > 1:
            page.UserUnit = user_unit
        made = self._pdf.make_indirect(page)
        self._tag(made, content.tags)
        self._pdf.pages.append(pikepdf.Page(made))

    def _tag(self, page: pikepdf.Object, tags: Sequence[tuple[str, str]]) -> None:
        """Put what a page holds into the document's structure, in the order it is drawn."""
        elements = []
        for number, (role, description) in enumerate(tags):
            element = Dictionary(
                Type=Name.StructElem, S=Name("/" + role), P=self._document, Pg=page, K=number
            )
            if description:
                element.Alt = String(description)
            elements.append(self._pdf.make_indirect(element))
        place = len(self._pdf.pages)
        page.StructParents, page.Tabs = place, Name.S
        self._parents.extend(Array([place, self._pdf.make_indirect(Array(elements))]))
        self._document.K.extend(elements)

    def data(self) -> bytes:
        """The document's bytes; the same content always gives the same bytes."""
        if any(self._names):
            # One range of numbers for each page, with nothing but a prefix (ISO 32000-1, 12.4.2).
            labels = [
                item
                for k, name in enumerate(self._names)
                for item in (k, Dictionary(P=String(name)))
            ]
            self._pdf.Root.PageLabels = Dictionary(Nums=Array(labels))
        with self._pdf.open_outline() as outline:
            outline.root.extend(OutlineItem(title, page) for title, page in self._bookmarks)
        tree = Dictionary(
            Type=Name.StructTreeRoot,
            K=self._document,
            ParentTree=Dictionary(Nums=self._parents),
            ParentTreeNextKey=len(self._pdf.pages),
        )
        self._pdf.Root.StructTreeRoot = self._pdf.make_indirect(tree)
        self._document.P = self._pdf.Root.StructTreeRoot
        self._pdf.Root.MarkInfo = Dictionary(Marked=True)
        stream = io.BytesIO()
        self._pdf.save(
            stream,
            min_version=_VERSION,
            deterministic_id=True,
            compress_streams=True,
            object_stream_mode=pikepdf.ObjectStreamMode.generate,
        )
        return stream.getvalue()

    def _font(self, font: Subset) -> pikepdf.Object:
        """A composite font over an embedded subset (ISO 32000-1, 9.7)."""
        latin = font.face == "latin"
        file = Stream(self._pdf, font.data)
        if latin:
            file.Length1 = len(font.data)
        else:
            file.Subtype = Name.CIDFontType0C
        descriptor = Dictionary(
            Type=Name.FontDescriptor,
            FontName=Name("/" + font.name),
            Flags=4,
            FontBBox=Array(list(font.box)),
            ItalicAngle=0,
            Ascent=font.ascent,
            Descent=font.descent,
            CapHeight=font.cap_height,
            StemV=80,
        )
        descriptor["/FontFile2" if latin else "/FontFile3"] = self._pdf.make_indirect(file)
        descendant = Dictionary(
            Type=Name.Font,
            Subtype=Name.CIDFontType2 if latin else Name.CIDFontType0,
            BaseFont=Name("/" + font.name),
            CIDSystemInfo=Dictionary(
                Registry=String("Adobe"), Ordering=String("Identity"), Supplement=0
            ),
            FontDescriptor=self._pdf.make_indirect(descriptor),
            DW=1000,
            W=Array(_widths(font)),
        )
        if latin:
            descendant.CIDToGIDMap = Name.Identity
        return self._pdf.make_indirect(
            Dictionary(
                Type=Name.Font,
                Subtype=Name.Type0,
                BaseFont=Name("/" + font.name),
                Encoding=Name("/Identity-H"),
                DescendantFonts=Array([self._pdf.make_indirect(descendant)]),
                ToUnicode=self._pdf.make_indirect(Stream(self._pdf, _to_unicode(font))),
            )
        )


def _widths(font: Subset) -> list[Any]:
    result: list[Any] = []
    for code, advance in sorted(font.widths.items()):
        result += [code, Array([advance])]
    return result


def _to_unicode(font: Subset) -> bytes:
    """A CMap from codes back to text, so that labels can be searched and copied."""
    pairs = [
        f"<{code:04X}> <{character.encode('utf-16-be').hex().upper()}>"
        for character, code in sorted(font.codes.items())
        if code != 0
    ]
    blocks = [pairs[k : k + 100] for k in range(0, len(pairs), 100)]
    lines = [
        "/CIDInit /ProcSet findresource begin 12 dict begin begincmap",
        "/CIDSystemInfo << /Registry (Adobe) /Ordering (UCS) /Supplement 0 >> def",
        "/CMapName /Adobe-Identity-UCS def /CMapType 2 def",
        "1 begincodespacerange <0000> <FFFF> endcodespacerange",
    ]
    for block in blocks:
        lines += [f"{len(block)} beginbfchar", *block, "endbfchar"]
    lines.append("endcmap CMapName currentdict /CMap defineresource pop end end")
    return "\n".join(lines).encode("ascii")
