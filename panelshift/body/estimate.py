"""The section that is likeliest, given tapes and what bodies are like."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np

from ..outline import FloatArray
from .support import ORDER

SIZE: Final = ORDER + 3
"""Unknowns of a section: c_k / c_0 for k from 0, half the place in mm, and its scale."""

_PLACE, _SCALE = ORDER + 1, ORDER + 2
_K = np.arange(ORDER + 1)
_SCALE_SD: Final = 0.1
"""How far a body's girth may be from the pattern's, as a part of it, where none was measured."""


@dataclass(frozen=True, eq=False)
class Estimate:
    """A section of a body, and what is left unknown of it.

    Parameters
    ----------
    height : float
        Upright, in mm above the waist.
    shape : ndarray, shape (ORDER + 1,)
        How far c_k / c_0 differ from the form's.
    middle : float
        The same for half the place in mm.
    root : ndarray, shape (ORDER + 2, ORDER + 2)
        Times independent normal numbers it is what is still unknown of both.
    missed : mapping of str to float
        By how much each tape is longer than this section's, in mm.
    """

    height: float
    shape: FloatArray
    middle: float
    root: FloatArray
    missed: Mapping[str, float]


def tape_rows(
    tapes: Mapping[str, float], mean: FloatArray, radius: float, front_at_waist: float
) -> tuple[FloatArray, FloatArray]:
    """Tapes as linear functions of the unknowns: rows in mm, and what they lack of the mean.

    *tapes*: in mm, by kind. *mean*: ndarray, shape (SIZE,). The form's own unknowns. *radius*:
    girth of the pattern over 2 pi in mm. *front_at_waist*: how far the front at the waist lies
    before the waist's place, in mm.

    Returns: *rows*, ndarray, shape (tapes, SIZE); *lacking*, ndarray, shape (tapes,).
    """
    quarter = 0.5 * np.pi * _K
    shape = _K > 1
    arc = np.divide(1.0 - _K**2, _K, out=np.zeros(ORDER + 1), where=shape) * np.sin(quarter)
    weights = {
        "breadth": (2.0, 4.0 * np.cos(quarter), 0.0),
        "depth": (2.0, 2.0 + 2.0 * np.cos(2.0 * quarter), 0.0),
        "girth": (2.0 * np.pi, np.zeros(ORDER + 1), 0.0),
        "front_arc": (np.pi, 4.0 * arc, 0.0),
        "stand_out": (1.0, np.full(ORDER + 1, 2.0), 2.0),
    }
    rows, lacking = np.zeros((len(tapes), SIZE)), np.zeros(len(tapes))
    for row, (place, (name, value)) in zip(rows, enumerate(tapes.items()), strict=True):
        round_, waves, moved = weights[name]
        row[: ORDER + 1] = radius * waves * shape
        row[_PLACE] = moved
        on_form = radius * round_ + row @ mean
        row[_SCALE] = on_form - moved * mean[_PLACE]
        lacking[place] = value - on_form + (front_at_waist if moved else 0.0)
    return rows, lacking


def estimated(
    height: float,
    tapes: Mapping[str, float],
    rows: FloatArray,
    lacking: FloatArray,
    spread: FloatArray,
    error: float,
) -> Estimate:
    """Conditional mean and covariance of a normal quantity, some linear functions being known.

    With prior covariance P, rows H and errors E the gain is K = P H' (H P H' + E)^-1; the mean
    moves by K times what the tapes lack, and the covariance becomes P - K H P.

    *rows*, *lacking*: as `tape_rows` gives them. *spread*: ndarray, shape (ORDER + 2,). Standard
    deviations of c_k / c_0 and of half the place between bodies. *error*: of one tape in mm.
    """
    prior = np.diag(np.append(spread, _SCALE_SD) ** 2)
    both = rows @ prior @ rows.T + error**2 * np.eye(len(rows))
    gain = np.linalg.solve(both, rows @ prior).T
    moved = gain @ lacking
    left = prior - gain @ rows @ prior
    values, vectors = np.linalg.eigh(0.5 * (left + left.T)[:-1, :-1])
    root = vectors * np.sqrt(np.maximum(values, 0.0))
    missed = dict(zip(tapes, (lacking - rows @ moved).tolist(), strict=True))
    return Estimate(height, moved[: ORDER + 1], float(moved[_PLACE]), root, missed)
