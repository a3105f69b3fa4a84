"""The cut line: the net outline offset by the seam allowance of each edge.

The path drawn is each smooth part's own offset, without what runs backwards where the outline
bends more tightly than its allowance, with mitres at outer corners and a way down to the stitch
line and up again at hollow ones. Its outer border is the cut line: every part of it is an exact
offset, cut off where the next one crosses it.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np

from ..outline import Curve, FloatArray
from ..outline.bezier import LINE, line_control
from ..outline.many import closed_chains, share_tangents, transformed
from ..outline.measure import all_breaks
from ..outline.offset import offset_all, outer_boundary, turning_back
from ..outline.planar import self_crossings
from ..pattern.panel import EdgeName, Panel

MITRE_LIMIT: Final = 2.5
"""Longest mitre at a corner, as a multiple of the wider of the two allowances."""

CornerShape = Literal["mitred", "mirrored", "squared"]

_SMOOTH = math.radians(0.5)
_ON_FOLD_MM: Final = 0.02
_SAME_MM: Final = 1e-6
_SIDES: Final = frozenset[EdgeName]({"front", "back"})


@dataclass(frozen=True, eq=False)
class _OffsetRun:
    """A smooth part of the outline (panel coordinates) with its allowance and its offset.

    Tangents and ends are plain numbers: numpy is slow with two.
    """

    edge: EdgeName
    net: Curve
    allowance: float
    offset: Curve
    leaving: list[float]
    """Unit tangent at its start."""
    arriving: list[float]
    """Unit tangent at its end."""
    end: list[float]


_Smooth = tuple[EdgeName, Curve, float, bool]
"""An edge, a smooth part of it, its allowance, and whether it bends more tightly than that."""


def cut_line(
    panel: Panel,
    allowances: Mapping[EdgeName, float],
    *,
    mitre_limit: float = MITRE_LIMIT,
    corners: CornerShape = "mitred",
) -> Curve:
    """A panel's outline offset outwards by the allowance of each edge, closed, in sheet mm.

    Outer corners are mitred along the true tangents of the two edges; a mitre that reaches
    further from its corner than `mitre_limit` times the wider allowance is cut off straight
    there. Where a side edge meets the top or the bottom, its allowance may instead end as the
    mirror image of that edge about the seam, so that it lies under the edge when it is folded
    back, or squarely to the seam.
    """
    return cut_lines([panel], [allowances], mitre_limit=mitre_limit, corners=corners)[0]


def cut_lines(
    panels: Sequence[Panel],
    allowances: Sequence[Mapping[EdgeName, float]],
    *,
    mitre_limit: float = MITRE_LIMIT,
    corners: CornerShape = "mitred",
) -> list[Curve]:
    """Offset the outlines of several panels in one pass: see `cut_line`."""
    runs = _runs(panels)
    broken = iter(all_breaks([run for each in runs for _, run in each]))
    parts = [
        [part for name, run in each for part in _smooth_parts(name, run, next(broken), own[name])]
        for each, own in zip(runs, allowances, strict=True)
    ]
    pieces = _offset_runs(_told_apart(parts))
    curves = closed_chains([_joined(own, mitre_limit, corners) for own in pieces])
    for k in sorted({k for k, _ in self_crossings(curves)}):
        curves[k] = outer_boundary(curves[k])
    return transformed(curves, np.array([_to_sheet(panel) for panel in panels]))


def _runs(panels: Sequence[Panel]) -> list[list[tuple[EdgeName, Curve]]]:
    """The edges of each panel, in panel coordinates."""
    drawn = [panel.runs() for panel in panels]
    curves = [run for edges in drawn for _, run in edges]
    matrices = np.repeat([panel.frame.matrix for panel in panels], list(map(len, drawn)), axis=0)
    moved = transformed(curves, matrices)
    share_tangents(moved)
    following = iter(moved)
    return [[(name, next(following)) for name, _ in edges] for edges in drawn]


def _to_sheet(panel: Panel) -> FloatArray:
    """Affine map from panel to sheet coordinates, shape (2, 3)."""
    frame = panel.frame
    return np.column_stack([frame.across, frame.up, frame.origin])


def _smooth_parts(
    edge: EdgeName, run: Curve, broken: FloatArray, allowance: float
) -> list[_Smooth]:
    """A run cut where its tangent breaks."""
    joints = [k for k, angle in enumerate(broken.tolist()) if k > 0 and abs(angle) > _SMOOTH]
    if not joints:
        return [(edge, run, allowance, False)]
    parts: list[_Smooth] = []
    for first, last in itertools.pairwise([0, *joints, len(run)]):
        part = Curve.trusted(run.control[first:last], run.degree[first:last])
        part.know_tangents(run.end_tangents()[first:last])
        parts.append((edge, part, allowance, False))
    return parts


def _told_apart(parts: Sequence[list[_Smooth]]) -> list[list[_Smooth]]:
    """The same, cut where an outline begins to bend more tightly than its allowance."""
    every = [part for own in parts for part in own]
    found = iter(turning_back([part[1] for part in every], [part[2] for part in every]))
    result = []
    for own in parts:
        apart: list[_Smooth] = []
        for edge, net, allowance, _ in own:
            if not (back := next(found)):
                apart.append((edge, net, allowance, False))
                continue
            ends = itertools.pairwise([0.0, *back, float(len(net))])
            apart += [
                (edge, net.piece(s0, s1), allowance, k % 2 == 1)
                for k, (s0, s1) in enumerate(ends)
                if s1 > s0
            ]
        result.append(apart)
    return result


def _offset_runs(parts: Sequence[Sequence[_Smooth]]) -> list[list[_OffsetRun]]:
    """Offset the smooth parts of all panels in one pass.

    Where a part bends too tightly no point of its offset bounds the strip: straight down to the
    stitch line, along it and up again stays within the strip just as well.
    """
    every = [part for own in parts for part in own]
    nets = [net for _, net, _, _ in every]
    offsets = offset_all(nets, [0.0 if tight else by for _, _, by, tight in every])
    tangents = np.concatenate([net.end_tangents() for net in nets])
    last = np.cumsum([len(net) for net in nets]) - 1
    leaving, arriving = tangents[np.concatenate([[0], last[:-1] + 1]), 0], tangents[last, 1]
    for k, (_, net, by, tight) in enumerate(every):
        if tight:
            up = net.start + by * _left(leaving[k]), net.end + by * _left(arriving[k])
            offsets[k] = straight(np.array([up[0], net.start, net.end, up[1]]))
    ends = np.array([net.control[-1, 3] for net in nets])
    found = zip(offsets, leaving.tolist(), arriving.tolist(), ends.tolist(), strict=True)
    return [
        [_OffsetRun(edge, net, allowance, *next(found)) for edge, net, allowance, _ in own]
        for own in parts
    ]


def _turn_at(before: _OffsetRun, after: _OffsetRun) -> float:
    (ax, ay), (bx, by) = before.arriving, after.leaving
    return math.atan2(ax * by - ay * bx, ax * bx + ay * by)


def _joined(own: Sequence[_OffsetRun], mitre_limit: float, corners: CornerShape) -> list[Curve]:
    """The offsets of a panel with what joins each to the next."""
    offsets = [run.offset for run in own]
    tips: list[list[list[float]]] = []
    for k, before in enumerate(own):
        after = own[(k + 1) % len(own)]
        turn = _turn_at(before, after)
        if turn > _SMOOTH:
            tips.append([before.end])
        elif turn < -_SMOOTH:
            shaped = None
            if corners != "mitred" and (before.edge in _SIDES) != (after.edge in _SIDES):
                shaped = _shaped(before, after, mitre_limit, corners)
            tips.append(shaped if shaped is not None else _mitre(before, after, mitre_limit))
        else:
            tips.append([])
    parts = []
    for k, curve in enumerate(offsets):
        following = offsets[(k + 1) % len(own)]
        points = [curve.control[-1, 3].tolist(), *tips[k], following.control[0, 0].tolist()]
        path = points[:1]
        for point in points[1:]:
            if math.dist(point, path[-1]) > _SAME_MM:
                path.append(point)
        parts += [curve] if len(path) < 2 else [curve, straight(np.array(path))]
    return parts


def up_to_fold(cut: Curve, edge: Curve) -> Curve:
    """What of a closed cut line lies on the panel's side of a straight edge on the fold, open.

    Where the top or the bottom leans away from the fold, its allowance would reach beyond it.
    """
    along = (edge.end - edge.start) / np.hypot(*(edge.end - edge.start))
    across = np.array([-along[1], along[0]])
    depth = (cut.control - edge.start) @ across
    depth = depth if depth.mean() > 0.0 else -depth
    # A straight edge may bulge by half a millimetre, and its cut line with it.
    bulge = float(np.abs((edge.flatten() - edge.start) @ across).max()) + _ON_FOLD_MM
    inside = depth[:, 3] > bulge
    count = len(cut)
    first = next(k for k in range(count) if inside[k] and not inside[k - 1])
    kept = next(n for n in range(1, count + 1) if not inside[(first + n) % count])
    begin = first + _crossed(depth[first])
    end = first + kept + 1.0 - _crossed(depth[(first + kept) % count][::-1])
    return cut.piece(begin, end % count or float(count))


def _crossed(depth: FloatArray) -> float:
    """Where a cubic's depth rises through 0; 0 if it begins at or above it."""
    if depth[0] >= 0.0:
        return 0.0
    low, high = 0.0, 1.0
    for _ in range(60):
        t = 0.5 * (low + high)
        weights = np.array([(1 - t) ** 3, 3 * t * (1 - t) ** 2, 3 * t * t * (1 - t), t**3])
        low, high = (t, high) if float(weights @ depth) < 0.0 else (low, t)
    return high


def straight(points: FloatArray) -> Curve:
    """Straight sides through points that are known to be sound: nothing is checked."""
    return Curve.trusted(line_control(points[:-1], points[1:]), np.full(len(points) - 1, LINE))


def _mitre(before: _OffsetRun, after: _OffsetRun, mitre_limit: float) -> list[list[float]]:
    """The mitre's tip, or both corners of its cut; nothing where no mitre lies ahead."""
    (ax, ay), (bx, by), (x, y) = before.arriving, after.leaving, before.end
    ex, ey = x - before.allowance * ay, y + before.allowance * ax
    gx, gy = x - after.allowance * by, y + after.allowance * bx
    dx, dy = gx - ex, gy - ey
    longest = mitre_limit * max(before.allowance, after.allowance)
    # e + s a = g - r b, by Cramer's rule; an edge that runs straight back has its tip nowhere.
    divisor = ax * by - ay * bx
    if divisor != 0.0:
        s, r = (dx * by - dy * bx) / divisor, (ax * dy - ay * dx) / divisor
        if s < 0.0 or r < 0.0:
            return []
        tip = [ex + s * ax, ey + s * ay]
        if math.dist(tip, before.end) <= longest + 1e-9:
            return [tip]
    s, r = (math.sqrt(longest**2 - own.allowance**2) for own in (before, after))
    return [[ex + s * ax, ey + s * ay], [gx - r * bx, gy - r * by]]


def _shaped(
    before: _OffsetRun, after: _OffsetRun, mitre_limit: float, corners: CornerShape
) -> list[list[float]] | None:
    """Corners of a side edge's allowance that ends mirrored or squarely; None if it cannot.

    Seen from the corner, with the side edge running on along s: the other edge's cut line meets
    the stitch line at q, and from there the allowance ends along m, at r on its own cut line.
    """
    side, other = (before, after) if before.edge in _SIDES else (after, before)
    if min(side.allowance, other.allowance) <= 0.0:
        return None
    if side is before:
        s, t = np.array(side.arriving), np.array(other.leaving)
        across, up = _left(s), _left(t)
    else:
        s, t = -np.array(side.leaving), -np.array(other.arriving)
        across, up = -_left(s), -_left(t)
    rise = float(s @ up)
    m = across if corners == "squared" else 2.0 * float(t @ s) * s - t
    out = float(m @ across)
    if rise <= 0.0 or out <= 0.0:
        return None
    corner = np.array(before.end)
    q = other.allowance / rise * s
    r = q + side.allowance / out * m
    longest = mitre_limit * max(side.allowance, other.allowance)
    if float(r @ s) < 0.0 or max(math.hypot(*q), math.hypot(*r)) > longest:
        return None
    points = [(corner + r).tolist(), (corner + q).tolist()]
    return points if side is before else points[::-1]


def _left(vector: FloatArray) -> FloatArray:
    return np.array([-vector[1], vector[0]])
