"""Curves as SVG path data, with no more digits than a cutter needs."""

from __future__ import annotations

import re
from typing import Final

import numpy as np

from .bezier import CUBIC, LINE, QUADRATIC
from .curve import Curve

_NEEDLESS: Final = re.compile(r"\.?0+(?![\d.])")
"""Zeros at the end of a number's decimals, with the point if nothing else follows it."""


def number(value: float) -> str:
    """Format a length in mm with no more digits than 0.001 mm needs.

    Examples
    --------
    >>> number(12.3400001), number(-0.0001), number(100.0)
    ('12.34', '0', '100')
    """
    text = f"{value:.3f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


def path_data(curve: Curve) -> str:
    """SVG path data of a curve in mm, with the commands it was drawn with (SVG 2, 9.3).

    Examples
    --------
    >>> path_data(Curve.polyline([(0, 0), (10, 0), (10, 5.5)], closed=True))
    'M0,0L10,0L10,5.5Z'
    """
    control = np.round(curve.control, 3) + 0.0
    bent = np.flatnonzero(curve.degree == QUADRATIC)
    drawn = curve.control[bent]
    control[bent, 1] = np.round(1.5 * drawn[:, 1] - 0.5 * drawn[:, 0], 3) + 0.0
    kinds = curve.degree.tolist()
    if curve.closed and kinds[-1] == LINE:
        kinds.pop()
    x, y = control[0, 0].tolist()
    text = f"M{x:.3f},{y:.3f}"
    for (a, b, c, d, e, f), kind in zip(
        control[:, 1:].reshape(-1, 6).tolist(), kinds, strict=False
    ):
        if kind == LINE:
            text += f"L{e:.3f},{f:.3f}"
        elif kind == CUBIC:
            text += f"C{a:.3f},{b:.3f} {c:.3f},{d:.3f} {e:.3f},{f:.3f}"
        else:
            text += f"Q{a:.3f},{b:.3f} {e:.3f},{f:.3f}"
    return _NEEDLESS.sub("", text) + ("Z" if curve.closed else "")
