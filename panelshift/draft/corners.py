"""The four corners of each panel: where the side edges that leave the waist come to an end."""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np

from ..errors import PatternError
from ..outline import Curve, FloatArray
from ..outline.bezier import IntArray, bezier_derivatives
from ..outline.crossing import nearest_position
from ..outline.many import gathered, share_tangents
from ..outline.measure import CORNER_ANGLE, arc_table, breaks
from ..pattern.panel import Corners
from .order import NamedPanel

LEANS_TOO_FAR: Final = np.radians(60.0)
"""A side edge that leans further than this from the panel's vertical has become a top or a
bottom edge, rounded off rather than cut at a corner."""

_HALF_ROUND: Final = np.radians(45.0)
_LIES_FLAT: Final = np.radians(80.0)
"""A side edge that a corner named by the maker ends so far from upright runs on along the top or
the bottom."""

_WAIST_MM: Final = 1.0
"""Corners nearer to the waist than this are where lines of the side edge meet."""

_BESIDE: Final = 1e-9
"""How far beside a joint a direction is taken, in positions: that of the segment walked into."""


def find_corners(
    panels: tuple[NamedPanel, ...],
    given: Mapping[str, Mapping[str, tuple[float, float]]],
    *,
    pointed: bool = False,
) -> list[Corners]:
    """Walk from the waist up and down both sides of each panel to the next corners.

    *given*: of each panel's name, corners that the maker has named: sheet points in mm by the name
    of the corner. *pointed*: whether two of the corners may be one, as at the tip of a gore.

    Raises `PatternError` if a corner is missing: the outline comes to a point, or a side edge has
    no end.
    """
    return [
        _corners(panel, rim, given.get(panel.name, {}), pointed)
        for panel, rim in zip(panels, _rims(panels), strict=True)
    ]


def _corners(
    panel: NamedPanel, rim: _Rim, given: Mapping[str, tuple[float, float]], pointed: bool
) -> Corners:
    waist = panel.found.waist
    u = panel.frame.to_panel(waist.points)[:, 0]
    positions = waist.positions.tolist()
    front, back = positions if u[0] < u[1] else positions[::-1]
    outline, count = panel.found.outline, len(panel.found.outline)
    rising = float(outline.derivatives([front])[0] @ panel.frame.up) > 0.0
    found: dict[str, float] = {}
    walked: list[tuple[str, bool, float, bool]] = []
    for side, up, start, stop in (
        ("front_top", True, front, back),
        ("back_top", True, back, front),
        ("front_bottom", False, front, back),
        ("back_bottom", False, back, front),
    ):
        forward = rising == (side in ("front_top", "back_bottom"))
        if side in given:
            found[side] = nearest_position(outline, np.asarray(given[side]))[0]
            walked.append((side, up, start, forward))
            continue
        corner = rim.to_corner(start, stop, forward, up)
        if corner is None:
            raise PatternError(
                "a side edge of this panel has no end: no corner between the waist and the waist",
                remedy="Check that the outline has a top and a bottom edge.",
                element=panel.found.ident,
            )
        found[side] = corner
    spans = (
        _ahead(found["front_top"], found["back_top"], rising, count),
        _ahead(found["back_bottom"], found["front_bottom"], rising, count),
        _ahead(found["front_bottom"], found["front_top"], rising, count),
        _ahead(found["back_top"], found["back_bottom"], rising, count),
    )
    least = spans[2:] if pointed else spans
    if min(least) < 1e-6 or abs(sum(spans) - count) > 1e-6:
        raise _no_corners(panel, given)
    for side, up, start, forward in walked:
        before = rim.begins_to_lie(start, found[side], forward, up)
        if before is not None:
            raise _lies_flat(panel, side, given[side], outline.points([before])[0])
    return Corners(
        found["front_bottom"], found["front_top"], found["back_top"], found["back_bottom"], rising
    )


def _lies_flat(
    panel: NamedPanel, corner: str, named: tuple[float, float], before: FloatArray
) -> PatternError:
    x, y = before.tolist()
    side, end = corner.split("_")
    return PatternError(
        f"panel {panel.name!r}: the corner that is named {corner}, [{named[0]:g}, {named[1]:g}], "
        f"does not end the {side} edge: from [{x:.1f}, {y:.1f}] on the outline lies flat, and is "
        f"the {end} edge",
        remedy=f'Name it there, under [panel."{panel.name}".corners]: '
        f"{corner} = [{x:.1f}, {y:.1f}]; or leave it out if the outline has a corner there.",
        element=panel.found.ident,
        at=(x, y),
    )


def _no_corners(panel: NamedPanel, given: Mapping[str, tuple[float, float]]) -> PatternError:
    if given:
        named = ", ".join(f"{name} = [{x:g}, {y:g}]" for name, (x, y) in given.items())
        return PatternError(
            f"panel {panel.name!r}: the corners that the job file names do not make a panel: "
            f"going round it, they must come as front_bottom, front_top, back_top, back_bottom, at "
            f"four places ({named})",
            remedy=f'See [panel."{panel.name}".corners]: a corner is [mm from the left, mm from '
            "the top of the sheet], and front is the edge nearer to the centre front. Leave out "
            "those that are found without.",
            element=panel.found.ident,
            at=next(iter(given.values())),
        )
    x, y = panel.found.waist.points.mean(axis=0).tolist()
    return PatternError(
        f"panel {panel.name!r}: its four corners cannot be told apart: its top or bottom comes to "
        "a point",
        remedy="Cut the point off square in the drawing (a few mm are enough); or name its corners "
        f'in the job file, under [panel."{panel.name}".corners]: front_top = [x, y] in mm from '
        "the left and the top of the sheet.",
        element=panel.found.ident,
        at=(x, y),
    )


def _ahead(start: float, end: float, rising: bool, count: int) -> float:
    """Distance in positions from start to end in the sense front up, over, back down."""
    return ((end - start) if rising else (start - end)) % count


@dataclass(frozen=True, eq=False)
class _Rim:
    """An outline sampled once, to be walked along from the waist in four directions.

    `lean` holds the angle of the direction from the panel's vertical, 0 to pi, on the way with
    the outline's sense and against it, shape (2, m); `ends` the samples at which an edge that is
    walked so, upwards or downwards, may end.
    """

    count: int
    positions: FloatArray
    lengths: FloatArray
    breaks: FloatArray
    lean: FloatArray
    ends: tuple[tuple[IntArray, IntArray], tuple[IntArray, IntArray]]

    def to_corner(self, start: float, stop: float, forward: bool, up: bool) -> float | None:
        """Position of the first corner on the way from `start` to `stop`, None if there is none."""
        sense = 1.0 if forward else -1.0
        ends = self.ends[0 if forward else 1][0 if up else 1]
        first = int(np.searchsorted(self.positions[:-1], start, "left" if forward else "right"))
        turn = int(np.searchsorted(ends, first))
        begun = float(np.interp(start, self.positions, self.lengths))
        limit = (sense * (stop - start)) % self.count
        for k in np.concatenate([ends[turn:], ends[:turn]])[:: 1 if forward else -1].tolist():
            if (sense * (self.positions[k] - start)) % self.count >= limit:
                return None
            if sense * (self.lengths[k] - begun) % self.lengths[-1] < _WAIST_MM:
                continue
            if self.breaks[k] >= CORNER_ANGLE:
                return float(self.positions[k])
            return self._round_corner(first, k, forward, up)
        return None

    def begins_to_lie(self, start: float, end: float, forward: bool, up: bool) -> float | None:
        """Position from which the edge that is walked from `start` lies flat to its `end`.

        None if it comes to its end as a side edge does.
        """
        lean = self.lean[0 if forward else 1]
        flat = (lean if up else np.pi - lean) >= _LIES_FLAT
        sense = 1.0 if forward else -1.0
        away = (sense * (self.positions[:-1] - start)) % self.count
        # A direction is that of the way from a sample onwards.
        walked = np.flatnonzero(away < (sense * (end - start)) % self.count - _BESIDE)
        walked = walked[np.argsort(away[walked])]
        upright = np.flatnonzero(~flat[walked])
        if len(walked) == 0 or not flat[walked[-1]]:
            return None
        first = walked[upright[-1] + 1] if len(upright) else walked[0]
        return float(self.positions[first])

    def _round_corner(self, first: int, k: int, forward: bool, up: bool) -> float:
        """Where an edge ends that leans too far at sample k: where it leaves the upright."""
        size = len(self.breaks)
        if forward:
            walked = (first + np.arange((k - first) % size + 1)) % size
        else:
            walked = (first - 1 - np.arange((first - 1 - k) % size + 1)) % size
        lean = self.lean[0 if forward else 1, walked[:-1]]
        gentle = np.flatnonzero((lean if up else np.pi - lean) < _HALF_ROUND)
        sharp = self.breaks[k] >= LEANS_TOO_FAR - _HALF_ROUND
        at = k if sharp or len(gentle) == 0 else int(walked[gentle[-1] + 1])
        return float(self.positions[at])


def _rims(panels: tuple[NamedPanel, ...]) -> Iterator[_Rim]:
    """Sample all outlines about every millimetre, in one pass."""
    outlines = [panel.found.outline for panel in panels]
    share_tangents(outlines)
    control, owner = gathered(outlines)
    whole = Curve.trusted(control, np.concatenate([o.degree for o in outlines]))
    positions, lengths = arc_table(whole, 1.0)
    segment = positions[:-1].astype(np.int64)
    of = owner[segment]
    counts = np.array([len(outline) for outline in outlines])
    local = positions[:-1] - (np.cumsum(counts) - counts)[of]
    sharp = np.where(
        local == np.floor(local),
        np.concatenate([np.abs(breaks(o)) for o in outlines])[segment],
        0.0,
    )
    lean = np.stack([_lean(panels, control, of, counts, local, sense) for sense in (1.0, -1.0)])
    corner = sharp >= CORNER_ANGLE
    upwards, downwards = corner | (lean >= LEANS_TOO_FAR), corner | (np.pi - lean >= LEANS_TOO_FAR)
    bounds = np.searchsorted(of, np.arange(len(panels) + 1)).tolist()
    for k, (first, last) in enumerate(itertools.pairwise(bounds)):
        one = slice(first, last)
        with_sense, against = (
            (np.flatnonzero(upwards[way, one]), np.flatnonzero(downwards[way, one]))
            for way in (0, 1)
        )
        yield _Rim(
            int(counts[k]),
            np.append(local[one], counts[k]),
            lengths[first : last + 1] - lengths[first],
            sharp[one],
            lean[:, one],
            (with_sense, against),
        )


def _lean(
    panels: tuple[NamedPanel, ...],
    control: FloatArray,
    of: IntArray,
    counts: IntArray,
    local: FloatArray,
    sense: float,
) -> FloatArray:
    """Angle from the vertical of each panel on the way up, a hair beside each position."""
    beside = (local + sense * _BESIDE) % counts[of]
    inner = np.floor(beside)
    segment = (np.cumsum(counts) - counts)[of] + inner.astype(np.int64)
    directions = sense * bezier_derivatives(control[segment], beside - inner)
    up = np.array([panel.frame.up for panel in panels])[of]
    across = np.array([panel.frame.across for panel in panels])[of]
    along, aside = (directions * up).sum(axis=1), (directions * across).sum(axis=1)
    result: FloatArray = np.abs(np.arctan2(aside, along))
    return result
