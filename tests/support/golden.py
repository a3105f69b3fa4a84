"""Compare SVG files as normalised XML: what is drawn counts, not how it is laid out in bytes."""

from __future__ import annotations

import re

from lxml import etree

LAST_DIGIT_MM = 0.0011
"""Coordinates are written to 0.001 mm; another platform may round the last digit otherwise."""

_NUMBER = re.compile(r"-?\d+(?:\.\d+)?")


def differences(found: bytes, golden: bytes) -> list[str]:
    """Where two SVG files differ, beyond white space, attribute order and the last digit."""
    a, b = _lines(found), _lines(golden)
    if len(a) != len(b):
        return [f"{len(a)} elements, not {len(b)}"]
    return [f"{x!r} is not {y!r}" for x, y in zip(a, b, strict=True) if not _alike(x, y)]


def _lines(data: bytes) -> list[str]:
    """One line for each element: its depth, name, attributes in order and text."""
    root = etree.fromstring(data)
    lines = []
    for element in root.iter():
        depth = sum(1 for _ in element.iterancestors())
        attributes = " ".join(f"{key}={value}" for key, value in sorted(element.attrib.items()))
        words = " ".join((element.text or "").split())
        tail = " ".join((element.tail or "").split())
        lines.append(f"{depth} {element.tag} {attributes} | {words} | {tail}")
    return lines


def _alike(a: str, b: str) -> bool:
    if _NUMBER.split(a) != _NUMBER.split(b):
        return False
    pairs = zip(_NUMBER.findall(a), _NUMBER.findall(b), strict=True)
    return all(abs(float(x) - float(y)) <= LAST_DIGIT_MM for x, y in pairs)
