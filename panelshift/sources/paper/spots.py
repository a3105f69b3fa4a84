"""What a maker is told of a tracing, each with its place."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from ...outline import FloatArray

SpotKind = Literal["gap", "line", "panel"]

Place = tuple[float, float]
"""In mm from the left and from the top of the picture."""


@dataclass(frozen=True)
class Pointed:
    """What the maker has pointed at in the picture.

    *struck*: on lines that do not count. *left_out*: in closed lines that are no panels. *waists*:
    for a panel each, a place on the line that is its waistline, or both ends of it. *gores*: in
    pieces that end short of the waist.
    """

    struck: tuple[Place, ...] = ()
    left_out: tuple[Place, ...] = ()
    waists: tuple[tuple[Place, ...], ...] = ()
    gores: tuple[Place, ...] = ()


@dataclass(frozen=True)
class Spot:
    """A place that the maker should look at.

    *kind*: a hole in an outline, a line, or a panel as a whole. *remedy*: of a fault; what has none
    is only told.
    """

    kind: SpotKind
    place: Place
    words: str
    remedy: str = ""


def told(kind: SpotKind, place: Sequence[float] | FloatArray, words: str) -> Spot:
    """What the maker should know."""
    at = float(place[0]), float(place[1])
    return Spot(kind, at, f"{words}, {where(at)}")


def fault(kind: SpotKind, place: Sequence[float] | FloatArray, words: str, remedy: str) -> Spot:
    """What has to be mended."""
    at = float(place[0]), float(place[1])
    return Spot(kind, at, f"{words}, {where(at)}", remedy)


def where(place: Place) -> str:
    """A place in words."""
    x, y = place
    left = f"{x:.0f} mm from the left" if x >= 0.0 else f"{-x:.0f} mm beyond the left"
    top = f"{y:.0f} mm from the top" if y >= 0.0 else f"{-y:.0f} mm beyond the top"
    return f"{left} and {top} of the picture"
