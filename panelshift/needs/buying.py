"""How much cloth a job needs: each fabric that is cut out, on each width it is sold in."""

from __future__ import annotations

import os
from collections.abc import Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import Final

from ..cutting.plan import ClothOptions, CutPlan, cut_layers
from ..errors import StackError
from ..shift import Shifted
from ..units import show
from .layout import Layout
from .packing import EFFORT, GAP_MM, nest
from .pieces import Piece, layer_pieces

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
    gap: float = GAP_MM,
    effort: int = EFFORT,
    unit: str = "mm",
) -> FabricNeeds:
    """Lay every fabric that is cut out on every width of cloth it may be bought in.

    Each layer is laid by its own outlines: layers differ by their turn of cloth.

    *plan*: allowances, and how often each panel is cut. *options*: fabrics that are not named get
    the defaults. *gap*: least distance in mm between two cut lines. *effort*: how hard to search;
    see `panelshift.needs.packing.nest`. *unit*: {"mm", "cm", "in"}. In which warnings give lengths.
    """
    chosen = options or {}
    tasks: list[tuple[str, tuple[Piece, ...], float, ClothOptions]] = []
    warnings = _crooked_folds(shifted, plan)
    for layer in cut_layers(shifted):
        name = layer.fabric.name
        own = chosen.get(name, ClothOptions())
        pieces = layer_pieces(shifted, layer, plan)
        for width in own.widths:
            try:
                refuse_too_wide(name, pieces, width, unit=unit)
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
    """Lay the pieces of one fabric on cloth of one width in mm.

    Raises `StackError` if a piece is wider than the cloth, or there is no piece.
    """
    if not pieces:
        raise StackError(
            f"no piece is cut of {fabric!r}",
            remedy="Lay fabrics that cover a panel.",
            element=fabric,
        )
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
            f"panel {widest.name!r} is {show(widest.width, unit)} wide across the grain with its "
            f"allowances, and does not fit on cloth {show(width, unit)} wide",
            remedy="Take wider cloth, or divide the panel.",
            element=fabric,
        )
