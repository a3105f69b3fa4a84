"""What is not known of a layer's lines: by the cloth and the sewing, and by the body."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from ..construction.leeway import NORMAL_95
from ..pattern.panel import EdgeName
from ..pattern.pattern import Pattern
from ..pattern.profile import SIDES
from ..shift import LayerPattern, Shifted
from ..units import cloth_length
from .girths import coarse

_NEAR_MM: Final = 15.0
"""A measure taken so near to a level tells as much as one at the very height."""

_WORTH: Final = 0.9
"""Nobody fetches calipers for less than a tenth."""


def growth_spread(shifted: Shifted, layer: int, panel: int, height: float) -> float | None:
    """Half the width in mm of the 95 % interval that cloth and sewing leave to a panel's growth.

    *height*: in mm above the waist. None if a number that matters has no stated uncertainty.
    """
    turn, stack = shifted.turn, shifted.stack
    if (leeway := shifted.leeway) is not None:
        laid = leeway.total(leeway.growth[:, 1 + layer, panel, leeway.at(height)])
    else:
        name = turn.pattern.panels[panel].name
        value = stack.surfaces(name).uncertainty(stack.drafted_index, layer)
        laid = None if value is None else NORMAL_95 * value * abs(turn.growth_at(panel, height))
    taken = stack.fabrics[layer].sewn_uncertainty * turn.width_at(panel, height)
    return together(laid, NORMAL_95 * taken)


def growth_by_body(shifted: Shifted, layer: int, panel: int, height: float) -> float | None:
    """Half the width in mm of the 95 % interval that the body leaves to a panel's growth.

    *height*: in mm above the waist. None if its model states none.
    """
    spread = shifted.turn.spread_at(panel, height)
    if spread is None:
        return None
    changed = shifted.grown.distance(layer, panel, height) * spread
    if (leeway := shifted.leeway) is not None:
        turned = shifted.turn.growth_at(panel, height)
        part = min(spread / turned, 1.0) if turned > 0.0 else 0.0
        changed += float(leeway.by_turn[layer, panel, leeway.at(height)]) * part
    return abs(changed)


def together(cloth: float | None, body: float | None) -> float | None:
    """Two errors that know nothing of each other, in quadrature.

    None if that of the cloth is not known; a body model that states none adds none.
    """
    return None if cloth is None else math.hypot(cloth, body or 0.0)


def seam_by_body(shifted: Shifted, layer: LayerPattern, panel: int, edge: EdgeName) -> float | None:
    """Half the width in mm of the 95 % interval that the body leaves to an edge's length.

    The parts above and below the waist are added as if they always erred together, each by the
    farthest that the layer lies out along it: at most.
    """
    turn = shifted.turn
    number = 2 * panel + SIDES.index(edge)
    found = 0.0
    for end in turn.profile.drawn:
        part = turn.lengthening_spread_at(panel, edge, end)
        if part is None:
            return None
        heights = np.linspace(0.0, end, 9)
        apart = shifted.grown.at_edges(np.full(9, number), heights)[layer.place]
        found += float(np.abs(apart).max()) * part
    return found


def seam_by_cloth(
    shifted: Shifted, layer: LayerPattern, panel: int, edge: EdgeName, change: float
) -> float | None:
    """The same that cloth and sewing leave: the change of length goes with the distance there."""
    if (leeway := shifted.leeway) is not None:
        number = 2 * panel + SIDES.index(edge)
        apart = shifted.grown.at_edges(np.array([number]), np.zeros(1))
        distance = float(apart[layer.place, 0])
        value = leeway.total(leeway.edges[:, layer.place, number, leeway.at(0.0)])
    else:
        distance = float(layer.distances[panel])
        name, stack = shifted.turn.pattern.panels[panel].name, shifted.stack
        value = stack.surfaces(name).uncertainty(stack.drafted_index, layer.place)
        value = None if value is None else NORMAL_95 * value
    if distance == 0.0:
        return 0.0
    return None if value is None else value * abs(change / distance)


def layer_by_body(shifted: Shifted, layer: LayerPattern) -> float | None:
    """The widest of a layer's panels' plus or minus that the body leaves, at any level, in mm."""
    turn = shifted.turn
    found = [
        growth_by_body(shifted, layer.place, index, level.height)
        for index in layer.covered
        for level in turn.pattern.panels[index].level_lines
    ]
    known = [value for value in found if value is not None]
    return max(known) if known else None


@dataclass(frozen=True)
class Doubt:
    """What the body leaves open: half the 95 % interval in mm of the panel that is known least.

    `measure`: what would narrow it most, in words, to the part `left` of it; empty if no single
    measure takes a tenth of it away. `measurable`: whether measuring more of the body would tell.
    """

    layer: str
    width: float
    measure: str = ""
    left: float = 1.0
    measurable: bool = False

    def remedy(self) -> str:
        """What to measure, as the end of a sentence; empty if nothing would tell more."""
        if self.measure:
            return f"the {self.measure} would leave about {self.left:.0%} of that"
        if self.measurable:
            return (
                "no one measure takes a tenth of that away; tapes at five levels, sections traced "
                "with a flexible curve or a scan do"
            )
        return ""


def doubted(shifted: Shifted, units: str) -> Doubt | None:
    """What the body leaves open in the farthest layer; None if its model states nothing."""
    spread = shifted.turn.body.spread
    if spread is None:
        return None
    widest = [layer_by_body(shifted, layer) or 0.0 for layer in shifted.layers]
    place = widest.index(max(widest))
    found = Doubt(shifted.layers[place].fabric.name, widest[place])
    for name, height, part in spread.narrowing[:1]:
        left = math.sqrt(max(1.0 - part, 0.0))
        found = replace(found, measurable=True)
        if left <= _WORTH:
            where = _about(shifted.turn.pattern, height, units)
            found = replace(found, measure=f"{name} {where}", left=left)
    return found


def doubt_words(shifted: Shifted, units: str) -> list[str]:
    """The same in sentences."""
    doubt = doubted(shifted, units)
    if doubt is None:
        return []
    lines = [
        f"For want of knowing the body a panel of {doubt.layer} may grow by "
        f"up to {cloth_length(doubt.width, units, up=True)} more or less (95 times in 100)."
    ]
    if remedy := doubt.remedy():
        lines.append(f"What would narrow that: {remedy}.")
    return lines


def _about(pattern: Pattern, height: float, units: str) -> str:
    """Where to measure, for people: at a level of the pattern that is near, else roughly."""
    near = min(pattern.level_names(), key=lambda name: abs(pattern.level_height(name) - height))
    if abs(pattern.level_height(near) - height) <= _NEAR_MM:
        return f"at the {near}"
    away = 10.0 * max(round(abs(height) / 10.0), 1)
    return f"about {coarse(away, units)} {'above' if height > 0.0 else 'below'} the waist"
