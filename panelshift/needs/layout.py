"""One fabric on one width of cloth: where its pieces lie and how much to buy."""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property
from typing import Final

from ..cutting.plan import ClothOptions
from ..units import MM_PER_INCH
from .bounds import lower_bound
from .laid import LaidPiece, laid_length

YARD_EIGHTH_MM: Final = 36.0 * MM_PER_INCH / 8.0
BUYING_STEP_MM: Final[dict[str, float]] = {"mm": 100.0, "cm": 100.0, "in": YARD_EIGHTH_MM}
"""Steps in which shops sell cloth, by display unit: 10 cm, or an eighth of a yard."""


@dataclass(frozen=True, eq=False)
class Layout:
    """All pieces of a fabric laid on cloth of one width.

    Parameters
    ----------
    cloth_width : float
        In mm.
    gap : float
        Least distance in mm between cut lines.
    laid : tuple of LaidPiece
        Each panel's pieces in the pattern's order. On the cloth x runs across from the left
        edge, y along from the beginning, both in mm; y downwards in pictures.
    nested : bool
        False if the nesting library could not be used and the pieces lie in rows.
    """

    fabric: str
    cloth_width: float
    options: ClothOptions
    gap: float
    laid: tuple[LaidPiece, ...]
    nested: bool = True

    @cached_property
    def length(self) -> float:
        """Length of cloth that the pieces take up, in mm."""
        return laid_length(self.laid)

    @cached_property
    def area(self) -> float:
        """Area of all pieces in mm^2, allowances included."""
        return sum(lying.piece.area for lying in self.laid)

    @property
    def share(self) -> float:
        """Part of the cloth, over the length taken up, that becomes pieces; 0 to 1."""
        return self.area / (self.length * self.cloth_width)

    @cached_property
    def bound(self) -> float:
        """Length in mm below which no layout can be; see `panelshift.needs.bounds`."""
        pieces = [lying.piece for lying in self.laid]
        return lower_bound(pieces, self.cloth_width, self.gap)

    @property
    def above_bound(self) -> float:
        """By what part the length lies above the bound: 0 is perfect, 0.05 a twentieth longer.

        The bound is what no layout can beat, not what some layout must reach: where it comes
        from the area it supposes pieces cut without any cloth between them.
        """
        # Reached but for rounding and the tolerance of the check is reached.
        return max(self.length / self.bound - 1.0, 0.0)

    @property
    def needed(self) -> float:
        """Length in mm before washing: what is taken up and the spare, before shrinking."""
        return (self.length + self.options.spare) / (1.0 - self.options.shrinkage)

    def to_buy(self, unit: str = "mm") -> float:
        """Length to buy in mm, rounded up to what shops sell.

        *unit*: {"mm", "cm", "in"}. Display unit: steps of 10 cm, or of an eighth of a yard for
        inches.
        """
        step = BUYING_STEP_MM[unit]
        # A length that is a whole number of steps but for rounding is not rounded up again.
        return math.ceil(self.needed / step - 1e-9) * step

    def to_buy_text(self, unit: str = "mm") -> str:
        """Length to buy in words: metres, or yards and eighths for inches."""
        return bought(self.to_buy(unit), unit)


def bought(length: float, unit: str = "mm") -> str:
    """Write a length in mm as cloth is bought.

    Examples
    --------
    >>> bought(700.0), bought(1257.3, "in"), bought(914.4, "in")
    ('0.7 m', '1 3/8 yd', '1 yd')
    """
    if unit != "in":
        return f"{length / 1000.0:.1f} m"
    whole, rest = divmod(round(length / YARD_EIGHTH_MM), 8)
    parts = [str(whole)] if whole or not rest else []
    if rest:
        parts.append(str(Fraction(rest, 8)))
    return f"{' '.join(parts)} yd"
