"""Tiled pages put together again by the ends of the lines that run over their edges.

Pages are laid on a grid by the seams that hold, every pair of neighbours is checked by itself, and
lines that were cut at an edge become one again.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from ...outline import Curve, FloatArray
from ...outline.nearness import near_pairs
from ...pattern.drawing import Drawing, LeftOut, Shape, Text
from .reading import PdfPage
from .seams import (
    ALONG,
    MEETS_MM,
    MOST_UNMET,
    PageEdge,
    PageSeam,
    across,
    best_step,
    edges_of,
    unmet,
)
from .visible import Visible, may_be_panel, open_ends, parts_inside, repeated, visible

_APART_MM: Final = 50.0
_TEXT_MM: Final = 1.0


def join_pages(pages: Sequence[PdfPage]) -> Drawing:
    """One drawing of pages that are parts of it.

    Raises `PdfError` if fewer than nine in ten ends of lines meet, naming the pages.
    """
    pieces = visible(pages)
    marks = repeated(pieces, len(pages))
    pieces = [piece for k, piece in enumerate(pieces) if k not in marks]
    grid, alone = _grid(pieces, pages)
    kept = [piece for piece in pieces if piece.page in grid.places]
    drawing = _together(pages, kept, grid)
    gone = LeftOut("pages", f"marks that several pages repeat ({len(marks)} lines)")
    left_out = (*drawing.left_out, *([gone] if marks else []))
    warnings = tuple(
        f"page {pages[k].number} is left out: none of its lines goes on on another page, and it "
        "holds no line as long as a panel"
        for k in alone
    )
    return replace(drawing, left_out=left_out, warnings=warnings, notes=(grid.words(),))


# -- the grid -------------------------------------------------------------------------------

_Place = tuple[int, int, int]
"""Group of pages that hang together, column and row."""


@dataclass(frozen=True)
class _Mosaic:
    """How pages lie: their places, the edges of what each shows, and the steps between them."""

    places: dict[int, _Place]
    edges: list[PageEdge]
    steps: list[float]
    met: int
    ends: int

    def beside(self, page: int, axis: int, way: int) -> bool:
        """Whether there is a page after one along an axis, or before it."""
        return _moved(self.places[page], axis, way) in self.places.values()

    def cell(self, page: int) -> FloatArray:
        """What of a page is taken: where two pages show the same, the one before has it."""
        box = np.array([[-FAR_MM, -FAR_MM], [FAR_MM, FAR_MM]])
        for axis in ALONG:
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


def _grid(pieces: Sequence[Visible], pages: Sequence[PdfPage]) -> tuple[_Mosaic, list[int]]:
    """Where the pages lie, checked edge by edge, and which have no part in it."""
    edges = edges_of(pieces)
    found = [best_step(pieces, edges[axis], axis, len(pages)) for axis in ALONG]
    steps = [step for step, _ in found]
    seams = {(s.axis, s.before, s.after): s for _, some in found for s in some}
    places = _places(seams.values(), len(pages))
    groups = Counter(place[0] for place in places.values())
    panels = {piece.page for piece in pieces if may_be_panel(piece.curve)}
    alone = [k for k, p in places.items() if groups[p[0]] == 1 and k not in panels]
    if max(groups.values()) == 1:
        raise unmet("no line of one goes on on another")
    for page in alone:
        del places[page]
    grid = _Mosaic(places, edges, steps, 0, 0)
    met = ends = 0
    problems = []
    by_place = {place: page for page, place in places.items()}
    for axis in ALONG:
        edge = edges[axis]
        late = Counter(across(pieces, edge.high, axis, edge.slack).page.tolist())
        early = Counter(across(pieces, edge.low, axis, edge.slack).page.tolist())
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


_ENDS_OF_A_PAGE: Final = 2
"""One line may end at the edge of a page by chance; two are cut off."""


def _places(seams: Iterable[PageSeam], pages: int) -> dict[int, _Place]:
    """Group, column and row of each page, by the seams that hold, the surest first.

    Panels that are alike make seams between pages that are no neighbours: pages that come one after
    the other go first, and a seam that contradicts those before it is passed over. Whether all
    neighbours meet is checked afterwards.
    """
    places: dict[int, _Place] = {page: (page, 0, 0) for page in range(pages)}
    held = [seam for seam in seams if seam.holds]
    for seam in sorted(held, key=lambda s: (-s.met, abs(s.after - s.before), s.before, s.axis)):
        goal = _moved(places[seam.before], seam.axis, 1)
        group, column, row = places[seam.after]
        if group == goal[0]:
            continue
        shift = goal[1] - column, goal[2] - row
        moved = {
            page: (goal[0], place[1] + shift[0], place[2] + shift[1])
            for page, place in places.items()
            if place[0] == group
        }
        if not set(moved.values()) & set(places.values()):
            places.update(moved)
    return places


# -- one drawing ----------------------------------------------------------------------------


def _together(pages: Sequence[PdfPage], pieces: Sequence[Visible], grid: _Mosaic) -> Drawing:
    origins = grid.origins(pages)
    cells = {k: grid.cell(k) for k in grid.places}
    taken = parts_inside([p.curve for p in pieces], [cells[p.page] for p in pieces])
    parts = [
        Visible(piece.page, _shifted(curve, origins[piece.page]), piece.shape)
        for piece, curves in zip(pieces, taken, strict=True)
        for curve in curves
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


def _chained(parts: Sequence[Visible]) -> list[Shape]:
    """Shapes of the parts, those that were cut by an edge joined to what they were cut from."""
    cut = [k for k, part in enumerate(parts) if not part.curve.closed]
    points, ways, _ = open_ends([parts[k] for k in cut])
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
