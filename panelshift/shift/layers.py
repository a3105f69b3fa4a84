"""Shift a whole pattern to every layer of a stack."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np
import numpy.typing as npt

from ..body.turn import TurnOfCloth, one_height
from ..construction.growth import Growth
from ..construction.laying import Lay, lay
from ..construction.leeway import Leeway, leeway_of
from ..construction.sewn import Sewn
from ..errors import ShiftError, StackNameError, UnknownNameError
from ..files.plain_values import held_to_types
from ..outline import FloatArray
from ..outline.bezier import IntArray
from ..outline.by_value import ByValue
from ..outline.planar import self_crossings
from ..pattern.panel import panels_picture
from ..pattern.pattern import Pattern, Seam, SeamLengths
from ..stack import Fabric, Stack
from .carrier import Carrier
from .cut_in_one import pieces_of, refuse_unjoinable
from .field import Fields
from .joined_piece import JoinedPiece
from .split_panels import apart, refuse_unsplittable, split_panels

_CHECK_FLATNESS_MM = 0.05
"""Flatness for looking whether edges cross: far finer than any crossing that matters."""

_VALUES_AT_ONCE = 1_000_000
"""Points of curves times layers held in one array: 8 MB, whatever the pattern's size."""

_EVERY = 8
"""One of so many of the profile's heights is looked at: every 2 mm."""


@dataclass(frozen=True, eq=False)
class LayerPattern(ByValue):
    """The pattern of one layer.

    Parameters
    ----------
    fabric : Fabric
    place : int
        Place in the stack, 0 next to the body.
    whole : Pattern
        All panels of the draft, shifted as far as the fabric is where it lies; `covered` says on
        which of them it does, and `pattern` has those alone.
    distances : ndarray, shape (panels,)
        Distance of its mid-surface from the drafted layer's on each panel, in mm.
    drafted : bool
        Whether this is the drafted layer: its curves are those that were read.

    Examples
    --------
    A front facing covers the first of two panels only:

    >>> from panelshift import DraftPanel, pattern_from_panels, shift_pattern
    >>> pattern = pattern_from_panels([
    ...     DraftPanel("front", [(0, 0), (60, 0), (60, 160), (0, 160)], [(0, 90), (60, 90)]),
    ...     DraftPanel("back", [(80, 0), (150, 0), (150, 160), (80, 160)], [(80, 90), (150, 90)])])
    >>> facing = Fabric("facing", 0.4, panels=frozenset({"front"}))
    >>> layer = shift_pattern(pattern, Stack([Fabric("drill", 0.6), facing])).layer("facing")
    >>> layer.covered, layer.distances.round(3).tolist()  # mm from the drill's middle
    ((0,), [0.5, 0.3])
    >>> [panel.name for panel in layer.pattern], len(layer.whole)
    (['front'], 2)
    """

    fabric: Fabric
    place: int
    whole: Pattern = field(repr=False)
    distances: FloatArray
    drafted: bool

    def _repr_svg_(self) -> str:
        return panels_picture([(self.fabric.name, self.pattern.panels)], self.fabric.name)

    @cached_property
    def pattern(self) -> Pattern:
        """The panels that this fabric covers, as sewn: what is counted, walked and listed.

        Returns
        -------
        Pattern
            `whole` itself if it covers all.
        """
        return self._covered_of(self.whole)

    def _covered_of(self, whole: Pattern) -> Pattern:
        return whole.part([panel.name for panel in whole if self.fabric.covers(panel.name)])

    @property
    def area(self) -> float:
        """Area of `pattern`, the panels that it covers, in mm2."""
        return self.pattern.area

    @property
    def __geo_interface__(self) -> dict[str, object]:
        """Net outlines of the panels that it covers, as a GeoJSON-like collection in sheet mm."""
        return self.pattern.__geo_interface__

    @property
    def covered(self) -> tuple[int, ...]:
        """Indices in `whole` of the panels that this fabric covers."""
        return tuple(
            i for i, panel in enumerate(self.whole.panels) if self.fabric.covers(panel.name)
        )

    @cached_property
    def as_cut(self) -> Pattern:
        """`pattern` as it is drawn for cutting: larger by what sewing takes up of the fabric.

        Returns
        -------
        Pattern
            `pattern` itself if nothing is taken up.
        """
        return (
            self.pattern if self.whole_as_cut is self.whole else self._covered_of(self.whole_as_cut)
        )

    @cached_property
    def whole_as_cut(self) -> Pattern:
        """`whole` as it is drawn for cutting.

        Returns
        -------
        Pattern
            `whole` itself if nothing is taken up.
        """
        larger = self.fabric.cut_larger
        if larger == (1.0, 1.0):
            return self.whole
        panels = tuple(panel.larger(*larger) for panel in self.whole.panels)
        return replace(self.whole, panels=panels)

    @cached_property
    def _pieces(self) -> tuple[Pattern, tuple[JoinedPiece, ...]]:
        return pieces_of(self.whole, self.fabric)

    @property
    def joined(self) -> tuple[JoinedPiece, ...]:
        """Its pieces of several panels, and what joining them distorts.

        Returns
        -------
        tuple of JoinedPiece
            Empty if each panel is a piece.

        Raises
        ------
        ShiftError
            If panels cannot be laid flat in one piece.
        """
        return self._pieces[1] if self.fabric.cut_in_one else ()

    @cached_property
    def pieced(self) -> LayerPattern:
        """The layer by the pieces that are cut of it: several panels in one, or panels split.

        Returns
        -------
        LayerPattern
            Itself if each panel is a piece; else a pattern of pieces, in the same order.

        Raises
        ------
        ShiftError
            If panels cannot be laid flat in one piece.
        """
        whole = self._sewn_up.whole
        if self.fabric.split_at:
            whole = split_panels(whole, self.fabric)
        return self._of_pieces(apart(whole) if any(panel.pieces for panel in whole) else whole)

    @property
    def _sewn_up(self) -> LayerPattern:
        """The layer by its pieces of several panels, before any panel is split."""
        return self._of_pieces(self._pieces[0]) if self.fabric.cut_in_one else self

    def _of_pieces(self, whole: Pattern) -> LayerPattern:
        if whole is self.whole:
            return self
        own = [tuple(p.made_of or (p.name,)) for p in whole]
        covered = frozenset(
            p.name for p, names in zip(whole, own, strict=True) if self.fabric.covers(names[0])
        )
        far = [np.mean([self.distances[self.whole.index(name)] for name in names]) for names in own]
        fabric = replace(self.fabric, panels=covered, cut_in_one=(), split_at=())
        return LayerPattern(fabric, self.place, whole, np.array(far), self.drafted)

    @held_to_types
    def walk(self, *, as_cut: bool = False) -> tuple[SeamLengths, ...]:
        """Walk the seams between panels that this fabric covers, or between its own pieces.

        Parameters
        ----------
        as_cut : bool
            Whether along the lines that are drawn for cutting, rather than as sewn.

        Returns
        -------
        tuple of SeamLengths
            Lengths in mm; each seam by its panels' indices in `whole`.
        """
        whole = self._sewn_up.whole_as_cut if as_cut else self._sewn_up.whole
        covered = set(self.covered)
        return tuple(
            replace(walked, seam=seam)
            for walked, seam in zip(whole.walk(), self.seams, strict=True)
            if seam.first in covered and seam.second in covered
        )

    @property
    def seams(self) -> tuple[Seam, ...]:
        """Seams of the whole pattern that this layer has: none within a piece of several panels."""
        gone = {
            place
            for group in self.fabric.cut_in_one
            for place in sorted(self.whole.index(name) for name in group)[:-1]
        }
        return tuple(seam for seam in self.whole.seams if seam.first not in gone)


@dataclass(frozen=True, eq=False)
class Shifted(ByValue):
    """All layers of a pattern and the turn that made them.

    Parameters
    ----------
    layers : tuple of LayerPattern
        From the body outwards.
    turn : TurnOfCloth
        Growth for each mm of distance.
    stack : Stack
    grown : Growth
        Growth of every layer, by panel and height.
    lay : Lay, optional
        What every layer lies over, where it is said how the corset is sewn.

    Examples
    --------
    >>> from panelshift import DraftPanel, pattern_from_panels, shift_pattern
    >>> box = [(0, 0), (60, 0), (60, 160), (0, 160)]
    >>> pattern = pattern_from_panels([DraftPanel("one", box, [(0, 90), (60, 90)])])
    >>> shifted = shift_pattern(pattern, Stack([Fabric("lining", 0.2), Fabric("drill", 0.6)]))
    >>> shifted.growth_table().round(4).tolist()  # pi d on a half pattern, d = 0.4 mm
    [[0.0], [1.2566]]
    """

    layers: tuple[LayerPattern, ...]
    turn: TurnOfCloth = field(repr=False)
    stack: Stack = field(repr=False)
    grown: Growth = field(repr=False, compare=False)
    lay: Lay | None = field(default=None, repr=False, compare=False)

    @cached_property
    def leeway(self) -> Leeway | None:
        """How well growth is known at the levels of all panels, where it is said how it is sewn.

        Returns
        -------
        Leeway or None
        """
        if self.lay is None:
            return None
        pattern = self.turn.pattern
        heights = {level.height for panel in pattern.panels for level in panel.levels}
        heights |= {0.0, *map(pattern.level_height, pattern.level_names())}
        return leeway_of(self.lay, np.array(sorted(heights)))

    @held_to_types
    def layer(self, name: str) -> LayerPattern:
        """The layer of a fabric's name.

        Parameters
        ----------
        name : str

        Returns
        -------
        LayerPattern

        Raises
        ------
        UnknownNameError
            If there is none; a `KeyError` that lists the names there are.
        """
        return self.layers[UnknownNameError.place("layer", name, self.stack.names)]

    def growth_table(self, height: npt.ArrayLike = 0.0) -> FloatArray:
        """Growth of every panel in every layer at a height, or at many.

        Parameters
        ----------
        height : array_like
            In mm above the waist.

        Returns
        -------
        ndarray, shape (layers, panels), and then that of the heights
            In mm, across the panel; negative inside the drafted layer.

        Raises
        ------
        ShiftError
            If no panel reaches to one of the heights.

        Examples
        --------
        >>> from panelshift import open_job, job_layers
        >>> shifted = job_layers(open_job("sample_patterns/hourglass.toml"))
        >>> shifted.growth_table().shape, shifted.growth_table([-80.0, 0.0, 120.0]).shape
        ((6, 6), (6, 6, 3))
        """
        heights = self.turn.within_reach(height)
        found = self.grown.on(heights.ravel())
        return np.asarray(found.reshape(*found.shape[:2], *heights.shape))

    def _repr_svg_(self) -> str:
        return panels_picture(
            [(layer.fabric.name, layer.pattern.panels) for layer in self.layers if layer.covered],
            self.turn.pattern.source or "layers",
        )

    def growth(self, layer: int | str, panel: int | str, height: float) -> float:
        """Growth of one panel in one layer at a height.

        Parameters
        ----------
        layer : int or str
            Name of its fabric, or place in the stack, 0 next to the body.
        panel : int or str
            Name, or place in the pattern.
        height : float
            In mm above the waist.

        Returns
        -------
        float
            In mm, across the panel.

        Raises
        ------
        UnknownNameError
            If there is no such layer or panel.
        ShiftError
            If no panel reaches to that height.
        """
        place = UnknownNameError.place("layer", layer, self.stack.names)
        self.turn.within_reach(height)
        return self.grown.at(place, self.turn.place(panel), one_height(height))


def anchors(pattern: Pattern) -> FloatArray:
    """Where each panel stays put: 0 at a straight open front edge, 1 at a back one, else 1/2.

    Returns: ndarray, shape (panels,).
    """
    result = np.full(len(pattern.panels), 0.5)
    for index, edge in sorted(pattern.open_edges()):
        panel = pattern.panels[index]
        if panel.is_straight(edge):
            result[index] = 0.0 if edge == "front" else 1.0
    return result


def shift(pattern: Pattern, stack: Stack, turn: TurnOfCloth, sewn: Sewn | None = None) -> Shifted:
    """Shift every panel to every layer.

    *turn*: Of the same pattern. *sewn*: How it is sewn; all layers lie flat on each other if it is
    not said.

    Raises `StackError` if a fabric covers a panel that is not in the pattern. Raises
    `ConstructionError` if what is said of the sewing does not fit the pattern. Raises `ShiftError`
    if a layer would fold a panel over or make its outline cross itself.
    """
    names = [panel.name for panel in pattern.panels]
    for fabric in stack.fabrics:
        unknown = sorted((fabric.panels or frozenset()) - set(names))
        if unknown:
            raise StackNameError(
                f"fabric {fabric.name!r} covers panel {unknown[0]!r}, which the pattern has not",
                remedy=f"Use the pattern's panel names: {', '.join(names)}.",
                source=pattern.source,
                element=fabric.name,
            )
        refuse_unjoinable(pattern, fabric)
        refuse_unsplittable(pattern, fabric)
    laid = lay(sewn, turn) if sewn else None
    growth = laid.growth if laid else Growth.flat(stack, turn)
    moved = _moved(pattern, stack, turn, growth)
    layers = [
        LayerPattern(
            fabric, place, moved[place], growth.distances[place], place == stack.drafted_index
        )
        for place, fabric in enumerate(stack.fabrics)
    ]
    return Shifted(tuple(layers), turn, stack, growth, laid)


def _moved(pattern: Pattern, stack: Stack, turn: TurnOfCloth, growth: Growth) -> list[Pattern]:
    """The pattern of each layer; where nothing moves, the draft itself."""
    result = [pattern] * len(growth.distances)
    fixed = anchors(pattern)
    carrier = Carrier.of(pattern)
    away = growth.moves
    at_once = max(_VALUES_AT_ONCE // carrier.size, 1)
    for first in range(0, len(away), at_once):
        places = away[first : first + at_once]
        fields = Fields.of(turn, growth.part(places), fixed)
        _refuse_folds(pattern, stack, places, fields)
        carried = carrier.carry(fields)
        outlines = [panel.outline for panels in carried for panel in panels]
        crossed = self_crossings(outlines, _CHECK_FLATNESS_MM)
        if crossed:
            number, at = crossed[0]
            layer, index = divmod(number, len(pattern.panels))
            height = float(pattern.panels[index].frame.to_panel(at)[1])
            name = stack.fabrics[places[layer]].name
            raise _fold(pattern, index, name, height, "its edges would cross")
        for place, panels in zip(places.tolist(), carried, strict=True):
            result[place] = replace(pattern, panels=panels)
    return result


def _refuse_folds(pattern: Pattern, stack: Stack, places: IntArray, fields: Fields) -> None:
    """Refuse fields whose Jacobian is not positive somewhere on a panel."""
    heights = fields.turn.profile.heights[::_EVERY]
    reach = [p.frame.to_panel(p.outline.control.reshape(-1, 2))[:, 1] for p in pattern.panels]
    low, high = (np.array([end(v) for v in reach]) for end in (np.min, np.max))
    within = (heights >= low[:, None]) & (heights <= high[:, None])
    narrow = fields.narrow(heights) & within
    turned = fields.lengthening.turned(low, high)
    faulty = np.argwhere(narrow.any(axis=2) | np.isfinite(turned))
    if len(faulty) == 0:
        return
    layer, index = faulty[0].tolist()
    what, height = "it would fold over on itself", float(turned[layer, index])
    if narrow[layer, index].any():
        what = "it would have no width left"
        height = float(heights[np.argmax(narrow[layer, index])])
    raise _fold(pattern, index, stack.fabrics[places[layer]].name, height, what)


def _fold(pattern: Pattern, index: int, layer: str, height: float, what: str) -> ShiftError:
    panel = pattern.panels[index]
    return ShiftError(
        f"panel {panel.name!r} in layer {layer!r}, {height:+.0f} mm from the waist: {what}",
        remedy="Check the thicknesses (in mm) and the waist of the pattern: the layer lies "
        "deeper than the curve of the body allows.",
        source=pattern.source,
        element=panel.ident,
    )
