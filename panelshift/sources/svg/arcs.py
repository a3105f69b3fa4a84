"""Elliptical arcs as cubic Bezier segments, within a proven distance."""

from __future__ import annotations

import math
from typing import Final

import numpy as np

from ...errors import SvgError
from ...outline import FloatArray
from .affine import unit_at

ARC_TOLERANCE_MM: Final = 1e-4
"""Largest distance between an arc and its cubics: a hundredth of the flatness of a cut line."""

_WIDEST_RAD: Final = math.pi / 2 * (1.0 + 1e-12)
"""A quarter turn for each cubic at most; the slack keeps an exact quarter in one piece."""

_ROUNDING: Final = 1e-15
"""A chord this near to the diameter is one: near it, asin would magnify the rounding of radii
that were scaled up to reach both ends, to its square root."""

_MOST_PIECES: Final = 4096
"""Enough for a full circle of radius 1e14 mm."""


def cubic_error(angle: float) -> float:
    """Distance from a unit circle of the usual cubic over an angle in (0, pi], in radii.

    Notes
    -----
    The cubic with handles of length (4/3) tan(angle/4) touches the circle at both ends and
    again at its middle, so |B(t)|^2 - 1 = C t^2 (1-t)^2 (1-2t)^2. Its t^6 coefficient is
    4 C = |P3 - 3 P2 + 3 P1 - P0|^2 = 64 sin^6(angle/4) / cos^2(angle/4), and the polynomial
    in t is at most 1/108; hence 0 <= |B|^2 - 1 <= (4/27) sin^6(angle/4) / cos^2(angle/4),
    and the distance is at most half of that. The order six is that of M. Goldapp,
    "Approximation of circular arcs by cubic polynomials", CAGD 8 (1991), 227-238.

    Examples
    --------
    >>> round(cubic_error(math.pi / 2), 7)
    0.0002726
    """
    sine, cosine = math.sin(angle / 4.0), math.cos(angle / 4.0)
    return (2.0 / 27.0) * sine**6 / cosine**2


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

    Parameters
    ----------
    start, end : complex
        Points x + iy; between equal ones there is no arc, but a cubic of no length.
    radii : (float, float)
        Above zero; if no such ellipse reaches both ends they are scaled up.
    rotation : float
        Angle of the first radius from the x axis, in degrees.
    large, sweep : bool
        The arc's flags (SVG 2, section 9.3.8).
    tolerance : float
        Largest distance from the true arc, in the units of the points.

    Raises
    ------
    SvgError
        If the arc is so large that thousands of cubics would not do.

    Notes
    -----
    The ellipse is mapped to the unit circle, where SVG 2's conversion (implementation notes
    B.2.4 and B.2.5) says: the chord is 2 sin(delta/2) long, and if it is longer than 2 the
    radii grow until it is 2. Points and tangents are then taken from the chord (the tangent
    at the start is the chord turned by -delta/2) and not from the centre, which for a nearly
    straight arc lies so far away that subtracting it would lose all digits.

    A linear map lengthens the distance from the circle by at most the larger radius, so the
    bound of `cubic_error` carries over to the ellipse.
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
    signed = delta if sweep else -delta
    step = signed / count

    # From here on in units of the circle, with the start at 0.
    index = np.arange(count + 1)
    direction = chord / abs(chord)
    tangents = direction * np.exp(1j * (index * step - 0.5 * signed))
    # The chord to the point after the angle i * step is 2 sin(i step / 2) long.
    points = (
        direction
        * np.exp(0.5j * (index * step - signed))
        * (2.0 * np.abs(np.sin(0.5 * index * step)))
    )
    handles = tangents * (4.0 / 3.0 * math.tan(abs(step) / 4.0))
    circle = np.stack(
        [points[:-1], points[:-1] + handles[:-1], points[1:] - handles[1:], points[1:]], axis=1
    )
    plane = start + (circle.real * rx + 1j * (circle.imag * ry)) * turn
    plane[0, 0], plane[-1, 3] = start, end
    return np.stack([plane.real, plane.imag], axis=-1)


def _pieces(delta: float, radius: float, tolerance: float) -> int:
    """Return the fewest equal pieces whose cubics keep to the tolerance."""
    # sin x < x and cos^2 x >= cos^2(pi/8) turn the bound into one that can be solved for x.
    share = tolerance / radius * 13.5 * math.cos(math.pi / 8.0) ** 2
    widest = min(_WIDEST_RAD, 4.0 * math.pow(share, 1.0 / 6.0))
    if not delta <= widest * _MOST_PIECES:
        raise SvgError(
            "an arc in it is far larger than any pattern",
            remedy="Check the arc's radii and the transforms of its groups.",
        )
    return max(1, math.ceil(delta / widest))
