"""Checks on flattened outlines: the only module that knows shapely.

shapely answers questions (is it simple, what contains what, do they overlap); it never
draws a line that a maker cuts.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry import LineString, Point, Polygon
from shapely.validation import explain_validity

from .bezier import FloatArray, IntArray, flat_points, flat_steps
from .curve import FLATNESS_MM, Curve
from .many import gathered

_FEWEST_CORNERS = 4
"""Of fewer points GEOS makes no ring that can be asked."""

_NO_STEP_MM = 1e-6
"""Spikes of rounding size at joints are not crossings that a maker could see."""


def polygon(curve: Curve, tolerance: float = FLATNESS_MM) -> Polygon:
    """Return a closed curve as a polygon of its flattened points."""
    points = curve.flatten(tolerance)
    if len(points) < 4:
        # A line drawn there and back is closed; shapely asks for four points all the same.
        points = np.vstack([points, points[-1:]])
    return Polygon(points)


def line(curve: Curve, tolerance: float = FLATNESS_MM) -> LineString:
    """Return a curve as a line string of its flattened points."""
    return LineString(curve.flatten(tolerance))


def self_crossing(curve: Curve, tolerance: float = FLATNESS_MM) -> FloatArray | None:
    """Return a point (mm) where a closed curve crosses or touches itself, or None."""
    points = curve.flatten(tolerance)
    steps = np.hypot(*np.diff(points, axis=0).T)
    keep = np.concatenate([[True], steps > _NO_STEP_MM])
    points = points[keep]
    if len(points) < _FEWEST_CORNERS:
        # A line drawn there and back lies on itself all along.
        return np.asarray(points[0])
    shape = Polygon(points)
    if shape.is_valid:
        return None
    words = explain_validity(shape)
    numbers = words[words.find("[") + 1 : words.find("]")].split()
    return np.array([float(number) for number in numbers[:2]])


def self_crossings(
    curves: Sequence[Curve], tolerance: float = FLATNESS_MM
) -> list[tuple[int, FloatArray]]:
    """Which of some closed curves cross themselves: their numbers, and where each does.

    All are flattened and looked at in one go, which costs little more than one by itself.
    """
    if not curves:
        return []
    control, curve_of = gathered(curves)
    steps = flat_steps(control, tolerance)
    points, ring = flat_points(control, steps), np.repeat(curve_of, steps)
    moved = np.hypot(*np.diff(points, axis=0, prepend=np.inf).T) > _NO_STEP_MM
    moved |= np.diff(ring, prepend=-1) != 0
    points, ring = points[moved], ring[moved]
    suspects = np.arange(len(curves))
    if np.bincount(ring, minlength=len(curves)).min() >= _FEWEST_CORNERS:
        shapes = shapely.polygons(shapely.linearrings(points, indices=ring))
        suspects = np.flatnonzero(~shapely.is_valid(shapes))
    found = ((index, self_crossing(curves[index], tolerance)) for index in suspects.tolist())
    return [(index, at) for index, at in found if at is not None]


def area(curve: Curve) -> float:
    """Area inside a closed curve in mm^2 (of its flattened polygon)."""
    x, y = (curve.flatten() - curve.start).T
    return abs(float(x[:-1] @ y[1:] - x[1:] @ y[:-1])) / 2.0


def contains(outer: Curve, inner: Curve) -> bool:
    """Whether a closed curve contains another curve, which may touch it."""
    return bool(polygon(outer).buffer(1e-3).contains(line(inner)))


def overlap(one: Curve, two: Curve) -> float:
    """Which part of the smaller of two closed curves' areas lies in the other, 0 to 1."""
    first, second = polygon(one).buffer(0.0), polygon(two).buffer(0.0)
    least = min(first.area, second.area)
    return float(first.intersection(second).area / least) if least > 0.0 else 0.0


def distance(outline: Curve, point: FloatArray) -> float:
    """Distance in mm of a point from the area inside a closed outline; 0 inside."""
    return float(polygon(outline).distance(Point(point)))


class Areas:
    """The areas inside some closed outlines, to be asked many questions."""

    def __init__(self, outlines: Sequence[Curve]) -> None:
        self._shapes = np.array([polygon(outline) for outline in outlines], dtype=object)
        shapely.prepare(self._shapes)

    def shares(self, which: Sequence[int], marks: Sequence[Curve]) -> list[float]:
        """Part of each mark's length, 0 to 1, that lies inside the outline of that number."""
        areas = self._shapes[np.asarray(which, dtype=np.int64)]
        lines = [mark.flatten() for mark in marks]
        index = np.repeat(np.arange(len(lines)), [len(points) for points in lines])
        points = np.concatenate([np.zeros((0, 2)), *lines])
        drawn = np.asarray(shapely.linestrings(points, indices=index), dtype=object)
        result: list[float] = shapely.contains(areas, drawn).astype(np.float64).tolist()
        for k in [k for k, share in enumerate(result) if share == 0.0]:
            size = float(drawn[k].length)
            if size == 0.0:
                # GEOS before 3.13 warns of the distance from a line that has no length.
                result[k] = float(areas[k].distance(Point(marks[k].start)) == 0.0)
            elif shapely.intersects(areas[k], drawn[k]):
                result[k] = float(areas[k].intersection(drawn[k]).length) / size
        return result

    def distances(self, which: Sequence[int], points: npt.ArrayLike) -> FloatArray:
        """Distance in mm of each point from the area of that number; 0 inside."""
        places = np.asarray(points, dtype=np.float64).reshape(-1, 2)
        areas = self._shapes[np.asarray(which, dtype=np.int64)]
        found: FloatArray = np.asarray(shapely.distance(areas, shapely.points(places)))
        return found

    def touched(self, which: Sequence[int], points: FloatArray, within: float) -> int | None:
        """Of some outlines, by number, the one that comes nearest to any of some points.

        None if none comes within so many mm.
        """
        if not which:
            return None
        asked = [k for k in which for _ in points]
        gaps = self.distances(asked, np.tile(points, (len(which), 1)))
        best = int(np.argmin(gaps))
        return asked[best] if gaps[best] <= within else None


def outer_ring(points: FloatArray) -> tuple[FloatArray, IntArray]:
    """Outer ring of all that a closed polyline, shape (n, 2), goes round.

    Returns its corners, shape (m, 2), clockwise with y upwards, and for each the number of the
    polyline's chord that the ring runs along from there, in the chord's direction if it can.
    """
    closed = np.vstack([points, points[:1]])
    chords = np.asarray(shapely.linestrings(np.stack([points, closed[1:]], axis=1)))
    # On a grid two strands that differ by rounding are one, with nothing between them.
    faces = shapely.polygonize([shapely.unary_union(LineString(closed), grid_size=_GRID_MM)])
    whole = shapely.get_parts(shapely.unary_union(faces))
    largest = whole[int(np.argmax(shapely.area(whole)))]
    border = shapely.get_exterior_ring(largest)
    ring = np.asarray(shapely.get_coordinates(border))[:: -1 if shapely.is_ccw(border) else 1]
    step = np.diff(ring, axis=0)
    edge, chord = shapely.STRtree(chords).query(
        shapely.points(ring[:-1] + 0.5 * step), predicate="dwithin", distance=_ON_CHORD_MM
    )
    along = closed[chord + 1] - points[chord]
    same = (along * step[edge]).sum(axis=1)
    same /= np.maximum(np.hypot(*along.T) * np.hypot(*step[edge].T), 1e-30)
    best = np.lexsort((chord, -np.round(same, 6), edge))
    _, first = np.unique(edge[best], return_index=True)
    return ring[:-1], chord[best][first]


_GRID_MM = 1e-6
_ON_CHORD_MM = 5e-6


def inner_pieces(pieces: Sequence[Curve]) -> list[bool]:
    """Tell which open pieces lie inside the area that all of them enclose together.

    Used to part the pieces of an outline from lines drawn across it.
    """
    lines = [line(piece) for piece in pieces]
    faces = shapely.polygonize([shapely.unary_union(lines)])
    whole = shapely.unary_union(faces)
    inside = whole.buffer(-0.05)
    return [bool(inside.contains(drawn.interpolate(0.5, normalized=True))) for drawn in lines]


def boxes_touched(
    lines: Sequence[FloatArray], boxes: Sequence[tuple[float, float, float, float]]
) -> npt.NDArray[np.bool_]:
    """Tell which boxes (xmin, ymin, xmax, ymax) any of the polylines enters, shape (m,)."""
    owners = np.repeat(np.arange(len(lines)), [len(line) for line in lines])
    points = np.concatenate([np.zeros((0, 2)), *lines])
    return _touched(np.asarray(shapely.linestrings(points, indices=owners)).ravel(), boxes)


def boxes_overlapped(
    areas: FloatArray, boxes: Sequence[tuple[float, float, float, float]]
) -> npt.NDArray[np.bool_]:
    """Tell which boxes (xmin, ymin, xmax, ymax) any of the areas meets, shape (m,).

    *areas*: ndarray, shape (n, k, 2): corners of each in order round it.
    """
    return _touched(np.asarray(shapely.polygons(areas)).ravel(), boxes)


def _touched(
    things: npt.NDArray[np.object_], boxes: Sequence[tuple[float, float, float, float]]
) -> npt.NDArray[np.bool_]:
    sides = shapely.box(*np.asarray(boxes, dtype=np.float64).T)
    hits = shapely.STRtree(things).query(sides, predicate="intersects")
    result = np.zeros(len(boxes), dtype=np.bool_)
    result[hits[0]] = True
    return result


def outward(ring: FloatArray, clearance: float, tolerance: float) -> FloatArray:
    """Plain ring round a closed ring that leaves a clearance all round, shape (m, 2), open.

    *ring*: ndarray, shape (n, 2). *clearance*: in mm: no point of the result is nearer to the ring.
    *tolerance*: in mm: how much further away the result may be, to have few corners.
    """
    # The arcs of the buffer are polygons inside their circles, hence the cosine; the plain
    # line may be a tolerance nearer than the buffer's, hence the tolerance added first.
    reach = (clearance + tolerance) / np.cos(np.pi / (4.0 * _CORNER_SEGMENTS))
    shape = Polygon(ring).buffer(reach, quad_segs=_CORNER_SEGMENTS).simplify(tolerance)
    outer: FloatArray = shapely.get_coordinates(shapely.get_exterior_ring(shape))
    return outer[:-1]


_CORNER_SEGMENTS = 4


def unfolded(ring: FloatArray, start: FloatArray, end: FloatArray) -> FloatArray:
    """Outer ring of a closed ring together with its mirror image, shape (m, 2).

    *ring*: ndarray, shape (n, 2). In mm. *start*, *end*: ndarray, shape (2,). Two points of the
    fold, about which the ring is mirrored.
    """
    along = (end - start) / np.hypot(*(end - start))
    across = np.array([-along[1], along[0]])
    image = ring - 2.0 * ((ring - start) @ across)[:, None] * across
    # On a grid of a tenth of a micrometre both halves have their edge on the fold in common.
    whole = shapely.union(Polygon(ring).buffer(0.0), Polygon(image).buffer(0.0), grid_size=1e-4)
    largest = max(shapely.get_parts(whole), key=lambda part: float(part.area))
    return np.asarray(largest.exterior.coords)


def too_near(rings: Sequence[FloatArray], clearance: float) -> list[tuple[int, int]]:
    """Pairs of closed rings that overlap or are nearer to each other than a clearance.

    *rings*: sequence of ndarray, shape (n, 2). In mm. *clearance*: in mm; below 0 rings may overlap
    by so much.
    """
    shapes = np.array([Polygon(ring) for ring in rings])
    if clearance < 0.0:
        shapes = shapely.buffer(shapes, 0.5 * clearance)
    least = max(clearance, 1e-9)
    first, second = shapely.STRtree(shapes).query(shapes, predicate="dwithin", distance=least)
    apart = shapely.distance(shapes[first], shapes[second])
    near = (first < second) & (apart < least)
    return [(int(i), int(j)) for i, j in zip(first[near], second[near], strict=True)]


def ring_area(ring: FloatArray) -> float:
    """Area inside a closed ring in mm^2."""
    return float(Polygon(ring).area)
