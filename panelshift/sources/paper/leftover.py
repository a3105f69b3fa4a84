"""Lines on paper that belong to no outline: what each of them may be.

In: ridges, less what is accounted for. Out: each remaining line with its kind. Nothing is dropped
without a word, and what is neither writing nor a straight mark inside a panel stays in doubt.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final, Literal

import numpy as np

from ...outline import FloatArray
from .followed import (
    DARKER,
    POINTED_MM,
    SAME_LINE_MM,
    TracedPanel,
    cells_of,
    extent,
    off_line,
    pieces_of,
    straightness,
)
from .ink import Grey, Ink, Mask
from .rectified import Rectified, opencv
from .spots import Place, Spot, fault, told

Kind = Literal["speck", "writing", "overshoot", "ruler", "inner", "doubt", "struck"]

NEAR_MM: Final = 1.4
"""Ridges so near to a line that is known are that line's own."""

_SPECK_MM: Final = 4.0
_SMALL_MM: Final = 16.0
"""A letter, a notch, a cross: nothing of this size is part of a seam."""

_CURLY: Final = 2.2
"""Joined writing is so many times as long as it reaches."""
_SLANTING: Final = 1.25
"""Pairs of cells along a slanting line come to up to so much more than its length."""

_WORD_MM: Final = 90.0

_OVERSHOOT_MM: Final = 12.0
_STRAIGHT_MM: Final = 0.5

_RULER_MM: Final = 60.0
_RULER_SHAPE: Final = 4.0
_DENSE: Final = 2.5
_OTHER_COLOUR: Final = 0.07

_FAINT_MM: Final = 25.0
_MANY_STRAY: Final = 6
_MOST_STRAY: Final = 20
"""From how many stray lines on the table itself is the likely cause, and how many are named."""

_RED_MM: Final = 4.0
_LONG_RED_MM: Final = 120.0
"""A red line of that reach may be an outline."""

_ROUND_PANEL_MM: Final = 4.0
"""A waistline may end so far beyond its panel."""


@dataclass(frozen=True, eq=False)
class Leftover:
    """A line that is no outline's. *cells*: middles of its ridge in mm, shape (n, 2). *length*: in
    mm."""

    kind: Kind
    cells: FloatArray
    length: float

    @property
    def place(self) -> tuple[float, float]:
        """A point on it."""
        middle = self.cells.mean(axis=0)
        nearest = self.cells[np.argmin(np.hypot(*(self.cells - middle).T))]
        return float(nearest[0]), float(nearest[1])


def sort_leftover(
    rectified: Rectified,
    ink: Ink,
    rest: Mask,
    panels: Grey,
    known: Mask,
    struck: Sequence[Place],
) -> list[Leftover]:
    """Say of each line that is left what it is.

    *rest*: its ridges. *panels*: how deep in a panel each cell lies, in cells, 0 outside. *known*:
    cells near known lines. *struck*: points in mm of lines that the maker has struck out.
    """
    cv2 = opencv()
    touching = cv2.dilate(known.astype(np.uint8), np.ones((5, 5), np.uint8)) > 0
    found = []
    for points in pieces_of(rest, (0, 0), ink.cell):
        columns, rows = np.floor(points / ink.cell).astype(int).T
        # A slanting ridge is a cell or two wide: count pairs of cells.
        pairs = np.unique(np.column_stack([columns, rows]) // 2, axis=0)
        length = len(pairs) * 2.0 * ink.cell
        if length < _SLANTING * extent(points):
            length = extent(points)
        kind = _kind(rectified, points, length, panels[rows, columns])
        if kind != "speck" and length <= _OVERSHOOT_MM and touching[rows, columns].any():
            kind = "overshoot"
        if is_struck(points, struck):
            kind = "struck"
        found.append(Leftover(kind, points, length))
    return found


def is_struck(points: FloatArray, struck: Sequence[Place]) -> bool:
    """Whether the maker has struck out a line through these points."""
    return any(np.hypot(*(points - place).T).min() <= POINTED_MM for place in struck)


def _kind(rectified: Rectified, points: FloatArray, length: float, depths: FloatArray) -> Kind:
    reach = extent(points)
    if reach <= _SPECK_MM:
        return "speck"
    if reach <= _SMALL_MM or (reach <= _WORD_MM and length >= _CURLY * reach):
        return "writing"
    if is_ruler(rectified, points, length):
        return "ruler"
    # Within a panel and straight: a level, the grain, a bone. A seam drawn anew is bent, or is
    # seen to divide the panel.
    inside = float(np.mean(depths > 0.0)) > 0.98
    return "inner" if inside and straightness(points) <= _STRAIGHT_MM else "doubt"


def is_ruler(rectified: Rectified, points: FloatArray, length: float) -> bool:
    """Whether lines are those of a ruler or a tape: long and narrow, and either of another colour
    than the paper or full of lines."""
    cv2 = opencv()
    (x, y), (width, height), angle = cv2.minAreaRect(points.astype(np.float32))
    short, long = sorted((width, height))
    if not (5.0 <= short <= _RULER_MM and long >= _RULER_SHAPE * short):
        return False
    if length > _DENSE * 2.0 * (short + long):
        return True
    inner = _colour(cv2, rectified, (x, y), (0.8 * width, 0.8 * height), angle)
    outer = _colour(cv2, rectified, (x, y), (width + 24.0, height + 24.0), angle, but=(8.0, 8.0))
    return bool(np.abs(inner - outer).max() > _OTHER_COLOUR * 255.0)


def _colour(
    cv2: Any,
    rectified: Rectified,
    middle: tuple[float, float],
    size: tuple[float, float],
    angle: float,
    but: tuple[float, float] | None = None,
) -> FloatArray:
    """Median colour in an upright or slanting rectangle, or in the border *but* mm wide in it."""
    pixel = rectified.pixel
    box = cv2.boxPoints((middle, size, angle)) / pixel - 0.5
    low = np.maximum(np.floor(box.min(axis=0)).astype(int), 0)
    high = np.ceil(box.max(axis=0)).astype(int) + 1
    crop = rectified.image[low[1] : high[1] : 4, low[0] : high[0] : 4]
    mask = np.zeros(crop.shape[:2], dtype=np.uint8)
    cv2.fillConvexPoly(mask, np.rint((box - low) / 4).astype(np.int32), 1)
    if but is not None:
        inner = size[0] - 2.0 * but[0], size[1] - 2.0 * but[1]
        hole = cv2.boxPoints((middle, inner, angle)) / pixel - 0.5
        cv2.fillConvexPoly(mask, np.rint((hole - low) / 4).astype(np.int32), 0)
    chosen = crop[mask > 0]
    return np.median(chosen, axis=0) if len(chosen) else np.zeros(3)


def lines_left(left: Sequence[Leftover], seen: set[int]) -> list[Spot]:
    """What is said of lines that belong to no outline."""
    spots = []
    stray = [one for k, one in enumerate(left) if one.kind == "doubt" and k not in seen]
    if len(stray) >= _MANY_STRAY:
        words = (
            "the table shows beside the draft, such as grain, joints or tiles, or lines were drawn "
            f"that are none: {len(stray)} lines belong to no closed outline, the first of them"
        )
        remedy = (
            "Lay a plain sheet under the draft that reaches beyond all strips, and photograph "
            "both again; or strike each out."
        )
        spots.append(fault("panel", stray[0].place, words, remedy))
    for one in left:
        if one in stray[:_MOST_STRAY]:
            words = f"a line of about {one.length:.0f} mm belongs to no closed outline"
            x, y = one.place
            remedy = (
                f"If it is part of an outline, draw it through. {DARKER} If it does not count, "
                f"strike it out (--strike {x:.0f} {y:.0f})."
            )
            spots.append(fault("line", one.place, words, remedy))
        elif one.kind == "ruler":
            words = "what looks like a ruler or a tape was left out"
            spots.append(told("line", one.place, words))
        elif one.kind == "struck":
            spots.append(told("line", one.place, "a line was struck out"))
    small = [one for one in left if one.kind in ("writing", "overshoot")]
    if small:
        words = f"{len(small)} small marks and letters were not read, the first of them"
        spots.append(told("line", small[0].place, words))
    return spots


def red_left(
    ink: Ink,
    panels: Sequence[TracedPanel],
    aside: Sequence[FloatArray],
    depths: Grey,
    struck: Sequence[Place],
) -> list[Spot]:
    """What is said of red lines that lie on no panel: they are not read, and a red outline would be
    missed."""
    cv2 = opencv()
    taken = (depths > 0.0).astype(np.uint8)
    for ring in aside:
        cv2.fillPoly(taken, [cells_of(ring, ink.cell)], 1)
    thick = 2 * round(_ROUND_PANEL_MM / ink.cell) + 1
    taken = cv2.dilate(taken, np.ones((thick, thick), np.uint8))
    red = ink.red_ridges.sure & (taken == 0)
    pieces = [cells for cells in pieces_of(red, (0, 0), ink.cell) if extent(cells) >= _RED_MM]
    waists = [panel.waist for panel in panels if panel.waist is not None]
    # A waistline drawn through several panels at once goes on between them.
    lone = [
        cells
        for cells in pieces
        if not is_struck(cells, struck)
        and all(off_line(cells, waist) >= SAME_LINE_MM for waist in waists)
    ]
    if not lone:
        return []
    first = max(lone, key=extent)
    if extent(first) >= _LONG_RED_MM:
        words = "a long red line lies outside the panels: outlines are read in dark pens alone"
        x, y = first[len(first) // 2]
        remedy = (
            f"If it is an outline: {DARKER[:1].lower()}{DARKER[1:]} If it does not count, strike "
            f"it out (--strike {x:.0f} {y:.0f})."
        )
        return [fault("line", first[len(first) // 2], words, remedy)]
    words = f"{len(lone)} red lines or marks outside the panels, not read: the longest of them"
    return [told("line", first[len(first) // 2], words)]


def beyond_strips(rectified: Rectified) -> list[Spot]:
    """Closed lines beyond the strips, where nothing is read."""
    words = (
        "a closed line beyond the strips was not read (if it is a piece of the draft, lay the "
        "strips round it as well)"
    )
    return [told("line", place, words) for place in rectified.beyond]


def faint_lines(ink: Ink, known: Mask) -> list[Spot]:
    """What is said of lines that are faint all along."""
    pieces = pieces_of(ink.dark_ridges.faint & ~known, (0, 0), ink.cell)
    long = [cells for cells in pieces if extent(cells) >= _FAINT_MM]
    return [
        told("line", cells[len(cells) // 2], "a very faint line was taken as rubbed out")
        for cells in long
    ]
