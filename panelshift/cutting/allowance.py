"""The cut line: the net outline offset by the seam allowance of each edge."""

from __future__ import annotations

import itertools
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np

from ..outline import Curve, FloatArray
from ..outline.corners import breaks
from ..outline.crossing import crossings
from ..outline.curve import IntArray, bezier_derivatives, bezier_points
from ..outline.measure import position_at_length
from ..outline.planar import outset, self_crossing
from ..outline.refit import refit
from ..pattern.panel import EdgeName, Panel

MITRE_LIMIT: Final = 2.5
"""Longest mitre at a corner, as a multiple of the wider of the two allowances."""

_SMOOTH = np.radians(0.5)
_TANGENT_NUDGE = 1e-7


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
class _Piece:
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
    pieces = [
        piece
        for name, run in panel.runs()
        for piece in _pieces(run.transformed(panel.frame.matrix), allowances[name])
    ]
    trimmed = _trim_hollows(pieces)
    if trimmed is not None:
        outline = _joined(pieces, trimmed, mitre_limit)
        if self_crossing(outline) is None:
            return CutLine(_to_sheet(panel, outline))
    return CutLine(_flattened(panel, pieces, mitre_limit), flattened=True)


def _to_sheet(panel: Panel, curve: Curve) -> Curve:
    frame = panel.frame
    axes = np.stack([frame.across, frame.up], axis=1)
    return curve.transformed(np.column_stack([axes, frame.origin]))


def _pieces(run: Curve, allowance: float) -> list[_Piece]:
    joints = np.flatnonzero(np.abs(breaks(run)) > _SMOOTH)
    bounds = [0, *(int(j) for j in joints if j > 0), len(run)]
    result = []
    for first, last in itertools.pairwise(bounds):
        net = Curve(run.control[first:last], run.degree[first:last])
        result.append(_Piece(net, allowance, offset_left(net, allowance)))
    return result


def offset_left(curve: Curve, distance: float) -> Curve:
    """Offset a smooth curve by a distance in mm to the left of its direction.

    Left is the direction of (-dy, dx): outwards for the runs of a panel in panel
    coordinates. A negative distance offsets to the right.

    Notes
    -----
    With unit tangent T, left normal N and curvature k (positive to the left), the offset
    P + d N moves at P' (1 - d k).
    """
    if distance == 0.0:
        return curve

    def image(index: IntArray, t: FloatArray) -> tuple[FloatArray, FloatArray]:
        control = curve.control[index]
        # A handle of no length has no tangent just at the end, but has one beside it.
        inner = np.clip(t, _TANGENT_NUDGE, 1.0 - _TANGENT_NUDGE)
        speed = bezier_derivatives(control, inner)
        # Its cube is divided by: a floor of 1e-90 keeps that from running out of exponent.
        size = np.maximum(np.hypot(speed[:, 0], speed[:, 1]), 1e-90)
        normal = np.column_stack([-speed[:, 1], speed[:, 0]]) / size[:, None]
        second = np.diff(control, n=2, axis=1) * 6.0
        bend = second[:, 0] * (1.0 - inner)[:, None] + second[:, 1] * inner[:, None]
        curvature = (speed[:, 0] * bend[:, 1] - speed[:, 1] * bend[:, 0]) / size**3
        images = bezier_points(control, t) + distance * normal
        return images, speed * (1.0 - distance * curvature)[:, None]

    return refit(curve, image)


def _turn_at(before: _Piece, after: _Piece) -> float:
    a, b = before.net.end_tangents()[-1, 1], after.net.end_tangents()[0, 0]
    return float(np.arctan2(a[0] * b[1] - a[1] * b[0], a @ b))


def _trim_hollows(pieces: list[_Piece]) -> list[Curve] | None:
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


def _joined(pieces: list[_Piece], curves: list[Curve], mitre_limit: float) -> Curve:
    parts: list[Curve] = []
    for k, curve in enumerate(curves):
        following = (k + 1) % len(curves)
        parts.append(curve)
        corner = _corner(pieces[k], pieces[following], mitre_limit)
        points = [curve.end, *corner, curves[following].start]
        path = [points[0]]
        for point in points[1:]:
            if np.hypot(*(point - path[-1])) > 1e-6:
                path.append(point)
        if len(path) > 1:
            parts.append(Curve.polyline(np.array(path)))
    return Curve.chain(parts, closed=True)


def _corner(before: _Piece, after: _Piece, mitre_limit: float) -> list[FloatArray]:
    """The mitre's tip, or nothing where the corner is smooth, hollow or cut off."""
    turn = _turn_at(before, after)
    if turn >= -_SMOOTH:
        return []
    a, b = before.net.end_tangents()[-1, 1], after.net.end_tangents()[0, 0]
    vertex = before.net.end
    e0 = vertex + before.allowance * np.array([-a[1], a[0]])
    e1 = vertex + after.allowance * np.array([-b[1], b[0]])
    # e0 + s a = e1 - r b
    s, r = np.linalg.solve(np.column_stack([a, b]), e1 - e0)
    tip: FloatArray = e0 + s * a
    longest = mitre_limit * max(before.allowance, after.allowance)
    if s < 0.0 or r < 0.0 or np.hypot(*(tip - vertex)) > longest + 1e-9:
        return []
    return [tip]


def _flattened(panel: Panel, pieces: list[_Piece], mitre_limit: float) -> Curve:
    net = Curve.chain([piece.net for piece in pieces], closed=True)
    bands = [(piece.net, piece.allowance) for piece in pieces]
    return _to_sheet(panel, Curve.polyline(outset(net, bands, mitre_limit), closed=True))
