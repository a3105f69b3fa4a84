"""Where cloths turn over an edge or into a seam: what the outer ones need for that."""

from __future__ import annotations

import math
from typing import Final, Literal

import numpy as np

from ..body.turn import TurnOfCloth
from ..outline import FloatArray
from .sewing import Shell
from .sewn import Sewn

EdgeFinish = Literal["flat", "bound", "bagged", "faced"]
"""Cut level and left or bound; sewn together along the edge and turned out; or the outer cloth
turned over the edge to the inside."""

_TURNS: Final[dict[EdgeFinish, float]] = {
    "flat": 0.0,
    "bound": 0.0,
    "bagged": 0.5 * math.pi,
    "faced": math.pi,
}


def roll(finish: EdgeFinish, distance: float) -> float:
    """Height in mm that a cloth needs besides, to turn over an edge so far outside the innermost.

    A quarter of a turn where the seam lies on the edge, half a turn where the cloth goes over it.
    """
    return _TURNS[finish] * max(distance, 0.0)


def turned_in(shell: Shell) -> tuple[float, float]:
    """Angles by which the cloths turn into a seam, on the panel before it and behind it.

    Pressed open each turns by a quarter, to one side one of them by half a turn: the one whose
    allowance is folded back on to itself.
    """
    if shell.seams == "open":
        return 0.5 * math.pi, 0.5 * math.pi
    if shell.seams == "to front":
        return math.pi, 0.0
    if shell.seams == "lapped":
        return 0.0, 0.0
    return 0.0, math.pi


def folds(sewn: Sewn, distances: FloatArray, turn: TurnOfCloth, levels: FloatArray) -> FloatArray:
    """What layers sewn as one need at most to turn into their seams, in mm.

    *distances*: ndarray, shape (layers, panels, m), of the layers from the drafted one at levels.
    How much of it counts is not known: see `fold_factor`.

    Returns: ndarray, shape (layers, panels, m).
    """
    places, full = turn.places, turn.pattern.full
    distances = distances[:, places.panel]
    # Where a slit is not open nothing is turned in.
    there = places.open_at(turn.profile, levels)
    needed = np.zeros_like(distances)
    count = distances.shape[1]
    for shell in sewn.shells:
        layers = [sewn.stack.names.index(name) for name in shell.layers]
        angles = np.zeros((count, len(levels)))
        for seam in range(1, count):
            before, behind = turned_in(shell)
            if full and 2 * seam == count:
                continue
            if full and 2 * seam < count:
                before, behind = behind, before
            angles[seam - 1] += before * there[seam - 1]
            angles[seam] += behind * there[seam - 1]
        for layer in layers[1:]:
            apart = distances[layer] - distances[layers[0]]
            needed[layer] += apart * angles
    return places.summed(needed)
