"""Lines drawn twice, one on top of the other: a fill and its stroke, a copy pasted in place."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Final

import numpy as np

from ..errors import PatternError
from ..outline import Curve
from ..outline.neighbours import near_pairs
from ..pattern.drawing import LeftOut, Shape
from .closeness import apart, spread
from .found import Candidate
from .nearby import Boxes
from .roles import Role, given_name

COPY_MM: Final = 0.1
"""Lines that run nearer to each other than this all along are one line: a third of a pencil
line's width, and more than programs lose by rounding."""

MOST_COPIES: Final = 500_000
"""Pairs of lines in one place at most: 1,000 copies of one line."""

_BOX_MM: Final = COPY_MM + 0.02
_ALONE: Final = frozenset({"allowance", "aside"})


def drop_copies(
    shapes: Sequence[Shape], roles: Mapping[str, Role | None]
) -> tuple[tuple[Shape, ...], tuple[LeftOut, ...]]:
    """Keep one of several lines that lie on top of each other: the one with most to its name.

    Lines of two different names that both say what they are, such as a bust line on a hip
    line, are no copies.

    Raises
    ------
    PatternError
        If thousands of lines lie in one place.
    """
    if len(shapes) < 2:
        return tuple(shapes), ()
    boxes = np.array([shape.curve.bounds().ravel() for shape in shapes])
    pairs = near_pairs(boxes, _BOX_MM, MOST_COPIES)
    if len(pairs) > MOST_COPIES:
        raise PatternError(
            "thousands of lines lie on top of each other",
            remedy="Delete the copies.",
            element=shapes[0].ident,
        )
    order = sorted(range(len(shapes)), key=lambda i: (-_worth(shapes[i], roles), i))
    near: dict[int, list[int]] = {}
    for i, j in pairs.tolist():
        near.setdefault(i, []).append(j)
        near.setdefault(j, []).append(i)
    kept_for: dict[int, int] = {}
    for i in order:
        if i in kept_for:
            continue
        for j in near.get(i, ()):
            if j in kept_for or _worth(shapes[j], roles) > _worth(shapes[i], roles):
                continue
            one, two = roles[shapes[i].ident], roles[shapes[j].ident]
            if _agree(one, two) and is_copy(shapes[i].curve, shapes[j].curve):
                kept_for[j] = i
        kept_for[i] = i
    kept = tuple(shape for i, shape in enumerate(shapes) if kept_for[i] == i)
    left = tuple(
        LeftOut(shape.ident, f"drawn twice: it lies on top of {shapes[kept_for[i]].ident}")
        for i, shape in enumerate(shapes)
        if kept_for[i] != i
    )
    return kept, left


def drop_joined_copies(
    candidates: Sequence[Candidate], marks: Sequence[Shape]
) -> tuple[list[Candidate], list[LeftOut]]:
    """Part outlines from those that pieces make up on top of a closed shape of another kind."""
    closed = [shape for shape in marks if shape.curve.closed]
    boxes = Boxes([shape.curve for shape in closed])
    kept, left = [], []
    for candidate in candidates:
        twin = None
        if len(candidate.shapes) > 1:
            near = boxes.near(candidate.outline.hull_box, COPY_MM)
            twin = next((k for k in near if is_copy(closed[k].curve, candidate.outline)), None)
        if twin is None:
            kept.append(candidate)
        else:
            left.append(
                LeftOut(
                    candidate.ident,
                    f"drawn twice: it lies on top of {closed[twin].ident} "
                    f"({len(candidate.shapes)} pieces)",
                )
            )
    return kept, left


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


def is_copy(one: Curve, two: Curve) -> bool:
    """Whether two lines run within `COPY_MM` of each other all along.

    Their sense, the start of a closed line, and how they are cut into segments do not matter.
    """
    rings = [_is_ring(curve) for curve in (one, two)]
    if rings[0] != rings[1]:
        return False
    walk = spread(one)
    if rings[0]:
        gaps, places = apart(walk[:1], two)
        if gaps[0] > COPY_MM:
            return False
        # A start at the very end of the other line is its start.
        start = float(places[0]) or 1e-12
        walks = [spread(two, start, backwards=back) for back in (False, True)]
    else:
        walks = [spread(two, backwards=back) for back in (False, True)]
    return any(np.hypot(*(walk - other).T).max() <= 2.0 * COPY_MM for other in walks) and bool(
        apart(walk, two)[0].max() <= COPY_MM
    )


def _is_ring(curve: Curve) -> bool:
    return curve.closed or bool(np.hypot(*(curve.end - curve.start)) <= COPY_MM)
