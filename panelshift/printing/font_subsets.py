"""Faces cut down to the characters of a document, ready to be embedded in it."""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING, Final

from ..sheets.lettering import FaceName, face_font, opened_font

if TYPE_CHECKING:
    from fontTools.ttLib import TTFont

_OUTLINE_TABLES: Final = frozenset(
    ["head", "hhea", "hmtx", "maxp", "glyf", "loca", "CFF ", "cmap", "cvt ", "fpgm", "prep"]
)


@dataclass(frozen=True)
class Subset:
    """A face cut down to some characters, ready to be embedded.

    Parameters
    ----------
    face : {"latin", "cjk"}
    name : str
        PostScript name with a subset tag.
    data : bytes
        The font file.
    codes : dict of str to int
        Character codes as the text operators need them.
    widths : dict of int to int
        Advance width of each code in thousandths of the font size.
    ascent, descent, cap_height : int
        In thousandths of the font size.
    box : tuple of int
        Font bounding box in thousandths.
    """

    face: FaceName
    name: str
    data: bytes
    codes: dict[str, int]
    widths: dict[int, int]
    ascent: int
    descent: int
    cap_height: int
    box: tuple[int, int, int, int]


def subset(face: FaceName, characters: Sequence[str]) -> Subset:
    """Cut a face down to some characters; the same characters always give the same bytes."""
    return _subset(face, "".join(sorted(set(characters))))


@cache
def _subset(face: FaceName, characters: str) -> Subset:
    from fontTools import subset as subsetting

    font = opened_font(face)
    # Variations go: the default instance is the regular weight. Layout features and names
    # are of no use in a PDF, where every glyph is placed by its code.
    for tag in list(font.keys()):
        if tag not in _OUTLINE_TABLES and tag not in ("GlyphOrder", "OS/2", "post"):
            del font[tag]
    options = subsetting.Options(
        layout_features=[], hinting=False, notdef_outline=True, glyph_names=False
    )
    options.drop_tables += ["OS/2"]
    options.recalc_timestamp = False
    tool = subsetting.Subsetter(options)
    tool.populate(unicodes=[ord(character) for character in characters])
    source = face_font(face)
    scale = 1000.0 / float(source["head"].unitsPerEm)
    tool.subset(font)
    order = font.getGlyphOrder()
    cmap = font.getBestCmap() or {}
    codes = {c: _code(face, order, cmap.get(ord(c), ".notdef")) for c in characters}
    widths = {_code(face, order, glyph): round(font["hmtx"][glyph][0] * scale) for glyph in order}
    head, hhea = source["head"], source["hhea"]
    box = tuple(round(v * scale) for v in (head.xMin, head.yMin, head.xMax, head.yMax))
    return Subset(
        face,
        f"{_tag(characters)}+{'NotoSans' if face == 'latin' else 'NotoSansCJKjp'}-Regular",
        _bytes(font, face),
        codes,
        widths,
        round(hhea.ascent * scale),
        round(hhea.descent * scale),
        round(float(getattr(source["OS/2"], "sCapHeight", 714)) * scale),
        (box[0], box[1], box[2], box[3]),
    )


def _code(face: FaceName, order: list[str], glyph: str) -> int:
    """A glyph's index, or in a CID-keyed face its CID, which its name holds."""
    if face == "cjk":
        return int(glyph.removeprefix("cid")) if glyph.startswith("cid") else 0
    return order.index(glyph)


def _bytes(font: TTFont, face: FaceName) -> bytes:
    if face == "cjk":
        data: bytes = font["CFF "].compile(font)
        return data
    for tag in ("cmap", "post"):
        if tag in font:
            del font[tag]
    stream = io.BytesIO()
    font.save(stream, reorderTables=None)
    return stream.getvalue()


def _tag(characters: str) -> str:
    """Six capitals that name a subset (ISO 32000-1, 9.6.4), the same for the same characters."""
    import hashlib

    digest = hashlib.sha256(characters.encode()).digest()
    return "".join(chr(ord("A") + byte % 26) for byte in digest[:6])
