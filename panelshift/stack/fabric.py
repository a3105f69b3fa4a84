"""One fabric of the stack: what its thickness is worth."""

from __future__ import annotations

import math
from dataclasses import dataclass, fields, replace
from itertools import pairwise
from typing import Final

import numpy as np

from ..errors import StackError, WrongTypeError
from ..files.one_line import refuse_broken_line
from ..files.plain_values import refuse_misfits

THICKEST_MM: Final = 50.0
"""No cloth, wadding or bone is thicker: a larger number is another unit."""

MOST_TAKEN_UP: Final = 0.4
"""Not even close quilting takes more: a larger number is a percentage without its sign."""

MOST_DRAWN_LARGER: Final = 0.15
"""Cloth that loses more is quilted first and cut then: common practice, no source."""

DARTS_FROM_MM: Final = 3.0
"""Common practice, no source: what is narrower is eased in rather than sewn as a dart."""

MOST_DART_MM: Final = 1000.0
"""From this width on darts are sewn where none is to be."""


def refuse_no_height(height: object) -> None:
    """Refuse what is no height: a fabric would lie nowhere there, without a word."""
    if isinstance(height, bool) or not isinstance(height, (int, float, np.number)):
        WrongTypeError.unless(height, (), "a height", "a number in mm")
    elif height != height:
        raise StackError("a height that is no number", remedy="Give mm above the waist.")


@dataclass(frozen=True)
class Fabric:
    """One layer of the stack.

    Parameters
    ----------
    name : str
    thickness : float
        In mm, from 0 to 50, as measured by the maker (ISO 5084 measures at 1 kPa under a flat
        foot; the pressure is from memory).
    coverage : float
        Part of the panel that the fabric covers, 0 to 1: bones in channels or a waist tape
        count in proportion.
    loft : float
        Factor on the thickness for compression, loft or glue webs: 1 for cloth as measured,
        below 1 for a wadding that is pressed flat.
    panels : frozenset of str or None
        Names of the panels it covers; None for all.
    cut_out : bool, optional
        Whether it gets a cutting file. If not given, it does if it covers all of its panels:
        bones and tapes are not cut from a pattern. It is settled when the fabric is made:
        `dataclasses.replace` keeps it, whatever the coverage then is.
    thickness_uncertainty : float or None
        Standard uncertainty of the thickness in mm; None if it is not known.
    loft_uncertainty, coverage_uncertainty : float
        Standard uncertainties of the two factors; 0 takes them as exact.
    cloth : str
        What it is cut from; fabrics of one cloth were measured once, and are equally wrong.
    band : (float, float) or None
        From where to where it lies, in mm above the waist, as a waist tape does; None where that
        is all the way.
    by_height : tuple of (float, float)
        Heights in mm above the waist, rising, and the factor on thickness times coverage there;
        linear between them, held beyond.
    take_up, take_up_length : float
        Part of its width (round the body) and part of its length that a cut piece loses when it is
        quilted, corded, channelled or steamed, 0 to 0.4: it is cut larger by so much.
    take_up_uncertainty : float
        Standard uncertainty of the part of its width that it loses, a part of 1 as well.
    reduced, reduced_length : float
        Part of its width (round the body) and part of its length by which a piece is cut smaller,
        0 to 0.4, as it is stretched to its size when it is sewn: cloth on the bias, knits, net.
    cut_in_one : tuple of tuple of str
        Panels that this layer has in one piece: names of neighbours, a tuple for each piece.
    darts_from : float
        From which width on, in mm, a dart is sewn in such a piece; where none is so wide, the piece
        is eased into place instead.
    split_at : tuple of str
        Lines at which this layer's panels are divided and sewn together again: labels or ids of
        lines in the drawing, which `Reading` names as well, or levels.

    Raises
    ------
    StackError
        If the thickness is not from 0 to 50 mm, or another number is out of its range; or the name
        is empty, or has control characters or more than 300 letters.

    Examples
    --------
    Steels in channels lie on a fifth of the surface and are not cut from a pattern:

    >>> bones = Fabric("bones in channels", 1.5, coverage=0.2)
    >>> round(bones.build, 3), bones.cut_out
    (0.3, False)
    """

    name: str
    thickness: float
    coverage: float = 1.0
    loft: float = 1.0
    panels: frozenset[str] | None = None
    cut_out: bool | None = None
    thickness_uncertainty: float | None = None
    loft_uncertainty: float = 0.0
    coverage_uncertainty: float = 0.0
    cloth: str = ""
    band: tuple[float, float] | None = None
    by_height: tuple[tuple[float, float], ...] = ()
    take_up: float = 0.0
    take_up_length: float = 0.0
    reduced: float = 0.0
    reduced_length: float = 0.0
    take_up_uncertainty: float = 0.0
    cut_in_one: tuple[tuple[str, ...], ...] = ()
    darts_from: float = DARTS_FROM_MM
    split_at: tuple[str, ...] = ()

    def __repr__(self) -> str:
        told = [
            f"{own.name}={value!r}"
            for own in fields(self)
            if (value := getattr(self, own.name)) != own.default
        ]
        return f"Fabric({', '.join(told)})"

    def __post_init__(self) -> None:
        WrongTypeError.unless(self.name, str, "the name of a fabric", "words, such as 'coutille'")
        refuse_misfits(self, f"fabric {self.name!r}")
        refuse_broken_line(self.name, "the name of a fabric", StackError, empty=False)
        refuse_broken_line(self.cloth, f"the cloth of fabric {self.name!r}", StackError)
        for label, value, low, high in (
            ("thickness", self.thickness, 0.0, THICKEST_MM),
            ("coverage", self.coverage, 0.0, 1.0),
            ("loft", self.loft, 0.0, 10.0),
            ("thickness uncertainty", self.thickness_uncertainty or 0.0, 0.0, THICKEST_MM),
            ("loft uncertainty", self.loft_uncertainty, 0.0, 10.0),
            ("coverage uncertainty", self.coverage_uncertainty, 0.0, 1.0),
            ("the width from which darts are sewn", self.darts_from, 0.0, MOST_DART_MM),
        ):
            if not (math.isfinite(value) and low <= value <= high):
                raise StackError(
                    f"{label} {value:g} of fabric {self.name!r} is not between {low:g} and "
                    f"{high:g}",
                    remedy="Thickness is in mm; coverage is a part of 1; loft is a factor.",
                    element=self.name,
                )

        for label in (
            "take_up",
            "take_up_length",
            "take_up_uncertainty",
            "reduced",
            "reduced_length",
        ):
            share = getattr(self, label)
            if not 0.0 <= share <= MOST_TAKEN_UP:
                raise StackError(
                    f"{label} of fabric {self.name!r} is {share:g}, not between 0 and "
                    f"{MOST_TAKEN_UP:g}",
                    remedy="It is a part of the piece, 0.02 for 2 %: what it loses when it is sewn "
                    "(take_up), or by what it is cut smaller to be stretched (reduced).",
                    element=self.name,
                )
        if self.band is not None and not self.band[0] < self.band[1]:
            raise StackError(
                f"{self.name!r} lies from {self.band[0]:g} to {self.band[1]:g} mm above the waist",
                remedy="Give the lower end first; below the waist is negative.",
                element=self.name,
            )
        self._refuse_heights()
        if self.cut_out is None:
            object.__setattr__(self, "cut_out", self.coverage == 1.0)

    def _refuse_heights(self) -> None:
        """Refuse thicknesses by height that are none, or not in order."""
        points = self.by_height
        for height, factor in points:
            thick = self.thickness * factor
            if not (math.isfinite(height) and factor >= 0.0 and thick <= THICKEST_MM):
                raise StackError(
                    f"{self.name!r} is {thick:g} mm thick {height:g} mm above the waist",
                    remedy="Give by_height as heights in mm with factors on the thickness, from 0 "
                    f"on, that make it {THICKEST_MM:g} mm at most.",
                    element=self.name,
                )
        for (low, _), (high, _) in pairwise(points):
            if not low < high:
                raise StackError(
                    f"the heights at which {self.name!r} is told do not rise: {low:g}, {high:g}",
                    remedy="Give each height in by_height once, from the lowest up.",
                    element=self.name,
                )

    @property
    def own_pieces(self) -> bool:
        """Whether its pieces are not the panels: some in one, or split."""
        return bool(self.cut_in_one or self.split_at)

    @property
    def cut_larger(self) -> tuple[float, float]:
        """Factors by which its pieces are drawn wider and longer than they come out.

        Larger for what sewing takes up, smaller where they are stretched to their size.
        """
        return (
            (1.0 - self.reduced) / (1.0 - self.take_up),
            (1.0 - self.reduced_length) / (1.0 - self.take_up_length),
        )

    @property
    def sewn_uncertainty(self) -> float:
        """Standard uncertainty of a sewn piece's width, as a part of it, for what sewing takes."""
        return self.take_up_uncertainty / (1.0 - self.take_up)

    @property
    def changes_with_height(self) -> bool:
        """Whether it is not the same at all heights."""
        return self.band is not None or bool(self.by_height)

    def at(self, height: float) -> Fabric:
        """The fabric as it is at a height in mm above the waist, there and everywhere.

        Parameters
        ----------
        height : float

        Returns
        -------
        Fabric
            It lies on no panel where its band is not.

        Raises
        ------
        StackError
            If the height is no number.
        """
        refuse_no_height(height)
        if not self.changes_with_height:
            return self
        here = replace(self, band=None, by_height=())
        if self.band is not None and not self.band[0] <= height <= self.band[1]:
            return replace(here, panels=frozenset())
        if not self.by_height:
            return here
        (first, value), *rest = self.by_height
        for far, more in rest:
            if first < height < far:
                value += (height - first) / (far - first) * (more - value)
            elif height >= far:
                value = more
            else:
                break
            first = far
        return replace(here, thickness=self.thickness * value)

    @property
    def build(self) -> float:
        """What the fabric adds to the stack in mm: thickness times coverage times loft."""
        return self.thickness * self.coverage * self.loft

    @property
    def build_uncertainty(self) -> float | None:
        """Standard uncertainty of `build` in mm; None if that of the thickness is unknown.

        Those of thickness, loft and coverage know nothing of each other: they are added in
        quadrature (GUM, JCGM 100:2008, 5.1.2).
        """
        if self.thickness_uncertainty is None:
            return None
        return math.hypot(
            self.thickness_uncertainty * self.coverage * self.loft,
            self.thickness * self.coverage_uncertainty * self.loft,
            self.thickness * self.coverage * self.loft_uncertainty,
        )

    def covers(self, panel: str) -> bool:
        """Whether the fabric lies on a panel.

        Parameters
        ----------
        panel : str
            Its name.

        Returns
        -------
        bool
        """
        WrongTypeError.unless(panel, str, "a panel", "its name")
        return self.panels is None or panel in self.panels
