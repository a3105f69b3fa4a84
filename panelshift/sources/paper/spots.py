"""What a maker is told of a tracing, each with its place."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from ...outline import FloatArray

SpotKind = Literal["gap", "line", "panel"]


@dataclass(frozen=True)
class Spot:
    """A place that the maker should look at.

    *kind*: a hole in an outline, a line, or a panel as a whole. *place*: in mm from the left and
    from the top of the picture. *remedy*: of a fault; what has none is only told.
    """

    kind: SpotKind
    place: tuple[float, float]
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


def where(place: tuple[float, float]) -> str:
    """A place in words."""
    return f"{place[0]:.0f} mm from the left and {place[1]:.0f} mm from the top of the picture"
