"""The closed convex curve that lies nearest to points somebody traced."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from scipy.optimize import lsq_linear

from ..body.support import ORDER, ComplexArray, Sections
from ..errors import FormError
from ..outline import FloatArray

DIRECTIONS: Final = 72

LEAST_RADIUS_MM: Final = 8.0
"""Under cloth no part of a trunk is bent more tightly: a hip bone has about this."""

WEIGHT: Final = 0.03
"""Of a second difference of radii against a distance, both in mm. From trials on 30 hulls of
slices of a woman and a man, traced every 4 mm with noise of 0 to 3 mm: growth by panel is then off
by 10 to 15 %, with ten times the weight by 25. A body is flat behind and sharp at the side."""


_LASTING: Final = 4
"""Points along which a hand's error may last."""

_STIFFER: Final = (50.0, 15.0, 5.0, 2.0, 1.0, 1.0, 1.0)
"""By how much more at first: normals are renewed on curves that come to bend more and more."""


@dataclass(frozen=True, eq=False)
class Fitted:
    """A section with what the points differ from it, in mm (outside is positive).

    `hollow` is how far the deepest point lies behind the hull of all of them, and `reach` how long
    the hull is, in mm.
    """

    sections: Sections
    residuals: FloatArray
    hollow: float
    reach: float

    @property
    def rms(self) -> float:
        """Root mean square of the residuals in mm."""
        return float(np.sqrt(np.mean(self.residuals**2)))

    @property
    def noise(self) -> float:
        """Standard deviation in mm of points that err each by itself and leave as much open.

        A hand's errors last for some of the points: n of them tell no more than n / f do whose
        squares of residuals are the same, f being the sum of their correlations with each other.
        """
        away = self.residuals - self.residuals.mean()
        power = np.abs(np.fft.rfft(away)) ** 2
        near = np.fft.irfft(power)[:_LASTING] / max(float((away**2).sum()), 1e-12)
        return self.rms * float(np.sqrt(max(2.0 * near.sum() - near[0], 1.0)))


def convex_fit(points: FloatArray, *, symmetric: bool = False) -> Fitted:
    """Fit a convex closed curve to points.

    *points*: ndarray, shape (n, 2). In mm, in any order; x to the wearer's left, y to the front.
    *symmetric*: whether the curve is its own mirror image in x = 0: for half curves.

    Raises `FormError` if there are fewer than eight points, or they lie on one line.

    Notes
    -----
    Unknown are the radii of curvature rho_j >= 8 mm in 72 directions and the place (x, y): the
    support function is linear in them, h = G rho + x sin(psi) + y cos(psi), G being Green's
    function of h + h'' = rho. The squares of the points' normal distances and of `WEIGHT` times the
    second differences of rho are least; the normals are renewed seven times. The curve is convex
    by construction.
    """
    points = np.asarray(points, dtype=np.float64)
    if len(points) < 8:
        raise FormError(
            f"{len(points)} points are too few for a section",
            remedy="Trace the whole curve, or give a point every 30 mm.",
        )
    middle = 0.5 * (points.min(axis=0) + points.max(axis=0))
    if symmetric:
        points = np.vstack([points, points * np.array([-1.0, 1.0])])
        middle[0] = 0.0
    local = points - middle
    span = float(np.linalg.svd(local, compute_uv=False)[-1]) / np.sqrt(len(local))
    if span < LEAST_RADIUS_MM:
        raise FormError("the points lie on one line", remedy="Trace a closed curve round the body.")
    psi = np.arctan2(local[:, 0], local[:, 1])
    radii = np.full(DIRECTIONS, float(np.hypot(*local.T).mean()))
    place = np.zeros(2)
    for stiffer in _STIFFER:
        psi = _nearest(local, radii, place, psi)
        radii, place = _solved(local, psi, stiffer * WEIGHT)
    series = _series(radii, place + middle)
    distances = _distances(local, radii, place, psi)
    sections = Sections(series[None])
    if symmetric:
        sections = sections.symmetric()
    return Fitted(sections, distances, *_hull(local))


def _hull(local: FloatArray) -> tuple[float, float]:
    """Depth of the deepest point below the hull in mm, over 360 directions, and the hull's length.

    The length is by Cauchy's formula: the mean width of a convex curve times pi.
    """
    psi = np.radians(np.arange(360.0))
    reach = local @ np.stack([np.sin(psi), np.cos(psi)])
    farthest = reach.max(axis=0)
    return float((farthest - reach).min(axis=1).max()), float(2.0 * np.pi * farthest.mean())


def _waves(psi: FloatArray) -> FloatArray:
    """h at directions for unit radii: shape (n, DIRECTIONS).

    Radii are those of a trigonometric interpolation; each harmonic k of rho gives h its part
    divided by 1 - k^2, and the first belongs to the place.
    """
    grid = 2.0 * np.pi * np.arange(DIRECTIONS) / DIRECTIONS
    k = np.arange(2, DIRECTIONS // 2)
    # The cosine of a difference is a product: a sum over k is one product of matrices.
    there, here = np.exp(1j * psi[:, None] * k), np.exp(-1j * k[:, None] * grid)
    series = 2.0 * ((there / (1.0 - k**2)) @ here).real
    return np.asarray((1.0 + series) / DIRECTIONS)


def _solved(local: FloatArray, psi: FloatArray, weight: float) -> tuple[FloatArray, FloatArray]:
    """Radii and place for fixed normals."""
    normals = np.column_stack([np.sin(psi), np.cos(psi)])
    target = np.einsum("ij,ij->i", local, normals)
    low = np.concatenate([np.full(DIRECTIONS, LEAST_RADIUS_MM), np.full(2, -np.inf)])
    found = lsq_linear(
        np.vstack(_equations(psi, weight)),
        np.concatenate([target, np.zeros(DIRECTIONS + 2)]),
        (low, np.full(DIRECTIONS + 2, np.inf)),
        # Exact, by active sets: the interior method stops anywhere when it runs out of steps.
        method="bvls",
    ).x
    return found[:DIRECTIONS], found[DIRECTIONS:]


def _equations(psi: FloatArray, weight: float) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Distances of points with normals psi, second differences of radii, and what closes."""
    matrix = np.hstack([_waves(psi), np.column_stack([np.sin(psi), np.cos(psi)])])
    bending = np.zeros((DIRECTIONS, DIRECTIONS + 2))
    index = np.arange(DIRECTIONS)
    weight *= np.sqrt(len(psi) / DIRECTIONS)
    bending[index, index] = -2.0 * weight
    bending[index, (index + 1) % DIRECTIONS] += weight
    bending[index, (index - 1) % DIRECTIONS] += weight
    # The first harmonic of the radii is nothing for a closed curve.
    grid = 2.0 * np.pi * index / DIRECTIONS
    closing = np.zeros((2, DIRECTIONS + 2))
    closing[0, :DIRECTIONS], closing[1, :DIRECTIONS] = np.cos(grid), np.sin(grid)
    return matrix, bending, 1e3 * closing


def _nearest(
    local: FloatArray, radii: FloatArray, place: FloatArray, psi: FloatArray
) -> FloatArray:
    """Directions of the normals of the curve through each point, of all 360 the nearest."""
    series = Sections(_series(radii, place)[None])
    grid = 2.0 * np.pi * np.arange(720)[None] / 720
    curve = series.points(grid)[0]
    # The nearest corner of a fine polygon: its normal is right to a quarter of a degree.
    away = (curve**2).sum(axis=1) - 2.0 * local @ curve.T
    return np.asarray(grid[0, np.argmin(away, axis=1)])


def _distances(
    local: FloatArray, radii: FloatArray, place: FloatArray, psi: FloatArray
) -> FloatArray:
    normals = np.column_stack([np.sin(psi), np.cos(psi)])
    return np.asarray(np.einsum("ij,ij->i", local, normals) - _waves(psi) @ radii - normals @ place)


def _series(radii: FloatArray, place: FloatArray) -> ComplexArray:
    """Fourier coefficients of the support function, to the order that sections keep."""
    waves = np.fft.fft(radii)[: ORDER + 1] / DIRECTIONS
    k = np.arange(ORDER + 1)
    half = DIRECTIONS // 2
    result = np.zeros(ORDER + 1, dtype=np.complex128)
    kept = (k != 1) & (k < half)
    result[kept] = waves[kept] / (1.0 - k[kept] ** 2)
    result[0] = result[0].real
    result[1] = 0.5 * (place[1] - 1j * place[0])
    return result
