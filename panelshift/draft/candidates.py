"""Lines that may be the waistline, on every panel, and which of them go together."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from ..outline import Curve, FloatArray
from ..outline.crossing import nearest_position
from ..pattern.drawing import Drawing, Text
from .assembly import outlined
from .places import looks
from .reading import Reading
from .roles import spaced
from .tidy import extent

_LETTER_SHARE: Final = 0.1
"""Outlines smaller than this part of the largest have no say."""

_NEAR_MM: Final = 12.0
"""A word about a line stands no further from it."""

_LEVEL_MM: Final = 3.0
"""Lines drawn at one height on the sheet lie within."""

_LONGEST_WORD: Final = 40


@dataclass(frozen=True, eq=False)
class LineAcross:
    """A line that crosses an outline from side to side, and where a maker finds it.

    Parameters
    ----------
    ident : str
        Of the line.
    panel : str
        Id of the outline.
    place : int
        Of the outline, counted from the left, from 1.
    height : float
        Of the line's middle above the lowest point of the outline, in mm.
    sheet : float
        Height of its middle on the sheet, in mm.
    look : str
        How it is drawn: dashed or solid, colour, width.
    word : str
        Written near it; may be empty.
    """

    ident: str
    panel: str
    place: int
    height: float
    sheet: float
    look: str
    word: str


def lines_across(drawing: Drawing, reading: Reading) -> tuple[LineAcross, ...]:
    """All lines without a name across each outline, from the left and from the bottom up.

    Raises `PatternError` if there are no outlines to be crossed.
    """
    draft = outlined(drawing, reading)
    unnamed = [s for s in draft.shapes if not s.curve.closed and draft.role(s) is None]
    least = _LETTER_SHARE * max((extent(found.outline) for found in draft.outlines), default=0.0)
    outlines = [found for found in draft.outlines if extent(found.outline) >= least]
    outlines.sort(key=lambda found: float(found.outline.hull_box[0, 0]))
    crossed = draft.meetings.across([found.outline for found in outlines], unnamed)
    found: list[LineAcross] = []
    words: dict[str, str] = {}
    place = 0
    for outline, hits in zip(outlines, crossed, strict=True):
        lines = []
        for shape, points in hits:
            if len(points) != 2:
                continue
            if shape.ident not in words:
                words[shape.ident] = word_near(shape.curve, draft.drawing.texts)
            middle = points.points.mean(axis=0)
            height = _above_bottom(outline.outline, points.points)
            lines.append((height, float(-middle[1]), shape))
        place += bool(lines)
        found += [
            LineAcross(s.ident, outline.ident, place, height, sheet, looks(s), words[s.ident])
            for height, sheet, s in sorted(lines, key=lambda item: item[:2])
        ]
    return tuple(found)


def alike(lines: Sequence[LineAcross]) -> tuple[tuple[LineAcross, ...], ...]:
    """Lines that may together be the waistline: one across each panel, from the bottom up.

    Lines go together by what is written near them, by how they are drawn, by their height on
    the sheet, or, where all panels have equally many, by their rank from the bottom.
    """
    panels = list(dict.fromkeys(line.panel for line in lines))
    ranks, levels = _ranks(lines), _levels(lines)
    kinds: list[Callable[[int], object]] = [
        lambda k: spaced(lines[k].word) or None,
        lambda k: lines[k].look,
        lambda k: levels[k],
    ]
    if len({ranks.count(rank) for rank in set(ranks)}) == 1:
        kinds.append(lambda k: ranks[k])
    found: dict[frozenset[str], tuple[LineAcross, ...]] = {}
    for kind in kinds:
        groups: dict[object, list[LineAcross]] = {}
        for k, line in enumerate(lines):
            if (value := kind(k)) is not None:
                groups.setdefault(value, []).append(line)
        for group in groups.values():
            if [line.panel for line in group] == panels:
                found.setdefault(frozenset(line.ident for line in group), tuple(group))
    return tuple(sorted(found.values(), key=lambda group: np.mean([x.height for x in group])))


def _ranks(lines: Sequence[LineAcross]) -> list[int]:
    """How many lines of the same panel lie below each."""
    return [sum(other.panel == line.panel for other in lines[:k]) for k, line in enumerate(lines)]


def _levels(lines: Sequence[LineAcross]) -> list[int]:
    """Number of each line's height on the sheet; those less than a hair apart share one."""
    heights = np.array([line.sheet for line in lines])
    by_height = np.argsort(heights, kind="stable")
    steps = np.diff(heights[by_height], prepend=heights[by_height[:1]]) > _LEVEL_MM
    levels = np.empty(len(lines), dtype=np.int64)
    levels[by_height] = np.cumsum(steps)
    return [int(level) for level in levels]


def _above_bottom(outline: Curve, ends: FloatArray) -> float:
    """Height of a line's middle above an outline's lowest point, seen with the line level."""
    step = ends[1] - ends[0]
    up = np.array([-step[1], step[0]]) / max(float(np.hypot(*step)), 1e-9)
    if up[1] > 0.0:
        up = -up
    return float(((ends.mean(axis=0) - outline.flatten()) @ up).max())


def word_near(line: Curve, texts: Sequence[Text]) -> str:
    """The text that begins nearest to a line; empty if none is near."""
    best, word = _NEAR_MM, ""
    low, high = line.hull_box
    for text in texts:
        if (text.anchor < low - _NEAR_MM).any() or (text.anchor > high + _NEAR_MM).any():
            continue
        _, apart = nearest_position(line, text.anchor)
        if apart < best and text.content.strip():
            best, word = apart, " ".join(text.content.split())[:_LONGEST_WORD]
    return word
