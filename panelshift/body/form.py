"""Body model of measured sections: a scan, a dress form, or curves traced round a body."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import Final

import numpy as np

from ..errors import BodyError
from ..files.plain_values import refuse_misfits
from ..outline import FloatArray
from ..outline.by_value import ByValue, fix, read_only
from ..units import LONGEST_MM
from .column import DENSE_MM, Column, between_levels, level_rates, lever
from .mean_form import MeanFormModel
from .measures import Measures, refuse_girths
from .ring import Ring, body_girths
from .spread import ColumnModel, Draws, chances, mixed
from .support import CORNER_RAD, ORDER, ComplexArray, Sections

_K: Final = np.arange(ORDER + 1)

_ALIKE_MM: Final = 15.0
"""Of slices that are smoothed over 25 mm either side those err alike that lie this near."""

_NIP: Final = 0.6
"""Standard deviation of how a waist is laced in, in units of what moving it in parallel does to
the shape beyond scaling it. From the trials that `Column` names: growth is then off by 3 to 9 %."""

_ROUNDED: Final = np.exp(-0.5 * (_K * CORNER_RAD) ** 2)
_WHITE: Final = 0.5 * _ROUNDED / float(np.sqrt((_ROUNDED[1:] ** 2).sum()))
"""Of noise of 1 mm what falls on the real and on the imaginary part of each wave: alike on all that
rounding of corners leaves."""


@dataclass(frozen=True)
class FormErrors:
    """Standard deviations of what was measured on a body.

    Parameters
    ----------
    surface : float
        Of the surface as it is kept, in mm: what smoothing has left of noise.
    front : float
        Of the front's direction in radians.
    waist : float
        Of the waist's height in mm.

    Raises
    ------
    BodyError
        If one is negative, or larger than a body.

    Examples
    --------
    >>> FormErrors(surface=2.0).waist
    5.0
    """

    surface: float = 1.0
    front: float = float(np.radians(0.5))
    waist: float = 5.0

    def __post_init__(self) -> None:
        refuse_misfits(self, "a form's errors")
        for what, value in vars(self).items():
            if not 0.0 <= value <= (2.0 * math.pi if what == "front" else LONGEST_MM):
                raise BodyError(
                    f"the {what} of a form's errors is {value:g}",
                    remedy="Give a standard deviation of 0 or more: mm, for the front radians.",
                )


@dataclass(frozen=True, eq=False)
class FormModel(ByValue, ColumnModel):
    """Panels laid round sections that were measured.

    Parameters
    ----------
    heights : ndarray, shape (k,)
        Of each section in mm above the waist, increasing.
    sections : Sections
        In one frame, so that each lies in its real place.
    upright : bool
        Whether the heights are upright; else they run along the panels.
    girths : Measures, optional
        Girths in mm to bring the sections to; else the pattern's own.
    errors : FormErrors
    names : mapping of str to float, optional
        Upright heights in mm above the waist of levels that were named.

    Raises
    ------
    BodyError
        If the heights do not increase, or are not as many as the sections; or if a height or a
        girth is none that a body has.

    Examples
    --------
    >>> heights = np.linspace(-150.0, 150.0, 31)
    >>> round_body = Sections.of_support(
    ...     lambda psi: np.repeat(100.0 + 0.0 * psi[None, :], 31, axis=0))
    >>> model = FormModel(heights, round_body)
    >>> ring = Ring(np.linspace(-30.0, 30.0, 21), np.full((21, 12), 50.0), 0.0, ("side",) * 12)
    >>> np.degrees(model.turn(ring).angles[10]).round(6).tolist()[:3]
    [30.0, 30.0, 30.0]
    """

    heights: FloatArray
    sections: Sections
    upright: bool = True
    girths: Measures | None = None
    errors: FormErrors = field(default_factory=FormErrors)
    names: Mapping[str, float] = field(default_factory=dict)

    def __post_init__(self) -> None:
        refuse_misfits(self, "a measured form")
        read_only(self, "heights")
        fix(self, "names")
        # A column refuses heights that do not increase: better now than when it is used.
        _ = self._whole
        refuse_girths(self.girths)
        for name, height in self.names.items():
            if not abs(height) <= LONGEST_MM:
                raise BodyError(
                    f"level {name!r} of a measured form is {height:g} mm above the waist",
                    remedy="Give its height in mm.",
                )

    @cached_property
    def _whole(self) -> Column:
        """The sections with what lies between them."""
        return Column.of(self.heights, self.sections, upright=self.upright)

    def _column(self, ring: Ring) -> Column:
        """The sections, which must reach the waist."""
        low, high = float(self.heights[0]), float(self.heights[-1])
        if not low <= 0.0 <= high:
            raise BodyError(
                f"the sections reach from {low:+.0f} to {high:+.0f} mm: the waist is not among "
                "them",
                remedy="Measure from about 25 mm below the corset to 25 mm above it.",
                element="body.file",
            )
        return self._whole

    def _draws(self, ring: Ring, heights: FloatArray, count: int) -> Draws:
        """Bodies that would have been measured as this one."""
        turn, rise, nip = (part[:, None] for part in chances(1, count, 3).T)
        rises = heights + rise * self.errors.waist
        column = self._whole.resampled(np.unique(rises))
        rows = np.searchsorted(column.heights, rises)
        shape, changing = column.shape[rows], column.shape_rates[rows]
        middles, moving = column.middles[rows], column.middle_rates[rows]
        for values, rates in (self._noise(heights, count), self._unseen(ring, heights, count)):
            shape, changing = shape + values[..., :-1], changing + rates[..., :-1]
            middles, moving = middles + values[..., -1], moving + rates[..., -1]
        # Moved in parallel a section keeps its waves in mm, so that they grow beside its radius;
        # scaled, they keep their part of it.
        own = np.interp(rises, self.heights, self.sections.girths)
        pattern = np.interp(heights, ring.heights, body_girths(ring, self.girths))
        shape[..., 2:] *= (1.0 + _NIP * nip * (own / pattern - 1.0))[..., None]
        spin = np.exp(1j * turn * self.errors.front)
        shape, changing = (part * spin[..., None] ** _K for part in (shape, changing))
        middles, moving = middles * spin, moving * spin
        if ring.first is None:
            shape, changing = shape.real + 0j, changing.real + 0j
            middles, moving = middles.real + 0j, moving.real + 0j
        for part in (shape, changing):
            part[..., 1] = -lever(part)
        return Draws(shape, changing, middles, moving)

    def _noise(self, heights: FloatArray, count: int) -> tuple[ComplexArray, ComplexArray]:
        """What is left of noise after smoothing, of c_k / c_0 and of the middles, with rates."""
        at = self.heights
        if self._dense:
            # Neighbours were smoothed together: they err alike.
            at = np.linspace(at[0], at[-1], max(int(np.ptp(at) / _ALIKE_MM), 1) + 1)
        radii = (self._girths_at(at) / (2.0 * np.pi))[:, None]
        off = chances(2, count, len(at), ORDER + 1, 2) @ np.array([1.0, 1j])
        off = self.errors.surface * off * _WHITE
        middles = off[..., 1] + lever(off)
        off = np.where(_K > 1, off / radii, 0.0)
        levels = np.moveaxis(np.concatenate([off, middles[..., None]], axis=-1), 1, 0)
        flat = np.ascontiguousarray(levels).view(np.float64)
        inside = np.clip(heights, at[0], at[-1])
        filled = between_levels(at, flat, level_rates(at, flat), inside)
        values, rates = (
            np.moveaxis(np.ascontiguousarray(v).view(np.complex128), 0, 1) for v in filled
        )
        return values, rates

    def _unseen(self, ring: Ring, heights: FloatArray, count: int) -> tuple[FloatArray, FloatArray]:
        """What lies between sections that are far apart: as much as bodies of all kinds have there.

        It is what a body of the mean form, and each way in which bodies differ from it, would lose
        if no more were known of it than its sections at these heights.
        """
        if self._dense:
            none = np.zeros((count, len(heights), ORDER + 2))
            return none, none
        form, modes = MeanFormModel("either").likely(ring)
        modes = modes.beside(form.real())
        lost = modes.at(heights).less(modes.filled_from(self.heights, heights))
        parts = chances(3, count, modes.count)
        values, rates = (mixed(parts, rows) for rows in (lost.values, lost.rates))
        radii = np.interp(heights, ring.heights, body_girths(ring, self.girths)) / (2.0 * np.pi)
        for part in (values, rates):
            part[..., -1] += radii * lever(part[..., :-1].astype(np.complex128)).real
        return values, rates

    @property
    def _dense(self) -> bool:
        return len(self.heights) > 2 and float(np.diff(self.heights).max()) < DENSE_MM

    def _girths_at(self, heights: FloatArray) -> FloatArray:
        return np.asarray(np.interp(heights, self.heights, self.sections.girths))
