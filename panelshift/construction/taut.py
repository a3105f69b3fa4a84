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

_FEW_DROPPED: Final = 0.02
"""Lines to the face are drawn once passes over all points drop fewer than this part of them."""

_STRAIGHT_RAD: Final = 1e-8
"""A corner that turns less is none: the line past it is shorter by 1e-15 mm."""

_NO_WIDTH_MM: Final = 1.0

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
        # A gore beyond its tip is there with no width: as good as a line of any radius.
        radii = np.where(widths > 0.0, widths, _NO_WIDTH_MM * angles) / angles
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
        return self._place(self.bounds, row, psi)

    def _place(self, stops: FloatArray, row: IntArray, value: FloatArray) -> IntArray:
        """Panel of values of which `stops`, (m, k + 1), has those at the seams, all in a row."""
        apart = float(stops[:, -1].max()) + 1.0
        inner = stops[:, 1:-1]
        every = (inner + apart * np.arange(len(stops))[:, None]).ravel()
        value = np.clip(value, 0.0, stops[row, -1])
        found = np.searchsorted(every, value + apart * row) - row * inner.shape[1]
        return np.asarray(found)

    def run_at(self, row: IntArray, psi: FloatArray, panel: IntArray | None = None) -> FloatArray:
        """Length of the face from its beginning to each direction, (k,)."""
        panel = self.panel_at(row, psi) if panel is None else panel
        first = self.bounds[row, panel]
        return np.asarray(self.runs[row, panel] + self.radii[row, panel] * (psi - first))

    def psi_at(self, runs: FloatArray) -> FloatArray:
        """Direction of the normal at lengths from the beginning in mm, (m, n), held at the ends."""
        runs = np.clip(runs, 0.0, self.runs[:, -1:])
        row = np.repeat(np.arange(len(runs)), runs.shape[1])
        panel = self._place(self.runs, row, runs.ravel())
        far = runs.ravel() - self.runs[row, panel]
        psi = self.bounds[row, panel] + far / self.radii[row, panel]
        return np.asarray(psi.reshape(runs.shape))

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
    ends. `normal` and `centre`, (m, n), are the normals and the arcs' centres there as complex
    numbers, which all parallel faces have in common.
    """

    psi: FloatArray
    panel: IntArray
    seams: IntArray
    normal: ComplexArray
    centre: ComplexArray

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
        return cls.at(face, ordered, panel, seams), place[:, :count]

    @classmethod
    def at(cls, face: Face, psi: FloatArray, panel: IntArray, seams: IntArray) -> Columns:
        """The same where their order and panels are known."""
        centre = np.take_along_axis(face.centres, panel, axis=1)
        return cls(psi, panel, seams, np.exp(1j * psi), centre)

    @cached_property
    def narrow(self) -> BoolArray:
        """Which intervals, (m, n - 1), have no width: several columns are in one place."""
        return np.asarray(np.diff(self.psi, axis=1) == 0.0)

    @cached_property
    def first(self) -> IntArray:
        """The first column of each place, counted through all levels."""
        return np.flatnonzero(~np.pad(self.narrow, ((0, 0), (1, 0))))

    @cached_property
    def group(self) -> IntArray:
        """Which place each column is in, of those in `first`, (m, n)."""
        new = ~np.pad(self.narrow, ((0, 0), (1, 0)))
        return np.asarray(np.cumsum(new.ravel()).reshape(new.shape) - 1)

    def points(self, face: Face, height: FloatArray) -> ComplexArray:
        """Points so high above a face that is parallel to their own, shape (m, n)."""
        radius = np.take_along_axis(face.radii, self.panel, axis=1)
        return np.asarray(self.centre + (radius + height) * self.normal)


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
    m, n = shape = columns.psi.shape
    held = held.copy()
    held[:, [0, -1]] = True
    hull = _Hull.of(face, columns, laid, held)
    # Each column lies on the piece that begins at the last corner before it.
    count = np.diff(hull.corner, append=m * n)
    last = np.zeros(m * n, dtype=np.bool_)
    last[n - 1 :: n] = True
    piece = np.repeat(np.arange(len(hull.corner)), count) - last
    psi, panel = columns.psi.ravel(), columns.panel.ravel()
    leave, reach = hull.leave[piece], hull.reach[piece]
    lands, lies = hull.lands[piece], hull.lies[piece]
    bare = lands & (psi >= leave) & (psi <= reach)
    behind = lands & (psi > reach)

    # Between corners in one place, where ridges run over the end, there is no line.
    known = lies | (hull.length[piece] <= _SAME_MM)
    known[hull.corner] = True
    top = np.where(known, laid.height.ravel(), 0.0)
    # Elsewhere the cloth is a straight line: its normal, and a point of it.
    at = np.flatnonzero(~(known | bare))
    after = behind[at]
    normal = np.where(after, hull.onto[piece[at]], hull.off[piece[at]]).conj()
    through = np.where(after, hull.point[piece[at] + 1], hull.point[piece[at]])
    away = ((through - columns.centre.ravel()[at]) * normal).real
    radius = face.radii[at // n, panel[at]]
    top[at] = away / (columns.normal.ravel()[at] * normal).real - radius

    # How far along the cloth each seam lies.
    seam = (columns.seams + n * np.arange(m)[:, None]).ravel()
    own, row = piece[seam], seam // n
    here = columns.centre.ravel()[seam]
    here = here + (face.radii[row, panel[seam]] + top[seam]) * columns.normal.ravel()[seam]
    passed = np.abs(here - hull.point[own])
    face_run = face.run_at(row, psi[seam], panel[seam])
    passed = np.where(bare[seam], hull.leaving[own] + face_run - hull.left[own], passed)
    passed = np.where(behind[seam], hull.length[own] - np.abs(hull.point[own + 1] - here), passed)
    first = psi[hull.corner[own]]
    round_top = (face.radii[row, panel[seam]] + top[seam]) * (psi[seam] - first)
    passed = np.where(lies[seam], round_top, passed)
    total = np.concatenate([[0.0], np.cumsum(hull.length)])
    lengths = np.diff((total[own] + passed).reshape(columns.seams.shape), axis=1)

    on_face = (lands & (psi >= leave)).reshape(shape)[:, :-1]
    on_face &= columns.psi[:, 1:] <= reach.reshape(shape)[:, :-1]
    on_top = lies.reshape(shape)[:, :-1]
    between = np.where(on_top, laid.between, 0.0)
    relief = Relief(top.reshape(shape), between, on_face | on_top)
    return Path(relief, lengths - np.diff(face.runs, axis=1))


@dataclass(frozen=True, eq=False)
class _Hull:
    """Corners of the hull of all levels in a row, and the piece that runs from each to the next.

    `corner` counts the columns of all levels; `leave` and `reach` are the normals where a piece
    comes down to the face and leaves it again, if it `lands`; if it `lies` it is parallel to the
    face. `off` and `onto` are the normals, complex, of its line at its first and last corner,
    which are one where it is a straight line. `leaving` is how long it is until it lands,
    `left` how far along the face that is.
    """

    corner: IntArray
    point: ComplexArray
    leave: FloatArray
    reach: FloatArray
    off: ComplexArray
    onto: ComplexArray
    lands: BoolArray
    lies: BoolArray
    leaving: FloatArray
    left: FloatArray
    length: FloatArray

    @classmethod
    def of(cls, face: Face, columns: Columns, laid: Relief, held: BoolArray) -> _Hull:
        count = columns.psi.shape[1]
        # What rounding leaves would begin to lie on the face a billionth of a turn too late.
        every = np.where(laid.height > _SAME_MM, laid.height, 0.0)
        point = columns.points(face, every).ravel()
        fixed = held.ravel()
        # Most lie under the line between their neighbours; only the others need lines to the face.
        corner = _bent(point, np.flatnonzero(fixed | (every > 0.0).ravel()), fixed)
        psi, height, fixed = columns.psi.ravel()[corner], every.ravel()[corner], fixed[corner]
        row, panel, point = corner // count, columns.panel.ravel()[corner], point[corner]
        # So far apart, in radians, two corners are at least between which the cloth comes down.
        apart = 0.9 * np.sqrt(2.0 * height / face.radii.max(axis=1)[row])
        before, behind = np.full(len(row), -np.inf), np.full(len(row), np.inf)
        reaching, leaving = np.zeros(len(row)), np.zeros(len(row))
        keep = np.arange(len(corner))
        while True:
            one, two = keep[:-1], keep[1:]
            room = np.flatnonzero(psi[two] - psi[one] >= apart[one] + apart[two])
            for corners, angles, lengths, side in (
                (one[room], behind, leaving, 1),
                (two[room], before, reaching, -1),
            ):
                new = corners[np.isinf(angles[corners])]
                found = face.touching(row[new], psi[new], panel[new], height[new], side)
                angles[new], lengths[new] = found
            step = np.diff(point[keep])
            off = -1j * step / np.maximum(np.abs(step), _SAME_MM)
            onto = off.copy()
            one, two = one[room], two[room]
            leave, reach = behind[one], before[two]
            middle = 0.5 * (psi[one] + psi[two])
            chord = middle + np.angle(off[room] * np.exp(-1j * middle))
            # Short of a place where it is held the cloth has no room to come down to the face.
            short = leave >= reach
            out = np.where(short & fixed[two], chord, np.minimum(leave, chord))
            into = np.where(short & fixed[one], chord, np.maximum(reach, chord))
            off[room], onto[room] = np.exp(1j * out), np.exp(1j * into)
            under = (onto[:-1].conj() * off[1:]).imag <= _STRAIGHT_RAD
            under &= ~fixed[keep[1:-1]]
            if not under.any():
                break
            keep = np.concatenate([keep[:1], keep[1:-1][~under], keep[-1:]])
        corner, point, psi, row = corner[keep], point[keep], psi[keep], row[keep]
        lands = np.zeros(len(step), dtype=np.bool_)
        lands[room] = ~short
        same = row[:-1] == row[1:]
        # On the face itself it goes from one arc to the next; above it, on what lies there.
        lies = _lie(laid, corner, height[keep]) & same
        lies &= ~(lands & (height[keep[:-1]] <= _SAME_MM))
        lands &= ~lies
        length = np.abs(step)
        at = np.flatnonzero(lands)
        leave, reach = behind[keep[:-1]], before[keep[1:]]
        left = np.zeros(len(length))
        left[at] = face.run_at(row[at], leave[at])
        length[at] = leaving[keep[at]] + reaching[keep[at + 1]]
        length[at] += face.run_at(row[at], reach[at]) - left[at]
        at = np.flatnonzero(lies)
        radius = face.radii[row[at], columns.panel.ravel()[corner[at + 1]]]
        length[at] = (radius + height[keep[at]]) * (psi[at + 1] - psi[at])
        length[~same] = 0.0
        leaving = leaving[keep]
        return cls(corner, point, leave, reach, off, onto, lands, lies, leaving, left, length)


def _bent(point: ComplexArray, corner: IntArray, fixed: BoolArray) -> IntArray:
    """Which corners do not lie under the line between their neighbours, pass by pass.

    Of two in one place one is enough, the one that is held.
    """
    twice = np.abs(np.diff(point[corner])) <= _SAME_MM
    spare = np.zeros(len(corner), dtype=np.bool_)
    spare[1:] |= twice & ~fixed[corner[1:]]
    spare[:-1] |= twice & fixed[corner[1:]] & ~fixed[corner[:-1]]
    corner, dropped = corner[~spare], len(corner)
    while dropped > _FEW_DROPPED * len(corner):
        step = np.diff(point[corner])
        turned = step[:-1].conj() * step[1:]
        over = (turned.imag > _STRAIGHT_RAD * turned.real) | fixed[corner[1:-1]]
        dropped = len(over) - int(np.count_nonzero(over))
        corner = np.concatenate([corner[:1], corner[1:-1][over], corner[-1:]])
    return corner


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
