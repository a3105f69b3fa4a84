"""Body model of measured sections: a scan, a dress form, or curves traced round a body."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import Final

import numpy as np

from ..errors import BodyError
from ..outline import FloatArray
from .column import Column
from .measures import Measures
from .ring import Ring, body_girths
from .spread import ColumnModel, Draws
from .support import ORDER, ComplexArray, Sections

_SEED: Final = 20241113
_K: Final = np.arange(ORDER + 1)

_NIP: Final = 0.6
"""Standard deviation of how a waist is laced in, in units of what moving it in parallel does to
the shape beyond scaling it. From the trials that `Column` names: growth is then off by 3 to 9 %."""

_WAVES: Final = 8
"""Harmonics up to this one carry a surface error that the eye does not see as noise."""


@dataclass(frozen=True)
class FormErrors:
    """Standard deviations of what was measured on a body.

    Parameters
    ----------
    surface : float
        Of the surface in mm, in long waves: noise between neighbours is smoothed away before.
    front : float
        Of the front's direction in radians.
    waist : float
        Of the waist's height in mm.

    Examples
    --------
    >>> FormErrors(surface=2.0).waist
    5.0
    """

    surface: float = 1.0
    front: float = float(np.radians(0.5))
    waist: float = 5.0


@dataclass(frozen=True, eq=False)
class FormModel(ColumnModel):
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
        If the heights do not increase, or are not as many as the sections.

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
        # A column refuses heights that do not increase: better now than when it is used.
        _ = self._whole

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
        chance = np.random.default_rng(_SEED)
        half = count // 2
        few = chance.standard_normal((half, 3))
        few = np.concatenate([few, -few])
        waves = chance.standard_normal((half, ORDER + 1, 2)) @ np.array([1.0, 1j])
        waves = np.concatenate([waves, -waves]) * (_K > 1) * (_K <= _WAVES)
        halves_alike = ring.first is None
        pattern = np.interp(heights, ring.heights, body_girths(ring, self.girths))
        parts: list[tuple[ComplexArray, ComplexArray, ComplexArray, ComplexArray]] = []
        for (turn, rise, nip), wave in zip(few.tolist(), waves, strict=True):
            at = self._whole.at(heights + rise * self.errors.waist)
            own = self._girths_at(heights + rise * self.errors.waist)
            spin = np.exp(1j * _K * turn * self.errors.front)
            shape = at.shape.coefficients * spin
            # Moved in parallel a section keeps its waves in mm, so that they grow beside its
            # radius; scaled, they keep their part of it.
            moved = 1.0 + _NIP * nip * (own / pattern - 1.0)
            shape[:, 2:] *= moved[:, None]
            size = self.errors.surface / np.sqrt(2.0 * (_WAVES - 1)) * 2.0 * np.pi
            shape = shape + wave * size / pattern[:, None] / np.sqrt(2.0)
            changing = at.changing.coefficients * spin
            middles, moving = at.middles * spin[1], at.moving * spin[1]
            if halves_alike:
                shape, changing = shape.real + 0j, changing.real + 0j
                middles, moving = middles.real + 0j, moving.real + 0j
            parts.append((shape, changing, middles, moving))
        return Draws(*(np.array(values) for values in zip(*parts, strict=True)))

    def _girths_at(self, heights: FloatArray) -> FloatArray:
        return np.asarray(np.interp(heights, self.heights, self.sections.girths))
