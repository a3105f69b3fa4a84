"""Side edges of a pattern cut into short pieces, and what each piece is sewn to: its profile."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Final

import numpy as np

from ..outline import Curve, FloatArray
from ..outline.bezier import IntArray, each, restricted
from ..outline.measure import part_lengths
from .panel import EdgeName, Panel, Span
from .pattern import Pattern
from .profile import SIDES, Mates, Profile, Spots

_PIECE_MM: Final = 3.0
"""Longest piece of an edge: no longer than between the heights at which bodies are asked, where
their splines change."""

_SAME_MM: Final = 1e-3
"""Joints of two mates nearer than this along the seam are one."""

_ENDS: Final = ("bottom", "top")


def profile(pattern: Pattern) -> Profile:
    """Cut the side edges of all panels of a pattern into pieces, and at the tips of gores."""
    panels = pattern.panels
    edges = [panel.edge(name) for panel in panels for name in SIDES]
    control, owner, cuts = _short(edges, np.repeat(np.arange(len(panels)), 2), panels)
    outlines = np.concatenate([panel.outline.control for panel in panels])
    of = np.repeat(np.arange(len(panels)), [len(panel.outline) for panel in panels])
    heights = _in_panel(outlines, panels, of)[..., 1]
    span = float(heights.min()), float(heights.max())
    found = _cut(control, owner, cuts, span)
    if any(panel.pointed for panel in panels):
        pointed = [[panel.pointed == end for end in _ENDS] for panel in panels for _ in SIDES]
        found = replace(found, pointed=np.array(pointed))
        cuts = np.sort(np.concatenate([cuts, _tip_cuts(found, panels, cuts)]))
        found = replace(_cut(control, owner, cuts, span), pointed=found.pointed)
    mates = _mates(found, pattern)
    extra = _mates_joints(found, mates, cuts)
    if len(extra):
        cuts = np.sort(np.concatenate([cuts, extra]))
        found = replace(_cut(control, owner, cuts, span), pointed=found.pointed)
        mates = _mates(found, pattern)
    return replace(found, mates=mates)


def rising(curves: Sequence[Curve], panel: IntArray, panels: tuple[Panel, ...]) -> Profile:
    """Other lines of panels that rise all the way, cut as side edges are, in their numbers.

    Arcs are counted from where each comes nearest to the waist.
    """
    control, owner, cuts = _short(curves, panel, panels)
    return _cut(control, owner, cuts, (0.0, 0.0))


def _short(
    curves: Sequence[Curve], panel: IntArray, panels: tuple[Panel, ...]
) -> tuple[FloatArray, IntArray, FloatArray]:
    """Control points of curves on panels, (k, 4, 2), whose each is, and cuts into short pieces."""
    owner = np.repeat(np.arange(len(curves)), [len(curve) for curve in curves])
    every = np.concatenate([curve.control for curve in curves])
    control = _in_panel(every, panels, panel[owner])
    # The hull is longer than the curve, and costs no integral.
    hull = np.hypot(*np.diff(control, axis=1).transpose(2, 0, 1)).sum(axis=1)
    counts = np.clip(np.ceil(hull / _PIECE_MM), 1, 4096).astype(np.int64)
    segment, within = each(counts)
    return control, owner, segment + within / counts[segment]


def _tip_cuts(found: Profile, panels: tuple[Panel, ...], cuts: FloatArray) -> FloatArray:
    """Where the tips of gores cut the edges that they are set in."""
    edge, height = _tip_heights(panels)
    spots = found.at_heights(height, edge)
    return _cuts_at(spots, found.arc_at(spots), found, cuts)


def _tip_heights(panels: tuple[Panel, ...]) -> tuple[IntArray, FloatArray]:
    """Edge and height in mm of each tip that lies on it, panel by panel."""
    tips = [(k, tip) for k, panel in enumerate(panels) for tip in panel.tips]
    edge = np.array([2 * k + SIDES.index(tip.edge) for k, tip in tips], dtype=np.int64)
    height = np.array([panels[k].frame.to_panel(tip.point)[1] for k, tip in tips])
    return edge, height.reshape(-1)


def _mates(found: Profile, pattern: Pattern) -> Mates:
    """What each piece is sewn to.

    Two edges are laid together at the waist, or at a gore's tip where the waist is no part of what
    is sewn, and where one of them is the gore's.
    """
    mate, offset = np.full(len(found.owner), -1), np.zeros(len(found.owner))
    panels, middle = pattern.panels, 0.5 * found.arcs.sum(axis=0)
    edges, heights = _tip_heights(panels)
    names = [tip.piece for panel in panels for tip in panel.tips]
    arcs = found.arc_at(found.at_heights(heights, edges)).tolist() if names else []
    at = dict(zip(zip(edges.tolist(), names, strict=True), arcs, strict=True))

    def reach(panel: int, name: EdgeName, span: Span | None) -> tuple[int, float, float]:
        edge = 2 * panel + SIDES.index(name)
        low, high = -np.inf, np.inf
        if span is not None:
            low, high = at.get((edge, span.low), low), at.get((edge, span.high), high)
        elif panels[panel].pointed == "top":
            high = float(found.arcs[1, found.starts[edge + 1] - 1])
        elif panels[panel].pointed == "bottom":
            low = float(found.arcs[0, found.starts[edge]])
        return edge, low, high

    met = _waists_on_edges(found, panels)
    for seam in pattern.seams:
        if seam.in_slit:
            # A slit is no edge: the gore takes the strain of the line across the panel.
            continue
        one = reach(seam.first, seam.first_edge, seam.first_span)
        two = reach(seam.second, seam.second_edge, seam.second_span)
        by_tip = any(panels[k].pointed for k in (seam.first, seam.second))
        for (edge, low, high), (other, its_low, its_high) in ((one, two), (two, one)):
            pieces = slice(found.starts[edge], found.starts[edge + 1])
            here = (middle[pieces] > low) & (middle[pieces] < high)
            mate[pieces][here] = other
            if by_tip or max(low, its_low) > 0.0 or min(high, its_high) < 0.0:
                ends = (low, its_low) if np.isfinite(low) else (high, its_high)
                offset[pieces][here] = ends[1] - ends[0]
            elif met is not None:
                offset[pieces][here] = met[other] - met[edge]
    return Mates(mate, offset)


def _in_panel(control: FloatArray, panels: tuple[Panel, ...], panel: IntArray) -> FloatArray:
    """Control points of curves on panels in panel coordinates."""
    maps = np.array([p.frame.matrix for p in panels])[panel]
    return np.asarray(np.matmul(control, maps[..., :2].transpose(0, 2, 1)) + maps[:, None, :, 2])


def _waists_on_edges(found: Profile, panels: tuple[Panel, ...]) -> FloatArray | None:
    """Arc in mm at which each edge meets its waist, (edges,); None where all meet it at 0."""
    ends = [(panel, panel.waist_end(edge)) for panel in panels for edge in SIDES]
    heights = np.array(
        [0.0 if end is None else panel.frame.to_panel(end)[1] for panel, end in ends]
    )
    if np.abs(heights).max() < _SAME_MM:
        return None
    return found.arc_at(found.at_heights(heights, np.arange(len(heights))))


def _cut(
    control: FloatArray, owner: IntArray, cuts: FloatArray, span: tuple[float, float]
) -> Profile:
    """Pieces of segments that begin at cuts: segment plus Bezier parameter."""
    segment = np.floor(cuts).astype(np.int64)
    t0 = cuts - segment
    t1 = np.append(t0[1:], 0.0)
    t1[t1 == 0.0] = 1.0
    pieces = restricted(control[segment], t0, t1)
    edge = owner[segment]
    starts = np.searchsorted(edge, np.arange(owner[-1] + 2))
    lengths = part_lengths(control, segment, t0, t1)
    total = np.concatenate([[0.0], np.cumsum(lengths)])
    ends = np.arange(len(edge) + owner[-1] + 1)
    of = np.searchsorted(starts[1:] + np.arange(1, owner[-1] + 2), ends, side="right")
    total = total[ends - of]
    rough = Profile(starts, pieces, total, span)
    edges = np.arange(owner[-1] + 1)
    waist = rough.arc_at(rough.at_heights(np.zeros(len(edges)), edges))
    return Profile(starts, pieces, total - waist[of], span)


def _mates_joints(found: Profile, mates: Mates, cuts: FloatArray) -> FloatArray:
    """Cuts where the mates of edges have their joints, but not one where a cut is already."""
    drawn = (cuts == np.floor(cuts)) & (mates.edge >= 0)
    drawn[found.starts[:-1]] = False
    arcs, edge = found.arcs[0, drawn] + mates.offset[drawn], mates.edge[drawn]
    return _cuts_at(found.at_arcs(arcs, edge), arcs, found, cuts)


def _cuts_at(spots: Spots, arcs: FloatArray, found: Profile, cuts: FloatArray) -> FloatArray:
    """Cuts at spots whose arcs are given, but not one where a cut is already."""
    low, high = found.arcs[:, spots.piece]
    inner = (arcs > low + _SAME_MM) & (arcs < high - _SAME_MM)
    piece, t = spots.piece[inner], spots.t[inner]
    ends = np.append(cuts[1:], np.inf)
    last = np.minimum(ends, np.floor(cuts) + 1.0)
    return np.asarray(cuts[piece] + t * (last - cuts)[piece])
