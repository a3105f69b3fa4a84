"""What drawing and exporting leave behind: hatching, copies on top of others, specks."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Final

import numpy as np

from ..errors import PatternError
from ..outline import Curve, FloatArray
from ..outline.bezier import straighten
from ..outline.many import boxes, gathered
from ..outline.nearness import COPY_MM, Boxes, is_copy, near_pairs
from ..pattern.drawing import Shape
from .draft import Draft
from .hatching import find_hatching
from .roles import Role, given_name

MOST_COPIES: Final = 250_000
"""Pairs of lines in one place at most: 700 copies of one line."""

SPECK_MM: Final = 0.5
"""Unnamed lines shorter than this, by themselves, mark nothing: a slip of the pen."""

STRAY_PIECE_MM: Final = 0.05
"""Pieces of a line shorter than this, beside longer ones, are where a program failed to meet a
point: less than a printed hairline."""

_BOX_MM: Final = COPY_MM + 0.02
_ALONE: Final = frozenset({"allowance", "aside"})


def tidy(draft: Draft) -> Draft:
    """Part shapes from hatching and from copies on top of others.

    Raises `PatternError` if thousands of lines lie in one place.
    """
    named: dict[tuple[object, ...], list[Shape]] = {}
    for shape in draft.shapes:
        if draft.kind(shape) == "hatching":
            named.setdefault((shape.groups, shape.element), []).append(shape)
    draft = _drop_copies(draft.without(shape for family in named.values() for shape in family))
    found = find_hatching(
        [
            s
            for s in draft.shapes
            if draft.role(s) is None and not given_name(s.names) and not s.data
        ]
    )
    for family in (*named.values(), *found):
        more = f", and {len(family) - 1} lines more" if len(family) > 1 else ""
        draft.ledger.leave_out("hatching", f"hatching{more}", *(shape.ident for shape in family))
    if found:
        draft.ledger.warn(
            "hatching",
            f"{sum(map(len, found))} parallel lines at equal distances are taken for hatching and "
            f"passed over (the first is {found[0][0].ident}); give lines that mean something a "
            "name, such as channel",
            *(family[0].ident for family in found),
        )
    return draft.without(shape for family in found for shape in family)


def _drop_copies(draft: Draft) -> Draft:
    """Keep one of several lines that lie on top of each other: the one with most to its name.

    Lines of two different names that both say what they are, such as a bust line on a hip
    line, are no copies.
    """
    shapes, roles = draft.shapes, draft.roles
    places = boxes([shape.curve for shape in shapes]).reshape(-1, 4)
    pairs = near_pairs(places, _BOX_MM, MOST_COPIES)
    if len(pairs) > MOST_COPIES:
        raise PatternError(
            "thousands of lines lie on top of each other",
            remedy="Delete the copies.",
            element=shapes[0].ident,
        )
    near: dict[int, list[int]] = {}
    for i, j in pairs.tolist():
        near.setdefault(i, []).append(j)
        near.setdefault(j, []).append(i)
    kept_for: dict[int, int] = {}
    for i in sorted(near, key=lambda i: (-_worth(shapes[i], roles), i)):
        if i in kept_for:
            continue
        for j in near[i]:
            if j in kept_for or _worth(shapes[j], roles) > _worth(shapes[i], roles):
                continue
            one, two = roles[shapes[i].ident], roles[shapes[j].ident]
            if _agree(one, two) and is_copy(shapes[i].curve, shapes[j].curve):
                kept_for[j] = i
        kept_for[i] = i
    gone = [i for i in sorted(kept_for) if kept_for[i] != i]
    for i in gone:
        _tell_copy(draft, shapes[i].ident, shapes[kept_for[i]].ident)
    return draft.without(shapes[i] for i in gone)


def drop_joined_copies(draft: Draft) -> Draft:
    """Part outlines from those that pieces make up on top of a closed shape of another kind."""
    closed = [shape for shape in draft.shapes if shape.curve.closed]
    places = Boxes([shape.curve for shape in closed])
    kept = []
    for candidate in draft.outlines:
        twin = None
        if len(candidate.shapes) > 1:
            near = places.near(candidate.outline.hull_box, COPY_MM)
            twin = next((k for k in near if is_copy(closed[k].curve, candidate.outline)), None)
        if twin is None:
            kept.append(candidate)
        else:
            pieces = f" ({len(candidate.shapes)} pieces)"
            _tell_copy(draft, candidate.ident, closed[twin].ident, pieces)
    return replace(draft, outlines=tuple(kept))


def _tell_copy(draft: Draft, ident: str, other: str, more: str = "") -> None:
    draft.ledger.leave_out("copy", f"drawn twice: it lies on top of {other}{more}", ident)


def name_worth(shape: Shape) -> int:
    """How much a shape's own names say of the panel that it may be the outline of."""
    return 2 * bool(shape.data) + bool(given_name(shape.names))


def _worth(shape: Shape, roles: Mapping[str, Role | None]) -> int:
    return 4 * (roles[shape.ident] is not None) + name_worth(shape)


def _agree(one: Role | None, two: Role | None) -> bool:
    if one == two:
        return True
    known = one or two
    return (one is None or two is None) and known is not None and known.kind not in _ALONE


def drop_specks(draft: Draft) -> Draft:
    """Part shapes from unnamed specks, which are told in one line."""
    specks = [
        shape
        for shape in draft.shapes
        if extent(shape.curve) < SPECK_MM and not given_name(shape.names) and not shape.data
    ]
    if specks:
        more = f", and {len(specks) - 1} more like it" if len(specks) > 1 else ""
        draft.ledger.leave_out(
            "speck",
            f"a stray line shorter than {SPECK_MM:g} mm{more}",
            *(shape.ident for shape in specks),
        )
    return draft.without(specks)


def extent(curve: Curve) -> float:
    """Diagonal in mm of the box round a curve's control points."""
    (left, top), (right, bottom) = curve.hull_box.tolist()
    return math.hypot(right - left, bottom - top)


def without_stray_pieces(curves: Sequence[Curve]) -> list[Curve]:
    """Curves without the stray pieces before, after and between their longer ones.

    The piece before is drawn on to where the stray one ends, or the piece after is drawn back
    to where it begins, whichever turns less. Runs of short pieces that come to more than
    `STRAY_PIECE_MM` together, as in a curve drawn as many short lines, stay.
    """
    if not curves:
        return []
    control, owner = gathered(curves)
    reach = control.max(axis=1) - control.min(axis=1)
    sizes = np.hypot(reach[:, 0], reach[:, 1])
    short = np.bincount(owner, sizes < STRAY_PIECE_MM, len(curves))
    result = list(curves)
    for k in np.flatnonzero((short > 0) & (short < np.bincount(owner))).tolist():
        result[k] = _without_stray_pieces(curves[k], sizes[owner == k])
    return result


def _without_stray_pieces(curve: Curve, sizes: FloatArray) -> Curve:
    short = sizes < STRAY_PIECE_MM
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
