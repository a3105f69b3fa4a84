"""Where drawn lines cross curves: all pairs of a drawing in one pass."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from ..errors import CurveError
from .bezier import (
    CONTACT_MM,
    FloatArray,
    IntArray,
    bernstein,
    bezier_points,
    each,
    end_tangents,
    flat_points,
    flat_steps,
    roots,
)
from .curve import Curve
from .many import gathered

SAME_POINT_MM: Final = 1e-3
"""Crossings closer than this are one crossing, found in two neighbouring segments."""

_LINE_FLATNESS_MM: Final = 1e-3

_ROOT_TOLERANCE: Final = 1e-9
"""How far outside [0, 1] rounding may carry a root at the end of a segment."""

MOST_COMPARED: Final = 50_000_000
"""Pieces of a line times segments of a curve at most: a few seconds' work."""

_OVERHEAD: Final = 500
"""What looking at one piece costs at least, in segments."""

_AT_ONCE: Final = 100_000
"""Pieces times segments compared in one array: its size stays near the processor's cache."""


@dataclass(frozen=True, eq=False)
class Crossings:
    """Crossings of one curve by a line, in order along the line.

    *positions*, shape (m,): positions on the crossed curve. *points*, shape (m, 2): in mm. *along*,
    shape (m,): arc length along the crossing line's polyline in mm, negative or beyond its length
    where only its extension crosses.
    """

    positions: FloatArray
    points: FloatArray
    along: FloatArray

    def __len__(self) -> int:
        return len(self.positions)


_NONE: Final = Crossings(np.zeros(0), np.zeros((0, 2)), np.zeros(0))


def crossings(curve: Curve, line: Curve, *, reach: float = 0.0) -> Crossings:
    """Cross a curve with a line, straight or curved.

    *curve*: the crossed curve, usually an outline. *line*: the crossing line; curved parts are
    followed within 0.001 mm. *reach*: how far beyond each of its ends the line is prolonged along
    its end tangent, in mm, so that a line drawn just up to the outline counts as crossing it.
    """
    return all_crossings([(curve, line)], reach=reach)[0]


def all_crossings(pairs: Sequence[tuple[Curve, Curve]], *, reach: float = 0.0) -> list[Crossings]:
    """Cross many curves with many lines in one pass.

    *pairs*: sequence of (Curve, Curve). A curve and the line across it, as for `crossings`.
    *reach*: as for `crossings`, in mm.

    Returns: one for each pair.

    Raises `CurveError` if a pair is drawn in too many pieces.

    Notes
    -----
    Seen from each straight piece of a line, a segment's height above it is a cubic in Bernstein
    form. Cut where its derivative vanishes it is monotone, so that a change of sign tells the one
    root in a part, and Newton's steps kept within the bracket find it. Joints are seen alike from
    both their segments, so that no crossing slips through between them.
    """
    found = [_NONE] * len(pairs)
    boxed = [k for k, (curve, line) in enumerate(pairs) if _boxes_meet(curve, line, reach)]
    if not boxed:
        return found
    curves = {id(pairs[k][0]): pairs[k][0] for k in boxed}
    lines = {id(pairs[k][1]): pairs[k][1] for k in boxed}
    curve_of = dict(zip(curves, range(len(curves)), strict=True))
    line_of = dict(zip(lines, range(len(lines)), strict=True))
    ends = _Ends.of(list(curves.values()))
    paths = _Paths.of(list(lines.values()), reach)
    first = np.array([curve_of[id(pairs[k][0])] for k in boxed])
    second = np.array([line_of[id(pairs[k][1])] for k in boxed])
    owner, piece = _near_pieces(ends, paths, first, second)
    counts = np.bincount(owner, minlength=len(boxed))
    if (counts * (ends.counts[first] + _OVERHEAD) > MOST_COMPARED).any():
        raise CurveError(
            "an outline and a line across it are drawn in too many pieces to be crossed",
            remedy="Draw one of them more simply: a few curves are enough for an edge.",
        )
    hits = []
    work = np.cumsum(ends.counts[first[owner]])
    cuts = np.searchsorted(work, np.arange(_AT_ONCE, work[-1] if len(work) else 0, _AT_ONCE))
    for chunk in np.split(np.arange(len(owner)), cuts):
        if len(chunk):
            hits.append(_hits(ends, paths, first, owner[chunk], piece[chunk]))
    if not hits:
        return found
    of, segment, t, along = (np.concatenate(part) for part in zip(*hits, strict=True))
    order = np.lexsort((along, of))
    of, segment, t, along = of[order], segment[order], t[order], along[order]
    points = bezier_points(ends.control[segment], t)
    positions = segment - ends.starts[first[of]] + t
    bounds = np.searchsorted(of, np.arange(len(boxed) + 1)).tolist()
    for k, start, stop in zip(boxed, bounds[:-1], bounds[1:], strict=True):
        if stop > start:
            one = slice(start, stop)
            keep = _distinct(points[one])
            found[k] = Crossings(positions[one][keep], points[one][keep], along[one][keep])
    return found


def _boxes_meet(curve: Curve, line: Curve, reach: float) -> bool:
    """Whether the curves' boxes come within reach: most pairs on a sheet do not."""
    (left, top), (right, bottom) = curve.hull_box.tolist()
    (other_left, other_top), (other_right, other_bottom) = line.hull_box.tolist()
    room = reach + SAME_POINT_MM
    return bool(
        left <= other_right + room
        and top <= other_bottom + room
        and other_left - room <= right
        and other_top - room <= bottom
    )


@dataclass(frozen=True, eq=False)
class _Ends:
    """The crossed curves: their segments one after the other."""

    control: FloatArray
    degree: IntArray
    low: FloatArray
    high: FloatArray
    starts: IntArray
    counts: IntArray
    hulls: FloatArray

    @classmethod
    def of(cls, curves: Sequence[Curve]) -> _Ends:
        control, _ = gathered(curves)
        counts = np.array([len(curve) for curve in curves])
        return cls(
            control,
            np.concatenate([curve.degree for curve in curves]),
            control.min(axis=1),
            control.max(axis=1),
            np.cumsum(counts) - counts,
            counts,
            np.array([curve.hull_box for curve in curves]),
        )


@dataclass(frozen=True, eq=False)
class _Paths:
    """The crossing lines as straight pieces, prolonged at their ends."""

    start: FloatArray
    step: FloatArray
    size: FloatArray
    along: FloatArray
    """Arc length at which each piece begins on its line."""
    starts: IntArray
    counts: IntArray

    @classmethod
    def of(cls, lines: Sequence[Curve], reach: float) -> _Paths:
        control, _ = gathered(lines)
        steps = flat_steps(control, _LINE_FLATNESS_MM)
        points = flat_points(control, steps)
        lengths = np.array([len(line) for line in lines])
        ends = np.cumsum(lengths)
        pieces = np.add.reduceat(steps, ends - lengths)
        bounds = np.cumsum(pieces).tolist()
        tails = control[ends - 1, 3]
        outwards = end_tangents(control)
        paths, begun = [], []
        for k, line in enumerate(lines):
            inner = points[bounds[k] - pieces[k] : bounds[k]]
            if reach <= 0.0 or line.closed:
                paths.append(np.vstack([inner, tails[k : k + 1]]))
                begun.append(0.0)
                continue
            before = inner[:1] - reach * outwards[ends[k] - len(line), :1]
            after = tails[k : k + 1] + reach * outwards[ends[k] - 1, 1:]
            paths.append(np.concatenate([before, inner, tails[k : k + 1], after]))
            begun.append(-reach)
        counts = np.array([len(path) - 1 for path in paths])
        start = np.concatenate([path[:-1] for path in paths])
        step = np.concatenate([path[1:] for path in paths]) - start
        size = np.hypot(step[:, 0], step[:, 1])
        starts = np.cumsum(counts) - counts
        total = np.cumsum(size) - size
        along = total - np.repeat(total[starts] - begun, counts)
        return cls(start, step, size, along, starts, counts)


def _near_pieces(
    ends: _Ends, paths: _Paths, first: IntArray, second: IntArray
) -> tuple[IntArray, IntArray]:
    """Pairs, and the pieces of their lines that come near the hull of their curves."""
    owner, offset = each(paths.counts[second])
    piece = paths.starts[second[owner]] + offset
    low, high = ends.hulls[first[owner]].transpose(1, 0, 2)
    start, stop = paths.start[piece], paths.start[piece] + paths.step[piece]
    near = (np.maximum(start, stop) >= low - SAME_POINT_MM).all(axis=1)
    near &= (np.minimum(start, stop) <= high + SAME_POINT_MM).all(axis=1)
    near &= paths.size[piece] > 0.0
    return owner[near], piece[near]


def _hits(
    ends: _Ends, paths: _Paths, first: IntArray, owner: IntArray, piece: IntArray
) -> tuple[IntArray, IntArray, FloatArray, FloatArray]:
    """Crossings of pieces with the segments of their pairs' curves."""
    row, offset = each(ends.counts[first[owner]])
    segment = ends.starts[first[owner[row]]] + offset
    at = piece[row]
    start, stop = paths.start[at], paths.start[at] + paths.step[at]
    near = (np.maximum(start, stop) >= ends.low[segment] - SAME_POINT_MM).all(axis=1)
    near &= (np.minimum(start, stop) <= ends.high[segment] + SAME_POINT_MM).all(axis=1)
    row, segment = row[near], segment[near]
    at = piece[row]
    size = paths.size[at]
    unit = paths.step[at] / size[:, None]
    relative = ends.control[segment] - paths.start[at][:, None]
    x, y = relative[..., 0], relative[..., 1]
    cos, sin = unit[:, 0, None], unit[:, 1, None]
    height, along = cos * y - sin * x, cos * x + sin * y
    # Bezier curves lie in the hull of their control points. What lies on the line all along
    # does not cross it; its neighbours do.
    low, high = height.min(axis=1), height.max(axis=1)
    near = (low <= CONTACT_MM) & (high >= -CONTACT_MM)
    near &= (low < -CONTACT_MM) | (high > CONTACT_MM)
    near &= (along.min(axis=1) <= size) & (along.max(axis=1) >= 0.0)
    which, t = roots(height[near], ends.degree[segment[near]])
    which = np.flatnonzero(near)[which]
    distance = bernstein(along[which], t)
    hit = (distance >= -_ROOT_TOLERANCE) & (distance <= size[which] + _ROOT_TOLERANCE)
    which, t, distance = which[hit], t[hit], distance[hit]
    at = at[which]
    return owner[row[which]], segment[which], t, paths.along[at] + distance


def _distinct(points: FloatArray) -> list[int]:
    """Which of some points are no nearer than `SAME_POINT_MM` to one before them."""
    keep: list[int] = []
    places = points.tolist()
    for i, (x, y) in enumerate(places):
        if all((places[k][0] - x) ** 2 + (places[k][1] - y) ** 2 > SAME_POINT_MM**2 for k in keep):
            keep.append(i)
    return keep


def nearest_position(curve: Curve, point: FloatArray) -> tuple[float, float]:
    """Position on the curve nearest to a point, and its distance in mm."""
    per_segment = 33
    t = np.linspace(0.0, 1.0, per_segment)
    control = np.repeat(curve.control, per_segment, axis=0)
    samples = bezier_points(control, np.tile(t, len(curve)))
    best = int(np.argmin(np.hypot(*(samples - point).T)))
    segment, t0 = divmod(best, per_segment)
    found = [_foot(curve, segment, t[t0], point)]
    # The foot may lie on the other side of a joint: of its two samples the first was taken.
    if t0 == per_segment - 1 and (segment + 1 < len(curve) or curve.closed):
        found.append(_foot(curve, (segment + 1) % len(curve), 0.0, point))
    elif best == 0 and curve.closed:
        found.append(_foot(curve, len(curve) - 1, 1.0, point))
    return min(found, key=lambda foot: foot[1])


def _foot(curve: Curve, segment: int, near: float, point: FloatArray) -> tuple[float, float]:
    """Position and distance of the foot of the perpendicular beside a parameter of a segment."""
    one = curve.control[segment : segment + 1]
    # Plain numbers, by powers of t: numpy is slow with one at a time.
    (ax, ay), (bx, by), (cx, cy), (dx, dy) = (_POWERS @ (one[0] - point)).tolist()
    low, high = max(near - 1 / 32, 0.0), min(near + 1 / 32, 1.0)
    for _ in range(60):
        # (P - point) . P' changes sign there.
        t = 0.5 * (low + high)
        slope = (((ax * t + bx) * t + cx) * t + dx) * ((3.0 * ax * t + 2.0 * bx) * t + cx)
        slope += (((ay * t + by) * t + cy) * t + dy) * ((3.0 * ay * t + 2.0 * by) * t + cy)
        low, high = (low, t) if slope > 0.0 else (t, high)
    foot = bezier_points(one, np.array([0.5 * (low + high)]))[0]
    return segment + 0.5 * (low + high), float(np.hypot(*(foot - point)))


_POWERS: Final = np.array(
    [[-1.0, 3.0, -3.0, 1.0], [3.0, -6.0, 3.0, 0.0], [-3.0, 3.0, 0.0, 0.0], [1.0, 0.0, 0.0, 0.0]]
)
