"""What the head of a mesh file claims, held against the bytes that follow it."""

from __future__ import annotations

import json
import re
import struct
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np

from ..errors import FormError

_MOST_OBJECTS: Final = 1000
"""Of a GLB file: each is copied, so that few bytes could ask for any amount of memory."""

_AGAIN: Final = "Export it again, as binary STL or PLY."

_PLY_TYPES: Final = {
    name: letter
    for letter, names in {
        "b": ("char", "int8"),
        "B": ("uchar", "uint8"),
        "h": ("short", "int16"),
        "H": ("ushort", "uint16"),
        "i": ("int", "int32"),
        "I": ("uint", "uint32"),
        "f": ("float", "float32"),
        "d": ("double", "float64"),
    }.items()
    for name in names
}

_PLY_HEAD: Final = re.compile(rb"^end_header[ \t]*\r?\n", re.MULTILINE)


def refuse_claims(content: bytes, file: Path) -> None:
    """Refuse a file that claims more than it holds, before room is made for it.

    Raises `FormError` if it is cut off, or claims more faces, values or objects than it can hold.
    A text OBJ claims nothing: see `Mesh.loose`.
    """
    kind = file.suffix.lower()
    if kind == ".stl":
        _refuse_stl(content, str(file))
    elif kind == ".glb":
        _refuse_glb(content, str(file))
    elif kind == ".ply":
        _refuse_ply(content, str(file))


def _cut_off(what: str, source: str) -> FormError:
    return FormError(
        f"the file is cut off: {what}",
        remedy="Copy it anew, or export it again.",
        source=source,
    )


def _refuse_stl(content: bytes, source: str) -> None:
    """A binary STL has 80 bytes of words, the count of faces, and 50 bytes for each.

    The words may begin as a text STL does; that one ends with a word of its own.
    """
    if content[:5].lower() == b"solid" and b"facet" in content[:1000].lower():
        if b"endsolid" not in content[-1000:].lower():
            raise _cut_off("it lacks the word at its end", source)
    elif len(content) >= 84:
        claimed, held = struct.unpack("<I", content[80:84])[0], (len(content) - 84) // 50
        if claimed > held:
            raise _cut_off(f"it claims {claimed:,} faces and holds {held:,}", source)


def _refuse_ply(content: bytes, source: str) -> None:
    """A PLY tells how many rows each of its elements has, and what a row holds."""
    end = _PLY_HEAD.search(content)
    begin = end.end() if end else len(content)
    head = content[:begin].decode("ascii", "replace")
    try:
        coding, elements = _ply_elements([line.split() for line in head.split("\n")])
    except (IndexError, KeyError, StopIteration, ValueError):
        raise FormError(
            "the mesh cannot be read: its head is broken", remedy=_AGAIN, source=source
        ) from None
    rows = sum(element.count for element in elements)
    # Every row takes a byte at least.
    if rows > len(content) - begin:
        size = len(content) - begin
        raise _cut_off(f"it claims {rows:,} points and faces in {size:,} bytes", source)
    if coding == "ascii":
        held, whole = _text_rows(content, begin, elements)
        if held < rows:
            raise _cut_off(f"it claims {rows:,} points and faces and holds {held:,}", source)
        if not whole:
            raise _cut_off("its last face is not whole", source)
        return
    at = begin
    for element in elements:
        at = element.end(content, at, ">" if "big" in coding else "<")
        if at > len(content):
            raise _cut_off(
                f"it claims {element.count:,} times {element.name!r} and holds fewer", source
            )


@dataclass(frozen=True)
class _PlyElement:
    """Rows of one kind; each field is the letter of its count, if it is a list, and of its type."""

    name: str
    count: int
    fields: list[tuple[str, str]]

    def end(self, body: bytes, at: int, order: str) -> int:
        """Where its rows end if they begin at a byte; beyond the last one if they are cut off."""
        if not any(many for many, _ in self.fields):
            return at + self.count * struct.calcsize(order + "".join(k for _, k in self.fields))
        step = self._row_end(body, at, order) - at
        (many, _), whole = self.fields[0], self.count * step
        if many and len(self.fields) == 1 and at + whole <= len(body):
            # Nearly always all have as many corners as the first.
            size = struct.calcsize(many)
            held = np.frombuffer(body, np.uint8, whole, at).reshape(self.count, -1)[:, :size]
            if (held == held[0]).all():
                return at + whole
        for _ in range(self.count):
            at = self._row_end(body, at, order)
        return at

    def _row_end(self, body: bytes, at: int, order: str) -> int:
        for many, kind in self.fields:
            count = 1
            if many:
                start, at = at, at + struct.calcsize(many)
                if at > len(body):
                    return at
                count = max(struct.unpack_from(order + many, body, start)[0], 0)
            at += count * struct.calcsize(kind)
        return at


def _ply_elements(lines: list[list[str]]) -> tuple[str, list[_PlyElement]]:
    """Coding and elements that a head tells."""
    coding = next(line[1] for line in lines if line[:1] == ["format"])
    found: list[_PlyElement] = []
    for line in lines:
        if line[:1] == ["element"]:
            found.append(_PlyElement(line[1], int(line[2][:30]), []))
        elif line[:1] == ["property"]:
            many = _PLY_TYPES[line[2]] if line[1] == "list" else ""
            found[-1].fields.append((many, _PLY_TYPES[line[-2]]))
    return coding, found


def _text_rows(content: bytes, begin: int, elements: list[_PlyElement]) -> tuple[int, bool]:
    """How many rows a text has, and whether the last of its faces has all its corners."""
    tail = content[max(begin, len(content) - 4000) :]
    ending = tail.rstrip()
    held = content.count(b"\n", begin) - tail[len(ending) :].count(b"\n") + bool(ending)
    last = ending[ending.rfind(b"\n") + 1 :].split()
    fields = elements[-1].fields if elements else []
    if len(fields) != 1 or not fields[0][0] or not last or not last[0].isdigit():
        return held, True
    return held, len(last) > int(last[0][:9])


def _refuse_glb(content: bytes, source: str) -> None:
    """A GLB has 12 bytes of head, then parts: each its length, a word, and so many bytes.

    The first part is a tree in JSON, the second holds the numbers.
    """
    try:
        whole, size = struct.unpack("<II", content[8:16])
        tree = json.loads(content[20 : 20 + size])
        objects = max(len(tree.get(key, ())) for key in ("nodes", "meshes"))
        most = max((int(part["count"]) for part in tree.get("accessors", ())), default=0)
        buffers = tree.get("buffers", ())
        outside = any("uri" in part for part in buffers)
        wanted = max((int(part["byteLength"]) for part in buffers), default=0)
    except (AttributeError, KeyError, RecursionError, TypeError, ValueError, struct.error) as error:
        raise FormError(
            f"the mesh cannot be read: its head is broken ({type(error).__name__})",
            remedy=_AGAIN,
            source=source,
        ) from None
    if outside:
        raise FormError(
            "its points lie in another file", remedy="Export all as one file.", source=source
        )
    held = max(len(content) - (28 + size), 0)
    if max(whole - len(content), wanted - held) > 0:
        raise _cut_off(
            f"it claims {whole:,} bytes, {wanted:,} of them numbers, and holds {len(content):,}",
            source,
        )
    if objects > _MOST_OBJECTS or most > len(content):
        what = f"{objects:,} objects" if objects > _MOST_OBJECTS else f"{most:,} values in a list"
        raise FormError(
            f"the file claims {what}, more than a body's scan has or its bytes hold",
            remedy="Export the body alone as one surface, as binary STL or PLY.",
            source=source,
        )
