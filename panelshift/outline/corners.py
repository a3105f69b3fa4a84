"""Corners of a curve: joints at which its tangent breaks."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np

from .bezier import FloatArray
from .curve import Curve
from .many import gathered
from .measure import angles_between, segment_lengths

CORNER_ANGLE: Final = np.radians(35.0)
"""A break of at least this much ends an edge; less is a vertex of an edge drawn in lines."""

STRAY_SEGMENT_MM: Final = 0.2
"""Segments shorter than this have no say in a corner's angle: they are drawing residue."""


def all_breaks(curves: Sequence[Curve]) -> list[FloatArray]:
    """Breaks of several curves in one pass: see `breaks`."""
    if not curves:
        return []
    control, _ = gathered(curves)
    chord = control[:, 3] - control[:, 0]
    stray = np.hypot(chord[:, 0], chord[:, 1]) < STRAY_SEGMENT_MM
    tangents = np.concatenate([curve.end_tangents() for curve in curves])
    ends = np.cumsum([len(curve) for curve in curves])
    firsts = np.concatenate([[0], ends[:-1]])
    arriving = np.concatenate([tangents[-1:, 1], tangents[:-1, 1]])
    arriving[firsts] = tangents[ends - 1, 1]
    turned = angles_between(arriving, tangents[:, 0])
    turned[firsts[[not curve.closed for curve in curves]]] = 0.0
    odd = np.logical_or.reduceat(stray, firsts).tolist()
    bounds = zip(curves, odd, firsts.tolist(), ends.tolist(), strict=True)
    return [breaks(curve) if bits else turned[k:end] for curve, bits, k, end in bounds]


def breaks(curve: Curve) -> FloatArray:
    """Signed break of the tangent at each joint in radians, shape (n,).

    Entry i belongs to the start of segment i; entry 0 of an open curve is 0. A run of stray
    segments counts as one joint, whose break stands where the run itself breaks most: short
    segments at the end of a refitted edge belong to that edge.
    """
    count = len(curve)
    chord = curve.control[:, 3] - curve.control[:, 0]
    real = np.hypot(chord[:, 0], chord[:, 1]) >= STRAY_SEGMENT_MM
    if not real.all():
        # Few segments are longer than their chord in a way that matters here.
        real = segment_lengths(curve, 1e-3) >= STRAY_SEGMENT_MM
    if not real.any():
        real[:] = True
    tangents = curve.end_tangents()
    arriving = np.concatenate([tangents[-1:, 1], tangents[:-1, 1]])
    turned = angles_between(arriving, tangents[:, 0])
    if real.all():
        if not curve.closed:
            turned[0] = 0.0
        return turned
    result = np.zeros(count)
    kept = np.flatnonzero(real)
    before = kept if curve.closed else kept[:-1]
    after = np.roll(kept, -1) if curve.closed else kept[1:]
    sharp = np.abs(turned)
    for one, two in zip(before, after, strict=True):
        run = np.arange(one + 1, one + 1 + (two - one - 1) % count + 1) % count
        at = run[np.argmax(sharp[run])]
        result[at] = angles_between(tangents[one : one + 1, 1], tangents[two : two + 1, 0])[0]
    return result
