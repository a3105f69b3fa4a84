"""Words beside the panels of a section: short names, set where they do not touch."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np

from ..outline import FloatArray
from ..sheets.lettering import width

MOST_LETTERS: Final = 14
"""Longer names are cut off in pictures; the page lists what each stands for."""

_LINES: Final = 2.3
"""Height of a name and an angle below it, in font sizes."""

_MOST_STEPS: Final = 12


def short_names(names: Sequence[str]) -> dict[str, str]:
    """Return as many first words of each name as tell it from all others.

    Examples
    --------
    >>> short_names(["1 centre front", "2 side", "front"])
    {'1 centre front': '1', '2 side': '2', 'front': 'front'}
    """
    distinct = list(dict.fromkeys(names))
    result: dict[str, str] = {}
    for name in distinct:
        words = name.split()
        for count in range(1, len(words) + 1):
            start = words[:count]
            if not any(other.split()[:count] == start for other in distinct if other != name):
                words = start
                break
        brief = _cut(" ".join(words) or name)
        # Two long names may be alike in all that fits: their numbers tell them apart.
        result[name] = brief if brief not in result.values() else f"({len(result) + 1})"
    return result


def _cut(text: str) -> str:
    return text if len(text) <= MOST_LETTERS else text[: MOST_LETTERS - 1] + "…"


def half_size(brief: str, letter: float) -> FloatArray:
    """Half the width and height of a name with an angle such as 45.2° below it."""
    wide = letter * max(width("145.2°"), width(brief))
    return 0.5 * np.array([wide, _LINES * letter])


def outward(point: FloatArray) -> FloatArray:
    """Direction from the origin to a point."""
    return np.asarray(point / max(float(np.hypot(*point)), 1e-9))


def middles_beside(
    points: Sequence[FloatArray], briefs: Sequence[str], letter: float
) -> list[FloatArray]:
    """Middle of a label beside each point of a ring round the origin.

    Labels stand clear of the ring, and step outwards until they touch no other. They are set
    from the centre front (the middle of the order) backwards, so that both halves step alike.

    Parameters
    ----------
    points : sequence of ndarray, shape (2,)
        In order round the ring.
    briefs : sequence of str
    letter : float
        Font size, in the points' unit.
    """
    halves = [half_size(brief, letter) for brief in briefs]
    middle = 0.5 * (len(points) - 1)
    middles: dict[int, FloatArray] = {}
    for k in sorted(range(len(points)), key=lambda k: (abs(k - middle), k)):
        way = outward(points[k])
        base = points[k] + (0.7 * letter + float(np.abs(way) @ halves[k])) * way
        for step in range(_MOST_STEPS):
            here = base + step * 1.25 * letter * way
            if not any(
                (np.abs(here - other) < halves[k] + halves[j]).all() for j, other in middles.items()
            ):
                break
        middles[k] = here
    return [middles[k] for k in range(len(points))]
