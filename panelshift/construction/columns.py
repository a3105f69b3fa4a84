"""Columns: the directions at which layers are looked at, on all edges of ridges and within them."""

from __future__ import annotations

from typing import Final

import numpy as np

from ..outline import FloatArray
from ..outline.bezier import IntArray
from .ridges import Ridges, Site
from .taut import Columns, Face

_WIDE_MM: Final = 4.0
"""A ridge that bends is looked at every so many mm across."""

_DIGITS: Final = 10
"""Decimals of a direction in radians: edges of two ridges that meet are one, to 1e-8 mm."""


def _at_seams(face: Face, psi: FloatArray) -> FloatArray:
    """Directions, (m, n), of which those that are a seam's but for rounding are made just that.

    A column at a seam belongs to the panel before it.
    """
    row = np.repeat(np.arange(len(psi)), psi.shape[1])
    panel = face.panel_at(row, psi.ravel())
    for end in (0, 1):
        seam = face.bounds[row, panel + end].reshape(psi.shape)
        psi = np.where(np.abs(psi - seam) < 10.0**-_DIGITS, seam, psi)
    return psi


def columns_of(site: Site, ridges: Ridges) -> tuple[Columns, IntArray, IntArray]:
    """Columns at all edges of ridges and within wide ones; and those of the ridges' edges."""
    count = len(ridges.on)
    wide = (ridges.high - ridges.low).max(axis=0, initial=0.0) * np.median(site.face.radii)
    # What has no height anywhere has no edges either, but for lines that are stitched down.
    known = (ridges.thick > 0.0).any(axis=0) | (ridges.casing >= 0)
    parts = [ridges.low, ridges.high]
    pieces = np.where((wide > _WIDE_MM) & ~ridges.bar & known, np.ceil(wide / _WIDE_MM), 1.0)
    for many in np.unique(pieces[pieces > 1.0]).tolist():
        own = np.flatnonzero(pieces == many)
        low, high = ridges.low[:, own, None], ridges.high[:, own, None]
        inner = np.arange(1.0, many) / many
        parts.append((low + (high - low) * inner).reshape(len(low), -1))
    psi = np.concatenate(parts, axis=1).round(_DIGITS)
    # What is as wide on several layers is one column.
    found: dict[bytes, int] = {}
    which = np.array(
        [found.setdefault(column.tobytes(), len(found)) for column in psi.T], dtype=np.int64
    )
    _, once = np.unique(which, return_index=True)
    psi = psi[:, once]
    columns, place = Columns.of(site.face, _at_seams(site.face, psi))
    ends = place[:, which[: 2 * count]]
    return columns, ends[:, :count], ends[:, count:]
