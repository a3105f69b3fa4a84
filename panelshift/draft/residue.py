"""What drawing and exporting leave behind: copies, hatching, specks, stray pieces."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Final

import numpy as np

from ..outline import Curve, FloatArray
from ..outline.bezier import straighten
from ..pattern.drawing import LeftOut, Shape
from .copies import drop_copies
from .hatching import find_hatching, told, warning
from .roles import Role, given_name

SPECK_MM: Final = 0.5
"""Unnamed lines shorter than this, by themselves, mark nothing: a slip of the pen."""

STRAY_PIECE_MM: Final = 0.05
"""Pieces of a line shorter than this, beside longer ones, are where a program failed to meet a
point: less than a printed hairline."""


def extent(curve: Curve) -> float:
    """Diagonal in mm of the box round a curve's control points."""
    low, high = curve.hull_box
    return float(np.hypot(*(high - low)))


def drop_residue(
    shapes: tuple[Shape, ...], roles: Mapping[str, Role | None]
) -> tuple[list[Shape], list[LeftOut], list[str]]:
    """Part shapes from hatching and from copies on top of others.

    Returns
    -------
    tuple of (shapes that are kept, what is left out, warnings)
    """
    named: dict[tuple[object, ...], list[Shape]] = {}
    for shape in shapes:
        if (role := roles[shape.ident]) is not None and role.kind == "hatching":
            named.setdefault((shape.groups, shape.element), []).append(shape)
    gone = {shape.ident for family in named.values() for shape in family}
    kept, copies = drop_copies([s for s in shapes if s.ident not in gone], roles)
    found = find_hatching(
        [s for s in kept if roles[s.ident] is None and not given_name(s.names) and not s.data]
    )
    gone = {shape.ident for family in found for shape in family}
    left_out = [told(family) for family in (*named.values(), *found)]
    warnings = [warning(found)] if found else []
    return [s for s in kept if s.ident not in gone], [*copies, *left_out], warnings


def drop_specks(shapes: Sequence[Shape]) -> tuple[list[Shape], list[LeftOut]]:
    """Part shapes from unnamed specks, which are told in one line."""
    specks = [
        shape
        for shape in shapes
        if extent(shape.curve) < SPECK_MM and not given_name(shape.names) and not shape.data
    ]
    if not specks:
        return list(shapes), []
    gone = {shape.ident for shape in specks}
    more = f", and {len(specks) - 1} more like it" if len(specks) > 1 else ""
    told = LeftOut(specks[0].ident, f"a stray line shorter than {SPECK_MM:g} mm{more}")
    return [shape for shape in shapes if shape.ident not in gone], [told]


def without_stray_pieces(curve: Curve) -> Curve:
    """Return a curve without the stray pieces before, after and between its longer ones.

    The piece before is drawn on to where the stray one ends, or the piece after is drawn back
    to where it begins, whichever turns less. Runs of short pieces that come to more than
    `STRAY_PIECE_MM` together, as in a curve drawn as many short lines, stay.
    """
    sizes = np.hypot(*np.ptp(curve.control, axis=1).T)
    short = sizes < STRAY_PIECE_MM
    if not short.any() or short.all():
        return curve
    control, tangents = curve.control.copy(), curve.end_tangents()
    drop = np.zeros(len(curve), dtype=np.bool_)
    long = np.flatnonzero(~short)
    # Runs of short pieces lie between one long piece and the next, round the end as well.
    for one, two in zip(long, np.roll(long, -1), strict=True):
        run = np.arange(one + 1, two if two > one else two + len(curve)) % len(curve)
        if len(run) == 0 or sizes[run].sum() >= STRAY_PIECE_MM:
            continue
        drop[run] = True
        if not curve.closed and two <= one:
            _move(control[one, :1:-1], curve.end)
            _move(control[two, :2], curve.start)
            continue
        step = curve.control[two, 0] - curve.control[one, 3]
        if _aside(step, tangents[one, 1]) <= _aside(step, tangents[two, 0]):
            _move(control[one, :1:-1], curve.control[two, 0])
        else:
            _move(control[two, :2], curve.control[one, 3])
    keep = np.flatnonzero(~drop)
    degree = curve.degree[keep]
    return Curve(straighten(control[keep], degree), degree, curve.closed)


def _aside(step: FloatArray, tangent: FloatArray) -> float:
    return abs(float(step[0] * tangent[1] - step[1] * tangent[0]))


def _move(end_and_handle: FloatArray, point: FloatArray) -> None:
    """Move an end of a piece to a point; its handle goes with it, so that the tangent stays."""
    end_and_handle += point - end_and_handle[0]
