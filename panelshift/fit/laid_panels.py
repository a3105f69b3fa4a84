"""The panels laid on the body's sections: points in space for pictures, with what to colour by."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from ..body import BodyModel
from ..body.spread import mean_upright
from ..body.turn import TurnOfCloth
from ..outline import FloatArray
from ..pattern.panel import EdgeName
from ..shift import LayerPattern, Shifted
from .layer_change import MAGNIFICATIONS
from .sections import Section, sections_around

STRIPS: Final = 6
"""Upright strips into which a panel is divided."""

ROWS: Final = 15
"""Points up each strip's side."""

_SECTIONS: Final = 21
"""Sections of the body between which points are placed: every 20 mm or so."""

_LIFTED_PART: Final = 0.12
"""Layers are lifted by at most this part of the waist's breadth: it is still this body."""

_BESIDE_MM: Final = 1.0
_FINE: Final = 401
"""Points of the top or bottom of a panel that has slits in it."""

BoolArray = npt.NDArray[np.bool_]

_ALL_ROWS: Final = np.ones(ROWS, dtype=np.bool_)

_EACH: Final = 2 * STRIPS + 1
"""Points of a panel on a section, the strips' sides among them where they lie evenly."""


@dataclass(frozen=True, eq=False)
class LaidPanel:
    """One panel on the surface on which the drafted layer's middle lies.

    *index*: in the pattern. *curvature*: its class. *points*, shape (STRIPS + 1, ROWS, 3): from its
    bottom to its top at each strip's side, round the body, in mm to the wearer's left, ahead and
    up. *outward*: the surface's unit normals there. *heights*, shape (STRIPS + 1, ROWS): in mm
    above the waist along the panel. *waist*, shape (STRIPS + 1, 3). *shade*: how much it turns at
    the waist for its width, from 0 to 1. *edges*: at which of the points up its first and its last
    side it ends there: not where a panel with a slit goes on beyond the slit's tip. *named*: its
    name stands on it; of a panel's several parts on one.
    """

    index: int
    name: str
    curvature: str
    points: FloatArray
    outward: FloatArray
    heights: FloatArray
    waist: FloatArray
    shade: float
    edges: tuple[BoolArray, BoolArray] = (_ALL_ROWS, _ALL_ROWS)
    named: bool = True

    def at(self, distance: float) -> FloatArray:
        """Points of a surface at a distance in mm outwards, shape (STRIPS + 1, ROWS, 3)."""
        return np.asarray(self.points + distance * self.outward)


@dataclass(frozen=True, eq=False)
class LaidLayer:
    """One layer on one panel.

    *distance*: in mm from the drafted layer at the waist. *growth*: in mm across the panel, and
    *strain*: its part of the width there, by which the layer would have to stretch if it were cut
    like the drafted one, negative where it would have too much; both (STRIPS + 1, ROWS).
    """

    name: str
    distance: float
    growth: FloatArray
    strain: FloatArray


def suitable_lift(laid: Sequence[LaidPanel], layers: Sequence[Sequence[LaidLayer]]) -> float:
    """How many times as far apart as they are layers are drawn, to be told apart on the body."""
    furthest = max((abs(layer.distance) for own in layers for layer in own), default=0.0)
    breadth = max(float(np.ptp(np.vstack([panel.waist for panel in laid])[:, 0])), 1e-9)
    fitting = (times for times in MAGNIFICATIONS if times * furthest <= _LIFTED_PART * breadth)
    return next(fitting, MAGNIFICATIONS[-1])


def lay_panels(turn: TurnOfCloth, body: BodyModel, *, gap: float) -> tuple[LaidPanel, ...]:
    """Lay all panels round the body, in order from one edge of the lacing gap to the other.

    Notes
    -----
    Heights run along the panels. Upright they are what they come to at the seams on average, so
    that each level is drawn level; where every seam tilts alike this is exact.
    """
    pattern = turn.pattern
    count = len(turn.places.panel)
    order = list(range(count))
    ring = order if pattern.full else order[::-1] + order
    limits = [[_limit(turn, place, edge) for edge in ("bottom", "top")] for place in order]
    everything = np.concatenate([v for own in limits for _, v in own])
    heights = np.linspace(everything.min(), everything.max(), _SECTIONS)
    # The waist comes along: a body's own sections are dear to find.
    *sections, waist = sections_around(turn, body, np.append(heights, 0.0), gap=gap, each=_EACH)
    rates = _rates(waist, len(ring))
    for mine in _parts(turn):
        rates[mine] = rates[mine].mean()
    shades = (rates - rates.min()) / max(float(np.ptp(rates)), 1e-9)
    surface = _surface(turn, sections, heights, len(ring))
    normals = _normals(surface)
    at = np.linspace(0.0, 1.0, STRIPS + 1)
    laid = []
    for place, own in enumerate(ring):
        index = int(turn.places.panel[own])
        # In the first half of a mirrored draft the ring runs from a panel's back to its front.
        backwards = (not pattern.full and place < count) or pattern.ends(index)[0] == "back"
        across = 1.0 - at if backwards else at
        lows, highs = (np.interp(across, *limit) for limit in limits[own])
        tall = lows[:, None] + np.linspace(0.0, 1.0, ROWS) * (highs - lows)[:, None]
        outward = _between(normals[:, place], heights, tall)
        outward /= np.linalg.norm(outward, axis=-1, keepdims=True)
        mates = [place + step if 0 <= place + step < len(ring) else place for step in (-1, 1)]
        edges = [
            _ends_at(turn, index, int(turn.places.panel[ring[mate]]), tall[side])
            for mate, side in zip(mates, (0, -1), strict=True)
        ]
        belt = np.column_stack([_across(waist.parts[place][1]), np.zeros(len(at))])
        laid.append(
            LaidPanel(
                index,
                pattern.panels[index].name,
                turn.ring.classes[place],
                _between(surface[:, place], heights, tall),
                outward,
                tall,
                belt,
                float(shades[place]),
                (edges[0], edges[1]),
                int(turn.places.part[own]) == 0,
            )
        )
    return tuple(laid)


def laid_layers(
    shifted: Shifted, layers: Sequence[LayerPattern], laid: Sequence[LaidPanel]
) -> tuple[tuple[LaidLayer, ...], ...]:
    """For each laid panel those of some layers that cover it."""
    turn = shifted.turn
    ends = np.concatenate([panel.heights.ravel() for panel in laid])
    heights = np.linspace(ends.min(), ends.max(), _SECTIONS)
    growth = shifted.grown.on(heights)
    share = growth / np.maximum(turn.profile.widths_at(heights), 1.0)
    return tuple(
        tuple(
            LaidLayer(
                layer.fabric.name,
                shifted.grown.distance(layer.place, panel.index, 0.0),
                np.interp(panel.heights, heights, growth[layer.place, panel.index]),
                np.interp(panel.heights, heights, share[layer.place, panel.index]),
            )
            for layer in layers
            if panel.index in layer.covered
        )
        for panel in laid
    )


def _parts(turn: TurnOfCloth) -> list[list[int]]:
    """Places in the ring of each panel that has several, on each half."""
    ring, half = turn.places.all_round, len(turn.places.panel)
    own: dict[tuple[int, int], list[int]] = {}
    for place, panel in enumerate(ring):
        own.setdefault((place // half, panel), []).append(place)
    return [places for places in own.values() if len(places) > 1]


def _ends_at(turn: TurnOfCloth, panel: int, mate: int, heights: FloatArray) -> BoolArray:
    """At which heights a panel ends where its mate begins: all, but for a gore in its slit."""
    if not any(turn.pattern.panels[mate].name == s.piece for s in turn.pattern.panels[panel].slits):
        return _ALL_ROWS
    found: BoolArray = turn.profile.there(heights)[mate]
    # Up to the tip, which lies between two of them.
    found[1:] |= found[:-1].copy()
    found[:-1] |= found[1:].copy()
    return found


def _limit(turn: TurnOfCloth, place: int, edge: EdgeName) -> tuple[FloatArray, FloatArray]:
    """A place's top or bottom: parts of the way from front to back, rising, and heights there."""
    panel = turn.pattern.panels[int(turn.places.panel[place])]
    curve = panel.edge(edge)
    line = curve.points(np.linspace(0.0, len(curve), _FINE)) if panel.slits else curve.flatten(0.5)
    u, v = panel.frame.to_panel(line).T
    front, back = turn.places.sides(turn.profile, v)[2 * place : 2 * place + 2]
    if panel.slits:
        # What lies beside a slit is another place's.
        own = np.flatnonzero((u >= front - _BESIDE_MM) & (u <= back + _BESIDE_MM))
        u, v, front, back = u[own], v[own], front[own], back[own]
    shares = np.clip((u - front) / np.maximum(back - front, 1e-6), 0.0, 1.0)
    order = np.argsort(shares, kind="stable")
    return shares[order], v[order]


def _surface(
    turn: TurnOfCloth, sections: list[Section], heights: FloatArray, count: int
) -> FloatArray:
    """Points of every panel's strips on every section, shape (sections, panels, STRIPS + 1, 3)."""
    low, high = turn.body.heights[[0, -1]]
    inside = np.clip(heights, low, high)
    up = np.array([mean_upright(turn.body, float(v)) for v in inside]) + heights - inside
    level = np.array(
        [[_across(points) for _, points in section.parts[:count]] for section in sections]
    )
    rising = np.broadcast_to(up[:, None, None, None], (*level.shape[:-1], 1))
    return np.concatenate([level, rising], axis=-1)


def _normals(surface: FloatArray) -> FloatArray:
    """Outward unit normals, shape as the surface; both sides of a seam have the same."""
    along = np.gradient(surface, axis=2, edge_order=2)
    rising = np.gradient(surface, axis=0, edge_order=2)
    # Round the body in front to the wearer's left, then up: this way out.
    normals = np.cross(rising, along)
    # A gore beyond its tip has no surface, and so no normal of its own.
    normals /= np.maximum(np.linalg.norm(normals, axis=-1, keepdims=True), 1e-12)
    shared = normals[:, :-1, -1] + normals[:, 1:, 0]
    shared /= np.maximum(np.linalg.norm(shared, axis=-1, keepdims=True), 1e-12)
    normals[:, :-1, -1] = normals[:, 1:, 0] = shared
    return np.asarray(normals)


def _across(points: FloatArray) -> FloatArray:
    """A part of a section at the strips' sides, shape (STRIPS + 1, 2)."""
    run = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))])
    at = np.linspace(0.0, run[-1], STRIPS + 1)
    return np.column_stack([np.interp(at, run, column) for column in points.T])


def _between(columns: FloatArray, heights: FloatArray, tall: FloatArray) -> FloatArray:
    """Values at heights of lines up the surface, given at all sections: (STRIPS + 1, ROWS, 3).

    *columns*: ndarray, shape (sections, STRIPS + 1, 3).
    """
    return np.stack(
        [
            np.column_stack([np.interp(own, heights, columns[:, k, axis]) for axis in range(3)])
            for k, own in enumerate(tall)
        ]
    )


def _rates(section: Section, count: int) -> FloatArray:
    """Turning of each panel for each mm of its width."""
    wide = np.array(
        [float(np.hypot(*np.diff(points, axis=0).T).sum()) for _, points in section.parts[:count]]
    )
    rates = np.array(section.angles[:count]) / np.maximum(wide, 1e-6)
    # A gore that ends short of the waist turns there as the others do on the whole.
    return np.asarray(np.where(wide > 1e-6, rates, rates[wide > 1e-6].mean()))
