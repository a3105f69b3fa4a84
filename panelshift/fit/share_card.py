"""A card to show others, made for a phone: the corset, its layers, its finished sizes, no names."""

from __future__ import annotations

from typing import Final

import numpy as np
from lxml import etree

from ..sheets.lettering import width
from ..sheets.palette import FAINT, INK, PAPER
from ..sheets.svg_writer import FONT_FAMILY, finished, key_line, line, picture, text
from ..units import tape_length
from .corset_picture import by_turn, still_picture
from .facts import FitFacts
from .girths import OUTSIDE, SKIN

WIDE: Final = 1080.0
TALL: Final = 1350.0
_MARGIN: Final = 60.0
_LETTER: Final = 38.0
"""Read at arm's length where the card fills a phone."""

_STEP: Final = 54.0
_MOST_LAYERS: Final = 7
_MOST_LEVELS: Final = 6
_SIZES: Final = 0.42 * WIDE
"""Where the sizes begin, beside the layers."""

_PICTURE: Final = (130.0, 760.0)
"""From where to where the corset stands."""


def share_card(facts: FitFacts, *, title: str = "") -> str:
    """Draw the card; *title* is what the maker wants on it, nothing unless she asks."""
    layers = facts.layers
    root = picture(WIDE, TALL, "a corset: its layers and finished sizes")
    root.set("width", f"{WIDE:.0f}")
    root.set("height", f"{TALL:.0f}")
    root.set("font-family", FONT_FAMILY)
    root.set("fill", INK)
    etree.SubElement(root, "rect", {"width": "100%", "height": "100%", "fill": PAPER})
    heading = title or f"A corset in {_counted(len(layers), 'layer')}"
    text(root, _fitting(heading, WIDE - 2.0 * _MARGIN, 56.0), np.array([WIDE / 2, 92.0]), 56.0)
    _placed(
        root,
        still_picture(by_turn(facts.laid)),
        (_MARGIN, _PICTURE[0], WIDE - 2.0 * _MARGIN, _PICTURE[1] - _PICTURE[0]),
    )
    top = _PICTURE[1] + 70.0
    _layers(root, facts, top)
    _sizes(root, facts, top)
    return finished(root)


def _layers(root: etree._Element, facts: FitFacts, top: float) -> None:
    names = [layer.fabric.name for layer in facts.layers]
    room = _SIZES - _MARGIN - 120.0
    text(root, "From the body out", np.array([_MARGIN, top]), _LETTER, anchor="start")
    for k, name in enumerate(names[:_MOST_LAYERS]):
        y = top + (k + 1) * _STEP
        _placed(root, key_line(facts.styles[name]), (_MARGIN, y - 25.0, 80.0, 24.0))
        at = np.array([_MARGIN + 100.0, y])
        text(root, _fitting(name, room, _LETTER), at, _LETTER, anchor="start")
    if len(names) > _MOST_LAYERS:
        y = top + (_MOST_LAYERS + 1) * _STEP
        more = f"and {len(names) - _MOST_LAYERS} more"
        text(root, more, np.array([_MARGIN + 100.0, y]), _LETTER, anchor="start")


def _sizes(root: etree._Element, facts: FitFacts, top: float) -> None:
    left, middle, right = _SIZES, 0.77 * WIDE, WIDE - _MARGIN
    text(root, "inside", np.array([middle, top]), _LETTER, anchor="end")
    text(root, "outside", np.array([right, top]), _LETTER, anchor="end")
    for k, row in enumerate(facts.yours[:_MOST_LEVELS]):
        y = top + (k + 1) * _STEP
        name = _fitting(row.level, 0.21 * WIDE, _LETTER)
        text(root, name, np.array([left, y]), _LETTER, anchor="start")
        for where, surface in ((middle, SKIN), (right, OUTSIDE)):
            size = tape_length(row.closed[surface], facts.units)
            size = size.removesuffix(f" {facts.units}")
            text(root, size, np.array([where, y]), _LETTER, anchor="end")
    rule = np.array([[_MARGIN, TALL - 95.0], [WIDE - _MARGIN, TALL - 95.0]])
    line(root, rule, {"stroke": FAINT, "stroke-width": "2"})
    gap = f", lacing gap of {tape_length(facts.basis.gap, facts.units)} counted"
    unit = "inches" if facts.units == "in" else facts.units
    words = f"Right round the body in {unit}{gap if facts.basis.gap else ''}"
    text(root, words, np.array([WIDE / 2, TALL - 45.0]), 32.0)


def _counted(count: int, what: str) -> str:
    return f"{count} {what}{'' if count == 1 else 's'}"


def _fitting(words: str, room: float, letter: float) -> str:
    """Words cut off where there is no more room for them."""
    if width(words) * letter <= room:
        return words
    while words and width(words + "…") * letter > room:
        words = words[:-1]
    return words.rstrip() + "…"


def _placed(root: etree._Element, drawn: str, box: tuple[float, float, float, float]) -> None:
    """Put a picture into a box, as large as it fits."""
    inner = etree.fromstring(drawn)
    for name, value in zip(("x", "y", "width", "height"), box, strict=True):
        inner.set(name, f"{value:g}")
    # The card's own description is the one that is read.
    for name in ("role", "aria-label"):
        del inner.attrib[name]
    root.append(inner)
