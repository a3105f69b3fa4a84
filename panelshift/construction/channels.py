"""Bone channels: where they run on each panel, as drawn or by number.

A closed outline is one channel, and so is a line that turns back beside itself; two lines side by
side are the stitching of one; a line by itself is the middle of one. What lies in a channel that
has room for one bone is that bone, and a channel ends where its panel does. Where the bones are
known their sizes tell which; where that can be read in several ways the maker is asked. Where
nothing is known of the bones, nearness alone decides, and `drawn` says how.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final, NoReturn

import numpy as np

from ..errors import ConstructionError, ConstructionNameError
from ..outline import Curve, FloatArray
from ..outline.measure import length, points_evenly
from ..outline.planar import Areas, area
from ..pattern.panel import EdgeName, Mark, Panel
from ..pattern.pattern import Pattern
from .sewing import Bones

WIDEST_CHANNEL_MM: Final = 16.0
"""Two stitch lines further apart are two channels: common practice, no source (wide bones are
about 12 mm)."""

_LIKE: Final = 0.7
"""The two lines of a channel are nearly as long as each other: the shorter this part at least."""

_TAPERS: Final = 2.0
"""Nor is a channel more than so many times as wide at one place as at another: two bones that meet
in a V are."""

_FEW_MM: Final = 0.5
"""Widths on a drawing are not more exact than this."""

_APART: Final = 1.5
"""Lines of two channels lie at least so many times as far apart as those of one."""

_MOST_ROOMS: Final = 2.0
"""A channel wider than so many times what its bone needs may be for two."""

_STEEP: Final = 3.0
"""A line of a channel rises at least so many times as far as it runs across."""

NARROWEST_MM: Final = 6.0
"""What a bone needs between the lines of its channel, where nothing is known of it: common
practice, no source (steels are 5 mm wide or more)."""

_TURNS_BACK: Final = 0.5
"""The ends of a line that turns back lie nearer to each other than so much of its length."""

_WITHIN: Final = 0.9
"""So much of what lies in a channel lies there."""

_POINTS: Final = 101

ENDS: Final[tuple[EdgeName, EdgeName]] = ("bottom", "top")


@dataclass(frozen=True, eq=False)
class Channel:
    """Where a bone runs on a panel.

    `middle`, (n, 2), are points of its middle line from its bottom up, in panel coordinates,
    `width` is what lies between the stitch lines, `length` its arc length, all in mm. `drawn` says
    what it was read from; nothing if it is by number, and then it has no ends.
    """

    panel: int
    middle: FloatArray
    width: float
    length: float
    drawn: str = ""


def channels_of(pattern: Pattern, bones: Bones | None = None) -> list[Channel]:
    """Channels of bones of one kind on all panels; of drawn ones, if nothing is said of them.

    Raises `ConstructionError` if a panel is named that the pattern has not, none is drawn, or the
    lines can be read in several ways.
    """
    if bones is not None and bones.per_panel is not None:
        return _by_number(pattern, bones)
    found = []
    for index, panel in enumerate(pattern.panels):
        marks = [_whole(m) for m in panel.marks if m.kind == "bone" and not _is_tick(panel, m)]
        own = [_outline(index, panel, m, bones) if m.curve.closed else None for m in marks]
        keep = _not_within(panel, marks, own, bones)
        here = [channel for k in keep if (channel := own[k]) is not None]
        here += _lines(index, panel, [marks[k] for k in keep if own[k] is None], bones)
        found += _on_panel(panel, here)
    if not found and bones is not None:
        raise ConstructionError(
            "no bone channel is drawn",
            remedy="Name the lines of channels with the word bone or channel in the drawing, or "
            "say how many bones each panel has (per_panel).",
            source=pattern.source,
            element="bones",
        )
    return _once_on_seams(pattern, found)


def _once_on_seams(pattern: Pattern, found: list[Channel]) -> list[Channel]:
    """Channels without those that lie across a seam and are drawn on its other panel as well."""
    gone = set[int]()
    for seam in pattern.seams:
        one, two = (
            [
                n
                for n, channel in enumerate(found)
                if channel.panel == k
                and astride(pattern.panels[k], edge, channel.middle, channel.width)
            ]
            for k, edge in ((seam.first, seam.first_edge), (seam.second, seam.second_edge))
        )
        for mine, other in itertools.product(one, two):
            heights = [found[n].middle[[0, -1], 1] for n in (mine, other)]
            common = min(h[1] for h in heights) - max(h[0] for h in heights)
            if common > 0.5 * min(h[1] - h[0] for h in heights):
                gone.add(other)
    return [channel for n, channel in enumerate(found) if n not in gone]


def astride(panel: Panel, edge: EdgeName, middle: FloatArray, width: float) -> bool:
    """Whether a channel lies across a side edge: two of them, on both sides, have no room there."""
    return bool(np.median(np.abs(off_edge(panel, edge, middle))) <= 0.25 * width + _FEW_MM)


def off_edge(panel: Panel, edge: EdgeName, middle: FloatArray) -> FloatArray:
    """How far points of a line lie behind a side edge, or before it where below 0, in mm."""
    u = np.interp(middle[:, 1], *_rising(_sides(panel)[edge == "back"]))
    return np.asarray(middle[:, 0] - u)


def _by_number(pattern: Pattern, bones: Bones) -> list[Channel]:
    names = [panel.name for panel in pattern.panels]
    found = []
    for name, count in (bones.per_panel or {}).items():
        if name not in names:
            raise ConstructionNameError(
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
        panel = pattern.panels[names.index(name)]
        if panel.pointed and count:
            raise ConstructionError(
                f"bones are given by number for {name!r}, a gore, which comes to a point",
                remedy="Draw its channels, and leave it out of per_panel.",
                source=pattern.source,
                element="bones.per_panel",
            )
        front, back = _sides(panel)
        parts = (np.arange(count) + 0.5)[:, None, None] / max(count, 1)
        middles = front + parts * (back - front)
        middles[:, 0, 1], middles[:, -1, 1] = _ends(panel, middles[:, [0, -1], 0].T)
        for middle in middles:
            found.append(Channel(names.index(name), middle, bones.room, _run(middle)))
    return found


def _is_tick(panel: Panel, mark: Mark) -> bool:
    """Whether a line is the end of a channel, an arrow's head: too short, and lies across."""
    if mark.curve.closed or length(mark.curve) > WIDEST_CHANNEL_MM:
        return False
    return not _steep(panel.frame.to_panel(mark.curve.flatten()))


def _steep(points: FloatArray) -> bool:
    return bool(np.ptp(points[:, 1]) >= _STEEP * np.ptp(points[:, 0]))


def _whole(mark: Mark) -> Mark:
    """A line that turns back as the outline that it is; one way of a line there and back."""
    curve = mark.curve
    size, step = length(curve), curve.end - curve.start
    if curve.closed or np.hypot(*step) >= _TURNS_BACK * size:
        return mark
    back = [Curve.polyline([curve.end, curve.start])] if step.any() else []
    around = Curve.chain([curve, *back], closed=True)
    if area(around) <= _FEW_MM * size:
        away = np.hypot(*(curve.control[:, 3] - curve.start).T)
        around = curve.piece(0.0, float(np.argmax(away)) + 1.0)
    return replace(mark, curve=around)


def _not_within(
    panel: Panel, marks: Sequence[Mark], own: Sequence[Channel | None], bones: Bones | None
) -> list[int]:
    """Numbers of the marks that lie in no channel: what lies in one is the bone that goes in.

    Raises `ConstructionError` if it might as well part a channel in two; without bones it does.
    """
    boxes = np.array([mark.curve.hull_box for mark in marks]).reshape(-1, 2, 2)
    widths = [
        0.0 if c is None else area(m.curve) / c.length for m, c in zip(marks, own, strict=True)
    ]
    gone = set[int]()
    for k in np.argsort(-np.ptp(boxes, axis=1).sum(axis=1), kind="stable").tolist():
        if own[k] is None or k in gone:
            continue
        beyond = np.maximum(boxes[k, 0] - boxes[:, 0], boxes[:, 1] - boxes[k, 1]).max(axis=1)
        for j in np.flatnonzero(beyond <= WIDEST_CHANNEL_MM).tolist():
            if j == k or j in gone:
                continue
            points = points_evenly(marks[j].curve, _POINTS)
            away = Areas([marks[k].curve]).distances([0] * _POINTS, points)
            if np.mean(away <= _FEW_MM) < _WITHIN:
                continue
            room = max(NARROWEST_MM, widths[j]) if bones is None else bones.room - _FEW_MM
            if widths[k] < 2.0 * room or (bones is not None and bones.drawn_as == "outlines"):
                gone.add(j)
            elif bones is not None:
                _refuse_several(panel, marks[k], widths[k], bones)
    return [k for k in range(len(marks)) if k not in gone]


def _on_panel(panel: Panel, channels: list[Channel]) -> list[Channel]:
    """Channels as far as their panel's bottom and top edges, where lines run on over these."""
    if not channels:
        return []
    u, v = np.stack([channel.middle for channel in channels]).transpose(2, 0, 1)
    low, high = _ends(panel, np.stack([u, u]))
    room = np.minimum(v - low, high - v)
    return [_as_far(channel, own) for channel, own in zip(channels, room, strict=True)]


def _as_far(channel: Channel, room: FloatArray) -> Channel:
    """A channel between the first and the last place where its middle has room on its panel."""
    own = np.flatnonzero(room >= 0.0)
    if len(own) in (0, len(room)):
        return channel
    first, last = int(own[0]), int(own[-1])
    # Room is 0 at an edge, which lies between two points.
    ends = [
        inner + (outer - inner) * room[inner] / (room[inner] - room[outer])
        for inner, outer in ((first, max(first - 1, 0)), (last, min(last + 1, len(room) - 1)))
        if room[outer] < 0.0
    ]
    places = np.unique([*range(first, last + 1), *ends])
    middle = np.stack([np.interp(places, np.arange(len(room)), x) for x in channel.middle.T], 1)
    less = _run(channel.middle) - _run(middle)
    return replace(channel, middle=middle, length=channel.length - less)


def _run(points: FloatArray) -> float:
    return float(np.hypot(*np.diff(points, axis=0).T).sum())


def room_beside(panel: Panel, middle: FloatArray) -> tuple[float, float]:
    """How far the ends of a line lie from the bottom and from the top edge of a panel, in mm."""
    bottom, top = _ends(panel, middle[[0, -1], 0])
    return float(middle[0, 1] - bottom), float(top - middle[-1, 1])


def _ends(panel: Panel, u: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Where the bottom edge lies at places across a panel, (2, ...), and the top edge at others."""
    edges = (panel.frame.to_panel(panel.edge(name).flatten()) for name in ENDS)
    low, high = (
        np.interp(at, *edge[np.argsort(edge[:, 0], kind="stable")].T)
        for at, edge in zip(u, edges, strict=True)
    )
    return low, high


def _sides(panel: Panel) -> tuple[FloatArray, FloatArray]:
    """Points of both side edges at the same heights, shape (m, 2)."""
    points = [panel.frame.to_panel(panel.edge(name).flatten()) for name in ("front", "back")]
    low = max(float(p[:, 1].min()) for p in points)
    high = min(float(p[:, 1].max()) for p in points)
    v = np.linspace(low, high, _POINTS)
    front, back = (np.interp(v, *_rising(p)) for p in points)
    return np.column_stack([front, v]), np.column_stack([back, v])


def _rising(points: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Heights and u of a line's points, by height."""
    order = np.argsort(points[:, 1], kind="stable")
    return points[order, 1], points[order, 0]


def _outline(index: int, panel: Panel, mark: Mark, bones: Bones | None) -> Channel:
    """A strip l long and w wide, bent or not, has half its perimeter l + w and its area l w."""
    points = panel.frame.to_panel(mark.curve.flatten())
    v = np.linspace(points[:, 1].min(), points[:, 1].max(), _POINTS)
    left, right = _across(points, v[1:-1])
    middle = np.column_stack([np.interp(v, v[1:-1], 0.5 * (left + right)), v])
    width = float(np.median(right - left))
    half = 0.5 * length(mark.curve)
    long = 0.5 * (half + math.sqrt(max(half * half - 4.0 * area(mark.curve), 0.0)))
    if bones is None:
        return Channel(index, middle, width, long, "an outline")
    where = f"the outline {mark.ident or 'of a bone'} on panel {panel.name!r}"
    if bones.drawn_as != "outlines":
        if width > _MOST_ROOMS * bones.room:
            _refuse_several(panel, mark, width, bones)
        if bones.width + _FEW_MM < width < bones.room - _FEW_MM or width < bones.width - _FEW_MM:
            raise ConstructionError(
                f"{where} is {width:.1f} mm wide, which is neither the bone's own width "
                f"({bones.width:g} mm) nor a channel that it goes into ({bones.room:g} mm or more)",
                remedy="Give the bone's true width and thickness; if the outline shows but where "
                'the bone lies, say drawn_as = "outlines".',
                element=mark.ident,
            )
    channel = width if bones.channel is None and width >= bones.room - _FEW_MM else bones.room
    return Channel(index, middle, channel, long, "an outline")


def _refuse_several(panel: Panel, mark: Mark, width: float, bones: Bones) -> NoReturn:
    raise ConstructionError(
        f"the outline {mark.ident or 'of a bone'} on panel {panel.name!r} is {width:.1f} mm wide: "
        f"it may hold several bones of {bones.width:g} mm",
        remedy='Say how many bones each panel has (per_panel), or drawn_as = "outlines" '
        "if one bone lies in its middle.",
        element=mark.ident,
    )


def _across(points: FloatArray, v: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Least and largest u of a closed line at heights within it."""
    a, b = points, np.roll(points, -1, axis=0)
    low, high = np.minimum(a[:, 1], b[:, 1]), np.maximum(a[:, 1], b[:, 1])
    rise = np.where(high > low, b[:, 1] - a[:, 1], 1.0)
    share = (v[:, None] - a[:, 1]) / rise
    u = a[:, 0] + share * (b[:, 0] - a[:, 0])
    meets = (v[:, None] >= low) & (v[:, None] <= high) & (high > low)
    return np.where(meets, u, np.inf).min(axis=1), np.where(meets, u, -np.inf).max(axis=1)


def _lines(index: int, panel: Panel, marks: list[Mark], bones: Bones | None) -> list[Channel]:
    lines = []
    for mark in marks:
        points = panel.frame.to_panel(points_evenly(mark.curve, _POINTS))
        points = points if points[-1, 1] >= points[0, 1] else points[::-1]
        if bones is None or _steep(points):
            lines.append((points, length(mark.curve)))
    if not lines:
        return []
    low = max(float(points[:, 1].min()) for points, _ in lines)
    high = min(float(points[:, 1].max()) for points, _ in lines)
    middle = 0.5 * (low + high)
    at = [float(np.interp(middle, *_rising(points))) for points, _ in lines]
    order = np.argsort(at, kind="stable")
    lines, gaps = [lines[k] for k in order], np.diff(np.array(at)[order])
    if bones is None:
        pairs = _nearest(lines)
    else:
        way = bones.drawn_as if bones.drawn_as not in ("", "outlines") else _way(gaps, bones)
        if way == "pairs" and bones.drawn_as != "pairs":
            beside = zip(lines[::2], lines[1::2], strict=True)
            way = way if all(_alongside(one, two) for one, two in beside) else ""
        if way == "middles":
            pairs = [(k, k) for k in range(len(lines))]
        elif way == "adjoining":
            pairs = list(itertools.pairwise(range(len(lines))))
        elif way == "pairs" and len(lines) % 2 == 0:
            pairs = [(k, k + 1) for k in range(0, len(lines), 2)]
        else:
            _ask(panel, gaps, bones)
    room = 0.0 if bones is None else bones.room
    return [
        Channel(
            index,
            0.5 * (lines[i][0] + lines[j][0]),
            room if i == j else float(gaps[i:j].sum()),
            0.5 * (lines[i][1] + lines[j][1]),
            "one line" if i == j else "two lines",
        )
        for i, j in pairs
    ]


def _nearest(lines: list[tuple[FloatArray, float]]) -> list[tuple[int, int]]:
    """Pairs of lines by nearness alone, and lines by themselves as pairs with themselves."""
    every = sorted(
        (float(np.hypot(*(lines[i][0] - lines[j][0]).T).mean()), i, j)
        for i, j in itertools.combinations(range(len(lines)), 2)
        if min(lines[i][1], lines[j][1]) >= _LIKE * max(lines[i][1], lines[j][1])
    )
    free, pairs = set(range(len(lines))), []
    for gap, i, j in every:
        if gap <= WIDEST_CHANNEL_MM and {i, j} <= free and _alongside(lines[i], lines[j]):
            free -= {i, j}
            pairs.append((i, j))
    return pairs + [(k, k) for k in sorted(free)]


def _alongside(one: tuple[FloatArray, float], two: tuple[FloatArray, float]) -> bool:
    """Whether two lines lie as far apart all along as those of one channel do."""
    (few, _), (many, _) = sorted((one, two), key=lambda line: line[1])
    apart = np.hypot(*(few[:, None] - many).transpose(2, 0, 1)).min(axis=1)
    return bool(apart.max() <= _TAPERS * apart.min() + _FEW_MM)


def _way(gaps: FloatArray, bones: Bones) -> str:
    """What lines this far apart are; nothing if they may be several things."""
    fits = (gaps >= bones.width - _FEW_MM) & (gaps <= _MOST_ROOMS * bones.room)
    if not fits.any():
        return "middles" if not (gaps < bones.width).any() else ""
    within, beside = gaps[::2], gaps[1::2]
    alone = len(beside) == 0 or float(beside.min()) >= _APART * float(within.max())
    return "pairs" if alone and len(gaps) % 2 == 1 and fits[::2].all() else ""


def _ask(panel: Panel, gaps: FloatArray, bones: Bones) -> NoReturn:
    apart = ", ".join(f"{gap:.1f}" for gap in gaps)
    raise ConstructionError(
        f"the {len(gaps) + 1} bone lines on panel {panel.name!r} lie {apart} mm apart: they may be "
        f"both lines of channels, or middles of bones {bones.width:g} mm wide",
        remedy='Say which in bones.drawn_as: "pairs" (two lines a channel), "adjoining" '
        '(neighbours share a line) or "middles"; or give the number of bones of each '
        "panel (per_panel).",
        element="bones.drawn_as",
    )
