"""Curves as SVG path data, with no more digits than a cutter needs."""

from __future__ import annotations

import numpy as np

from .curve import CUBIC, LINE, Curve, FloatArray


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
    parts = [f"M{_pair(control[0, 0])}"]
    last = len(curve) - 1
    for index, (points, degree) in enumerate(zip(control, curve.degree, strict=True)):
        if degree == LINE:
            if not (curve.closed and index == last):
                parts.append(f"L{_pair(points[3])}")
        elif degree == CUBIC:
            parts.append(f"C{_pair(points[1])} {_pair(points[2])} {_pair(points[3])}")
        else:
            original = curve.control[index]
            parts.append(f"Q{_pair(1.5 * original[1] - 0.5 * original[0])} {_pair(points[3])}")
    return "".join(parts) + ("Z" if curve.closed else "")


def _pair(point: FloatArray) -> str:
    return f"{number(float(point[0]))},{number(float(point[1]))}"
