"""One panel: its outline, its frame, its four edges, its level lines and marks, and its picture."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from html import escape
from typing import Final, Literal

import numpy as np
import numpy.typing as npt

from ..errors import CurveError, PatternError, UnknownNameError, WrongTypeError
from ..files.plain_values import held_to_types
from ..outline import Curve, FloatArray
from ..outline.bezier import LINE, affine, line_control, pairs
from ..outline.by_value import ByValue, read_only
from ..outline.crossing import nearest_position
from ..outline.many import transformed
from ..outline.pathtext import number, path_data
from ..units import LONGEST_MM
from .drawing import Align, Text

EdgeName = Literal["front", "back", "top", "bottom"]
EDGE_NAMES: Final[tuple[EdgeName, ...]] = ("front", "top", "back", "bottom")

CORNER_NAMES: Final = ("front_top", "back_top", "back_bottom", "front_bottom")

STRAIGHT_EDGE_MM: Final = 0.5
"""An edge that bulges less than this from its chord is straight (a busk or lacing edge)."""

_OVER: Final = np.array([[-1.0, 0.0, 0.0], [0.0, 1.0, 0.0]])
_TURNED_ALIGN: Final[dict[Align, Align]] = {"start": "end", "middle": "middle", "end": "start"}


@dataclass(frozen=True, eq=False)
class Frame(ByValue):
    """A panel's own axes.

    Parameters
    ----------
    origin : ndarray, shape (2,)
        Middle of the waist, in sheet mm; beside it where the waist is not level on the body, and
        above or below a gore.
    across : ndarray, shape (2,)
        Unit vector from the front edge towards the back edge: along the waist's chord, unless a
        plumb line or another level says what is level.
    up : ndarray, shape (2,)
        Unit vector from the waist towards the top edge.

    Notes
    -----
    Panel coordinates (u, v) are mm along `across` and `up`. The frame may be left-handed:
    it is not the sheet but the body that says where the front is.
    """

    origin: FloatArray
    across: FloatArray
    up: FloatArray

    def __post_init__(self) -> None:
        read_only(self, "origin", "across", "up")

    def to_panel(self, points: npt.ArrayLike) -> FloatArray:
        """Sheet points, shape (..., 2), in panel coordinates; `CurveError` if they are none."""
        relative = pairs(points) - self.origin
        return np.asarray(relative @ np.stack([self.across, self.up], axis=1))

    def to_sheet(self, points: npt.ArrayLike) -> FloatArray:
        """Panel points, shape (..., 2), in sheet coordinates; `CurveError` if they are none."""
        axes = np.stack([self.across, self.up])
        return np.asarray(pairs(points) @ axes + self.origin)

    @property
    def matrix(self) -> FloatArray:
        """Affine map from sheet to panel coordinates, shape (2, 3)."""
        axes = np.stack([self.across, self.up])
        return np.column_stack([axes, -axes @ self.origin])

    def larger(self, wider: float, longer: float) -> FloatArray:
        """Affine map of the sheet, shape (2, 3), that stretches u and v by two factors.

        Raises `WrongTypeError` or `CurveError` for what is none.
        """
        for factor in (wider, longer):
            WrongTypeError.unless(factor, (int, float, np.number), "a factor", "a number")
            if not abs(factor) <= LONGEST_MM:
                raise CurveError(f"a factor of {factor!r:.40}", remedy="Give one such as 1.02.")
        across, up = self.across, self.up
        linear = wider * np.outer(across, across) + longer * np.outer(up, up)
        return np.column_stack([linear, self.origin - linear @ self.origin])


@dataclass(frozen=True, eq=False)
class Level(ByValue):
    """A level line of a panel, from its front edge to its back edge.

    Parameters
    ----------
    name : str
        For example waist, bust, hip.
    curve : Curve
        In sheet mm, cut off at the edges.
    height : float
        Mean distance above the waist (v) of its two ends, in mm.
    ident : str
        Id of the element it was drawn with.
    """

    name: str
    curve: Curve
    height: float
    ident: str = ""

    @property
    def width(self) -> float:
        """Distance between its ends in mm."""
        return float(np.hypot(*(self.curve.end - self.curve.start)))

    @property
    def __geo_interface__(self) -> dict[str, object]:
        """The line as GeoJSON-like geometry in sheet mm, for shapely and others."""
        return self.curve.__geo_interface__


MarkKind = Literal["notch", "grainline", "bone", "level", "mark", "dart", "split"]


@dataclass(frozen=True, eq=False)
class Mark(ByValue):
    """A line drawn on a panel that is neither its outline nor a full level line.

    `name` is what a line at which layers are split is called there.
    """

    kind: MarkKind
    curve: Curve
    ident: str = ""
    name: str = ""

    @property
    def __geo_interface__(self) -> dict[str, object]:
        """The line as GeoJSON-like geometry in sheet mm, for shapely and others."""
        return self.curve.__geo_interface__


@dataclass(frozen=True, eq=False)
class TipPoint(ByValue):
    """Where the tip of a gore, or a neighbour's seam across, meets a side edge of a panel.

    Parameters
    ----------
    edge : {"front", "back"}
    point : ndarray, shape (2,)
        In sheet mm.
    piece : str
        Name of the gore, or of the piece above that seam.
    """

    edge: EdgeName
    point: FloatArray
    piece: str

    def __post_init__(self) -> None:
        read_only(self, "point")


@dataclass(frozen=True, eq=False)
class Slit(ByValue):
    """A line along which a panel is cut open from its top or its bottom, for a gore.

    Parameters
    ----------
    piece : str
        Name of the gore.
    curve : Curve
        In sheet mm, running upwards; one end lies on the panel's edge, at the other is the
        gore's tip.
    opens_at : {"top", "bottom"}
    ident : str
        Id of the element it was drawn with.
    """

    piece: str
    curve: Curve
    opens_at: Literal["top", "bottom"]
    ident: str = ""

    @property
    def tip(self) -> FloatArray:
        """Its inner end in sheet mm, shape (2,)."""
        return self.curve.end if self.opens_at == "bottom" else self.curve.start


@dataclass(frozen=True)
class Span:
    """A part of a side edge, between two of its points, by the names that these have.

    Parameters
    ----------
    low, high : str
        Empty for the edge's lower and upper end.
    slit : str
        The gore's name where it is a side of its slit: the part in front of the slit has its
        back edge there, the part behind it its front edge.
    """

    low: str = ""
    high: str = ""
    slit: str = ""


@dataclass(frozen=True)
class Corners:
    """Positions of the four corners on the outline, and which way the outline runs.

    Those at the tip of a gore are one.
    """

    front_bottom: float
    front_top: float
    back_top: float
    back_bottom: float
    runs_up_front: bool

    @classmethod
    def between(cls, front: Curve, top: Curve, back: Curve, bottom: Curve) -> tuple[Curve, Corners]:
        """The closed outline of four edges that meet at their ends, and its corners.

        Parameters
        ----------
        front, top, back, bottom : Curve
            Front and back run from the bottom to the top, top and bottom from front to back.

        Returns
        -------
        (Curve, Corners)
            It runs up the front.
        """
        outline = Curve.chain([front, top, back.reversed(), bottom.reversed()], closed=True)
        over, down, behind = np.cumsum([len(front), len(top), len(back)], dtype=float).tolist()
        return outline, cls(0.0, over, down, behind, True)


@dataclass(frozen=True, eq=False)
class Panel(ByValue):
    """One vertical piece of the corset, in sheet mm.

    Parameters
    ----------
    name : str
        Unique in the pattern.
    ident : str
        Id of the element its outline was drawn with.
    outline : Curve
        The net outline (stitch line), closed.
    frame : Frame
    corners : Corners
    waist : Level or None
        None for a piece that does not reach the waist: a gore, set in a seam.
    levels : tuple of Level
        All other full level lines, from the top down.
    marks : tuple of Mark
        Notches, grainline, bone channels and other lines.
    texts : tuple of Text
    made_of : tuple of str
        Names of the draft's panels that a layer has in this one piece, from front to back; or of
        the one panel that it is a piece of; empty where it is a panel of the draft.
    tips : tuple of TipPoint
        Where gores end on its side edges, and seams across its neighbours.
    pieces : tuple of Panel
        From the bottom up, where it is cut in several that stand on each other.
    parted : frozenset of str
        Edges at which a piece is sewn to others of the same panel.
    slits : tuple of Slit
        Where it is cut open for gores, from front to back.

    Examples
    --------
    >>> from panelshift import DraftPanel, pattern_from_panels
    >>> box = [(0, 0), (60, 0), (60, 160), (0, 160)]
    >>> panel = pattern_from_panels([DraftPanel("one", box, [(0, 90), (60, 90)])]).panels[0]
    >>> panel.waist_width
    60.0
    >>> panel.edge("back").vertices.tolist()  # from the bottom to the top; y runs downwards
    [[60.0, 160.0], [60.0, 0.0]]
    >>> from shapely.geometry import shape
    >>> shape(panel).area
    9600.0
    """

    name: str
    ident: str
    outline: Curve
    frame: Frame = field(repr=False)
    corners: Corners = field(repr=False)
    waist: Level | None = field(repr=False)
    levels: tuple[Level, ...] = field(default=(), repr=False)
    marks: tuple[Mark, ...] = field(default=(), repr=False)
    texts: tuple[Text, ...] = field(default=(), repr=False)
    made_of: tuple[str, ...] = field(default=(), repr=False)
    tips: tuple[TipPoint, ...] = field(default=(), repr=False)
    pieces: tuple[Panel, ...] = field(default=(), repr=False)
    parted: frozenset[EdgeName] = field(default=frozenset(), repr=False)
    slits: tuple[Slit, ...] = field(default=(), repr=False)

    @property
    def length(self) -> float:
        """Length round its net outline in mm; `outline` and `edge` have points and tangents."""
        return self.outline.length

    @property
    def area(self) -> float:
        """Area within its net outline in mm2."""
        return self.outline.area

    @property
    def centroid(self) -> FloatArray:
        """Centre of gravity of that area in sheet mm, shape (2,)."""
        return self.outline.centroid

    @property
    def pointed(self) -> Literal["top", "bottom"] | None:
        """Which end of a gore is its tip; None for a panel with four edges."""
        if self.corners.front_top == self.corners.back_top:
            return "top"
        return "bottom" if self.corners.front_bottom == self.corners.back_bottom else None

    @property
    def waist_width(self) -> float:
        """Width at the waist in mm; 0 for a piece that does not reach it."""
        return 0.0 if self.waist is None else self.waist.width

    @property
    def middle(self) -> FloatArray:
        """Where its name may stand: the middle of its waist, or of all that reaches none."""
        if self.waist is None:
            return np.asarray(self.outline.bounds().mean(axis=0))
        return self.frame.origin

    @property
    def level_lines(self) -> tuple[Level, ...]:
        """The waist, if the piece reaches it, and all other full level lines."""
        return self.levels if self.waist is None else (self.waist, *self.levels)

    def waist_end(self, edge: EdgeName) -> FloatArray | None:
        """Where the waist meets an edge.

        Parameters
        ----------
        edge : {"front", "back", "top", "bottom"}

        Returns
        -------
        ndarray, shape (2,), or None
            In sheet mm; None if it does not, as the top and the bottom never do.

        Raises
        ------
        UnknownNameError
            If there is no such edge.
        """
        UnknownNameError.unless("edge", edge, EDGE_NAMES)
        if self.waist is None or edge not in ("front", "back"):
            return None
        return self.waist.curve.start if edge == "front" else self.waist.curve.end

    def edge(self, name: EdgeName) -> Curve:
        """One of the four edges as an open curve in sheet mm.

        Front and back run from the bottom to the top, top and bottom from front to back.

        Parameters
        ----------
        name : {"front", "back", "top", "bottom"}

        Returns
        -------
        Curve

        Raises
        ------
        UnknownNameError
            If there is no such edge.
        """
        UnknownNameError.unless("edge", name, EDGE_NAMES)
        return self._edges[name]

    @cached_property
    def _edges(self) -> dict[EdgeName, Curve]:
        return {name: self._edge(name) for name in EDGE_NAMES}

    def _edge(self, name: EdgeName) -> Curve:
        c = self.corners
        start, end = {
            "front": (c.front_bottom, c.front_top),
            "back": (c.back_bottom, c.back_top),
            "top": (c.front_top, c.back_top),
            "bottom": (c.front_bottom, c.back_bottom),
        }[name]
        if start == end:
            # The tip of a gore: an edge of no length.
            tip = self.outline.points([start])
            return Curve.trusted(line_control(tip, tip), np.array([LINE]))
        with_outline = c.runs_up_front == (name in ("front", "top"))
        if with_outline:
            return self.outline.piece(start, end)
        return self.outline.piece(end, start).reversed()

    def stretch(self, edge: EdgeName, span: Span | None) -> Curve:
        """A part of a side edge, or a side of a slit, running upwards.

        Parameters
        ----------
        edge : {"front", "back"}
        span : Span or None
            The whole edge if it is None.

        Returns
        -------
        Curve

        Raises
        ------
        UnknownNameError
            If there is no such edge, or the panel no slit or point of the span's.
        """
        curve = self.edge(edge)
        if span is None:
            return curve
        WrongTypeError.unless(span, Span, "the span of an edge", "one that a Seam has, or None")
        if span.slit:
            slits = {slit.piece: slit.curve for slit in self.slits}
            UnknownNameError.unless("slit of a gore", span.slit, tuple(slits))
            return slits[span.slit]
        at = {tip.piece: tip.point for tip in self.tips if tip.edge == edge}
        for name in (span.low, span.high):
            if not isinstance(name, str) or name:
                UnknownNameError.unless("point on the edge", name, tuple(at))
        low, high = (
            nearest_position(curve, at[name])[0] if name else end
            for name, end in ((span.low, 0.0), (span.high, float(len(curve))))
        )
        return curve.piece(low, high)

    def runs(self) -> tuple[tuple[EdgeName, Curve], ...]:
        """The outline's edges head to tail: up the front, over the top and back.

        Returns
        -------
        tuple of (name, Curve)
            front (upwards), top (to the back), back (downwards), bottom (to the front); without
            the one at a gore's tip, which has no length.
        """
        whole: tuple[tuple[EdgeName, Curve], ...] = (
            ("front", self.edge("front")),
            ("top", self.edge("top")),
            ("back", self.edge("back").reversed()),
            ("bottom", self.edge("bottom").reversed()),
        )
        return tuple(run for run in whole if run[0] != self.pointed)

    def is_straight(self, name: EdgeName) -> bool:
        """Whether an edge is straight, as a busk or lacing edge is.

        Parameters
        ----------
        name : {"front", "back", "top", "bottom"}

        Returns
        -------
        bool
            True if it bulges at most 0.5 mm from its chord.

        Raises
        ------
        UnknownNameError
            If there is no such edge.
        """
        points = self.edge(name).flatten()
        chord = points[-1] - points[0]
        size = float(np.hypot(*chord))
        if size == 0.0:
            return False
        offset = points - points[0]
        bulge = np.abs(chord[0] * offset[:, 1] - chord[1] * offset[:, 0]).max() / size
        return bool(bulge <= STRAIGHT_EDGE_MM)

    @held_to_types
    def larger(self, wider: float, longer: float) -> Panel:
        """The panel with everything on it drawn wider and longer, about its waist's middle.

        Parameters
        ----------
        wider, longer : float
            Factors from front to back and along the panel.

        Returns
        -------
        Panel

        Raises
        ------
        PatternError
            If a factor is not above 0, or carries it beyond 100 m.
        """
        if not (0.0 < wider < float("inf") and 0.0 < longer < float("inf")):
            raise PatternError(
                f"a pattern drawn wider by {wider:g} and longer by {longer:g}",
                remedy="Give factors above 0; 1 leaves it as it is.",
            )
        drawn = self._drawn_by(self.frame.larger(wider, longer), longer)
        if np.abs(drawn.outline.control).max() > LONGEST_MM:
            raise PatternError(
                f"a pattern drawn wider by {wider:g} and longer by {longer:g} reaches beyond 100 m",
                remedy="Give factors such as 1.02; 1 leaves it as it is.",
            )
        return drawn

    def mirrored(self) -> Panel:
        """The panel turned over about an upright line: its front comes to lie where its back did.

        Returns
        -------
        Panel
            Mirrored about the sheet's left border; words on it can still be read.
        """
        frame = self.frame
        over = self._drawn_by(_OVER, 1.0)
        return replace(
            over,
            frame=Frame(*(_OVER[:, :2] @ one for one in (frame.origin, frame.across, frame.up))),
            pieces=tuple(piece.mirrored() for piece in self.pieces),
            texts=tuple(
                replace(text, angle=-text.angle, align=_TURNED_ALIGN[text.align])
                for text in over.texts
            ),
        )

    def _drawn_by(self, matrix: FloatArray, longer: float) -> Panel:
        """All that is drawn on it under an affine map of the sheet that makes it longer so much."""
        levels, count = self.level_lines, len(self.level_lines)
        curves = [self.outline, *(level.curve for level in levels), *(m.curve for m in self.marks)]
        outline, *lines = transformed([*curves, *(slit.curve for slit in self.slits)], matrix)
        others = iter(lines[count:])
        drawn = [
            replace(level, curve=line, height=longer * level.height)
            for level, line in zip(levels, lines[:count], strict=True)
        ]
        first = 0 if self.waist is None else 1
        marks = [replace(m, curve=c) for m, c in zip(self.marks, others, strict=False)]
        texts = [
            replace(text, anchor=matrix[:, :2] @ text.anchor + matrix[:, 2]) for text in self.texts
        ]
        return replace(
            self,
            outline=outline,
            waist=drawn[0] if first else None,
            levels=tuple(drawn[first:]),
            marks=tuple(marks),
            texts=tuple(texts),
            tips=tuple(
                replace(tip, point=matrix[:, :2] @ tip.point + matrix[:, 2]) for tip in self.tips
            ),
            pieces=tuple(piece._drawn_by(matrix, longer) for piece in self.pieces),
            slits=tuple(replace(s, curve=c) for s, c in zip(self.slits, others, strict=True)),
        )

    def moved(self, matrix: FloatArray, frame: Frame) -> Panel:
        """The panel turned and moved on the sheet, its heights read in other axes.

        Parameters
        ----------
        matrix : ndarray, shape (2, 3)
            Affine map of sheet mm.
        frame : Frame
            The axes that it has then.

        Returns
        -------
        Panel

        Raises
        ------
        CurveError
            If the matrix has another shape, or is not of finite numbers.
        WrongTypeError
            If the frame is none.
        """
        WrongTypeError.unless(frame, Frame, "the frame of a panel", "a Frame")
        drawn = self._drawn_by(affine(matrix), 1.0)
        levels = []
        for level in drawn.levels:
            ends = frame.to_panel([level.curve.start, level.curve.end])
            levels.append(replace(level, height=float(ends[:, 1].mean()) + 0.0))
        return replace(drawn, frame=frame, levels=tuple(levels))

    @property
    def __geo_interface__(self) -> dict[str, object]:
        """The net outline as a GeoJSON-like polygon in sheet mm, for shapely and others."""
        return self.outline.__geo_interface__

    def _repr_svg_(self) -> str:
        return panels_picture([(self.name, [self])], self.name)

    def level(self, name: str) -> Level | None:
        """The level line of that name, the waist included.

        Parameters
        ----------
        name : str

        Returns
        -------
        Level or None
            None if the panel has none of that name.
        """
        for level in self.level_lines:
            if isinstance(name, str) and level.name == name:
                return level
        return None


def grain_of(panel: Panel) -> tuple[FloatArray, bool] | None:
    """Ends of the drafted grainline, bottom first, and whether it is a bare line without heads."""
    lines = [mark.curve.vertices for mark in panel.marks if mark.kind == "grainline"]
    if not lines:
        return None
    # The longest stretch is the line itself, the others its arrow heads.
    starts = np.concatenate([corners[:-1] for corners in lines])
    ends = np.concatenate([corners[1:] for corners in lines])
    k = int(np.argmax(np.hypot(*(ends - starts).T)))
    low, high = sorted((starts[k], ends[k]), key=lambda point: float(point @ panel.frame.up))
    return np.array([low, high]), len(starts) == 1


_COLOURS = ("#0b6e4f", "#14486b", "#b3541e", "#7a1f4b", "#3d3d3d", "#6a4c93")
_DASHES = ("", "6 2", "2 1.5", "8 1.5 1.5 1.5", "0.8 1.2", "12 1.5 1.5 1.5 1.5 1.5")


def panels_picture(layers: Sequence[tuple[str, Sequence[Panel]]], title: str) -> str:
    """SVG text for notebooks: the stitch lines of layers, by their names, on top of each other.

    The first layer's lines are drawn too, in grey, and its panels' names.
    """
    outlines = [panel.outline.flatten(0.2) for _, panels in layers for panel in panels]
    # A fabric may lie on no panel.
    outlines = outlines or [np.zeros((1, 2))]
    low = np.vstack(outlines).min(axis=0) - 8.0
    high = np.vstack(outlines).max(axis=0) + 8.0
    x, y, width, height = (number(float(v)) for v in (*low, *(high - low)))
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="{x} {y} {width} {height}" '
        f'width="100%" style="max-height:30em" fill="none" font-family="sans-serif">'
        f"<title>{escape(title)}</title>"
    ]
    for index, (name, panels) in enumerate(layers):
        dash, colour = _DASHES[index % len(_DASHES)], _COLOURS[index % len(_COLOURS)]
        parts.append(
            f'<g stroke="{colour}" stroke-width="0.7"'
            + (f' stroke-dasharray="{dash}"' if dash else "")
            + f"><title>{escape(name)}</title>"
        )
        parts += [*(_path(panel.outline) for panel in panels), "</g>"]
    parts.append('<g stroke="#6b746f" stroke-width="0.4">')
    for panel in layers[0][1]:
        parts += [_path(level.curve) for level in panel.level_lines]
        parts += [_path(mark.curve) for mark in panel.marks]
        parts += [_path(slit.curve) for slit in panel.slits]
    parts.append('</g><g fill="#1d2321" font-size="9" text-anchor="middle">')
    for panel in layers[0][1]:
        x, y = (number(float(v)) for v in panel.middle + 12.0 * panel.frame.up)
        parts.append(f'<text x="{x}" y="{y}">{escape(panel.name)}</text>')
    return "".join([*parts, "</g></svg>"])


def _path(curve: Curve) -> str:
    return f'<path d="{path_data(curve)}"/>'
