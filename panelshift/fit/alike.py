"""What happens if nothing is done: all layers cut like the drafted one."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..shift import Shifted


@dataclass(frozen=True)
class Alike:
    """One panel of one layer at one level, cut like the drafted layer.

    Parameters
    ----------
    layer, panel, level : str
    growth : float
        What the layer needs across, in mm; negative if it has too much.
    strain : float or None
        Part by which an outer layer must stretch.
    buckle : float or None
        Height in mm of the half wave that an inner layer's excess can make: an upper bound,
        since the body lies behind it.
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
            for level in (panel.waist, *panel.levels):
                growth = shifted.growth(layer.place, index, level.height)
                width = turn.width_at(index, level.height)
                strain = growth / width if growth > 0.0 else None
                buckle = buckle_height(-growth, width) if growth < 0.0 else None
                result.append(
                    Alike(layer.fabric.name, panel.name, level.name, growth, strain, buckle)
                )
    return result
