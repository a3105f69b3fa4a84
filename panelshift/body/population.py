"""The mean form: what sections of bodies are like when none is measured."""

from __future__ import annotations

import json
from dataclasses import dataclass, replace
from functools import cache
from importlib.resources import files
from typing import Any, Final, Literal

import numpy as np

from ..outline import FloatArray
from .column import Column
from .filling import filled, monotone_rates
from .support import ORDER, ComplexArray, Sections

Sex = Literal["women", "men"]
SEXES: Final[tuple[Sex, Sex]] = ("women", "men")

_SAMPLES = 256
_SMALL = 1e-3
"""Part of the height of the bust over which a slope is carried through a stretch."""


_KINSHIP: Final = 0.6
"""Heights of the bust over which a body's difference from the mean form changes by itself: with
it 95 of 100 seams of bodies left out are as long as is told, within what is told."""


@dataclass(frozen=True, eq=False)
class Scatter:
    """How bodies differ from a form, in the units of `Levels`, as standard deviations.

    Parameters
    ----------
    shape, changing : ndarray, shape (m, ORDER + 1)
        Of c_k / c_0, and of its slope for each mm of height.
    middles, moving : ndarray, shape (m,)
        Of the place in mm, halved as `Column` has it, and of its slope.
    place : ndarray, shape (m,)
        Where each height lies among the levels of the form: slopes at neighbouring levels
        differ by themselves.
    """

    shape: FloatArray
    middles: FloatArray
    changing: FloatArray
    moving: FloatArray
    place: FloatArray

    @property
    def both(self) -> FloatArray:
        """Of the shape and of the middles side by side, shape (m, ORDER + 2)."""
        return np.column_stack([self.shape, self.middles])

    def with_other(self, other: Scatter, apart: FloatArray) -> Scatter:
        """How bodies of two kinds differ from the mean of both, whose forms lie `apart`."""
        pairs = (
            np.sqrt(0.5 * (mine**2 + its**2))
            for mine, its in (
                (self.both, other.both),
                (self.changing, other.changing),
                (self.moving, other.moving),
            )
        )
        both, changing, moving = pairs
        both = np.hypot(both, 0.5 * apart)
        return Scatter(both[:, :-1], both[:, -1], changing, moving, self.place)


@dataclass(frozen=True, eq=False)
class Population:
    """Mean sections of many bodies and their spread, by height.

    Parameters
    ----------
    bust_height : float
        Mean upright height of the bust above the waist in mm.
    heights : ndarray, shape (k,)
        Over that of the bust.
    waves, wave_rates, wave_sd : ndarray, shape (k, ORDER + 1)
        a_j of h / R = 1 + sum of a_j cos(j psi), their slopes for each height of the bust,
        and their spread between bodies.
    place, place_rates, place_sd, place_rate_sd : ndarray, shape (k,)
        How far the Steiner point lies before the waist's, in radii of the waist; the last is
        the spread of its slope.

    Notes
    -----
    Where the numbers come from, and what they are not, is told in mean_form.json beside this
    module.
    """

    bust_height: float
    heights: FloatArray
    waves: FloatArray
    wave_rates: FloatArray
    wave_sd: FloatArray
    place: FloatArray
    place_rates: FloatArray
    place_sd: FloatArray
    place_rate_sd: FloatArray

    def column(self, bust_height: float, waist_radius: float) -> Column:
        """A body of this mean form, with the sections' own slopes between the heights.

        *bust_height*: upright height of the bust above the waist in mm. *waist_radius*: girth of
        the waist over 2 pi in mm.
        """
        half = 0.5 * waist_radius
        shape = 0.5 * self.waves
        shape[:, 0] = 1.0
        return Column(
            bust_height * self.heights,
            shape.astype(np.complex128),
            (half * self.place).astype(np.complex128),
            (0.5 / bust_height * self.wave_rates).astype(np.complex128),
            (half / bust_height * self.place_rates).astype(np.complex128),
            upright=True,
            steiner=True,
        )

    def scatter(self, heights: FloatArray, bust_height: float, waist_radius: float) -> Scatter:
        """How bodies differ at upright heights in mm above the waist, shape (m,)."""
        at = heights / bust_height
        both = np.column_stack([self.wave_sd, self.place_sd, self.place_rate_sd])
        values, _ = filled(self.heights, both, monotone_rates(self.heights, both), at)
        half = 0.5 * waist_radius
        places = np.arange(len(self.heights), dtype=np.float64)
        return Scatter(
            0.5 * values[:, :-2],
            half * values[:, -2],
            0.5 * values[:, :-2] / (_KINSHIP * bust_height),
            half / bust_height * values[:, -1],
            np.interp(at, self.heights, places),
        )


@cache
def population(sex: Sex) -> Population:
    """Mean form of women or men, read when first asked for."""
    data = _read()[sex]
    arrays = {key: np.array(values) for key, values in data.items() if isinstance(values, list)}

    def waves(key: str) -> FloatArray:
        result = np.zeros((len(arrays[key]), ORDER + 1))
        result[:, 2 : 2 + arrays[key].shape[1]] = arrays[key]
        return result

    return Population(
        data["bust_height_mm"],
        arrays["height_over_bust_height"],
        waves("a"),
        waves("a_slope"),
        waves("a_sd"),
        arrays["place"],
        arrays["place_slope"],
        arrays["place_sd"],
        arrays["place_slope_sd"],
    )


@cache
def class_factors(sex: Sex) -> dict[str, float]:
    """Radius of curvature over the mean radius of each class, fitted to the mean form."""
    return {name: float(value) for name, value in _read()[sex]["class_factors"].items()}


@cache
def _read() -> Any:
    return json.loads(files(__package__).joinpath("mean_form.json").read_text("utf-8"))


def mean_of(one: Column, other: Column) -> Column:
    """The mean of two forms, each constant beyond its own ends."""
    heights = np.union1d(one.heights, other.heights)
    first, second = (form.resampled(heights) for form in (one, other))
    return first.moved(second, 0.5)


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
