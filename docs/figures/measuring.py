"""How a body is measured: scanned, with boards and tapes, traced round with a flexible curve."""

from __future__ import annotations

from typing import Final

import numpy as np
from canvas import BLUE, GREEN, GREY, ORANGE, PALE, RED, Canvas

from panelshift.body.mean_form import population
from panelshift.body.support import Sections
from panelshift.outline import FloatArray

HEIGHTS: Final = np.arange(-230.0, 196.0, 5.0)
TOP_MM, BOTTOM_MM = 150.0, -170.0
"""Edges of the corset that is drawn for."""


def _sections(heights: FloatArray) -> Sections:
    """Of the mean form of women, with a waist of 660 mm."""
    swell = (heights / 200.0) ** 2
    radii = 105.0 + 40.0 * swell / (1.0 + 0.4 * swell) - 0.03 * heights
    return population("women").column(160.0, 105.0).at(heights).sections(radii)


def _outline(first: float, second: float) -> FloatArray:
    """How far it reaches in two directions, at all heights: shape (2, m)."""
    return _sections(HEIGHTS).support(np.tile([[first, second]], (len(HEIGHTS), 1))).T


class View:
    """A part of the canvas on which millimetres of the body are drawn."""

    def __init__(self, canvas: Canvas, x: float, y: float, scale: float) -> None:
        self.canvas, self.origin, self.scale = canvas, np.array([x, y]), scale

    def at(self, points: object) -> FloatArray:
        """Points of the body (to the right, up) on the page."""
        return self.origin + self.scale * np.asarray(points, dtype=float) * [1.0, -1.0]

    def line(self, points: object, colour: str = GREY, width: float = 1.0, dash: str = "") -> None:
        """Draw a line through points."""
        self.canvas.line(self.at(points), colour, width, dash=dash)

    def dot(self, point: object, colour: str, radius: float = 3.0) -> None:
        """Draw a dot."""
        self.canvas.dot(self.at(point), radius, colour)

    def words(self, point: object, words: str, anchor: str = "start", colour: str = GREY) -> None:
        """Write beside a point."""
        x, y = self.at(point)
        self.canvas.text(x, y + 4.0, words, size=11, anchor=anchor, colour=colour)

    def body(self, first: float, second: float) -> None:
        """Its outline seen from one side, filled."""
        one, two = _outline(first, second)
        left, right = np.column_stack([-one, HEIGHTS]), np.column_stack([two, HEIGHTS])
        self.canvas.line(self.at([*left, *right[::-1]]), GREY, 1.4, fill=PALE, closed=True)

    def section(self, height: float) -> FloatArray:
        """The section at a height from above, the front down the page; its points."""
        psi = np.linspace(0.0, 2.0 * np.pi, 181)
        points = _sections(np.array([height])).points(psi[None])[0] * [1.0, -1.0]
        self.canvas.line(self.at(points), GREY, 1.4, fill=PALE, closed=True)
        return points


def scan() -> str:
    """What to wear and how to stand."""
    canvas = Canvas("A scan: arms away, a tape at the waist, more than the corset covers", 250.0)
    front, side = View(canvas, 120.0, 124.0, 0.42), View(canvas, 290.0, 124.0, 0.42)
    front.body(0.5 * np.pi, 0.5 * np.pi)
    side.body(0.0, np.pi)
    for way in (-1.0, 1.0):
        arm = np.array([[150.0, 190.0], [205.0, 60.0], [225.0, -60.0]])
        front.line(arm * [way, 1.0], PALE, 12.0)
    across, along = (
        _sections(np.zeros(1)).support(np.array([[a, b]]))[0]
        for a, b in ((0.5 * np.pi, 0.5 * np.pi), (0.0, np.pi))
    )
    front.line([[-across[0], 0.0], [across[1], 0.0]], RED, 2.0)
    side.line([[-along[0], 0.0], [along[1], 0.0]], RED, 2.0)
    front.dot([0.0, 60.0], BLUE)
    side.dot([-float(np.interp(60.0, HEIGHTS, _outline(0.0, np.pi)[0])), 60.0], BLUE)
    for height in (TOP_MM + 25.0, BOTTOM_MM - 25.0):
        for view, reach in ((front, 150.0), (side, 150.0)):
            view.line([[-reach, height], [reach, height]], GREEN, 1.2, "5 3")
    for view, words in ((front, "from the front"), (side, "from the left")):
        view.words([0.0, 252.0], words, "middle")
    canvas.line([(12, 238), (30, 238)], RED, 2.0)
    canvas.text(34, 242, "tape at the waist", size=11)
    canvas.dot((140, 238), 3.0, BLUE)
    canvas.text(147, 242, "dot at CF", size=11)
    canvas.line([(206, 238), (224, 238)], GREEN, 1.2, dash="5 3")
    canvas.text(228, 242, "25 mm past the edges", size=11)
    return canvas.svg()


def tapes() -> str:
    """Two boards and a tape at one level, and how far the front stands out."""
    canvas = Canvas("Boards and tapes: breadth, depth, front arc, and how far it stands out", 262.0)
    above, side = View(canvas, 105.0, 124.0, 0.42), View(canvas, 286.0, 124.0, 0.42)
    points = above.section(160.0)
    (x0, y0), (x1, y1) = points.min(axis=0), points.max(axis=0)
    for x in (x0, x1):
        above.line([[x, y0 - 20.0], [x, y1 + 20.0]], BLUE, 3.0)
    for y in (y0, y1):
        above.line([[x0 - 20.0, y], [x1 + 20.0, y]], GREEN, 3.0)
    ahead = points[points[:, 1] <= points[int(np.argmax(points[:, 0])), 1]]
    ahead = ahead[np.argsort(np.arctan2(ahead[:, 0], -ahead[:, 1]))]
    above.line(1.06 * ahead, ORANGE, 2.0)
    above.words([0.0, 228.0], "the bust from above", "middle")
    above.words([0.0, y1 - 24.0], "back", "middle")
    above.words([0.0, y0 + 24.0], "front", "middle")
    side.body(0.0, np.pi)
    reach = _outline(0.0, np.pi)[0]
    waist, bust = (float(np.interp(z, HEIGHTS, reach)) for z in (0.0, 160.0))
    side.line([[-waist, -20.0], [-waist, 190.0]], GREY, 1.0, "4 3")
    side.line([[-bust, -20.0], [-bust, 190.0]], GREY, 1.0, "4 3")
    side.canvas.arrow(side.at([-waist, 176.0]), side.at([-bust, 176.0]), RED)
    side.words([0.0, 228.0], "from the left", "middle")
    for place, (colour, words) in enumerate(
        (
            (BLUE, "breadth, between boards"),
            (GREEN, "depth, between boards"),
            (ORANGE, "front arc, side to side"),
            (RED, "stand-out before the waist"),
        )
    ):
        x, y = 12.0 + 178.0 * (place % 2), 240.0 + 16.0 * (place // 2)
        canvas.line([(x, y - 4), (x + 18, y - 4)], colour, 2.5)
        canvas.text(x + 23, y, words, size=11)
    return canvas.svg()


def traces() -> str:
    """A flexible curve round one half, and what has to be marked."""
    canvas = Canvas(
        "Tracing: half a section, the centre front, and where the plumb line hung", 262.0
    )
    side, above = View(canvas, 88.0, 124.0, 0.42), View(canvas, 262.0, 132.0, 0.5)
    side.body(0.0, np.pi)
    for height in (-195.0, -125.0, -60.0, 0.0, 70.0, 160.0, 180.0):
        ends = [float(np.interp(height, HEIGHTS, row)) for row in _outline(0.0, np.pi)]
        side.line([[-ends[0], height], [ends[1], height]], BLUE, 2.0 if height == 0.0 else 1.0)
    plumb = 175.0
    side.line([[-plumb, 195.0], [-plumb, -225.0]], RED, 1.0)
    side.dot([-plumb, -222.0], RED)
    side.words([0.0, 228.0], "levels, and a plumb line", "middle")
    points = above.section(160.0)
    above.line(points[:91], ORANGE, 4.0)
    front = float(points[:, 1].min())
    above.line([[0.0, front - 8.0], [0.0, front + 8.0]], BLUE, 2.0)
    above.words([10.0, front + 22.0], "cf", colour=BLUE)
    above.dot([0.0, -plumb], RED)
    above.words([10.0, -plumb], "plumb", colour=RED)
    above.words([0.0, 196.0], "one level on paper", "middle")
    canvas.line([(12, 250), (30, 250)], ORANGE, 4.0)
    canvas.text(35, 254, "flexible curve, from CF to CB on one side", size=11)
    return canvas.svg()
