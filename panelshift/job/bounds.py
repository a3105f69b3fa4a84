"""What numbers of a job usually are, and what they can be at all.

Outside the usual range the maker is asked to look, outside the possible one the job is refused.
docs/reliability.md lists them; the command line and the page say the same.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from ..body.mean_form import BUST_MM
from ..draft.halves import LEAST_GIRTH_MM, MOST_GIRTH_MM, POSSIBLE_GIRTHS_MM
from ..stack.fabric import MOST_DRAWN_LARGER


@dataclass(frozen=True)
class Bound:
    """What a number usually is, and what it can be at all.

    *code*: Of what is said of it. *about*: What is compared, in words. *unit*: Unit of the limits;
    empty for a ratio. *usual*, *possible*: Outside the first it is warned of, outside the second
    refused.
    """

    code: str
    about: str
    unit: str
    usual: tuple[float, float]
    possible: tuple[float, float]

    def judge(self, value: float) -> str:
        """Return "warning", "refused" or nothing."""
        if not self.possible[0] <= value <= self.possible[1]:
            return "refused"
        return "" if self.usual[0] <= value <= self.usual[1] else "warning"

    def row(self) -> str:
        """Its row in the table of docs/reliability.md."""
        ranges = (_range(*limits, self.unit) for limits in (self.usual, self.possible))
        return f"| `{self.code}` | {self.about} | {' | '.join(ranges)} |"


def _range(low: float, high: float, unit: str) -> str:
    after = f" {unit}" if unit else ""
    if math.isinf(high):
        return f"from {low:g}{after}"
    return f"{low:g} to {high:g}{after}"


WAIST: Final = Bound(
    "slip-waist",
    "whole waist of the pattern",
    "mm",
    (LEAST_GIRTH_MM, MOST_GIRTH_MM),
    POSSIBLE_GIRTHS_MM,
)
GAP: Final = Bound("slip-gap", "lacing gap over the whole waist", "", (0.0, 0.25), (0.0, 1.0))
NARROW: Final = Bound(
    "slip-narrow", "lacing gap, where there is one", "mm", (6.0, math.inf), (0.0, math.inf)
)
ALLOWANCE: Final = Bound(
    "slip-allowance",
    "seam allowance, where there is one",
    "mm",
    (3.0, 60.0),
    (0.0, 300.0),
)
WIDTH: Final = Bound(
    "slip-width",
    "width of a strip, facing, binding or tape, or the distance of eyelets, where there is one",
    "mm",
    (3.0, 400.0),
    (0.0, 2000.0),
)
GIRTH: Final = Bound(
    "slip-girth",
    "a girth of the body over the pattern's, gap counted, at that level",
    "",
    (0.8, 1.25),
    (0.55, 1.8),
)
RATIO: Final = Bound("slip-ratio", "a body's breadth over its depth", "", (0.95, 2.0), (0.2, 5.0))
DRAWN_BUST: Final = Bound(
    "slip-bust",
    "height of the level named bust above the waist, where the body goes by it",
    "mm",
    BUST_MM,
    BUST_MM,
)
FORMER: Final = Bound("slip-former", "diameter of a former", "mm", (30.0, 400.0), (15.0, math.inf))
MEASURED: Final = Bound(
    "slip-measured",
    "a measured distance over the one by thickness",
    "",
    (0.5, 2.0),
    (0.1, 3.0),
)
BUSK: Final = Bound(
    "slip-busk", "what the closed busk holds apart", "mm", (0.0, 30.0), (0.0, 150.0)
)
THICKNESS: Final = Bound("slip-thickness", "thickness of a fabric", "mm", (0.05, 3.0), (0.0, 30.0))
GROWTH: Final = Bound(
    "slip-growth",
    "growth of the outermost or innermost layer, 2 pi d, over the girth at the waist",
    "",
    (0.0, 0.05),
    (0.0, 0.5),
)
TAKE_UP: Final = Bound(
    "slip-take-up",
    "what sewing takes up of a fabric, as a part of it",
    "",
    (0.0, 0.05),
    (0.0, MOST_DRAWN_LARGER),
)
JOIN: Final = Bound("slip-join-tolerance", "`join_tolerance`", "mm", (0.0, 3.0), (0.0, 20.0))
SCALE: Final = Bound("slip-scale", "`scale`", "", (0.03, 40.0), (0.005, 200.0))
DOTS: Final = Bound(
    "slip-dots",
    "px to the inch that the file's program or page size means, with `drafted_waist` not stated",
    "",
    (96.0, 96.0),
    (72.0, 96.0),
)

BOUNDS: Final = (
    WAIST,
    GAP,
    NARROW,
    ALLOWANCE,
    WIDTH,
    GIRTH,
    RATIO,
    DRAWN_BUST,
    FORMER,
    MEASURED,
    BUSK,
    THICKNESS,
    GROWTH,
    TAKE_UP,
    JOIN,
    SCALE,
    DOTS,
)
"""All of them. Common practice, no source; those of the waist stand in `draft.halves`."""
