"""A draft's file, whatever it is, as a drawing in mm."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Final

from ..errors import DxfError, PanelshiftError, PdfError, PhotoError, SvgError
from ..files.contents import file_bytes, read_bounded
from ..files.shipped import guide
from ..pattern.drawing import Drawing
from .svg import read_svg

_HEAD: Final = 1024
"""Bytes in which a PDF says that it is one (ISO 32000-1, annex H, note 13)."""

_PICTURES: Final = {
    b"\x89PNG": "PNG",
    b"\xff\xd8\xff": "JPEG",
    b"II*\x00": "TIFF",
    b"MM\x00*": "TIFF",
    b"GIF8": "GIF",
    b"BM": "BMP",
    b"RIFF": "WebP",
}

_HEIC: Final = (b"heic", b"heix", b"hevc", b"heim", b"heis", b"mif1", b"msf1", b"avif", b"avis")
"""Major brands of HEIF files (ISO/IEC 23008-12, annex B; AV1 Image File Format, 4)."""


def read_drawing(
    source: str | os.PathLike[str] | bytes, *, page: int | None = None, name: str = ""
) -> Drawing:
    """Read the curves and texts of a draft: SVG, PDF or DXF.

    *source*: a file, or what it holds as bytes. *page*: of a PDF, from 1 on. *name*: what to call
    the source in messages, if it is bytes.

    Raises `SvgError`, `PdfError`, `DxfError` or `CurveError` as the reader of its kind does: see
    `panelshift.sources.svg.read_svg`, `panelshift.sources.pdf.read_pdf` and
    `panelshift.sources.dxf.read_dxf`.
    """
    head = source[:_HEAD] if isinstance(source, bytes) else _head(source)
    origin = name if isinstance(source, bytes) else os.fspath(source)
    if b"%PDF-" in head:
        from .pdf import read_pdf

        data = source if isinstance(source, bytes) else _pdf(source)
        return read_pdf(data, page=page, name=origin)
    if _is_dxf(head):
        from .dxf import MOST_BYTES, read_dxf

        if page is not None:
            raise _no_pages(page, origin)
        data = source if isinstance(source, bytes) else _content(source, MOST_BYTES, DxfError)
        return read_dxf(data, name=origin)
    kind = picture_kind(head)
    if kind == "HEIC":
        raise no_heic(origin)
    if kind:
        raise SvgError(
            f"this is a picture ({kind}), which holds no lines",
            remedy="Photograph the draft with strips beside it "
            f"({guide('drafts-on-paper')}), or trace it in a drawing program, in true size, and "
            "save that as SVG.",
            source=origin,
            key="paper",
        )
    if page is not None:
        raise _no_pages(page, origin)
    return read_svg(source, name=name)


def picture_kind(head: bytes) -> str:
    """What kind of picture begins so, empty if it is none."""
    if head[4:8] == b"ftyp" and head[8:12] in _HEIC:
        return "HEIC"
    return next((kind for magic, kind in _PICTURES.items() if head.startswith(magic)), "")


def no_heic(origin: str) -> PhotoError:
    """The refusal of photos as some telephones save them."""
    return PhotoError(
        "this is a photo saved as HEIC or AVIF, which cannot be read",
        remedy="Set the telephone to save JPEG (on some: the most compatible format), or open the "
        "photo and save it as JPEG in its full size, and give that.",
        source=origin,
        key="paper",
    )


def pages_of(
    source: str | os.PathLike[str] | bytes, *, name: str = ""
) -> list[tuple[int, Drawing]]:
    """Each page of a draft's file with its number; an SVG has one. Parameters: `read_drawing`."""
    if b"%PDF-" not in (source[:_HEAD] if isinstance(source, bytes) else _head(source)):
        return [(1, read_drawing(source, name=name))]
    from .pdf import read_pages

    if isinstance(source, bytes):
        read = read_pages(source, name)
    else:
        read = read_pages(_pdf(source), os.fspath(source))
    return [(page.number, page.drawing) for page in read]


def is_svg(content: bytes) -> bool:
    """Whether content begins as SVG does, packed or not."""
    text = content[:_HEAD].removeprefix(b"\xef\xbb\xbf").lstrip()
    return text.startswith((b"<", b"\x1f\x8b"))


def is_drawing(content: bytes) -> bool:
    """Whether content begins as a drawing, or a picture, of any kind does; a job file does not."""
    head = content[:_HEAD]
    return is_svg(head) or b"%PDF-" in head or _is_dxf(head) or bool(picture_kind(head))


def _pdf(path: str | os.PathLike[str]) -> bytes:
    from .pdf.opening import MOST_BYTES

    return _content(path, MOST_BYTES, PdfError)


def _content(path: str | os.PathLike[str], most: int, error: type[PanelshiftError]) -> bytes:
    return read_bounded(
        Path(path),
        most,
        error,
        check="Check that you may open it.",
        too_large=("the file is too large", "Save the pattern alone, without pictures."),
    )


def _no_pages(page: int, origin: str) -> SvgError:
    return SvgError(
        f"page {page} is asked for, but only a PDF has pages",
        remedy="Take page out of [pattern], or leave --page away.",
        source=origin,
    )


def _is_dxf(head: bytes) -> bool:
    """Whether a file begins as DXF does: with a comment or a section, or the sentinel of its binary
    form."""
    if head.startswith(b"AutoCAD Binary DXF"):
        return True
    lines = [line.strip() for line in head.lstrip(b"\xef\xbb\xbf").split(b"\n")[:2]]
    return len(lines) == 2 and (lines[0] == b"999" or lines == [b"0", b"SECTION"])


def _head(path: str | os.PathLike[str]) -> bytes:
    try:
        return file_bytes(path, _HEAD - 1)
    except (OSError, ValueError):
        # Said by the reader, with what to do about it.
        return b""
