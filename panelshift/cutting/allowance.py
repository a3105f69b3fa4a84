"""The cut line: the net outline offset by the seam allowance of each edge."""

from __future__ import annotations

import itertools
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from ..outline import Curve, FloatArray
from ..outline.bezier import LINE, line_control
from ..outline.crossing import crossings
from ..outline.many import closed_chains, share_tangents, transformed
from ..outline.measure import all_breaks, position_at_length
from ..outline.planar import outset, self_crossings
from ..outline.refit import offset_all
from ..pattern.panel import EdgeName, Panel

MITRE_LIMIT: Final = 2.5
"""Longest mitre at a corner, as a multiple of the wider of the two allowances."""

_SMOOTH = math.radians(0.5)


@dataclass(frozen=True, eq=False)
class CutLine:
    """A panel's cut line.

    Parameters
    ----------
    curve : Curve
        Closed, in sheet mm.
    flattened : bool
        Whether it had to be drawn as short straight lines: the outline is curved or notched
        more tightly than its allowance, so that native curves cannot follow it.
    """

    curve: Curve
    flattened: bool = False


@dataclass(frozen=True, eq=False)
class _OffsetRun:
    """A smooth part of the outline (panel coordinates) with its allowance and its offset.

    Tangents and end are plain numbers: numpy is slow with two.
    """

    net: Curve
    allowance: float
    offset: Curve
    leaving: list[float]
    """Unit tangent at its start."""
    arriving: list[float]
    """Unit tangent at its end."""
    end: list[float]


def cut_line(
    panel: Panel, allowances: Mapping[EdgeName, float], *, mitre_limit: float = MITRE_LIMIT
) -> CutLine:
    """Offset a panel's outline outwards by the allowance of each edge.

    Corners are mitred along the true tangents of the two edges; a mitre longer than
    `mitre_limit` times the wider allowance is cut off straight.

    *allowances*: in mm, 0 or more, for front, back, top and bottom.
    """
    return cut_lines([panel], [allowances], mitre_limit=mitre_limit)[0]


def cut_lines(
    panels: Sequence[Panel],
    allowances: Sequence[Mapping[EdgeName, float]],
    *,
    mitre_limit: float = MITRE_LIMIT,
) -> list[CutLine]:
    """Offset the outlines of several panels in one pass: see `cut_line`."""
    runs = _runs(panels)
    broken = iter(all_breaks([run for each in runs for _, run in each]))
    parts = [
        [part for name, run in each for part in _smooth_parts(run, next(broken), own[name])]
        for each, own in zip(runs, allowances, strict=True)
    ]
    pieces = _offset_runs(parts)
    outlines = _outlines(pieces, mitre_limit)
    smooth = [k for k, outline in enumerate(outlines) if outline is not None]
    crossed = self_crossings([outline for outline in outlines if outline is not None])
    flattened = set(range(len(panels))) - set(smooth) | {smooth[k] for k, _ in crossed}
    curves = [
        _flattened(own, mitre_limit) if outline is None or k in flattened else outline
        for k, (own, outline) in enumerate(zip(pieces, outlines, strict=True))
    ]
    on_sheet = transformed(curves, np.array([_to_sheet(panel) for panel in panels]))
    return [CutLine(curve, k in flattened) for k, curve in enumerate(on_sheet)]


def _runs(panels: Sequence[Panel]) -> list[list[tuple[EdgeName, Curve]]]:
    """The four edges of each panel, in panel coordinates."""
    drawn = [panel.runs() for panel in panels]
    curves = [run for edges in drawn for _, run in edges]
    matrices = np.repeat([panel.frame.matrix for panel in panels], len(drawn[0]), axis=0)
    moved = transformed(curves, matrices)
    share_tangents(moved)
    following = iter(moved)
    return [[(name, next(following)) for name, _ in edges] for edges in drawn]


def _to_sheet(panel: Panel) -> FloatArray:
    """Affine map from panel to sheet coordinates, shape (2, 3)."""
    frame = panel.frame
    return np.column_stack([frame.across, frame.up, frame.origin])


def _smooth_parts(run: Curve, broken: FloatArray, allowance: float) -> list[tuple[Curve, float]]:
    """A run cut where its tangent breaks."""
    joints = [k for k, angle in enumerate(broken.tolist()) if k > 0 and abs(angle) > _SMOOTH]
    if not joints:
        return [(run, allowance)]
    parts = []
    for first, last in itertools.pairwise([0, *joints, len(run)]):
        part = Curve.trusted(run.control[first:last], run.degree[first:last])
        part.know_tangents(run.end_tangents()[first:last])
        parts.append((part, allowance))
    return parts


def _offset_runs(parts: Sequence[Sequence[tuple[Curve, float]]]) -> list[list[_OffsetRun]]:
    """Offset the smooth parts of all panels in one pass."""
    nets = [net for own in parts for net, _ in own]
    offsets = offset_all(nets, [allowance for own in parts for _, allowance in own])
    tangents = np.concatenate([net.end_tangents() for net in nets])
    last = np.cumsum([len(net) for net in nets]) - 1
    first = np.concatenate([[0], last[:-1] + 1])
    ends = np.array([net.control[-1, 3] for net in nets])
    found = zip(
        offsets,
        tangents[first, 0].tolist(),
        tangents[last, 1].tolist(),
        ends.tolist(),
        strict=True,
    )
    return [[_OffsetRun(net, allowance, *next(found)) for net, allowance in own] for own in parts]


def _turn_at(before: _OffsetRun, after: _OffsetRun) -> float:
    (ax, ay), (bx, by) = before.arriving, after.leaving
    return math.atan2(ax * by - ay * bx, ax * bx + ay * by)


def _trim_hollows(pieces: list[_OffsetRun]) -> list[Curve] | None:
    """Cut neighbouring offsets off where they cross at hollow corners; None if they do not."""
    curves = [piece.offset for piece in pieces]
    for k, piece in enumerate(pieces):
        following = (k + 1) % len(pieces)
        if _turn_at(piece, pieces[following]) <= _SMOOTH:
            continue
        if piece.allowance == 0.0 and pieces[following].allowance == 0.0:
            continue
        found = crossings(curves[k], curves[following])
        if len(found) == 0:
            return None
        # The crossing nearest to the corner: last on the piece before it.
        last = int(np.argmax(found.positions))
        start = float(position_at_length(curves[following], [found.along[last]])[0])
        if found.positions[last] <= 0.0 or start >= len(curves[following]):
            return None
        curves[k] = curves[k].piece(0.0, float(found.positions[last]))
        curves[following] = curves[following].piece(start, float(len(curves[following])))
    return curves


def _outlines(pieces: Sequence[list[_OffsetRun]], mitre_limit: float) -> list[Curve | None]:
    """The offsets of each panel trimmed and joined at corners; None where they cannot be."""
    groups: list[list[Curve | None]] = []
    paths: list[list[list[float]]] = []
    trimmed = [_trim_hollows(own) for own in pieces]
    for own, curves in zip(pieces, trimmed, strict=True):
        if curves is None:
            continue
        parts: list[Curve | None] = []
        starts = [curve.control[0, 0].tolist() for curve in curves]
        for k, curve in enumerate(curves):
            following = (k + 1) % len(curves)
            parts.append(curve)
            corner = _corner(own[k], own[following], mitre_limit)
            points = [curve.control[-1, 3].tolist(), *corner, starts[following]]
            path = points[:1]
            for point in points[1:]:
                if math.dist(point, path[-1]) > 1e-6:
                    path.append(point)
            if len(path) > 1:
                paths.append(path)
                parts.append(None)
        groups.append(parts)
    sides = iter(straights(paths))
    closed = iter(closed_chains([[part or next(sides) for part in own] for own in groups]))
    return [None if curves is None else next(closed) for curves in trimmed]


def straight(points: FloatArray) -> Curve:
    """Straight sides through points that are known to be sound: nothing is checked."""
    return straights([points])[0]


def straights(paths: Sequence[npt.ArrayLike]) -> list[Curve]:
    """Straight sides through the points of each path in one pass: see `straight`."""
    if not paths:
        return []
    points = [np.asarray(path, dtype=np.float64) for path in paths]
    control = line_control(
        np.concatenate([own[:-1] for own in points]), np.concatenate([own[1:] for own in points])
    )
    degree = np.full(len(control), LINE, dtype=np.int64)
    ends = np.cumsum([len(own) - 1 for own in points]).tolist()
    return [
        Curve.trusted(control[first:last], degree[first:last])
        for first, last in itertools.pairwise([0, *ends])
    ]


def _corner(before: _OffsetRun, after: _OffsetRun, mitre_limit: float) -> list[list[float]]:
    """The mitre's tip, or nothing where the corner is smooth, hollow or cut off."""
    if _turn_at(before, after) >= -_SMOOTH:
        return []
    (ax, ay), (bx, by), (x, y) = before.arriving, after.leaving, before.end
    ex, ey = x - before.allowance * ay, y + before.allowance * ax
    dx, dy = x - after.allowance * by - ex, y + after.allowance * bx - ey
    # e0 + s a = e1 - r b, by Cramer's rule; the corner's turn keeps the divisor from 0.
    divisor = ax * by - ay * bx
    s, r = (dx * by - dy * bx) / divisor, (ax * dy - ay * dx) / divisor
    tip = [ex + s * ax, ey + s * ay]
    longest = mitre_limit * max(before.allowance, after.allowance)
    if s < 0.0 or r < 0.0 or math.dist(tip, before.end) > longest + 1e-9:
        return []
    return [tip]


def _flattened(pieces: list[_OffsetRun], mitre_limit: float) -> Curve:
    net = Curve.chain([piece.net for piece in pieces], closed=True)
    bands = [(piece.net, piece.allowance) for piece in pieces]
    return Curve.polyline(outset(net, bands, mitre_limit), closed=True)
