"""Bone channels: where they run on each panel, as drawn or by number."""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from typing import Final

import numpy as np

from ..errors import ConstructionError
from ..outline import FloatArray
from ..pattern.panel import Mark, Panel
from ..pattern.pattern import Pattern
from .sewing import Bones

_FEW_MM: Final = 0.5
"""Widths on a drawing are not more exact than this."""

_APART: Final = 1.5
"""Lines of two channels lie at least so many times as far apart as those of one."""

_MOST_ROOMS: Final = 2.0
"""A channel wider than so many times what its bone needs may be for two."""

_STEEP: Final = 3.0
"""A line of a channel rises at least so many times as far as it runs across."""


@dataclass(frozen=True, eq=False)
class Channel:
    """Where a bone runs on a panel: its middle u at heights v, in mm, and how far it reaches.

    `width` is what lies between the stitch lines, in mm. A bone by number has no ends.
    """

    panel: int
    heights: FloatArray
    middles: FloatArray
    width: float
    low: float = -np.inf
    high: float = np.inf


def channels_of(pattern: Pattern, bones: Bones) -> list[Channel]:
    """Channels of bones of one kind on all panels.

    Raises `ConstructionError` if a panel is named that the pattern has not, none is drawn, or the
    lines can be read in several ways.
    """
    if bones.per_panel is not None:
        return _by_number(pattern, bones)
    found = []
    for index, panel in enumerate(pattern.panels):
        marks = [mark for mark in panel.marks if mark.kind == "bone"]
        found += [_outline(index, panel, mark, bones) for mark in marks if mark.curve.closed]
        found += _lines(index, panel, [m for m in marks if not m.curve.closed], bones)
    if not found:
        raise ConstructionError(
            "no bone channel is drawn",
            remedy="Name the lines of channels with the word bone or channel in the drawing, or "
            "say how many bones each panel has (per_panel).",
            source=pattern.source,
            element="bones",
        )
    return found


def _by_number(pattern: Pattern, bones: Bones) -> list[Channel]:
    names = [panel.name for panel in pattern.panels]
    found = []
    for name, count in (bones.per_panel or {}).items():
        if name not in names:
            raise ConstructionError(
                f"bones are given for panel {name!r}, which the pattern has not",
                remedy=f"Panels are: {', '.join(names)}.",
                source=pattern.source,
                element="bones.per_panel",
            )
        if not 0 <= count <= 20:
            raise ConstructionError(
                f"{count} bones on panel {name!r}",
                remedy="Give a number from 0 to 20.",
                element="bones.per_panel",
            )
        index = names.index(name)
        front, back = _sides(pattern.panels[index])
        for place in range(count):
            part = (place + 0.5) / count
            found.append(
                Channel(
                    index, front[:, 1], front[:, 0] + part * (back[:, 0] - front[:, 0]), bones.room
                )
            )
    return found


def _sides(panel: Panel) -> tuple[FloatArray, FloatArray]:
    """Points of both side edges at the same heights, shape (m, 2)."""
    points = [panel.frame.to_panel(panel.edge(name).flatten()) for name in ("front", "back")]
    low = max(float(p[:, 1].min()) for p in points)
    high = min(float(p[:, 1].max()) for p in points)
    v = np.linspace(low, high, 100)
    front, back = (np.interp(v, *_rising(p)) for p in points)
    return np.column_stack([front, v]), np.column_stack([back, v])


def _rising(points: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Heights and u of a line's points, by height."""
    order = np.argsort(points[:, 1], kind="stable")
    return points[order, 1], points[order, 0]


def _outline(index: int, panel: Panel, mark: Mark, bones: Bones) -> Channel:
    points = panel.frame.to_panel(mark.curve.flatten())
    low, high = float(points[:, 1].min()), float(points[:, 1].max())
    v = np.linspace(low, high, 102)[1:-1]
    left, right = _across(points, v)
    width = float(np.median(right - left))
    where = f"the outline {mark.ident or 'of a bone'} on panel {panel.name!r}"
    if bones.drawn_as != "outlines":
        if width > _MOST_ROOMS * bones.room:
            raise ConstructionError(
                f"{where} is {width:.1f} mm wide: it may hold several bones of {bones.width:g} mm",
                remedy='Say how many bones each panel has (per_panel), or drawn_as = "outlines" '
                "if one bone lies in its middle.",
                element=mark.ident,
            )
        if bones.width + _FEW_MM < width < bones.room - _FEW_MM or width < bones.width - _FEW_MM:
            raise ConstructionError(
                f"{where} is {width:.1f} mm wide, which is neither the bone's own width "
                f"({bones.width:g} mm) nor a channel that it goes into ({bones.room:g} mm or more)",
                remedy="Give the bone's true width and thickness; if the outline shows but where "
                'the bone lies, say drawn_as = "outlines".',
                element=mark.ident,
            )
    channel = width if bones.channel is None and width >= bones.room - _FEW_MM else bones.room
    return Channel(index, v, 0.5 * (left + right), channel, low, high)


def _across(points: FloatArray, v: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Least and largest u of a closed line at heights within it."""
    a, b = points, np.roll(points, -1, axis=0)
    low, high = np.minimum(a[:, 1], b[:, 1]), np.maximum(a[:, 1], b[:, 1])
    rise = np.where(high > low, b[:, 1] - a[:, 1], 1.0)
    share = (v[:, None] - a[:, 1]) / rise
    u = a[:, 0] + share * (b[:, 0] - a[:, 0])
    meets = (v[:, None] >= low) & (v[:, None] <= high) & (high > low)
    return np.where(meets, u, np.inf).min(axis=1), np.where(meets, u, -np.inf).max(axis=1)


def _lines(index: int, panel: Panel, marks: list[Mark], bones: Bones) -> list[Channel]:
    lines = []
    for mark in marks:
        points = panel.frame.to_panel(mark.curve.flatten())
        if np.ptp(points[:, 1]) >= _STEEP * np.ptp(points[:, 0]):
            lines.append(points)
    if not lines:
        return []
    low = max(float(p[:, 1].min()) for p in lines)
    high = min(float(p[:, 1].max()) for p in lines)
    middle = 0.5 * (low + high)
    lines.sort(key=lambda p: float(np.interp(middle, *_rising(p))))
    at = [float(np.interp(middle, *_rising(p))) for p in lines]
    gaps = np.diff(at)
    way = bones.drawn_as if bones.drawn_as not in ("", "outlines") else _way(gaps, bones)
    if way == "middles":
        return [_between(index, line, line, bones.room) for line in lines]
    if way == "adjoining":
        neighbours = zip(itertools.pairwise(lines), gaps, strict=True)
        return [_between(index, a, b, g) for (a, b), g in neighbours]
    if way == "pairs" and len(lines) % 2 == 0:
        pairs = zip(lines[::2], lines[1::2], gaps[::2], strict=True)
        return [_between(index, a, b, g) for a, b, g in pairs]
    apart = ", ".join(f"{gap:.1f}" for gap in gaps)
    raise ConstructionError(
        f"the {len(lines)} bone lines on panel {panel.name!r} lie {apart} mm apart: they may be "
        f"both lines of channels, or middles of bones {bones.width:g} mm wide",
        remedy='Say which in bones.drawn_as: "pairs" (two lines a channel), "adjoining" '
        '(neighbours share a line) or "middles"; or give the number of bones of each '
        "panel (per_panel).",
        element="bones.drawn_as",
    )


def _way(gaps: FloatArray, bones: Bones) -> str:
    """What lines this far apart are; nothing if they may be several things."""
    fits = (gaps >= bones.width - _FEW_MM) & (gaps <= _MOST_ROOMS * bones.room)
    if not fits.any():
        return "middles" if not (gaps < bones.width).any() else ""
    within, beside = gaps[::2], gaps[1::2]
    alone = len(beside) == 0 or float(beside.min()) >= _APART * float(within.max())
    return "pairs" if alone and len(gaps) % 2 == 1 and fits[::2].all() else ""


def _between(index: int, one: FloatArray, two: FloatArray, width: float) -> Channel:
    low = max(float(one[:, 1].min()), float(two[:, 1].min()))
    high = min(float(one[:, 1].max()), float(two[:, 1].max()))
    v = np.linspace(low, high, 100)
    middles = 0.5 * (np.interp(v, *_rising(one)) + np.interp(v, *_rising(two)))
    return Channel(index, v, middles, float(width), low, high)
