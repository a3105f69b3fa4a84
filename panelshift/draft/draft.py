"""The draft as far as it is understood: what the maker says of it, and the one value that every
step takes and returns."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Final, Literal

import numpy as np

from ..errors import PatternError, UnknownNameError
from ..files.plain_values import refuse_misfits
from ..outline import Curve, FloatArray
from ..outline.by_value import fix_mappings
from ..outline.crossing import SAME_POINT_MM, Crossings, all_crossings
from ..outline.nearness import Boxes
from ..outline.planar import Areas
from ..pattern.drawing import Drawing, Ledger, Shape, Text
from ..pattern.panel import CORNER_NAMES
from ..pattern.pattern import EdgeKind
from .names import Role


@dataclass(frozen=True)
class StandsOn:
    """Two pieces of one panel, the upper on the lower, sewn along a seam that runs across.

    Parameters
    ----------
    upper, lower : str
        Labels or ids of their outlines in the drawing; the waistline crosses one of a panel's
        pieces, whose name it has.

    Examples
    --------
    >>> from panelshift import Reading, read_pattern
    >>> svg = '''<svg xmlns="http://www.w3.org/2000/svg" width="200mm" height="200mm"
    ...  viewBox="0 0 200 200"><path id="side" d="M10 80 H70 V180 H10 Z"/>
    ...  <path id="yoke" d="M110 20 H170 V80 H110 Z"/><path id="waist" d="M5 110 H75"/></svg>'''
    >>> pattern = read_pattern(svg, reading=Reading(stands_on=(StandsOn("yoke", "side"),)))
    >>> [piece.name for piece in pattern["side"].pieces]
    ['side', 'yoke']
    """

    upper: str
    lower: str

    def __post_init__(self) -> None:
        refuse_misfits(self, "two pieces of a panel")


@dataclass(frozen=True)
class Gore:
    """A piece that ends in a point, and the seam or the slit that it is set in.

    Parameters
    ----------
    panel : str
        Label or id of its outline in the drawing.
    between : (str, str) or None
        The two panels, neighbours, by name or id, if it stands in a seam.
    tip : str
        Where its tip lies: a level, or a signed height such as "-40 mm". If empty, as far from the
        end of the seam as its own edges are long.
    opens_at : {"", "bottom", "top"}
        At which end of the seam it opens; as it lies in the drawing if empty.
    slit : str
        Label or id of the line along which a panel is cut open for it, from the panel's top or
        bottom to where the gore's tip lies; empty if it stands in a seam.

    Examples
    --------
    >>> from panelshift import Reading, read_pattern
    >>> svg = '''<svg xmlns="http://www.w3.org/2000/svg" width="200mm" height="300mm"
    ...  viewBox="0 0 200 300"><path id="front" d="M10 20 H70 V180 H10 Z"/>
    ...  <path id="back" d="M90 20 H150 V180 H90 Z"/><path id="waist" d="M5 110 H155"/>
    ...  <path id="gore" d="M80 200 L95 255 H65 Z"/></svg>'''
    >>> pattern = read_pattern(svg, reading=Reading(gores=(Gore("gore", ("front", "back")),)))
    >>> [panel.name for panel in pattern]
    ['front', 'gore', 'back']
    """

    panel: str
    between: tuple[str, str] | None = None
    tip: str = ""
    opens_at: Literal["", "bottom", "top"] = ""
    slit: str = ""

    def __post_init__(self) -> None:
        refuse_misfits(self, "a gore")


JOIN_TOLERANCE_MM: Final = 0.5
"""Ends within this distance are one point: about the width of a drawn pencil line."""

Halves = Literal["auto", "half", "full"]
NetOutline = Literal["auto", "inner", "outer"]


@dataclass(frozen=True)
class Reading:
    """What the maker says about a drawing that geometry cannot tell.

    Parameters
    ----------
    order : tuple of str
        Panel names or ids from centre front to centre back.
    halves : {"auto", "half", "full"}
        Whether the panels are half the body or go right round it; told from names if auto.
    waistlines : tuple of str
        Ids of the waistlines.
    join_tolerance : float
        Largest gap in mm between ends of outline pieces that belong together.
    corners : mapping of panel name to mapping of corner name to (x, y)
        Unusual corners, in sheet mm. The corner names are those of `Corners`.
    net_outline : {"auto", "inner", "outer"}
        Which of two outlines, one within the other, is the stitch line where neither's name
        says so; the inner one if auto, unless they look like two sizes.
    size : str
        Which of several outlines round each other is read: its place from inside ("1",
        "innermost"), layer, dash, colour, width or a word beside it; empty if one is drawn.
    leave_out : tuple of str
        Ids of closed shapes that look like panels and are none, or are not to be cut.
    leave_layers : tuple of str
        Names of the drawing's layers (groups) that are left out altogether.
    gores : tuple of Gore
        Pieces set in seams or slits, which need not reach the waist.
    stands_on : tuple of StandsOn
        Pieces that make up a panel, one on the other.
    level : str
        The level whose line is level on the body, where the waistline is not; a plumb line that
        is drawn on a panel says it better.
    split_at : tuple of str
        Labels or ids of open lines across panels at which layers are split: see `Fabric`.
    drafted_waist : float or None
        All panels together at the waist in mm, as drafted: it tells one half from both, and a
        wrong scale.
    allowance_drawn : mapping of edge kind to float, or None
        The seam allowance in mm that the outlines have in them, to be taken off, by the kinds
        seam, centre_front, centre_back, top and bottom; None if the maker says nothing of it.

    Raises
    ------
    PatternError
        If the drafted waist is not above 0, the join tolerance or a drawn allowance is negative,
        one of them is not finite, or a corner is nowhere.
    UnknownNameError
        If there is no corner of a name.

    Examples
    --------
    Centre front lies on the right of this sheet, which only its maker can know:

    >>> from panelshift import read_pattern
    >>> svg = '''<svg xmlns="http://www.w3.org/2000/svg" width="160mm" height="200mm"
    ...  viewBox="0 0 160 200"><path id="a" d="M10 20 H70 V180 H10 Z"/>
    ...  <path id="b" d="M90 20 H150 V180 H90 Z"/><path id="waist" d="M5 110 H155"/></svg>'''
    >>> pattern = read_pattern(svg, reading=Reading(order=("b", "a"), halves="half"))
    >>> [panel.name for panel in pattern.panels]
    ['b', 'a']
    """

    order: tuple[str, ...] = ()
    halves: Halves = "auto"
    waistlines: tuple[str, ...] = ()
    join_tolerance: float = JOIN_TOLERANCE_MM
    corners: Mapping[str, Mapping[str, tuple[float, float]]] = field(default_factory=dict)
    net_outline: NetOutline = "auto"
    size: str = ""
    leave_out: tuple[str, ...] = ()
    leave_layers: tuple[str, ...] = ()
    drafted_waist: float | None = None
    allowance_drawn: Mapping[EdgeKind, float] | None = None
    gores: tuple[Gore, ...] = ()
    stands_on: tuple[StandsOn, ...] = ()
    level: str = ""
    split_at: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        refuse_misfits(self, "a reading")
        fix_mappings(self)
        off = (self.allowance_drawn or {}).items()
        for what, value in (
            ("drafted waist", self.drafted_waist),
            ("join tolerance", self.join_tolerance),
            *((f"drawn allowance at {edge.replace('_', ' ')}", width) for edge, width in off),
        ):
            if value is not None and not 0.0 <= value < math.inf:
                raise PatternError(
                    f"a {what} of {value:g} mm", remedy="Give a length in mm of 0 or more."
                )
        if self.drafted_waist == 0.0:
            raise PatternError(
                "a drafted waist of 0 mm", remedy="Leave it out if it is not known (None)."
            )
        for panel, corners in self.corners.items():
            for corner, at in corners.items():
                if corner not in CORNER_NAMES:
                    raise UnknownNameError.of(f"corner of panel {panel!r}", corner, CORNER_NAMES)
                if not all(map(math.isfinite, at)):
                    raise PatternError(
                        f"corner {corner} of panel {panel!r} at {at}",
                        remedy="Give (x, y) on the sheet in mm.",
                        element=panel,
                    )

    @property
    def takes_off(self) -> bool:
        """Whether an allowance is to be taken off; 0 says that there is none."""
        return any((self.allowance_drawn or {}).values())


REACH_MM: Final = 2.0
"""How far short of an outline a level line may stop and still count as crossing it."""

TOUCHES_MM: Final = 2.0
"""What begins no further from a panel than this touches it."""

NEAR_MM: Final = REACH_MM + TOUCHES_MM
"""No panel further from a shape than this can have to do with it."""

_LINES: Final = frozenset({"notch", "bone", "grainline", "plumb", "aside", "allowance", "split"})
_LEVELS: Final = frozenset({"waist", "level"})

MOST_CROSSINGS: Final = 50_000
"""Pairs of an outline and a waistline near each other, at most."""


@dataclass(frozen=True, eq=False)
class Candidate:
    """A closed outline that may be a panel.

    *shapes*: What it was drawn with, the first first. *gap*: The largest gap that was bridged, in
    mm.
    """

    outline: Curve
    shapes: tuple[Shape, ...]
    gap: float = 0.0

    @property
    def ident(self) -> str:
        """Id of the element that it was drawn with (the first of several)."""
        return self.shapes[0].ident


@dataclass(frozen=True, eq=False)
class FoundPanel(Candidate):
    """An outline with its waistline, before its front is known.

    *waist*: Of the outline by the waistline: two. *companions*: Outlines of the same panel that are
    not its net outline: they may hold its name. *by_place*: How many of those lie round or inside
    it as a cut line lies round a net outline, with no name that says which is which.
    """

    waistline: Shape = field(kw_only=True)
    waist: Crossings = field(kw_only=True)
    companions: tuple[Shape, ...] = ()
    by_place: int = 0
    doubts: tuple[str, ...] = ()


@dataclass(frozen=True, eq=False)
class FoundGore:
    """A gore's outline, what the maker says of it, and what it is called."""

    said: Gore
    found: Candidate
    name: str


@dataclass(frozen=True, eq=False)
class UprightPanel:
    """A panel's vertical and its middle on the sheet."""

    found: FoundPanel
    up: FloatArray
    centre: FloatArray
    name: str

    @property
    def right(self) -> FloatArray:
        """Unit vector to the right of the panel as it stands upright."""
        return np.array([-self.up[1], self.up[0]])


@dataclass(frozen=True, eq=False)
class OpenChain:
    """Open pieces that look like an outline which fails to close, and where."""

    pieces: tuple[Shape, ...]
    at: tuple[float, float]
    size: float
    curve: Curve


_LETTER_WIDE: Final = 0.5
"""A letter's width in font sizes, as a rule: near enough to know where the middle of words lies."""


def homes_of(texts: Sequence[Text], boxes: Boxes, areas: Areas) -> list[int | None]:
    """Of the outlines of boxes and areas, the one that each text's middle or its anchor touches."""
    ends = np.array([(middle_of(text), text.anchor) for text in texts]).reshape(-1, 2, 2)
    near = boxes.all_near(np.stack([ends.min(axis=1), ends.max(axis=1)], axis=1), NEAR_MM)
    found = []
    for homes, (middle, anchor) in zip(near, ends, strict=True):
        home = areas.touched(homes, middle[None], TOUCHES_MM)
        found.append(areas.touched(homes, anchor[None], TOUCHES_MM) if home is None else home)
    return found


def middle_of(text: Text) -> FloatArray:
    """About where the middle of a text lies."""
    half = 0.5 * _LETTER_WIDE * text.size * len(text.content)
    sign = {"start": 1.0, "middle": 0.0, "end": -1.0}[text.align]
    return text.anchor + sign * half * np.array([np.cos(text.angle), np.sin(text.angle)])


@dataclass(frozen=True, eq=False)
class Draft:
    """What the shapes of a drawing are known to be so far.

    *ledger*: All that is to be said in the end; every step writes in it. *roles*: What names make
    of each shape, by ident. *shapes*: Those not yet known to be a part of anything; in the end,
    marks. *outlines*: Closed outlines not yet known to be panels or marks. *doubtful*: Outlines
    crossed by waistlines as no panel is, and what is to be said if one is a panel. *pieces*: Pieces
    of panels that no waistline crosses, by name. *slits*: Lines that gores are set in, by what the
    job file calls them. *tangles*:
    Pieces that close, but could be joined in more than one way. *meetings*: Which lines cross which
    outlines.
    """

    drawing: Drawing
    reading: Reading
    ledger: Ledger
    roles: Mapping[str, Role | None]
    meetings: Meetings
    shapes: tuple[Shape, ...]
    outlines: tuple[Candidate, ...] = ()
    doubtful: tuple[tuple[Candidate, PatternError], ...] = ()
    open_chains: tuple[OpenChain, ...] = ()
    tangles: tuple[tuple[Shape, ...], ...] = ()
    waistlines: tuple[Shape, ...] = ()
    panels: tuple[FoundPanel, ...] = ()
    gores: tuple[FoundGore, ...] = ()
    slits: Mapping[str, Shape] = field(default_factory=dict)
    pieces: tuple[tuple[str, Candidate], ...] = ()

    def role(self, shape: Shape) -> Role | None:
        """What names make of a shape."""
        return self.roles[shape.ident]

    def kind(self, shape: Shape) -> str:
        """The kind of line that names make of a shape, or empty."""
        role = self.roles[shape.ident]
        return role.kind if role else ""

    def may_be_outline(self, shape: Shape) -> bool:
        """Whether names leave it open that a shape is an outline, or a piece of one."""
        kind = self.kind(shape)
        return kind not in (_LINES if shape.curve.closed else _LINES | _LEVELS)

    def without_outlines(self, gone: Iterable[Candidate]) -> Draft:
        """The same with some outlines no longer waiting."""
        mine = {id(found) for found in gone}
        return replace(self, outlines=tuple(f for f in self.outlines if id(f) not in mine))

    def without(self, gone: Iterable[Shape]) -> Draft:
        """The same with some shapes no longer waiting."""
        idents = {shape.ident for shape in gone}
        return replace(self, shapes=tuple(s for s in self.shapes if s.ident not in idents))


class Meetings:
    """Which lines cross which outlines: worked out in one pass for all, once for each pair."""

    def __init__(self) -> None:
        self._known: dict[tuple[Curve, Curve], Crossings] = {}

    def across(
        self, outlines: Sequence[Curve], lines: Sequence[Shape], *, bounded: bool = True
    ) -> list[list[tuple[Shape, Crossings]]]:
        """Of each outline, the lines that cross it, in their order.

        Raises `PatternError` if more than `MOST_CROSSINGS` pairs lie near each other.
        """
        boxes = Boxes([line.curve for line in lines])
        hulls = np.array([outline.hull_box for outline in outlines])
        near = boxes.all_near(hulls, REACH_MM + SAME_POINT_MM)
        if bounded and sum(map(len, near)) > MOST_CROSSINGS:
            raise PatternError(
                "too many lines lie on top of too many outlines",
                remedy="Name the waistlines, and delete the hatching on the panels.",
            )
        pairs = [
            (outline, lines[k].curve)
            for outline, which in zip(outlines, near, strict=True)
            for k in which
            if (outline, lines[k].curve) not in self._known
        ]
        self._known |= zip(pairs, all_crossings(pairs, reach=REACH_MM), strict=True)
        return [
            [(lines[k], found) for k in which if len(found := self._known[outline, lines[k].curve])]
            for outline, which in zip(outlines, near, strict=True)
        ]

    def of(self, outline: Curve, line: Curve) -> Crossings:
        """Crossings of one outline by one line."""
        if (outline, line) not in self._known:
            self._known[outline, line] = all_crossings([(outline, line)], reach=REACH_MM)[0]
        return self._known[outline, line]
