"""Panels laid on a body whose sections are known: where seams lie, turn, tilt and lean."""

from __future__ import annotations

from dataclasses import replace
from typing import Final

import numpy as np

from ..errors import BodyError
from ..outline import FloatArray
from ..outline.bezier import IntArray
from .column import Column
from .measures import Measures
from .ring import SMOOTHING_MM, Ring, Turn, body_girths, slopes, tilt_of

_SETTLED_MM: Final = 1e-5
_SETTLED_RAD: Final = 1e-9
_RUN_OUT_MM: Final = 25.0
_MOST_PASSES: Final = 20
_MOST_ROUNDS: Final = 200


def laid(column: Column, ring: Ring, given: Measures | None = None) -> Turn:
    """Lay a ring of panels on a body.

    *column*: the body's sections. A ring of two equal halves is laid on the mean of the body and
    its mirror image. *given*: girths of the body in mm by height along the panels; else the
    pattern's own.

    Raises `BodyError` if the body moves out faster than cloth can follow.

    Notes
    -----
    A seam lies where the arc from the centre front says; a panel turns through the angle
    between the normals at its two seams. The surface moves out by dh/dv with the normal
    held, so that sin(tilt) = dh/dv where heights run along the panels, and tan(tilt) = dh/dz
    where they are upright. The unit vectors along the level and up the surface are T and m;
    a seam whose normal turns by psi' for each mm of height goes sideways by h'_z + rho psi'
    for each sec(tilt) up, which is the tangent of its slant from m.

    With upright heights each seam has its own length up to a level, the integral of
    sec(tilt). What the panels' widths are at a level follows from those lengths, and the
    seams' places from the widths: both are renewed until they agree.
    """
    column = turned_to(column, ring)
    larger = body_girths(ring, given) / ring.girths
    if column.upright:
        return _upright(column, ring, larger)
    radii = larger * ring.girths / (2.0 * np.pi)
    rates = slopes(ring.heights, radii)
    levels = column.at(ring.heights)
    normals = levels.shape.normals(ring.arcs() / ring.girths[:, None])
    outward = levels.still(normals, radii) + rates[:, None] * levels.shape.support(normals)
    tilts = tilt_of(outward, "the body's section")
    sideways = levels.sideways(normals, radii, rates)
    sideways += radii[:, None] * levels.shape.radius(normals) * slopes(ring.heights, normals)
    return turn_of(ring.heights, normals, tilts, np.arctan(sideways))


def turned_to(column: Column, ring: Ring) -> Column:
    """The body as a ring's halves have it: alike for equal ones, the first at the right."""
    if ring.first is None:
        return column.symmetric()
    return column.mirrored() if ring.first == "left" else column


def turn_of(
    heights: FloatArray, normals: FloatArray, tilts: FloatArray, slants: FloatArray
) -> Turn:
    """What the directions of seams make of a ring; it closes by construction.

    *heights*: ndarray, shape (m,). *normals*, *tilts*, *slants*: ndarray, shape (m, k + 1). In
    radians, as `Turn` has them.
    """
    gap = 2.0 * np.pi - (normals[:, -1] - normals[:, 0])
    return Turn(heights, np.diff(normals, axis=1), gap, tilts, normals=normals, slants=slants)


def _upright(column: Column, ring: Ring, larger: FloatArray) -> Turn:
    """Lay panels on planar sections at upright heights.

    The heights looked at are the panels' own: no seam reaches farther up than it is long.
    """
    z, count = ring.heights, ring.widths.shape[1]
    # The body's own widths, gap included: what its girth at a level is made of.
    body = larger[:, None] * np.column_stack([ring.widths, ring.gaps])
    body_rates = slopes(z, body)
    along = np.repeat(z[:, None], count + 1, axis=1)
    tilts = np.zeros_like(along)
    levels = column.at(z)
    for _ in range(_MOST_PASSES):
        middles = _between(along)
        level = replace(ring, widths=_read(z, ring.widths, middles[:, :-1]))
        radii = _read(z, body, middles).sum(axis=1) / (2.0 * np.pi)
        normals = levels.shape.normals(level.arcs() / level.girths[:, None])
        still, growing = levels.still(normals, radii), levels.shape.support(normals)
        # Heights beyond the panels' ends must not grow without bound; those next to the ends go
        # on as before them, for the ends' own slopes are read from both sides.
        within = np.clip(middles, z[0] - SMOOTHING_MM, z[-1] + SMOOTHING_MM)
        past = np.abs(middles - within)
        shares = _read(z, body_rates, within) * np.exp(-past / _RUN_OUT_MM) / (2.0 * np.pi)
        tilts, rates = _tilts(still, growing, shares, tilts)
        before, along = along, _run(z, 1.0 / np.cos(tilts))
        if float(np.abs(along - before).max()) < _SETTLED_MM:
            break
    else:
        raise _too_steep()
    sideways = levels.sideways(normals, radii, rates)
    sideways += radii[:, None] * levels.shape.radius(normals) * slopes(z, normals)
    slants = np.arctan(np.cos(tilts) * sideways)
    at = np.column_stack([np.interp(z, seam, z) for seam in along.T])
    for _ in range(2):
        at = at + (z[:, None] - _read(z, along, at)) * np.cos(_read(z, tilts, at))
    return turn_of(z, *(_read(z, part, at) for part in (normals, tilts, slants)))


def _between(seams: FloatArray) -> FloatArray:
    """Means of the two seams of each panel, then of the gap's, (m, k + 1) as seams."""
    return 0.5 * (seams + np.roll(seams, -1, axis=1))


def _tilts(
    still: FloatArray, by_radius: FloatArray, shares: FloatArray, start: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Tilts of seams, and the rate of the radius with upright height that goes with them.

    The pattern says how its girth grows along the panels; how fast that is upright depends on
    the tilts, and they on it: tan(tilt) = still + by_radius * radius', radius' being the sum
    of shares over cos(tilt).
    """
    tilts = start
    for _ in range(_MOST_ROUNDS):
        rates = (shares * _between(1.0 / np.cos(tilts))).sum(axis=1)
        before, tilts = tilts, np.arctan(still + rates[:, None] * by_radius)
        if float(np.abs(tilts - before).max()) < _SETTLED_RAD:
            return tilts, rates
    raise _too_steep()


def _too_steep() -> BodyError:
    return BodyError(
        "the body grows outwards faster than the panels are long: no cloth can follow",
        remedy="Check the body's sections, the levels' heights and the pattern's scale.",
    )


def _run(heights: FloatArray, rates: FloatArray) -> FloatArray:
    """Integral of rates from the waist to each height, shape as rates, (m, n).

    The trapezoidal rule with its end correction (Euler and Maclaurin), of fourth order.
    """
    step = heights[1] - heights[0]
    bend = np.gradient(rates, step, axis=0, edge_order=2)
    pieces = 0.5 * step * (rates[1:] + rates[:-1]) - step**2 / 12.0 * np.diff(bend, axis=0)
    run = np.vstack([np.zeros_like(rates[:1]), np.cumsum(pieces, axis=0)])
    return np.asarray(run - _read(heights, run, np.zeros_like(rates[:1])))


def _read(heights: FloatArray, values: FloatArray, at: FloatArray) -> FloatArray:
    """Columns of values, each read at heights of its own, shape as at, (n, columns).

    Cubic between the evenly spaced heights, straight on beyond them.
    """
    step = heights[1] - heights[0]
    rates = step * np.gradient(values, step, axis=0, edge_order=2)
    place = (at - heights[0]) / step
    inside = np.clip(place, 0.0, len(heights) - 1.0)
    left = np.minimum(inside.astype(np.int64), len(heights) - 2)
    t = inside - left

    def take(rows: FloatArray, index: IntArray) -> FloatArray:
        return np.take_along_axis(rows, index, axis=0)

    low, begin, end = take(values, left), take(rates, left), take(rates, left + 1)
    rise = take(values, left + 1) - low
    square, cube = 3.0 * rise - 2.0 * begin - end, begin + end - 2.0 * rise
    value = low + t * (begin + t * (square + t * cube))
    return np.asarray(value + (place - inside) * np.where(place < inside, begin, end))
