"""Body model by sections: an ellipse or superellipse at each level."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cache
from typing import Final

import numpy as np

from ..errors import BodyError
from ..files.plain_values import refuse_misfits
from ..outline import FloatArray
from .measures import Measures, refuse_girths, refuse_ratios
from .ring import Ring, RingModel, Turn, body_girths, slopes, tilt_of
from .surface import turn_of


@cache
def _rule() -> tuple[FloatArray, FloatArray]:
    """Nodes and weights from 0 to 1, worked out when a superellipse asks for them."""
    nodes, weights = np.polynomial.legendre.leggauss(48)
    return 0.5 * (nodes + 1.0), 0.5 * weights


_BISECTIONS_THEN_NEWTON = 60

LEAST_EXPONENT: Final = 1.1
"""Nearer to 1 a section is a lozenge: nearly all of its turning lies in four corners, and a seam
a hair's breadth from one of them turns through a quarter of it or through nothing."""

_ON_AXIS: Final = 4e-9
"""Parts of a quarter of the perimeter, a millionth of a millimetre. Below exponent 2 the arc from
an axis rises with its m - 1st power (1/n + 1/m = 1): a seam that rounding leaves 1e-16 beside it
would take up to 0.4 rad of the turning there from its panel."""


@dataclass(frozen=True)
class SectionModel(RingModel):
    """Panels laid round a superellipse by arc length from the centre front.

    Parameters
    ----------
    ratio : Measures
        Breadth over depth of the body by height above the waist.
    exponent : float
        2 for an ellipse; larger is squarer. From 1.1 to 20, without a unit.
    girths : Measures, optional
        Girths of the body in mm; where none are given the pattern's own are used.

    Raises
    ------
    BodyError
        If a ratio is not from 0.01 to 100, the exponent not from 1.1 to 20, or a girth is none.

    Notes
    -----
    A panel turns through the angle between the section's normals at its two edges; its edges
    lie where the arc length from the centre front says. Tilt follows from the rate at which
    the support function changes with height, a seam's slant from the rate at which its own
    point runs along the level. (Support functions and Cauchy's formula for the
    perimeter: Santalo, Integral Geometry and Geometric Probability, 1976, chapter 1; from
    memory.)

    Examples
    --------
    Six panels of one width on an ellipse: those at the side turn most.

    >>> from panelshift import DraftPanel, Fabric, Stack, pattern_from_panels, shift_pattern
    >>> pattern = pattern_from_panels([
    ...     DraftPanel(str(k), [(60 * k, 0), (60 * k + 55, 0), (60 * k + 55, 160), (60 * k, 160)],
    ...                [(60 * k, 90), (60 * k + 55, 90)]) for k in range(6)])
    >>> body = SectionModel(Measures.constant(1.4))
    >>> turn = shift_pattern(pattern, Stack([Fabric("drill", 0.5)]), body).turn
    >>> [round(float(np.degrees(turn.angle_at(k, 0.0))), 1) for k in range(6)]
    [19.5, 26.7, 43.9, 43.9, 26.7, 19.5]
    """

    ratio: Measures = field(default_factory=lambda: Measures.constant(1.4))
    exponent: float = 2.0
    girths: Measures | None = None

    def __post_init__(self) -> None:
        refuse_misfits(self, "a section model")
        refuse_ratios(self.ratio)
        refuse_girths(self.girths)
        if not LEAST_EXPONENT <= self.exponent <= 20.0:
            raise BodyError(
                f"superellipse exponent {self.exponent:g} is not from {LEAST_EXPONENT:g} to 20",
                remedy="Use 2 for an ellipse, 2.5 for a squarer section.",
                element="body.exponent",
            )

    def _answer(self, ring: Ring) -> Turn:
        ratio = self.ratio.at(ring.heights)
        girth = body_girths(ring, self.girths)
        breadth, depth = half_axes(girth, ratio, self.exponent)
        normals = normal_at_fraction(ring.fractions(), ratio[:, None], self.exponent)
        tilts = self._tilts(ring.heights, breadth, depth, normals)
        # How fast each seam's own point moves along the level: its part across the meridian.
        points = depth[:, None, None] * _unit_points(normals, ratio[:, None], self.exponent)
        along = np.stack([np.cos(normals), -np.sin(normals)], axis=-1)
        moving = slopes(ring.heights, points.reshape(len(points), -1)).reshape(points.shape)
        slants = np.arctan((moving * along).sum(axis=-1))
        return turn_of(ring.heights, normals, tilts, slants)

    def _tilts(
        self, heights: FloatArray, breadth: FloatArray, depth: FloatArray, normals: FloatArray
    ) -> FloatArray:
        """Tilt where the section's normal has the given directions, shape (m, k + 1).

        A surface whose sections have support function h(normal, v) moves outwards by
        dh/dv, the normal held: the seam's own sideways run has no part in it.
        """
        m = _dual(self.exponent)
        b, d = breadth[:, None], depth[:, None]
        across, along = np.abs(b * np.sin(normals)), np.abs(d * np.cos(normals))
        h = (across**m + along**m) ** (1.0 / m)
        share = across**m / h ** (m - 1.0) / b, along**m / h ** (m - 1.0) / d
        rate = (
            share[0] * slopes(heights, breadth)[:, None]
            + share[1] * slopes(heights, depth)[:, None]
        )
        return tilt_of(rate, "the body's section", heights)


def _dual(exponent: float) -> float:
    """Return the exponent of the support function: 1/n + 1/m = 1 (dual norms)."""
    return exponent / (exponent - 1.0)


def half_axes(
    girth: FloatArray, ratio: FloatArray, exponent: float
) -> tuple[FloatArray, FloatArray]:
    """Half breadth and half depth in mm of superellipses of given girth, shapes (m,)."""
    quarter = _quarter(ratio, exponent)
    depth = girth / (4.0 * quarter)
    return ratio * depth, depth


def section_points(
    fractions: FloatArray,
    half_breadth: float | FloatArray,
    half_depth: float | FloatArray,
    exponent: float = 2.0,
) -> FloatArray:
    """Points of superellipses where given parts of their perimeter have been run.

    *fractions*: ndarray, shape (m,). Parts of the perimeter from the centre front, in [-1/2, 1/2].
    *half_breadth*, *half_depth*: in mm, one or one for each part.

    Returns: ndarray, shape (m, 2): in mm: x along the breadth, y along the depth with the centre
    front at +half_depth.

    Notes
    -----
    With support function h the point of normal N(psi) is h N + h' T.
    """
    ratio = np.atleast_1d(half_breadth / half_depth)
    psi = normal_at_fraction(fractions, ratio, exponent)
    return np.atleast_1d(half_depth)[:, None] * _unit_points(psi, ratio, exponent)


def _unit_points(psi: FloatArray, ratio: FloatArray, exponent: float) -> FloatArray:
    """Points with given normals for half depth 1, shape as psi with one more axis of 2."""
    h, slope = _support(psi, ratio, exponent), _signed_slope(psi, ratio, exponent)
    sine, cosine = np.sin(psi), np.cos(psi)
    return np.stack([h * sine + slope * cosine, h * cosine - slope * sine], axis=-1)


def _signed_slope(psi: FloatArray, ratio: FloatArray, exponent: float) -> FloatArray:
    """Slope of the support function for any angle: it changes sign across each axis."""
    sense = np.where(np.abs(psi) > np.pi / 2.0, -1.0, 1.0) * np.sign(psi)
    return np.asarray(sense * _support_slope(psi, ratio, exponent))


def _support(psi: FloatArray, ratio: FloatArray, exponent: float) -> FloatArray:
    """Support function for half depth 1; psi is measured from the centre front."""
    m = _dual(exponent)
    c, s = np.abs(np.cos(psi)), ratio * np.abs(np.sin(psi))
    return np.asarray((c**m + s**m) ** (1.0 / m))


def _support_slope(psi: FloatArray, ratio: FloatArray, exponent: float) -> FloatArray:
    m = _dual(exponent)
    c, s = np.abs(np.cos(psi)), np.abs(np.sin(psi))
    h = (c**m + (ratio * s) ** m) ** (1.0 / m)
    top = ratio**m * s ** (m - 1.0) * c - c ** (m - 1.0) * s
    return np.asarray(top / h ** (m - 1.0))


def _support_integral(psi: FloatArray, ratio: FloatArray, exponent: float) -> FloatArray:
    """Integral of the support function from 0 to psi, for psi in [0, pi/2]."""
    if exponent == 2.0:
        from scipy.special import ellipeinc

        return np.asarray(ellipeinc(psi, 1.0 - ratio**2))
    # Near the axes h has the shape |psi|^m with m not whole: the substitution x^5 at each
    # end makes Gauss-Legendre converge there. Split where both axes add alike: there h is bent
    # most, and for exponents near 1 over a small angle only.
    middle = np.broadcast_to(np.arctan2(1.0, ratio), psi.shape)
    beyond = np.pi / 2.0 - middle
    low = _from_axis(np.minimum(psi, middle), ratio, exponent, mirrored=False)
    whole = _from_axis(beyond, ratio, exponent, mirrored=True)
    rest = _from_axis(np.minimum(np.pi / 2.0 - psi, beyond), ratio, exponent, mirrored=True)
    return np.where(psi <= middle, low, low + whole - rest)


def _from_axis(
    reach: FloatArray, ratio: FloatArray, exponent: float, *, mirrored: bool
) -> FloatArray:
    nodes, weights = _rule()
    x = reach[..., None] * nodes**5
    angle = np.pi / 2.0 - x if mirrored else x
    value = _support(angle, np.broadcast_to(ratio, reach.shape)[..., None], exponent)
    return np.asarray(reach * (value @ (5.0 * nodes**4 * weights)))


def _quarter(ratio: FloatArray, exponent: float) -> FloatArray:
    return _support_integral(np.full_like(ratio, np.pi / 2.0), ratio, exponent)


def normal_at_fraction(
    fractions: FloatArray, ratio: FloatArray, exponent: float = 2.0
) -> FloatArray:
    """Direction of the normal where a given part of the perimeter has been run.

    *fractions*: parts of the perimeter from the centre front, in [-1/2, 1/2]. *ratio*: breadth over
    depth, broadcast against `fractions`.

    Returns: angles in radians from the direction of the centre front, in [-pi, pi].

    Notes
    -----
    Arc length over the support function: s(psi) = h'(psi) + integral of h. Its derivative is
    the radius of curvature, which is never negative, so bisection cannot fail; Newton's
    steps then give full precision where the radius is positive.
    """
    fractions, ratio = np.broadcast_arrays(fractions, ratio)
    quarters = 4.0 * np.abs(fractions)
    axes = np.round(quarters)
    quarters = np.where(np.abs(quarters - axes) < _ON_AXIS, axes, quarters)
    over = quarters > 1.0
    target = np.where(over, 2.0 - quarters, quarters) * _quarter(ratio, exponent)
    psi = _solve(target, ratio, exponent)
    # By symmetry; near a corner many directions belong to one point, to all digits.
    psi = np.where(quarters % 2.0 == 0.0, 0.0, np.where(quarters == 1.0, np.pi / 2.0, psi))
    psi = np.where(over, np.pi - psi, psi)
    return np.asarray(np.copysign(psi, fractions))


def _solve(target: FloatArray, ratio: FloatArray, exponent: float) -> FloatArray:
    low, high = np.zeros_like(target), np.full_like(target, np.pi / 2.0)
    psi = np.full_like(target, np.pi / 4.0)
    for _ in range(_BISECTIONS_THEN_NEWTON):
        arc = _support_slope(psi, ratio, exponent) + _support_integral(psi, ratio, exponent)
        short = arc < target
        low, high = np.where(short, psi, low), np.where(short, high, psi)
        step = (target - arc) / np.maximum(_radius(psi, ratio, exponent), 1e-12)
        guess = psi + step
        safe = (guess > low) & (guess < high)
        following = np.where(safe, guess, 0.5 * (low + high))
        if float(np.abs(following - psi).max(initial=0.0)) < 1e-14:
            break
        psi = following
    return psi


def _radius(psi: FloatArray, ratio: FloatArray, exponent: float) -> FloatArray:
    """Radius of curvature h + h'' for half depth 1."""
    m = _dual(exponent)
    c = np.maximum(np.abs(np.cos(psi)), 1e-12)
    s = np.maximum(np.abs(np.sin(psi)), 1e-12)
    h = (c**m + (ratio * s) ** m) ** (1.0 / m)
    return np.asarray((m - 1.0) * ratio**m * (c * s) ** (m - 2.0) / h ** (2.0 * m - 1.0))
