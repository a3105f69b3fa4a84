"""The seam allowance that is drawn in, taken off: net outlines of panels drawn as cut lines.

What an offset in a drawing program did is undone: each edge is moved inwards by its allowance
along its true normals, and the corners are where the moved edges, or their end tangents, meet.
Where neighbouring edges have one allowance a, that is the point P + a (m + n) / (1 + m.n) of a
corner P with the inward unit normals m and n on its two sides.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from ..errors import CurveError, PanelshiftError, PatternError
from ..outline import Curve, FloatArray
from ..outline.bezier import LINE, line_control, of_degree
from ..outline.crossing import crossings
from ..outline.many import share_tangents
from ..outline.measure import breaks, length, position_at_length
from ..outline.offset import offset_all
from ..outline.planar import contains, self_crossings
from ..pattern.panel import Corners, EdgeName, Frame, Panel
from ..pattern.pattern import EDGE_KINDS, EdgeKind, Pattern
from .causes import WORDS_LOST, are_words_lost
from .clues import FAR_LESS, ends_at, refuse_said, width_by_seams
from .draft import Draft
from .marks import make_panel
from .names import listed
from .order import NamedPanel
from .tidy import without_stray_pieces

_SMOOTH: Final = 1e-6
"""Joints that turn by less, in radians, are none."""

_SHARP: Final = math.radians(15.0)
"""At joints that turn by less the two ends are moved to their mitre; at sharper ones the moved
edges are cut off where they cross."""

_SAME_MM: Final = 1e-6
_VANISHED_MM: Final = 0.05
"""A rounded corner of the allowance's own radius shrinks to a point, but for so much."""

_LONGEST: Final = 8.0
"""How many allowances a corner may lie from where its edges end."""

_PARALLEL: Final = 1e-3


def take_off(
    draft: Draft, panels: Sequence[NamedPanel], corners: Sequence[Corners], full: bool
) -> tuple[tuple[NamedPanel, ...], list[Corners]]:
    """Return panels drawn with their allowance as net panels, with their corners.

    Raises `PatternError` if an edge bends more tightly than its allowance, or nothing is left of a
    panel; or if the drawing says in words that the allowance is in it and the maker says nothing.
    """
    allowances = draft.reading.allowance_drawn
    if allowances is None:
        refuse_said(draft)
        if draft.reading.drafted_waist is None:
            _refuse_seams_of_cut_lines(draft, panels, corners, full)
            if are_words_lost(draft.drawing):
                draft.ledger.warn("outline-unchecked", WORDS_LOST)
    if allowances is None or not draft.reading.takes_off:
        return tuple(panels), list(corners)
    _refuse_net_lines(draft)
    pattern = Pattern(tuple(map(make_panel, panels, corners)), full)
    found = [_net(draft, named, pattern, index, allowances) for index, named in enumerate(panels)]
    told = ", ".join(f"{kind.replace('_', ' ')} {by:g}" for kind, by in allowances.items() if by)
    draft.ledger.note(
        "allowance-drawn",
        f"the allowance that is drawn in was taken off, as asked (mm: {told})",
        *(named.found.ident for named in panels),
    )
    return tuple(named for named, _ in found), [corner for _, corner in found]


def _refuse_seams_of_cut_lines(
    draft: Draft, panels: Sequence[NamedPanel], corners: Sequence[Corners], full: bool
) -> None:
    """Seams that walk once a usual allowance is taken off, and not before, were trued inside it."""
    if any(panel.companions for panel in draft.panels):
        return
    pattern = Pattern(tuple(map(make_panel, panels, corners)), full)
    by = width_by_seams(pattern)
    if by is None:
        return
    drawn = np.diff(pattern.seam_lengths(), axis=1)
    try:
        left = float(np.abs(_seams_without(draft, panels, pattern, by)).max())
    except PanelshiftError:
        return  # So much cannot be taken off.
    if left <= FAR_LESS * np.abs(drawn).max():
        raise PatternError(
            "the seam allowance seems to be drawn in: the two edges of a seam differ by up to "
            f"{np.abs(drawn).max():.2f} mm as drawn, and by no more than {left:.3f} mm with "
            f"{by:.2f} mm taken off all round, so that the seams were trued inside it",
            remedy="Say in the job file how much seam allowance is in the outlines: [pattern] "
            f"allowance_drawn = {by:.3g}, in mm, or 0 if they are the stitch lines all the same. "
            "Or state drafted_waist, which tells.",
            element="pattern.allowance_drawn",
            key="allowance_drawn",
        )


def _seams_without(
    draft: Draft, panels: Sequence[NamedPanel], pattern: Pattern, by: float
) -> FloatArray:
    """By how much the edges of each seam differ in mm with an allowance taken off all round."""
    off = dict.fromkeys(EDGE_KINDS, by)
    found = [_net(draft, named, pattern, k, off) for k, named in enumerate(panels)]
    net = Pattern(tuple(make_panel(*each) for each in found), pattern.full)
    return np.diff(net.seam_lengths(), axis=1).ravel()


def _refuse_net_lines(draft: Draft) -> None:
    """Nothing is to be taken off a panel that has its cut line beside its net outline."""
    gone = {r.elements[0] for r in draft.ledger.remarks if r.code == "seam-allowance"}
    found = [shape for shape in draft.drawing.shapes if shape.ident in gone]
    found += [
        shape
        for shape in draft.shapes
        if shape.curve.closed
        and draft.kind(shape) == "allowance"
        and any(contains(shape.curve, panel.outline) for panel in draft.panels)
    ]
    if found:
        raise PatternError(
            "allowance_drawn is to be taken off, but net outlines are drawn as well, and their cut "
            f"lines are left out already: {listed(found)}",
            remedy="Take allowance_drawn out of the job file, if the inner outlines are the stitch "
            'lines; else say net_outline = "outer".',
            element="pattern.allowance_drawn",
        )


@dataclass(eq=False)
class _Chain:
    """A part of one edge without sharp corners: as drawn, and moved inwards."""

    edge: EdgeName
    by: float
    drawn: Curve
    moved: Curve


def _net(
    draft: Draft,
    named: NamedPanel,
    pattern: Pattern,
    index: int,
    allowances: Mapping[EdgeKind, float],
) -> tuple[NamedPanel, Corners]:
    """One panel without its allowance."""
    panel = pattern.panels[index]
    by = {
        name: float(allowances.get(pattern.edge_kind(index, name), 0.0)) for name, _ in panel.runs()
    }
    chains = _moved(panel, by)
    _meet(panel, chains)
    edges = [name for name, _ in panel.runs()]
    count = {name: sum(len(c.moved) for c in chains if c.edge == name) for name in edges}
    if not all(count.values()):
        raise _tight(panel, max(by.values()))
    frame = panel.frame
    to_sheet = np.column_stack([frame.across, frame.up, frame.origin])
    try:
        outline = Curve.chain([chain.moved for chain in chains], closed=True)
        outline = outline.transformed(to_sheet)
    except CurveError:
        raise _tight(panel, max(by.values())) from None
    for _, at in self_crossings([outline]):
        raise _tight(panel, max(by.values()), at)
    ends = list(itertools.accumulate(count[name] for name in edges))
    corners = Corners(0.0, float(ends[0]), float(ends[1]), float(ends[2]), True)
    waist = draft.meetings.of(outline, named.found.waistline.curve)
    if len(waist) != 2:
        raise _tight(panel, max(by.values()))
    step = waist.points[1] - waist.points[0]
    across = step / np.hypot(*step)
    across = across if float(across @ frame.across) > 0.0 else -across
    up = np.array([-across[1], across[0]])
    up = up if float(up @ frame.up) > 0.0 else -up
    middle = waist.points.mean(axis=0)
    found = replace(named.found, outline=outline, waist=waist)
    return NamedPanel(named.name, found, Frame(middle, across, up)), corners


def _tight(panel: Panel, by: float, at: FloatArray | None = None) -> PatternError:
    where = "" if at is None else f" at ({at[0]:.0f}, {at[1]:.0f}) mm"
    return PatternError(
        f"panel {panel.name!r}: an allowance of {by:g} mm cannot be taken off{where}: its outline "
        "bends more tightly than that, or is narrower",
        remedy="See whether allowance_drawn is right; if it is, draw this panel's stitch line.",
        element=panel.ident,
        at=None if at is None else (float(at[0]), float(at[1])),
    )


def _moved(panel: Panel, by: Mapping[EdgeName, float]) -> list[_Chain]:
    """The edges moved inwards and parted at sharp corners, in panel coordinates."""
    runs = [(name, run.transformed(panel.frame.matrix)) for name, run in panel.runs()]
    share_tangents([run for _, run in runs])
    parts = [(name, part) for name, run in runs for part in _smooth_parts(run)]
    # Outwards is to the left of the way up the front and over the top.
    offsets = offset_all([part for _, part in parts], [-by[name] for name, _ in parts])
    # A round corner of the allowance's own radius, smooth with its edges, shrinks to a speck.
    offsets = without_stray_pieces(offsets)
    chains: list[_Chain] = []
    joined = False
    for (name, part), moved in zip(parts, offsets, strict=True):
        if _has_vanished(part, moved):
            joined = False
            continue
        last = chains[-1] if chains else None
        if joined and last is not None and last.edge == name and _turn(last.drawn, part) < _SHARP:
            a, b = _mitred(last.moved, moved, last.drawn, part, by[name])
            chains[-1] = _Chain(name, by[name], part, Curve.chain([a, b]))
        else:
            chains.append(_Chain(name, by[name], part, moved))
        joined = True
    if not chains:
        raise _tight(panel, max(by.values()))
    return chains


def _smooth_parts(run: Curve) -> Iterator[Curve]:
    joints = np.flatnonzero(np.abs(breaks(run)) > _SMOOTH).tolist() if len(run) > 1 else []
    for first, last in itertools.pairwise([0, *(j for j in joints if j > 0), len(run)]):
        yield Curve.trusted(run.control[first:last], run.degree[first:last])


def _has_vanished(drawn: Curve, moved: Curve) -> bool:
    """Whether an edge has shrunk to a point, or been turned inside out."""
    before, after = drawn.end - drawn.start, moved.end - moved.start
    if length(drawn, 1e-3) < _VANISHED_MM:
        return float(before @ after) < 0.0
    return float(before @ after) < 0.0 or length(moved, 1e-3) < _VANISHED_MM


def _turn(before: Curve, after: Curve) -> float:
    a, b = ends_at(before, after)
    return abs(math.atan2(float(a[0] * b[1] - a[1] * b[0]), float(a @ b)))


def _mitred(a: Curve, b: Curve, drawn_a: Curve, drawn_b: Curve, by: float) -> tuple[Curve, Curve]:
    """Two moved parts with their ends at the mitre of their common corner."""
    one, two = (np.array([t[1], -t[0]]) for t in ends_at(drawn_a, drawn_b))
    tip = drawn_b.start + by * (one + two) / (1.0 + float(one @ two))
    return _ending_at(a, tip), _ending_at(b.reversed(), tip).reversed()


def _ending_at(curve: Curve, tip: FloatArray) -> Curve:
    """The same curve with its end moved a little, its end tangent kept."""
    control = curve.control.copy()
    step = tip - control[-1, 3]
    control[-1, 2:] += step
    return Curve(of_degree(control, curve.degree), curve.degree)


def _meet(panel: Panel, chains: list[_Chain]) -> None:
    """Cut off or prolong each chain to where it meets the next one."""
    starts = [chain.drawn for chain in chains]
    for k, chain in enumerate(chains):
        following = chains[(k + 1) % len(chains)]
        if math.dist(chain.moved.end, following.moved.start) <= _SAME_MM:
            continue
        a = chain.moved.end_tangents()[-1, 1]
        b = following.moved.end_tangents()[0, 0]
        cross = float(a[0] * b[1] - a[1] * b[0])
        if cross < 0.0 and _cut_off(chain, following):
            continue
        reach = _LONGEST * max(chain.by, following.by)
        apart = following.moved.start - chain.moved.end
        if abs(cross) < _PARALLEL:
            # One edge, two allowances: the step between them.
            chain.moved = Curve.chain([chain.moved, _line(chain.moved.end, following.moved.start)])
            continue
        s = float(apart[0] * b[1] - apart[1] * b[0]) / cross
        tip = chain.moved.end + s * a
        if math.dist(tip, following.moved.start) > reach or abs(s) > reach:
            raise _tight(panel, max(chain.by, following.by), panel.frame.to_sheet(starts[k].end))
        chain.moved = _prolonged(chain.moved, tip, s)
        back = float((following.moved.start - tip) @ b)
        following.moved = _prolonged(following.moved.reversed(), tip, back).reversed()


def _cut_off(chain: _Chain, following: _Chain) -> bool:
    found = crossings(chain.moved, following.moved)
    if len(found) == 0:
        return False
    # The crossing nearest to the corner: last on the chain before it.
    last = int(np.argmax(found.positions))
    start = float(position_at_length(following.moved, [found.along[last]])[0])
    if found.positions[last] <= 0.0 or start >= len(following.moved):
        return False
    point = found.points[last]
    head = chain.moved.piece(0.0, float(found.positions[last]))
    tail = following.moved.piece(start, float(len(following.moved)))
    chain.moved = _ending_at(head, point)
    following.moved = _ending_at(tail.reversed(), point).reversed()
    return True


def _prolonged(curve: Curve, tip: FloatArray, by: float) -> Curve:
    """A curve carried on, or cut back, along its end tangent."""
    if curve.degree[-1] == LINE:
        return _to(curve, tip)
    if by < 0.0:
        return _ending_at(curve, tip)
    return Curve.chain([curve, _line(curve.end, tip)])


def _to(curve: Curve, tip: FloatArray) -> Curve:
    """A curve whose last segment is a line, which ends elsewhere on its own direction."""
    control = curve.control.copy()
    control[-1:] = line_control(control[-1:, 0], tip[None])
    return Curve(control, curve.degree)


def _line(start: FloatArray, end: FloatArray) -> Curve:
    return Curve.polyline([start, end])
