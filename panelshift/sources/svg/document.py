"""SVG text into an element tree, with everything off that could reach outside the file."""

from __future__ import annotations

import gzip
import os
import re
import zlib
from dataclasses import dataclass
from io import BytesIO
from typing import Any, Final

from lxml import etree

from ...errors import SvgError
from ...files import NoFileError, file_bytes

SVG_NAMESPACE: Final = "http://www.w3.org/2000/svg"

MOST_BYTES: Final = 32 * 1024 * 1024
"""No drafted pattern needs 32 MiB of text; larger files, packed or unpacked, are refused."""

MOST_ELEMENTS: Final = 200_000
"""Elements in a file at most, of any name and namespace."""

MOST_ATTRIBUTES: Final = 1_000
"""Attributes of an element at most: looking through them takes the square of their number."""

_GZIP_MAGIC: Final = b"\x1f\x8b"
_FOREIGN: Final = "{none}"
"""What stands before the names of elements that are in no namespace though the root is in one."""
_TOO_DEEP: Final = "Excessive depth"
_TOO_LARGE: Final = "Resource limit"


_OTHERS: Final[tuple[tuple[bytes, str], ...]] = (
    (b"%!PS", "a PostScript file"),
    (b"AC10", "a DWG drawing"),
    (b"  0\nSECTION", "a DXF drawing"),
    (b"  0\r\nSECTION", "a DXF drawing"),
    (b"0\nSECTION", "a DXF drawing"),
    (b"0\r\nSECTION", "a DXF drawing"),
    (b"PK\x03\x04", "a packed folder or a document (zip)"),
)
"""How files of other kinds that hold lines begin, by their formats' published specifications."""


@dataclass(frozen=True, eq=False)
class SvgDocument:
    """A parsed file whose SVG elements carry bare names.

    *root*: the outermost ``svg``. Elements of the SVG namespace are renamed to their local name
    (``path``, not ``{http://...}path``), so that style selectors find them; elements of any other
    namespace, or of none in a namespaced file, keep a name with a ``}``. *source*: file name or
    other origin, for messages.
    """

    root: etree._Element
    source: str
    warnings: tuple[str, ...] = ()


def load(source: str | os.PathLike[str] | bytes, name: str = "") -> SvgDocument:
    """Read and parse a file, or parse bytes.

    *source*: a path, or the SVG text itself as bytes; either may be gzip-packed (.svgz). *name*:
    what to call the source of bytes.
    """
    if isinstance(source, bytes):
        origin, data = name, source
    else:
        origin = os.fspath(source)
        data = _file_bytes(origin)
    try:
        root = _parsed(_unpacked(data))
        warnings = _bare_names(root)
    except SvgError as error:
        raise error.located(source=origin) from error.__cause__
    return SvgDocument(root, origin, warnings)


def markup(data: bytes) -> etree._Element:
    """The whole markup of a document that `load` took, as it is: comments and names among it."""
    parser = etree.XMLParser(resolve_entities=False, no_network=True, load_dtd=False)
    return etree.fromstring(_unpacked(data), parser)


def _file_bytes(path: str) -> bytes:
    try:
        return file_bytes(path, MOST_BYTES)
    except FileNotFoundError:
        problem, remedy = "there is no such file", "Check the name and the folder."
    except IsADirectoryError:
        problem, remedy = "this is a folder, not a file", "Name an SVG file in it."
    except NoFileError as error:
        problem, remedy = str(error.strerror), error.remedy
    except (OSError, ValueError) as error:
        # ValueError: a path with a NUL character.
        reason = getattr(error, "strerror", None) or str(error)
        problem, remedy = f"the file cannot be read: {reason}", "Check that you may open it."
    raise SvgError(problem, remedy=remedy, source=path)


def _unpacked(data: bytes) -> bytes:
    if data.startswith(_GZIP_MAGIC):
        try:
            with gzip.GzipFile(fileobj=BytesIO(data)) as stream:
                data = stream.read(MOST_BYTES + 1)
        except (OSError, EOFError, zlib.error) as error:
            raise SvgError(
                f"the packed file (.svgz) is damaged: {error}",
                remedy="Save it again, or save it as plain .svg.",
            ) from error
    if len(data) > MOST_BYTES:
        raise SvgError(
            f"the file holds more than {MOST_BYTES // 1024**2} MiB",
            remedy="Save the pattern alone, without embedded pictures.",
        )
    if not data.strip():
        raise SvgError("the file is empty", remedy="Save the drawing again.")
    return data


def _refuse_others(data: bytes) -> None:
    """Say what a file is that begins as those of another kind do."""
    for magic, what in _OTHERS:
        if data.startswith(magic):
            raise SvgError(
                f"this is {what}, not an SVG drawing",
                remedy="Open it in a drawing program, and save it as SVG at true size.",
            )


def _parsed(data: bytes) -> etree._Element:
    _refuse_others(data)
    parser = etree.XMLParser(
        resolve_entities=False,
        no_network=True,
        load_dtd=False,
        dtd_validation=False,
        huge_tree=False,
        remove_comments=True,
    )
    try:
        root = etree.fromstring(data, parser)
    except etree.XMLSyntaxError as error:
        if _TOO_DEEP in str(error):
            raise SvgError(
                "its groups are nested more than about 250 deep",
                remedy="Ungroup the drawing and save it again.",
            ) from error
        if _TOO_LARGE in str(error):
            raise SvgError(
                "one value or text in it is longer than 10 million characters",
                remedy="Delete embedded pictures and simplify traced paths, then save it again.",
            ) from error
        raise SvgError(
            f"not well-formed XML: {error.msg}",
            remedy="Open it in a drawing program and save it as SVG again.",
        ) from error
    # With a definition outside the file, an entity that nothing declares is only a warning,
    # and numbers that it stands for would be left out without a word.
    if any(entry.type_name == "WAR_UNDECLARED_ENTITY" for entry in parser.error_log):
        raise SvgError(
            "it uses entities that are declared outside the file, which are not read for safety",
            remedy="Open it in a drawing program and save it as SVG again, without editing data of "
            "another program.",
        )
    _refuse_entities(root, data)
    for count, element in enumerate(root.iter(), start=1):
        if len(element.attrib) > MOST_ATTRIBUTES:
            raise SvgError(
                f"an element in it has more than {MOST_ATTRIBUTES} attributes",
                remedy="Select all, copy it into a new drawing, and save that.",
            )
        if count > MOST_ELEMENTS:
            raise SvgError(
                f"the file holds more than {MOST_ELEMENTS} elements",
                remedy="Save the pattern alone, without pictures, hatching and traced noise.",
            )
    return root


def _refuse_entities(root: etree._Element, data: bytes) -> None:
    """Refuse entities, but for short words without markup that stand in attributes only.

    Some programs shorten the names of namespaces so. The parser puts such words in by itself;
    none may hold another, nor come from outside the file.
    """
    # Any: the stubs of lxml leave iterentities out.
    declared: Any = root.getroottree().docinfo.internalDTD
    words = [] if declared is None else [entity.content for entity in declared.iterentities()]
    if not words:
        return
    in_text = next(root.iter(etree.Entity), None) is not None
    if (
        in_text
        or not all(word is not None and _SHORT_WORD.fullmatch(word) for word in words)
        or len(words) + data.count(b"&") > _MOST_WORDS
    ):
        raise SvgError(
            "its DOCTYPE declares entities that do more than shorten the name of a namespace, "
            "which are not read for safety",
            remedy="Save it again as SVG 1.1 from a drawing program, without a document type "
            "declaration.",
        )


_SHORT_WORD: Final = re.compile(r"[!#$'-;=?-~]{1,200}")
_MOST_WORDS: Final = 1_000


def _bare_names(root: etree._Element) -> tuple[str, ...]:
    name = etree.QName(root)
    if name.localname != "svg":
        raise SvgError(
            f"the outermost element is <{name.localname}>, not <svg>", remedy="Give an SVG file."
        )
    if name.namespace not in (None, SVG_NAMESPACE):
        raise SvgError(
            f"the outermost <svg> is in the namespace {name.namespace!r}",
            remedy=f'Write xmlns="{SVG_NAMESPACE}" on it.',
        )
    prefix = f"{{{SVG_NAMESPACE}}}"
    if name.namespace is not None:
        for element in root.iter("{}*"):
            element.tag = f"{_FOREIGN}{element.tag}"
    for element in root.iter(f"{prefix}*"):
        element.tag = str(element.tag)[len(prefix) :]
    if name.namespace is None:
        return (f'<svg> has no xmlns="{SVG_NAMESPACE}"; it is read as SVG all the same',)
    return ()
