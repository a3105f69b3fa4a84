"""Sections of four quarters of superellipses: front and back deep apart, rounder or squarer."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

import numpy as np

from ..errors import BodyError
from ..outline import FloatArray
from .support import Sections

FLATTEST: Final = 1.05
SQUAREST: Final = 20.0
"""Exponents looked for: from nearly a lozenge to nearly a box."""

_SAMPLES = 4096
_PSI = 2.0 * np.pi * np.arange(_SAMPLES) / _SAMPLES
_AHEAD = np.cos(_PSI) >= 0.0
_HALVINGS = 50


def quadrants(
    breadth: FloatArray,
    front: FloatArray,
    back: FloatArray,
    front_exponent: FloatArray,
    back_exponent: FloatArray,
) -> Sections:
    """Sections whose widest point lies `front` behind the front and `back` before the back.

    *breadth*, *front*, *back*: ndarray, shape (m,). In mm; the widest points are at the frame's
    origin from front to back. *front_exponent*, *back_exponent*: ndarray, shape (m,). 2 for an
    ellipse, more for squarer.

    Notes
    -----
    h = ((A |sin psi|)^m + (B |cos psi|)^m)^(1/m) with A half the breadth, B the depth of that
    side, and 1/n + 1/m = 1 for the exponent n (dual norms).

    Examples
    --------
    >>> one = np.ones(1)
    >>> quadrants(280 * one, 90 * one, 90 * one, 2 * one, 2 * one).girths.round(6).tolist()
    [731.128766]
    """
    return Sections.of_support(
        lambda _: _support(breadth, front, back, front_exponent, back_exponent), _SAMPLES
    )


def exponents_for_girth(
    breadth: FloatArray, front: FloatArray, back: FloatArray, girth: FloatArray
) -> FloatArray:
    """Exponent, the same before and behind, with which quadrants have a girth, shape (m,).

    Raises `BodyError` if none has: the girth is less than about that of a lozenge, or more than of
    a box.
    """

    def length(exponent: FloatArray) -> FloatArray:
        support = _support(breadth, front, back, exponent, exponent)
        return np.asarray(2.0 * np.pi * support.mean(axis=1))

    return _solved(length, girth, "girth")


def exponents_for_arcs(
    breadth: FloatArray, front: FloatArray, back: FloatArray, girth: FloatArray, arc: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Exponents before and behind with which quadrants have a front arc and a girth, (m,) each.

    Raises `BodyError` if none have.
    """
    return (
        _solved(lambda n: _arc(breadth, front, n), arc, "front arc"),
        _solved(lambda n: _arc(breadth, back, n), girth - arc, "back arc"),
    )


def _arc(breadth: FloatArray, depth: FloatArray, exponent: FloatArray) -> FloatArray:
    """Length of half a superellipse: the half of the whole one's girth."""
    support = _support(breadth, depth, depth, exponent, exponent)
    return np.asarray(np.pi * support.mean(axis=1))


def _support(
    breadth: FloatArray,
    front: FloatArray,
    back: FloatArray,
    front_exponent: FloatArray,
    back_exponent: FloatArray,
) -> FloatArray:
    depth = np.where(_AHEAD, front[:, None], back[:, None])
    exponent = np.where(_AHEAD, front_exponent[:, None], back_exponent[:, None])
    m = exponent / (exponent - 1.0)
    across = np.abs(0.5 * breadth[:, None] * np.sin(_PSI))
    along = np.abs(depth * np.cos(_PSI))
    larger = np.maximum(across, along)
    # Powers of ratios: an exponent near 1 has a dual of 20 and more.
    return np.asarray(larger * ((across / larger) ** m + (along / larger) ** m) ** (1.0 / m))


def _solved(
    length: Callable[[FloatArray], FloatArray], wanted: FloatArray, what: str
) -> FloatArray:
    """Exponents by halving: a squarer section is longer."""
    low, high = np.full(len(wanted), FLATTEST), np.full(len(wanted), SQUAREST)
    least, most = length(low), length(high)
    for short, value, long in zip(least, wanted, most, strict=True):
        if not short <= value <= long:
            raise BodyError(
                f"a {what} of {value:.0f} mm: with this breadth and depth it is between "
                f"{short:.0f} and {long:.0f} mm",
                remedy="Measure that level anew, all tapes at one height and in one unit.",
            )
    for _ in range(_HALVINGS):
        middle = 0.5 * (low + high)
        short = length(middle) < wanted
        low, high = np.where(short, middle, low), np.where(short, high, middle)
    return np.asarray(0.5 * (low + high))
