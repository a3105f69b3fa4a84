"""The body's section at a level, with every panel's place on it."""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np

from ..body import BodyModel, SectionModel
from ..body.section import half_axes, section_points
from ..body.turn import TurnOfCloth
from ..outline import FloatArray

_PER_PANEL = 24


@dataclass(frozen=True, eq=False)
class Section:
    """A closed section in mm, centre front down the page (y downwards), body's left to the right.

    Parameters
    ----------
    parts : tuple of (str, ndarray)
        Panel name (empty for the lacing gap) and its points, shape (m, 2), round the body.
    angles : tuple of float
        Turning of each part in radians.
    """

    level: str
    parts: tuple[tuple[str, FloatArray], ...]
    angles: tuple[float, ...]


def section_at(turn: TurnOfCloth, body: BodyModel, level: str, *, gap: float) -> Section:
    """Section of the body at a level.

    Notes
    -----
    A section model has a shape of its own. The class model gives only how much each panel
    turns: it is drawn with one arc a panel, and what those arcs miss of closing is spread
    evenly along the line.
    """
    pattern = turn.pattern
    height = pattern.level_height(level)
    count = len(pattern.panels)
    widths = [turn.width_at(i, height) for i in range(count)]
    angles = [turn.angle_at(i, height) for i in range(count)]
    names = [panel.name for panel in pattern.panels]
    if not pattern.full:
        widths, angles = widths[::-1] + widths, angles[::-1] + angles
        names = names[::-1] + names
    gap_angle = turn.gap_angle_at(height)
    if gap > 0.0 or gap_angle > 0.0:
        widths, angles, names = [*widths, gap], [*angles, gap_angle], [*names, ""]
    if isinstance(body, SectionModel):
        parts = _on_superellipse(body, height, np.array(widths), gap)
    else:
        parts = _arcs(np.array(widths), np.array(angles), start=0.5 * gap_angle)
    return Section(
        level,
        tuple(zip(names, parts, strict=True)),
        tuple(angles),
    )


def _on_superellipse(
    body: SectionModel, height: float, widths: FloatArray, gap: float
) -> list[FloatArray]:
    ratio = body.ratio.at(np.array([height]))
    girth = np.array([widths.sum()])
    breadth, depth = half_axes(girth, ratio, body.exponent)
    bounds = (np.concatenate([[0.0], np.cumsum(widths)]) + 0.5 * gap) / girth[0] - 0.5
    return [
        section_points(
            np.linspace(low, high, _PER_PANEL), float(breadth[0]), float(depth[0]), body.exponent
        )
        for low, high in itertools.pairwise(bounds)
    ]


def _arcs(widths: FloatArray, angles: FloatArray, *, start: float) -> list[FloatArray]:
    """One arc a part, head to tail, closed by spreading what they miss.

    `start` is the direction at the first part: the ring begins at the edge of the lacing gap,
    half the gap's turn past the centre back.
    """
    here, heading = np.zeros(2), start
    pieces = []
    for width, angle in zip(widths, angles, strict=True):
        t = np.linspace(0.0, 1.0, _PER_PANEL)
        middles = heading + angle * 0.5 * (t[:-1] + t[1:])
        steps = (width / (_PER_PANEL - 1)) * np.column_stack([-np.cos(middles), np.sin(middles)])
        points = np.vstack([here, here + np.cumsum(steps, axis=0)])
        pieces.append(points)
        here, heading = points[-1], heading + angle
    miss = here
    whole, run = float(widths.sum()), 0.0
    closed = []
    for width, points in zip(widths, pieces, strict=True):
        share = (run + width * np.linspace(0.0, 1.0, _PER_PANEL)) / whole
        closed.append(points - share[:, None] * miss)
        run += float(width)
    middle = np.vstack(closed).mean(axis=0)
    return [points - middle for points in closed]
