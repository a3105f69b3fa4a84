"""Outlines in user units as flat numbers, arcs as cubics, and all their curves in mm."""

from __future__ import annotations

import math
from array import array
from collections.abc import Iterable, Sequence
from typing import Final, NamedTuple

import numpy as np

from ..errors import CurveError, SvgError
from ..outline.bezier import LINE, FloatArray, IntArray, line_control, mapped, refuse_unsound
from ..outline.curve import Curve
from ..units import LONGEST_MM
from .affine import Affine, unit_at

ARC_TOLERANCE_MM: Final = 1e-4
"""Largest distance between an arc and its cubics: a hundredth of the flatness of a cut line."""

_WIDEST_RAD: Final = math.pi / 2 * (1.0 + 1e-12)
"""A quarter turn for each cubic at most; the slack keeps an exact quarter in one piece."""

_ROUNDING: Final = 1e-15
"""A chord this near to the diameter is one: near it, asin would magnify the rounding of radii
that were scaled up to reach both ends, to its square root."""

_MOST_PIECES: Final = 4096
"""Enough for a full circle of radius 1e14 mm."""


def arc_control(
    start: complex,
    end: complex,
    radii: tuple[float, float],
    rotation: float,
    large: bool,
    sweep: bool,
    tolerance: float,
) -> FloatArray:
    """Control points of cubics along an arc given by its ends, shape (n, 4, 2).

    *start*, *end*: points x + iy; between equal ones there is no arc, but a cubic of no length.
    *radii*: (float, float). Above zero; if no such ellipse reaches both ends they are scaled up.
    *rotation*: angle of the first radius from the x axis, in degrees. *large*, *sweep*: the arc's
    flags (SVG 2, section 9.3.8). *tolerance*: largest distance from the true arc, in the units of
    the points.

    Raises `SvgError` if the arc is so large that thousands of cubics would not do.

    Notes
    -----
    The ellipse is mapped to the unit circle, where SVG 2's conversion (implementation notes
    B.2.4 and B.2.5) says: the chord is 2 sin(delta/2) long, and if it is longer than 2 the
    radii grow until it is 2. Points and tangents are then taken from the chord (the tangent
    at the start is the chord turned by -delta/2) and not from the centre, which for a nearly
    straight arc lies so far away that subtracting it would lose all digits.

    A linear map lengthens the distance from the circle by at most the larger radius, so the
    bound that `_pieces` has from the circle carries over to the ellipse.
    """
    turn = unit_at(rotation)
    chord_xy = (end - start) * turn.conjugate()
    rx, ry = radii
    half = 0.5 * math.hypot(chord_xy.real / rx, chord_xy.imag / ry)
    if half > 1.0:
        rx, ry = rx * half, ry * half
    if half > 1.0 - _ROUNDING:
        half = 1.0
    chord = complex(chord_xy.real / rx, chord_xy.imag / ry)
    if chord == 0.0:
        # The ends differ by so little, beside the radii or at all, that rounding lost it.
        thirds = np.linspace([start.real, start.imag], [end.real, end.imag], 4)
        return thirds[None]
    delta = 2.0 * math.asin(half)
    if large:
        delta = 2.0 * math.pi - delta
    count = _pieces(delta, max(rx, ry), tolerance)
    circle = _on_circle(chord / abs(chord), delta if sweep else -delta, count)
    plane = start + (circle.real * rx + 1j * (circle.imag * ry)) * turn
    plane[0, 0], plane[-1, 3] = start, end
    return np.stack([plane.real, plane.imag], axis=-1)


def _on_circle(
    direction: complex, signed: float, count: int
) -> np.ndarray[tuple[int, int], np.dtype[np.complex128]]:
    """Control points of cubics along an arc of the unit circle from 0, shape (count, 4).

    *direction*: of its chord. *signed*: the angle that it turns through.
    """
    step = signed / count
    index = np.arange(count + 1)
    tangents = direction * np.exp(1j * (index * step - 0.5 * signed))
    # The chord to the point after the angle i * step is 2 sin(i step / 2) long.
    points = (
        direction
        * np.exp(0.5j * (index * step - signed))
        * (2.0 * np.abs(np.sin(0.5 * index * step)))
    )
    handles = tangents * (4.0 / 3.0 * math.tan(abs(step) / 4.0))
    return np.stack(
        [points[:-1], points[:-1] + handles[:-1], points[1:] - handles[1:], points[1:]], axis=1
    )


def _pieces(delta: float, radius: float, tolerance: float) -> int:
    """Return the fewest equal pieces whose cubics keep to the tolerance.

    The cubic with handles of length (4/3) tan(x/4) over an angle x touches the unit circle at both
    ends and again at its middle, so |B(t)|^2 - 1 = C t^2 (1-t)^2 (1-2t)^2. Its t^6 coefficient is
    4 C = |P3 - 3 P2 + 3 P1 - P0|^2 = 64 sin^6(x/4) / cos^2(x/4), and the polynomial in t is at most
    1/108; hence the cubic lies at most (2/27) sin^6(x/4) / cos^2(x/4) radii off. The order six is
    that of M. Goldapp, "Approximation of circular arcs by cubic polynomials", CAGD 8 (1991),
    227-238.
    """
    # sin x < x and cos^2 x >= cos^2(pi/8) turn the bound into one that can be solved for x.
    share = tolerance / radius * 13.5 * math.cos(math.pi / 8.0) ** 2
    widest = min(_WIDEST_RAD, 4.0 * math.pow(share, 1.0 / 6.0))
    if not delta <= widest * _MOST_PIECES:
        raise SvgError(
            "an arc in it is far larger than any pattern",
            remedy="Check the arc's radii and the transforms of its groups.",
        )
    return max(1, math.ceil(delta / widest))


JOIN_MM: Final = 1e-6
"""Ends nearer than this are one point: a gap of a nanometre is rounding, not drawing."""

_JOIN_RELATIVE: Final = 1e-9
"""The same for files in tiny or huge units, as a share of the largest coordinate."""

_PER_SEGMENT: Final = 8


class Outline(NamedTuple):
    """A chain of segments in user units of any size, as it is drawn.

    *rows*: eight for each segment: x and y of its four control points. The inner ones of a line
    mean nothing. *degrees*: one for each segment, as `panelshift.outline.Curve` has them. *closed*:
    whether it goes back to its start, by a line if it does not end there.
    """

    rows: array[float]
    degrees: bytes
    closed: bool

    @classmethod
    def through(cls, points: Iterable[tuple[float, float]], *, closed: bool) -> Outline:
        """Return straight lines through points."""
        rows = array("d")
        pen: tuple[float, float] | None = None
        for point in points:
            if pen is not None:
                rows.extend((*pen, *pen, *point, *point))
            pen = point
        return cls(rows, bytes((LINE,)) * (len(rows) // _PER_SEGMENT), closed)

    @property
    def is_point(self) -> bool:
        """Whether nothing in it has any length."""
        rows = self.rows
        if len(rows) == 0:
            return True
        x, y = rows[0], rows[1]
        if rows[6] != x or rows[7] != y:
            return False
        return all(value == x for value in rows[::2]) and all(value == y for value in rows[1::2])


def placed(
    outlines: Sequence[Outline], transforms: Sequence[Affine], idents: Sequence[str]
) -> list[Curve]:
    """Return the curves in mm of outlines, none of which is a point, under their transforms.

    Segments of no length are dropped. A closing line is added to a closed outline unless its
    gap is at most `JOIN_MM`, in which case the last end is moved onto the start.
    """
    if not outlines:
        return []
    control = np.frombuffer(b"".join([outline.rows for outline in outlines]))
    control = control.reshape(-1, 4, 2).copy()
    degree = np.frombuffer(b"".join([outline.degrees for outline in outlines]), np.uint8)
    owner = np.repeat(np.arange(len(outlines)), [len(outline.degrees) for outline in outlines])

    moved = (control[:, 1:] != control[:, :1]).any(axis=2)
    # Only the ends of a line count: the handles between equal ends may be rounded apart.
    drawn = moved[:, 2] | ((degree != LINE) & moved.any(axis=1))
    if not drawn.all():
        control, degree, owner = control[drawn], degree[drawn], owner[drawn]

    closing = _closed(control, owner, outlines, transforms)
    if closing:
        places = np.array([place for place, _ in closing])
        control = np.insert(control, places, np.array([line for _, line in closing]), axis=0)
        degree = np.insert(degree, places, LINE)
        owner = np.insert(owner, places, owner[places - 1])
    lines = degree == LINE
    control[lines] = line_control(control[lines, 0], control[lines, 3])

    # A transform of huge numbers overflows; the infinity that it makes is refused below.
    with np.errstate(over="ignore", invalid="ignore"):
        maps = np.array([((t.a, t.c, t.e), (t.b, t.d, t.f)) for t in transforms])
        control = mapped(control, maps[owner])
    starts = np.searchsorted(owner, np.arange(len(outlines) + 1)).tolist()
    if not np.abs(control).max() <= LONGEST_MM:
        _refuse_first(control, starts, idents)
    degrees: IntArray = degree.astype(np.int64)
    control.flags.writeable = degrees.flags.writeable = False
    return [
        Curve.trusted(control[start:end], degrees[start:end], outline.closed)
        for outline, start, end in zip(outlines, starts[:-1], starts[1:], strict=True)
    ]


def _closed(
    control: FloatArray, owner: IntArray, outlines: Sequence[Outline], transforms: Sequence[Affine]
) -> list[tuple[int, FloatArray]]:
    """Return closing lines, each with the row it goes before; close small gaps in place."""
    number = np.flatnonzero([outline.closed for outline in outlines])
    firsts = np.searchsorted(owner, number)
    ends = np.searchsorted(owner, number, side="right")
    gaps = control[firsts, 0] - control[ends - 1, 3]
    found = []
    for k in np.flatnonzero(gaps.any(axis=1)).tolist():
        first, end = int(firsts[k]), int(ends[k])
        extent = float(np.abs(control[first:end]).max())
        limit = max(JOIN_MM / transforms[number[k]].stretch, _JOIN_RELATIVE * extent)
        if float(np.hypot(*gaps[k])) > limit:
            pen, start = control[end - 1, 3], control[first, 0]
            found.append((end, np.array([pen, pen, start, start])))
        else:
            control[end - 1, 3] = control[first, 0]
    return found


def _refuse_first(control: FloatArray, starts: Sequence[int], idents: Sequence[str]) -> None:
    for ident, start, end in zip(idents, starts[:-1], starts[1:], strict=True):
        try:
            refuse_unsound(control[start:end])
        except CurveError as error:
            raise error.located(element=ident) from error
