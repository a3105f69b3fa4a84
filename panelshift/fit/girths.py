"""Finished girths: inside, on every layer and outside, for every possible drafted layer."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from ..outline import FloatArray
from ..stack import Stack
from ..turn import TurnOfCloth

SKIN, OUTSIDE, OVER_BONES = "skin side", "outside", "outside, tape over the bones"


@dataclass(frozen=True, eq=False)
class LevelGirths:
    """Girths at one level for one choice of drafted layer.

    Parameters
    ----------
    level : str
    height : float
        In mm above the waist.
    drafted : str
        The layer that keeps the drafted size.
    closed : dict of surface to float
        Girth in mm right round the body on each surface, lacing gap and busk counted.
    edge_to_edge : dict of surface to float
        The same without the lacing gap: what the corset itself measures.
    plus_minus : dict of surface to float or None
        Uncertainty in mm from the fabrics' thicknesses, None where one is not known.
    """

    level: str
    height: float
    drafted: str
    closed: dict[str, float]
    edge_to_edge: dict[str, float]
    plus_minus: dict[str, float | None]


def finished_girths(
    turn: TurnOfCloth,
    stack: Stack,
    drafted: str,
    *,
    gap: float,
    busk: float = 0.0,
) -> list[LevelGirths]:
    """Girths at every level of the pattern if a layer keeps the drafted size.

    Parameters
    ----------
    turn : TurnOfCloth
    stack : Stack
    drafted : str
        Name of that layer.
    gap : float
        Lacing gap in mm.
    busk : float
        How far in mm the closed busk holds the two front edges apart.

    Notes
    -----
    The girth of the drafted layer's mid-surface is that of the draft. A surface at distance x
    from it is longer by x cos(tilt) theta in each panel and in the gap: in all 2 pi x on an
    upright body (Steiner). Eyelets lie within the back panels and add nothing.
    """
    pattern = turn.pattern
    names = [panel.name for panel in pattern.panels]
    chosen = replace(stack, drafted=drafted)
    places = surface_distances(chosen, names)
    spread = surface_uncertainties(chosen, names)
    both = 1.0 if pattern.full else 2.0
    result = []
    for level in pattern.level_names():
        height = pattern.level_height(level)
        widths = both * sum(turn.width_at(i, height) for i in range(len(names))) + busk
        growth = np.array([turn.growth_at(i, height) for i in range(len(names))])
        in_gap = turn.ring_growth_at(height) - both * float(growth.sum())
        closed, alone, error = {}, {}, {}
        for surface, distance in places.items():
            cloth = widths + both * float(distance @ growth)
            # Nothing lies in the gap: its surface goes on from the panels beside it.
            beside = (
                float(distance[-1])
                if not pattern.full
                else float(0.5 * (distance[0] + distance[-1]))
            )
            closed[surface] = cloth + gap + beside * in_gap
            alone[surface] = cloth
            u = spread[surface]
            error[surface] = None if u is None else float(u * turn.ring_growth_at(height))
        result.append(LevelGirths(level, height, drafted, closed, alone, error))
    return result


def surface_distances(stack: Stack, panels: Sequence[str]) -> dict[str, FloatArray]:
    """Distance of every surface from the drafted layer's mid-surface on each panel, in mm.

    The surfaces are the skin side, each layer's middle, the outside, and the outside as a tape
    finds it that rests on bones: there, what covers only a part has its whole thickness.
    """
    skin, outside = _faces(stack, panels)
    result = {SKIN: skin}
    result |= {
        fabric.name: distance
        for fabric, distance in zip(stack.fabrics, stack.distances(panels), strict=True)
    }
    result[OUTSIDE] = outside
    if any(0.0 < fabric.coverage < 1.0 for fabric in stack.fabrics):
        whole = replace(stack, fabrics=[replace(f, coverage=1.0) for f in stack.fabrics])
        # The tape rests on the ridges; the drafted layer is still where it is on average.
        extra = np.array(
            [
                sum(
                    (w.build - f.build) * f.covers(name)
                    for w, f in zip(whole.fabrics, stack.fabrics, strict=True)
                    if f.coverage > 0.0
                )
                for name in panels
            ]
        )
        result[OVER_BONES] = outside + extra
    return result


def _faces(stack: Stack, panels: Sequence[str]) -> tuple[FloatArray, FloatArray]:
    """Skin side and outside, from the drafted layer's middle, for each panel."""
    distances = stack.distances(panels)
    covers = np.array([[f.covers(name) for name in panels] for f in stack.fabrics])
    half = np.array([[0.5 * f.build] for f in stack.fabrics])
    low = np.where(covers, distances - half, np.inf).min(axis=0)
    high = np.where(covers, distances + half, -np.inf).max(axis=0)
    return low, high


def surface_uncertainties(stack: Stack, panels: Sequence[str]) -> dict[str, float | None]:
    """Uncertainty of each surface's distance in mm; None where a thickness has none."""
    return dict.fromkeys(surface_distances(stack, panels))
