"""What is not known of a body, as plus or minus of growth and of seams' lengths."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import partial
from typing import Final

import numpy as np

from ..outline import FloatArray
from .column import Column, Levels, Modes
from .measures import Measures
from .ring import Ring, RingModel, Spread, Turn, body_girths, slopes
from .support import ORDER, ComplexArray, Sections
from .surface import laid, turned_to

COVER_95: Final = 1.959964
"""Half width of the interval that holds 95 % of a normal quantity, in standard deviations."""

_COUNT: Final = 160
_STEP_MM: Final = 25.0
_SEED: Final = 20240229


def chances(what: int, bodies: int, *shape: int) -> FloatArray:
    """Independent normal numbers, shape (bodies, ...); each body comes with its opposite.

    So their mean is nothing, and that of the drawn bodies is the form itself. *what*: those for
    one thing do not depend on those for another.
    """
    half = np.random.default_rng((_SEED, what)).standard_normal((bodies // 2, *shape))
    return np.concatenate([half, -half])


def mixed(parts: FloatArray, rows: FloatArray) -> FloatArray:
    """Sums of modes at heights, shape (m, n, k), each by its part in a body, (bodies, n).

    As one product of matrices, which takes a tenth of the time that einsum does.
    """
    flat = rows.swapaxes(0, 1).reshape(rows.shape[1], -1)
    return np.asarray((parts @ flat).reshape(len(parts), len(rows), -1))


def conditioned(
    rows: FloatArray, lacking: FloatArray, error: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """What some linear functions tell of independent normal numbers z of variance 1.

    *rows*: ndarray, shape (t, n). The functions, of the numbers. *lacking*: ndarray, shape (t,).
    What was found less what z = 0 would give. *error*: ndarray, shape (t, t). Covariance of that
    besides.

    Returns: the conditional mean, shape (n,), and what times independent normal numbers z may
    differ from it by, shape (n, n).

    Notes
    -----
    With K = H' (H H' + E)^-1 the mean is K times what they lack, and the covariance I - K H (Gauss
    and Markov).
    """
    gain = np.linalg.solve(rows @ rows.T + error, rows).T
    left = np.eye(rows.shape[1]) - gain @ rows
    values, vectors = np.linalg.eigh(0.5 * (left + left.T))
    return gain @ lacking, vectors * np.sqrt(np.maximum(values, 0.0))


@dataclass(frozen=True, eq=False)
class Draws:
    """Sections of many bodies at a few heights, body by body.

    *shape*, *changing*: ndarray of complex, shape (bodies, heights, ORDER + 1). As in `Levels`: for
    a radius of 1 mm, and its rate for each mm of height. *middles*, *moving*: ndarray of complex,
    shape (bodies, heights).
    """

    shape: ComplexArray
    changing: ComplexArray
    middles: ComplexArray
    moving: ComplexArray

    @classmethod
    def around(cls, form: Column, modes: Modes, heights: FloatArray, count: int) -> Draws:
        """Bodies that differ from a form by modes."""
        mean, at = form.at(heights), modes.at(heights)
        parts = chances(0, count, modes.count)
        values, rates = (mixed(parts, rows) for rows in (at.values, at.rates))
        return cls(
            mean.shape.coefficients + values[..., :-1],
            mean.changing.coefficients + rates[..., :-1],
            mean.middles + values[..., -1],
            mean.moving + rates[..., -1],
        )

    def levels(self) -> Levels:
        """All of them in rows, body by body."""
        return Levels(
            Sections(self.shape.reshape(-1, ORDER + 1)),
            self.middles.reshape(-1),
            Sections(self.changing.reshape(-1, ORDER + 1)),
            self.moving.reshape(-1),
        )


class ColumnModel(RingModel):
    """A body model that knows or guesses sections: panels are laid round them.

    A subclass has a `_column` and `_draws`. Its turn can say how far the body may be from the
    wearer's, and works that out when asked.
    """

    girths: Measures | None = None

    def column(self, ring: Ring) -> Column:
        """The sections on which a ring of panels is laid."""
        return self._column(ring)

    def section_at(self, ring: Ring, turn: Turn, height: float) -> tuple[Sections, FloatArray]:
        """The section on which the panels lie at a height along them, and the seams' normals."""
        section, normals = self.sections_at(ring, turn, np.array([height]))
        return section, normals[0]

    def sections_at(
        self, ring: Ring, turn: Turn, heights: FloatArray
    ) -> tuple[Sections, FloatArray]:
        """Sections on which the panels lie at heights along them, (m,), and the seams' normals.

        They are taken at the seams' mean upright height: one level of the panels is hardly ever
        one level of the body.
        """
        column = turned_to(self.column(ring), ring)
        normals = np.array([_at(turn, turn.normals, float(height)) for height in heights])
        upright = heights
        if column.upright:
            upright = np.array([mean_upright(turn, float(height)) for height in heights])
        radii = np.interp(heights, ring.heights, body_girths(ring, self.girths)) / (2.0 * np.pi)
        return column.at(upright).sections(radii), normals

    def _column(self, ring: Ring) -> Column:
        raise NotImplementedError

    def _draws(self, ring: Ring, heights: FloatArray, count: int) -> Draws:
        """Bodies that might be the wearer's, at upright heights in mm above the waist."""
        raise NotImplementedError

    def _answer(self, ring: Ring) -> Turn:
        answer = laid(self.column(ring), ring, self.girths)
        return replace(answer, doubt=partial(_spread, self, ring))


def mean_upright(turn: Turn, height: float) -> float:
    """Mean over all seams of the upright height in mm that they reach at a height along them."""
    cosines = np.cos(turn.tilts)
    run = np.zeros_like(cosines)
    steps = 0.5 * np.diff(turn.heights)[:, None] * (cosines[1:] + cosines[:-1])
    np.cumsum(steps, axis=0, out=run[1:])
    return float((_at(turn, run, height) - _at(turn, run, 0.0)).mean())


def _at(turn: Turn, values: FloatArray | None, height: float) -> FloatArray:
    assert values is not None  # models with sections know how seams run
    return np.array([np.interp(height, turn.heights, column) for column in values.T])


def _spread(model: ColumnModel, ring: Ring) -> Spread:
    """Lay the panels on each drawn body, at a few heights, and see how far they differ.

    Heights are taken along the panels and the tilts' changes between bodies by their sines:
    what is sought is a difference, not a place.
    """
    count = max(int(np.ceil((ring.heights[-1] - ring.heights[0]) / _STEP_MM)), 2) + 1
    heights = np.linspace(ring.heights[0], ring.heights[-1], count)
    bodies = model._draws(ring, heights, _COUNT)
    levels = bodies.levels()
    many = len(bodies.shape)

    def coarse(values: FloatArray) -> FloatArray:
        columns = values.reshape(len(values), -1).T
        return np.array([np.interp(heights, ring.heights, column) for column in columns]).T

    girths = body_girths(ring, model.girths)
    radii = np.tile(coarse(girths)[:, 0], many) / (2.0 * np.pi)
    rates = np.tile(coarse(slopes(ring.heights, girths))[:, 0], many) / (2.0 * np.pi)
    parts = np.tile(coarse(ring.arcs() / ring.girths[:, None]), (many, 1))
    normals = levels.shape.normals(parts)
    outward = levels.still(normals, radii) + rates[:, None] * levels.shape.support(normals)
    tilts = np.arctan(outward)
    seams = (many, count, -1)
    waist = int(np.argmin(np.abs(heights)))
    lengthening = tilts.reshape(seams)
    lengthening = lengthening[:, waist : waist + 1] - lengthening
    cosines = np.cos(tilts)
    growth = np.diff(normals, axis=1) * 0.5 * (cosines[:, 1:] + cosines[:, :-1])
    growth = growth.reshape(seams)
    names, values = _measures(levels, radii, many, waist)
    return Spread(
        heights,
        COVER_95 * _deviation(growth),
        COVER_95 * _deviation(lengthening),
        growth - growth.mean(axis=0),
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
