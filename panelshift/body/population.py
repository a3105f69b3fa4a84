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
    place, place_rates, place_sd : ndarray, shape (k,)
        How far the Steiner point lies before the waist's, in radii of the waist.

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

    def column(self, bust_height: float, waist_radius: float) -> Column:
        """A body of this mean form, with the sections' own slopes between the heights.

        Parameters
        ----------
        bust_height : float
            Upright height of the bust above the waist in mm.
        waist_radius : float
            Girth of the waist over 2 pi in mm.
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

    def spread_at(self, heights: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Spread of a_j, shape (m, ORDER + 1), and of the place, at heights over the bust's."""
        both = np.column_stack([self.wave_sd, self.place_sd])
        values, _ = filled(self.heights, both, monotone_rates(self.heights, both), heights)
        return values[:, :-1], values[:, -1]


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

    Parameters
    ----------
    form : Column
    ratio, ratio_rates : ndarray, shape (k,)
        Wanted at the form's heights, and its change for each mm of height.

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
