"""What the codes of a PDF's texts mean, and how far each moves the pen (ISO 32000-1, 9.4-9.10)."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any, Final

from fontTools.agl import toUnicode
from fontTools.encodings.StandardEncoding import StandardEncoding
from pikepdf import Array, Dictionary, Name, Object, Stream

from .opening import unpacked

_HALF: Final = 500.0
"""Width of a letter in thousandths of its size where the file does not tell."""

_MOST_CODES: Final = 70_000

_SIMPLE: Final = {"/WinAnsiEncoding": "cp1252", "/MacRomanEncoding": "mac_roman"}


class Font:
    """One font: texts of codes, and their widths in parts of the font size."""

    def __init__(self, font: Object) -> None:
        self.bold = "bold" in str(font.get("/BaseFont", "")).lower()
        self._wide = font.get("/Subtype") == Name.Type0
        self._texts: dict[int, str] = {}
        self._widths: dict[int, float] = {}
        self._usual = _HALF
        self._part = 1e-3
        if self._wide:
            self._read_wide(font)
        else:
            self._read_simple(font)
        told = font.get("/ToUnicode")
        if isinstance(told, Stream):
            self._texts.update(_to_unicode(unpacked(told)))

    def shown(self, data: bytes) -> Iterator[tuple[str, float, bool]]:
        """Text and width of each code, and whether it is the space that word spacing widens."""
        step = 2 if self._wide else 1
        for k in range(0, len(data) - step + 1, step):
            code = int.from_bytes(data[k : k + step])
            width = self._widths.get(code, self._usual) * self._part
            yield self._texts.get(code, ""), width, not self._wide and code == ord(" ")

    def _read_wide(self, font: Object) -> None:
        below = font.get("/DescendantFonts")
        inner = below[0] if isinstance(below, Array) and len(below) else Dictionary()
        self._usual = float(inner.get("/DW", 1000))
        entries = list(inner.get("/W", Array()))
        while len(entries) >= 2 and len(self._widths) < _MOST_CODES:
            first = int(entries[0])
            if isinstance(entries[1], Array):
                self._widths.update(enumerate(map(float, entries[1]), start=first))
                entries = entries[2:]
            elif len(entries) >= 3:
                last = min(int(entries[1]), first + _MOST_CODES)
                self._widths.update(dict.fromkeys(range(first, last + 1), float(entries[2])))
                entries = entries[3:]
            else:
                break

    def _read_simple(self, font: Object) -> None:
        encoding = font.get("/Encoding")
        named = encoding.get("/BaseEncoding") if isinstance(encoding, Dictionary) else encoding
        if str(named) in _SIMPLE:
            letters = bytes(range(256)).decode(_SIMPLE[str(named)], errors="replace")
            self._texts = {k: c for k, c in enumerate(letters) if c.isprintable() and c != "\ufffd"}
        else:
            self._texts = {
                k: toUnicode(name) for k, name in enumerate(StandardEncoding) if name != ".notdef"
            }
        if isinstance(encoding, Dictionary):
            code = 0
            for entry in encoding.get("/Differences", Array()):
                if isinstance(entry, Name):
                    self._texts[code] = toUnicode(str(entry)[1:])
                    code += 1
                else:
                    code = int(entry)
        first = int(font.get("/FirstChar", 0))
        widths = font.get("/Widths")
        if isinstance(widths, Array):
            self._widths = dict(enumerate(map(float, widths), start=first))
        if font.get("/Subtype") == Name.Type3:
            # Its widths are in a space of their own; only the first number of its matrix matters.
            matrix = font.get("/FontMatrix")
            self._part = abs(float(matrix[0])) if isinstance(matrix, Array) else self._part


_BLOCK = re.compile(rb"begin(bfchar|bfrange)(.*?)end\1", re.S)
_TOKEN = re.compile(rb"<([0-9A-Fa-f\s]*)>|(\[)|(\])")


def _to_unicode(data: bytes) -> dict[int, str]:
    """Texts of codes from a ToUnicode map (9.10.3)."""
    result: dict[int, str] = {}
    for kind, block in _BLOCK.findall(data):
        tokens: list[Any] = []
        listed: list[str] | None = None
        for digits, opening, closing in _TOKEN.findall(block):
            if opening:
                listed = []
            elif closing:
                tokens.append(listed or [])
                listed = None
            else:
                word = b"".join(digits.split())
                if listed is None:
                    tokens.append(word)
                else:
                    listed.append(_text(word))
        step = 2 if kind == b"bfchar" else 3
        for k in range(0, len(tokens) - step + 1, step):
            if len(result) > _MOST_CODES:
                return result
            if not all(isinstance(token, bytes) and token for token in tokens[k : k + step - 1]):
                continue
            first, goal = int(tokens[k], 16), tokens[k + step - 1]
            last = first if step == 2 else min(int(tokens[k + 1], 16), first + 0xFFFF)
            for place, code in enumerate(range(first, last + 1)):
                if isinstance(goal, list):
                    result[code] = goal[place] if place < len(goal) else ""
                else:
                    result[code] = _further(_text(goal), place)
    return result


def _further(text: str, steps: int) -> str:
    """A text whose last letter is so many further on."""
    return text[:-1] + chr((ord(text[-1]) + steps) % 0x110000) if text else ""


def _text(digits: bytes) -> str:
    raw = bytes.fromhex(digits.decode("ascii") + "0" * (len(digits) % 2))
    return raw.decode("utf-16-be", errors="ignore")
