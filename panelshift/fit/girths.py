"""Finished girths: inside, on every layer and outside, for every possible drafted layer.

And what is not known of them: plus or minus of the cloth, of the body, and of both.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from ..body.turn import TurnOfCloth
from ..construction.account import needed_at
from ..construction.laying import Lay
from ..construction.leeway import NORMAL_95, Leeway
from ..outline import FloatArray
from ..shift import Shifted
from ..stack import Stack, Surface
from ..units import MM_PER_UNIT


@dataclass(frozen=True)
class Alike:
    """One panel of one layer at one level, cut like the drafted layer.

    *growth*: what the layer needs across, in mm; negative if it has too much. *strain*: part by
    which an outer layer must stretch. *buckle*: height in mm of one smooth half wave that an inner
    layer's excess makes over the panel.
    """

    layer: str
    panel: str
    level: str
    growth: float
    strain: float | None
    buckle: float | None


def buckle_height(excess: float, width: float) -> float:
    """Height in mm of one half wave of cloth that has `excess` mm too much over `width` mm.

    Notes
    -----
    A sine of height A over a span w is longer than w by about pi^2 A^2 / (4 w), so
    A = (2/pi) sqrt(excess * width); within 1 % of the exact sine while excess/width < 0.027.
    It is no bound: n waves stand 1 / n as high, a fold with straight sides 11 % higher,
    sqrt(excess * width / 2).

    Examples
    --------
    >>> round(buckle_height(0.5, 50.0), 4)
    3.1831
    """
    return 2.0 / np.pi * float(np.sqrt(excess * width))


def cut_alike(shifted: Shifted) -> list[Alike]:
    """Strain of outer layers and buckles of inner layers, panel by panel and level by level."""
    turn = shifted.turn
    result = []
    for layer in shifted.layers:
        if layer.drafted or not layer.fabric.cut_out:
            continue
        for index in layer.covered:
            panel = turn.pattern.panels[index]
            for level in panel.level_lines:
                growth = shifted.growth(layer.place, index, level.height)
                width = turn.width_at(index, level.height)
                strain = growth / width if growth > 0.0 else None
                buckle = buckle_height(-growth, width) if growth < 0.0 else None
                result.append(
                    Alike(layer.fabric.name, panel.name, level.name, growth, strain, buckle)
                )
    return result


_NEARLY_MM = 1.0
"""A side edge that ends this close to a level still tells the width there."""


def short_panels(turn: TurnOfCloth, level: str) -> tuple[str, ...]:
    """Names of panels that end before a level: no girth can be stated there.

    A panel on which the level is not drawn counts as reaching it if both its side edges do.
    """
    pattern = turn.pattern
    height = pattern.level_height(level)
    short = []
    for index, panel in enumerate(pattern.panels):
        ends = turn.profile.ends[2 * index : 2 * index + 2]
        low, high = float(ends[:, 0].max()) - _NEARLY_MM, float(ends[:, 1].min()) + _NEARLY_MM
        # Beyond its tip a gore has no width, which is known.
        low = -math.inf if panel.pointed == "bottom" else low
        high = math.inf if panel.pointed == "top" else high
        if panel.level(level) is None and not low <= height <= high:
            short.append(panel.name)
    return tuple(short)


def whole_levels(turn: TurnOfCloth) -> tuple[str, ...]:
    """Names of the levels that every panel reaches, from the top down."""
    return tuple(name for name in turn.pattern.level_names() if not short_panels(turn, name))


SKIN, OUTSIDE, OVER_BONES = "skin side", "outside", "outside, tape over the bones"
TAPE: Final = "outside, tape over all"


@dataclass(frozen=True, eq=False)
class LevelGirths:
    """Girths at one level for one choice of drafted layer.

    *height*: in mm above the waist. *drafted*: the layer that keeps the drafted size. *closed*:
    girth in mm right round the body on each surface, lacing gap and busk counted. *edge_to_edge*:
    the same without the lacing gap: what the corset itself measures. *plus_minus*: half the width
    in mm of the 95 % interval that the fabrics' thicknesses and the swatches leave, None where one
    that matters has no stated uncertainty.
    """

    level: str
    height: float
    drafted: str
    closed: Mapping[str, float]
    edge_to_edge: Mapping[str, float]
    plus_minus: Mapping[str, float | None]

    def worn_in(self, surface: str, part: float) -> float:
        """Girth in mm, gap counted, once the cloth has given by a part: the gap gives nothing."""
        return self.closed[surface] + part * self.edge_to_edge[surface]


def over_all(row: LevelGirths) -> str:
    """The surface on which a tape outside lies: over bones and seams as far as they are known."""
    return list(row.closed)[-1]


def finished_girths(
    turn: TurnOfCloth,
    stack: Stack,
    drafted: str,
    *,
    gap: float,
    busk: float = 0.0,
    lay: Lay | None = None,
    leeway: Leeway | None = None,
) -> list[LevelGirths]:
    """Girths at every level that all panels reach, if a layer keeps the drafted size.

    *drafted*: name of that layer. *gap*: lacing gap in mm. *busk*: how far in mm the closed busk
    holds the two front edges apart. *lay*, *leeway*: what the layers lie over, where that is
    said, and how well it is known.

    Raises `StackError` if the layer is not in the stack or does not cover every panel.

    Notes
    -----
    The girth of the drafted layer's mid-surface is that of the draft. A surface at distance x
    from it is longer by x cos(tilt) theta in each panel and in the gap: in all 2 pi x on an
    upright body (Steiner). Eyelets lie within the back panels and add nothing; a busk is flat
    and adds its own width only. What layers need to ride over ridges comes on top, against what
    the drafted one needs.
    """
    pattern = turn.pattern
    names = [panel.name for panel in pattern.panels]
    both = 1.0 if pattern.full else 2.0
    beside = _beside_gap(len(names), pattern.full)
    result = []
    for level in whole_levels(turn):
        height = pattern.level_height(level)
        chosen = replace(stack.at(height), drafted=drafted)
        distances = surface_distances(chosen, names)
        over = {} if lay is None else _over_ridges(lay, height, drafted)
        if over:
            distances[TAPE] = distances[OUTSIDE]
        opening = turn.ring.gap_at(height) if turn.ring.gap_varies else gap
        widths = both * sum(turn.width_at(i, height) for i in range(len(names))) + busk
        growth = both * np.array([turn.growth_at(i, height) for i in range(len(names))])
        in_gap = turn.ring_growth_at(height) - float(growth.sum())
        # Nothing lies in the gap: its surface goes on from the panels beside it.
        whole = growth + beside * in_gap
        alone = {
            surface: widths + float(d @ growth) + over.get(surface, 0.0)
            for surface, d in distances.items()
        }
        closed = {
            surface: widths + opening + float(d @ whole) + over.get(surface, 0.0)
            for surface, d in distances.items()
        }
        if leeway is None:
            spread = girth_spreads(chosen, dict(zip(names, whole.tolist(), strict=True)))
        else:
            # How far ridges of what covers a part are known is not told with what is sewn.
            found = _sewn_spreads(leeway, chosen, height, both, in_gap * beside)
            spread = {surface: found.get(surface) for surface in distances}
        for fabric in stack.fabrics:
            taken = NORMAL_95 * fabric.sewn_uncertainty * widths
            if taken and (own := spread[fabric.name]) is not None:
                spread[fabric.name] = math.hypot(own, taken)
        result.append(LevelGirths(level, height, drafted, closed, alone, spread))
    return result


def _over_ridges(lay: Lay, height: float, drafted: str) -> dict[str, float]:
    """What each surface needs besides to ride over ridges, if a layer keeps the drafted size."""
    needed, tape = needed_at(lay, height)
    names = lay.sewn.stack.names
    needed, tape = needed - needed[names.index(drafted)], tape - needed[names.index(drafted)]
    own = dict(zip(names, needed.tolist(), strict=True))
    return {SKIN: float(needed[0]), OUTSIDE: float(needed[-1]), TAPE: tape} | own


def _sewn_spreads(
    leeway: Leeway, stack: Stack, height: float, both: float, gap: FloatArray
) -> dict[str, float | None]:
    """What `girth_spreads` gives, where it is said how the corset is sewn.

    *gap*: growth in the gap for each mm of distance of the panels beside it.
    """
    level = leeway.at(height)
    own = both * leeway.growth[..., level].sum(axis=2) + leeway.apart[..., level] @ gap
    tape = both * leeway.tape[:, level] + leeway.apart[:, -1, :, level] @ gap
    own, tape = (change - own[:, [1 + stack.drafted_index]] for change in (own, tape[:, None]))
    names = (SKIN, *stack.names, OUTSIDE)
    found = {name: leeway.total(own[:, row]) for row, name in enumerate(names)}
    return {**found, TAPE: leeway.total(tape[:, 0])}


def _beside_gap(count: int, full: bool) -> FloatArray:
    """Part of the gap's surface that goes on from each panel."""
    result = np.zeros(count)
    for index in (0, count - 1) if full else (count - 1,):
        result[index] += 0.5 if full else 1.0
    return result


def surface_distances(stack: Stack, panels: Sequence[str]) -> dict[str, FloatArray]:
    """Distance of every surface from the drafted layer's mid-surface on each panel, in mm.

    The surfaces are the skin side, each layer's middle, the outside, and the outside as a tape
    finds it that rests on bones: there, what covers only a part has its whole thickness.
    """
    by_panel = [stack.surfaces(name) for name in panels]
    result = {SKIN: np.array([surfaces.skin for surfaces in by_panel])}
    result |= dict(zip(stack.names, stack.distances(panels), strict=True))
    result[OUTSIDE] = np.array([surfaces.outside for surfaces in by_panel])
    if has_bones(stack):
        # The tape rests on the ridges; the drafted layer is still where it is on average.
        ridges = [sum(_ridge(stack, panel).values()) for panel in panels]
        result[OVER_BONES] = result[OUTSIDE] + np.array(ridges)
    return result


def has_bones(stack: Stack) -> bool:
    """Whether a fabric covers panels only in part, as bones in channels do."""
    return any(0.0 < fabric.coverage < 1.0 for fabric in stack.fabrics)


def _ridge(stack: Stack, panel: str) -> dict[str, float]:
    """What each part-covering fabric stands above its average on a panel, in mm."""
    return {
        fabric.name: replace(fabric, coverage=1.0).build - fabric.build
        for fabric in stack.fabrics
        if 0.0 < fabric.coverage < 1.0 and fabric.covers(panel)
    }


def girth_spreads(stack: Stack, turns: Mapping[str, float]) -> dict[str, float | None]:
    """Half the width of the 95 % interval of the girth on every surface, in mm.

    *turns*: growth for each mm of distance, both halves together; see `Stack.girth_uncertainty`.
    """
    drafted = stack.drafted_index

    def spread(surface: Surface, *, ridges: bool = False) -> float | None:
        value = stack.girth_uncertainty(turns, drafted, surface, ridges=ridges)
        return None if value is None else NORMAL_95 * value

    result = {SKIN: spread("skin")}
    result |= {name: spread(index) for index, name in enumerate(stack.names)}
    result[OUTSIDE] = spread("outside")
    if has_bones(stack):
        result[OVER_BONES] = spread("outside", ridges=True)
    return result


def coarse(value: float, units: str) -> str:
    """Format the size of a thing that is looked for in a kitchen: to the mm, or near it."""
    digits = {"mm": 0, "cm": 1, "in": 1}[units]
    return f"{value / MM_PER_UNIT[units]:.{digits}f} {units}"
