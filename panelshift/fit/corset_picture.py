"""A still picture of the whole corset round the body, by default from the front and a little above.

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
from ..sheets.palette import INK, MUCH_TURN, PALE, PAPER, SOFT, between
from ..sheets.svg_writer import finished, line, picture, text
from .laid_panels import ROWS, STRIPS, LaidPanel, lay_panels
from .sections import short_names

_LETTER: Final = 0.036
"""Font size as a part of the picture's breadth."""


@dataclass(frozen=True)
class Viewpoint:
    """From where the corset is seen, in radians: *aside* of straight ahead, towards the wearer's
    right, and *above* level.
    """

    aside: float = float(np.radians(24.0))
    above: float = float(np.radians(14.0))

    def seen(self, points: FloatArray) -> FloatArray:
        """Points on the picture, and how near they are, shape (..., 3)."""
        x, ahead, up = np.moveaxis(points, -1, 0)
        right = x * np.cos(self.aside) + ahead * np.sin(self.aside)
        near = ahead * np.cos(self.aside) - x * np.sin(self.aside)
        down = near * np.sin(self.above) - up * np.cos(self.above)
        nearer = near * np.cos(self.above) + up * np.sin(self.above)
        return np.stack([right, down, nearer], axis=-1)


@dataclass(frozen=True, eq=False)
class PaintedPanel:
    """One panel in one layer: where its points lie, (STRIPS + 1, ROWS, 3), and its colours.

    *colours*: for each strip one colour, or several evenly from its bottom to its top.
    """

    panel: LaidPanel
    points: FloatArray
    colours: Sequence[Sequence[str]]


def corset_picture(turn: TurnOfCloth, body: BodyModel, *, gap: float) -> str:
    """Draw all panels where they lie on the body: the darker, the more one turns for its width."""
    return still_picture(by_turn(lay_panels(turn, body, gap=gap)))


def by_turn(laid: Sequence[LaidPanel]) -> list[PaintedPanel]:
    """Panels as the fit sheet's picture has them."""
    tints = [between(PAPER, MUCH_TURN, 0.08 + 0.5 * panel.shade) for panel in laid]
    return [
        PaintedPanel(panel, panel.points, [[tint]] * STRIPS)
        for panel, tint in zip(laid, tints, strict=True)
    ]


def still_picture(pieces: Sequence[PaintedPanel], view: Viewpoint | None = None) -> str:
    """Draw panels from a point of view, names on those that face it."""
    view = view or Viewpoint()
    everything = np.vstack([view.seen(piece.points).reshape(-1, 3) for piece in pieces])
    low, high = everything[:, :2].min(axis=0), everything[:, :2].max(axis=0)
    letter = _LETTER * float(high[0] - low[0])
    border = 0.5 * letter
    wide, tall = (high - low + 2.0 * border).tolist()
    words = "the whole corset on the body, seen from the front, the wearer's left on the right"
    if view != Viewpoint():
        words = f"the whole corset on the body, turned by {np.degrees(view.aside):.0f}°"
    root = picture(wide, tall, words)
    at = border - low
    parts: list[tuple[float, etree._Element]] = []
    briefs = short_names([piece.panel.name for piece in pieces])
    names = {}
    for piece in pieces:
        parts += _painted(piece, view, at, letter)
        # Of several layers the outermost is named.
        names[id(piece.panel)] = piece
    for _, element in sorted(parts, key=lambda part: part[0]):
        root.append(element)
    group = etree.SubElement(root, "g")
    for piece in (known for known in names.values() if known.panel.named):
        _named(group, piece, view, at, letter, briefs[piece.panel.name])
    return finished(root)


def _painted(
    piece: PaintedPanel, view: Viewpoint, at: FloatArray, letter: float
) -> list[tuple[float, etree._Element]]:
    """A panel's strips, each with how near it is."""
    seen = view.seen(piece.points)
    belt = view.seen(piece.panel.waist)
    middle = ROWS // 2
    parts = []
    for k in range(STRIPS):
        one, two = seen[k], seen[k + 1]
        # Outside is seen where the ring, which runs to the wearer's left in front, runs rightwards.
        outside = bool(two[middle, 0] > one[middle, 0])
        group = etree.Element("g")
        colours = piece.colours[k] if outside else [PALE]
        rows = np.linspace(0, ROWS - 1, len(colours) + 1).astype(int)
        for low, high, colour in zip(rows[:-1], rows[1:], colours, strict=True):
            border = np.vstack([one[low : high + 1], two[low : high + 1][::-1]])[:, :2] + at
            _filled(group, border, colour, 0.05 * letter)
        ink = {"stroke": INK if outside else SOFT, "stroke-width": f"{0.1 * letter:.2f}"}
        for end in (0, -1):
            line(group, np.array([one[end, :2], two[end, :2]]) + at, ink)
        first, last = piece.panel.edges
        if k == 0 and first.any():
            line(group, one[first, :2] + at, ink)
        if k == STRIPS - 1 and last.any():
            line(group, two[last, :2] + at, ink)
        dashes = {"stroke-dasharray": f"{0.35 * letter:.1f} {0.25 * letter:.1f}"}
        wide = float(np.hypot(*(belt[-1, :2] - belt[0, :2]))) > 0.0
        if outside and wide and piece.points is piece.panel.points:
            line(group, belt[k : k + 2, :2] + at, ink | dashes)
        parts.append((float(np.mean([one[:, 2], two[:, 2]])), group))
    return parts


def _named(
    parent: etree._Element,
    piece: PaintedPanel,
    view: Viewpoint,
    at: FloatArray,
    letter: float,
    brief: str,
) -> None:
    """Write a panel's name on it if it faces the reader and there is room."""
    ends = view.seen(piece.points[[0, -1], ROWS // 2])
    wide = float(ends[1, 0] - ends[0, 0])
    if wide > 0.7 * letter * max(len(brief), 1):
        text(parent, brief, view.seen(piece.points[STRIPS // 2, 3])[:2] + at, letter)


def _filled(
    parent: etree._Element, points: Sequence[FloatArray] | FloatArray, colour: str, over: float
) -> None:
    """A strip; its border in its own colour hides the hair's breadth between two strips."""
    d = "M" + "L".join(f"{x:.1f},{y:.1f}" for x, y in points) + "Z"
    attributes = {"d": d, "fill": colour, "stroke": colour, "stroke-width": f"{over:.2f}"}
    etree.SubElement(parent, "path", attributes)
