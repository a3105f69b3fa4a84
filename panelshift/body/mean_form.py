"""The mean form of many bodies, and the body model of those who measure nothing."""

from __future__ import annotations

import json
from dataclasses import dataclass
from functools import cache, cached_property
from pathlib import Path
from typing import Any, Final, Literal

import numpy as np

from ..errors import BodyError, BodyNameError
from ..files.plain_values import refuse_misfits
from ..outline import FloatArray
from ..pattern.pattern import Pattern
from .column import Column, Modes, stretched
from .measures import Measures, refuse_girths, refuse_ratios
from .ring import Ring, body_girths, slopes
from .spread import ColumnModel, Draws, conditioned
from .support import ORDER

OfWhom = Literal["women", "men", "either"]

BUST: Final = "bust"
"""Name of the level at which the mean form's bust is put."""

BUST_MM: Final = (20.0, 600.0)
"""How far above the waist it can be."""


def bust_of(pattern: Pattern) -> float | None:
    """Height in mm of the level named bust above the waist, if the pattern has one."""
    return pattern.level_height(BUST) if BUST in pattern.level_names() else None


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
        If `of` is none of the three, a ratio is not from 0.01 to 100, or a girth or the height of
        the bust is none.

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
            raise BodyNameError(
                f"no mean form of {self.of!r}",
                remedy="Say women, men or either.",
                element="body.of",
            )
        refuse_misfits(self, "a mean form")
        refuse_ratios(self.ratio)
        refuse_girths(self.girths)
        if self.bust_height is not None and not (BUST_MM[0] <= self.bust_height <= BUST_MM[1]):
            raise BodyError(
                f"a bust {self.bust_height:g} mm above the waist",
                remedy="Give the height of the bust above the waist in mm, such as 170.",
                element="body.bust_height",
            )

    def _column(self, ring: Ring) -> Column:
        form = self._form(ring)
        if self.ratio is None:
            return form
        return stretched(form, *self.ratio.with_rates(form.heights))

    def _draws(self, ring: Ring, heights: FloatArray, count: int) -> Draws:
        return Draws.around(*self.likely(ring), heights, count)

    def likely(self, ring: Ring) -> tuple[Column, Modes]:
        """The form, and how bodies differ from it, on the same heights."""
        form, modes = self._form(ring), self._modes(ring)
        if self.ratio is None:
            return form, modes
        ratio, rates = self.ratio.with_rates(form.heights)
        _, root = conditioned(
            np.einsum("kno,ko->kn", modes.values, _lopsided(ratio)),
            np.zeros(len(ratio)),
            _RATIO_SD**2 * np.eye(len(ratio)),
        )
        return stretched(form, ratio, rates), modes.times(root)

    def _form(self, ring: Ring) -> Column:
        """The mean form, or the mean of both, whatever the ratio."""
        one, *other = self._each(ring)
        if not other:
            return one
        heights = np.union1d(one.heights, other[0].heights)
        return one.resampled(heights).moved(other[0].resampled(heights), 0.5)

    def _modes(self, ring: Ring) -> Modes:
        """How bodies differ from that; of both kinds by their own modes and half of what lies
        between: they have the mean and the covariance of a crowd of as many of either.
        """
        radius, doubt = waist_radius(ring, self.girths), _BUST_SD[self.bust_height is not None]
        own = [population(sex).modes(self._bust(sex, ring), radius, doubt) for sex in self._sexes]
        if len(own) == 1:
            return own[0]
        heights = np.union1d(*(modes.heights for modes in own))
        first, second = (form.resampled(heights).real() for form in self._each(ring))
        apart = first.less(second).times(0.5)
        one, other = (modes.at(heights).times(np.sqrt(0.5).item()) for modes in own)
        return one.beside(other).beside(apart)

    def _each(self, ring: Ring) -> list[Column]:
        radius = waist_radius(ring, self.girths)
        return [population(sex).column(self._bust(sex, ring), radius) for sex in self._sexes]

    @property
    def _sexes(self) -> tuple[Sex, ...]:
        return SEXES if self.of == "either" else (self.of,)

    def _bust(self, sex: Sex, ring: Ring) -> float:
        if self.bust_height is None:
            return population(sex).bust_height
        return float(upright(ring, self.girths, np.array([self.bust_height]))[0])


def _lopsided(ratio: FloatArray) -> FloatArray:
    """Breadth less the ratio times the depth as a function of c_k / c_0 and the place, in radii."""
    k = np.arange(ORDER + 1)
    breadth, depth = 4.0 * np.cos(0.5 * np.pi * k), 2.0 + 2.0 * np.cos(np.pi * k)
    rows = np.zeros((len(ratio), ORDER + 2))
    rows[:, 2 : ORDER + 1] = (breadth - ratio[:, None] * depth)[:, 2:]
    return rows


_BUST_SD: Final = {False: 0.2, True: 0.04}
"""Of the height of the bust above the waist as a part of it: where it is not told, and where it is.
Of bodies of that mesh it varies by 0.25."""

_RATIO_SD: Final = 0.04
"""Of that where the ratio was measured: about 4 mm of either."""


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


_BY_ITSELF: Final = 1.05
"""Part of its spread that each wave keeps by itself beside those ways in which many go together:
with it what is stated of growth holds on bodies left out as often as it should."""

_STEEPER: Final = 1.3
"""The same again for slopes, by the lengths of their seams."""

_KIN_MM: Final = ((4, 55.0), (6, 40.0), (ORDER, 30.0))
"""Up to which wave, over how many mm of height bodies differ alike: the spread of waves over that
of their slopes, of bodies of that mesh."""

_KIN_PLACE_MM: Final = 65.0
_STANCE: Final = 0.06
"""Radii by which people at least stand differently: the mesh is drawn in one posture."""

_FAINT: Final = 1e-3


@dataclass(frozen=True, eq=False)
class Population:
    """Mean sections of many bodies and their spread, by height.

    *bust_height*: Mean upright height of the bust above the waist in mm. *heights*: ndarray, shape
    (k,). Over that of the bust. *waves*, *wave_rates*, *wave_sd*: ndarray, shape (k, ORDER + 1).
    a_j of h / R = 1 + sum of a_j cos(j psi), their slopes for each height of the bust, and their
    spread between bodies. *place*, *place_rates*, *place_sd*, *place_rate_sd*: ndarray, shape (k,).
    How far the Steiner point lies before the waist's, in radii of the waist; its slope, and the
    spread of both. *ways*, *way_rates*: ndarray, shape (k, m, ORDER + 2). In which bodies differ in
    many waves, and the place, at once; and their slopes.

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
    ways: FloatArray
    way_rates: FloatArray

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

    def modes(self, bust_height: float, waist_radius: float, doubt: float) -> Modes:
        """How bodies differ from `column` of the same measures, on its heights.

        *doubt*: standard deviation of the height of the bust, as a part of it: levels lie higher
        or lower with it.
        """
        heights = bust_height * self.heights
        low, high = (
            self.column(part * bust_height, waist_radius).resampled(heights).real()
            for part in (1.0 - doubt, 1.0 + doubt)
        )
        values, rates = self._differing
        unit = np.full(ORDER + 2, 0.5)
        unit[-1] = 0.5 * waist_radius
        own = Modes(heights, values * unit, rates * unit / bust_height)
        return own.beside(high.less(low).times(0.5))

    @cached_property
    def _differing(self) -> tuple[FloatArray, FloatArray]:
        """Of many together, of each wave by itself, of the place: values and slopes at all levels.

        Of one by itself two heights that lie apart by x heights of the bust differ alike by
        exp(-x^2 / 2 l^2), which makes slopes vary by 1 / l of the values, and each go along with
        the other.
        """
        found = [(self.ways, self.way_rates)]
        last = np.flatnonzero(self.wave_sd.any(axis=0)).max()
        for wave in (*range(2, int(last) + 1), ORDER + 1):
            if wave > ORDER:
                reach = _KIN_PLACE_MM / self.bust_height
                sd = np.maximum(self.place_sd, _STANCE * (self.heights != 0.0))
                slope_sd = np.maximum(self.place_rate_sd, _STANCE / reach)
            else:
                reach = next(kin for most, kin in _KIN_MM if wave <= most) / self.bust_height
                sd, slope_sd = self.wave_sd[:, wave], self.wave_sd[:, wave] / reach
            sds = _BY_ITSELF * np.concatenate([sd, _STEEPER * slope_sd])
            root = sds[:, None] * _kinship(self.heights / reach)
            both = np.zeros((2 * len(sd), root.shape[1], ORDER + 2))
            both[..., wave] = root
            found.append((both[: len(sd)], both[len(sd) :]))
        values, rates = (np.concatenate(part, axis=1) for part in zip(*found, strict=True))
        return values, rates


def _kinship(heights: FloatArray) -> FloatArray:
    """Root of the correlations of values, then of slopes, at heights in the reach of kinship."""
    away = heights[:, None] - heights
    alike = np.exp(-0.5 * away**2)
    whole = np.block([[alike, away * alike], [-away * alike, (1.0 - away**2) * alike]])
    values, vectors = np.linalg.eigh(whole)
    kept = values > _FAINT * values[-1]
    return np.asarray(vectors[:, kept] * np.sqrt(values[kept]))


@cache
def population(sex: Sex) -> Population:
    """Mean form of women or men, read when first asked for."""
    data, together = _read("mean_form")[sex], _read("mean_form_modes")[sex]
    arrays = {key: np.array(values) for key, values in data.items() if isinstance(values, list)}

    def waves(rows: FloatArray) -> FloatArray:
        result = np.zeros((*rows.shape[:-1], ORDER + 1))
        result[..., 2 : 2 + rows.shape[-1]] = rows
        return result

    def ways(rows: list[list[list[float]]]) -> FloatArray:
        """Of waves and the place: levels by modes, from modes by levels."""
        each = np.array(rows).swapaxes(0, 1)
        return np.concatenate([waves(each[..., :-1]), each[..., -1:]], axis=-1)

    return Population(
        data["bust_height_mm"],
        arrays["height_over_bust_height"],
        waves(arrays["a"]),
        waves(arrays["a_slope"]),
        waves(arrays["a_sd"]),
        arrays["place"],
        arrays["place_slope"],
        arrays["place_sd"],
        arrays["place_slope_sd"],
        ways(together["values"]),
        ways(together["slopes"]),
    )


@cache
def _read(name: str) -> Any:
    return json.loads(Path(__file__).with_name(f"{name}.json").read_text("utf-8"))
