"""One panel divided along lines: its parts are together the panel, with all that is drawn on it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Final

import numpy as np

from ..outline import Curve, FloatArray
from ..outline.bezier import of_degree
from ..outline.crossing import crossings, nearest_position
from ..outline.measure import area_and_centroid, length, position_at_length, segment_lengths
from ..outline.nearness import apart
from ..outline.planar import Areas
from ..pattern.panel import Corners, EdgeName, Level, Mark, Panel, grain_of

_ON_EDGE_MM: Final = 0.1
_SAME_LINE_MM: Final = 0.05
_NEAR_END_MM: Final = 3.0
_LOOKS: Final = 9
_NOTCH_MM: Final = 4.0
_BALANCE: Final = (1.0 / 3.0, 0.25, 0.4, 0.2, 0.15)
"""Where along a seam across its balance marks stand, from the front: off the middle, so that no
part can be turned over (common practice, no source). The first that is clear of darts."""

_CLEAR_MM: Final = 6.0
_SAME_LEVEL_MM: Final = 1.6
"""A level so near the seam is it: the seam's ends are moved by up to 1.5 mm to meet others."""

Rails = tuple[EdgeName, EdgeName]
ACROSS: Final[Rails] = ("front", "back")
ALONG: Final[Rails] = ("bottom", "top")
_WORDS: Final[dict[Rails, tuple[str, str]]] = {
    ACROSS: ("lower", "upper"),
    ALONG: ("front", "back"),
}


def parts_of(panel: Panel, rails: Rails, lines: Sequence[Curve]) -> tuple[Panel, ...]:
    """A panel's parts, from the bottom up or from front to back.

    *rails*: the edges that the lines run between, from the first to the second.
    """
    edges = [panel.edge(edge) for edge in rails]
    ends = ALONG if rails == ACROSS else ACROSS
    cuts = sorted((_snapped(curve, edges) for curve in lines), key=lambda cut: cut[0][0])
    stops = [[0.0, 0.0], *(at for at, _ in cuts), [float(len(edge)) for edge in edges]]
    across = [panel.edge(ends[0]), *(curve for _, curve in cuts), panel.edge(ends[1])]
    count = len(cuts) + 1
    parts = []
    for k, (low, high) in enumerate(pairwise(stops)):
        own: dict[EdgeName, Curve] = {
            rail: edge.piece(a, b) for rail, edge, a, b in zip(rails, edges, low, high, strict=True)
        }
        own |= {ends[0]: across[k], ends[1]: across[k + 1]}
        outline, corners = Corners.between(own["front"], own["top"], own["back"], own["bottom"])
        inner = [end for end, more in zip(ends, (k, count - 1 - k), strict=True) if more]
        part = Panel(
            f"{panel.name}, {_word(k, count, rails)}",
            panel.ident,
            outline,
            panel.frame,
            corners,
            None,
            made_of=panel.made_of or (panel.name,),
            tips=tuple(tip for tip in panel.tips if rails == ALONG and tip.edge not in inner),
            parted=frozenset(inner),
        )
        parts.append(part)
    drawn = _PartedDrawing(panel, parts, across[1:-1])
    return tuple(drawn.on(k) for k in range(count))


def _snapped(curve: Curve, edges: Sequence[Curve]) -> tuple[list[float], Curve]:
    """Where a line ends on two edges, and the line with its ends just there."""
    ends = zip(edges, (curve.start, curve.end), strict=True)
    at = [nearest_position(edge, end)[0] for edge, end in ends]
    start, end = (edge.points([s])[0] for edge, s in zip(edges, at, strict=True))
    return at, moved_ends(curve, start, end)


def moved_ends(curve: Curve, start: FloatArray, end: FloatArray) -> Curve:
    """A line with its ends moved, and all of it along by its share of the way between them."""
    run = np.concatenate([[0.0], np.cumsum(segment_lengths(curve))]) / length(curve)
    share = run[:-1, None] + np.diff(run)[:, None] * np.array([0.0, 1.0, 2.0, 3.0]) / 3.0
    steps = start - curve.start, end - curve.end
    control = curve.control + (1.0 - share[..., None]) * steps[0] + share[..., None] * steps[1]
    control[0, 0], control[-1, 3] = start, end
    return Curve(of_degree(control, curve.degree), curve.degree)


def _word(place: int, count: int, rails: Rails) -> str:
    """Which part of a panel one is."""
    first, last = _WORDS[rails]
    words = [first, *["middle"] * (count == 3), last]
    return f"{words[place]} part" if count < 4 else f"part {place + 1} of {count}"


@dataclass(frozen=True, eq=False)
class _PartedDrawing:
    """All that is drawn on a panel, and its parts, which the lines lie between."""

    panel: Panel
    parts: Sequence[Panel]
    lines: Sequence[Curve]

    def on(self, k: int) -> Panel:
        """A part with what lies on it."""
        part, frame = self.parts[k], self.panel.frame
        levels, marks = self._levels(k)
        waist = next((own for own, old in levels if old is self.panel.waist), None)
        if "front" in part.parted or "back" in part.parted:
            assert waist is not None  # every line from the bottom to the top crosses the waist
            u = frame.to_panel([waist.curve.start, waist.curve.end])[:, 0].mean()
            frame = replace(frame, origin=frame.to_sheet(np.array([u, 0.0])))
        marks += [
            replace(mark, curve=piece)
            for mark in self.panel.marks
            if mark.kind not in ("grainline", "split") and not self._shows_end(mark)
            for piece in self._pieces(mark.curve, k)
        ]
        return replace(
            part,
            frame=frame,
            waist=waist,
            levels=tuple(own for own, _ in levels if own is not waist),
            marks=(*marks, *self._balance(k), *self._grain(part)),
            texts=tuple(text for text in self.panel.texts if self._home(text.anchor) == k),
        )

    def _home(self, point: FloatArray) -> int:
        """The part that a point lies on, or comes nearest to."""
        areas = Areas([part.outline for part in self.parts])
        count = len(self.parts)
        return int(np.argmin(areas.distances(range(count), [point] * count)))

    def _shows_end(self, mark: Mark) -> bool:
        """Whether a notch stands where a line ends: there the parts have their corners."""
        if mark.kind != "notch":
            return False
        ends = np.array([end for one in self.lines for end in (one.start, one.end)])
        return bool(apart(ends, mark.curve)[0].min() <= _NEAR_END_MM)

    def _pieces(self, curve: Curve, k: int) -> list[Curve]:
        """What of a curve lies on a part.

        Where it runs along a line it crosses that again and again, by rounding: it stays on the
        part that it comes from, or goes on to.
        """
        at = np.unique(np.concatenate([crossings(curve, one).positions for one in self.lines]))
        if not len(at):
            return [curve] if self._owner(curve) == k else []
        bounds = [*at, at[0]] if curve.closed else np.unique([0.0, *at, float(len(curve))])
        found = [(a, b, curve.piece(a, b)) for a, b in pairwise(bounds)]
        found = [one for one in found if length(one[2]) > _SAME_LINE_MM]
        clear = [n for n, (_, _, one) in enumerate(found) if not self._along(one)]
        if not clear:
            return [curve] if self._owner(curve) == k else []
        if curve.closed:
            found = found[clear[0] :] + found[: clear[0]]
            clear = [n - clear[0] for n in clear]
        owner = self._owner(found[clear[0]][2])
        runs: list[tuple[int, float, float]] = []
        for n, (a, b, one) in enumerate(found):
            owner = self._owner(one) if n in clear else owner
            goes_on = bool(runs) and runs[-1][0] == owner
            runs.append((owner, runs.pop()[1] if goes_on else a, b))
        if curve.closed and len(runs) == 1:
            return [curve] if runs[0][0] == k else []
        if curve.closed and runs[0][0] == runs[-1][0]:
            runs = [(runs[0][0], runs[-1][1], runs[0][2]), *runs[1:-1]]
        return [curve.piece(a, b) for owner, a, b in runs if owner == k]

    def _owner(self, curve: Curve) -> int:
        """The part that a piece lies on, by its middle; by what is clear of the lines, if not."""
        middle = curve.points([0.5 * len(curve)])
        points = np.concatenate([middle, curve.points(np.linspace(0.0, len(curve), _LOOKS))])
        away = np.min([apart(points, one)[0] for one in self.lines], axis=0)
        return self._home(points[0 if away[0] > _ON_EDGE_MM else int(np.argmax(away))])

    def _along(self, curve: Curve) -> bool:
        """Whether it runs along one of the lines, as far as that goes."""
        points = curve.points(np.linspace(0.0, len(curve), _LOOKS))
        for one in self.lines:
            away, place = apart(points, one)
            beside = (place > _SAME_LINE_MM) & (place < length(one) - _SAME_LINE_MM)
            if beside.any() and float(away[beside].max()) <= _ON_EDGE_MM:
                return True
        return False

    def _levels(self, k: int) -> tuple[list[tuple[Level, Level]], list[Mark]]:
        """Levels that run right across a part, each with the panel's own; and bits of others."""
        whole, bits = [], list[Mark]()
        part, frame = self.parts[k], self.panel.frame
        for level in self.panel.level_lines:
            points = level.curve.flatten()
            if any(apart(points, one)[0].max() < _SAME_LEVEL_MM for one in self.lines):
                continue  # It is the seam.
            for piece in self._pieces(level.curve, k):
                ends = piece.start, piece.end
                on = [
                    nearest_position(part.edge(edge), at)[1] < _ON_EDGE_MM
                    for edge, at in zip(ACROSS, ends, strict=True)
                ]
                if all(on):
                    height = float(frame.to_panel(ends)[:, 1].mean()) + 0.0
                    whole.append((replace(level, curve=piece, height=height), level))
                    continue
                bits.append(Mark("level", piece, level.ident))
                if level is self.panel.waist:
                    way = piece.end - piece.start
                    bits += [
                        _notch(at, sense * way)
                        for at, sense, there in zip(ends, (1.0, -1.0), on, strict=True)
                        if there
                    ]
        return whole, bits

    def _balance(self, k: int) -> list[Mark]:
        """A notch on each of its new edges that run across: one part of two has the same."""
        found = []
        for edge, place, sense in (("bottom", k - 1, 1.0), ("top", k, -1.0)):
            if edge in self.parts[k].parted:
                line = self.lines[place]
                at = position_at_length(line, [self._clear_share(line) * length(line)])
                x, y = line.derivatives(at)[0]
                up = np.array([-y, x])
                sense = sense if up @ self.panel.frame.up > 0.0 else -sense
                found.append(_notch(line.points(at)[0], sense * up))
        return found

    def _clear_share(self, line: Curve) -> float:
        """Where a balance mark stands on a line, clear of the mouths of darts."""
        mouths = []
        for mark in self.panel.marks:
            at = crossings(line, mark.curve).positions if mark.kind == "dart" else np.zeros(0)
            if len(at):
                mouths.append([length(line.piece(0.0, end)) for end in (at.min(), at.max())])
        whole = length(line)
        clear = (
            share
            for share in _BALANCE
            if all(not a - _CLEAR_MM < share * whole < b + _CLEAR_MM for a, b in mouths)
        )
        return next(clear, _BALANCE[0])

    def _grain(self, part: Panel) -> list[Mark]:
        """A grainline of the direction that is drawn on the panel, if one is."""
        drawn = grain_of(self.panel)
        if drawn is None:
            return []
        _, middle = area_and_centroid(part.outline)
        way = drawn[0][1] - drawn[0][0]
        reach = float(np.ptp(part.outline.bounds(), axis=0).sum()) / np.hypot(*way) * way
        met = crossings(part.outline, Curve.polyline([middle - reach, middle + reach]))
        low, high = max(
            zip(met.points[::2], met.points[1::2], strict=False),
            key=lambda ends: float(np.hypot(*(ends[1] - ends[0]))),
        )
        quarter = 0.25 * (high - low)
        return [Mark("grainline", Curve.polyline([low + quarter, high - quarter]))]


def _notch(at: FloatArray, way: FloatArray) -> Mark:
    """A short line from an edge into the part."""
    return Mark("notch", Curve.polyline([at, at + _NOTCH_MM * way / np.hypot(*way)]))
