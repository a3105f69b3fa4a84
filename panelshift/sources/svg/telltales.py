"""What a file tells of its own past: a page that was shrunk to fit, other dots to the inch."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from typing import Final

from lxml import etree

from ...errors import PanelshiftError
from ...outline import Curve, FloatArray
from ...units import MM_PER_INCH
from .lengths import MM_PER_PX
from .transforms import attribute_transform

_LARGE_MM: Final = 20.0
"""Letters drawn as outlines have transforms of their own, and are smaller."""

_NEARLY_ALL: Final = 0.8
_LEAST_SHRINK: Final = 0.9
"""What is drawn at less than this part of its numbers was scaled on purpose."""

_EVEN: Final = 1e-6

_FEWEST: Final = 4

_PAGES_MM: Final = (
    *((841.0, 1189.0), (594.0, 841.0), (420.0, 594.0), (297.0, 420.0), (210.0, 297.0)),
    *((215.9, 279.4), (215.9, 355.6), (279.4, 431.8)),
)
"""ISO 216 A0 to A4; letter, legal and tabloid (ANSI/ASME Y14.1)."""

_PX_PER_INCH: Final = (72.0, 90.0)
_PAGE_PX: Final = 1.0
"""How far a page's size in px may be rounded."""

_SAVED_AT_90: Final = "{http://www.inkscape.org/namespaces/inkscape}version"
"""Its program changed from 90 px to the inch to 96 with its release 0.92 (its release notes)."""

_SAVED_AT_72: Final = ("http://ns.adobe.com/AdobeIllustrator/10.0/",)
"""Namespaces declared by a program whose px are points (from memory)."""


def shrunk(curves: Sequence[Curve], transforms: Sequence[str]) -> float | None:
    """Return the factor by which one and the same transform shrinks nearly all large lines.

    *curves*: in mm. *transforms*: each curve's own transform attribute.
    """
    large = [
        words
        for curve, words in zip(curves, transforms, strict=True)
        if float((curve.hull_box[1] - curve.hull_box[0]).max()) >= _LARGE_MM
    ]
    scales: Counter[float] = Counter()
    for words, count in Counter(large).items():
        try:
            matrix = attribute_transform(words)
        except PanelshiftError:
            continue  # A transform that the style has replaced.
        straight = matrix.b == matrix.c == 0.0 and abs(abs(matrix.d) - matrix.a) <= _EVEN
        if straight and _LEAST_SHRINK < matrix.a < 1.0 - _EVEN:
            scales[matrix.a] += count
    if not scales:
        return None
    scale, count = scales.most_common(1)[0]
    return scale if count >= max(_NEARLY_ALL * len(large), _FEWEST) else None


def px_per_inch(root: etree._Element, page_mm: FloatArray | None) -> float | None:
    """Return how many px to the inch a file in px means, None if nothing tells that it is not 96.

    Its program tells, or its page, if that is a usual one at another number of px.
    """
    if page_mm is not None:
        size = sorted(((page_mm[1] - page_mm[0]) / MM_PER_PX).tolist())
        for dots in (96.0, *_PX_PER_INCH):
            for page in _PAGES_MM:
                expected = [side / MM_PER_INCH * dots for side in page]
                if max(abs(a - b) for a, b in zip(size, expected, strict=True)) <= _PAGE_PX:
                    return None if dots == 96.0 else dots
    version = str(root.get(_SAVED_AT_90) or "").split(" ")[0].split(".")
    if version[0] == "0" and len(version) > 1 and version[1].isdecimal() and int(version[1]) < 92:
        return 90.0
    return 72.0 if set(_SAVED_AT_72) & set(root.nsmap.values()) else None
