"""Find the four edges of a panel from its waist and its corners."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np

from ..errors import PatternError
from ..outline import Curve, FloatArray
from ..outline.corners import CORNER_ANGLE, breaks
from ..outline.crossing import nearest_position
from ..outline.measure import arc_table
from ..pattern.panel import Corners, Frame

LEANS_TOO_FAR: Final = np.radians(60.0)
"""A side edge that leans further than this from the panel's vertical has become a top or a
bottom edge, rounded off rather than cut at a corner."""

_HALF_ROUND: Final = np.radians(45.0)
_WAIST_MM: Final = 1.0
"""Corners nearer to the waist than this are where lines of the side edge meet."""


def find_corners(
    outline: Curve,
    frame: Frame,
    front: float,
    back: float,
    given: Mapping[str, tuple[float, float]],
    *,
    source: str,
    element: str,
) -> Corners:
    """Walk from the waist up and down both sides to the next corners.

    Parameters
    ----------
    outline : Curve
        Closed.
    frame : Frame
    front, back : float
        Positions on the outline where the waist crosses the front and back edges.
    given : mapping
        Corners that the maker has named, as sheet points in mm, by name: front_top,
        back_top, back_bottom or front_bottom.
    source, element : str
        For messages.

    Raises
    ------
    PatternError
        If a corner is missing: the outline comes to a point, or a side edge has no end.
    """
    count = len(outline)
    rising = float(outline.derivatives([front])[0] @ frame.up) > 0.0
    positions, lengths = arc_table(outline, 1.0)
    walk = _Walk(outline, frame, positions, lengths, np.abs(breaks(outline)))
    found = {}
    for side, vertical, start, stop in (
        ("front_top", 1.0, front, back),
        ("back_top", 1.0, back, front),
        ("front_bottom", -1.0, front, back),
        ("back_bottom", -1.0, back, front),
    ):
        if side in given:
            found[side] = nearest_position(outline, np.asarray(given[side]))[0]
            continue
        forward = rising == (side in ("front_top", "back_bottom"))
        corner = walk.to_corner(start, stop, forward, vertical)
        if corner is None:
            raise PatternError(
                "a side edge of this panel has no end: no corner between the waist and the waist",
                remedy="Check that the outline has a top and a bottom edge.",
                source=source,
                element=element,
            )
        found[side] = corner
    spans = (
        _ahead(found["front_top"], found["back_top"], rising, count),
        _ahead(found["back_bottom"], found["front_bottom"], rising, count),
        _ahead(found["front_bottom"], found["front_top"], rising, count),
        _ahead(found["back_top"], found["back_bottom"], rising, count),
    )
    if min(spans) < 1e-6 or abs(sum(spans) - count) > 1e-6:
        raise PatternError(
            "the panel's four corners cannot be told apart: its top or bottom comes to a point",
            remedy="Cut the point off square (a few mm are enough) or name the corners in "
            "the job file.",
            source=source,
            element=element,
        )
    return Corners(
        found["front_bottom"], found["front_top"], found["back_top"], found["back_bottom"], rising
    )


def _ahead(start: float, end: float, rising: bool, count: int) -> float:
    """Distance in positions from start to end in the sense front up, over, back down."""
    return ((end - start) if rising else (start - end)) % count


@dataclass(frozen=True, eq=False)
class _Walk:
    """An outline sampled once, to be walked along from the waist in four directions."""

    outline: Curve
    frame: Frame
    positions: FloatArray
    lengths: FloatArray
    breaks: FloatArray

    def to_corner(self, start: float, stop: float, forward: bool, vertical: float) -> float | None:
        """Position of the first corner on the way from `start` to `stop`, None if there is none."""
        count = len(self.outline)
        sense = 1.0 if forward else -1.0
        begun = np.interp(start, self.positions, self.lengths)
        walked = sense * (self.lengths[:-1] - begun) % self.lengths[-1]
        ahead = (sense * (self.positions[:-1] - start)) % count
        order = np.argsort(walked)
        order = order[ahead[order] < (sense * (stop - start)) % count]
        path = self.positions[order]
        directions = sense * self.outline.derivatives((path + sense * 1e-9) % count)
        lean = _lean(directions, self.frame, vertical)
        at_joint = np.abs(path - np.round(path)) < 1e-9
        broken = np.where(at_joint, self.breaks[np.round(path).astype(np.int64) % count], 0.0)
        for k in np.flatnonzero((broken >= CORNER_ANGLE) | (lean >= LEANS_TOO_FAR)):
            if walked[order[k]] < _WAIST_MM:
                continue
            if broken[k] >= CORNER_ANGLE:
                return float(path[k])
            gentle = np.flatnonzero(lean[:k] < _HALF_ROUND)
            sharp = broken[k] >= LEANS_TOO_FAR - _HALF_ROUND
            return float(path[k] if sharp or len(gentle) == 0 else path[gentle[-1] + 1])
        return None


def _lean(directions: FloatArray, frame: Frame, vertical: float) -> FloatArray:
    """Angle of directions from the panel's vertical on the way up (or down), 0 to pi."""
    along = vertical * (directions @ frame.up)
    across = directions @ frame.across
    result: FloatArray = np.abs(np.arctan2(across, along))
    return result
