"""The cutting list: every piece with a box to tick, and all that is cut beside the panels."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Final

import numpy as np

from ..cutting.bones import BoneOptions, bone_channels, flat
from ..cutting.plan import CutPlan, cut_layers
from ..files import csv_bytes
from ..outline import FloatArray
from ..outline.measure import length
from ..pattern.panel import EdgeName, Panel
from ..pattern.pattern import EdgeKind, Pattern
from ..shift import LayerPattern, Shifted
from .buying import Layout
from .pieces import layer_pieces

TURN_IN_MM: Final = 20.0
"""Common practice, no source: at each end of a binding, a casing or a tape."""

_SIDES: Final[tuple[EdgeName, ...]] = ("front", "back")
_ENDS: Final[tuple[EdgeName, ...]] = ("top", "bottom")

LACING_ENDS_MM: Final = 1500.0
"""Common practice, no source: both loops to pull by, and the knot."""


@dataclass(frozen=True)
class Extras:
    """What is cut beside the panels; a width of 0 mm means that there is none.

    Parameters
    ----------
    binding : float
        Finished width of the binding of the top and the bottom edge, in mm.
    waist_tape, casing : float
        Width of the tape round the waist, and of the casings of the bones.
    front_facing, back_facing : float
        Finished width of a facing along the centre edges.
    modesty : float
        Width of the panel behind the lacing gap.
    eyelet_spacing, eyelet_inset : float
        Between eyelets along the centre back, and from its edge to them.
    bones : BoneOptions
    """

    binding: float = 0.0
    waist_tape: float = 0.0
    casing: float = 0.0
    front_facing: float = 0.0
    back_facing: float = 0.0
    modesty: float = 0.0
    eyelet_spacing: float = 0.0
    eyelet_inset: float = 12.0
    bones: BoneOptions = field(default_factory=BoneOptions)


@dataclass(frozen=True)
class LoosePiece:
    """Something to cut that is no panel: how many, how long and wide in mm, and what of it."""

    name: str
    count: int
    length: float
    width: float = 0.0
    note: str = ""


def loose_pieces(shifted: Shifted, plan: CutPlan, extras: Extras, gap: float) -> list[LoosePiece]:
    """All that is cut beside the panels, lengths by the outermost layer that covers them.

    *gap*: lacing gap in mm.
    """
    draft = shifted.turn.pattern
    outermost = cut_layers(shifted)[-1]
    outer = outermost.pattern
    both = 1 if draft.full else 2
    found = []
    if extras.binding > 0.0:
        thickness = sum(layer.fabric.build for layer in shifted.layers if layer.fabric.cut_out)
        # Folded into four, with the cloth of the stack inside.
        width = 4.0 * extras.binding + 2.0 * thickness
        for edge in _ENDS:
            size = both * _summed(outer, edge) + 2.0 * TURN_IN_MM
            found.append(LoosePiece(f"binding of the {edge} edge", 1, size, width, "on the bias"))
    if extras.waist_tape > 0.0:
        inside = shifted.layers[0].pattern
        size = both * sum(panel.waist.width for panel in inside.panels) + 2.0 * TURN_IN_MM
        found.append(LoosePiece("waist tape", 1, size, extras.waist_tape))
    facings: tuple[tuple[EdgeKind, float], ...] = (
        ("centre_front", extras.front_facing),
        ("centre_back", extras.back_facing),
    )
    for kind, width in facings:
        if width > 0.0:
            found += _facings(outermost, plan, kind, width)
    back = _centre_back(draft)
    if extras.modesty > 0.0 and back is not None:
        high = length(outer.panels[back[0]].edge(back[1]))
        found.append(
            LoosePiece("modesty panel", 1, high, extras.modesty, "straight; hem it all round")
        )
    channels = flat(bone_channels(draft))
    for channel in channels:
        bone = channel.bone(extras.bones)
        name = f"{extras.bones.kind} b{channel.number}, {channel.panel}"
        note = f"channel {plan.said(channel.length)}" if bone else "none sold is short enough"
        note += f", drawn as {channel.drawn}"
        found.append(LoosePiece(name, both, bone, 0.0, note))
        if extras.casing > 0.0:
            own = channel.length + 2.0 * TURN_IN_MM
            found.append(LoosePiece(f"casing of b{channel.number}", both, own, extras.casing))
    if extras.eyelet_spacing > 0.0 and back is not None:
        places = eyelet_places(outer.panels[back[0]], back[1], extras.eyelet_spacing)
        found.append(
            LoosePiece(
                "lacing",
                1,
                lacing_length(len(places), extras, gap),
                0.0,
                f"{len(places)} eyelets a side, {plan.said(2.0 * places[0])} apart, the lowest "
                f"{plan.said(places[0])} above the bottom stitch line",
            )
        )
    return found


def _summed(pattern: Pattern, edge: EdgeName) -> float:
    return sum(length(panel.edge(edge)) for panel in pattern.panels)


def _centre_back(pattern: Pattern) -> tuple[int, EdgeName] | None:
    every = ((k, edge) for k in range(len(pattern.panels)) for edge in _SIDES)
    return next((item for item in every if pattern.edge_kind(*item) == "centre_back"), None)


def _facings(layer: LayerPattern, plan: CutPlan, kind: EdgeKind, width: float) -> list[LoosePiece]:
    """Strips of the panel's own shape along its centre edge, with that panel's allowances."""
    found, pattern = [], layer.pattern
    for k, panel in enumerate(pattern.panels):
        for edge in _SIDES:
            if pattern.edge_kind(k, edge) != kind:
                continue
            allowances = plan.edges(pattern, k, layer.fabric.name)
            size = length(panel.edge(edge)) + allowances["top"] + allowances["bottom"]
            found.append(
                LoosePiece(
                    f"facing of the {kind.replace('_', ' ')}, {panel.name}",
                    1 if pattern.full else 2,
                    size,
                    width + allowances[edge],
                    f"trace the {edge} edge of the panel, {plan.said(width)} wide beside it",
                )
            )
    return found


def eyelet_places(panel: Panel, edge: EdgeName, spacing: float) -> FloatArray:
    """Distances of eyelets from the bottom of an edge, along it, in mm.

    As far from each other as the spacing or a little less, the first and the last half as far
    from the ends.
    """
    whole = length(panel.edge(edge))
    count = max(math.ceil(whole / spacing - 1e-9), 1)
    return (np.arange(count) + 0.5) * whole / count


def lacing_length(eyelets: int, extras: Extras, gap: float) -> float:
    """Length in mm of a lace that crosses from eyelet to eyelet over a gap, with its ends."""
    across = gap + 2.0 * extras.eyelet_inset
    return across + 2.0 * (eyelets - 1) * math.hypot(across, extras.eyelet_spacing) + LACING_ENDS_MM


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
    """Every piece of every layer, then all that is cut beside the panels."""
    found = []
    for layer in cut_layers(shifted):
        counted: dict[str, tuple[int, int]] = {}
        for piece in layer_pieces(shifted, layer, plan):
            drawn, mirrored = counted.get(piece.name, (0, 0))
            counted[piece.name] = drawn + (not piece.mirrored), mirrored + piece.mirrored
        cloth = layer.fabric.name
        found += [ListLine(cloth, name, *both) for name, both in counted.items()]
    return found + [
        ListLine("", item.name, item.count, 0, item.length, item.width, item.note) for item in loose
    ]


def list_words(
    lines: Sequence[ListLine], plan: CutPlan, layouts: Sequence[Layout] = ()
) -> list[str]:
    """The list for people, by cloth, with the lengths to buy where layouts are known."""
    found = []
    for cloth in dict.fromkeys(line.cloth for line in lines):
        bought = ", ".join(
            f"{layout.to_buy_text(plan.unit)} of cloth {plan.said(layout.cloth_width)} wide"
            for layout in layouts
            if layout.fabric == cloth
        )
        own = [line.words(plan) for line in lines if line.cloth == cloth]
        if cloth:
            # Panels of a cloth are alike but for their names: they run on in one paragraph.
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
