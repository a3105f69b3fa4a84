"""Corners at gentle bends: told by the mate's length or a straight centre edge, or asked about."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cache, cached_property
from typing import Any, Final

import numpy as np

from ..outline import Curve, FloatArray
from ..outline.crossing import nearest_position
from ..outline.measure import CORNER_ANGLE, breaks, length
from ..pattern.drawing import Ledger
from ..pattern.panel import Corners, EdgeName, Panel
from ..pattern.pattern import Pattern
from ..pattern.profile import SIDES
from .draft import Draft

_BEND: Final = np.radians(8.0)
_SLIGHT_BEND: Final = np.radians(3.0)
_INWARDS: Final = np.radians(3.0)
"""A bend by so much towards the panel, from which on its edge leans so far inwards, may be a
corner: by the smaller angle where the mate's length or a straight centre edge says so."""

_PLAIN_BEND: Final = np.radians(20.0)
"""By so much a centre edge hardly bends on its way; common practice, no source."""

_STANDS_OUT: Final = 1.3
_FAR_MM: Final = 15.0
"""A bend is so many times as sharp as all that follow, and so far from the waist; where nothing
else tells whether it is a corner, so far from the end as well."""

_WALKS_MM: Final = 1.0
_SLIGHT_WALKS_MM: Final = 0.5

_HAIR_MM: Final = 3.0
"""So near to a bend an edge that rounds off ends at the bend."""

_ROUNDS_OFF_MM: Final = 60.0
"""A corner of a straight edge is rounded off over so much at most."""

_CURVES_AWAY: Final = np.radians(20.0)
"""A segment that turns so far before an edge counts as a top or a bottom rounds it off."""

_ASIDE_MM: Final = 0.1
_CREASE: Final = np.radians(1.0)
"""So little beside its line, and so little bent at the waist, an edge is straight."""


_BEGINS_TO_ROUND: Final = "up to which it is straight, and beyond which it rounds off"
_ROUNDS_OFF: Final = "beyond which it rounds off"
_AS_ITS_MATE: Final = "where it is as long as its mate"


@dataclass(frozen=True, eq=False)
class _Leg:
    """A side edge from the waist outwards, and where it may end earlier than it was taken to.

    `joint` is that of a bend, 0 if there is none; `slight` are those of bends that only other
    evidence makes corners. `turned` holds the angle at each joint; `rounded` is whether the end
    that was taken is no corner by its own break. `lean` is how far each segment leans inwards at
    least.
    """

    run: Curve
    joint: int
    slight: tuple[int, ...]
    turned: FloatArray
    rounded: bool
    lean: FloatArray

    @cached_property
    def rounding(self) -> int:
        """The last of the slight bends if the edge curves away right there, else 0."""
        joint = self.slight[-1] if self.rounded and self.slight else 0
        along, away = self.run.end_tangents()[joint]
        curves = float(along @ away) <= np.cos(_CURVES_AWAY)
        return joint if curves else 0

    def to(self, joint: int) -> float:
        """Length from the waist to a joint in mm."""
        return length(self.run.piece(0.0, float(joint)))

    def bend(self, joint: int, why: str) -> str:
        """What is said of an edge that ends at a bend."""
        return f"at a bend of {np.degrees(self.turned[joint]):.0f} degrees, {why}"

    def lengths(self) -> tuple[float, ...]:
        """To the end, and to the bend if there is one, in mm."""
        return tuple(self.to(end) for end in (len(self.run), self.joint) if end)


def bent_corners(
    draft: Draft,
    panels: Sequence[Panel],
    corners: Sequence[Corners],
    full: bool,
    ledger: Ledger,
) -> list[Corners]:
    """The corners, some put back to a bend of less than `CORNER_ANGLE` where evidence says so.

    A bottom that falls away steeply looks like a piece of the side edge. It is none if the mate is
    as long as up to the bend, or if the edge rounds off beyond; at a centre it is asked otherwise,
    or told if the bend is slight. A straight centre edge, as of a busk, ends where its corner
    begins to be rounded.
    """
    found = list(corners)
    mild = [_bends_mildly(panel) for panel in panels]
    mates: dict[tuple[int, EdgeName], tuple[int, EdgeName]] = {}
    for seam in Pattern(tuple(panels), full).seams:
        one, two = (seam.first, seam.first_edge), (seam.second, seam.second_edge)
        mates |= {one: two, two: one}

    @cache
    def leg(k: int, side: EdgeName, up: bool) -> _Leg:
        return _leg(panels[k], side, up)

    for (k, panel), side, up in itertools.product(enumerate(panels), SIDES, (False, True)):
        corner, mate = f"{side}_{'top' if up else 'bottom'}", mates.get((k, side))
        if corner in draft.reading.corners.get(panel.name, {}):
            continue
        if not mild[k] and (mate or _is_broken(panel, getattr(corners[k], corner))):
            continue
        own = leg(k, side, up)
        if mate is None:
            other = leg(k, side, not up)
            joint, why = _centre_end(own, other)
            if not joint:
                _tell_bend(ledger, panel, corner, own, other)
        else:
            joint, why = _seam_end(own, leg(*mate, up))
        if not joint:
            continue
        point = own.run.control[joint, 0]
        at: dict[str, Any] = {corner: nearest_position(panel.outline, point)[0]}
        found[k] = replace(found[k], **at)
        beyond = own.to(len(own.run)) - own.to(joint)
        # Told loudly where nothing but a straight edge says so, and much depends on it.
        alone = mate is None and (why == _BEGINS_TO_ROUND or joint != own.joint)
        say = ledger.warn if alone and beyond >= _FAR_MM else ledger.note
        say(
            "bent-corner",
            f"{panel.name}: its {side} edge ends at ({point[0]:.1f}, {point[1]:.1f}) mm, {why}",
            panel.ident,
        )
    return found


def _bends_mildly(panel: Panel) -> bool:
    """Whether an outline has bends that may be corners, though they are too gentle for one."""
    sharp = np.abs(breaks(panel.outline))
    return bool(((sharp >= _SLIGHT_BEND) & (sharp < CORNER_ANGLE)).any())


def _is_broken(panel: Panel, end: float) -> bool:
    """Whether a place on a panel's outline is a corner by its own break."""
    joint = round(end)
    sharp = abs(breaks(panel.outline)[joint % len(panel.outline)]) >= CORNER_ANGLE
    return bool(sharp) and abs(end - joint) < 1e-6


def _leg(panel: Panel, side: EdgeName, up: bool) -> _Leg:
    """One of four: from the waist to a corner."""
    edge = panel.edge(side)
    waist = np.asarray(panel.waist_end(side))
    at = nearest_position(edge, waist)[0]
    run = edge.piece(at, float(len(edge))) if up else edge.piece(0.0, at).reversed()
    broken = _is_broken(panel, getattr(panel.corners, f"{side}_{'top' if up else 'bottom'}"))
    # Seen with the panel to the right of an edge that is walked upwards.
    flip = np.diag([1.0 if side == "front" else -1.0, 1.0 if up else -1.0])
    seen = run.transformed(flip @ panel.frame.matrix)
    turned = -breaks(seen)
    tangents = seen.end_tangents()
    lean = np.arctan2(tangents[..., 0], tangents[..., 1]).min(axis=1)
    inwards = np.minimum.accumulate(lean[::-1])[::-1] >= _INWARDS
    far = np.hypot(*(run.control[:, 0] - waist).T) >= _FAR_MM
    bends = np.where(inwards & far, turned, 0.0)
    slight = np.flatnonzero(bends >= _SLIGHT_BEND)
    sharpest = int(np.argmax(bends))
    rest = np.abs(turned[sharpest + 1 :]).max(initial=0.0)
    if bends[sharpest] < max(_BEND, _STANDS_OUT * rest):
        sharpest = 0
    return _Leg(run, sharpest, tuple(slight.tolist()), turned, not broken, lean)


def _seam_end(own: _Leg, mate: _Leg) -> tuple[int, str]:
    """At which joint an edge of a seam ends before it was taken to, and why; 0 if at none."""
    if own.joint and _ends_as_mate(own, mate):
        return own.joint, own.bend(own.joint, _AS_ITS_MATE if not own.rounded else _ROUNDS_OFF)
    both = own.rounding and mate.rounding
    # Both round off alike, as beside a scallop, and what is as long is the side before it.
    if both and abs(own.to(own.rounding) - mate.to(mate.rounding)) <= _SLIGHT_WALKS_MM:
        return own.rounding, own.bend(own.rounding, _ROUNDS_OFF)
    others = mate.lengths()
    if min(abs(own.to(len(own.run)) - end) for end in others) <= _WALKS_MM:
        return 0, ""
    fits = [j for j in own.slight if abs(own.to(j) - others[0]) <= _SLIGHT_WALKS_MM]
    joint = max(fits, key=own.turned.__getitem__, default=0)
    return joint, own.bend(joint, _AS_ITS_MATE)


def _ends_as_mate(own: _Leg, mate: _Leg) -> bool:
    """Whether an edge ends at its bend."""
    whole, bent = own.lengths()
    if own.rounded and whole - bent <= _HAIR_MM:
        return True
    others = mate.lengths()
    if abs(whole - others[0]) <= _WALKS_MM and not (own.rounded and mate.joint):
        return False
    return min(abs(bent - end) for end in others) <= _WALKS_MM


def _centre_end(own: _Leg, other: _Leg) -> tuple[int, str]:
    """At which joint a centre edge ends before it was taken to, and why; 0 if at none.

    *other*: the edge from the waist the other way.
    """
    if not own.rounded:
        return 0, ""
    joint = _straight_to(own, other)
    if joint and own.to(len(own.run)) - own.to(joint) <= _ROUNDS_OFF_MM:
        return joint, _BEGINS_TO_ROUND
    joint = own.joint or own.rounding
    return joint, own.bend(joint, _ROUNDS_OFF)


def _straight_to(own: _Leg, other: _Leg) -> int:
    """The joint up to which a centre edge is straight, as of a busk, and bends in beyond, or 0."""
    control, across = own.run.control, _normal(own)
    if abs(across @ other.run.end_tangents()[0, 0]) > _CREASE:
        return 0
    aside = np.abs((control - own.run.start) @ across).max(axis=1)
    joint = int(np.argmax(np.append(aside, np.inf) > _ASIDE_MM))
    if joint == len(own.run) or own.lean[joint:].min() < own.lean[0] - _CREASE:
        return 0
    return joint if joint and own.to(joint) >= _FAR_MM else 0


def _normal(leg: _Leg) -> FloatArray:
    """Unit vector square to an edge where it leaves the waist."""
    x, y = leg.run.end_tangents()[0, 0]
    return np.array([y, -x])


def _tell_bend(ledger: Ledger, panel: Panel, corner: str, own: _Leg, other: _Leg) -> None:
    """Refuse a bend of a centre edge that may be its corner or not; tell of a slighter one."""
    asked = bool(own.joint) and own.turned[own.joint] >= _PLAIN_BEND
    joint = own.joint if asked else _straight_to(own, other)
    if joint and not asked and own.turned[joint] < _SLIGHT_BEND:
        joint = 0
    if not joint and own.joint:
        crease = np.arcsin(abs(_normal(own) @ other.run.end_tangents()[0, 0]))
        others = np.concatenate([np.delete(own.turned, own.joint), other.turned, [crease]])
        most = np.abs(others).max()
        joint = own.joint if own.turned[own.joint] >= _STANDS_OUT * most else 0
    bend, end = own.run.control[joint, 0], own.run.end
    beyond = float(np.hypot(*(end - bend)))
    if not joint or beyond < _FAR_MM:
        return
    here, there = (f"[{x:.1f}, {y:.1f}]" for x, y in (bend, end))
    words = (
        f"{panel.name}: an edge at the centre bends by {np.degrees(own.turned[joint]):.0f} degrees "
        f"towards the panel at ({bend[0]:.1f}, {bend[1]:.1f}) mm and goes on for "
        f"{beyond:.0f} mm more: "
    )
    named = f'[panel."{panel.name}"] corners = {{ {corner} = '
    if asked:
        ledger.fault(
            "bent-corner",
            f"{words}it may be the end of the edge",
            panel.ident,
            remedy=f"Name the end in the job file, {named}{here} }} if it is there, {there} if the "
            "edge goes on",
        )
    else:
        ledger.warn(
            "bent-corner",
            f"{words}it is taken to go on to ({end[0]:.1f}, {end[1]:.1f}) mm. If it ends at the "
            f"bend, say in the job file {named}{here} }}; with {there} this is told no more",
            panel.ident,
        )
