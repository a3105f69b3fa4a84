"""Side edges as functions of height: how wide each panel is at every level."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np
import numpy.typing as npt

from ..outline import FloatArray
from ..outline.bezier import IntArray
from ..outline.by_value import Sealed, read_only
from ..units import LONGEST_MM
from .panel import EdgeName

HEIGHT_STEP_MM: Final = 0.25
"""Spacing of the heights at which panels are looked at one by one."""

SIDES: Final[tuple[EdgeName, EdgeName]] = ("front", "back")
"""Edges are numbered panel by panel: 2 i is panel i's front edge, 2 i + 1 its back edge."""

RUN_OUT_MM: Final = 25.0
"""Beyond its end an edge goes on along its tangent, bending upright over this length."""

_MARGIN_MM: Final = 80.0

_APART: Final = 8.0 * LONGEST_MM
"""Farther than any two numbers of one edge: with it one sorted array serves for all edges."""

_MOST_STEPS: Final = 60
"""Newton's steps at most; three do where an edge rises as it should."""

_INSIDE: Final = 1e-7
"""Slopes are read so far within a piece: at its very end a handle may have no length."""


@dataclass(frozen=True, eq=False)
class Spots:
    """Points of side edges: the piece of each, and the Bezier parameter in it, shapes (k,)."""

    piece: IntArray
    t: FloatArray


@dataclass(frozen=True, eq=False)
class Mates(Sealed):
    """What each piece of the edges is sewn to.

    *edge*: ndarray of int, shape (k,). Edge; -1 of none. *offset*: ndarray, shape (k,). Arc length
    in mm from the waist there less the same here.
    """

    edge: IntArray
    offset: FloatArray

    def __post_init__(self) -> None:
        read_only(self, "edge", dtype=np.int64)
        read_only(self, "offset")


NO_MATES: Final = Mates(np.zeros(0, dtype=np.int64), np.zeros(0))


@dataclass(frozen=True, eq=False)
class Profile(Sealed):
    """All panels' side edges, cut into short pieces, each a cubic as it was drawn.

    Mates are cut at each other's joints, so that what the one does to the other is smooth along
    each piece.

    Parameters
    ----------
    starts : ndarray of int, shape (edges + 1,)
        First piece of each edge.
    control : ndarray, shape (k, 4, 2)
        Control points of the pieces in panel coordinates, mm, going up.
    arc : ndarray, shape (k + edges,)
        Arc length in mm from the waist at the ends of the pieces, edge by edge.
    span : (float, float)
        Lowest and highest v in mm of any control point of the outlines.
    mates : Mates, optional
        What each piece is sewn to.
    pointed : ndarray of bool, shape (edges, 2), optional
        Whether the lower and the upper end of each edge is the tip of a gore, beyond which it is
        as wide as there: not at all.
    """

    starts: IntArray
    control: FloatArray
    arc: FloatArray
    span: tuple[float, float]
    mates: Mates = NO_MATES
    pointed: npt.NDArray[np.bool_] | None = None

    def __post_init__(self) -> None:
        # One serves all that is ever asked of its pattern.
        read_only(self, "starts", dtype=np.int64)
        read_only(self, "control", "arc")

    # -- pieces -------------------------------------------------------------------------

    @cached_property
    def owner(self) -> IntArray:
        """Edge of each piece, shape (k,)."""
        return np.repeat(np.arange(len(self.starts) - 1), np.diff(self.starts))

    @cached_property
    def _power(self) -> FloatArray:
        """Coefficients of 1, t, t^2 and t^3 of u and v of each piece, shape (2, 4, k)."""
        a, b, c, d = self.control.transpose(1, 2, 0)
        return np.stack([a, 3.0 * (b - a), 3.0 * (c - 2.0 * b + a), d - a + 3.0 * (b - c)], axis=1)

    @cached_property
    def _by_height(self) -> FloatArray:
        # Edges rise all the way (they end where they lean over), but for rounding.
        return np.asarray(np.maximum.accumulate(self.owner * _APART + self.control[:, 0, 1]))

    @cached_property
    def _by_arc(self) -> FloatArray:
        return np.asarray(self.owner * _APART + self.arcs[0])

    @cached_property
    def arcs(self) -> FloatArray:
        """Arc length in mm from the waist at both ends of each piece, shape (2, k)."""
        first = np.arange(len(self.control)) + self.owner
        return np.stack([self.arc[first], self.arc[first + 1]])

    @cached_property
    def _speeds(self) -> FloatArray:
        """Coefficients of t, t^2 and t^3 of the arc length in each piece, shape (3, k).

        The cubic has the arc's own speeds at both ends.
        """
        ends = np.hypot(
            *(3.0 * (self.control[:, (1, 3)] - self.control[:, (0, 2)])).transpose(2, 1, 0)
        )
        rise = self.arcs[1] - self.arcs[0]
        return np.stack(
            [ends[0], 3.0 * rise - 2.0 * ends[0] - ends[1], ends[0] + ends[1] - 2.0 * rise]
        )

    def at_heights(self, heights: FloatArray, edge: IntArray) -> Spots:
        """Where edges (one for each height in mm) have a height; their ends if nowhere."""
        piece = self._found(self._by_height, heights, edge)
        c0, c1, c2, c3 = self._power[1].take(piece, axis=1)
        return Spots(piece, _root(heights - c0, c1, c2, c3))

    def at_arcs(self, arcs: FloatArray, edge: IntArray) -> Spots:
        """Where edges (one for each) have an arc length in mm; their ends if nowhere."""
        piece = self._found(self._by_arc, arcs, edge)
        c1, c2, c3 = self._speeds.take(piece, axis=1)
        return Spots(piece, _root(arcs - self.arcs[0].take(piece), c1, c2, c3))

    def _found(self, keys: FloatArray, wanted: FloatArray, edge: IntArray) -> IntArray:
        piece = np.searchsorted(keys, edge * _APART + wanted, side="right") - 1
        return np.minimum(np.maximum(piece, self.starts[edge]), self.starts[edge + 1] - 1)

    def velocity(self, spots: Spots) -> tuple[FloatArray, FloatArray]:
        """Change of u and v for each unit of the pieces' parameters, shapes (k,)."""
        t = np.minimum(np.maximum(spots.t, _INSIDE), 1.0 - _INSIDE)
        _, a, b, c = self._power.take(spots.piece, axis=2).transpose(1, 0, 2)
        du, dv = a + t * (2.0 * b + 3.0 * t * c)
        return du, dv

    def point(self, spots: Spots) -> tuple[FloatArray, FloatArray]:
        """u and v at spots in mm, shapes (k,)."""
        t = spots.t
        o, a, b, c = self._power.take(spots.piece, axis=2).transpose(1, 0, 2)
        u, v = o + t * (a + t * (b + t * c))
        return u, v

    def arc_at(self, spots: Spots) -> FloatArray:
        """Arc length in mm from the waist at spots, shape (k,)."""
        a, b, c = self._speeds.take(spots.piece, axis=1)
        return np.asarray(
            self.arcs[0].take(spots.piece) + spots.t * (a + spots.t * (b + spots.t * c))
        )

    def across(
        self, heights: FloatArray, spots: Spots
    ) -> tuple[FloatArray, FloatArray, FloatArray]:
        """u of edges at heights, its change for each mm of height, and dv/dt, shapes (k,).

        Parameters
        ----------
        heights : ndarray, shape (k,)
            In mm; beyond the ends an edge runs out upright, smoothly.
        spots : Spots
            As `at_heights` found them.
        """
        u, v = self.point(spots)
        du, dv = self.velocity(spots)
        # An edge that ends lying flat has no slope there that would serve.
        dv = np.maximum(dv, 1e-3 * np.hypot(du, dv))
        slope = du / np.where(dv > 0.0, dv, 1.0)
        past = heights - v
        if self.pointed is not None:
            tip = self.pointed[self.owner[spots.piece], (past > 0.0).astype(np.int64)]
            slope = np.where(tip & (np.abs(past) > 1e-9), 0.0, slope)
        far, rate = run_out(past)
        return u + slope * far, slope * rate, dv

    # -- heights ------------------------------------------------------------------------

    @cached_property
    def heights(self) -> FloatArray:
        """Evenly spaced heights from below the lowest to above the highest point, in mm."""
        # The sheet's turn must not change their count by a rounding error.
        first = np.floor((self.span[0] - _MARGIN_MM) / HEIGHT_STEP_MM + 1e-6)
        last = np.ceil((self.span[1] + _MARGIN_MM) / HEIGHT_STEP_MM - 1e-6)
        # Whole multiples of the step, so that the waist itself is among them.
        return np.arange(first, last + 1) * HEIGHT_STEP_MM

    @cached_property
    def front(self) -> FloatArray:
        """u of the front edges at the heights in mm, run out beyond their ends, (panels, m)."""
        return self.sides(self.heights)[0::2]

    @cached_property
    def back(self) -> FloatArray:
        """The same of the back edges."""
        return self.sides(self.heights)[1::2]

    def sides(self, heights: FloatArray) -> FloatArray:
        """u of all edges at some heights in mm, shape (edges, m)."""
        count = len(self.starts) - 1
        edge, at = np.repeat(np.arange(count), len(heights)), np.tile(heights, count)
        return self.across(at, self.at_heights(at, edge))[0].reshape(count, -1)

    def widths_at(self, heights: FloatArray) -> FloatArray:
        """Width in mm of each panel at some heights, shape (panels, m).

        Of a gore from where the one edge is sewn at a height to where the other is: its own upright
        is shorter than its edges, so that what lies level in it is drawn bent.
        """
        sides = self.sides(heights)
        widths = sides[1::2] - sides[0::2]
        if self.pointed is None:
            return widths
        for k in np.flatnonzero(self.pointed[0::2].any(axis=1)).tolist():
            ends = [self._sewn_at(edge, heights) for edge in (2 * k, 2 * k + 1)]
            across = ends[1] - ends[0]
            widths[k] = np.copysign(np.hypot(*across), across[0])
        # What rounding makes of a gore where it is not.
        return np.where(self.there(heights), widths, 0.0)

    def _sewn_at(self, edge: int, heights: FloatArray) -> FloatArray:
        """Points (u, v) of a gore's edge that are sewn at heights of its mate, shape (2, m).

        The two sides of a slit lie upright; beyond its end it goes on along its tangent.
        """
        assert self.pointed is not None
        below = bool(self.pointed[edge, 0])
        first, last = int(self.starts[edge]), int(self.starts[edge + 1]) - 1
        at_tip = first if below else last
        every = np.full(len(heights), edge)
        if len(self.mates.edge) and self.mates.edge[at_tip] >= 0:
            mate = np.full(len(heights), self.mates.edge[at_tip])
            there = self.at_heights(heights, mate)
            past = heights - self.point(there)[1]
            arcs = self.arc_at(there) + past - self.mates.offset[at_tip]
        else:
            arcs = heights - self.ends[edge, 0 if below else 1]
            arcs = arcs + self.arcs[0 if below else 1, at_tip]
        spots = self.at_arcs(arcs, every)
        beyond, _ = run_out(arcs - self.arc_at(spots))
        speed = np.stack(self.velocity(spots))
        return np.asarray(np.stack(self.point(spots)) + beyond * speed / np.hypot(*speed))

    @cached_property
    def tips(self) -> FloatArray:
        """v in mm of the tip of each panel that is a gore, nan of the others, shape (panels,)."""
        low, high = self.ends[0::2].T
        if self.pointed is None:
            return np.full(len(low), np.nan)
        below, above = self.pointed[0::2].T
        return np.where(below, low, np.where(above, high, np.nan))

    def there(self, heights: FloatArray, margin: float = 0.0) -> npt.NDArray[np.bool_]:
        """Whether panels are at heights at all, as a gore is on one side of its tip, (panels, m).

        *margin*: mm by which a gore must have begun.
        """
        found = np.ones((len(self.tips), len(heights)), dtype=np.bool_)
        if self.pointed is not None:
            below, above = self.pointed[0::2].T[:, :, None]
            found &= ~(below & (heights <= self.tips[:, None] + margin))
            found &= ~(above & (heights >= self.tips[:, None] - margin))
        return found

    @cached_property
    def widths(self) -> FloatArray:
        """Width in mm of each panel at each height, shape (panels, m)."""
        return self.widths_at(self.heights)

    @cached_property
    def ends(self) -> FloatArray:
        """v in mm of the lower and the upper end of each edge, shape (edges, 2)."""
        return np.column_stack(
            [self.control[self.starts[:-1], 0, 1], self.control[self.starts[1:] - 1, 3, 1]]
        )

    @property
    def drawn(self) -> tuple[float, float]:
        """Lowest and highest v in mm that any side edge reaches."""
        return float(self.ends[:, 0].min()), float(self.ends[:, 1].max())


def run_out(past: FloatArray) -> tuple[FloatArray, FloatArray]:
    """How far something goes on along its tangent, past mm beyond its end, and at what rate.

    0 and 1 within; beyond, the rate falls to 1/e over `RUN_OUT_MM`.
    """
    far = np.abs(past) * (np.abs(past) > 1e-9)
    rate = np.exp(-far / RUN_OUT_MM)
    return np.sign(past) * RUN_OUT_MM * (1.0 - rate), rate


def _root(wanted: FloatArray, c1: FloatArray, c2: FloatArray, c3: FloatArray) -> FloatArray:
    """Where c1 t + c2 t^2 + c3 t^3, which rises from t = 0 to 1, is as wanted; else 0 or 1."""
    whole = c1 + c2 + c3
    safe = np.where(whole > 0.0, whole, 1.0)
    t = np.minimum(np.maximum(wanted / safe, 0.0), 1.0)
    target = np.minimum(np.maximum(wanted, 0.0), np.maximum(whole, 0.0))
    least = 1e-9 * safe
    for _ in range(_MOST_STEPS):  # pragma: no branch - a root is found long before the last
        off = t * (c1 + t * (c2 + t * c3)) - target
        step = off / np.maximum(c1 + t * (2.0 * c2 + 3.0 * t * c3), least)
        before, t = t, np.minimum(np.maximum(t - step, 0.0), 1.0)
        if float(np.abs(t - before).max(initial=0.0)) < 1e-12:
            break
    return t
