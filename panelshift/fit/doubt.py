"""What is not known of the body, beside what is not known of the cloth: plus or minus of both."""

from __future__ import annotations

import math

from ..body.turn import TurnOfCloth
from ..pattern.panel import EdgeName
from ..shift import LayerPattern, Shifted
from ..units import show
from .girths import NORMAL_95


def growth_by_body(turn: TurnOfCloth, distance: float, panel: int, height: float) -> float | None:
    """Half the width in mm of the 95 % interval that the body leaves to a panel's growth.

    *distance*: of the layer from the drafted one on this panel, in mm. *height*: in mm above the
    waist.
    """
    spread = turn.spread_at(panel, height)
    return None if spread is None else abs(distance) * spread


def together(cloth: float | None, body: float | None) -> float | None:
    """Two errors that know nothing of each other, in quadrature.

    None if that of the cloth is not known; a body model that states none adds none.
    """
    return None if cloth is None else math.hypot(cloth, body or 0.0)


def seam_by_body(
    turn: TurnOfCloth, layer: LayerPattern, panel: int, edge: EdgeName
) -> float | None:
    """Half the width in mm of the 95 % interval that the body leaves to an edge's length.

    The parts above and below the waist are added as if they always erred together: at most.
    """
    low, high = turn.profile.drawn
    parts = [turn.lengthening_spread_at(panel, edge, height) for height in (low, high)]
    if parts[0] is None or parts[1] is None:
        return None
    return abs(float(layer.distances[panel])) * (parts[0] + parts[1])


def seam_by_cloth(shifted: Shifted, layer: LayerPattern, panel: int, change: float) -> float | None:
    """The same that thicknesses leave: the change of length goes with the distance."""
    distance = float(layer.distances[panel])
    if distance == 0.0:
        return 0.0
    name = shifted.turn.pattern.panels[panel].name
    stack = shifted.stack
    value = stack.distance_uncertainty(name, stack.drafted_index, layer.place)
    return None if value is None else NORMAL_95 * value * abs(change / distance)


def layer_by_body(shifted: Shifted, layer: LayerPattern) -> float | None:
    """The widest of a layer's panels' plus or minus that the body leaves, at any level, in mm."""
    turn = shifted.turn
    found = [
        growth_by_body(turn, float(layer.distances[index]), index, level.height)
        for index in layer.covered
        for level in (turn.pattern.panels[index].waist, *turn.pattern.panels[index].levels)
    ]
    known = [value for value in found if value is not None]
    return max(known) if known else None


def doubt_words(shifted: Shifted, units: str) -> list[str]:
    """What the body leaves open in the farthest layer, and which measure would narrow it most."""
    spread = shifted.turn.body.spread
    if spread is None:
        return []
    widest = [layer_by_body(shifted, layer) or 0.0 for layer in shifted.layers]
    place = widest.index(max(widest))
    lines = [
        f"For want of knowing the body a panel of {shifted.layers[place].fabric.name} may grow by "
        f"up to {show(widest[place], units)} more or less (95 times in 100)."
    ]
    if spread.narrowing:
        name, height, part = spread.narrowing[0]
        left = math.sqrt(max(1.0 - part, 0.0))
        if left < 0.95:
            where = (
                "at the waist"
                if abs(height) < 1.0
                else (
                    f"{show(abs(height), units)} {'above' if height > 0.0 else 'below'} the waist"
                )
            )
            lines.append(
                f"What would narrow that most: the {name} {where}; it would fall to about "
                f"{left:.0%} of that."
            )
    return lines
