"""Layers sewn to one another, from flat to wrapped round the body, cut alike or each its own."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from ..outline import FloatArray
from ..sheets.palette import INK, SOFT, wanting
from ..sheets.svg_writer import finished, line, picture, text
from ..shift import LayerPattern, Shifted
from .girths import buckle_height
from .layer_change import MAGNIFICATIONS
from .sections import Section, short_names

_LETTER: Final = 0.036
"""Font size as a part of the picture's breadth."""

_LIFTED_PART: Final = 0.12
_WAVED_PART: Final = 0.05
"""Layers are drawn apart, and waves high, by at most these parts of the section's breadth."""


@dataclass(frozen=True)
class WrappedPart:
    """One panel of one layer at the level, as it lies between its seams.

    *distance*: in mm outwards of the drafted layer. *growth*: in mm by which it needs to be wider
    on the body than the draft. *strain*: part of the width by which it is stretched. *excess*: mm
    too much of it, and *wave*: how high in mm one smooth half wave of that stands.
    """

    layer: str
    panel: str
    distance: float
    growth: float
    width: float
    strain: float
    excess: float
    wave: float


@dataclass(frozen=True, eq=False)
class Wrapping:
    """All layers at a level, part of the way round and part of the way from alike to shifted.

    *wrapped*: from 0, flat, to 1, round the body. *cut*: from 0, all cut alike, to 1, each as the
    shift says. *parts*: for each panel of the ring the layers that cover it, from the body out.
    *lift*, *waves*: how many times as large distances and waves are drawn.
    """

    section: Section
    wrapped: float
    cut: float
    parts: tuple[tuple[WrappedPart, ...], ...]
    lift: float
    waves: float

    @property
    def most(self) -> float:
        """The largest part of its width that a panel can want or have too much of."""
        return max((abs(p.growth) / p.width for own in self.parts for p in own), default=0.0) or 1.0


def wrapping(
    shifted: Shifted,
    layers: Sequence[LayerPattern],
    section: Section,
    *,
    wrapped: float,
    cut: float,
) -> Wrapping:
    """What becomes of every panel of some layers at a section's level.

    Notes
    -----
    Bent by a part of its angle a panel's layers need that part of their growth, which goes with
    the angle; what ridges need is taken in the same proportion. Cut a part of the way towards
    their own width they have that part of it. The difference is (wrapped - cut) growth: wanting,
    the cloth strains; over, it buckles.
    """
    turn = shifted.turn
    height = turn.pattern.level_height(section.level)

    def part(layer: LayerPattern, index: int, share: float) -> WrappedPart:
        width = share * max(turn.width_at(index, height), 1e-6)
        growth = share * shifted.growth(layer.place, index, height)
        wants = (wrapped - cut) * growth
        over = max(-wants, 0.0)
        return WrappedPart(
            layer.fabric.name,
            turn.pattern.panels[index].name,
            shifted.grown.distance(layer.place, index, height),
            growth,
            width,
            max(wants, 0.0) / width,
            over,
            buckle_height(over, width),
        )

    own = [
        tuple(part(layer, index, share) for layer in layers if index in layer.covered)
        for index, share in zip(section.panels, _shares(section, turn.pattern.full), strict=True)
    ]
    breadth = float(np.ptp(np.vstack([points for _, points in section.parts])[:, 0]))
    all_parts = [item for parts in own for item in parts]
    furthest = max((abs(item.distance) for item in all_parts), default=0.0)
    highest = max((buckle_height(abs(p.growth), p.width) for p in all_parts), default=0.0)
    return Wrapping(
        section,
        wrapped,
        cut,
        tuple(own),
        _times(furthest, _LIFTED_PART * breadth),
        _times(highest, _WAVED_PART * breadth),
    )


def _shares(section: Section, full: bool) -> list[float]:
    """What part of its panel's width each part is: not all where it is cut open."""
    runs = [float(np.hypot(*np.diff(points, axis=0).T).sum()) for _, points in section.parts]
    half = len(section.panels) // (1 if full else 2)
    whose = [(k // half, panel) for k, panel in enumerate(section.panels)]
    return [
        run / sum(r for r, other in zip(runs, whose, strict=False) if other == own)
        for run, own in zip(runs, whose, strict=False)
    ]


def _times(size: float, most: float) -> float:
    return next((m for m in MAGNIFICATIONS if m * size <= most), MAGNIFICATIONS[-1])


def unrolled(section: Section, count: int, wrapped: float) -> tuple[FloatArray, FloatArray]:
    """The panels' line with all its bending brought to a part, and its outward normals.

    *count*: of the section's parts that are panels. Lengths along the line stay; its middle, the
    centre front, keeps its direction and its place.

    Returns two ndarrays, shape (panels, m, 2).
    """
    points = np.array([own for _, own in section.parts[:count]])
    steps = np.diff(points, axis=1).reshape(-1, 2)
    headings = np.unwrap(np.arctan2(steps[:, 1], steps[:, 0]))
    half = len(headings) // 2
    middle = 0.5 * (headings[half - 1] + headings[half])
    headings = middle + wrapped * (headings - middle)
    lengths = np.hypot(*steps.T)[:, None]
    run = np.cumsum(lengths * np.column_stack([np.cos(headings), np.sin(headings)]), axis=0)
    run = np.vstack([np.zeros(2), run])
    run += np.vstack([points[:, :-1].reshape(-1, 2), points[-1:, -1]])[half] - run[half]
    # At a point the direction is between those of the two steps that meet there.
    ends = np.concatenate([headings[:1], 0.5 * (headings[1:] + headings[:-1]), headings[-1:]])
    normals = np.column_stack([-np.sin(ends), np.cos(ends)])
    each = points.shape[1] - 1
    own = np.arange(count)[:, None] * each + np.arange(each + 1)
    return run[own], normals[own]


def laid_line(part: WrappedPart, base: FloatArray, normals: FloatArray, of: Wrapping) -> FloatArray:
    """Points of one panel of one layer as it is drawn, shape (m, 2)."""
    run = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(base, axis=0).T))])
    wave = np.sin(np.pi * run / max(float(run[-1]), 1e-9))
    # What is over goes where no layer that holds lies: away from the drafted one.
    way = 1.0 if part.distance >= 0.0 else -1.0
    out = part.distance * of.lift + way * part.wave * of.waves * wave
    return np.asarray(base + out[:, None] * normals)


def wrapping_picture(of: Wrapping) -> str:
    """Draw all layers from above, centre front at the bottom."""
    count = len(of.parts)
    base, normals = unrolled(of.section, count, of.wrapped)
    lines = [
        [(part, laid_line(part, own, out, of)) for part in parts]
        for parts, own, out in zip(of.parts, base, normals, strict=True)
    ]
    cloud = np.vstack([base.reshape(-1, 2), *(points for own in lines for _, points in own)])
    low, high = cloud.min(axis=0), cloud.max(axis=0)
    letter = _LETTER * max(float(np.ptp(cloud[:, 0])), float(np.ptp(cloud[:, 1])))
    room = np.array([4.0, 3.0]) * letter
    wide, tall = (high - low + 2.0 * room).tolist()
    at = room - low
    root = picture(
        wide,
        tall,
        f"all layers at the {of.section.level}, {100 * of.wrapped:.0f} % of the way round the "
        f"body, {100 * of.cut:.0f} % of the way from cut alike to their own sizes; layers "
        f"{of.lift:g} times as far apart, waves {of.waves:g} times as high",
    )
    distances = sorted({part.distance * of.lift for parts in of.parts for part in parts})
    gaps = np.diff(distances)
    thick = min(0.6 * float(gaps[gaps > 1e-6].min(initial=np.inf)), 0.7 * letter)
    seams = {"stroke": SOFT, "stroke-width": f"{0.05 * letter:.2f}"}
    ends = np.array([distances[0] - thick, distances[-1] + thick])[:, None]
    for own, out in zip(base, normals, strict=True):
        for end in (0, -1):
            line(root, own[end] + ends * out[end] + at, seams)
    for own in lines:
        for part, points in own:
            share = (part.strain - part.excess / part.width) / of.most
            line(root, points + at, {"stroke": INK, "stroke-width": f"{thick:.2f}"})
            inner = {"stroke": wanting(share), "stroke-width": f"{0.7 * thick:.2f}"}
            line(root, points + at, inner)
    briefs = short_names([name for name, _ in of.section.parts[:count]])
    beyond = distances[-1] + 1.4 * letter
    for (name, _), own, out in zip(of.section.parts, base, normals, strict=False):
        middle = len(own) // 2
        where = own[middle] + beyond * out[middle] + np.array([0.0, 0.35 * letter])
        text(root, briefs[name], where + at, letter)
    return finished(root)
