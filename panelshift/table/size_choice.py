"""Which layer keeps the drafted size: what each answer does to the finished waist, drawn."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Final

import numpy as np
from lxml import etree

from ..fit.facts import FitFacts
from ..fit.girths import OUTSIDE, SKIN, LevelGirths
from ..outline import FloatArray
from ..outline.pathtext import number
from ..sheets.lettering import width
from ..sheets.svg_writer import finished, picture, text
from ..units import tape_length
from .pattern_picture import safe


def size_view(facts: FitFacts | None) -> dict[str, Any]:
    """Return the drawing of every answer; nothing as long as they cannot be reckoned."""
    rows = [] if facts is None else [row for row in facts.girths if row.level == "waist"]
    return {"drawing": safe(size_picture(facts, rows)) if facts is not None and rows else ""}


_ENDS: Final = (SKIN, OUTSIDE)


def _shown(row: LevelGirths, surface: str, facts: FitFacts) -> str:
    return tape_length(row.closed[surface], facts.units)


_WIDE: Final = 150.0
_ROW: Final = 26.0
_HEAD: Final = 30.0
_LETTER: Final = 14.0
_LEAST: Final = 10.0
"""Width of a layer in the picture, in its own units, however thin it is."""


def size_picture(facts: FitFacts, rows: Sequence[LevelGirths]) -> str:
    """Draw the layers cut through, and a line for each that might keep the drafted size."""
    stack = facts.shifted.stack
    # What each adds to the whole, taken apart at the waist where all of them lie.
    builds = np.array([fabric.build for fabric in stack.fabrics])
    slabs = np.maximum(builds / max(float(builds.sum()), 1e-9) * _WIDE, _LEAST)
    ends = np.concatenate([[0.0], np.cumsum(slabs)])
    labels = [row.drafted for row in rows]
    units = facts.units
    sizes = {
        row.drafted: [_shown(row, at, facts).removesuffix(f" {units}") for at in _ENDS]
        for row in rows
    }
    side = _LETTER * max(width(size) for pair in sizes.values() for size in pair) + 8.0
    left = max(_LETTER * max(map(width, labels)) + 24.0, 60.0) + side
    whole = left + float(ends[-1]) + side + 8.0
    tall = _HEAD + _ROW * len(rows) + 6.0
    root = picture(whole, tall, _words(rows, facts))
    root.set("class", "sheet sizes")
    text(root, "inside", np.array([left - 0.5 * side, 18.0]), 0.9 * _LETTER)
    text(root, "outside", np.array([left + float(ends[-1]) + 0.5 * side, 18.0]), 0.9 * _LETTER)
    for place, (begin, slab) in enumerate(zip(ends[:-1], slabs, strict=True)):
        _slab(root, left + float(begin), float(slab), tall, place)
    middles = dict(zip(stack.names, left + 0.5 * (ends[1:] + ends[:-1]), strict=True))
    for place, row in enumerate(rows):
        y = _HEAD + _ROW * (place + 0.5)
        own = row.drafted == facts.drafted and facts.basis.drafted_named
        at = np.array([left, y])
        _answer(root, row.drafted, sizes[row.drafted], at, float(ends[-1]), own=own)
        dot = {"cx": number(float(middles[row.drafted])), "cy": number(y), "r": "5"}
        etree.SubElement(root, "circle", {"class": "keeps-size", **dot})
    return finished(root)


def _slab(root: etree._Element, x: float, wide: float, tall: float, place: int) -> None:
    box = {"x": number(x), "y": number(_HEAD - 6.0), "width": number(wide)}
    shade = "cloth odd" if place % 2 else "cloth"
    etree.SubElement(root, "rect", {**box, "height": number(tall - _HEAD + 3.0), "class": shade})


def _answer(
    root: etree._Element, name: str, sizes: list[str], at: FloatArray, wide: float, *, own: bool
) -> None:
    group = etree.SubElement(root, "g", {"class": "own" if own else "other"})
    x, y = (float(value) for value in at)
    text(group, name, np.array([8.0, y + 0.35 * _LETTER]), _LETTER, "start")
    etree.SubElement(group, "path", {"d": f"M{number(x)},{number(y)}h{number(wide)}"})
    text(group, sizes[0], np.array([x - 6.0, y + 0.35 * _LETTER]), _LETTER, "end")
    text(group, sizes[1], np.array([x + wide + 6.0, y + 0.35 * _LETTER]), _LETTER, "start")


def _words(rows: Sequence[LevelGirths], facts: FitFacts) -> str:
    each = "; ".join(
        f"{row.drafted}: inside {_shown(row, SKIN, facts)}, outside {_shown(row, OUTSIDE, facts)}"
        for row in rows
    )
    return f"through the cloth from the body outwards, if a layer keeps the drafted size: {each}"
