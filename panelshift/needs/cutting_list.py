"""The cutting list: every piece with a box to tick, and all that is cut beside the panels."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from ..cutting.loose import LoosePiece
from ..cutting.plan import CutPlan, cut_layers
from ..files import csv_bytes
from ..shift import Shifted
from .buying import Layout


@dataclass(frozen=True)
class ListLine:
    """One line of the list: what, of what, how many as drawn and mirrored, lengths in mm."""

    cloth: str
    name: str
    drawn: int
    mirrored: int = 0
    length: float = 0.0
    width: float = 0.0
    note: str = ""

    def words(self, plan: CutPlan) -> str:
        """The line with a box for each piece to tick."""
        count = self.drawn + self.mirrored
        boxes = "[_] " * count if count <= 8 else f"[_] x {count} "
        size = ""
        if self.length:
            size = f", {plan.said(self.length)} long"
            size += f", {plan.said(self.width)} wide" if self.width else ""
        sides = f" ({self.mirrored} mirrored)" if self.mirrored else ""
        return f"{boxes}{self.name}{sides}{size}{f' ({self.note})' if self.note else ''}"


def cutting_list(
    shifted: Shifted, plan: CutPlan, loose: Sequence[LoosePiece] = ()
) -> list[ListLine]:
    """Every piece of every layer, then all that is cut beside the panels, of its cloth or apart."""
    found = []
    for layer in (one.pieced for one in cut_layers(shifted)):
        for index in layer.covered:
            cutting = plan.cutting(layer.whole, index)
            name = layer.whole.panels[index].name
            found.append(ListLine(layer.fabric.name, name, *cutting.sides))
    return found + [
        ListLine(item.cloth, item.name, *item.sides, item.length, item.width, item.note)
        for item in loose
    ]


def list_words(
    lines: Sequence[ListLine], plan: CutPlan, layouts: Sequence[Layout] = ()
) -> list[str]:
    """The list for people, by cloth, with the lengths to buy where layouts are known.

    Pieces that lie in rows take no less: then it is the most that is needed.
    """
    found = []
    for cloth in dict.fromkeys(line.cloth for line in lines):
        bought = ", ".join(
            f"{'' if layout.nested else 'at most '}{layout.to_buy_text(plan.unit)} of cloth "
            f"{plan.said(layout.sold_width)} wide"
            for layout in layouts
            if layout.fabric == cloth
        )
        own = [line.words(plan) for line in lines if line.cloth == cloth]
        if cloth:
            # Pieces of a cloth are alike but for their names: they run on in one paragraph.
            found.append(f"{cloth}{f', {bought}' if bought else ''}: {'; '.join(own)}")
        else:
            found += own
    return found


def list_csv(lines: Sequence[ListLine]) -> bytes:
    """The list with exact lengths, for scripts and spreadsheets."""
    rows: list[list[float | str]] = [
        ["cloth", "piece", "as drawn", "mirrored", "length_mm", "width_mm", "note"]
    ]
    for line in lines:
        sizes = [f"{value:.3f}" if value else "" for value in (line.length, line.width)]
        rows.append([line.cloth, line.name, line.drawn, line.mirrored, *sizes, line.note])
    return csv_bytes(rows)
