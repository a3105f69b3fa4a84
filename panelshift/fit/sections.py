"""The body's section at a level, every panel's place on it, and pictures, all to one scale."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from lxml import etree

from ..body import BodyModel, SectionModel
from ..body.section import half_axes, section_points
from ..body.spread import ColumnModel
from ..body.turn import TurnOfCloth
from ..outline import FloatArray
from ..sheets.lettering import width
from ..sheets.palette import FAINT, INK, LITTLE_TURN, MUCH_TURN, SOFT, between
from ..sheets.svg_writer import finished, line, picture, text

_PER_PANEL = 24
_NO_WIDTH_MM: Final = 1e-3


@dataclass(frozen=True, eq=False)
class Section:
    """A closed section in mm, centre front down the page (y downwards), body's left to the right.

    *parts*: panel name (empty for the lacing gap) and its points, shape (m, 2), round the body.
    *angles*: turning of each part in radians. *panels*: indices of the parts' panels, without the
    gap's; one with a slit has a part before its gore and one behind it.
    """

    level: str
    parts: tuple[tuple[str, FloatArray], ...]
    angles: tuple[float, ...]
    panels: tuple[int, ...]


def section_at(turn: TurnOfCloth, body: BodyModel, level: str, *, gap: float) -> Section:
    """Section of the body at a level, of the panels that reach it: a gore may not.

    Notes
    -----
    Models that know sections have shapes of their own. Classes and a former give only how much
    each panel turns: it is drawn with one arc a panel, and what those arcs miss of closing is
    spread evenly along the line.
    """
    height = turn.pattern.level_height(level)
    (found,) = sections_around(turn, body, np.array([height]), gap=gap, level=level)
    half, whose = len(turn.places.panel), [*found.panels, -1]
    pieces: list[list[int]] = []
    for k, (_, points) in enumerate(found.parts):
        if float(np.ptp(points, axis=0).max()) <= _NO_WIDTH_MM:
            continue
        before = pieces[-1][-1] if pieces else k
        # Beyond its slit's tip a panel is one again; with its mirror image it never is.
        mirrored = not turn.pattern.full and before // half != k // half
        if before != k and whose[before] == whose[k] and not mirrored:
            pieces[-1].append(k)
        else:
            pieces.append([k])
    firsts = [own[0] for own in pieces]
    return Section(
        level,
        tuple(
            (found.parts[own[0]][0], _in_one([found.parts[k][1] for k in own])) for own in pieces
        ),
        tuple(sum(found.angles[k] for k in own) for own in pieces),
        tuple(whose[k] for k in firsts if whose[k] >= 0),
    )


def _in_one(parts: Sequence[FloatArray]) -> FloatArray:
    """Points of parts that follow each other as those of one, as many as each has, (m, 2)."""
    if len(parts) == 1:
        return parts[0]
    points = np.vstack([parts[0], *(part[1:] for part in parts[1:])])
    run = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))])
    at = np.linspace(0.0, run[-1], len(parts[0]))
    return np.column_stack([np.interp(at, run, column) for column in points.T])


def sections_around(
    turn: TurnOfCloth,
    body: BodyModel,
    heights: FloatArray,
    *,
    gap: float,
    level: str = "",
    each: int = _PER_PANEL,
) -> list[Section]:
    """The same at any heights above the waist in mm, under one name for them.

    *each*: points of every part.
    """
    pattern, panels = turn.pattern, turn.places.all_round
    widths, angles = (part.T for part in turn.by_place(heights))
    if not pattern.full:
        widths, angles = (np.hstack([part[:, ::-1], part]) for part in (widths, angles))
    names = [pattern.panels[k].name for k in panels]
    gap_angles = np.array([turn.gap_angle_at(float(v)) for v in heights])
    varies = turn.ring.gap_varies
    gaps = np.array([turn.ring.gap_at(float(v)) if varies else gap for v in heights])
    with_gap = bool((gaps > 0.0).any() or (gap_angles > 0.0).any())
    if with_gap:
        widths, angles = np.column_stack([widths, gaps]), np.column_stack([angles, gap_angles])
        names = [*names, ""]
    if isinstance(body, SectionModel):
        parts = _on_superellipses(body, heights, widths, gaps, each)
    elif isinstance(body, ColumnModel):
        parts = _on_sections(body, turn, heights, each, with_gap=with_gap)
    else:
        rows = zip(widths, angles, 0.5 * gap_angles, strict=True)
        parts = np.stack([_arcs(*row, each) for row in rows])
    return [
        Section(level, tuple(zip(names, own, strict=True)), tuple(turning.tolist()), panels)
        for own, turning in zip(parts, angles, strict=True)
    ]


def _on_superellipses(
    body: SectionModel, heights: FloatArray, widths: FloatArray, gaps: FloatArray, each: int
) -> FloatArray:
    """Points of each part at each height, (heights, parts, each, 2)."""
    girths = widths.sum(axis=1)
    axes = half_axes(girths, body.ratio.at(heights), body.exponent)
    run = np.cumsum(np.column_stack([0.5 * gaps, widths]), axis=1) / girths[:, None] - 0.5
    at = np.linspace(run[:, :-1], run[:, 1:], each, axis=2)
    breadth, depth = (np.repeat(axis, at[0].size) for axis in axes)
    points = section_points(at.ravel(), breadth, depth, body.exponent)
    return points.reshape(*at.shape, 2)


def _on_sections(
    body: ColumnModel, turn: TurnOfCloth, heights: FloatArray, each: int, *, with_gap: bool
) -> FloatArray:
    """Points of each part at each height, (heights, parts, each, 2)."""
    sections, normals = body.sections_at(turn.ring, turn.body, heights)
    if with_gap:
        normals = np.column_stack([normals, normals[:, 0] + 2.0 * np.pi])
    at = np.linspace(normals[:, :-1], normals[:, 1:], each, axis=2)
    return sections.points(at.reshape(len(at), -1)).reshape(*at.shape, 2)


def _arcs(widths: FloatArray, angles: FloatArray, start: float, each: int) -> FloatArray:
    """One arc a part, head to tail, closed by spreading what they miss: (parts, each, 2).

    `start` is the direction at the first part: the ring begins at the edge of the lacing gap,
    half the gap's turn past the centre back.
    """
    here, heading = np.zeros(2), start
    pieces = []
    for wide, angle in zip(widths, angles, strict=True):
        t = np.linspace(0.0, 1.0, each)
        middles = heading + angle * 0.5 * (t[:-1] + t[1:])
        steps = (wide / (each - 1)) * np.column_stack([-np.cos(middles), np.sin(middles)])
        points = np.vstack([here, here + np.cumsum(steps, axis=0)])
        pieces.append(points)
        here, heading = points[-1], heading + angle
    miss = here
    whole, run = float(widths.sum()), 0.0
    closed = []
    for wide, points in zip(widths, pieces, strict=True):
        share = (run + wide * np.linspace(0.0, 1.0, each)) / whole
        closed.append(points - share[:, None] * miss)
        run += float(wide)
    middle = np.vstack(closed).mean(axis=0)
    return np.asarray(np.stack(closed) - middle)


MOST_LETTERS: Final = 14
"""Longer names are cut off in pictures; the page lists what each stands for."""

_LINES: Final = 2.3
"""Height of a name and an angle below it, in font sizes."""

_MOST_STEPS: Final = 12


def short_names(names: Sequence[str]) -> dict[str, str]:
    """Return as many first words of each name as tell it from all others.

    Examples
    --------
    >>> short_names(["1 centre front", "2 side", "front"])
    {'1 centre front': '1', '2 side': '2', 'front': 'front'}
    """
    distinct = list(dict.fromkeys(names))
    result: dict[str, str] = {}
    for name in distinct:
        words = name.split()
        for count in range(1, len(words) + 1):
            start = words[:count]
            if not any(other.split()[:count] == start for other in distinct if other != name):
                words = start
                break
        brief = _cut(" ".join(words) or name)
        # Two long names may be alike in all that fits: their numbers tell them apart.
        result[name] = brief if brief not in result.values() else f"({len(result) + 1})"
    return result


def _cut(text: str) -> str:
    return text if len(text) <= MOST_LETTERS else text[: MOST_LETTERS - 1] + "…"


def half_size(brief: str, letter: float) -> FloatArray:
    """Half the width and height of a name with an angle such as 45.2° below it."""
    wide = letter * max(width("145.2°"), width(brief))
    return 0.5 * np.array([wide, _LINES * letter])


def outward(point: FloatArray) -> FloatArray:
    """Direction from the origin to a point."""
    return np.asarray(point / max(float(np.hypot(*point)), 1e-9))


def middles_beside(
    points: Sequence[FloatArray], briefs: Sequence[str], letter: float
) -> list[FloatArray]:
    """Middle of a label beside each point of a ring round the origin.

    Labels stand clear of the ring, and step outwards until they touch no other. They are set
    from the centre front (the middle of the order) backwards, so that both halves step alike.

    *points*: sequence of ndarray, shape (2,). In order round the ring. *letter*: font size, in the
    points' unit.
    """
    halves = [half_size(brief, letter) for brief in briefs]
    middle = 0.5 * (len(points) - 1)
    middles: dict[int, FloatArray] = {}
    for k in sorted(range(len(points)), key=lambda k: (abs(k - middle), k)):
        way = outward(points[k])
        base = points[k] + (0.7 * letter + float(np.abs(way) @ halves[k])) * way
        for step in range(_MOST_STEPS):
            here = base + step * 1.25 * letter * way
            if not any(
                (np.abs(here - other) < halves[k] + halves[j]).all() for j, other in middles.items()
            ):
                break
        middles[k] = here
    return [middles[k] for k in range(len(points))]


_LETTER: Final = 0.052
"""Font size as a part of the widest section's breadth: legible three in a row."""

_SCALE_BARS: Final = {"mm": (100.0, "100 mm"), "cm": (100.0, "10 cm"), "in": (101.6, "4 in")}
"""Length in mm and words, by display unit."""


@dataclass(frozen=True, eq=False)
class _SharedLook:
    """What all pictures share.

    *letter*: font size, in mm of the body; lines are as thick in proportion. *half*, shape (2,):
    half the width and height of each picture, without the scale bar. *span*: least and largest
    turning for each mm of width. *units*: of the scale bar.
    """

    letter: float
    half: FloatArray
    span: tuple[float, float]
    short: Mapping[str, str]
    units: str

    def colour(self, rate: float) -> str:
        """The darker the more a panel turns for its width."""
        least, most = self.span
        share = 0.5 if most - least < 1e-12 else (rate - least) / (most - least)
        return between(LITTLE_TURN, MUCH_TURN, share)


def section_figures(sections: Sequence[Section], units: str = "mm") -> list[str]:
    """Return a picture of each section; a mm is as long in all of them.

    Each panel is the darker the more it turns for its width, over all sections alike, and has
    its name and its angle beside it.

    *units*: {"mm", "cm", "in"}. Of the scale bar.
    """
    if not sections:
        return []
    short = short_names([name for item in sections for name, _ in item.parts if name])
    widest = max(float(np.ptp(np.vstack(_centred(item))[:, 0])) for item in sections)
    letter = _LETTER * widest
    labels = [_labels(item, short, letter) for item in sections]
    reach = np.max(
        [np.abs(middle) + half_size(short[name], letter) for own in labels for name, middle in own],
        axis=0,
    )
    rates = np.concatenate([_rates(item) for item in sections])
    span = float(rates.min()), float(rates.max())
    look = _SharedLook(letter, np.ceil(reach + 0.3 * letter), span, short, units)
    return [_figure(item, own, look) for item, own in zip(sections, labels, strict=True)]


def _labels(
    section: Section, short: Mapping[str, str], letter: float
) -> list[tuple[str, FloatArray]]:
    """Each panel's name and where its words stand."""
    names = [name for name, _ in section.parts if name]
    parts = zip(section.parts, _centred(section), strict=True)
    middles = [points[len(points) // 2] for (name, _), points in parts if name]
    labels = middles_beside(middles, [short[name] for name in names], letter)
    return list(zip(names, labels, strict=True))


def _centred(section: Section) -> list[FloatArray]:
    """Each part's points, the middle of the whole section's box at the origin."""
    everything = np.vstack([points for _, points in section.parts])
    middle = 0.5 * (everything.min(axis=0) + everything.max(axis=0))
    return [points - middle for _, points in section.parts]


def _rates(section: Section) -> FloatArray:
    """Turning of each panel for each mm of its width, without the gap."""
    return np.array(
        [
            angle / max(float(np.hypot(*np.diff(points, axis=0).T).sum()), 1e-9)
            for (name, points), angle in zip(section.parts, section.angles, strict=True)
            if name
        ]
    )


def _figure(section: Section, labels: Sequence[tuple[str, FloatArray]], look: _SharedLook) -> str:
    letter, half = look.letter, look.half
    bar_room = 2.0 * letter
    root = picture(2.0 * half[0], 2.0 * half[1] + bar_room, f"body section at the {section.level}")
    parts = [points + half for points in _centred(section)]
    cloth = zip(labels, _rates(section), strict=True)
    for (name, _), points, angle in zip(section.parts, parts, section.angles, strict=True):
        if not name:
            gap = {"stroke": SOFT, "stroke-width": f"{0.07 * letter:.2f}"}
            dash = {"stroke-dasharray": f"{0.2 * letter:.1f} {0.27 * letter:.1f}"}
            line(root, points, gap | dash)
            continue
        (_, middle), rate = next(cloth)
        _draw_panel(root, points, look, look.colour(float(rate)))
        at = middle + half
        _leader(root, points[len(points) // 2], at, look)
        text(root, look.short[name], at - np.array([0.0, 0.15 * letter]), letter)
        text(root, f"{np.degrees(angle):.1f}°", at + np.array([0.0, 0.95 * letter]), letter)
    low, high = (f(np.vstack(parts)[:, 1]) for f in (np.min, np.max))
    text(root, "centre front", np.array([half[0], high - 1.2 * letter]), letter)
    text(root, "centre back", np.array([half[0], low + 1.8 * letter]), letter)
    _scale_bar(root, np.array([0.5 * letter, 2.0 * half[1] + bar_room - 0.4 * letter]), look)
    return finished(root)


def _leader(root: etree._Element, panel: FloatArray, label: FloatArray, look: _SharedLook) -> None:
    """Draw a thin line from a panel to its words where they had to step away."""
    way = outward(panel - look.half)
    free = float((label - panel) @ way) - 1.2 * look.letter
    if free > 2.5 * look.letter:
        ends = np.array([panel + 0.5 * look.letter * way, panel + free * way])
        line(root, ends, {"stroke": FAINT, "stroke-width": f"{0.04 * look.letter:.2f}"})


def _draw_panel(root: etree._Element, points: FloatArray, look: _SharedLook, colour: str) -> None:
    letter = look.letter
    line(root, points, {"stroke": INK, "stroke-width": f"{0.6 * letter:.2f}"})
    line(root, points, {"stroke": colour, "stroke-width": f"{0.47 * letter:.2f}"})
    for end in points[[0, -1]]:
        way = 0.47 * letter * outward(end - look.half)
        tick = np.array([end - way, end + way])
        line(root, tick, {"stroke": INK, "stroke-width": f"{0.1 * letter:.2f}"})


def _scale_bar(root: etree._Element, at: FloatArray, look: _SharedLook) -> None:
    length, words = _SCALE_BARS[look.units]
    letter = look.letter
    end = at + np.array([length, 0.0])
    up = np.array([0.0, 0.33 * letter])
    ink = {"stroke": INK, "stroke-width": f"{0.1 * letter:.2f}"}
    line(root, np.array([at - up, at, end, end - up]), ink)
    text(root, words, 0.5 * (at + end) - up, letter)
