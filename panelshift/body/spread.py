"""What is not known of a body, as plus or minus of growth and of seams' lengths."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from ..outline import FloatArray
from .classes import body_girths
from .column import Levels
from .measures import Measures
from .ring import Ring, Spread, Turn, slopes
from .support import ORDER, ComplexArray, Sections

COVER_95: Final = 1.959964
"""Half width of the interval that holds 95 % of a normal quantity, in standard deviations."""

_COUNT: Final = 120
_STEP_MM: Final = 25.0
_SEED: Final = 20240229
_K = np.arange(ORDER + 1)


@dataclass(frozen=True, eq=False)
class Draws:
    """Sections of many bodies at a few heights, body by body.

    Parameters
    ----------
    shape, changing : ndarray of complex, shape (bodies, heights, ORDER + 1)
        As in `Levels`: for a radius of 1 mm, and its rate for each mm of height.
    middles, moving : ndarray of complex, shape (bodies, heights)
    """

    shape: ComplexArray
    changing: ComplexArray
    middles: ComplexArray
    moving: ComplexArray

    @classmethod
    def joined(cls, parts: Sequence[Draws]) -> Draws:
        """Draws of several kinds of bodies together."""
        return cls(
            *(
                np.concatenate([getattr(part, name) for part in parts])
                for name in ("shape", "changing", "middles", "moving")
            )
        )

    def levels(self) -> Levels:
        """All of them in rows, body by body."""
        return Levels(
            Sections(self.shape.reshape(-1, ORDER + 1)),
            self.middles.reshape(-1),
            Sections(self.changing.reshape(-1, ORDER + 1)),
            self.moving.reshape(-1),
        )


def drawn_forms(
    mean: Levels,
    wave_sd: FloatArray,
    place_sd: FloatArray,
    waist_radius: float,
    count: int,
    *,
    keep_ratio: bool = False,
) -> Draws:
    """Draw bodies round a mean form, each wave by itself and alike at all heights.

    Parameters
    ----------
    mean : Levels
    wave_sd : ndarray, shape (heights, ORDER + 1)
        Standard deviation of a_k = 2 c_k / c_0.
    place_sd : ndarray, shape (heights,)
        Of the place in radii of the waist.
    waist_radius : float
        In mm.
    count : int
        Bodies to draw, even: each comes with its opposite, so that their mean is the form.
    keep_ratio : bool
        Whether breadth over depth is known: the second wave, which is nearly that, stays.
    """
    chance = np.random.default_rng(_SEED).standard_normal((count // 2, ORDER + 2))
    chance = np.concatenate([chance, -chance])[:, None]
    sd = 0.5 * wave_sd * ((2 if keep_ratio else 1) < _K)
    shape = mean.shape.coefficients + chance[..., :-1] * sd
    middles = mean.middles + chance[..., -1] * 0.5 * waist_radius * place_sd
    whole = (len(shape), *mean.shape.coefficients.shape)
    return Draws(
        shape,
        np.broadcast_to(mean.changing.coefficients, whole),
        middles,
        np.broadcast_to(mean.moving, whole[:2]),
    )


def with_spread(
    turn: Turn,
    ring: Ring,
    given: Measures | None,
    draws: Callable[[FloatArray, int], Draws],
) -> Turn:
    """A turn that can say how far its body may be from the wearer's, when asked."""
    return replace(turn, doubt=lambda: _spread(turn, ring, given, draws))


def _spread(
    turn: Turn,
    ring: Ring,
    given: Measures | None,
    draws: Callable[[FloatArray, int], Draws],
) -> Spread:
    """Lay the panels on each drawn body, at a few heights, and see how far they differ.

    Heights are taken along the panels and the tilts' changes between bodies by their sines:
    what is sought is a difference, not a place.
    """
    count = max(int(np.ceil((ring.heights[-1] - ring.heights[0]) / _STEP_MM)), 2) + 1
    heights = np.linspace(ring.heights[0], ring.heights[-1], count)
    bodies = draws(heights, _COUNT)
    levels = bodies.levels()
    many = len(bodies.shape)

    def coarse(values: FloatArray) -> FloatArray:
        columns = values.reshape(len(values), -1).T
        return np.array([np.interp(heights, ring.heights, column) for column in columns]).T

    girths = body_girths(ring, given)
    radii = np.tile(coarse(girths)[:, 0], many) / (2.0 * np.pi)
    rates = np.tile(coarse(slopes(ring.heights, girths))[:, 0], many) / (2.0 * np.pi)
    parts = np.tile(coarse(ring.arcs() / ring.girths[:, None]), (many, 1))
    normals = levels.shape.normals(parts)
    outward = levels.still(normals, radii) + rates[:, None] * levels.shape.support(normals)
    tilts = np.arctan(outward)
    seams = (many, count, -1)
    # A body's own tilt changes with height by what its shape changes: a difference in shape
    # that is alike at all heights shows only through the girth.
    lengthening = tilts.reshape(seams)
    waist = int(np.argmin(np.abs(heights)))
    lengthening = lengthening[:, waist : waist + 1] - lengthening
    cosines = np.cos(tilts)
    growth = np.diff(normals, axis=1) * 0.5 * (cosines[:, 1:] + cosines[:, :-1])
    growth = growth.reshape(seams)
    names, values = _measures(levels, radii, many, waist)
    return Spread(
        heights,
        COVER_95 * _deviation(growth),
        COVER_95 * _deviation(lengthening),
        _narrowed(growth, names, values, heights),
    )


def _deviation(values: FloatArray) -> FloatArray:
    """Standard deviation over bodies, shape without the first axis."""
    return np.asarray(values.std(axis=0))


def _measures(
    levels: Levels, radii: FloatArray, many: int, waist: int
) -> tuple[tuple[str, ...], FloatArray]:
    """What a tape would show on each drawn body, shape (measures, bodies, heights)."""
    quarter = 0.5 * np.pi
    ahead = np.array([[0.0, np.pi, quarter, -quarter]])
    sections = levels.sections(radii)
    h = sections.support(np.repeat(ahead, len(radii), axis=0))
    breadth, depth = h[:, 2] + h[:, 3], h[:, 0] + h[:, 1]
    front = h[:, 0].reshape(many, -1)
    named = {
        "breadth over depth": (breadth / depth).reshape(many, -1),
        "front arc": sections.arc_between(-quarter, quarter).reshape(many, -1),
        "front stand-out": front - front[:, waist : waist + 1],
    }
    return tuple(named), np.array(list(named.values()))


def _narrowed(
    growth: FloatArray, names: tuple[str, ...], values: FloatArray, heights: FloatArray
) -> tuple[tuple[str, float, float], ...]:
    """Each measure, its height, and the part of growth's variance that knowing it removes.

    That of a straight line through the drawn bodies: the square of the correlation, weighted
    by the variance of each panel's growth; from the most to the least.
    """
    y = (growth - growth.mean(axis=0)).reshape(len(growth), -1)
    x = values - values.mean(axis=1, keepdims=True)
    whole = float((y * y).sum())
    found = []
    for name, rows in zip(names, x, strict=True):
        power = (rows * rows).sum(axis=0)
        gained = ((rows.T @ y) ** 2).sum(axis=1) / np.maximum(power, 1e-12) / max(whole, 1e-12)
        best = int(np.argmax(gained))
        found.append((name, float(heights[best]), float(gained[best])))
    return tuple(sorted(found, key=lambda item: -item[2]))
