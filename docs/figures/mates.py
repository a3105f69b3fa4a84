"""Two edges that are sewn together: the stretch that each would have alone, and what both get."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import sample
from canvas import BLUE, GREEN, GREY, ORANGE, Canvas, signed

from panelshift.outline import FloatArray
from panelshift.pattern.panel import EdgeName

TITLE = "The two edges of one seam: their stretch in the outer layer, and how far they drift apart"
ONE, OTHER = "2 front", "3 side front"
LEFT, RIGHT = 52.0, 344.0
LOW_MM, HIGH_MM = -160.0, 190.0


@dataclass(frozen=True)
class Plot:
    """A plot's place on the page and its scale: values from -reach to reach."""

    top: float
    bottom: float
    reach: float
    ticks: tuple[float, ...]
    places: int

    def points(self, arc: FloatArray, values: FloatArray) -> FloatArray:
        """On the page, shape (m, 2)."""
        x = LEFT + (RIGHT - LEFT) * (arc - LOW_MM) / (HIGH_MM - LOW_MM)
        middle, half = 0.5 * (self.top + self.bottom), 0.5 * (self.bottom - self.top)
        return np.column_stack([x, middle - half * values / self.reach])

    def frame(self, canvas: Canvas) -> None:
        """Draw its lines of equal value and the waist."""
        ends = np.array([LOW_MM, HIGH_MM])
        for tick in self.ticks:
            row = self.points(ends, np.full(2, tick))
            canvas.line(row, GREY if tick == 0.0 else "#cccccc", 0.8)
            words = signed(tick, self.places)
            canvas.text(LEFT - 6.0, row[0, 1] + 4.0, words, size=11, anchor="end", colour=GREY)
        waist = self.points(np.zeros(2), np.array([-self.reach, self.reach]))
        canvas.line(waist, GREY, 0.8, dash="2 3")


STRETCH: Final = Plot(62.0, 182.0, 1.7, (-1.0, 0.0, 1.0), 0)
DRIFT: Final = Plot(240.0, 330.0, 0.045, (-0.03, 0.0, 0.03), 2)


@dataclass(frozen=True, eq=False)
class Edge:
    """One edge of the seam, by the distance along it from the waist."""

    arc: FloatArray
    alone: FloatArray
    """How much each point gains from the waist by its own displacement, in mm."""
    cut: FloatArray
    """The same as it is cut."""


def figure() -> str:
    """Draw it."""
    one, other = _edge(ONE, "back"), _edge(OTHER, "front")
    arc = np.arange(max(one.arc[0], other.arc[0]), min(one.arc[-1], other.arc[-1]), 2.0)
    canvas = Canvas(TITLE, 400.0)
    canvas.text(12, 22, f"Seam {ONE} to {OTHER}, in {sample.OUTER}", bold=True)
    canvas.text(12, 46, "stretch of both edges against the draft, percent")
    STRETCH.frame(canvas)
    middles = 0.5 * (arc[1:] + arc[:-1])
    for edge, colour, dash in ((one, BLUE, ""), (other, ORANGE, "5 4")):
        gain = np.interp(arc, edge.arc, edge.alone)
        canvas.line(STRETCH.points(middles, 100.0 * np.diff(gain) / 2.0), colour, 2.0, dash=dash)
    canvas.text(12, 222, "how far the edges drift apart from the waist, mm")
    DRIFT.frame(canvas)
    for name, colour in (("alone", ORANGE), ("cut", GREEN)):
        drift = np.interp(arc, other.arc, getattr(other, name))
        drift = drift - np.interp(arc, one.arc, getattr(one, name))
        canvas.line(DRIFT.points(arc, drift), colour, 2.0)
    for at, words in ((-130.0, "hip"), (0.0, "waist"), (150.0, "bust")):
        x = DRIFT.points(np.array([at]), np.zeros(1))[0, 0]
        canvas.text(x, 346, words, size=11, anchor="middle", colour=GREY)
    canvas.line([(12, 366), (36, 366)], ORANGE, 2.0)
    canvas.text(42, 370, "each edge by the formulas alone")
    canvas.line([(12, 385), (36, 385)], GREEN, 2.0)
    canvas.text(42, 389, "as cut: both take the mean of their stretch")
    return canvas.svg()


def _edge(name: str, edge: EdgeName) -> Edge:
    turn = sample.shifted().turn
    panel = turn.pattern.index(name)
    arc, points = sample.edge_points(panel, edge)
    cut = sample.displacement(panel, points, sample.OUTER)
    alone = cut.copy()
    alone[:, 1] = np.interp(
        points[:, 1], turn.profile.heights, sample.lengthening_alone(panel, edge, sample.OUTER)
    )
    return Edge(arc, _gain(arc, points, alone), _gain(arc, points, cut))


def _gain(arc: FloatArray, points: FloatArray, moves: FloatArray) -> FloatArray:
    """How much longer the edge is from the waist to each point."""
    before = np.hypot(*np.diff(points, axis=0).T)
    after = np.hypot(*np.diff(points + moves, axis=0).T)
    total = np.concatenate([[0.0], np.cumsum(after - before)])
    return total - np.interp(0.0, arc, total)
