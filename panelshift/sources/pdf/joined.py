"""Tiled pages put together again by the ends of the lines that run over their edges.

All pages of a tiled drawing show parts of one size, so one step across and one step down serve for
all of them. Candidates for a step come from three places: the ends meet edge to edge; the same
piece of a line is seen on two pages; sloping straight lines go on in one another. The step under
which most ends of lines meet is taken, and every pair of neighbours is then checked by itself.
"""

from __future__ import annotations

from collections import Counter, defaultdict, deque
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Final, NamedTuple

import numpy as np

from ...errors import PdfError
from ...outline import Curve, FloatArray
from ...outline.crossing import crossings
from ...outline.nearness import near_pairs
from ...pattern.drawing import Drawing, LeftOut, Shape, Text
from .reading import PdfPage

MEETS_MM: Final = 0.15
"""Ends of lines on two pages that lie nearer than this are one point: a hairline's width."""

MOST_UNMET: Final = 0.1
"""Part of the ends on one edge that may find no other."""

_PAGE_MARKS: Final = "page marks"
"""The layer in which our own prints keep what is not the drawing's."""

LEAST_PANEL_MM: Final = 150.0
"""An outline this tall may be a panel."""

_ALONG: Final = (0, 1)
_EDGE_MM: Final = 0.3
_CUT_MM: Final = 0.02
"""How near to an edge the ends of lines lie that were cut there: in the file, or by a clip."""

_BIN_MM: Final = 0.1
_SAME_MM: Final = 0.05
_STEPS_TRIED: Final = 6
_LEAST_STEP: Final = 0.2
"""A page shows at least this part of its width that the one before it does not."""

_MOST_ALIKE: Final = 8
_APART_MM: Final = 50.0
_MOST_ENDS: Final = 20_000
_TEXT_MM: Final = 1.0


@dataclass(frozen=True, eq=False)
class _Piece:
    """A visible part of a shape on a page."""

    page: int
    curve: Curve
    shape: Shape

    @property
    def is_whole(self) -> bool:
        return self.curve is self.shape.curve


@dataclass(frozen=True, eq=False)
class _Ends:
    """Where lines meet an upright or a level line on the pages: *page*, *at* along it in mm."""

    page: np.ndarray[tuple[int], np.dtype[np.int64]]
    at: FloatArray


@dataclass(frozen=True)
class _Seam:
    """Two pages that lie side by side: how many of their ends meet."""

    axis: int
    before: int
    after: int
    met: int
    ends: int

    @property
    def holds(self) -> bool:
        # Of a few ends one may be a mark of the page's own; the whole is judged by itself.
        return self.met >= 2 and self.met >= min((1.0 - MOST_UNMET) * self.ends, self.ends - 1)


def join_pages(pages: Sequence[PdfPage]) -> Drawing:
    """One drawing of pages that are parts of it.

    Raises `PdfError` if fewer than nine in ten ends of lines meet, naming the pages.
    """
    pieces = [
        piece
        for k, page in enumerate(pages)
        for piece in _visible(k, page.drawing)
        if _PAGE_MARKS not in piece.shape.groups
    ]
    marks = _repeated(pieces, len(pages))
    pieces = [piece for k, piece in enumerate(pieces) if k not in marks]
    grid, alone = _grid(pieces, pages)
    kept = [piece for piece in pieces if piece.page in grid.places]
    drawing = _together(pages, kept, grid)
    gone = LeftOut("pages", f"marks that several pages repeat ({len(marks)} lines)")
    left_out = (*drawing.left_out, *([gone] if marks else []))
    warnings = tuple(
        f"page {pages[k].number} is left out: none of its lines goes on on another page, and it "
        "holds no outline as tall as a panel"
        for k in alone
    )
    return replace(drawing, left_out=left_out, warnings=warnings, notes=(grid.words(),))


# -- what is seen -------------------------------------------------------------------------


def _visible(number: int, drawing: Drawing) -> Iterator[_Piece]:
    page = drawing.page if drawing.page is not None else np.full((2, 2), np.nan)
    for shape in drawing.shapes:
        box = page if shape.clip is None else shape.clip
        for curve in inside(shape.curve, box):
            yield _Piece(number, curve, shape)


def inside(curve: Curve, box: FloatArray) -> list[Curve]:
    """The parts of a curve in an upright rectangle; the curve itself if it lies in it."""
    low, high = curve.hull_box
    if (low >= box[0] - 1e-6).all() and (high <= box[1] + 1e-6).all():
        return [curve]
    corners = [box[0], (box[1, 0], box[0, 1]), box[1], (box[0, 0], box[1, 1])]
    cuts: list[float] = []
    for first, second in zip(corners, [*corners[1:], corners[0]], strict=True):
        cuts += crossings(curve, Curve.polyline([first, second])).positions.tolist()
    count = float(len(curve))
    cuts = sorted(set(cuts))
    if curve.closed:
        spans = list(zip(cuts, [*cuts[1:], cuts[0] + count if cuts else 0.0], strict=False))
    else:
        spans = list(zip([0.0, *cuts], [*cuts, count], strict=True))
    found = []
    for start, end in spans:
        if end - start < 1e-9:
            continue
        middle = curve.points(np.array([(0.5 * (start + end)) % count]))[0]
        if (middle >= box[0] - 1e-9).all() and (middle <= box[1] + 1e-9).all():
            found.append(curve.piece(start, end))
    return found


def _repeated(pieces: Sequence[_Piece], pages: int) -> set[int]:
    """Marks of the pages themselves: what lies whole at one place of several pages.

    A straight line that runs over a page from edge to edge is one only if all pages have it: a
    waistline may run so over several pages in a row.
    """
    groups: dict[tuple[object, ...], list[int]] = defaultdict(list)
    for k, piece in enumerate(pieces):
        box = np.round(piece.curve.hull_box / _SAME_MM).astype(int)
        key = (*box.ravel().tolist(), len(piece.curve), piece.curve.closed, piece.shape.style)
        groups[key].append(k)
    boxes = np.array([piece.curve.hull_box for piece in pieces])
    size = boxes[:, 1].max(axis=0) - boxes[:, 0].min(axis=0)
    marks: set[int] = set()
    for group in groups.values():
        on = len({pieces[k].page for k in group})
        low, high = boxes[group[0]]
        spans = not pieces[group[0]].curve.closed and bool(((high - low) > 0.8 * size).any())
        whole = all(pieces[k].is_whole for k in group)
        if on >= 2 and ((whole and not spans) or on == pages):
            marks.update(group)
    return marks


def _open_ends(pieces: Iterable[_Piece]) -> tuple[FloatArray, FloatArray, np.ndarray]:
    """Free ends of lines: points, directions outwards, and the page of each."""
    found = [piece for piece in pieces if not piece.curve.closed]
    points = [point for p in found for point in (p.curve.start, p.curve.end)]
    tangents = [p.curve.end_tangents() for p in found]
    ways = [way for tangent in tangents for way in (-tangent[0, 0], tangent[-1, 1])]
    page = np.repeat([p.page for p in found], 2)
    return np.array(points).reshape(-1, 2), np.array(ways).reshape(-1, 2), page


class _Edge(NamedTuple):
    """Low and high edge along an axis of what every page shows, and how near to it lines end."""

    low: float
    high: float
    slack: float


def _edges(pieces: Sequence[_Piece]) -> list[_Edge]:
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
        return [_Edge(x0, x1, _CUT_MM), _Edge(y0, y1, _CUT_MM)]
    points, _, _ = _open_ends(pieces)
    if len(points) == 0:
        raise unmet("no line runs over the edge of a page")
    sides = [(-_outermost(-points[:, axis]), _outermost(points[:, axis])) for axis in _ALONG]
    return [_Edge(low, high, _EDGE_MM) for low, high in sides]


def _outermost(values: FloatArray) -> float:
    """The largest value at which several ends lie."""
    bins = Counter(np.round(values[values >= np.median(values)] / _BIN_MM).astype(int).tolist())
    enough = max(2.0, 0.3 * max(bins.values()))
    most = max((k for k, count in bins.items() if count >= enough), default=max(bins))
    return float(np.median(values[np.abs(values - most * _BIN_MM) <= _BIN_MM]))


# -- steps from page to page -----------------------------------------------------------------


def _step(
    pieces: Sequence[_Piece], edges: _Edge, axis: int, pages: int
) -> tuple[float, list[_Seam]]:
    """The step along an axis under which most ends meet, and the seams that there are then."""
    low, high = edges.low, edges.high
    votes = Counter({round((high - low) / _BIN_MM): 1})
    votes.update(_same_pieces(pieces, axis))
    votes.update(_straight_on(pieces, edges, axis))
    least = _LEAST_STEP * (high - low) / _BIN_MM
    tried = [k for k, _ in votes.most_common() if least <= k <= (high - low) / _BIN_MM + 1]
    best: tuple[int, float, list[_Seam]] = (0, high - low, [])
    for k in [round((high - low) / _BIN_MM), *tried[:_STEPS_TRIED]]:
        step = _refined(k * _BIN_MM, pieces, edges, axis)
        seams = _seams(pieces, edges, axis, step, pages)
        met = sum(seam.met for seam in seams if seam.holds)
        if met > best[0]:
            best = met, step, seams
    return best[1], best[2]


def _refined(step: float, pieces: Sequence[_Piece], edges: _Edge, axis: int) -> float:
    """A step to the last digits, from pieces that are seen twice; edge to edge it is known."""
    if abs(step - (edges.high - edges.low)) <= _BIN_MM:
        return edges.high - edges.low
    exact = [d for d in _shifts(pieces, axis) if abs(d - step) <= _BIN_MM]
    return float(np.median(exact)) if exact else step


def _shifts(pieces: Sequence[_Piece], axis: int) -> list[float]:
    """By how much segments that two pages show alike lie apart along an axis, and not across."""
    groups: dict[tuple[int, ...], list[tuple[int, FloatArray]]] = defaultdict(list)
    for piece in pieces:
        control = piece.curve.control
        # The first and the last segment of a part may be cut.
        inner = slice(None) if piece.is_whole else slice(1, -1)
        for segment in control[inner]:
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


def _same_pieces(pieces: Sequence[_Piece], axis: int) -> Counter[int]:
    return Counter(round(shift / _BIN_MM) for shift in _shifts(pieces, axis))


def _straight_on(pieces: Sequence[_Piece], edges: _Edge, axis: int) -> Counter[int]:
    """Steps under which a straight line that slopes goes on in one on another page."""
    points, ways, page = _open_ends(pieces)
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


def _seams(
    pieces: Sequence[_Piece], edges: _Edge, axis: int, step: float, pages: int
) -> list[_Seam]:
    """Pairs of pages whose ends meet under a step."""
    loose = edges.slack + _EDGE_MM
    count: dict[tuple[int, int], int] = defaultdict(int)
    ends: list[Counter[int]] = []
    for at, other, turned in (
        (edges.high, edges.high - step, False),
        (edges.high - step, edges.high, True),
    ):
        # A line may run over the edge by so little that it is an end on one of the pages alone.
        own = _across(pieces, at, axis, edges.slack)
        ends.append(Counter(own.page.tolist()))
        for one, two in _met(own, _across(pieces, other, axis, loose)):
            count[(two, one) if turned else (one, two)] += 1
    seams = [
        _Seam(axis, before, after, met, ends[0][before] + ends[1][after])
        for (before, after), met in count.items()
    ]
    # A page has one neighbour on a side: of several the one that meets best.
    seams.sort(key=lambda seam: (not seam.holds, -seam.met, seam.before, seam.after))
    taken: set[tuple[str, int]] = set()
    kept = []
    for seam in seams:
        if ("before", seam.before) not in taken and ("after", seam.after) not in taken:
            taken |= {("before", seam.before), ("after", seam.after)}
            kept.append(seam)
    return kept


def _met(own: _Ends, other: _Ends) -> Iterator[tuple[int, int]]:
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


def _across(pieces: Sequence[_Piece], at: float, axis: int, slack: float) -> _Ends:
    """Where lines end at, or cross, the line on which one coordinate has a value."""
    page, along = [], []
    for piece in pieces:
        low, high = piece.curve.hull_box
        if not low[axis] - slack <= at <= high[axis] + slack:
            continue
        values = []
        if not piece.curve.closed:
            ends = (piece.curve.start, piece.curve.end)
            values += [float(p[1 - axis]) for p in ends if abs(p[axis] - at) <= slack]
        if low[axis] + slack < at < high[axis] - slack:
            span = np.array([[at, at], [low[1 - axis] - 1.0, high[1 - axis] + 1.0]])
            line = Curve.polyline(span.T if axis == 0 else span.T[:, ::-1])
            values += crossings(piece.curve, line).points[:, 1 - axis].tolist()
        found: list[float] = []
        for value in sorted(values):
            # A scrap whose ends both lie on the edge is one end.
            if not found or value - found[-1] > MEETS_MM:
                found.append(value)
        page += [piece.page] * len(found)
        along += found
        if len(page) > _MOST_ENDS:
            raise unmet("too many lines end at the edges of its pages")
    return _Ends(np.array(page, dtype=np.int64), np.array(along, dtype=np.float64))


# -- the grid -------------------------------------------------------------------------------

_Place = tuple[int, int, int]
"""Group of pages that hang together, column and row."""


@dataclass(frozen=True)
class _Grid:
    """How pages lie: their places, the edges of what each shows, and the steps between them."""

    places: dict[int, _Place]
    edges: list[_Edge]
    steps: list[float]
    met: int
    ends: int

    def beside(self, page: int, axis: int, way: int) -> bool:
        """Whether there is a page after one along an axis, or before it."""
        return _moved(self.places[page], axis, way) in self.places.values()

    def cell(self, page: int) -> FloatArray:
        """What of a page is taken: where two pages show the same, the one before has it."""
        box = np.array([[-FAR_MM, -FAR_MM], [FAR_MM, FAR_MM]])
        for axis in _ALONG:
            if self.beside(page, axis, -1):
                box[0, axis] = self.edges[axis].high - self.steps[axis]
            if self.beside(page, axis, 1):
                box[1, axis] = self.edges[axis].high
        return box

    def origins(self, pages: Sequence[PdfPage]) -> FloatArray:
        """Where the corner of each page lies; groups of pages that do not meet lie apart."""
        result = np.zeros((len(pages), 2))
        across = 0.0
        for group in sorted({place[0] for place in self.places.values()}):
            members = [k for k, place in self.places.items() if place[0] == group]
            spots = np.array([self.places[k][1:] for k in members]) * self.steps
            spots -= spots.min(axis=0)
            result[members] = spots + np.array([across, 0.0])
            widths = [float(_size(pages[k])[0]) for k in members]
            across = float((result[members, 0] + widths).max()) + _APART_MM
        return result

    def words(self) -> str:
        """What was done, for people."""
        columns = len({place[1] for place in self.places.values()})
        rows = len({place[2] for place in self.places.values()})
        return (
            f"{len(self.places)} pages were joined, {columns} across and {rows} down: "
            f"{self.met} of {self.ends} ends of lines at their edges meet"
        )


FAR_MM: Final = 20_000.0


def _size(page: PdfPage) -> FloatArray:
    box = page.drawing.page
    return np.zeros(2) if box is None else box[1]


def _moved(place: _Place, axis: int, way: int) -> _Place:
    group, column, row = place
    return (group, column + way, row) if axis == 0 else (group, column, row + way)


def _grid(pieces: Sequence[_Piece], pages: Sequence[PdfPage]) -> tuple[_Grid, list[int]]:
    """Where the pages lie, checked edge by edge, and which have no part in it."""
    edges = _edges(pieces)
    found = [_step(pieces, edges[axis], axis, len(pages)) for axis in _ALONG]
    steps = [step for step, _ in found]
    seams = {(s.axis, s.before, s.after): s for _, some in found for s in some}
    places = _places(seams.values(), pages)
    groups = Counter(place[0] for place in places.values())
    tall = {p.page for p in pieces if p.curve.closed and _height(p.curve) >= LEAST_PANEL_MM}
    alone = [k for k, p in places.items() if groups[p[0]] == 1 and k not in tall]
    if max(groups.values()) == 1:
        raise unmet("no line of one goes on on another")
    for page in alone:
        del places[page]
    grid = _Grid(places, edges, steps, 0, 0)
    met = ends = 0
    problems = []
    by_place = {place: page for page, place in places.items()}
    for axis in _ALONG:
        edge = edges[axis]
        late = Counter(_across(pieces, edge.high, axis, edge.slack).page.tolist())
        early = Counter(_across(pieces, edge.low, axis, edge.slack).page.tolist())
        for page, place in places.items():
            after = by_place.get(_moved(place, axis, 1))
            if after is not None:
                seam = seams.get((axis, page, after))
                most = late[page] if seam is None else seam.ends
                count = 0 if seam is None else seam.met
                met, ends = met + count, ends + most
                if most and count < (1.0 - MOST_UNMET) * most:
                    words = f"pages {pages[page].number} and {pages[after].number}"
                    problems.append(f"{words}: {count} of {most} ends of lines meet")
            elif late[page] >= _ENDS_OF_A_PAGE:
                ends += late[page]
                side = ("right", "lower")[axis]
                problems.append(
                    f"page {pages[page].number}: {late[page]} lines run off its {side} edge, and "
                    "no page goes on from there"
                )
            if not grid.beside(page, axis, -1) and early[page] >= _ENDS_OF_A_PAGE:
                ends += early[page]
                side = ("left", "upper")[axis]
                problems.append(
                    f"page {pages[page].number}: {early[page]} lines come in over its {side} edge, "
                    "and no page goes there"
                )
    if problems:
        more = f" (and {len(problems) - 3} more)" if len(problems) > 3 else ""
        raise unmet("; ".join(problems[:3]) + more)
    return replace(grid, met=met, ends=ends), alone


def _height(curve: Curve) -> float:
    return float(curve.hull_box[1, 1] - curve.hull_box[0, 1])


_ENDS_OF_A_PAGE: Final = 2
"""One line may end at the edge of a page by chance; two are cut off."""


def unmet(why: str) -> PdfError:
    """Why pages cannot be joined."""
    return PdfError(
        f"its pages do not make up one drawing: {why}",
        remedy="If one page holds the whole pattern, name it: page = 2 under [pattern], or "
        "--page 2. Else save the pattern on one large page, or with all of its pages.",
        key="page",
    )


def _places(seams: Iterable[_Seam], pages: Sequence[PdfPage]) -> dict[int, _Place]:
    """Group, column and row of each page, by the seams that hold."""
    neighbours: dict[int, list[tuple[int, int, int]]] = defaultdict(list)
    for seam in seams:
        if seam.holds:
            neighbours[seam.before].append((seam.after, seam.axis, 1))
            neighbours[seam.after].append((seam.before, seam.axis, -1))
    places: dict[int, _Place] = {}
    for first in range(len(pages)):
        if first in places:
            continue
        places[first] = first, 0, 0
        waiting = deque([first])
        while waiting:
            page = waiting.popleft()
            for other, axis, way in neighbours[page]:
                place = _moved(places[page], axis, way)
                if other not in places:
                    if place in places.values():
                        raise unmet(
                            f"page {pages[other].number} and another would lie in one place"
                        )
                    places[other] = place
                    waiting.append(other)
                elif places[other] != place:
                    both = f"pages {pages[page].number} and {pages[other].number}"
                    raise unmet(f"{both} meet in two ways that contradict each other")
    return places


# -- one drawing ----------------------------------------------------------------------------


def _together(pages: Sequence[PdfPage], pieces: Sequence[_Piece], grid: _Grid) -> Drawing:
    origins = grid.origins(pages)
    cells = {k: grid.cell(k) for k in grid.places}
    parts = [
        _Piece(piece.page, _shifted(curve, origins[piece.page]), piece.shape)
        for piece in pieces
        for curve in inside(piece.curve, cells[piece.page])
    ]
    shapes = _chained(parts)
    texts: list[Text] = []
    for k, cell in cells.items():
        origin = origins[k]
        for text in pages[k].drawing.texts:
            if (text.anchor >= cell[0]).all() and (text.anchor <= cell[1]).all():
                moved = replace(text, anchor=text.anchor + origin)
                if not any(_is_same(moved, known) for known in texts):
                    texts.append(moved)
    whole = np.array([origins[k] + _size(pages[k]) for k in cells]).max(axis=0)
    left_out = tuple(gone for k in cells for gone in pages[k].drawing.left_out)
    source = pages[0].drawing.source
    return Drawing(
        tuple(shapes),
        tuple(texts),
        left_out,
        source=source,
        page=np.array([np.zeros(2), whole]),
    )


def _is_same(one: Text, two: Text) -> bool:
    near = float(np.hypot(*(one.anchor - two.anchor))) < _TEXT_MM
    return near and one.content == two.content


def _shifted(curve: Curve, by: FloatArray) -> Curve:
    return curve.transformed([[1.0, 0.0, by[0]], [0.0, 1.0, by[1]]])


def _chained(parts: Sequence[_Piece]) -> list[Shape]:
    """Shapes of the parts, those that were cut by an edge joined to what they were cut from."""
    cut = [k for k, part in enumerate(parts) if not part.curve.closed]
    points, ways, _ = _open_ends([parts[k] for k in cut])
    links: dict[tuple[int, int], tuple[int, int]] = {}
    if len(cut):
        pairs = near_pairs(points, MEETS_MM, 1_000_000).tolist()

        def fit(pair: tuple[int, int]) -> tuple[bool, float]:
            i, j = pair
            styles = parts[cut[i // 2]].shape.style == parts[cut[j // 2]].shape.style
            return not styles, float(ways[i] @ ways[j])

        taken: set[int] = set()
        for i, j in sorted(pairs, key=fit):
            first, second = cut[i // 2], cut[j // 2]
            across = parts[first].page != parts[second].page
            straight = float(ways[i] @ ways[j]) < -0.9
            if across and straight and not taken & {i, j}:
                taken |= {i, j}
                links[first, i % 2] = second, j % 2
                links[second, j % 2] = first, i % 2
    shapes: list[Shape] = []
    done: set[int] = set()
    for k, part in enumerate(parts):
        if k in done:
            continue
        chain, closed = _chain(k, links)
        done.update(place for place, _ in chain)
        if len(chain) == 1 and not closed:
            shapes.append(replace(part.shape, curve=part.curve, clip=None))
            continue
        curves = [
            parts[place].curve.reversed() if backwards else parts[place].curve
            for place, backwards in chain
        ]
        shapes.append(replace(part.shape, curve=Curve.chain(curves, closed=closed), clip=None))
    return _named_apart(shapes)


def _chain(
    first: int, links: dict[tuple[int, int], tuple[int, int]]
) -> tuple[list[tuple[int, bool]], bool]:
    """Parts in a row with whether each runs backwards, and whether they close."""
    start, side = first, 0
    seen = {first}
    # Back to where the row begins, or once round.
    while (start, side) in links:
        place, end = links[start, side]
        if place in seen:
            break
        seen.add(place)
        start, side = place, 1 - end
    chain = [(start, side == 1)]
    place, out = start, 1 - side
    while (place, out) in links:
        place, end = links[place, out]
        if place == start:
            return chain, True
        chain.append((place, end == 1))
        out = 1 - end
    return chain, False


def _named_apart(shapes: Sequence[Shape]) -> list[Shape]:
    """Shapes with names of their own, where several come from one line."""
    count = Counter(shape.ident for shape in shapes)
    place: Counter[str] = Counter()
    result = []
    for shape in shapes:
        place[shape.ident] += 1
        several = count[shape.ident] > 1
        ident = f"{shape.ident}~{place[shape.ident]}" if several else shape.ident
        result.append(
            replace(shape, ident=ident, element=shape.ident if several else shape.element)
        )
    return result
