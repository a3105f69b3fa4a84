"""Outlines: closed shapes, and open pieces joined end to end."""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Final

import numpy as np

from ..errors import PatternError
from ..outline import Curve
from ..outline.bezier import of_degree
from ..outline.measure import length, turning
from ..outline.nearness import linked, near_pairs
from ..outline.planar import area, inner_pieces
from ..pattern.drawing import Shape
from .draft import Candidate, Draft, OpenChain
from .tidy import without_stray_pieces

EXACT_MM: Final = 0.01
"""Ends nearer than this meet as drawn, but for the digits that a program writes."""

MOST_MEETINGS: Final = 1_000_000
"""Pairs of ends within the tolerance at most: 1,400 ends in one point."""

MOST_TANGLED: Final = 500
"""Pieces that hang together at most, for those inside to be told from those of the outline."""

_STRAIGHT_ON: Final = np.cos(np.radians(25.0))
"""Where two lines of one name meet they are one if they turn by less."""

_LINES: Final = frozenset({"waist", "level", "bone"})

_NEARLY_ROUND: Final = np.radians(200.0)
_LARGEST_GAP_SHARE: Final = 0.25


def join(draft: Draft) -> Draft:
    """Make outlines of closed shapes, and of open pieces end to end.

    Raises `PatternError` if thousands of ends lie in one place.
    """
    closed, pieces, rest = [], [], []
    for shape in _lines_whole(draft).shapes:
        if not draft.may_be_outline(shape):
            rest.append(shape)
        elif shape.curve.closed:
            closed.append(Candidate(shape.curve, (shape,)))
        else:
            pieces.append(shape)
    joining = join_pieces(tuple(pieces), draft.reading.join_tolerance)
    found = [*closed, *joining.outlines]
    rest += joining.rest
    # Not before: the short piece at an outline's joint is a part of it.
    curves = without_stray_pieces([*(f.outline for f in found), *(s.curve for s in rest)])
    return replace(
        draft,
        outlines=tuple(replace(f, outline=c) for f, c in zip(found, curves, strict=False)),
        open_chains=joining.gaps,
        tangles=joining.tangles,
        shapes=tuple(
            s if s.curve is c else replace(s, curve=c)
            for s, c in zip(rest, curves[len(found) :], strict=True)
        ),
    )


def _lines_whole(draft: Draft) -> Draft:
    """The same with waistlines, levels and lines of bones whole that were drawn in several pieces.

    Those of bones may be closed as well, and what is called after a level, such as a bust gore.
    Where more than two ends meet, or the way turns, lines stay as they are: what they mean is told
    where bones are looked for.
    """
    tolerance = draft.reading.join_tolerance
    families: dict[tuple[object, ...], list[Shape]] = {}
    for shape in draft.shapes:
        if not shape.curve.closed and draft.kind(shape) in _LINES:
            families.setdefault((draft.role(shape), shape.groups), []).append(shape)
    bones = [s for lines in families.values() for s in lines if draft.kind(s) == "bone"]
    whole: dict[str, Shape] = {}
    gone: set[str] = set()
    # By themselves first: channels side by side touch each other.
    for members in [*([bone] for bone in bones), *families.values()]:
        kind = draft.kind(members[0])
        for found in _runs(tuple(s for s in members if s.ident not in gone), tolerance):
            closed = found.outline.closed
            if closed and kind == "waist":
                continue
            whole[found.ident] = replace(found.shapes[0], curve=found.outline)
            idents = [shape.ident for shape in found.shapes]
            gone.update(idents)
            if len(idents) > 1:
                of_bone = ("a line of a channel", "the outline of a channel")
                what = (of_bone if kind == "bone" else (f"a {kind} line", "an outline"))[closed]
                words = f"{found.ident}: {what} joined from {len(idents)} pieces"
                draft.ledger.note("joined", words, *idents)
    shapes = (
        whole.get(s.ident, s) for s in draft.shapes if s.ident in whole or s.ident not in gone
    )
    return replace(draft, shapes=tuple(shapes)) if whole else draft


def _runs(shapes: tuple[Shape, ...], tolerance: float) -> list[Candidate]:
    """Lines that go round something, and lines that go straight on where two of them meet."""
    nodes = _end_nodes(shapes, tolerance)
    found = []
    for component in _components(set(range(len(shapes))), nodes):
        degrees = list(_degrees(component, nodes).values())
        members = sorted(component)
        if max(degrees) > 2 or any(_is_point(shapes[i], nodes[i], tolerance) for i in members):
            continue
        if min(degrees) == 2:
            ring = _chain(shapes, members, nodes)
            # A line there and back goes round nothing.
            if area(ring.outline) > tolerance * length(ring.outline):
                found.append(ring)
        elif len(members) > 1:
            order, curves = _walk_from_end(shapes, members, nodes)
            joints = [
                (a.end_tangents()[-1, 1], b.end_tangents()[0, 0]) for a, b in pairwise(curves)
            ]
            if all(float(one @ two) >= _STRAIGHT_ON for one, two in joints):
                found.append(Candidate(Curve.chain(curves), tuple(shapes[i] for i in order)))
    return found


@dataclass(frozen=True)
class Joining:
    """Outcome of joining: outlines, near misses, and shapes left as they were.

    `tangles` are pieces that close, but of which more than two meet in a point, so that they
    could be joined in more than one way.
    """

    outlines: tuple[Candidate, ...]
    gaps: tuple[OpenChain, ...]
    tangles: tuple[tuple[Shape, ...], ...]
    rest: tuple[Shape, ...]


def join_pieces(shapes: tuple[Shape, ...], tolerance: float) -> Joining:
    """Close open shapes, alone or end to end with others.

    *shapes*: open curves that may be pieces of outlines. *tolerance*: largest distance in mm
    between ends that are to meet.

    Notes
    -----
    Pieces in one group are joined with each other first, so that panels whose corners touch
    are not taken for one; and those that meet exactly first, so that a short piece of an
    outline takes its own place. Pieces that hang loose at one end are never part of an outline,
    nor are those too short to be told from a point. Where more than two ends meet, as where an
    unnamed line across a panel touches it at a joint, the pieces inside the area that all
    enclose together are set aside.
    """
    groups = {shape.groups for shape in shapes}
    whole: list[Candidate] = []
    left = shapes
    for by_group in (True, False) if len(groups) > 1 else (False,):
        for reach in (min(EXACT_MM, tolerance), tolerance):
            joining = _join_sorted(left, reach, by_group=by_group)
            whole += joining.outlines
            left = joining.rest
    return replace(joining, outlines=tuple(whole))


def _join_sorted(shapes: tuple[Shape, ...], tolerance: float, *, by_group: bool) -> Joining:
    if not by_group:
        return _join(shapes, tolerance)
    groups: dict[tuple[str, ...], list[Shape]] = {}
    for shape in shapes:
        groups.setdefault(shape.groups, []).append(shape)
    found = [_join(tuple(members), tolerance) for members in groups.values()]
    left = {shape.ident for joined in found for shape in joined.rest}
    return Joining(
        tuple(outline for joined in found for outline in joined.outlines),
        (),
        (),
        tuple(shape for shape in shapes if shape.ident in left),
    )


def _join(shapes: tuple[Shape, ...], tolerance: float) -> Joining:
    nodes = _end_nodes(shapes, tolerance)
    active = {i for i, shape in enumerate(shapes) if not _is_point(shape, nodes[i], tolerance)}
    _prune(active, nodes)
    for component in _components(active, nodes):
        if len(component) <= MOST_TANGLED and max(_degrees(component, nodes).values()) > 2:
            members = sorted(component)
            inside = inner_pieces([shapes[i].curve for i in members])
            active -= {i for i, inner in zip(members, inside, strict=True) if inner}
    _prune(active, nodes)
    outlines, tangles, used = [], [], set()
    for component in _components(active, nodes):
        if max(_degrees(component, nodes).values()) == 2:
            outlines.append(_chain(shapes, sorted(component), nodes))
            used |= component
        else:
            tangles.append(tuple(shapes[i] for i in sorted(component)))
    loose = [i for i in range(len(shapes)) if i not in used]
    gaps = tuple(_gaps(shapes, loose, nodes))
    return Joining(tuple(outlines), gaps, tuple(tangles), tuple(shapes[i] for i in loose))


def _end_nodes(shapes: tuple[Shape, ...], tolerance: float) -> list[tuple[int, int]]:
    """Number the meeting points: a pair of node numbers (start, end) for each shape."""
    if not shapes:
        return []
    ends = np.array([point for shape in shapes for point in (shape.curve.start, shape.curve.end)])
    pairs = near_pairs(ends, tolerance, MOST_MEETINGS)
    if len(pairs) > MOST_MEETINGS:
        raise PatternError(
            f"thousands of line ends lie within {tolerance:g} mm of each other, so that lines "
            "cannot be joined",
            remedy="Delete the hatching or other small pieces there, or lower join_tolerance.",
            element=shapes[0].ident,
        )
    apart = ends[pairs[:, 0]] - ends[pairs[:, 1]]
    label = linked(len(ends), pairs[np.hypot(apart[:, 0], apart[:, 1]) <= tolerance])
    return [(int(label[2 * i]), int(label[2 * i + 1])) for i in range(len(shapes))]


def _is_point(shape: Shape, nodes: tuple[int, int], tolerance: float) -> bool:
    """Whether a piece begins and ends in one point and goes nowhere in between."""
    low, high = shape.curve.hull_box
    return nodes[0] == nodes[1] and float((high - low).max()) <= 2.0 * tolerance


def _degrees(members: set[int], nodes: list[tuple[int, int]]) -> dict[int, int]:
    count: dict[int, int] = {}
    for i in members:
        for node in nodes[i]:
            count[node] = count.get(node, 0) + 1
    return count


def _prune(active: set[int], nodes: list[tuple[int, int]]) -> None:
    """Take away pieces with a loose end until none is left."""
    at: dict[int, set[int]] = {}
    for i in active:
        for node in nodes[i]:
            at.setdefault(node, set()).add(i)
    degree = _degrees(active, nodes)
    waiting = [node for node, count in degree.items() if count < 2]
    while waiting:
        for i in at[waiting.pop()] & active:
            active.remove(i)
            for node in nodes[i]:
                degree[node] -= 1
                if degree[node] == 1:
                    waiting.append(node)


def _components(members: set[int], nodes: list[tuple[int, int]]) -> list[set[int]]:
    by_node: dict[int, list[int]] = {}
    for i in members:
        for node in nodes[i]:
            by_node.setdefault(node, []).append(i)
    found, seen = [], set[int]()
    for seed in sorted(members):
        if seed in seen:
            continue
        component, queue = set[int](), [seed]
        while queue:
            i = queue.pop()
            if i not in component:
                component.add(i)
                queue += [j for node in nodes[i] for j in by_node[node] if j not in component]
        seen |= component
        found.append(component)
    return found


def _walk(
    shapes: tuple[Shape, ...], order: list[int], nodes: list[tuple[int, int]], backwards: bool
) -> tuple[list[int], list[Curve]]:
    """Follow pieces head to tail from the first of `order`, turning them where needed."""
    first, left = order[0], set(order[1:])
    at: dict[int, list[int]] = {}
    for i in order:
        for node in nodes[i]:
            at.setdefault(node, []).append(i)
    node = nodes[first][0 if backwards else 1]
    curve = shapes[first].curve
    found, curves = [first], [curve.reversed() if backwards else curve]
    while left:
        nxt = min(i for i in at[node] if i in left)
        left.remove(nxt)
        forward = nodes[nxt][0] == node
        found.append(nxt)
        curves.append(shapes[nxt].curve if forward else shapes[nxt].curve.reversed())
        node = nodes[nxt][1 if forward else 0]
    return found, curves


def _walk_from_end(
    shapes: tuple[Shape, ...], members: list[int], nodes: list[tuple[int, int]]
) -> tuple[list[int], list[Curve]]:
    """Follow an open chain from the first of its pieces that has a loose end."""
    ends = {node for node, count in _degrees(set(members), nodes).items() if count == 1}
    start = min(i for i in members if ends & set(nodes[i]))
    backwards = nodes[start][0] not in ends
    return _walk(shapes, [start, *(i for i in members if i != start)], nodes, backwards)


def _chain(
    shapes: tuple[Shape, ...], members: list[int], nodes: list[tuple[int, int]]
) -> Candidate:
    order, curves = _walk(shapes, members, nodes, backwards=False)
    following = curves[1:] + curves[:1]
    gap = max(float(np.hypot(*(b.start - a.end))) for a, b in zip(curves, following, strict=True))
    parts = [shapes[i] for i in order]
    closed = _closed_up(curves)
    if len(curves) > 1:
        # Begun at its first corner and walked one way, whatever the order of the pieces was.
        if _signed_area(closed) < 0.0:
            closed = [curve.reversed() for curve in closed[::-1]]
            parts = parts[::-1]
        begin = min(range(len(closed)), key=lambda k: tuple(closed[k].start.tolist()))
        closed = closed[begin:] + closed[:begin]
        parts = parts[begin:] + parts[:begin]
    return Candidate(Curve.chain(closed, closed=True), tuple(parts), gap)


def _closed_up(curves: list[Curve]) -> list[Curve]:
    """Pieces of a ring with both ends of every gap moved to its middle, their handles with them."""
    middles = [
        0.5 * (one.end + two.start)
        for one, two in zip(curves, curves[1:] + curves[:1], strict=True)
    ]
    moved = []
    for curve, first, last in zip(curves, middles[-1:] + middles[:-1], middles, strict=True):
        control = curve.control.copy()
        control[0, 1] += first - control[0, 0]
        control[-1, 2] += last - control[-1, 3]
        control[0, 0], control[-1, 3] = first, last
        moved.append(Curve(of_degree(control, curve.degree), curve.degree))
    return moved


def _signed_area(curves: list[Curve]) -> float:
    x, y = np.concatenate([curve.flatten()[:-1] for curve in curves]).T
    return float((x * np.roll(y, -1) - np.roll(x, -1) * y).sum())


def _gaps(
    shapes: tuple[Shape, ...], loose: list[int], nodes: list[tuple[int, int]]
) -> list[OpenChain]:
    """Open chains that turn most of the way round: outlines that someone forgot to close."""
    found = []
    for component in _components(set(loose), nodes):
        degree = _degrees(component, nodes)
        ends = {node for node, count in degree.items() if count == 1}
        if len(ends) != 2 or max(degree.values()) > 2:
            continue
        order, curves = _walk_from_end(shapes, sorted(component), nodes)
        curve = Curve.chain(curves)
        size = float(np.hypot(*(curve.end - curve.start)))
        if abs(turning(curve)) >= _NEARLY_ROUND and size < _LARGEST_GAP_SHARE * length(curve):
            x, y = curve.end.tolist()
            found.append(OpenChain(tuple(shapes[i] for i in order), (x, y), size, curve))
    return found
