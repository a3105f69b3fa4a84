"""The mean form of many bodies, and the body model of those who measure nothing."""

from __future__ import annotations

import json
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any, Final, Literal

import numpy as np

from ..errors import BodyError
from ..outline import FloatArray
from .column import Column, mean_of, stretched
from .measures import Measures, filled, monotone_rates
from .ring import Ring, body_girths, slopes
from .spread import ColumnModel, Draws, Scatter, drawn_forms
from .support import ORDER

OfWhom = Literal["women", "men", "either"]


@dataclass(frozen=True)
class MeanFormModel(ColumnModel):
    """Panels laid round the mean form of women, of men, or of both.

    Parameters
    ----------
    of : {"women", "men", "either"}
        Whose form; "either" is the mean of both, and its plus or minus covers both.
    ratio : Measures, optional
        One's own breadth over depth by height along the panels, in mm above the waist.
    girths : Measures, optional
        Girths of the body in mm; where none are given the pattern's own are used.
    bust_height : float, optional
        Of the bust above the waist, along the panels, in mm; else that of the mean form.

    Raises
    ------
    BodyError
        If `of` is none of the three, a ratio is not positive, or the height of the bust is.

    Notes
    -----
    The forms are means over hulls of slices of an artist's mesh that is free of rights, drawn
    many times, unclothed and without a corset: no survey of people. Kept are the sections'
    shapes, their places one before the other, and how both change with height. The girths are
    the pattern's. On bodies left out of the mean a panel's growth for each mm of distance
    was within 0.24 mm (women) and 0.19 mm (men) of the truth 95 times in 100; classes of
    panels, fitted as well as can be, missed by 0.48 and 0.32.

    Examples
    --------
    >>> from panelshift import DraftPanel, Fabric, Stack, pattern_from_panels, shift_pattern
    >>> pattern = pattern_from_panels([
    ...     DraftPanel(str(k), [(60 * k, 0), (60 * k + 55, 0), (60 * k + 55, 160), (60 * k, 160)],
    ...                [(60 * k, 90), (60 * k + 55, 90)]) for k in range(6)])
    >>> turn = shift_pattern(pattern, Stack([Fabric("drill", 0.5)]), MeanFormModel("women")).turn
    >>> [round(float(np.degrees(turn.angle_at(k, 0.0)))) for k in range(6)]
    [22, 31, 32, 44, 39, 12]
    """

    of: OfWhom = "either"
    ratio: Measures | None = None
    girths: Measures | None = None
    bust_height: float | None = None

    def __post_init__(self) -> None:
        if self.of not in (*SEXES, "either"):
            raise BodyError(
                f"no mean form of {self.of!r}",
                remedy="Say women, men or either.",
                element="body.of",
            )
        if self.ratio is not None and not (self.ratio.values > 0.0).all():
            raise BodyError(
                "a breadth to depth ratio that is not positive",
                remedy="Give breadth over depth, such as 1.4.",
                element="body.ratio",
            )
        if self.bust_height is not None and not 20.0 <= self.bust_height <= 600.0:
            raise BodyError(
                f"a bust {self.bust_height:g} mm above the waist",
                remedy="Give the height of the bust above the waist in mm, such as 170.",
                element="body.bust_height",
            )

    def _column(self, ring: Ring) -> Column:
        return self._mean([self._form(sex, ring) for sex in self._sexes])

    def _draws(self, ring: Ring, heights: FloatArray, count: int) -> Draws:
        known = self.ratio is not None
        each = count // len(self._sexes)
        return Draws.joined(
            [
                drawn_forms(
                    self._form(sex, ring).at(heights),
                    self._scatter(sex, ring, heights),
                    each,
                    keep_ratio=known,
                )
                for sex in self._sexes
            ]
        )

    def scatter(self, ring: Ring, heights: FloatArray) -> Scatter:
        """How bodies differ from this form at upright heights in mm above the waist."""
        one, *more = (self._scatter(sex, ring, heights) for sex in self._sexes)
        if not more:
            return one
        levels = [self._form(sex, ring).at(heights) for sex in self._sexes]
        both = [np.column_stack([at.shape.coefficients, at.middles]).real for at in levels]
        return one.with_other(more[0], both[0] - both[1])

    def _scatter(self, sex: Sex, ring: Ring, heights: FloatArray) -> Scatter:
        bust, radius = self._bust(sex, ring), waist_radius(ring, self.girths)
        return population(sex).scatter(heights, bust, radius)

    @property
    def _sexes(self) -> tuple[Sex, ...]:
        return SEXES if self.of == "either" else (self.of,)

    def _bust(self, sex: Sex, ring: Ring) -> float:
        if self.bust_height is None:
            return population(sex).bust_height
        return float(upright(ring, self.girths, np.array([self.bust_height]))[0])

    def _form(self, sex: Sex, ring: Ring) -> Column:
        form = population(sex).column(self._bust(sex, ring), waist_radius(ring, self.girths))
        if self.ratio is None:
            return form
        ratio, rates = self.ratio.with_rates(form.heights)
        return stretched(form, ratio, rates)

    @staticmethod
    def _mean(forms: list[Column]) -> Column:
        return forms[0] if len(forms) == 1 else mean_of(*forms)


def waist_radius(ring: Ring, given: Measures | None) -> float:
    """Girth over 2 pi in mm at the waist, or at the end of the panels next to it."""
    return float(np.interp(0.0, ring.heights, body_girths(ring, given)) / (2.0 * np.pi))


def upright(ring: Ring, given: Measures | None, along: FloatArray) -> FloatArray:
    """Upright heights in mm that heights along the panels mean on a round body of their girth.

    dz = cos(tilt) dv, sin(tilt) being the rate of the radius; beyond the panels' ends heights
    are taken as upright.
    """
    radii = body_girths(ring, given) / (2.0 * np.pi)
    rising = np.sqrt(np.maximum(1.0 - slopes(ring.heights, radii) ** 2, 0.0))
    steps = np.diff(ring.heights) * 0.5 * (rising[1:] + rising[:-1])
    run = np.concatenate([[0.0], np.cumsum(steps)])
    run -= np.interp(0.0, ring.heights, run)
    inside = np.clip(along, ring.heights[0], ring.heights[-1])
    return np.asarray(np.interp(inside, ring.heights, run) + along - inside)


Sex = Literal["women", "men"]
SEXES: Final[tuple[Sex, Sex]] = ("women", "men")


_KINSHIP: Final = 0.6
"""Heights of the bust over which a body's difference from the mean form changes by itself: with
it 95 of 100 seams of bodies left out are as long as is told, within what is told."""


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
def _read() -> Any:
    return json.loads(files(__package__).joinpath("mean_form.json").read_text("utf-8"))
