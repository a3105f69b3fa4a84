"""Where the lines of tiled pages meet: the edges of what is seen, and the step from page to page.

All pages of a tiled drawing show parts of one size, so one step across and one step down serve for
all of them. Candidates for a step come from three places: the ends meet edge to edge; the same
piece of a line is seen on two pages; sloping straight lines go on in one another. The step under
which most ends of lines meet is taken.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Final, NamedTuple

import numpy as np

from ...errors import PdfError
from ...outline import Curve, FloatArray
from ...outline.crossing import all_crossings
from ...outline.nearness import near_pairs
from .visible import Visible, open_ends

MEETS_MM: Final = 0.15
"""Ends of lines on two pages that lie nearer than this are one point: a hairline's width."""

MOST_UNMET: Final = 0.1
"""Part of the ends on one edge that may find no other."""

_LEAST_MET: Final = 2
"""One end may meet another by chance."""

ALONG: Final = (0, 1)
_EDGE_MM: Final = 0.3
_CUT_MM: Final = 0.02
"""How near to an edge the ends of lines lie that were cut there: in the file, or by a clip."""

_BIN_MM: Final = 0.1
_STEPS_TRIED: Final = 6
_LEAST_STEP: Final = 0.2
"""A page shows at least this part of its width that the one before it does not."""

_MOST_ALIKE: Final = 8
_MOST_ENDS: Final = 20_000


@dataclass(frozen=True, eq=False)
class _EdgeEnds:
    """Where lines meet an upright or a level line on the pages: *page*, *at* along it in mm."""

    page: np.ndarray[tuple[int], np.dtype[np.int64]]
    at: FloatArray


@dataclass(frozen=True)
class PageSeam:
    """Two pages that lie side by side: how many of their ends meet."""

    axis: int
    before: int
    after: int
    met: int
    ends: int

    @property
    def holds(self) -> bool:
        """Whether enough of its ends meet."""
        return self.met >= _LEAST_MET and self.met >= (1.0 - MOST_UNMET) * self.ends


class PageEdge(NamedTuple):
    """Low and high edge along an axis of what every page shows, and how near to it lines end."""

    low: float
    high: float
    slack: float


def edges_of(pieces: Sequence[Visible]) -> list[PageEdge]:
    """Low and high edge of what every page shows, across and down.

    They are those of the clip that cuts most lines. If none is cut by a clip, lines end there: the
    outermost places where several do.
    """
    clips = Counter(
        tuple(np.round(piece.shape.clip, 6).ravel().tolist())
        for piece in pieces
        if not piece.is_whole and piece.shape.clip is not None
    )
    if clips:
        (x0, y0, x1, y1), _ = clips.most_common(1)[0]
        return [PageEdge(x0, x1, _CUT_MM), PageEdge(y0, y1, _CUT_MM)]
    points, _, _ = open_ends(pieces)
    if len(points) == 0:
        raise unmet("no line runs over the edge of a page")
    sides = [(-_outermost(-points[:, axis]), _outermost(points[:, axis])) for axis in ALONG]
    return [PageEdge(low, high, _EDGE_MM) for low, high in sides]


def _outermost(values: FloatArray) -> float:
    """The largest value at which several ends lie."""
    bins = Counter(np.round(values[values >= np.median(values)] / _BIN_MM).astype(int).tolist())
    enough = max(2.0, 0.3 * max(bins.values()))
    most = max((k for k, count in bins.items() if count >= enough), default=max(bins))
    return float(np.median(values[np.abs(values - most * _BIN_MM) <= _BIN_MM]))


# -- steps from page to page -----------------------------------------------------------------


def best_step(
    pieces: Sequence[Visible], edges: PageEdge, axis: int, pages: int
) -> tuple[float, list[PageSeam]]:
    """The step along an axis under which most ends meet, and the seams that there are then."""
    low, high = edges.low, edges.high
    votes = Counter({round((high - low) / _BIN_MM): 1})
    votes.update(_same_pieces(pieces, axis))
    votes.update(_straight_on(pieces, edges, axis))
    least = _LEAST_STEP * (high - low) / _BIN_MM
    tried = [k for k, _ in votes.most_common() if least <= k <= (high - low) / _BIN_MM + 1]
    best: tuple[int, float, list[PageSeam]] = (0, high - low, [])
    for k in [round((high - low) / _BIN_MM), *tried[:_STEPS_TRIED]]:
        step = _refined(k * _BIN_MM, pieces, edges, axis)
        seams = _seams(pieces, edges, axis, step)
        met = _met_at_most(seams, pages)
        if met > best[0]:
            best = met, step, seams
    return best[1], best[2]


def _met_at_most(seams: Iterable[PageSeam], pages: int) -> int:
    """Ends that meet, each page with one neighbour after it and one before."""
    best = np.zeros((2, pages), dtype=np.int64)
    for seam in seams:
        if seam.holds:
            best[0, seam.before] = max(best[0, seam.before], seam.met)
            best[1, seam.after] = max(best[1, seam.after], seam.met)
    return int(best.sum(axis=1).min())


def _refined(step: float, pieces: Sequence[Visible], edges: PageEdge, axis: int) -> float:
    """A step to the last digits, from pieces that are seen twice; edge to edge it is known."""
    if abs(step - (edges.high - edges.low)) <= _BIN_MM:
        return edges.high - edges.low
    exact = [d for d in _shifts(pieces, axis) if abs(d - step) <= _BIN_MM]
    return float(np.median(exact)) if exact else step


def _shifts(pieces: Sequence[Visible], axis: int) -> list[float]:
    """By how much segments that two pages show alike lie apart along an axis, and not across."""
    groups: dict[tuple[int, ...], list[tuple[int, FloatArray]]] = defaultdict(list)
    # Of a line that a clip cuts, its pages hold the whole.
    for piece in {(piece.page, piece.shape.ident): piece for piece in pieces}.values():
        for segment in piece.shape.curve.control:
            key = np.round((segment[1:] - segment[0]) / 0.02).astype(int)
            groups[tuple(key.ravel().tolist())].append((piece.page, segment[0]))
    found = []
    for group in groups.values():
        if not 2 <= len(group) <= _MOST_ALIKE:
            continue
        for k, (page, point) in enumerate(group):
            for other, second in group[k + 1 :]:
                apart = point - second
                if page != other and abs(apart[1 - axis]) <= MEETS_MM:
                    found.append(abs(float(apart[axis])))
    return found


def _same_pieces(pieces: Sequence[Visible], axis: int) -> Counter[int]:
    return Counter(round(shift / _BIN_MM) for shift in _shifts(pieces, axis))


def _straight_on(pieces: Sequence[Visible], edges: PageEdge, axis: int) -> Counter[int]:
    """Steps under which a straight line that slopes goes on in one on another page."""
    points, ways, page = open_ends(pieces)
    slopes = np.abs(ways[:, 1 - axis]) > 0.05
    late = np.flatnonzero(slopes & (np.abs(points[:, axis] - edges.high) <= edges.slack))[:500]
    early = np.flatnonzero(slopes & (np.abs(points[:, axis] - edges.low) <= edges.slack))[:500]
    votes: Counter[int] = Counter()
    for k in late:
        way = ways[k]
        alike = np.abs(way[0] * ways[early, 1] - way[1] * ways[early, 0]) < 1e-3
        for j in early[alike & (page[early] != page[k])]:
            apart = points[k] - points[j]
            step = apart[axis] - apart[1 - axis] * way[axis] / way[1 - axis]
            votes[round(step / _BIN_MM)] += 1
    return votes


def _seams(pieces: Sequence[Visible], edges: PageEdge, axis: int, step: float) -> list[PageSeam]:
    """Pairs of pages whose ends meet under a step."""
    loose = edges.slack + _EDGE_MM
    count: dict[tuple[int, int], int] = defaultdict(int)
    ends: list[Counter[int]] = []
    for at, other, turned in (
        (edges.high, edges.high - step, False),
        (edges.high - step, edges.high, True),
    ):
        # A line may run over the edge by so little that it is an end on one of the pages alone.
        own = across(pieces, at, axis, edges.slack)
        ends.append(Counter(own.page.tolist()))
        for one, two in _met(own, across(pieces, other, axis, loose)):
            count[(two, one) if turned else (one, two)] += 1
    return [
        PageSeam(axis, before, after, met, ends[0][before] + ends[1][after])
        for (before, after), met in count.items()
    ]


def _met(own: _EdgeEnds, other: _EdgeEnds) -> Iterator[tuple[int, int]]:
    """Pages of each end and of those that meet it, each page once for an end."""
    if not len(own.at) or not len(other.at):
        return
    spots = np.concatenate([own.at, other.at])
    split = len(own.at)
    found = set()
    for i, j in near_pairs(np.column_stack([spots, np.zeros_like(spots)]), MEETS_MM, 5_000_000):
        first, second = sorted((int(i), int(j)))
        if first < split <= second and own.page[first] != other.page[second - split]:
            found.add((first, int(other.page[second - split])))
    for first, page in sorted(found):
        yield int(own.page[first]), page


def across(pieces: Sequence[Visible], at: float, axis: int, slack: float) -> _EdgeEnds:
    """Where lines end at, or cross, the line on which one coordinate has a value."""
    boxes = np.array([piece.curve.hull_box for piece in pieces]).reshape(-1, 2, 2)
    low, high = boxes[:, 0, axis], boxes[:, 1, axis]
    near = np.flatnonzero((low - slack <= at) & (at <= high + slack)).tolist()
    through = [k for k in near if low[k] + slack < at < high[k] - slack]
    pairs = []
    for k in through:
        span = np.array([[at, at], [boxes[k, 0, 1 - axis] - 1.0, boxes[k, 1, 1 - axis] + 1.0]])
        pairs.append((pieces[k].curve, Curve.polyline(span.T if axis == 0 else span.T[:, ::-1])))
    crossed = dict(zip(through, all_crossings(pairs), strict=True))
    page, along = [], []
    for k in near:
        curve = pieces[k].curve
        values = []
        if not curve.closed:
            ends = (curve.start, curve.end)
            values += [float(p[1 - axis]) for p in ends if abs(p[axis] - at) <= slack]
        if k in crossed:
            values += crossed[k].points[:, 1 - axis].tolist()
        found: list[float] = []
        for value in sorted(values):
            # A scrap whose ends both lie on the edge is one end.
            if not found or value - found[-1] > MEETS_MM:
                found.append(value)
        page += [pieces[k].page] * len(found)
        along += found
    if len(page) > _MOST_ENDS:
        raise unmet("too many lines end at the edges of its pages")
    return _EdgeEnds(np.array(page, dtype=np.int64), np.array(along, dtype=np.float64))


def unmet(why: str) -> PdfError:
    """Why pages cannot be joined."""
    return PdfError(
        f"its pages do not make up one drawing: {why}",
        remedy="If one page holds the whole pattern, name it: page = 2 under [pattern], or "
        "--page 2. Else save the pattern on one large page, or with all of its pages.",
        key="page",
    )
