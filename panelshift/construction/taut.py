"""Cloth drawn taut over what lies on a curved face: how long it is, panel by panel.

A face is a chain of arcs, one a panel, that runs on smoothly from panel to panel. What lies on it
is known by heights at columns: directions psi of the face's normal. Taut cloth is the convex hull
of both between the places where it is held. A point belongs to the hull if the line that comes in
to it turns outwards into the line that leaves it; all levels are looked at together, and points
under the line between their neighbours are dropped until there is none.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np
import numpy.typing as npt

from ..outline import FloatArray
from ..outline.bezier import IntArray

BoolArray = npt.NDArray[np.bool_]
ComplexArray = npt.NDArray[np.complex128]

LEAST_TURN_RAD: Final = 1e-4
"""A panel that turns less is taken for so round: 0.006 degrees make no ridge longer."""

_FIRST_PASSES: Final = 3
"""Passes over all points before lines to the face are drawn from those that are left."""

_SAME_MM: Final = 1e-12
"""Heights are alike that differ by rounding only."""


@dataclass(frozen=True, eq=False)
class Face:
    """A face of the corset at m levels, k panels from one end to the other: one arc a panel.

    `bounds`, shape (m, k + 1), has the direction of the normal at every seam in radians, `radii`,
    (m, k), the arcs' radii in mm and `centres`, (m, k), the arcs' centres as complex numbers.
    """

    bounds: FloatArray
    radii: FloatArray
    centres: ComplexArray

    @classmethod
    def of(cls, widths: FloatArray, angles: FloatArray) -> Face:
        """The face on which panels have these widths in mm and turn by these angles, (m, k)."""
        angles = np.maximum(angles, LEAST_TURN_RAD)
        bounds = np.zeros((len(widths), widths.shape[1] + 1))
        np.cumsum(angles, axis=1, out=bounds[:, 1:])
        radii = widths / angles
        steps = (radii[:, :-1] - radii[:, 1:]) * np.exp(1j * bounds[:, 1:-1])
        centres = np.zeros(radii.shape, dtype=np.complex128)
        np.cumsum(steps, axis=1, out=centres[:, 1:])
        return cls(bounds, radii, centres)

    def raised(self, distance: FloatArray | float) -> Face:
        """The parallel face at a distance in mm, one for all levels or one for each, (m, 1)."""
        return Face(self.bounds, self.radii + distance, self.centres)

    @cached_property
    def runs(self) -> FloatArray:
        """Length of the face from its beginning to every seam, in mm, shape (m, k + 1)."""
        runs = np.zeros_like(self.bounds)
        np.cumsum(self.radii * np.diff(self.bounds, axis=1), axis=1, out=runs[:, 1:])
        return runs

    def panel_at(self, row: IntArray, psi: FloatArray) -> IntArray:
        """Panel in which each direction lies, at the levels `row`, shapes (k,)."""
        panel = np.zeros(len(psi), dtype=np.int64)
        for seam in range(1, self.radii.shape[1]):
            panel += psi > self.bounds[row, seam]
        return panel

    def run_at(self, row: IntArray, psi: FloatArray) -> FloatArray:
        """Length of the face from its beginning to each direction, (k,)."""
        panel = self.panel_at(row, psi)
        first = self.bounds[row, panel]
        return np.asarray(self.runs[row, panel] + self.radii[row, panel] * (psi - first))

    def psi_at(self, runs: FloatArray) -> FloatArray:
        """Direction of the normal at lengths from the beginning in mm, (m, n), held at the ends."""
        runs = np.clip(runs, 0.0, self.runs[:, -1:])
        panel = np.zeros(runs.shape, dtype=np.int64)
        for seam in range(1, self.radii.shape[1]):
            panel += runs > self.runs[:, seam, None]
        first, radius, start = (
            np.take_along_axis(array, panel, axis=1)
            for array in (self.bounds, self.radii, self.runs)
        )
        return np.asarray(first + (runs - start) / radius)

    def touching(
        self, row: IntArray, psi: FloatArray, panel: IntArray, height: FloatArray, side: int
    ) -> tuple[FloatArray, FloatArray]:
        """Where lines from points above the face touch it, behind them (1) or before them (-1).

        The normal's direction there and the line's length in mm, (k,). Beyond its ends the face
        goes on along its outermost arcs.
        """
        radius = self.radii[row, panel]
        length = np.sqrt(height * (2.0 * radius + height))
        normal = psi + side * np.arctan2(length, radius)
        point = self.centres[row, panel] + (radius + height) * np.exp(1j * psi)
        last = self.radii.shape[1] - 1 if side > 0 else 0
        arc, edge = panel.copy(), 1 if side > 0 else 0
        # The line touches an arc further on if it would leave this one: seldom more than the next.
        while True:
            beyond = side * (normal - self.bounds[row, arc + edge]) > 0.0
            at = np.flatnonzero(beyond & (arc != last))
            if len(at) == 0:
                return normal, length
            arc[at] += side
            way = point[at] - self.centres[row[at], arc[at]]
            far, r = np.abs(way), self.radii[row[at], arc[at]]
            length[at] = np.sqrt(np.maximum((far - r) * (far + r), 0.0))
            toward = psi[at] + np.angle(way * np.exp(-1j * psi[at]))
            normal[at] = toward + side * np.arctan2(length[at], r)


@dataclass(frozen=True, eq=False)
class Columns:
    """Directions at which a face is looked at, in order at every level.

    `psi` and `panel` have shape (m, n); `seams`, (m, k + 1), has the column of every seam and both
    ends.
    """

    psi: FloatArray
    panel: IntArray
    seams: IntArray

    @classmethod
    def of(cls, face: Face, psi: FloatArray) -> tuple[Columns, IntArray]:
        """Put directions, (m, n), in order together with those of the seams.

        The second, (m, n), has the column of each.
        """
        count = psi.shape[1]
        low, high = face.bounds[:, :1], face.bounds[:, -1:]
        whole = np.concatenate([np.clip(psi, low, high), face.bounds], axis=1)
        order = np.argsort(whole, axis=1, kind="stable")
        # The ends are the first and the last column, whatever else lies there.
        place = np.empty_like(order)
        numbers = np.broadcast_to(np.arange(whole.shape[1]), whole.shape)
        np.put_along_axis(place, order, numbers, axis=1)
        ordered = np.take_along_axis(whole, order, axis=1)
        row = np.repeat(np.arange(len(psi)), whole.shape[1])
        panel = face.panel_at(row, ordered.ravel()).reshape(ordered.shape)
        seams = place[:, count:].copy()
        seams[:, 0], seams[:, -1] = 0, whole.shape[1] - 1
        return cls(ordered, panel, seams), place[:, :count]


@dataclass(frozen=True, eq=False)
class Relief:
    """What lies on a face: heights in mm at the columns, (m, n), and between them.

    `follows`, (m, n - 1), says of each interval whether its top is parallel to the face, `between`
    mm above it.
    """

    height: FloatArray
    between: FloatArray
    follows: BoolArray

    @classmethod
    def bare(cls, columns: Columns) -> Relief:
        """Nothing at all."""
        m, n = columns.psi.shape
        return cls(np.zeros((m, n)), np.zeros((m, n - 1)), np.ones((m, n - 1), dtype=np.bool_))


@dataclass(frozen=True, eq=False)
class Path:
    """Taut cloth: its relief, and how much longer than the face it is on each panel, (m, k)."""

    relief: Relief
    extra: FloatArray


def taut(face: Face, columns: Columns, laid: Relief, held: BoolArray) -> Path:
    """Draw cloth taut over what is laid on a face.

    It is held at the columns marked in `held`, (m, n), and always at both ends.
    """
    shape = columns.psi.shape
    held = held.copy()
    held[:, [0, -1]] = True
    hull = _Hull.of(face, columns, laid, held)
    alive = np.zeros(shape, dtype=np.bool_)
    alive.ravel()[hull.corner] = True
    last = np.zeros(shape, dtype=np.int64)
    last[:, -1] = 1
    # Each column lies on the piece that begins at the last corner before it.
    piece = np.cumsum(alive.ravel()) - 1 - last.ravel()
    row = np.repeat(np.arange(shape[0]), shape[1])
    psi, panel = columns.psi.ravel(), columns.panel.ravel()
    leave, reach = hull.leave[piece], hull.reach[piece]
    lands, lies = hull.lands[piece], hull.lies[piece]
    start, end = hull.point[piece], hull.point[piece + 1]
    height = laid.height.ravel()

    bare = lands & (psi >= leave) & (psi <= reach)
    behind = lands & (psi > reach)
    # Elsewhere the cloth is a straight line: its normal, and a point of it.
    normal = np.where(lands, np.where(behind, reach, leave), hull.chord[piece])
    through = np.where(behind, end, start)
    centre, radius = face.centres[row, panel], face.radii[row, panel]
    way = ((through - centre) * np.exp(-1j * normal)).real / np.cos(psi - normal)
    known = alive.ravel() | lies
    top = np.where(known, height, np.where(bare, 0.0, way - radius))
    here = centre + (radius + top) * np.exp(1j * psi)

    passed = np.abs(here - start)
    at = np.flatnonzero(bare)
    passed[at] = hull.leaving[piece[at]] + face.run_at(row[at], psi[at])
    passed[at] -= face.run_at(row[at], leave[at])
    passed = np.where(behind, hull.length[piece] - np.abs(end - here), passed)
    passed = np.where(lies, (radius + height) * (psi - psi[hull.corner[piece]]), passed)
    total = np.concatenate([[0.0], np.cumsum(hull.length)])
    along = (total[piece] + passed).reshape(shape)
    lengths = np.diff(np.take_along_axis(along, columns.seams, axis=1), axis=1)
    top = top.reshape(shape)
    on_face = (lands & (psi >= leave)).reshape(shape)[:, :-1]
    on_face &= columns.psi[:, 1:] <= reach.reshape(shape)[:, :-1]
    on_top = lies.reshape(shape)[:, :-1]
    relief = Relief(top, np.where(on_top, laid.between, 0.0), on_face | on_top)
    return Path(relief, lengths - np.diff(face.runs, axis=1))


@dataclass(frozen=True, eq=False)
class _Hull:
    """Corners of the hull of all levels in a row, and the piece that runs from each to the next.

    `corner` counts the columns of all levels; `leave` and `reach` are the normals where a piece
    comes down to the face and leaves it again, if it `lands`; if it `lies` it is parallel to the
    face; else it is a straight line with the normal `chord`.
    """

    corner: IntArray
    point: ComplexArray
    leave: FloatArray
    reach: FloatArray
    chord: FloatArray
    lands: BoolArray
    lies: BoolArray
    leaving: FloatArray
    length: FloatArray

    @classmethod
    def of(cls, face: Face, columns: Columns, laid: Relief, held: BoolArray) -> _Hull:
        count = columns.psi.shape[1]
        every = np.maximum(laid.height.ravel(), 0.0)
        corner = np.flatnonzero(held.ravel() | (every > _SAME_MM))
        psi = columns.psi.ravel()[corner]
        row, panel, height = corner // count, columns.panel.ravel()[corner], every[corner]
        point = face.centres[row, panel] + (face.radii[row, panel] + height) * np.exp(1j * psi)
        fixed = held.ravel()[corner]
        # Most lie under the line between their neighbours; only the others need lines to the face.
        keep = np.arange(len(corner))
        for _ in range(_FIRST_PASSES):
            chord = _chords(psi[keep], point[keep])
            over = (chord[:-1] < chord[1:]) | fixed[keep[1:-1]]
            keep = np.concatenate([keep[:1], keep[1:-1][over], keep[-1:]])
        corner, psi, row, panel = corner[keep], psi[keep], row[keep], panel[keep]
        height, point, fixed = height[keep], point[keep], fixed[keep]
        before, reaching = face.touching(row, psi, panel, height, -1)
        behind, leaving = face.touching(row, psi, panel, height, 1)
        keep = np.arange(len(corner))
        while True:
            chord = _chords(psi[keep], point[keep])
            own = keep[1:-1]
            # Short of a place where it is held the cloth has no room to come down to the face.
            short = behind[keep[:-1]] >= before[keep[1:]]
            comes, goes = np.maximum(before[own], chord[:-1]), np.minimum(behind[own], chord[1:])
            comes = np.where(short[:-1] & fixed[keep[:-2]], chord[:-1], comes)
            goes = np.where(short[1:] & fixed[keep[2:]], chord[1:], goes)
            under = (comes >= goes) & ~fixed[own]
            if not under.any():
                break
            keep = np.concatenate([keep[:1], own[~under], keep[-1:]])
        corner, point, psi, row = corner[keep], point[keep], psi[keep], row[keep]
        same = row[:-1] == row[1:]
        leave, reach = behind[keep[:-1]], before[keep[1:]]
        lands = (leave < reach) & same
        lies = _lie(laid, corner, height[keep]) & same
        length = np.abs(np.diff(point))
        at = np.flatnonzero(lands)
        length[at] = leaving[keep[at]] + reaching[keep[at + 1]]
        length[at] += face.run_at(row[at], reach[at]) - face.run_at(row[at], leave[at])
        at = np.flatnonzero(lies)
        radius = face.radii[row[at], columns.panel.ravel()[corner[at + 1]]]
        length[at] = (radius + height[keep[at]]) * (psi[at + 1] - psi[at])
        length[~same] = 0.0
        return cls(corner, point, leave, reach, chord, lands, lies & ~lands, leaving[keep], length)


def _chords(psi: FloatArray, point: ComplexArray) -> FloatArray:
    """Direction of the normal of the line from each point to the next."""
    middle = 0.5 * (psi[:-1] + psi[1:])
    step, cos, sin = np.diff(point), np.cos(middle), np.sin(middle)
    outward = step.real * cos + step.imag * sin
    along = step.imag * cos - step.real * sin
    return np.asarray(middle + np.arctan2(-outward, along))


def _lie(laid: Relief, corner: IntArray, height: FloatArray) -> BoolArray:
    """Whether all between each corner and the next is parallel to the face and as high as they."""
    rows, less = laid.between.shape
    # One more interval at each level's end, which parts it from the next.
    parallel = np.zeros((rows, less + 1), dtype=np.bool_)
    parallel[:, :-1] = laid.follows
    between = np.zeros((rows, less + 1))
    between[:, :-1] = laid.between
    alike = parallel & (np.abs(between - np.maximum(laid.height, 0.0)) <= _SAME_MM)
    odd = np.concatenate([[0], np.cumsum(~alike.ravel())])
    level = np.abs(np.diff(height)) <= _SAME_MM
    return np.asarray(level & (odd[corner[1:]] == odd[corner[:-1]]))
