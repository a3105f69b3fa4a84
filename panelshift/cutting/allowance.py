"""The cut line: the net outline offset by the seam allowance of each edge."""

from __future__ import annotations

import itertools
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from ..outline import Curve, FloatArray
from ..outline.bezier import LINE, line_control
from ..outline.corners import breaks
from ..outline.crossing import crossings
from ..outline.many import share_tangents, transformed
from ..outline.measure import position_at_length
from ..outline.offset import offset_all
from ..outline.planar import outset, self_crossings
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
    """A smooth part of the outline (panel coordinates) with its allowance and its offset."""

    net: Curve
    allowance: float
    offset: Curve


def cut_line(
    panel: Panel, allowances: Mapping[EdgeName, float], *, mitre_limit: float = MITRE_LIMIT
) -> CutLine:
    """Offset a panel's outline outwards by the allowance of each edge.

    Corners are mitred along the true tangents of the two edges; a mitre longer than
    `mitre_limit` times the wider allowance is cut off straight.

    Parameters
    ----------
    panel : Panel
    allowances : mapping of edge name to float
        In mm, 0 or more, for front, back, top and bottom.
    mitre_limit : float
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
    parts = [
        [part for name, run in each for part in _smooth_parts(run, own[name])]
        for each, own in zip(runs, allowances, strict=True)
    ]
    flat = list(itertools.chain.from_iterable(parts))
    offsets = iter(offset_all([net for net, _ in flat], [allowance for _, allowance in flat]))
    pieces = [[_OffsetRun(*part, next(offsets)) for part in own] for own in parts]
    outlines = [_outline(own, mitre_limit) for own in pieces]
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


def _smooth_parts(run: Curve, allowance: float) -> list[tuple[Curve, float]]:
    if len(run) == 1:
        return [(run, allowance)]
    joints = np.flatnonzero(np.abs(breaks(run)) > _SMOOTH)
    if len(joints) == 0:
        return [(run, allowance)]
    bounds = [0, *(int(j) for j in joints if j > 0), len(run)]
    return [
        (Curve.trusted(run.control[first:last], run.degree[first:last]), allowance)
        for first, last in itertools.pairwise(bounds)
    ]


def _tangents_at(before: _OffsetRun, after: _OffsetRun) -> tuple[float, float, float, float]:
    """Unit tangents on both sides of a corner, as plain numbers: numpy is slow with two."""
    a, b = before.net.end_tangents()[-1, 1], after.net.end_tangents()[0, 0]
    return (*a.tolist(), *b.tolist())


def _turn_at(before: _OffsetRun, after: _OffsetRun) -> float:
    ax, ay, bx, by = _tangents_at(before, after)
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


def _outline(pieces: list[_OffsetRun], mitre_limit: float) -> Curve | None:
    """The offsets trimmed and joined at their corners; None where they cannot be."""
    curves = _trim_hollows(pieces)
    if curves is None:
        return None
    parts: list[Curve] = []
    for k, curve in enumerate(curves):
        following = (k + 1) % len(curves)
        parts.append(curve)
        corner = _corner(pieces[k], pieces[following], mitre_limit)
        points = [curve.end.tolist(), *corner, curves[following].start.tolist()]
        path = points[:1]
        for point in points[1:]:
            if math.dist(point, path[-1]) > 1e-6:
                path.append(point)
        if len(path) > 1:
            parts.append(straight(np.array(path)))
    return Curve.chain(parts, closed=True)


def straight(points: FloatArray) -> Curve:
    """Straight sides through points that are known to be sound: nothing is checked."""
    return Curve.trusted(
        line_control(points[:-1], points[1:]), np.full(len(points) - 1, LINE, dtype=np.int64)
    )


def _corner(before: _OffsetRun, after: _OffsetRun, mitre_limit: float) -> list[list[float]]:
    """The mitre's tip, or nothing where the corner is smooth, hollow or cut off."""
    ax, ay, bx, by = _tangents_at(before, after)
    turn = math.atan2(ax * by - ay * bx, ax * bx + ay * by)
    if turn >= -_SMOOTH:
        return []
    x, y = before.net.end.tolist()
    ex, ey = x - before.allowance * ay, y + before.allowance * ax
    dx, dy = x - after.allowance * by - ex, y + after.allowance * bx - ey
    # e0 + s a = e1 - r b, by Cramer's rule; the corner's turn keeps the divisor from 0.
    divisor = ax * by - ay * bx
    s, r = (dx * by - dy * bx) / divisor, (ax * dy - ay * dx) / divisor
    tip = [ex + s * ax, ey + s * ay]
    longest = mitre_limit * max(before.allowance, after.allowance)
    if s < 0.0 or r < 0.0 or math.dist(tip, (x, y)) > longest + 1e-9:
        return []
    return [tip]


def _flattened(pieces: list[_OffsetRun], mitre_limit: float) -> Curve:
    net = Curve.chain([piece.net for piece in pieces], closed=True)
    bands = [(piece.net, piece.allowance) for piece in pieces]
    return Curve.polyline(outset(net, bands, mitre_limit), closed=True)
