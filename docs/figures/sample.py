"""The sample job, shifted once for all figures, and the shift's own formula point by point."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import numpy as np

from panelshift import Shifted
from panelshift.construction.growth import Growth
from panelshift.job import read_job, resolve
from panelshift.job.resolved import Job
from panelshift.job.result import shift_job
from panelshift.outline import FloatArray
from panelshift.pattern.panel import EdgeName
from panelshift.pattern.pattern import Pattern
from panelshift.pattern.profile import SIDES, Spots
from panelshift.shift.layers import anchors
from panelshift.shift.lengthening import Lengthening

OUTER = "brocade"


@cache
def job() -> Job:
    """The hourglass of sample_patterns."""
    folder = Path(__file__).resolve().parents[2] / "sample_patterns"
    return resolve(read_job(folder / "hourglass.toml"))


@cache
def drafted(name: str) -> Pattern:
    """The draft of a sample."""
    folder = Path(__file__).resolve().parents[2] / "sample_patterns"
    return resolve(read_job(folder / f"{name}.toml")).pattern


@cache
def shifted() -> Shifted:
    """All its layers."""
    return shift_job(job())


def distances(layer: str) -> FloatArray:
    """Distance of a layer on every panel in mm, shape (panels,)."""
    return shifted().layer(layer).distances


def edge_points(panel: int, edge: EdgeName) -> tuple[FloatArray, FloatArray]:
    """Arc length from the waist (mm) and panel coordinates of points all along an edge."""
    found, number, parts = shifted().turn.profile, 2 * panel + SIDES.index(edge), 10
    pieces = np.arange(found.starts[number], found.starts[number + 1])
    spots = Spots(np.repeat(pieces, parts), np.tile(np.arange(parts) / parts, len(pieces)))
    points = np.vstack([np.column_stack(found.point(spots)), found.control[pieces[-1], 3]])
    arc = np.append(found.arc_at(spots), found.arcs[1, pieces[-1]])
    rising = np.diff(np.maximum.accumulate(points[:, 1]), prepend=-np.inf) > 0.0
    return arc[rising], points[rising]


def displacement(panel: int, points: FloatArray, layer: str) -> FloatArray:
    """How far points of a panel move in a layer, in panel coordinates, shape (m, 2).

    The formula of the page "How it works", written out once more: the figures check it against
    the outlines that panelshift cuts.
    """
    turn, away = shifted().turn, distances(layer)
    fixed = anchors(turn.pattern)
    along = Lengthening.of(turn, Growth(away[None], turn), fixed)
    u, v = points.T

    def at(row: FloatArray) -> FloatArray:
        return np.interp(v, turn.profile.heights, row)

    front, back = at(turn.profile.front[panel]), at(turn.profile.back[panel])
    q = (u - front) / (back - front)
    growth = away[panel] * at(turn.growth[panel])
    none = np.zeros(len(v), dtype=np.int64)
    low, high = (along.at(none, none + 2 * panel + side, v)[0] for side in range(len(SIDES)))
    return np.column_stack([growth * (q - fixed[panel]), (1.0 - q) * low + q * high])


def lengthening_alone(panel: int, edge: EdgeName, layer: str) -> FloatArray:
    """What tilt alone would do along an edge, on the profile's heights, in mm."""
    turn = shifted().turn
    tilt = turn.tilt[edge][panel]
    change = np.interp(0.0, turn.profile.heights, tilt) - tilt
    return np.asarray(distances(layer)[panel] * change)
