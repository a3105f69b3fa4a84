"""A PDF opened within bounds: its pages, what they hold, and which layers it shows.

Section numbers are those of ISO 32000-1.
"""

from __future__ import annotations

import base64
import binascii
import io
import re
import zlib
from collections.abc import Iterator, Sequence
from typing import Any, Final

import pikepdf
from pikepdf import Array, Dictionary, Name, Object, Pdf, Stream

from ...errors import PdfError
from ...units import MM_PER_INCH
from ..affine import Affine

MOST_BYTES: Final = 64 * 1024 * 1024
"""No drafted pattern needs 64 MiB; larger files are refused."""

MOST_UNPACKED: Final = 32 * 1024 * 1024
"""Bytes of one packed part at most: a few hundred can ask for gigabytes."""

MOST_PAGES: Final = 400

_MOST_OTHERWISE: Final = 64 * 1024
"""Bytes of a part that is packed in a way of former times; it can hold 3,000 times as much."""

_DEEP: Final = 32

DAMAGE: Final = (
    pikepdf.PdfError,
    RuntimeError,
    ValueError,
    TypeError,
    AttributeError,
    LookupError,
    OverflowError,
    UserWarning,
)
"""What the library and its objects raise where a file is not as it should be."""

AGAIN: Final = "Open it in a PDF viewer, print it to a new PDF file, and use that."


def opened(data: bytes) -> Pdf:
    """Open a PDF, or refuse what is locked, damaged or made to grow without end."""
    if len(data) > MOST_BYTES:
        raise PdfError(
            f"the file holds more than {MOST_BYTES // 1024**2} MiB",
            remedy="Save the pattern's pages alone, without photographs.",
        )
    _refuse_bombs(data)
    try:
        pdf = Pdf.open(io.BytesIO(data), attempt_recovery=False, suppress_warnings=True)
    except pikepdf.PasswordError:
        raise _locked() from None
    except DAMAGE as error:
        raise PdfError(f"the PDF is damaged: {reason_of(error)}", remedy=AGAIN) from None
    if pdf.is_encrypted:
        raise _locked()
    if len(pdf.pages) > MOST_PAGES:
        raise PdfError(
            f"it has {len(pdf.pages)} pages, more than {MOST_PAGES}",
            remedy="Save the pattern's pages alone.",
        )
    if not len(pdf.pages):
        raise PdfError("it has no pages", remedy=AGAIN)
    return pdf


def _locked() -> PdfError:
    return PdfError(
        "the PDF is locked by a password",
        remedy="Ask whoever made it for a copy without one; a lock against changes counts too.",
    )


def reason_of(error: Exception) -> str:
    """What a library says of damage, in one line."""
    words = re.sub(r"\s+", " ", str(error)).strip()
    # What is read from memory has no name but its place there, which says nothing to anybody.
    words = re.sub(r"(stream )?<[^<>]* at 0x[0-9a-f]+>:? ?", "", words)
    return words.rpartition("): ")[2][:160] or "it cannot be read"


def _refuse_bombs(data: bytes) -> None:
    """Refuse tables of contents that unpack to more than anything needs, before they are read."""
    for match in re.finditer(rb"(?<!end)stream\r?\n", data):
        head = data[max(0, match.start() - 2_000) : match.start()].rpartition(b"endobj")[2]
        if b"#" in head or b"/ObjStm" in head or b"/XRef" in head:
            unpacker = zlib.decompressobj()
            try:
                unpacker.decompress(data[match.end() :], MOST_UNPACKED + 1)
            except zlib.error:
                continue
            if unpacker.unconsumed_tail and not unpacker.eof:
                raise _too_large()


def _too_large() -> PdfError:
    return PdfError(
        f"a part of it unpacks to more than {MOST_UNPACKED // 1024**2} MiB",
        remedy="Save the pattern alone, without pictures and traced noise.",
    )


def unpacked(stream: Object) -> bytes:
    """The bytes of a stream without its filters (7.4), within bounds."""
    filters = [str(name) for name in _listed(stream.get("/Filter"))]
    parameters = [p for p in _listed(stream.get("/DecodeParms")) if isinstance(p, Dictionary)]
    data = stream.read_raw_bytes()
    plain = all(int(p.get("/Predictor", 1)) == 1 for p in parameters)
    if plain and set(filters) <= set(_FILTERS):
        for name in filters:
            data = _FILTERS[name](data)
        if len(data) > MOST_UNPACKED:
            raise _too_large()
        return data
    if len(data) > _MOST_OTHERWISE:
        raise PdfError(f"it is packed in an old way ({', '.join(filters)})", remedy=AGAIN)
    try:
        return bytes(stream.read_bytes())
    except DAMAGE as error:
        raise PdfError(f"a part of it is damaged: {reason_of(error)}", remedy=AGAIN) from None


def _inflated(data: bytes) -> bytes:
    if not data:
        return data
    unpacker = zlib.decompressobj()
    try:
        result = unpacker.decompress(data, MOST_UNPACKED + 1)
    except zlib.error as error:
        raise PdfError(f"a part of it is damaged: {error}", remedy=AGAIN) from None
    if len(result) > MOST_UNPACKED:
        raise _too_large()
    if not unpacker.eof:
        raise PdfError("a part of it is cut off", remedy=AGAIN)
    return result


def _from_85(data: bytes) -> bytes:
    try:
        return base64.a85decode(data.strip().removesuffix(b"~>").strip())
    except ValueError:
        raise PdfError("a part of it is damaged: no ASCII85", remedy=AGAIN) from None


def _from_hex(data: bytes) -> bytes:
    digits = b"".join(data.partition(b">")[0].split())
    try:
        return binascii.unhexlify(digits + b"0" * (len(digits) % 2))
    except ValueError:
        raise PdfError("a part of it is damaged: no hexadecimal", remedy=AGAIN) from None


_FILTERS: Final = {
    "/FlateDecode": _inflated,
    "/Fl": _inflated,
    "/ASCII85Decode": _from_85,
    "/A85": _from_85,
    "/ASCIIHexDecode": _from_hex,
    "/AHx": _from_hex,
}


def _listed(value: Any) -> list[Any]:
    if value is None:
        return []
    return list(value) if isinstance(value, Array) else [value]


def numbers(values: Any, count: int, what: str) -> list[float]:
    """So many numbers of an array, or a refusal that names it."""
    try:
        found = [float(value) for value in values]
    except (TypeError, ValueError):
        found = []
    if len(found) != count:
        raise PdfError(f"{what} is no list of {count} numbers", remedy=AGAIN)
    return found


def inherited(page: Object, key: str) -> Any:
    """An entry of a page, or of the nodes above it (7.7.3.4)."""
    node: Any = page
    depth = 0
    while isinstance(node, Dictionary) and depth < _DEEP:
        if key in node:
            return node[key]
        node, depth = node.get("/Parent"), depth + 1
    return None


class PdfLeaf:
    """One page: how large it is, and how its units become mm from its top left corner.

    *size*: width and height in mm as it is seen, turned as it says, and cut to its crop box.
    *to_mm*: from its default user space, y downwards.
    """

    def __init__(self, page: Object, number: int) -> None:
        self.page = page
        self.number = number
        media = _box(inherited(page, "/MediaBox"), "the page's size")
        crop = inherited(page, "/CropBox")
        x0, y0, x1, y1 = media if crop is None else _common(media, _box(crop, "its crop box"))
        unit = float(page.get("/UserUnit", 1)) * MM_PER_INCH / 72.0
        turn = int(inherited(page, "/Rotate") or 0) % 360
        if not 0.0 < unit < 1e4 or turn % 90:
            raise PdfError("its unit or its turn makes no sense", remedy=AGAIN)
        self.unit = unit
        across, down = (x1 - x0) * unit, (y1 - y0) * unit
        self.size = (down, across) if turn % 180 else (across, down)
        self.to_mm = {
            0: Affine(unit, 0.0, 0.0, -unit, -x0 * unit, y1 * unit),
            90: Affine(0.0, unit, unit, 0.0, -y0 * unit, -x0 * unit),
            180: Affine(-unit, 0.0, 0.0, unit, x1 * unit, -y0 * unit),
            270: Affine(0.0, -unit, -unit, 0.0, y1 * unit, x1 * unit),
        }[turn]

    def content(self) -> bytes:
        """What is drawn on it: its streams in a row (7.8.2)."""
        parts = _listed(self.page.get("/Contents"))
        if not all(isinstance(part, Stream) for part in parts):
            raise PdfError("its content is no stream", remedy=AGAIN)
        whole = b"\n".join(unpacked(part) for part in parts)
        if len(whole) > MOST_UNPACKED:
            raise _too_large()
        return whole

    def page_resources(self) -> Any:
        """What its content names."""
        return inherited(self.page, "/Resources")

    def notes(self) -> Iterator[tuple[Object, Object]]:
        """Annotations that are seen, with what each looks like (12.5.5)."""
        for note in _listed(self.page.get("/Annots")):
            if not isinstance(note, Dictionary) or note.get("/Subtype") in _UNSEEN:
                continue
            if int(note.get("/F", 0)) & _HIDDEN:
                continue
            looks = note.get("/AP")
            look = looks.get("/N") if isinstance(looks, Dictionary) else None
            if isinstance(look, Dictionary) and not isinstance(look, Stream):
                look = look.get(str(note.get("/AS", "/None")))
            if isinstance(look, Stream):
                yield note, look


_UNSEEN: Final = (Name.Link, Name.Popup, Name.Widget)
_HIDDEN: Final = 0b100010
"""Flags of an annotation: hidden, not viewed (12.5.3)."""


def _box(value: Any, what: str) -> list[float]:
    a, b, c, d = numbers(value if isinstance(value, Array) else (), 4, what)
    box = [min(a, c), min(b, d), max(a, c), max(b, d)]
    if not (box[0] < box[2] and box[1] < box[3]):
        raise PdfError(f"{what} is nothing", remedy=AGAIN)
    return box


def _common(first: Sequence[float], second: Sequence[float]) -> list[float]:
    box = [max(first[0], second[0]), max(first[1], second[1])]
    box += [min(first[2], second[2]), min(first[3], second[3])]
    if not (box[0] < box[2] and box[1] < box[3]):
        raise PdfError("its crop box lies off the page", remedy=AGAIN)
    return box


class Layers:
    """Optional content (8.11): names of layers, and whether they are shown by default."""

    def __init__(self, pdf: Pdf) -> None:
        properties = pdf.Root.get("/OCProperties")
        default = properties.get("/D") if isinstance(properties, Dictionary) else None
        default = default if isinstance(default, Dictionary) else Dictionary()
        self._base = default.get("/BaseState", Name.ON) != Name.OFF
        self._on = {group.objgen for group in _listed(default.get("/ON"))}
        self._off = {group.objgen for group in _listed(default.get("/OFF"))}

    def shown(self, content: Any) -> bool:
        """Whether a group, or a membership in groups, is shown."""
        if not isinstance(content, Dictionary):
            return True
        if content.get("/Type") != Name.OCMD:
            return self._is_on(content)
        groups = [g for g in _listed(content.get("/OCGs")) if isinstance(g, Dictionary)]
        if "/VE" in content:
            raise PdfError(
                "a layer is shown by a formula", remedy="Export it with plain layers, or none."
            )
        if not groups:
            return True
        seen = [self._is_on(group) for group in groups]
        policy = str(content.get("/P", "/AnyOn"))
        return {
            "/AllOn": all(seen),
            "/AnyOff": not all(seen),
            "/AllOff": not any(seen),
        }.get(policy, any(seen))

    def _is_on(self, group: Object) -> bool:
        return group.objgen not in self._off if self._base else group.objgen in self._on

    def name(self, content: Any) -> str:
        """What people call it; empty for a membership in several, or none."""
        if not isinstance(content, Dictionary):
            return ""
        groups = [content]
        if content.get("/Type") == Name.OCMD:
            groups = [g for g in _listed(content.get("/OCGs")) if isinstance(g, Dictionary)]
        return str(groups[0].get("/Name", "")).strip() if len(groups) == 1 else ""
