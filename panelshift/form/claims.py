"""What the head of a mesh file claims, held against the bytes that follow it."""

from __future__ import annotations

import json
import re
import struct
from pathlib import Path
from typing import Final

from ..errors import FormError

_MOST_OBJECTS: Final = 1000
"""Of a GLB file: each is copied, so that few bytes could ask for any amount of memory."""

_AGAIN: Final = "Export it again, as binary STL or PLY."


_PLY_COUNT: Final = re.compile(rb"^element (?:face|vertex) +(\d+)\s*$", re.MULTILINE)


def refuse_claims(content: bytes, file: Path) -> None:
    """Refuse a file that claims more than it can hold, before room is made for it.

    Raises `FormError` if it is cut off, or claims more faces, values or objects than it can hold.
    """
    kind = file.suffix.lower()
    if kind == ".stl":
        _refuse_stl(content, str(file))
    elif kind == ".glb":
        _refuse_glb(content, str(file))
    elif kind == ".ply":
        _refuse_ply(content, str(file))


def _refuse_stl(content: bytes, source: str) -> None:
    """A binary STL has 80 bytes of words, the count of faces, and 50 bytes for each."""
    if len(content) < 84 or content[:5].lower() == b"solid":
        return
    claimed, held = struct.unpack("<I", content[80:84])[0], (len(content) - 84) // 50
    if claimed > held:
        raise FormError(
            f"the file is cut off: it claims {claimed:,} faces and holds {held:,}",
            remedy="Copy it anew, or export it again.",
            source=source,
        )


def _refuse_ply(content: bytes, source: str) -> None:
    """A PLY has at least two bytes for a face or a point."""
    head, _, body = content.partition(b"end_header")
    claimed = sum(int(count[:30]) for count in _PLY_COUNT.findall(head))
    if 2 * claimed > len(body):
        raise FormError(
            f"the file is cut off: it claims {claimed:,} points and faces in {len(body):,} bytes",
            remedy="Copy it anew, or export it again.",
            source=source,
        )


def _refuse_glb(content: bytes, source: str) -> None:
    """A GLB has 12 bytes of head, then the length of its tree in JSON, a word, and the tree."""
    try:
        size = struct.unpack("<I", content[12:16])[0]
        tree = json.loads(content[20 : 20 + size])
        objects = max(len(tree.get(key, ())) for key in ("nodes", "meshes"))
        most = max((int(part["count"]) for part in tree.get("accessors", ())), default=0)
        outside = any("uri" in part for part in tree.get("buffers", ()))
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
    if objects > _MOST_OBJECTS or most > len(content):
        what = f"{objects:,} objects" if objects > _MOST_OBJECTS else f"{most:,} values in a list"
        raise FormError(
            f"the file claims {what}, more than a body's scan has or its bytes hold",
            remedy="Export the body alone as one surface, as binary STL or PLY.",
            source=source,
        )
