"""Outlines that the edge of the page cuts off: one page of several, perhaps."""

from __future__ import annotations

from collections import Counter
from typing import Final

import numpy as np

from ..outline import Curve, FloatArray
from ..pattern.drawing import Shape
from .draft import Draft
from .nested import PANEL_HEIGHT_MM

_BEYOND_MM: Final = 0.5
"""What lies no further outside is rounding, or half of a line's width."""

_ALONG_MM: Final = 0.25
_LEAST_RUN_MM: Final = 5.0
"""An outline that runs along an edge for less only touches it."""

_TIGHT_MM: Final = 2.0
"""A page whose edges all lie as near to what is drawn was fitted to it."""

_SIDES: Final = ("left", "top", "right", "bottom")

_REMEDY: Final = (
    "If this is one page of a pattern printed on several, put the pages together in a drawing "
    "program, or save the pattern on one page; if the outline is whole, make the page larger than "
    "what is drawn on it."
)


def tell_cut_off(draft: Draft) -> None:
    """Say of each outline, and of each long open line, that the page or its clip cuts it off."""
    panels = {shape.ident for panel in draft.panels for shape in panel.shapes}
    closed = [(panel.shapes[0], panel.outline) for panel in draft.panels]
    page = draft.drawing.page
    fitted = page is not None and _is_fitted(draft, page)
    runs: Counter[str] = Counter()
    found: list[tuple[str, str, str]] = []
    for shape, outline in closed:
        for name, box in _edges_of(shape, page):
            side, how = _cut(outline, box)
            if side and how == "along" and fitted and name == "page":
                runs[side] += 1
            if side:
                found.append((shape.ident, how, f"{side} edge of the {name}"))
    if fitted and max(runs.values(), default=0) < 2:
        # Of a page fitted to a pattern the straight edges of the outermost panels are part.
        found = [item for item in found if item[1] != "along"]
    for ident, how, edge in found:
        _tell(draft, ident, f"this outline runs {how} the {edge}")
    for shape in draft.shapes:
        if shape.ident not in panels and _may_be_piece(draft, shape):
            for name, box in _edges_of(shape, page):
                if side := _ends_at(shape.curve, box):
                    _tell(
                        draft, shape.ident, f"this line is cut off at the {side} edge of the {name}"
                    )


def _tell(draft: Draft, ident: str, words: str) -> None:
    draft.ledger.fault(
        "cut-off",
        f"{ident}: {words}; this may be one page of several",
        ident,
        remedy=_REMEDY,
    )


def _edges_of(shape: Shape, page: FloatArray | None) -> list[tuple[str, FloatArray]]:
    edges = [("page", page), ("clip", shape.clip)]
    return [(name, box) for name, box in edges if box is not None]


def _is_fitted(draft: Draft, page: FloatArray) -> bool:
    """Whether the page has just the size of all that is drawn."""
    hulls = np.array([shape.curve.hull_box for shape in draft.drawing.shapes])
    around = np.array([hulls[:, 0].min(axis=0), hulls[:, 1].max(axis=0)])
    return bool(np.abs(around - page).max() <= _TIGHT_MM)


def _cut(curve: Curve, box: FloatArray) -> tuple[str, str]:
    """At which side of a box a curve lies beyond it, or runs along it; empty if it does not."""
    points = curve.flatten()
    # Positive beyond the side.
    beyond = np.column_stack([box[0] - points, points - box[1]])
    over = beyond.max(axis=0)
    if over.max() > _BEYOND_MM:
        return _SIDES[int(np.argmax(over))], "off"
    along = np.abs(beyond) <= _ALONG_MM
    steps = np.hypot(*np.diff(points, axis=0).T)
    runs = [float(steps[along[:-1, k] & along[1:, k]].sum()) for k in range(4)]
    if max(runs) >= _LEAST_RUN_MM:
        return _SIDES[int(np.argmax(runs))], "along"
    return "", ""


def _may_be_piece(draft: Draft, shape: Shape) -> bool:
    """Whether an open line may be a piece of an outline that the edge cuts off.

    Straight lines from one edge to another are none, nor are those across panels.
    """
    low, high = shape.curve.hull_box
    if shape.curve.closed or not draft.may_be_outline(shape):
        return False
    if float((high - low).max()) < PANEL_HEIGHT_MM or _is_straight(shape.curve):
        return False
    return not any(draft.meetings.across([p.outline for p in draft.panels], [shape], bounded=False))


def _is_straight(curve: Curve) -> bool:
    points = curve.control.reshape(-1, 2) - curve.start
    chord = curve.end - curve.start
    size = float(np.hypot(*chord))
    return bool(np.abs(points @ np.array([-chord[1], chord[0]])).max() <= _BEYOND_MM * size)


def _ends_at(curve: Curve, box: FloatArray) -> str:
    """The side of a box at which an open curve ends, or over which it runs; empty if none."""
    side, _ = _cut(curve, box)
    ends = np.array([curve.start, curve.end])
    near = np.abs(np.column_stack([box[0] - ends, ends - box[1]])) <= _ALONG_MM
    if not side and near.any():
        side = _SIDES[int(np.flatnonzero(near.any(axis=0))[0])]
    return side
