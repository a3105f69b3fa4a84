"""Fonts: which characters can be drawn, how wide they are, and subsets to embed.

Noto Sans covers Latin (Polish and other accents included), Greek and Cyrillic; Noto Sans CJK
covers Japanese, Chinese and Korean, and signs such as arrows and circled numbers. Both come
from packages under the SIL Open Font License; the second is an extra of the installation. A
character that neither has is drawn as the missing-glyph box of Noto Sans. Letters are set one
after another from left to right: scripts that need shaping or run from right to left are not
covered.
"""

from __future__ import annotations

import io
import re
import unicodedata
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cache, lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Final, Literal

from ..errors import PrintError

if TYPE_CHECKING:
    from fontTools.ttLib import TTFont

FaceName = Literal["latin", "cjk"]

_PLACES: Final[dict[FaceName, tuple[str, str]]] = {
    "latin": ("fontpkg_noto_sans", "files/NotoSans[wdth,wght].ttf"),
    "cjk": ("noto_cjk_sans_jp_regular", "NotoSansCJKjp-Regular.otf"),
}


_MEASURING_TABLES: Final = ("head", "hhea", "hmtx", "OS/2")

BOLDER: Final = 0.035
"""Bold letters are drawn with a line round them, as wide as this part of the font size: the face
has one weight only."""

_ADVANCES: Final = r"""
225' 258ijl 268,.:; 269! 273J 281` 300() 322- 329[] 339I 344f 361t 372/\ 380{} 408"
413r 434? 444_ 470z 479s 480c 508v 510y 519F 524L 529x 534k 549S 551*| 556ET 561a
564e 566Y 572$+0123456789<=>Z^~ 586X 600V 605Po 615bdgpq 618hnu 619K 622R 632C 639A
646# 650B 728G 730D 731U 732& 741H 760N 781OQ 786w 831% 899@ 907M 930W 935m
"""

_KNOWN: Final = {" ": 260} | {
    character: int(group[:3]) for group in _ADVANCES.split() for character in group[3:]
}
"""Advance widths of Noto Sans in thousandths of the font size, equal to the font's own (tested):
cutting files of plain letters are drawn without opening it."""


@dataclass(frozen=True)
class FaceRun:
    """A stretch of text in one face.

    *face*: {"latin", "cjk"}. *width*: Advance width as a part of the font size.
    """

    face: FaceName
    text: str
    width: float


@cache
def face_font(face: FaceName) -> TTFont:
    """The whole face, as fontTools reads it."""
    font = opened_font(face)
    # fontTools reads a table when it is asked for, and hands the half-read one to another thread.
    for table in _MEASURING_TABLES:
        font.get(table)
    font.getBestCmap()
    return font


def opened_font(face: FaceName) -> TTFont:
    """The whole face once more, for those who change it."""
    from fontTools.ttLib import TTFont

    # Without its own date the same letters give the same bytes on any day.
    return TTFont(io.BytesIO(_data(face)), lazy=True, recalcTimestamp=False)


@cache
def _data(face: FaceName) -> bytes:
    path = _face_path(face)
    if path is None:
        raise PrintError(
            f"the font package {_PLACES[face][0]} is not installed",
            remedy="Install panelshift with its dependencies again: pip install panelshift.",
        )
    return path.read_bytes()


@cache
def _face_path(face: FaceName) -> Path | None:
    """Where the face's file lies; None if its package is not installed."""
    import importlib.util

    package, file = _PLACES[face]
    spec = importlib.util.find_spec(package)
    return None if spec is None or spec.origin is None else Path(spec.origin).parent / file


def lacks_cjk() -> bool:
    """Whether the large face, an extra of the installation, is not there."""
    return _face_path("cjk") is None


@cache
def _coverage(face: FaceName) -> dict[int, str]:
    if face == "cjk" and lacks_cjk():
        return {}
    return dict(face_font(face).getBestCmap())


@cache
def _advance(face: FaceName, character: str) -> float:
    if face == "latin" and character in _KNOWN:
        return _KNOWN[character] / 1000.0
    if face == "cjk" and lacks_cjk():
        # Such letters fill a square each, whatever the face.
        return 1.0
    font = face_font(face)
    glyph = _coverage(face).get(ord(character), ".notdef")
    return float(font["hmtx"][glyph][0]) / float(font["head"].unitsPerEm)


def drawable(text: str) -> str:
    """Return text as it is drawn: accents joined to letters, and nothing that has no glyph.

    Line breaks and tabs become spaces; control and format characters and variation
    selectors, for which a font has no glyph, are left out.

    Examples
    --------
    >>> drawable("Z\\u0307o\\u0301\\tl\\u200b")
    'Żó l'
    """
    kept = []
    for character in unicodedata.normalize("NFC", text):
        if character.isspace():
            # The wide space of Japanese text keeps its width.
            kept.append(character if character == "\u3000" else " ")
        elif unicodedata.category(character) not in ("Cc", "Cf", "Cs") and not (
            0xFE00 <= ord(character) <= 0xFE0F
        ):
            kept.append(character)
    return "".join(kept)


def runs(text: str) -> list[FaceRun]:
    """Split text, as it is drawn, into stretches that one face can draw.

    The large CJK face is opened only for text that Noto Sans cannot draw.
    """
    return list(_runs(text))


@lru_cache(maxsize=4096)
def _runs(text: str) -> tuple[FaceRun, ...]:
    parts: list[tuple[FaceName, str]] = []
    for character in drawable(text):
        face = _face_of(character)
        if parts and parts[-1][0] == face:
            parts[-1] = (face, parts[-1][1] + character)
        else:
            parts.append((face, character))
    return tuple(
        FaceRun(face, part, sum(_advance(face, character) for character in part))
        for face, part in parts
    )


def _face_of(character: str) -> FaceName:
    if character in _KNOWN:
        return "latin"
    if ord(character) in _coverage("latin"):
        return "latin"
    if lacks_cjk():
        # Wide letters are of that face, installed or not (UAX 11).
        return "cjk" if unicodedata.east_asian_width(character) in ("W", "F") else "latin"
    return "cjk" if ord(character) in _coverage("cjk") else "latin"


def missing(text: str) -> str:
    """Characters of a text that no face can draw, each once."""
    lost = [c for c in drawable(text) if ord(c) not in _coverage(_face_of(c))]
    return "".join(dict.fromkeys(lost))


def width(text: str, *, bold: bool = False) -> float:
    """Advance width of a text as a part of the font size.

    Examples
    --------
    >>> round(width("waist"), 3), round(width("waist", bold=True), 3)
    (2.445, 2.48)
    """
    return _advances(text) + (BOLDER if bold else 0.0)


@lru_cache(maxsize=4096)
def _advances(text: str) -> float:
    return sum(run.width for run in _runs(text))


def wrapped(text: str, room: float) -> list[str]:
    """Break text into lines of a width given as a part of the font size.

    It is broken at spaces, but never before a number, which belongs to the word before it ("cut
    2"), nor between that and its unit; and within a word only where that is longer than a line,
    as text without spaces (Japanese) is.
    """
    return list(_wrapped(text, room))


def _words(text: str, room: float) -> Iterator[str]:
    """Words, each with the numbers that follow it, unless that is longer than a line."""
    for group in _groups(text):
        yield from [group] if width(group) <= room else group.split()


@lru_cache(maxsize=4096)
def _groups(text: str) -> list[str]:
    return re.findall(r"\S+(?: \d\S*(?: (?:mm|cm|in)\b\S*)?)*", " ".join(text.split()))


@lru_cache(maxsize=4096)
def _wrapped(text: str, room: float) -> tuple[str, ...]:
    lines, used, space = [""], 0.0, width(" ")
    for word in _words(text, room):
        own = width(word)
        longer = used + space + own if lines[-1] else own
        if longer <= room:
            lines[-1], used = f"{lines[-1]} {word}".strip(), longer
            continue
        if lines[-1]:
            lines.append("")
        if own <= room:
            lines[-1], used = word, own
            continue
        for character in word:
            if lines[-1] and width(lines[-1] + character) > room:
                lines.append("")
            lines[-1] += character
        used = width(lines[-1])
    return tuple(lines)


def fitted(text: str, room: float) -> str:
    """Shorten text to a width given as a part of the font size, with a mark of it."""
    if width(text) <= room:
        return text
    while text and width(text + "…") > room:
        text = text[:-1].rstrip()
    return text + "…"


_OUTLINE_TABLES: Final = frozenset(
    ["head", "hhea", "hmtx", "maxp", "glyf", "loca", "CFF ", "cmap", "cvt ", "fpgm", "prep"]
)


@dataclass(frozen=True)
class Subset:
    """A face cut down to some characters, ready to be embedded.

    *face*: {"latin", "cjk"}. *name*: PostScript name with a subset tag. *data*: The font file.
    *codes*: Character codes as the text operators need them. *widths*: Advance width of each code
    in thousandths of the font size. *ascent*, *descent*, *cap_height*: In thousandths of the font
    size. *box*: Font bounding box in thousandths.
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
    """Cut a face down to some characters; the same characters always give the same bytes.

    Raises `PrintError` if the face is an extra that is not installed.
    """
    if face == "cjk" and lacks_cjk():
        raise PrintError(
            f"these letters need a font that is not installed: {''.join(characters)[:20]}",
            remedy="Install it: pip install 'panelshift[cjk]'. Or write names in Latin, Greek or "
            "Cyrillic letters.",
        )
    return _subset(face, "".join(sorted(set(characters))))


@cache
def _subset(face: FaceName, characters: str) -> Subset:
    from fontTools import subset as subsetting

    font = opened_font(face)
    # Variations go: the default instance is the regular weight. Layout features and names
    # are of no use in a PDF, where every glyph is placed by its code.
    for tag in list(font.keys()):
        if tag not in _OUTLINE_TABLES and tag not in ("GlyphOrder", "OS/2"):
            del font[tag]
    options = subsetting.Options(layout_features=[], hinting=False, notdef_outline=True)
    options.drop_tables += ["OS/2"]
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
    if "cmap" in font:
        del font["cmap"]
    stream = io.BytesIO()
    font.save(stream, reorderTables=None)
    return stream.getvalue()


def _tag(characters: str) -> str:
    """Six capitals that name a subset (ISO 32000-1, 9.6.4), the same for the same characters."""
    import hashlib

    digest = hashlib.sha256(characters.encode()).digest()
    return "".join(chr(ord("A") + byte % 26) for byte in digest[:6])
