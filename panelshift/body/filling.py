"""Values between heights, and their rates: cubic between what is known, constant beyond."""

from __future__ import annotations

import numpy as np

from ..outline import FloatArray
from ..outline.splines import Spline


def monotone_rates(heights: FloatArray, values: FloatArray) -> FloatArray:
    """Slopes with which `filled` never overshoots, shape as values (k, ...)."""
    if len(heights) == 1:
        return np.zeros_like(values)
    return Spline.monotone(heights, values).slopes


def filled(
    heights: FloatArray, values: FloatArray, rates: FloatArray, at: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Values with given slopes at some heights, and their rates, at any heights.

    *heights*: ndarray, shape (k,). Increasing; a single one stands for all. *values*, *rates*:
    ndarray, shape (k, ...). *at*: ndarray, shape (m,).

    Returns: ndarray, shape (m, ...).
    """
    if len(heights) == 1:
        whole = np.repeat(values, len(at), axis=0)
        return whole, np.zeros_like(whole)
    spline = Spline(heights, values, rates)
    inside = np.clip(at, heights[0], heights[-1])
    within = (at == inside).reshape(-1, *(1,) * (values.ndim - 1))
    return spline.at(inside), np.where(within, spline.rates(inside), 0.0)
