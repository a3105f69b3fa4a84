"""Panels of a layer in one piece: what comes of it, in numbers and words."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Final

from ..pattern.panel import Panel
from ..units import cloth_length, summand
from .seam_darts import SeamDart

_NOTHING: Final = 1e-4
"""A change of a ten thousandth is none: 0.03 mm along a seam."""

_WOVEN: Final = 0.03
"""From memory: woven cloth gives 1 to 3 % along its threads, more on the bias."""


@dataclass(frozen=True)
class JoinedLength:
    """A length before and after panels are laid flat in one piece, in mm.

    Parameters
    ----------
    name : str
        Of a level, across the piece, or of a seam that is not there any more, along it.
    before, after : float
        As the panels have it by themselves, and as the piece has it.
    """

    name: str
    before: float
    after: float

    @property
    def change(self) -> float:
        """By how much it has become longer, in mm."""
        return self.after - self.before

    @property
    def share(self) -> float:
        """The same as a part of what it was."""
        return self.change / self.before


@dataclass(frozen=True, eq=False)
class JoinedPiece:
    """Panels of a layer that are cut in one, and what that distorts.

    Parameters
    ----------
    panel : Panel
        The piece, in the axes of the panel in its middle.
    names : tuple of str
        Its panels, from front to back.
    levels : tuple of JoinedLength
        Widths at the levels that all of its panels carry, from the top down.
    seams : tuple of JoinedLength
        Lengths of the seams that are not there any more; before: the mean of their two edges.
    edges : tuple of JoinedLength
        Lengths of its front and its back edge, which are kept.
    area : JoinedLength
        In mm^2.
    stretch : (float, float)
        How much the cloth would have to be pushed together (negative) and stretched at most to lie
        as the panels do, as parts of its length.
    darts : tuple of (str, SeamDart)
        What stays open along each of the seams where nothing is distorted.
    sewn : bool
        Whether the darts are drawn and sewn; then nothing is distorted.
    smoothed : float
        How far the top and the bottom edge were moved to run smoothly over the seams, in mm.
    """

    panel: Panel = field(repr=False)
    names: tuple[str, ...]
    levels: tuple[JoinedLength, ...]
    seams: tuple[JoinedLength, ...]
    edges: tuple[JoinedLength, ...]
    area: JoinedLength
    stretch: tuple[float, float]
    darts: tuple[tuple[str, SeamDart], ...]
    sewn: bool
    smoothed: float

    def words(self, unit: str = "mm") -> str:
        """What the maker has to know of the piece.

        Parameters
        ----------
        unit : {"mm", "cm", "in"}

        Returns
        -------
        str
        """
        darts = "; ".join(f"{_dart(dart, unit)} along {seam}" for seam, dart in self.darts)
        if self.sewn:
            return (
                f"{self.panel.name} in one piece does not lie flat without darts: sew those that "
                f"are drawn, {darts}; then it is as wide and long as its panels"
            )
        if max(map(abs, self.stretch)) < _NOTHING:
            return (
                f"{self.panel.name} in one piece lies flat without a dart, and nothing is changed"
            )
        widths = ", ".join(f"{one.name} {_changed(one, unit)}" for one in self.levels)
        seams = ", ".join(f"{one.name} {_changed(one, unit)}" for one in self.seams)
        push, pull = (f"{100.0 * abs(one):.1f} %" for one in self.stretch)
        more = max(map(abs, self.stretch)) > _WOVEN
        return (
            f"{self.panel.name} in one piece is laid flat without its darts: {widths}; along the "
            f"seams that it lacks {seams}; area {100.0 * self.area.share:+.2f} %; its outer edges "
            f"keep their lengths; ease it in: the cloth has to give up to {pull} and to shrink up "
            f"to {push} somewhere"
            + (", more than woven cloth does on the grain" if more else "")
            + (f"; sewn, its darts would be {darts}" if darts else "")
        )


def _dart(dart: SeamDart, unit: str) -> str:
    """Where a dart lies and how wide it is."""

    def height(mm: float) -> str:
        if mm == dart.low and dart.bottom:
            return "the bottom edge"
        if mm == dart.high and dart.top:
            return "the top edge"
        return f"{cloth_length(abs(mm), unit)} {'above' if mm >= 0.0 else 'below'} the waist"

    reach = f"from {height(dart.low)} to {height(dart.high)}"
    return f"{cloth_length(dart.width, unit)}, {reach}, widest at {height(dart.at)},"


def _changed(one: JoinedLength, unit: str) -> str:
    sign = "+" if one.change >= 0.0 else "-"
    return f"{sign}{summand(abs(one.change), unit)} {unit} ({100.0 * one.share:+.1f} %)"
