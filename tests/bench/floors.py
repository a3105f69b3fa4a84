"""What no implementation in Python with numpy and lxml can go far below, step by step."""

from __future__ import annotations

import re
from typing import Final

import numpy as np
from lxml import etree

from panelshift.outline import FloatArray

_NUMBER: Final = re.compile(r"[-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?")

_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(16)
_NODES, _WEIGHTS = 0.5 * (_NODES + 1.0), 0.5 * _WEIGHTS
_SPEED_BASIS: Final = 3.0 * np.array(
    [(1.0 - _NODES) ** 2, 2.0 * _NODES * (1.0 - _NODES), _NODES**2]
)


def parsed_numbers(svg: bytes) -> FloatArray:
    """lxml's parse, and the numbers of all path data converted; nothing is understood."""
    root = etree.fromstring(svg)
    data = [element.get("d", "") for element in root.iter("{*}path")]
    return np.array([float(text) for text in _NUMBER.findall(" ".join(data))])


def one_quadrature(control: FloatArray) -> FloatArray:
    """Lengths of all cubics by one Gauss-Legendre rule of 16 nodes, without an error estimate.

    Right to rounding on gentle curves, and wrong on a cusp.
    """
    steps = np.diff(control, axis=1)
    dx, dy = steps[..., 0] @ _SPEED_BASIS, steps[..., 1] @ _SPEED_BASIS
    # hypot takes care of overflow, which cannot be here, and four times as long.
    return np.asarray(np.sqrt(dx * dx + dy * dy) @ _WEIGHTS)


def formatted(values: list[float]) -> str:
    """Numbers as text, three places each, in one call."""
    return ("%.3f " * len(values)) % tuple(values)
