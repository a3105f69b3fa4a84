"""A still picture of the whole corset round the body, seen from the front and a little from above.

Panels are cut into upright strips, which are painted from the farthest to the nearest.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from lxml import etree

from ..body import BodyModel
from ..body.turn import TurnOfCloth
from ..outline import FloatArray
from ..pattern.panel import EdgeName
from ..sheets.palette import INK, MUCH_TURN, PALE, PAPER, SOFT, between
from ..sheets.svg_writer import finished, line, picture, text
from .sections import Section, section_around, short_names

_LEVELS: Final = 15
_STRIPS: Final = 6
_ASIDE_RAD: Final = np.radians(24.0)
_ABOVE_RAD: Final = np.radians(14.0)
_LETTER: Final = 0.036
"""Font size as a part of the picture's breadth."""


@dataclass(frozen=True, eq=False)
class _LaidPanel:
    """One panel on the body.

    *points*, shape (_STRIPS + 1, _LEVELS, 3): from its bottom to its top at each strip's side, in
    mm to the wearer's left, ahead and up. *waist*, shape (_STRIPS + 1, 3). *shade*: how much it
    turns at the waist for its width, from 0 to 1.
    """

    name: str
    points: FloatArray
    waist: FloatArray
    shade: float


def corset_picture(turn: TurnOfCloth, body: BodyModel, *, gap: float) -> str:
    """Draw all panels where they lie on the body: the darker, the more one turns for its width."""
    pieces = _pieces(turn, body, gap)
    everything = np.vstack([_seen(piece.points.reshape(-1, 3)) for piece in pieces])
    low, high = everything[:, :2].min(axis=0), everything[:, :2].max(axis=0)
    letter = _LETTER * float(high[0] - low[0])
    border = 0.5 * letter
    wide, tall = (high - low + 2.0 * border).tolist()
    root = picture(
        wide,
        tall,
        "the whole corset on the body, seen from the front, the wearer's left on the right",
    )
    at = border - low
    parts: list[tuple[float, etree._Element]] = []
    briefs = short_names([piece.name for piece in pieces])
    names = etree.Element("g")
    for piece in pieces:
        parts += _painted(piece, at, letter, names, briefs[piece.name])
    for _, element in sorted(parts, key=lambda part: part[0]):
        root.append(element)
    root.append(names)
    return finished(root)


def _pieces(turn: TurnOfCloth, body: BodyModel, gap: float) -> list[_LaidPanel]:
    pattern = turn.pattern
    count = len(pattern.panels)
    order = list(range(count))
    ring = order if pattern.full else order[::-1] + order
    limits = [[_limit(turn, index, edge) for edge in ("bottom", "top")] for index in order]
    everything = np.concatenate([v for own in limits for _, v in own])
    heights = np.linspace(everything.min(), everything.max(), _LEVELS)
    sections = [section_around(turn, body, "", float(v), gap=gap) for v in heights]
    waist = section_around(turn, body, "waist", 0.0, gap=gap)
    rates = _rates(waist, len(ring))
    shades = (rates - rates.min()) / max(float(np.ptp(rates)), 1e-9)
    at = np.linspace(0.0, 1.0, _STRIPS + 1)
    pieces = []
    for place, index in enumerate(ring):
        rows = np.stack([_across(section.parts[place][1]) for section in sections])
        # In the first half of a mirrored draft the ring runs from a panel's back to its front.
        backwards = (not pattern.full and place < count) or pattern.ends(index)[0] == "back"
        across = 1.0 - at if backwards else at
        lows, highs = (np.interp(across, *limit) for limit in limits[index])
        tall = lows[:, None] + np.linspace(0.0, 1.0, _LEVELS) * (highs - lows)[:, None]
        points = np.stack([_at(rows[:, k], heights, tall[k]) for k in range(len(at))])
        own = _across(waist.parts[place][1])
        belt = np.column_stack([own, np.zeros(len(at))])
        pieces.append(_LaidPanel(pattern.panels[index].name, points, belt, float(shades[place])))
    return pieces


def _limit(turn: TurnOfCloth, index: int, edge: EdgeName) -> tuple[FloatArray, FloatArray]:
    """A panel's top or bottom: parts of the way from front to back, rising, and heights there."""
    panel = turn.pattern.panels[index]
    u, v = panel.frame.to_panel(panel.edge(edge).flatten(0.5)).T
    front, back = turn.profile.sides(v)[2 * index : 2 * index + 2]
    shares = np.clip((u - front) / np.maximum(back - front, 1e-6), 0.0, 1.0)
    order = np.argsort(shares, kind="stable")
    return shares[order], v[order]


def _across(points: FloatArray) -> FloatArray:
    """A part of a section at the strips' sides, shape (_STRIPS + 1, 2)."""
    run = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))])
    at = np.linspace(0.0, run[-1], _STRIPS + 1)
    return np.column_stack([np.interp(at, run, column) for column in points.T])


def _at(column: FloatArray, heights: FloatArray, tall: FloatArray) -> FloatArray:
    """Points in space at heights, of a line given by its place in each section, (k, 3)."""
    x, y = (np.interp(tall, heights, column[:, k]) for k in (0, 1))
    return np.column_stack([x, y, tall])


def _rates(section: Section, count: int) -> FloatArray:
    """Turning of each panel for each mm of its width."""
    wide = [float(np.hypot(*np.diff(points, axis=0).T).sum()) for _, points in section.parts]
    return np.array(section.angles[:count]) / np.maximum(wide[:count], 1e-6)


def _seen(points: FloatArray) -> FloatArray:
    """Points on the picture, and how near they are, shape (k, 3)."""
    x, ahead, up = points.T
    right = x * np.cos(_ASIDE_RAD) + ahead * np.sin(_ASIDE_RAD)
    near = ahead * np.cos(_ASIDE_RAD) - x * np.sin(_ASIDE_RAD)
    down = near * np.sin(_ABOVE_RAD) - up * np.cos(_ABOVE_RAD)
    return np.column_stack([right, down, near])


def _painted(
    piece: _LaidPanel, at: FloatArray, letter: float, names: etree._Element, brief: str
) -> list[tuple[float, etree._Element]]:
    """A panel's strips, each with how near it is; its name goes on top of all."""
    seen = np.stack([_seen(column) for column in piece.points])
    belt = _seen(piece.waist)
    middle = seen.shape[1] // 2
    parts = []
    for k in range(_STRIPS):
        one, two = seen[k], seen[k + 1]
        # Outside is seen where the ring, which runs to the wearer's left in front, runs rightwards.
        outside = bool(two[middle, 0] > one[middle, 0])
        tint = 0.08 + 0.5 * piece.shade
        colour = between(PAPER, MUCH_TURN, tint) if outside else PALE
        group = etree.Element("g")
        border = np.vstack([one, two[::-1]])[:, :2] + at
        _filled(group, border, colour, 0.05 * letter)
        ink = {"stroke": INK if outside else SOFT, "stroke-width": f"{0.1 * letter:.2f}"}
        for end in (0, -1):
            line(group, np.array([one[end, :2], two[end, :2]]) + at, ink)
        if k == 0:
            line(group, one[:, :2] + at, ink)
        if k == _STRIPS - 1:
            line(group, two[:, :2] + at, ink)
        dashes = {"stroke-dasharray": f"{0.35 * letter:.1f} {0.25 * letter:.1f}"}
        if outside:
            line(group, belt[k : k + 2, :2] + at, ink | dashes)
        parts.append((float(np.mean([one[:, 2], two[:, 2]])), group))
    centre = seen[_STRIPS // 2]
    wide = abs(float(seen[-1, middle, 0] - seen[0, middle, 0]))
    if seen[-1, middle, 0] > seen[0, middle, 0] and wide > 0.7 * letter * max(len(brief), 1):
        text(names, brief, centre[3, :2] + at, letter)
    return parts


def _filled(
    parent: etree._Element, points: Sequence[FloatArray] | FloatArray, colour: str, over: float
) -> None:
    """A strip; its border in its own colour hides the hair's breadth between two strips."""
    d = "M" + "L".join(f"{x:.1f},{y:.1f}" for x, y in points) + "Z"
    attributes = {"d": d, "fill": colour, "stroke": colour, "stroke-width": f"{over:.2f}"}
    etree.SubElement(parent, "path", attributes)
