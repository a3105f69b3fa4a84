"""The four corners of each panel: where the side edges that leave the waist come to an end."""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache
from typing import Any, Final

import numpy as np

from ..errors import PatternError
from ..outline import Curve, FloatArray
from ..outline.bezier import IntArray, bezier_derivatives
from ..outline.crossing import nearest_position
from ..outline.many import gathered, share_tangents
from ..outline.measure import CORNER_ANGLE, arc_table, breaks, length
from ..pattern.drawing import Ledger
from ..pattern.panel import Corners, EdgeName, Panel
from ..pattern.pattern import Pattern
from ..pattern.profile import SIDES
from .draft import Draft
from .order import NamedPanel

LEANS_TOO_FAR: Final = np.radians(60.0)
"""A side edge that leans further than this from the panel's vertical has become a top or a
bottom edge, rounded off rather than cut at a corner."""

_HALF_ROUND: Final = np.radians(45.0)
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
    found = {}
    for side, up, start, stop in (
        ("front_top", True, front, back),
        ("back_top", True, back, front),
        ("front_bottom", False, front, back),
        ("back_bottom", False, back, front),
    ):
        if side in given:
            found[side] = nearest_position(outline, np.asarray(given[side]))[0]
            continue
        forward = rising == (side in ("front_top", "back_bottom"))
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
    return Corners(
        found["front_bottom"], found["front_top"], found["back_top"], found["back_bottom"], rising
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


_BEND: Final = np.radians(8.0)
_INWARDS: Final = np.radians(12.0)
"""A bend by so much towards the panel, from which on its edge leans so far inwards, may be a
corner."""

_PLAIN_BEND: Final = np.radians(20.0)
"""By so much a centre edge hardly bends on its way; common practice, no source."""

_STANDS_OUT: Final = 1.3
_FAR_MM: Final = 15.0
"""A bend is so many times as sharp as all that follow, and so far from the waist; where nothing
else tells whether it is a corner, so far from the end as well."""

_WALKS_MM: Final = 1.0

_HAIR_MM: Final = 3.0
"""So near to a bend an edge that rounds off ends at the bend."""


@dataclass(frozen=True, eq=False)
class _Leg:
    """A side edge from the waist outwards, and where it may end earlier than it was taken to.

    `joint` is that of a bend, 0 if there is none, and `turned` the bend's angle; `rounded` is
    whether the end that was taken is no corner by its own break.
    """

    run: Curve
    joint: int
    turned: float
    rounded: bool

    def lengths(self) -> tuple[float, ...]:
        """To the end, and to the bend if there is one, in mm."""
        ends = (float(len(self.run)), float(self.joint))
        return tuple(length(self.run.piece(0.0, end)) for end in ends if end)


def bent_corners(
    draft: Draft,
    panels: Sequence[Panel],
    corners: Sequence[Corners],
    full: bool,
    ledger: Ledger,
) -> list[Corners]:
    """The corners, some put back to a bend of less than `CORNER_ANGLE` where evidence says so.

    A bottom that falls away steeply looks like a piece of the side edge. It is none if the mate is
    as long as up to the bend, or if the edge rounds off beyond; at a centre it is asked otherwise.
    """
    found = list(corners)
    sharp = [np.abs(breaks(panel.outline)) for panel in panels]
    mild = [bool(((s >= _BEND) & (s < CORNER_ANGLE)).any()) for s in sharp]
    mates: dict[tuple[int, EdgeName], tuple[int, EdgeName]] = {}
    for seam in Pattern(tuple(panels), full).seams if any(mild) else ():
        one, two = (seam.first, seam.first_edge), (seam.second, seam.second_edge)
        mates |= {one: two, two: one}

    @cache
    def leg(k: int, side: EdgeName, up: bool) -> _Leg:
        return _leg(panels[k], side, up)

    for (k, panel), side, up in itertools.product(enumerate(panels), SIDES, (False, True)):
        corner = f"{side}_{'top' if up else 'bottom'}"
        if not mild[k] or corner in draft.reading.corners.get(panel.name, {}):
            continue
        own, mate = leg(k, side, up), mates.get((k, side))
        if not own.joint or not _is_end(own, None if mate is None else leg(*mate, up)):
            if own.joint and mate is None:
                _ask_bend(ledger, panel, corner, own)
            continue
        point = own.run.control[own.joint, 0]
        at: dict[str, Any] = {corner: nearest_position(panel.outline, point)[0]}
        found[k] = replace(found[k], **at)
        ledger.note(
            "bent-corner",
            f"{panel.name}: its {side} edge ends at a bend of {np.degrees(own.turned):.0f} degrees "
            f"at ({point[0]:.1f}, {point[1]:.1f}) mm, "
            + ("beyond which it rounds off" if own.rounded else "where it is as long as its mate"),
            panel.ident,
        )
    return found


def _leg(panel: Panel, side: EdgeName, up: bool) -> _Leg:
    """One of four: from the waist to a corner."""
    edge = panel.edge(side)
    waist = np.asarray(panel.waist_end(side))
    at = nearest_position(edge, waist)[0]
    run = edge.piece(at, float(len(edge))) if up else edge.piece(0.0, at).reversed()
    end: float = getattr(panel.corners, f"{side}_{'top' if up else 'bottom'}")
    joint = round(end) % len(panel.outline)
    broken = abs(end - round(end)) < 1e-6 and abs(breaks(panel.outline)[joint]) >= CORNER_ANGLE
    # Seen with the panel to the right of an edge that is walked upwards.
    flip = np.diag([1.0 if side == "front" else -1.0, 1.0 if up else -1.0])
    seen = run.transformed(flip @ panel.frame.matrix)
    turned = -breaks(seen)
    tangents = seen.end_tangents()
    lean = np.arctan2(tangents[..., 0], tangents[..., 1]).min(axis=1)
    inwards = np.minimum.accumulate(lean[::-1])[::-1] >= _INWARDS
    far = np.hypot(*(run.control[:, 0] - waist).T) >= _FAR_MM
    bends = np.where(inwards & far, turned, 0.0)
    sharpest = int(np.argmax(bends))
    rest = np.abs(turned[sharpest + 1 :]).max(initial=0.0)
    if bends[sharpest] < max(_BEND, _STANDS_OUT * rest):
        sharpest = 0
    return _Leg(run, sharpest, float(turned[sharpest]), not broken)


def _is_end(own: _Leg, mate: _Leg | None) -> bool:
    """Whether an edge ends at its bend."""
    whole, bent = own.lengths()
    if mate is None or (own.rounded and whole - bent <= _HAIR_MM):
        return own.rounded
    others = mate.lengths()
    if abs(whole - others[0]) <= _WALKS_MM and not (own.rounded and mate.joint):
        return False
    return min(abs(bent - end) for end in others) <= _WALKS_MM


def _ask_bend(ledger: Ledger, panel: Panel, corner: str, leg: _Leg) -> None:
    """Refuse a bend of a centre edge that may be its corner or not."""
    bend, end = leg.run.control[leg.joint, 0], leg.run.end
    beyond = float(np.hypot(*(end - bend)))
    if leg.turned < _PLAIN_BEND or beyond < _FAR_MM:
        return
    ledger.fault(
        "bent-corner",
        f"{panel.name}: an edge at the centre bends by {np.degrees(leg.turned):.0f} degrees "
        f"towards the panel at ({bend[0]:.1f}, {bend[1]:.1f}) mm and goes on for "
        f"{beyond:.0f} mm more: it may be the end of the edge",
        panel.ident,
        remedy=f'Name the end in the job file, [panel."{panel.name}"] corners = {{ {corner} = '
        f"[{bend[0]:.1f}, {bend[1]:.1f}] }} if it is there, [{end[0]:.1f}, {end[1]:.1f}] if the "
        "edge goes on",
    )
