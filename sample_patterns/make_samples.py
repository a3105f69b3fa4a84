"""Draft the sample patterns: four half corsets and their job files, from formulas alone.

Run it with ``python sample_patterns/make_samples.py``; it writes ``hourglass.svg`` and
``fuller_figure.svg``, two job files for each, and ``gored.svg`` and ``slit_gores.svg`` with one
each into its own folder (or into a folder given as its only argument), the same bytes every time.
panelshift must be installed, for its arc length.

Everything here is invented: the studio, the clients, their measurements and every thickness.
The drafts serve to try the program out; nobody has sewn them or worn them.

How the drafts are made. All lengths are mm. In a panel u runs from centre front towards
centre back, v upwards from the waist. Each seam is given as what it springs beyond the waist
at four levels, panel by panel; a side edge is one cubic u(v) below the waist and two above
it, so that it passes through those widths exactly and is smooth at the waist. Of two edges
that are sewn together the one towards the back is then made as long as its mate by sliding
its end along itself, above and below the waist separately.
"""

from __future__ import annotations

import itertools
import math
import sys
import xml.etree.ElementTree as ET
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from panelshift.outline import Curve
from panelshift.outline.measure import length, position_at_length

Array = NDArray[np.float64]
Function = Callable[[float], float]
Point = tuple[float, float]

PX_PER_MM = 96.0 / 25.4
DRAW = "https://panelshift.invalid/ns/draw"
SVG = "http://www.w3.org/2000/svg"
XLINK = "http://www.w3.org/1999/xlink"
THIN = "fill:none;stroke:#555555;stroke-width:{:g}"
BOLD = "fill:none;stroke:#000000;stroke-width:{:g}"


# -- the figures of the two drafts ------------------------------------------------------


@dataclass(frozen=True)
class Spring:
    """What the two edges of one seam spring beyond the waist, at each level.

    Each level has a pair: the back edge of the panel in front, the front edge of the next.
    `turn` is the slope du/dv at which the edges reach the top line.
    """

    underbust: Point
    bust: Point
    high_hip: Point
    hip: Point
    turn: float = 0.0


@dataclass(frozen=True)
class Line:
    """The top or bottom line where it meets CF, each seam and CB.

    `heights` are v in mm on the edge in front; `rises` are the angles in degrees at which
    the line rises towards the back, measured from square to the seam, so that the line runs
    on smoothly when the seam is sewn.
    """

    heights: tuple[float, ...]
    rises: tuple[float, ...]


@dataclass(frozen=True)
class Draft:
    """All figures of a half pattern."""

    names: tuple[str, ...]
    waists: tuple[float, ...]
    levels: dict[str, float]
    seams: tuple[Spring, ...]
    top: Line
    bottom: Line


HOURGLASS = Draft(
    names=("1 centre front", "2 front", "3 side front", "4 side", "5 side back", "6 centre back"),
    waists=(48.0, 50.0, 54.0, 58.0, 56.0, 54.0),
    levels={"bust": 150.0, "underbust": 85.0, "high hip": -85.0, "hip": -130.0},
    seams=(
        Spring((4.5, 6.5), (10.0, 17.0), (3.5, 4.5), (6.0, 7.0), -0.16),
        Spring((7.0, 6.0), (18.0, 12.0), (7.0, 7.0), (11.0, 12.0), -0.16),
        Spring((6.5, 6.5), (9.0, 9.0), (11.0, 11.0), (18.0, 18.0)),
        Spring((6.0, 6.0), (7.5, 7.5), (11.0, 11.0), (18.0, 18.0)),
        Spring((6.0, 5.0), (8.0, 7.0), (8.0, 6.0), (13.0, 9.0)),
    ),
    top=Line((180.0, 194.0, 193.0, 178.0, 167.0, 161.0, 159.0), (9, 15, -13, -10, -6, -3, 0)),
    bottom=Line((-178.0, -168.0, -152.0, -142.0, -140.0, -145.0, -152.0), (3, 13, 9, 4, -3, -6, 0)),
)

FULLER_FIGURE = Draft(
    names=("cf", "front", "side-front", "side", "side-back", "back", "cb"),
    waists=(58.0, 64.0, 68.0, 72.0, 70.0, 66.0, 62.0),
    levels={"bust": 142.0, "underbust": 76.0, "high hip": -110.0, "hip": -160.0},
    seams=(
        Spring((4.0, 5.0), (10.0, 16.0), (6.0, 7.0), (8.5, 9.5), -0.16),
        Spring((6.0, 5.0), (19.0, 13.0), (9.0, 9.0), (12.5, 12.5), -0.16),
        Spring((5.5, 5.5), (10.0, 10.0), (10.5, 10.5), (14.5, 14.5), -0.02),
        Spring((5.0, 5.0), (8.0, 8.0), (9.5, 9.5), (13.5, 13.5)),
        Spring((5.0, 5.0), (7.0, 7.0), (9.0, 8.0), (13.0, 11.0)),
        Spring((5.0, 4.0), (7.0, 5.0), (7.0, 5.0), (10.0, 7.0)),
    ),
    top=Line(
        (172.0, 186.0, 187.0, 174.0, 163.0, 157.0, 155.0, 154.0),
        (8, 14, -11, -9, -6, -3, -1, 0),
    ),
    bottom=Line(
        (-212.0, -202.0, -188.0, -178.0, -175.0, -177.0, -182.0, -186.0),
        (2, 11, 8, 4, 0, -3, -4, 0),
    ),
)

GORED = Draft(
    names=("1 centre front", "2 side front", "3 side back", "4 centre back"),
    waists=(74.0, 84.0, 90.0, 82.0),
    levels={"bust": 150.0, "underbust": 85.0, "high hip": -85.0, "hip": -130.0},
    seams=(
        Spring((5.5, 6.0), (8.0, 9.0), (2.5, 3.0), (4.5, 5.0), -0.1),
        Spring((8.0, 7.5), (11.0, 10.5), (4.5, 5.0), (8.0, 8.5)),
        Spring((7.5, 7.0), (10.0, 9.0), (5.0, 4.5), (8.0, 7.5)),
    ),
    top=Line((176.0, 186.0, 174.0, 162.0, 158.0), (7, 4, -7, -4, 0)),
    bottom=Line((-172.0, -160.0, -150.0, -148.0, -154.0), (3, 6, 2, -2, 0)),
)


@dataclass(frozen=True)
class GoreFigure:
    """A gore: behind which panel it stands, where it begins and how wide it opens.

    `begins` is how far its tip lies from the waist along the seam, in mm, downwards if negative.
    """

    name: str
    after: int
    begins: float
    width: float


GORES = (
    GoreFigure("bust gore", 0, 96.0, 42.0),
    GoreFigure("hip gore", 1, -26.0, 62.0),
    GoreFigure("back gore", 2, -26.0, 58.0),
)

SLIT_GORES = Draft(
    names=("1 front", "2 side", "3 back"),
    waists=(112.0, 116.0, 102.0),
    levels={"bust": 150.0, "underbust": 85.0, "high hip": -85.0, "hip": -130.0},
    seams=(
        Spring((6.0, 6.5), (9.0, 9.5), (6.0, 6.5), (11.0, 11.5)),
        Spring((7.0, 6.5), (10.0, 9.0), (7.0, 6.5), (11.0, 10.5)),
    ),
    top=Line((178.0, 184.0, 164.0, 156.0), (6, 3, -5, 0)),
    bottom=Line((-172.0, -154.0, -146.0, -152.0), (4, 4, -1, 0)),
)


@dataclass(frozen=True)
class SlitFigure:
    """A slit in a panel, from its tip (u, v) to u where it is open, and its gore's width there."""

    slit: str
    gore: str
    panel: int
    tip: Point
    opens: float
    width: float


SLITS = (
    SlitFigure("front bust slit", "front bust gore", 0, (4.0, 97.0), -3.0, 34.0),
    SlitFigure("side bust slit", "side bust gore", 0, (25.0, 97.0), 32.0, 34.0),
    SlitFigure("hip slit", "hip gore", 1, (0.0, -28.0), 5.0, 78.0),
)


# -- drafting ---------------------------------------------------------------------------


@dataclass(frozen=True)
class Edge:
    """A side edge: u = waist + sign * offset(v) from bottom to top.

    `knots` are the heights at which the cubics meet; none for a straight edge.
    """

    waist: float
    sign: float
    offset: Function
    slope: Function
    bottom: float
    top: float
    knots: tuple[float, ...] = ()

    def u(self, v: float) -> float:
        """Where the edge lies at a height."""
        return self.waist + self.sign * self.offset(v)

    def lean(self, v: float) -> float:
        """Angle of the edge from the vertical in radians, positive outwards going up."""
        return math.atan(self.slope(v))

    def between(self, low: float, high: float) -> list[Array]:
        """Control points upwards between two heights: cubics, or one line of two points."""
        if not self.knots:
            return [np.array([(self.u(low), low), (self.u(high), high)])]
        inner = [v for v in self.knots if low < v < high]
        return cubics_through(self.u, lambda v: self.sign * self.slope(v), (low, *inner, high))

    def runs(self) -> list[Array]:
        """Control points of the whole edge from the bottom up."""
        return self.between(self.bottom, self.top)


@dataclass(frozen=True)
class Panel:
    """A drafted panel: its side edges and the cubics of its top and bottom line."""

    name: str
    front: Edge
    back: Edge
    top: Array
    bottom: Array

    def outline(self) -> list[Array]:
        """Runs head to tail: up the front, over the top, down the back, along the bottom."""
        down = [run[::-1] for run in reversed(self.back.runs())]
        return [*self.front.runs(), self.top, *down, self.bottom[::-1]]

    def bounds(self) -> Point:
        """Least and greatest u."""
        u = np.concatenate([run[:, 0] for run in self.outline()])
        return float(u.min()), float(u.max())


def cubics_through(u: Function, slope: Function, heights: Sequence[float]) -> list[Array]:
    """Cubics that meet u(v) and its slope at the heights; exact where u is itself cubic."""
    runs = []
    for low, high in itertools.pairwise(heights):
        step = (high - low) / 3.0
        v = [low, low + step, high - step, high]
        points = [u(low), u(low) + step * slope(low), u(high) - step * slope(high), u(high)]
        runs.append(np.column_stack([points, v]))
    return runs


def spring_offset(draft: Draft, seam: Spring, side: int, top: float) -> tuple[Function, Function]:
    """One edge of a seam: what it springs beyond the waist at v, and the slope of that.

    Below the waist a v^2 + b v^3 through high hip and hip. Above it a v^2 + b v^3 up to the
    underbust, where a second cubic takes over with the same slope and curvature; that one
    passes through the bust and reaches the top line at the seam's `turn`.
    """
    y = draft.levels
    under, bust, rise = y["underbust"], y["bust"] - y["underbust"], top - y["underbust"]
    hips = [y["high hip"], y["hip"]]
    low = np.linalg.solve([[v**2, v**3] for v in hips], [seam.high_hip[side], seam.hip[side]])
    upper, middle = seam.bust[side], seam.underbust[side]
    # Unknown: a, b; then slope s, half the curvature c and d of the second cubic in v - under.
    a, b, s, c, d = np.linalg.solve(
        [
            [under**2, under**3, 0, 0, 0],
            [2 * under, 3 * under**2, -1, 0, 0],
            [1, 3 * under, 0, -1, 0],
            [0, 0, bust, bust**2, bust**3],
            [0, 0, 1, 2 * rise, 3 * rise**2],
        ],
        [middle, 0, 0, upper - middle, seam.turn],
    )

    def offset(v: float) -> float:
        if v > under:
            w = v - under
            return float(middle + w * (s + w * (c + w * d)))
        p, q = (a, b) if v > 0 else low
        return float(v * v * (p + q * v))

    def slope(v: float) -> float:
        if v > under:
            w = v - under
            return float(s + w * (2 * c + 3 * d * w))
        p, q = (a, b) if v > 0 else low
        return float(v * (2 * p + 3 * q * v))

    return offset, slope


def run_length(edge: Edge, low: float, high: float) -> float:
    """Arc length of a curved edge between two heights."""
    return length(Curve.cubics(np.array(edge.between(low, high))))


def end_for_length(edge: Edge, sense: float, wanted: float) -> float:
    """Height at which an edge is `wanted` mm long from the waist, upwards or downwards."""
    v = sense * wanted
    for _ in range(20):  # Newton's method; the edge is nearly straight, five steps are plenty
        have = run_length(edge, min(0.0, v), max(0.0, v))
        v += sense * (wanted - have) * math.cos(edge.lean(v))
    return v


def drafted_edges(draft: Draft) -> list[tuple[Edge, Edge]]:
    """Front and back edge of every panel, mates equally long above and below the waist."""
    tops, bottoms = draft.top.heights, draft.bottom.heights

    def straight(u: float, k: int) -> Edge:
        return Edge(u, 1.0, lambda v: 0.0, lambda v: 0.0, bottoms[k], tops[k])

    knots = (0.0, draft.levels["underbust"])
    fronts, backs = [straight(-draft.waists[0] / 2, 0)], []
    for k, seam in enumerate(draft.seams, start=1):
        own = spring_offset(draft, seam, 0, tops[k])
        mate = spring_offset(draft, seam, 1, tops[k])
        back = Edge(draft.waists[k - 1] / 2, 1.0, *own, bottoms[k], tops[k], knots)
        front = Edge(-draft.waists[k] / 2, -1.0, *mate, bottoms[k], tops[k], knots)
        top = end_for_length(front, 1.0, run_length(back, 0.0, back.top))
        bottom = end_for_length(front, -1.0, run_length(back, back.bottom, 0.0))
        backs.append(back)
        fronts.append(Edge(front.waist, -1.0, *mate, bottom, top, knots))
    backs.append(straight(draft.waists[-1] / 2, -1))
    return list(zip(fronts, backs, strict=True))


def crosswise(front: Edge, back: Edge, ends: Point, rises: Sequence[float]) -> Array:
    """Return the cubic of a top or bottom line from the front edge to the back edge."""
    first = math.radians(rises[0]) + front.lean(ends[0])
    last = math.radians(rises[1]) - back.lean(ends[1])
    start = np.array([front.u(ends[0]), ends[0]])
    end = np.array([back.u(ends[1]), ends[1]])
    third = (end[0] - start[0]) / 3.0
    return np.array(
        [
            start,
            start + third * np.array([1.0, math.tan(first)]),
            end - third * np.array([1.0, math.tan(last)]),
            end,
        ]
    )


def drafted_panels(draft: Draft) -> list[Panel]:
    """Draft every panel from centre front to centre back."""
    panels = []
    for k, (front, back) in enumerate(drafted_edges(draft)):
        top = crosswise(front, back, (front.top, back.top), draft.top.rises[k : k + 2])
        bottom = crosswise(front, back, (front.bottom, back.bottom), draft.bottom.rises[k : k + 2])
        panels.append(Panel(draft.names[k], front, back, top, bottom))
    return panels


@dataclass(frozen=True)
class DraftedGore:
    """A gore in panel coordinates: its tip on the v axis, so high above the waist as in its seam.

    `corners` are those of the edge opposite, front and back.
    """

    name: str
    tip: Point
    corners: tuple[Point, Point]

    def outline(self) -> list[Array]:
        """Its runs head to tail: front edge to the tip, back edge, and the edge opposite."""
        front, back = (np.array(corner) for corner in self.corners)
        tip = np.array(self.tip)
        # The open edge leaves both side edges squarely, so that it runs on when it is sewn.
        third = (back[0] - front[0]) / 3.0
        leans = (front[0] - tip[0]) / (front[1] - tip[1]), (back[0] - tip[0]) / (back[1] - tip[1])
        inner = [
            corner + side * third * np.array([1.0, -lean])
            for corner, side, lean in zip((front, back), (1.0, -1.0), leans, strict=True)
        ]
        across = np.array([front, *inner, back])
        return [np.array([front, tip]), np.array([tip, back]), across[::-1]]

    def level(self, height: float) -> Array:
        """A level line from edge to edge."""
        part = (height - self.tip[1]) / (self.corners[0][1] - self.tip[1])
        return np.array([(part * corner[0], height) for corner in self.corners])


def drafted_gore(draft: Draft, figure: GoreFigure) -> DraftedGore:
    """A gore whose edges are as long as the seam from its tip to where it opens."""
    edges = drafted_edges(draft)
    back, front = edges[figure.after][1], edges[figure.after + 1][0]
    sense = 1.0 if figure.begins > 0.0 else -1.0
    height = 0.5 * sum(end_for_length(edge, sense, abs(figure.begins)) for edge in (back, front))
    ends = (0.0, back.top) if sense > 0.0 else (back.bottom, 0.0)
    long = run_length(back, *ends) - abs(figure.begins)
    return even_gore(figure.name, height, sense * long, figure.width)


def even_gore(name: str, tip: float, long: float, width: float) -> DraftedGore:
    """A gore of two straight edges, as long (downwards if negative) and wide as given."""
    half = 0.5 * width
    far = tip + math.copysign(math.sqrt(long**2 - half**2), long)
    return DraftedGore(name, (0.0, tip), ((-half, far), (half, far)))


def slit_in(panel: Panel, figure: SlitFigure) -> Array:
    """The straight line from a slit's tip to the panel's top or bottom."""
    end = panel.top if figure.tip[1] > 0.0 else panel.bottom
    curve = Curve.cubics(end[None])
    # The edges' cubics go evenly from front to back, so that u is linear in the parameter.
    at = (figure.opens - end[0, 0]) / (end[3, 0] - end[0, 0])
    return np.array([figure.tip, curve.points([at])[0]])


def slit_gore(panel: Panel, figure: SlitFigure) -> DraftedGore:
    """The gore for a slit, whose edges are as long as the slit is."""
    step = np.diff(slit_in(panel, figure), axis=0)[0]
    long = math.copysign(math.hypot(*step), step[1])
    return even_gore(figure.gore, figure.tip[1], long, figure.width)


# -- marks ------------------------------------------------------------------------------

NOTCH = 5.0
BONE = 7.0
ARROW = [np.array([(-1.6, -4.5), (0.0, 0.0)]), np.array([(0.0, 0.0), (1.6, -4.5)])]


def notches(draft: Draft, panel: Panel, first: bool, last: bool) -> list[Array]:
    """Short lines across the seams, as far from the waist on both mates of a seam.

    The measure is the underbust's height along the edge, so that both mates share it.
    """
    found = []
    for edge, skip in ((panel.front, first), (panel.back, last)):
        if skip:
            continue
        curve = Curve.cubics(np.array(edge.between(0.0, edge.top)))
        place = position_at_length(curve, draft.levels["underbust"])
        at, along = curve.points(place)[0], curve.derivatives(place)[0]
        across = 0.5 * NOTCH * np.array([along[1], -along[0]]) / np.hypot(*along)
        found.append(np.array([at - across, at + across]))
    return found


def inset(edge: Edge, by: float, ends: Point) -> list[Array]:
    """Return a line along an edge, `by` mm inside it, from one height to another."""

    def u(v: float) -> float:
        # Measured square to the edge: the way across is longer where the edge leans.
        side = 1.0 if edge.u(0.0) > 0 else -1.0
        return edge.u(v) - side * by / math.cos(edge.lean(v))

    def slope(v: float) -> float:
        return (u(v + 0.01) - u(v - 0.01)) / 0.02

    if not edge.knots:
        return [np.array([(u(ends[0]), ends[0]), (u(ends[1]), ends[1])])]
    return cubics_through(u, slope, (ends[0], *edge.knots, ends[1]))


def bone_lines(edge: Edge, near: float) -> tuple[list[Array], list[Array]]:
    """Both sides of a bone channel, the near one `near` mm inside the edge."""
    ends = (edge.bottom + 11.0, edge.top - 11.0)
    return inset(edge, near, ends), inset(edge, near + BONE, ends)


def strip(sides: tuple[list[Array], list[Array]]) -> list[Array]:
    """Close a bone channel's two sides to a narrow outline."""
    up, other = sides
    down = [run[::-1] for run in reversed(other)]
    return [
        *up,
        np.array([up[-1][-1], down[0][0]]),
        *down,
        np.array([down[-1][-1], up[0][0]]),
    ]


def level_line(panel: Panel, height: float, beyond: float) -> Array:
    """Return a level line across a panel, reaching beyond its edges (or short of them)."""
    return np.array(
        [(panel.front.u(height) - beyond, height), (panel.back.u(height) + beyond, height)]
    )


# -- writing ----------------------------------------------------------------------------


def number(value: float) -> str:
    """Three places always, and never a minus nought."""
    return f"{round(value, 3) + 0.0:.3f}"


def pair(point: Sequence[float]) -> str:
    """Write a point as path data does."""
    return f"{number(point[0])},{number(point[1])}"


def path_data(runs: Sequence[Array], *, closed: bool, relative: bool = False) -> str:
    """Return path data for runs of two (line) or four (cubic) points.

    Relative coordinates are differences of rounded points, so that rounding does not add up.
    """
    rounded = [np.round(run, 3) for run in runs]
    letters = {2: "l", 4: "c"} if relative else {2: "L", 4: "C"}
    here = rounded[0][0]
    parts = [f"{'m' if relative else 'M'} {pair(here)}"]
    for k, run in enumerate(rounded):
        if closed and k == len(rounded) - 1 and len(run) == 2:
            break  # Z draws it
        base = here if relative else np.zeros(2)
        parts.append(f"{letters[len(run)]} {' '.join(pair(p - base) for p in run[1:])}")
        here = run[-1]
    if closed:
        parts.append("z" if relative else "Z")
    return " ".join(parts)


@dataclass
class Sheet:
    """Elements of one file; ids are counted as drawing programs count them."""

    counter: Iterator[int] = field(default_factory=lambda: itertools.count(1012, 6))

    def node(self, parent: ET.Element, tag: str, label: str = "", **attributes: str) -> ET.Element:
        """Add an element with an id of its own unless one is given."""
        ident = attributes.pop("id", f"{tag}{next(self.counter)}")
        element = ET.SubElement(parent, tag, id=ident)
        if label:
            element.set(f"{{{DRAW}}}label", label)
        for name, value in attributes.items():
            element.set(name, value)
        return element

    def text(self, parent: ET.Element, content: str, size: float, **attributes: str) -> None:
        """Add a text."""
        style = f"font-family:sans-serif;font-size:{number(size)}px;fill:#000000"
        self.node(parent, "text", style=style, **attributes).text = content


def document(width: str, height: str, box: str, title: str) -> ET.Element:
    """Return the outermost element."""
    root = ET.Element("svg", {"xmlns": SVG, "version": "1.1", "id": "svg8"})
    for name, value in (("width", width), ("height", height), ("viewBox", box)):
        root.set(name, value)
    ET.SubElement(root, "title", id="title2").text = title
    return root


def save(root: ET.Element, path: Path) -> None:
    """Write the file with one element a line."""
    ET.register_namespace("draw", DRAW)
    ET.indent(root)
    body = ET.tostring(root, encoding="unicode")
    path.write_bytes(f'<?xml version="1.0" encoding="UTF-8"?>\n{body}\n'.encode())


def columns(panels: Sequence[Panel], gap: float, start: float) -> list[float]:
    """Return the u of the middle of each panel's waist on the sheet, panels side by side."""
    places = []
    for panel in panels:
        low, high = panel.bounds()
        places.append(round(start - low, 3))
        start += high - low + gap
    return places


# -- the hourglass: layers, labelled groups, transforms ---------------------------------


@dataclass(frozen=True)
class Place:
    """How one panel of the hourglass is set on its layer.

    `transform` is what its group carries; `scale` and `flip` say what the panel's own
    coordinates are: mm, half mm, upside down. Files that have been through several hands
    look like this.
    """

    transform: str
    scale: float = 1.0
    flip: bool = False
    relative: bool = False
    pieces: bool = False

    def local(self, run: Array) -> Array:
        """Panel points (u, v) in the group's coordinates."""
        return np.asarray(run * [1.0, 1.0 if self.flip else -1.0] / self.scale)

    def data(self, runs: Sequence[Array], *, closed: bool = False) -> str:
        """Return path data for panel runs."""
        return path_data([self.local(run) for run in runs], closed=closed, relative=self.relative)


def place(index: int, x: float) -> Place:
    """One way or another for each panel."""
    at = number(x)
    return (
        Place(f"translate({at} 0)", relative=True),
        Place(f"translate({at})"),
        Place(f"matrix(1 0 0 1 {at} 0)", pieces=True),
        Place(f"translate({at},0) scale(2)", scale=2.0),
        Place(f"matrix(1,0,0,-1,{at},0)", flip=True),
        Place(f"translate({at} 0)", relative=True),
    )[index]


def draw_hourglass(path: Path) -> None:
    """Write the hourglass: mm, a group for each panel inside a layer with a transform."""
    panels, sheet = drafted_panels(HOURGLASS), Sheet()
    places = columns(panels, 24.0, 0.0)
    width, height, margin = places[-1] + panels[-1].bounds()[1] + 60.0, 460.0, 30.0
    root = document(
        f"{number(width)}mm",
        f"{number(height)}mm",
        f"0 0 {number(width)} {number(height)}",
        "Hourglass, six panels",
    )
    draw_sheet_layer(sheet, root, width, height)
    layer = sheet.node(
        root, "g", "pattern pieces", transform=f"translate({number(margin)} 250)", id="layer2"
    )
    for k, panel in enumerate(panels):
        draw_panel(sheet, layer, panel, k, place(k, places[k]))
    save(root, path)


def draw_sheet_layer(sheet: Sheet, root: ET.Element, width: float, height: float) -> None:
    """What stands outside the panels: a border, a title, a note, a square to measure."""
    layer = sheet.node(root, "g", "sheet", id="layer1")
    sheet.node(
        layer,
        "rect",
        "border",
        style=THIN.format(0.25),
        x="8.000",
        y="8.000",
        width=number(width - 16.0),
        height=number(height - 16.0),
    )
    sheet.text(layer, "Thrumwick and Oddbobbin, stays and bodies", 7, x="20.000", y="24.000")
    note = (
        "Hourglass, mid-bust, half pattern. Net: add seam allowance. Waist 640 mm and "
        "lacing gap 50 mm. Client, studio and sizes are invented."
    )
    sheet.text(layer, note, 4.5, x="20.000", y="34.000")
    square = {"x": number(width - 70.0), "y": "16.000", "width": "50.000", "height": "14.000"}
    sheet.node(layer, "rect", "scale bar 50 mm", style=THIN.format(0.25), **square)
    sheet.text(layer, "50 mm", 4.5, x=number(width - 52.0), y="25.000")


def draw_panel(sheet: Sheet, layer: ET.Element, panel: Panel, k: int, at: Place) -> None:
    """One panel's group: outline, level lines, notches, bones, grainline and its name."""
    group = sheet.node(layer, "g", panel.name, transform=at.transform)
    draw_outline(sheet, group, panel, at)
    thin = THIN.format(0.25 / at.scale)
    lines = sheet.node(group, "g", "levels", style=thin)
    for name, height in {"waist": 0.0, **HOURGLASS.levels}.items():
        # Drawn by eye: some lines run a little over the edge, some stop short of it.
        beyond = (0.6, -0.4, 0.0, 0.8, -0.7, 0.3)[k] if name != "waist" else 0.5
        run = level_line(panel, height, beyond)
        sheet.node(lines, "path", name, d=at.data([run]))
    for run in notches(HOURGLASS, panel, k == 0, k == 5):
        sheet.node(group, "path", "notch", style=thin, d=at.data([run]))
    draw_bones(sheet, group, panel, k, at)
    grain = sheet.node(group, "g", "grain", style=thin)
    u = -6.0 if k == 5 else 6.0  # clear of the bones beside the eyelets
    head = [run + np.array([u, 60.0]) for run in ARROW]
    sheet.node(grain, "path", d=at.data([np.array([(u, -100.0), (u, 60.0)])]))
    sheet.node(grain, "path", d=at.data(head))
    label = at.local(np.array([(u - 8.0, -70.0)]))[0]
    turned = f"translate({pair(label)}) {'scale(1 -1) ' if at.flip else ''}rotate(-90)"
    sheet.text(group, panel.name, 6.0 / at.scale, transform=turned)


def draw_outline(sheet: Sheet, group: ET.Element, panel: Panel, at: Place) -> None:
    """Draw the net outline, closed; or as two open paths that all but meet."""
    bold = BOLD.format(0.5 / at.scale)
    runs = panel.outline()
    if not at.pieces:
        sheet.node(group, "path", style=bold, d=at.data(runs, closed=True))
        return
    turn = next(k for k, run in enumerate(runs) if run is panel.top) + 1
    rest = [run.copy() for run in runs[turn:]]
    rest[0][0] += (0.04, 0.03)
    rest[-1][-1] += (0.02, -0.05)
    for part in (runs[:turn], rest):
        sheet.node(group, "path", style=bold, d=at.data(part))


def draw_bones(sheet: Sheet, group: ET.Element, panel: Panel, k: int, at: Place) -> None:
    """Two bone channels a panel, as closed strips or as pairs of lines."""
    bones = sheet.node(group, "g", "bones", style=THIN.format(0.25 / at.scale))
    # Beside the busk the first channel stands off; at the back, one each side of the eyelets.
    beside = {
        0: ((panel.front, 9.0), (panel.back, 3.0)),
        5: ((panel.back, 3.0), (panel.back, 20.0)),
    }
    for edge, near in beside.get(k, ((panel.front, 3.0), (panel.back, 3.0))):
        sides = bone_lines(edge, near)
        if k == 3:
            for side in sides:
                sheet.node(bones, "path", d=at.data(side))
        else:
            sheet.node(bones, "path", d=at.data(strip(sides), closed=True))


# -- the fuller figure: px, right to left, long lines -----------------------------------


def draw_fuller(path: Path) -> None:
    """Write the fuller figure: px, centre front on the right, one waistline across all."""
    draft, sheet = FULLER_FIGURE, Sheet()
    panels = drafted_panels(draft)
    places = columns(panels, 26.0, 0.0)
    width, height, margin = places[-1] + panels[-1].bounds()[1] + 80.0, 520.0, 40.0
    size = f"{number(width * PX_PER_MM)}", f"{number(height * PX_PER_MM)}"
    root = document(*size, f"0 0 {size[0]} {size[1]}", "Fuller figure, seven panels")
    root.set("xmlns:xlink", XLINK)
    arrow = ET.SubElement(ET.SubElement(root, "defs"), "g", id="arrow")
    length_px = 120.0 * PX_PER_MM
    head = ARROW[0][0] * PX_PER_MM
    d = f"M 0,{number(length_px)} V 0 M {number(head[0])},{number(-head[1])} L 0,0 "
    ET.SubElement(arrow, "path", d=d + f"L {number(-head[0])},{number(-head[1])}")

    def on_sheet(run: Array, k: int) -> Array:
        """Panel points in px: mirrored, since centre front lies on the right."""
        x = width - margin - places[k] - run[:, 0]
        return np.column_stack([x, 260.0 - run[:, 1]]) * PX_PER_MM

    draw_title_block(sheet, root)
    nets = sheet.node(root, "g", id="net-outlines", style=BOLD.format(2))
    for k, panel in enumerate(panels):
        runs = [on_sheet(run, k) for run in panel.outline()]
        sheet.node(nets, "path", id=panel.name, d=path_data(runs, closed=True))
    draw_long_lines(sheet, root, width)
    marks = sheet.node(root, "g", id="notches", style=THIN.format(1))
    for k, panel in enumerate(panels):
        for run in notches(draft, panel, k == 0, k == len(panels) - 1):
            draw_line(sheet, marks, on_sheet(run, k))
    grains = sheet.node(root, "g", id="grainlines", style=THIN.format(1))
    names = sheet.node(root, "g", id="names")
    for k, panel in enumerate(panels):
        x, y = on_sheet(np.array([(4.0, 30.0)]), k)[0]
        grain = sheet.node(grains, "use", x=number(x), y=number(y))
        grain.set("xlink:href", "#arrow")
        x, y = on_sheet(np.array([(22.0, 40.0)]), k)[0]
        said = panel.name.replace("-", " ")
        sheet.text(names, said, 6.0 * PX_PER_MM, x=number(x), y=number(y))
    save(root, path)


def draw_line(
    sheet: Sheet, parent: ET.Element, ends: Array, name: str = "", **attributes: str
) -> None:
    """Add a line element between two points."""
    (x1, y1), (x2, y2) = ends
    where = {"x1": number(x1), "y1": number(y1), "x2": number(x2), "y2": number(y2)}
    if name:
        attributes["id"] = name
    sheet.node(parent, "line", **where, **attributes)


def draw_long_lines(sheet: Sheet, root: ET.Element, width: float) -> None:
    """Draw the waistline and the level lines, each right across the sheet."""
    lines = sheet.node(root, "g", id="level-lines", style=THIN.format(1))
    for name, height in {"waistline": 0.0, **FULLER_FIGURE.levels}.items():
        ends = np.array([(16.0, 260.0 - height), (width - 16.0, 260.0 - height)]) * PX_PER_MM
        draw_line(sheet, lines, ends, name.replace(" ", "-"))


def draw_title_block(sheet: Sheet, root: ET.Element) -> None:
    """Draw the title block: an svg of its own with its own coordinates."""
    block = ET.SubElement(root, "svg", id="title-block", viewBox="0 0 1000 100")
    for name, value in (("x", 16.0), ("y", 12.0), ("width", 260.0), ("height", 26.0)):
        block.set(name, number(value * PX_PER_MM))
    rim = {"x": "1", "y": "1", "width": "998", "height": "98", "id": "title-border"}
    ET.SubElement(block, "rect", {**rim, "style": "fill:none;stroke:#555555"})
    sheet.text(block, "Thrumwick and Oddbobbin, stays and bodies", 34, x="20", y="42")
    note = "Fuller figure, seven panels, right half seen from the front. All figures invented."
    sheet.text(block, note, 20, x="20", y="80")


# -- gored corsets: mm, panels in a row and gores below them -----------------------------


def draw_gored(path: Path) -> None:
    """Write the corset with gores in its seams."""
    gores = [drafted_gore(GORED, figure) for figure in GORES]
    draw_with_gores(path, GORED, gores, (), "Gored", "four panels and three gores")


def draw_slit_gores(path: Path) -> None:
    """Write the corset with gores in slits."""
    panels = drafted_panels(SLIT_GORES)
    gores = [slit_gore(panels[figure.panel], figure) for figure in SLITS]
    draw_with_gores(
        path, SLIT_GORES, gores, SLITS, "Slit gores", "three panels and three gores in slits"
    )


def draw_with_gores(
    path: Path,
    draft: Draft,
    gores: Sequence[DraftedGore],
    slits: Sequence[SlitFigure],
    title: str,
    count: str,
) -> None:
    """Write a corset with gores: one group a piece, each piece upright."""
    sheet, panels = Sheet(), drafted_panels(draft)
    places = columns(panels, 26.0, 0.0)
    width, height, margin = places[-1] + panels[-1].bounds()[1] + 60.0, 640.0, 30.0
    root = document(
        f"{number(width)}mm",
        f"{number(height)}mm",
        f"0 0 {number(width)} {number(height)}",
        f"{title}, {count}",
    )
    sheet.text(root, "Thrumwick and Oddbobbin, stays and bodies", 7, x="20.000", y="20.000")
    note = f"{title}, half pattern. Net: add seam allowance. All figures are invented."
    sheet.text(root, note, 4.5, x="20.000", y="29.000")
    for k, panel in enumerate(panels):
        at = Place(f"translate({number(margin + places[k])} 230)")
        group = sheet.node(root, "g", transform=at.transform)
        outline = at.data(panel.outline(), closed=True)
        sheet.node(group, "path", panel.name, style=BOLD.format(0.5), d=outline)
        lines = {
            name: level_line(panel, height, 0.5)
            for name, height in {"waist": 0.0, **draft.levels}.items()
        }
        # Slits stand in the middle of panels.
        grain = -32.0 if slits else 8.0
        draw_piece_lines(sheet, group, panel.name, at, lines, (-95.0, 55.0), grain)
        for run in notches(draft, panel, k == 0, k == len(panels) - 1):
            sheet.node(group, "path", "notch", style=THIN.format(0.25), d=at.data([run]))
        for slit in slits:
            if slit.panel == k:
                run = slit_in(panel, slit)
                sheet.node(group, "path", slit.slit, style=THIN.format(0.4), d=at.data([run]))
    for k, gore in enumerate(gores):
        up = gore.tip[1] < gore.corners[0][1]
        # The bust gore's waist lies far below it on the sheet, that of the others far above.
        at = Place(f"translate({number(90.0 + 120.0 * k)} {number(645.0 if up else 465.0)})")
        group = sheet.node(root, "g", transform=at.transform)
        outline = at.data(gore.outline(), closed=True)
        sheet.node(group, "path", gore.name, style=BOLD.format(0.5), d=outline)
        level = "bust" if up else "hip"
        lines = {level: gore.level(draft.levels[level])}
        ends = (135.0, 170.0) if up else (-145.0, -90.0)
        draw_piece_lines(sheet, group, "", at, lines, ends, 0.0)
    save(root, path)


def draw_piece_lines(
    sheet: Sheet,
    group: ET.Element,
    name: str,
    at: Place,
    levels: dict[str, Array],
    grain: Point,
    u: float,
) -> None:
    """A piece's level lines, its grainline at u between two heights, and its name, if any."""
    thin = THIN.format(0.25)
    for level, run in levels.items():
        sheet.node(group, "path", level, style=thin, d=at.data([run]))
    arrow = sheet.node(group, "g", "grain", style=thin)
    sheet.node(arrow, "path", d=at.data([np.array([(u, grain[0]), (u, grain[1])])]))
    sheet.node(arrow, "path", d=at.data([run + np.array([u, grain[1]]) for run in ARROW]))
    label = at.local(np.array([(u - 4.0, grain[0] + 8.0)]))[0]
    if name:
        sheet.text(group, name, 5.0, transform=f"translate({pair(label)}) rotate(-90)")


# -- job files --------------------------------------------------------------------------

HOURGLASS_JOB = """\
# Hourglass, mid-bust: six panels a half, busk at the front, laced at the back.
# Studio, client and figures are invented. The thicknesses too: measure your own cloth, or
# pin a swatch round a former, before you cut anything.

[pattern]
file = "hourglass.svg"
units = "mm"              # how lengths are shown: mm, cm or in
drafted_waist = 640       # all panels together at the waist, without the lacing gap
lacing_gap = 50           # left open at the back when laced

[stack]
drafted_layer = "coutille"  # the strength layer keeps the drafted size

# The fabrics from the body outwards; a bare number is mm.

[[stack.fabric]]
name = "lining"
thickness = 0.2           # invented for this sample, as are all below

[[stack.fabric]]
name = "waist tape"       # lies on a tenth of a panel, and is not cut from a pattern
thickness = 0.5
coverage = 0.1
cut_out = false

[[stack.fabric]]
name = "coutille"
thickness = 0.45

[[stack.fabric]]
name = "bones in channels"  # steels with their casing: about a fifth of the surface
thickness = 1.5
coverage = 0.2
cut_out = false

[[stack.fabric]]
name = "interlining"
thickness = 0.3

[[stack.fabric]]
name = "brocade"
thickness = 0.65

[allowance]               # beyond the stitch line, for every fabric
seam = 10
centre_front = 15         # to turn in behind the busk
centre_back = 25          # to face the eyelets
top = 8
bottom = 8

# Where a panel's place on the body is not plain from its place in the row, say so.
[panel."4 side"]
class = "side"
"""

FULLER_JOB = """\
# Fuller figure: seven panels a half, drawn with centre front on the right.
# Studio, client and figures are invented. The thicknesses too: measure your own cloth, or
# pin a swatch round a former, before you cut anything.

[pattern]
file = "fuller_figure.svg"
units = "in"              # lengths are shown in inches
drafted_waist = "92 cm"   # all panels together at the waist, without the lacing gap
lacing_gap = "2 in"       # left open at the back when laced

[stack]
drafted_layer = "coutille"  # the strength layer keeps the drafted size

# The fabrics from the body outwards.

[[stack.fabric]]
name = "lining"
thickness = "0.010 in"    # invented for this sample, as are all below

[[stack.fabric]]
name = "coutille"
thickness = "0.018 in"

[[stack.fabric]]
name = "bones in channels"  # steels with their casing: about a fifth of the surface
thickness = "0.060 in"
coverage = 0.18
cut_out = false

[[stack.fabric]]
name = "wool suiting"
thickness = "0.030 in"

[allowance]               # beyond the stitch line, for every fabric
seam = "0.5 in"
centre_front = "0.625 in"
centre_back = "1 in"
top = "0.375 in"
bottom = "0.375 in"

# Breadth over depth of the body, by level: rounder at the bust than at the waist.
[body]
model = "section"
ratio = { waist = 1.35, bust = 1.25, hip = 1.3 }
"""

GORED_JOB = """\
# Gored: four panels a half, with a gore over the bust and two over the hip, set in the seams.
# Studio, client and figures are invented. The thicknesses too: measure your own cloth, or
# pin a swatch round a former, before you cut anything.

[pattern]
file = "gored.svg"
units = "mm"              # how lengths are shown: mm, cm or in
drafted_waist = 660       # all panels together at the waist, without the lacing gap
lacing_gap = 50           # left open at the back when laced

# Gores reach no waist. Each stands in the seam between two panels, and its tip lies on that seam
# as far from its end as the gore's own edges are long.

[[gore]]
panel = "bust gore"       # as it is called in the drawing
between = ["1 centre front", "2 side front"]

[[gore]]
panel = "hip gore"
between = ["2 side front", "3 side back"]

[[gore]]
panel = "back gore"
between = ["3 side back", "4 centre back"]

[stack]
drafted_layer = "coutille"  # the strength layer keeps the drafted size

# The fabrics from the body outwards; a bare number is mm.

[[stack.fabric]]
name = "lining"
thickness = 0.2           # invented for this sample, as are all below

[[stack.fabric]]
name = "coutille"
thickness = 0.45

[[stack.fabric]]
name = "interlining"
thickness = 0.5

[[stack.fabric]]
name = "brocade"
thickness = 0.65

[allowance]               # beyond the stitch line, for every fabric
seam = 10
centre_front = 15         # to turn in behind the busk
centre_back = 25          # to face the eyelets
top = 8
bottom = 8
"""

SLIT_GORES_JOB = GORED_JOB.replace(
    GORED_JOB.partition("\n")[0],
    "# Slit gores: three panels a half, two gores over the bust and one over the hip, in slits.",
)
SLIT_GORES_JOB = SLIT_GORES_JOB.replace("gored.svg", "slit_gores.svg")
SLIT_GORES_JOB = (
    SLIT_GORES_JOB[: SLIT_GORES_JOB.index("# Gores reach")]
    + """\
# Gores reach no waist. Each stands in a slit: a line on a panel, from the panel's edge to where
# the gore's tip lies.

[[gore]]
panel = "front bust gore"  # as it is called in the drawing
slit = "front bust slit"   # so is its slit

[[gore]]
panel = "side bust gore"
slit = "side bust slit"

[[gore]]
panel = "hip gore"
slit = "hip slit"

"""
    + SLIT_GORES_JOB[SLIT_GORES_JOB.index("[stack]") :]
)

HOURGLASS_SEWN = (
    HOURGLASS_JOB.replace(
        "# Hourglass, mid-bust:", "# The hourglass again, and how it is sewn. Mid-bust:"
    )
    .replace(
        """\
name = "waist tape"       # lies on a tenth of a panel, and is not cut from a pattern
thickness = 0.5
coverage = 0.1
""",
        """\
name = "waist tape"       # lies round the waist only, and is not cut from a pattern
thickness = 0.5
from = -12
to = 12
""",
    )
    .replace(
        """\
[[stack.fabric]]
name = "bones in channels"  # steels with their casing: about a fifth of the surface
thickness = 1.5
coverage = 0.2
cut_out = false

""",
        "",
    )
    .replace(
        """\
[allowance] """,
        """\
[construction]            # what each layer really lies over
body = "soft"             # what lies inside the coutille sinks into it

[[construction.shell]]    # flat lined: sewn as one, its seams pressed open
layers = ["interlining", "brocade"]

[[construction.bones]]    # flat steels in the channels that are drawn
on = "coutille"
width = 5.5
thickness = 1.5

[allowance] """,
    )
)

FULLER_SEWN = (
    FULLER_JOB.replace("# Fuller figure:", "# The fuller figure again, and how it is sewn:")
    .replace(
        """\
[[stack.fabric]]
name = "bones in channels"  # steels with their casing: about a fifth of the surface
thickness = "0.060 in"
coverage = 0.18
cut_out = false

""",
        "",
    )
    .replace(
        """\
[allowance] """,
        """\
[construction]            # what each layer really lies over

[[construction.shell]]
layers = ["coutille"]
seams = "to back"
lie = "outside"           # under the suiting
graded = ["0.5 in", "0.25 in"]

[[construction.bones]]    # no channel is drawn: two bones a panel, one at the centre front
on = "coutille"
width = "0.25 in"
thickness = "0.060 in"
casing = "0.02 in"
per_panel = { cf = 1, front = 2, side-front = 2, side = 2, side-back = 2, back = 2, cb = 2 }

[allowance] """,
    )
)


def main() -> None:
    """Write all eight files."""
    folder = Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).resolve().parent
    draw_hourglass(folder / "hourglass.svg")
    draw_fuller(folder / "fuller_figure.svg")
    draw_gored(folder / "gored.svg")
    (folder / "gored.toml").write_bytes(GORED_JOB.encode())
    draw_slit_gores(folder / "slit_gores.svg")
    (folder / "slit_gores.toml").write_bytes(SLIT_GORES_JOB.encode())
    (folder / "hourglass.toml").write_bytes(HOURGLASS_JOB.encode())
    (folder / "fuller_figure.toml").write_bytes(FULLER_JOB.encode())
    (folder / "hourglass_sewn.toml").write_bytes(HOURGLASS_SEWN.encode())
    (folder / "fuller_figure_sewn.toml").write_bytes(FULLER_SEWN.encode())


if __name__ == "__main__":
    main()
