"""Curves as SVG path data, with no more digits than a cutter needs."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np

from .bezier import CUBIC, LINE, QUADRATIC, FloatArray, IntArray
from .curve import Curve

ByteArray = np.ndarray[tuple[int, ...], np.dtype[np.uint8]]

_STEPS_PER_MM: Final = 1000
"""Numbers are written to 0.001 mm: with no curve beyond 100 m, 32 bits hold the steps."""

_DECIMALS: Final = 3
_END: Final = ord("\n")


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
    return path_texts([curve])[0]


def exact_number(value: float) -> str:
    """Every digit of a length: it reads back as the same.

    Examples
    --------
    >>> exact_number(0.1 + 0.2), exact_number(100.0)
    ('0.30000000000000004', '100')
    """
    return repr(float(value)).removesuffix(".0")


def exact_texts(curves: Sequence[Curve]) -> list[str]:
    """As `path_texts`, with every digit.

    Examples
    --------
    >>> bent = np.array([[(0.0, 0.0), (2.0, 2.0), (4.0, 2.0), (6.0, 0.0)]])
    >>> straight = Curve.polyline([(0, 0), (0.1, 5), (9, 9)], closed=True)
    >>> exact_texts([Curve(bent, np.array([QUADRATIC])), Curve.cubics(bent), straight])
    ['M0 0Q3 3 6 0', 'M0 0C2 2 4 2 6 0', 'M0 0L0.1 5L9 9L0 0Z']
    """
    found = []
    for curve in curves:
        parts = [("M", curve.start[None])]
        for points, degree in zip(curve.control, curve.degree.tolist(), strict=True):
            if degree == QUADRATIC:
                parts.append(("Q", np.array([1.5 * points[1] - 0.5 * points[0], points[3]])))
            else:
                parts.append(("C", points[1:]) if degree == CUBIC else ("L", points[3:]))
        said = (letter + " ".join(map(exact_number, own.ravel())) for letter, own in parts)
        found.append("".join(said) + ("Z" if curve.closed else ""))
    return found


def path_texts(curves: Sequence[Curve]) -> list[str]:
    """SVG path data of several curves, all their numbers written in one pass: see `path_data`."""
    if not curves:
        return []
    degree = np.concatenate([curve.degree for curve in curves])
    last = np.cumsum([len(curve) for curve in curves]) - 1
    closed = np.array([curve.closed for curve in curves])
    points = np.concatenate([curve.control for curve in curves])
    bent = np.flatnonzero(degree == QUADRATIC)
    points[bent, 1] = 1.5 * points[bent, 1] - 0.5 * points[bent, 0]
    shown = np.ones(points.shape[:2], dtype=np.bool_)
    shown[:, 0] = False
    shown[0, 0] = True
    shown[last[:-1] + 1, 0] = True
    shown[:, 1] = degree != LINE
    shown[:, 2] = degree == CUBIC
    # The last side of a closed outline is what Z draws.
    shown[last, 3] = ~(closed & (degree[last] == LINE))
    letters = np.full(points.shape[:2], ord(" "), dtype=np.uint8)
    letters[:, 0] = ord("M")
    letters[:, 1] = np.where(degree == CUBIC, ord("C"), ord("Q"))
    letters[:, 3] = np.where(degree == LINE, ord("L"), ord(" "))
    first = np.concatenate([[0], np.cumsum(shown.sum(axis=1))[last[:-1]]])
    text = _written(points[shown], letters[shown], first)
    ends = np.where(closed, "Z", "").tolist()
    return [path + end for path, end in zip(text[1:].split("\n"), ends, strict=True)]


def _written(points: FloatArray, letters: ByteArray, first: IntArray) -> str:
    """Points with a letter before each, and the end of a line before the first of each curve.

    Every number fills a row of a matrix of characters, as wide as the longest needs; what a
    number does not need (its sign, zeros before and behind) is then left out of all rows at
    once.
    """
    assert np.isfinite(points).all()
    steps = np.rint(points.reshape(-1) * _STEPS_PER_MM).astype(np.int32)
    size = np.abs(steps)
    whole, part = np.divmod(size, _STEPS_PER_MM)
    digits = len(str(int(whole.max())))
    # End of line, letter or comma, sign, digits, point, decimals.
    point = 3 + digits
    rows = np.empty((len(steps), point + 1 + _DECIMALS), dtype=np.uint8)
    kept = np.empty(rows.shape, dtype=np.bool_)
    rows[:, 0], kept[:, 0] = _END, False
    kept[2 * first, 0] = True
    rows[0::2, 1], rows[1::2, 1], kept[:, 1] = letters, ord(","), True
    rows[:, 2], kept[:, 2] = ord("-"), steps < 0
    for place in range(digits):
        column, power = point - 1 - place, 10**place
        rows[:, column] = whole // power % 10 + ord("0")
        kept[:, column] = whole >= power if place else True
    rows[:, point], kept[:, point] = ord("."), part > 0
    for place in range(_DECIMALS):
        power = 10 ** (_DECIMALS - 1 - place)
        rows[:, point + 1 + place] = part // power % 10 + ord("0")
        # A decimal stays while anything stands at or behind it.
        kept[:, point + 1 + place] = part % (10 * power) > 0
    return rows[kept].tobytes().decode("ascii")
