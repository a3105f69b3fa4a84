"""How much cloth a job needs: each fabric's layouts, and the length to buy."""

from __future__ import annotations

import math
import os
from collections.abc import Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property
from typing import Final

from ..cutting.loose import LoosePiece
from ..cutting.plan import DEFAULT_SPARE_MM, DEFAULT_WIDTH_MM, CutPlan, cut_layers
from ..errors import StackError
from ..shift import Shifted
from ..units import MM_PER_INCH, show
from .bounds import lower_bound
from .laid import LaidPiece, laid_length
from .packing import EFFORT, GAP_MM, nest, nest_folded
from .pieces import Piece, beside_pieces, folded_pieces, layer_pieces

YARD_EIGHTH_MM: Final = 36.0 * MM_PER_INCH / 8.0
BUYING_STEP_MM: Final[dict[str, float]] = {"mm": 100.0, "cm": 100.0, "in": YARD_EIGHTH_MM}
"""Steps in which shops sell cloth, by display unit: 10 cm, or an eighth of a yard."""


@dataclass(frozen=True)
class ClothOptions:
    """How a fabric is sold and laid.

    `widths` in mm that it may be bought in, as they can be used: between the selvedges and after
    washing. `nap`: whether all pieces must lie the same way, as for pile, sheen or a pattern with
    an up. `shrinkage`: part of its length that it loses in washing before it is cut, 0 to below
    0.5. `spare`: length in mm to buy beyond the layout, to square the ends. `folded`: whether it is
    cut folded along its length, right sides together. `shrinkage_width`: part of its width that it
    has lost where it can be used; it is sold so much wider.

    Raises `StackError` if a number makes no sense.
    """

    widths: tuple[float, ...] = (DEFAULT_WIDTH_MM,)
    nap: bool = False
    shrinkage: float = 0.0
    spare: float = DEFAULT_SPARE_MM
    folded: bool = False
    shrinkage_width: float = 0.0

    def __post_init__(self) -> None:
        faults = (
            (not self.widths, "no cloth width", "Give at least one width."),
            (
                not all(0.0 < width < math.inf for width in self.widths),
                f"cloth widths of {', '.join(f'{width:g}' for width in self.widths)} mm",
                "Give widths above 0 mm.",
            ),
            (
                not (0.0 <= self.shrinkage < 0.5 and 0.0 <= self.shrinkage_width < 0.5),
                f"a shrinkage of {self.shrinkage:g}, {self.shrinkage_width:g} of the width",
                "Give the part that is lost, from 0 to below 0.5: 0.03 for 3 percent.",
            ),
            (
                not 0.0 <= self.spare < math.inf,
                f"a spare length of {self.spare:g} mm",
                "Give 0 mm or more.",
            ),
        )
        for fault, problem, remedy in faults:
            if fault:
                raise StackError(problem, remedy=remedy)


@dataclass(frozen=True, eq=False)
class Layout:
    """All pieces of a fabric laid on cloth of one width in mm.

    `laid`: each panel's pieces in the pattern's order. On the cloth x runs across from the left
    edge, or from the fold of folded cloth, y along from the beginning, both in mm; y downwards in
    pictures. `gap`: least distance in mm between cut lines. `nested` is false if the nesting
    library could not be used and the pieces lie in rows.
    """

    fabric: str
    cloth_width: float
    options: ClothOptions
    gap: float
    laid: tuple[LaidPiece, ...]
    nested: bool = True

    @property
    def sold_width(self) -> float:
        """Width in mm of the cloth as it is bought, before washing."""
        return round(self.cloth_width / (1.0 - self.options.shrinkage_width), 6)

    @cached_property
    def length(self) -> float:
        """Length of cloth that the pieces take up, in mm."""
        return laid_length(self.laid)

    @cached_property
    def area(self) -> float:
        """Area of all pieces in mm^2, allowances included."""
        return sum(
            lying.piece.area * (2 if lying.piece.held else lying.piece.plies) for lying in self.laid
        )

    @property
    def lying_width(self) -> float:
        """Width in mm of the cloth as it lies: half of folded cloth."""
        return 0.5 * self.cloth_width if self.options.folded else self.cloth_width

    @property
    def share(self) -> float:
        """Part of the cloth, over the length taken up, that becomes pieces; 0 to 1."""
        return self.area / (self.length * self.cloth_width)

    @cached_property
    def bound(self) -> float:
        """Length in mm below which no layout can be; see `panelshift.needs.bounds`."""
        pieces = [lying.piece for lying in self.laid]
        return lower_bound(pieces, self.lying_width, self.gap)

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


ROWS_ONLY: Final = (
    "the nesting library could not be used, so pieces lie in rows: a layout by hand may be shorter"
)


@dataclass(frozen=True, eq=False)
class FabricNeeds:
    """What a job needs of each fabric.

    Parameters
    ----------
    layouts : tuple of Layout
        By fabric from the body outwards, each on its widths in the order given; without
        those that are too narrow.
    warnings : tuple of str
        Widths that are too narrow, each with the piece that does not fit; and what else
        the maker should know.
    """

    layouts: tuple[Layout, ...]
    warnings: tuple[str, ...] = ()


def fabric_needs(
    shifted: Shifted,
    plan: CutPlan,
    options: Mapping[str, ClothOptions] | None = None,
    *,
    loose: Sequence[LoosePiece] = (),
    gap: float = GAP_MM,
    effort: int = EFFORT,
    unit: str = "mm",
) -> FabricNeeds:
    """Lay every fabric that is cut out on every width of cloth it may be bought in.

    Each layer is laid by its own outlines: layers differ by their turn of cloth.

    *plan*: allowances, and how often each panel is cut. *options*: fabrics that are not named get
    the defaults. *loose*: what is cut beside the panels; what is of a layer's cloth is laid with
    it. *gap*: least distance in mm between two cut lines. *effort*: how hard to search;
    see `panelshift.needs.packing.nest`. *unit*: {"mm", "cm", "in"}. In which warnings give lengths.
    """
    chosen = options or {}
    tasks: list[tuple[str, tuple[Piece, ...], float, ClothOptions]] = []
    warnings = _crooked_folds(shifted, plan)
    for layer in cut_layers(shifted):
        name = layer.fabric.name
        own = chosen.get(name, ClothOptions())
        pieces = (*layer_pieces(shifted, layer, plan), *beside_pieces(loose, name))
        for width in own.widths:
            try:
                laid = folded_pieces(pieces) if own.folded else pieces
                refuse_too_wide(name, laid, 0.5 * width if own.folded else width, unit=unit)
            except StackError as error:
                warnings.append(f"{name}: {error.problem}. {error.remedy}")
            else:
                tasks.append((name, pieces, width, own))
    # Each task waits for a process of its own.
    with ThreadPoolExecutor(max_workers=os.cpu_count() or 1) as pool:
        layouts = tuple(pool.map(lambda task: lay(*task, gap=gap, effort=effort, unit=unit), tasks))
    if effort > 0 and not all(layout.nested for layout in layouts):
        warnings.append(f"fabric needs: {ROWS_ONLY}")
    return FabricNeeds(layouts, tuple(warnings))


def _crooked_folds(shifted: Shifted, plan: CutPlan) -> list[str]:
    pattern = shifted.turn.pattern
    return [
        f"panel {panel.name!r} is laid as mirrored about its {fold} edge, which is not straight: "
        "it cannot lie on a fold"
        for index, panel in enumerate(pattern.panels)
        if (fold := plan.cutting(pattern, index).fold) and not panel.is_straight(fold)
    ]


def lay(
    fabric: str,
    pieces: Sequence[Piece],
    width: float,
    options: ClothOptions,
    *,
    gap: float = GAP_MM,
    effort: int = EFFORT,
    unit: str = "mm",
) -> Layout:
    """Lay the pieces of one fabric on cloth of one width in mm, folded or not.

    Raises `StackError` if a piece is wider than the cloth, or there is no piece.
    """
    if not pieces:
        raise StackError(
            f"no piece is cut of {fabric!r}",
            remedy="Lay fabrics that cover a panel.",
            element=fabric,
        )
    if options.folded:
        pieces = folded_pieces(pieces)
        refuse_too_wide(fabric, pieces, 0.5 * width, unit=unit)
        found = nest_folded(pieces, 0.5 * width, gap=gap, nap=options.nap, effort=effort)
    else:
        refuse_too_wide(fabric, pieces, width, unit=unit)
        found = nest(pieces, width, gap=gap, nap=options.nap, effort=effort)
    return Layout(fabric, width, options, gap, found.laid, found.nested)


def refuse_too_wide(
    fabric: str, pieces: Sequence[Piece], width: float, *, unit: str = "mm"
) -> None:
    """Refuse cloth that is narrower than a piece.

    Raises `StackError` for naming the widest piece, its width and the cloth's.
    """
    widest = max(pieces, key=lambda piece: piece.width)
    if widest.width > width + 1e-9:
        raise StackError(
            f"piece {widest.name!r} is {show(widest.width, unit)} wide across the grain with its "
            f"allowances, and does not fit on cloth {show(width, unit)} wide",
            remedy="Take wider cloth, or divide the piece.",
            element=fabric,
        )
