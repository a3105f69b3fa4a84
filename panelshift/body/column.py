"""A body as sections one above the other, each in its real place, smooth in height."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from ..errors import BodyError
from ..outline import FloatArray
from ..outline.splines import Spline
from ..pattern.profile import run_out
from ..units import LONGEST_MM
from .measures import APART_MM, ROUND_MM, filled, monotone_rates
from .support import ORDER, ComplexArray, Sections

_K = np.arange(ORDER + 1)
_ODD = (_K % 2 == 1) & (_K > 1)
_SIDEWAYS = np.where(_K % 4 == 3, 1.0, -1.0) * _ODD
"""i^k for odd k is -i for 3, 7, ... and i for 5, 9, ...: what each adds to the middle breadth."""

_SAMPLES = 256
_SMALL = 1e-3
"""Part of the height of the bust over which a slope is carried through a stretch."""


@dataclass(frozen=True, eq=False)
class Column:
    """Shapes and places of a body's sections; the girth is brought by who asks.

    *heights*: ndarray, shape (k,). Of the sections in mm above the waist, increasing. *shape*:
    ndarray of complex, shape (k, ORDER + 1). c_k / c_0 of the support functions; the second, c_1,
    is nothing here. *middles*: ndarray of complex, shape (k,). Where each section lies: (forward -
    i left) / 2 in mm of the point that stays where it is when the section is scaled. *shape_rates*,
    *middle_rates*: ndarray of complex, as the two above. Slopes for each mm of height. *upright*:
    Whether heights are upright; else they run along the panels. *steiner*: Whether the point that
    stays is the Steiner point; else it is the middle of the depth and of the breadth.

    Notes
    -----
    A corset moves a body's outline in, or leaves it; where, no measure of the bare body
    tells. The section is scaled to the pattern's girth with the middle of its depth in
    place: in trials of nipped waists on body meshes that cost 3 to 9 % of growth whatever
    the waist really did, moving inwards along the normals up to 13, making it rounder up
    to 12.
    """

    heights: FloatArray
    shape: ComplexArray
    middles: ComplexArray
    shape_rates: ComplexArray
    middle_rates: ComplexArray
    upright: bool
    steiner: bool = False

    @classmethod
    def of(cls, heights: FloatArray, sections: Sections, *, upright: bool) -> Column:
        """Fill smoothly between sections; beyond the ends slopes run out.

        *heights*: ndarray, shape (k,). Of each section in mm above the waist, increasing.
        *upright*: whether the heights are upright; else they run along the panels.

        Raises `BodyError` if the heights do not increase, or are not as many as the sections, or if
        those or these are beyond all bodies.
        """
        heights = np.asarray(heights, dtype=np.float64)
        coefficients = sections.coefficients
        # Far beyond all bodies there is nothing to take differences of.
        known = np.clip(heights, -LONGEST_MM, LONGEST_MM)
        alike = heights.shape == coefficients.shape[:1]
        if not (alike and (np.diff(known) >= APART_MM).all() and (known == heights).all()):
            raise BodyError(
                f"{heights.size} heights that do not increase, for {len(coefficients)} sections",
                remedy="Give one height for each section, from the lowest to the highest.",
            )
        low, high = ROUND_MM
        for girth in sections.girths.tolist():
            if not low <= girth <= high:
                raise BodyError(
                    f"a section {girth:g} mm round, not from {low:g} to {high:g}",
                    remedy="Give sections in mm.",
                )
        shape = coefficients / coefficients[:, :1]
        shape[:, 1] = 0.0
        middles = coefficients[:, 1] + coefficients[:, 0] * lever(shape)
        both = np.column_stack([shape, middles])
        rates = level_rates(heights, both.view(np.float64)).view(np.complex128)
        return cls(heights, shape, middles, rates[:, :-1], rates[:, -1], upright)

    def symmetric(self) -> Column:
        """The mean of the body and its mirror image."""
        return self._with(*(values.real.astype(np.complex128) for values in self._values))

    def mirrored(self) -> Column:
        """The body with left and right exchanged."""
        return self._with(*(values.conj() for values in self._values))

    def resampled(self, heights: FloatArray) -> Column:
        """The same body by other heights in mm, shape (m,), slopes included."""
        shape, shape_rates = self._run_on(_real(self.shape), _real(self.shape_rates), heights)
        middles, middle_rates = self._run_on(_real(self.middles), _real(self.middle_rates), heights)
        values = (shape, middles, shape_rates, middle_rates)
        return replace(self, heights=heights)._with(*(_complex(value) for value in values))

    def _run_on(
        self, values: FloatArray, rates: FloatArray, at: FloatArray
    ) -> tuple[FloatArray, FloatArray]:
        """Values and rates at heights; beyond the ends slopes run out, for a body has no crease."""
        inside = np.clip(at, self.heights[0], self.heights[-1])
        value, rate = between_levels(self.heights, values, rates, inside)
        each = (len(at), *(1,) * (values.ndim - 1))
        far, share = (part.reshape(each) for part in run_out(at - inside))
        return value + rate * far, rate * share

    def moved(self, other: Column, part: float) -> Column:
        """A body that is this one by (1 - part) and another on the same heights by part."""
        return self._with(
            *(
                (1.0 - part) * mine + part * its
                for mine, its in zip(self._values, other._values, strict=True)
            )
        )

    def real(self) -> Modes:
        """Itself, symmetric, as one thing that can be subtracted and filled in."""
        return Modes(
            self.heights,
            np.column_stack([self.shape, self.middles]).real[:, None],
            np.column_stack([self.shape_rates, self.middle_rates]).real[:, None],
        )

    def with_added(self, modes: Modes, parts: FloatArray) -> Column:
        """The body with modes on its own heights added, each by a part, shape (n,)."""
        values, rates = (np.tensordot(rows, parts, (1, 0)) for rows in (modes.values, modes.rates))
        return self._with(
            self.shape + values[:, :-1],
            self.middles + values[:, -1],
            self.shape_rates + rates[:, :-1],
            self.middle_rates + rates[:, -1],
        )

    def at(self, heights: FloatArray) -> Levels:
        """Shapes and places at heights in mm above the waist, shape (m,)."""
        here = self.resampled(heights)
        return Levels(
            self._held(here.shape),
            here.middles,
            self._held(here.shape_rates),
            here.middle_rates,
        )

    def _held(self, shape: ComplexArray) -> Sections:
        """Shapes moved so that the point that stays is at the origin."""
        shape = shape.copy()
        shape[:, 1] = 0.0 if self.steiner else -lever(shape)
        return Sections(shape)

    @property
    def _values(self) -> tuple[ComplexArray, ...]:
        return self.shape, self.middles, self.shape_rates, self.middle_rates

    def _with(self, *values: ComplexArray) -> Column:
        shape, middles, shape_rates, middle_rates = values
        return replace(
            self,
            shape=shape,
            middles=middles,
            shape_rates=shape_rates,
            middle_rates=middle_rates,
        )


@dataclass(frozen=True, eq=False)
class Modes:
    """Ways in which bodies differ from a form, each by a normal number of its own.

    *heights*: ndarray, shape (k,). As of a `Column`. *values*, *rates*: ndarray, shape (k, modes,
    ORDER + 2). Of c_k / c_0, then of the middles in mm, and their rates for each mm of height.
    """

    heights: FloatArray
    values: FloatArray
    rates: FloatArray

    @property
    def count(self) -> int:
        """How many there are."""
        return int(self.values.shape[1])

    def at(self, heights: FloatArray) -> Modes:
        """The same on other heights; beyond the ends they stay."""
        inside = np.clip(heights, self.heights[0], self.heights[-1])
        values, rates = between_levels(self.heights, self.values, self.rates, inside)
        return Modes(heights, values, rates * (inside == heights)[:, None, None])

    def filled_from(self, levels: FloatArray, heights: FloatArray) -> Modes:
        """What a body with sections at levels only has at other heights, filled in between."""
        known = self.at(levels).values
        inside = np.clip(heights, levels[0], levels[-1])
        return Modes(heights, *between_levels(levels, known, level_rates(levels, known), inside))

    def less(self, other: Modes) -> Modes:
        """How far they are from others on the same heights."""
        return Modes(self.heights, self.values - other.values, self.rates - other.rates)

    def beside(self, other: Modes) -> Modes:
        """These and others on the same heights."""
        return Modes(
            self.heights,
            np.concatenate([self.values, other.values], axis=1),
            np.concatenate([self.rates, other.rates], axis=1),
        )

    def times(self, part: float | FloatArray) -> Modes:
        """All of them larger by a part, or mixed by a matrix, shape (modes, others)."""
        if isinstance(part, float):
            return Modes(self.heights, part * self.values, part * self.rates)
        mixed = (np.einsum("kmo,mn->kno", rows, part) for rows in (self.values, self.rates))
        return Modes(self.heights, *mixed)


@dataclass(frozen=True, eq=False)
class Levels:
    """Sections of a column at some heights, whatever their girths are brought to.

    *shape*: For a radius (girth over 2 pi) of 1 mm, the point that stays at the origin. *middles*:
    ndarray of complex, shape (m,). As `Column` has them. *changing*: Rate of the shape's support
    function for each mm of height. *moving*: ndarray of complex, shape (m,). Rate of the middles.
    """

    shape: Sections
    middles: ComplexArray
    changing: Sections
    moving: ComplexArray

    def sections(self, radii: FloatArray) -> Sections:
        """The sections themselves, girth over 2 pi in mm, shape (m,)."""
        result = radii[:, None] * self.shape.coefficients
        result[:, 1] += self.middles
        return Sections(result)

    def still(self, psi: FloatArray, radii: FloatArray) -> FloatArray:
        """dh/dz where the girths stay, shape (m, n) as psi; with the girths the shape grows."""
        moved = 2.0 * (self.moving[:, None] * np.exp(1j * psi)).real
        return np.asarray(radii[:, None] * self.changing.support(psi) + moved)

    def sideways(self, psi: FloatArray, radii: FloatArray, rates: FloatArray) -> FloatArray:
        """d^2 h / dz dpsi, the girths' rates being given, shape (m, n) as psi."""
        moved = -2.0 * (self.moving[:, None] * np.exp(1j * psi)).imag
        grown = rates[:, None] * self.shape.slope(psi) + radii[:, None] * self.changing.slope(psi)
        return np.asarray(grown + moved)


DENSE_MM: Final = 25.0
"""Sections that lie closer than this show how the body bends between them."""


def level_rates(heights: FloatArray, values: FloatArray) -> FloatArray:
    """Slopes at sections, shape as values (k, ...): of few ones monotone, lest they overshoot."""
    if len(heights) < 2 or float(np.diff(heights).max()) > DENSE_MM:
        return monotone_rates(heights, values)
    return Spline.smooth(heights, values).slopes


def between_levels(
    heights: FloatArray, values: FloatArray, rates: FloatArray, at: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Values with given slopes, and their rates, at heights among the levels, shape (m, ...).

    A seam's strain follows the second derivative, which cubics with given slopes change by steps
    at every level. Pieces of fifth order have the mean of both sides there: two powers more,
    t^2 (1 - t)^3 / 2 and t^3 (1 - t)^2 / 2, which are nothing in value and slope at both ends and
    have a second derivative of 1 at one of them.
    """
    value, rate = filled(heights, values, rates, at)
    if len(heights) < 3:
        return value, rate
    wide = np.diff(heights).reshape(-1, *(1,) * (values.ndim - 1))
    chords = np.diff(values, axis=0) / wide
    first = (6.0 * chords - 4.0 * rates[:-1] - 2.0 * rates[1:]) / wide
    last = (2.0 * rates[:-1] + 4.0 * rates[1:] - 6.0 * chords) / wide
    apart = 0.5 * (first[1:] - last[:-1])
    none = np.zeros_like(values[:1])
    begin, end = np.concatenate([none, -apart]), np.concatenate([apart, none])
    left = np.clip(np.searchsorted(heights, at, side="right") - 1, 0, len(heights) - 2)
    w = wide[left]
    t = ((at - heights[left]) / w.reshape(-1)).reshape(w.shape)
    rest = 1.0 - t
    value += 0.5 * (w * t * rest) ** 2 * (rest * begin[left] + t * end[left])
    rate += (
        0.5
        * w
        * t
        * rest
        * (rest * (2.0 - 5.0 * t) * begin[left] + t * (3.0 - 5.0 * t) * end[left])
    )
    return value, rate


def _real(values: ComplexArray) -> FloatArray:
    """Complex values as pairs of real ones: one more axis."""
    return np.ascontiguousarray(values).view(np.float64).reshape(*values.shape, 2)


def _complex(pairs: FloatArray) -> ComplexArray:
    return np.ascontiguousarray(pairs).view(np.complex128)[..., 0]


def lever(shape: ComplexArray) -> ComplexArray:
    """How far the middle of depth and breadth lies from the Steiner point, as c_1 tells it.

    The middle of the depth is (h(0) - h(pi)) / 2 = 2 Re sum of c_k over odd k, that of the
    breadth (h(pi/2) - h(-pi/2)) / 2 = 2 Re sum of i^k c_k.
    """
    return np.asarray(shape.real @ _ODD - 1j * (shape.imag @ _SIDEWAYS))


def stretched(form: Column, ratio: FloatArray, ratio_rates: FloatArray) -> Column:
    """A form whose sections are stretched to a breadth over depth of one's own.

    *ratio*, *ratio_rates*: ndarray, shape (k,). Wanted at the form's heights, and its change for
    each mm of height.

    Notes
    -----
    Stretched by p to the sides and q to the front, the tangent with normal N lies as far out
    as the old one with normal (p N_x, q N_y) did, times that vector's length. The girth is
    brought back by scaling; the Steiner point stays where it is.
    """
    step = _SMALL * (form.heights[-1] - form.heights[0])
    low, middle, high = (
        _stretch(form.shape + way * form.shape_rates, ratio + way * ratio_rates)
        for way in (-step, 0.0, step)
    )
    return replace(form, shape=middle, shape_rates=(high - low) / (2.0 * step))


def _stretch(shape: ComplexArray, ratio: FloatArray) -> ComplexArray:
    sections = Sections(shape)
    across, along = np.array([[0.5 * np.pi, -0.5 * np.pi]]), np.array([[0.0, np.pi]])
    own = _breadths(sections, across) / _breadths(sections, along)
    part = np.sqrt(ratio / own)[:, None]
    psi = 2.0 * np.pi * np.arange(_SAMPLES) / _SAMPLES
    x, y = part * np.sin(psi), np.cos(psi) / part
    h = np.hypot(x, y) * sections.support(np.arctan2(x, y))
    waves = np.fft.rfft(h, axis=1)[:, : ORDER + 1]
    result = waves / waves[:, :1].real
    result[:, 1] = 0.0
    return result


def _breadths(sections: Sections, psi: FloatArray) -> FloatArray:
    rows = np.repeat(psi, len(sections.coefficients), axis=0)
    return np.asarray(sections.support(rows).sum(axis=1))
