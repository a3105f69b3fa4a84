"""Bones that are drawn where none can lie: over an edge that opens, or where cloth is held."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from ..construction.channels import NARROWEST_MM, Channel, channels_of, off_edge
from ..construction.sewing import Bones
from ..construction.sewn import Sewn
from ..cutting.plan import CutPlan
from ..errors import ConstructionError
from ..outline import FloatArray
from ..pattern.drawing import Remark
from ..pattern.panel import EdgeName
from ..pattern.pattern import Pattern
from ..pattern.profile import SIDES

_FEW_MM = 0.5
"""A bone that is drawn right beside an edge lies over it by rounding."""


def bone_doubts(pattern: Pattern, plan: CutPlan, sewn: Sewn | None) -> tuple[Remark, ...]:
    """Drawn bones that lie over a centre edge, or over a seam at which a layer over them is held.

    Across a fold, a bone lies as one for both halves.
    """
    kinds = [None] if sewn is None else sewn.construction.bones
    over: dict[str, list[str]] = {}
    for bones in kinds:
        for channel, edge in _over_edges(pattern, plan, bones):
            kind, held = pattern.edge_kind(channel.panel, edge), _held_over(sewn, bones)
            words = ""
            if kind != "seam":
                words = (
                    f"the {kind.replace('_', ' ')}, and counts as one for both sides: it cannot "
                    "lie there if the edge opens, as at a busk or a lacing. Draw it beside the "
                    f'edge, or say fold = "{edge}" in the panel\'s table if nothing opens there'
                )
            elif held:
                words = (
                    f"a seam at which {held}, which lies over it, is held: no stitches go through "
                    "a bone. Draw it beside the seam, or say which shells are held at edges only"
                )
            if words:
                over.setdefault(words, []).append(pattern.panels[channel.panel].name)
    return tuple(
        Remark(
            "warning",
            "bone-over",
            f"{', '.join(dict.fromkeys(names))}: a bone is drawn over {words}",
            tuple(dict.fromkeys(names)),
        )
        for words, names in over.items()
    )


def _over_edges(
    pattern: Pattern, plan: CutPlan, bones: Bones | None
) -> Iterator[tuple[Channel, EdgeName]]:
    """Drawn channels, and the side edges on no fold over which their bones lie."""
    if bones is not None and bones.per_panel is not None:
        return
    try:
        channels = channels_of(pattern, bones)
    except ConstructionError:
        return  # it is asked how they are to be read, when layers are laid
    for channel in channels:
        half = 0.5 * (max(channel.width, NARROWEST_MM) if bones is None else bones.width)
        panel, fold = pattern.panels[channel.panel], plan.cutting(pattern, channel.panel).fold
        for edge in SIDES:
            if edge != fold and _median(off_edge(panel, edge, channel.middle)) < half - _FEW_MM:
                yield channel, edge


def _median(values: FloatArray) -> float:
    return float(np.median(np.abs(values)))


def _held_over(sewn: Sewn | None, bones: Bones | None) -> str:
    """The first layer over bones that is held at its seams; empty if none is."""
    if sewn is None or bones is None:
        return ""
    first = sewn.stack.names.index(bones.on) + 1
    for layer in range(first, len(sewn.stack.names)):
        shell, name = sewn.shell_of(layer), sewn.stack.names[layer]
        if shell is not None and (shell.held == "seams" or shell.layers[0] != name):
            return name
    return ""
