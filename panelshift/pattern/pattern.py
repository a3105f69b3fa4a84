"""A whole pattern: panels in order and the seams between them."""

from __future__ import annotations

import itertools
from collections import Counter
from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from numbers import Integral
from typing import Final, Literal

import numpy as np

from ..errors import PatternError, UnitError, UnknownNameError, WrongTypeError
from ..files.one_line import collapsed
from ..files.plain_values import held_to_types, refuse_misfits
from ..outline import FloatArray
from ..outline.by_value import ByValue
from ..outline.measure import length
from ..units import refuse_other_units, show, to_mm
from .drawing import LeftOut, Remark, refusal
from .panel import EDGE_NAMES, EdgeName, Panel, Span, panels_picture

EdgeKind = Literal["seam", "centre_front", "centre_back", "top", "bottom"]
EDGE_KINDS: Final[tuple[EdgeKind, ...]] = ("seam", "centre_front", "centre_back", "top", "bottom")


@dataclass(frozen=True)
class Seam:
    """Two edges to be sewn together, by panel index and edge.

    Where a gore is set between two panels each edge is sewn in parts: the spans say which. They
    say as well of a gore in a slit which side of it is sewn.
    """

    first: int
    first_edge: EdgeName
    second: int
    second_edge: EdgeName
    first_span: Span | None = None
    second_span: Span | None = None

    @property
    def in_slit(self) -> bool:
        """Whether a gore is sewn to a side of a slit there."""
        return any(span is not None and span.slit for span in (self.first_span, self.second_span))


@dataclass(frozen=True)
class SeamLengths:
    """A walked seam: the two edges' lengths in mm, above and below the waist together."""

    seam: Seam
    name: str
    first: float
    second: float

    @property
    def difference(self) -> float:
        """First less second, in mm."""
        return self.first - self.second


@dataclass(frozen=True, eq=False)
class Pattern(ByValue):
    """Panels in order.

    Parameters
    ----------
    panels : tuple of Panel
        A half pattern from centre front (CF) to centre back (CB); a full pattern right round
        the body, from one edge of the lacing gap at CB to the other.
    full : bool
        Whether both halves are drawn.
    source : str
        Where it was read from.
    ledger : tuple of Remark
        What is to be said of the drawing, with codes; `left_out`, `notes` and `warnings` give
        the same as words.
    whole : Pattern, optional
        The pattern whose panels some of these are, as `part` gives them: it knows which of them
        are neighbours, and where the openings are.
    centre : float, optional
        Position of the centre front in a full pattern: so many panels come before it, a half for
        one that lies across it; half of all if not given.
    words : tuple of str
        What the drawing calls itself, and what is written on it beside the panels.

    Raises
    ------
    PatternError
        If two panels have one name.

    Examples
    --------
    >>> from panelshift import DraftPanel, pattern_from_panels
    >>> pattern = pattern_from_panels([
    ...     DraftPanel("front", [(0, 0), (60, 0), (60, 160), (0, 160)], [(0, 90), (60, 90)]),
    ...     DraftPanel("back", [(80, 0), (150, 0), (150, 160), (80, 160)], [(80, 90), (150, 90)])])
    >>> pattern.waist  # of both halves
    260.0
    >>> [(walked.name, walked.difference) for walked in pattern.walk()]
    [('front to back', 0.0)]
    """

    panels: tuple[Panel, ...]
    full: bool = False
    source: str = field(default="", compare=False)
    ledger: tuple[Remark, ...] = field(default=(), repr=False, compare=False)
    whole: Pattern | None = field(default=None, repr=False, kw_only=True)
    centre: float | None = field(default=None, repr=False, kw_only=True)
    words: tuple[str, ...] = field(default=(), repr=False, compare=False, kw_only=True)

    def __post_init__(self) -> None:
        refuse_misfits(self, "a pattern")
        names = Counter(panel.name for panel in self.panels)
        for name, many in names.most_common(1):
            if many == 1:
                continue
            raise PatternError(
                f"two panels of a pattern are called {name!r}",
                remedy="Give each panel a name of its own, and each panel once: the other half of "
                "a half pattern is its mirror image.",
                element=name,
            )

    def part(self, names: Collection[str]) -> Pattern:
        """Some of the panels, in their order, as a fabric has them that does not cover all.

        Parameters
        ----------
        names : collection of str

        Returns
        -------
        Pattern
            Girths, seams and iteration are of these panels alone. The pattern itself if they are
            all there are.

        Raises
        ------
        UnknownNameError
            If no panel has one of the names.

        Examples
        --------
        >>> from panelshift import DraftPanel, pattern_from_panels
        >>> box, waist = [(0, 0), (60, 0), (60, 160), (0, 160)], [(0, 90), (60, 90)]
        >>> three = pattern_from_panels([DraftPanel(name, box, waist) for name in "abc"])
        >>> ends = three.part({"a", "c"})
        >>> ends.waist, ends.walk(), ends.headline()  # no two of them are neighbours
        (240.0, (), '2 of 3 panels of a half pattern, together 240 mm round the waist')
        """
        # A text is a collection of its letters, some of which may be names.
        asked = None if isinstance(names, str) else names
        # An array that holds a single number says that it can be gone through.
        if isinstance(names, np.ndarray) and not names.ndim:
            asked = None
        WrongTypeError.unless(asked, Iterable, "the names of a part", "a list of panels' names")
        wanted = {self.panels[self.index(name)].name for name in names}
        if len(wanted) == len(self.panels):
            return self
        chosen = tuple(panel for panel in self.panels if panel.name in wanted)
        return replace(self, panels=chosen, whole=self.whole or self)

    @held_to_types
    def larger(self, wider: float, longer: float = 1.0) -> Pattern:
        """The pattern with every panel drawn wider and longer about its waist's middle.

        Parameters
        ----------
        wider, longer : float
            Factors from front to back and along the panels.

        Returns
        -------
        Pattern
            Panels stay where they lie on the sheet; wider ones may come to overlap there.

        Raises
        ------
        PatternError
            If a factor is not above 0, or carries it beyond 100 m.

        Examples
        --------
        >>> from panelshift import DraftPanel, pattern_from_panels
        >>> box, waist = [(0, 0), (60, 0), (60, 160), (0, 160)], [(0, 90), (60, 90)]
        >>> pattern_from_panels([DraftPanel("one", box, waist)]).larger(1.5).waist
        180.0
        """
        whole = None if self.whole is None else self.whole.larger(wider, longer)
        panels = tuple(panel.larger(wider, longer) for panel in self.panels)
        return replace(self, panels=panels, whole=whole)

    def mirrored(self) -> Pattern:
        """The pattern with every panel turned over, and with left and right exchanged.

        Returns
        -------
        Pattern
            A half pattern keeps its order; a full one goes round the other way.

        Examples
        --------
        >>> from panelshift import DraftPanel, pattern_from_panels
        >>> box, waist = [(0, 0), (60, 0), (60, 160), (0, 160)], [(0, 90), (60, 90)]
        >>> pattern = pattern_from_panels([DraftPanel(name, box, waist) for name in "ab"])
        >>> pattern.mirrored()["a"].edge("front").vertices.tolist()
        [[0.0, 160.0], [0.0, 0.0]]
        >>> pattern.mirrored()["a"].edge("back").vertices.tolist()
        [[-60.0, 160.0], [-60.0, 0.0]]
        >>> pattern.mirrored().mirrored() == pattern
        True
        """
        whole = None if self.whole is None else self.whole.mirrored()
        panels = tuple(panel.mirrored() for panel in self.panels)
        centre = None if self.centre is None else len(panels) - self.centre
        panels = other_way_round(panels) if self.full else panels
        return replace(self, panels=panels, whole=whole, centre=centre)

    @property
    def front_place(self) -> float:
        """Position of the centre front in a full pattern: so many panels come before it."""
        return 0.5 * len(self.panels) if self.centre is None else self.centre

    @cached_property
    def _places(self) -> dict[int, int]:
        """Index here by the panel's place in the whole."""
        whole = self.whole or self
        return {whole.index(panel.name): own for own, panel in enumerate(self.panels)}

    @property
    def left_out(self) -> tuple[LeftOut, ...]:
        """Shapes that take no part, each with the reason."""
        return tuple(
            LeftOut(remark.elements[0], remark.words)
            for remark in self.ledger
            if remark.kind == "left out"
        )

    @property
    def notes(self) -> tuple[str, ...]:
        """How doubtful points were settled."""
        return tuple(remark.words for remark in self.ledger if remark.kind == "note")

    @property
    def warnings(self) -> tuple[str, ...]:
        """What the maker should look at."""
        return tuple(remark.words for remark in self.ledger if remark.kind == "warning")

    def refuse_faults(self) -> None:
        """Refuse to go on with a pattern that holds what must be mended first.

        Raises
        ------
        PatternError
            Of the first fault; it says how many more there are.
        """
        if (fault := refusal(self.ledger)) is not None:
            fault.source = self.source
            raise fault

    def _refuse_place(self, index: int) -> None:
        """Refuse a place at which no panel stands: it would be told of as if there were one."""
        if not (isinstance(index, Integral) and 0 <= int(index) < len(self.panels)):
            raise UnknownNameError.of("panel", index, (panel.name for panel in self.panels))

    def ends(self, index: int) -> tuple[EdgeName, EdgeName]:
        """The edges by which a panel's place begins and ends, going along the order.

        Parameters
        ----------
        index : int
            Of the panel.

        Returns
        -------
        (str, str)
            front and back; the other way round on the first half of a full pattern.

        Raises
        ------
        UnknownNameError
            If there is no such panel.
        """
        self._refuse_place(index)
        if self.whole is not None:
            return self.whole.ends(self.whole.index(self.panels[index].name))
        backwards = self.full and index < int(self.front_place)
        return ("back", "front") if backwards else ("front", "back")

    @cached_property
    def seams(self) -> tuple[Seam, ...]:
        """Seams between neighbours in the order; the openings at CF and CB are not among them.

        In a full pattern the centre front is a seam like the others if it lies between two
        panels: a busk is let into it, and its edges must be equally long all the same.
        """
        if self.whole is not None:
            here = self._places
            return tuple(
                replace(seam, first=here[seam.first], second=here[seam.second])
                for seam in self.whole.seams
                if seam.first in here and seam.second in here
            )
        found: list[Seam] = []
        places = self._places_of_pieces
        for one, two in itertools.zip_longest(places, places[1:]):
            found += self._in_slits(one[0])
            found += self._beside(one, two) if two else ()
        for own in places:
            found += [Seam(a, "top", b, "bottom") for a, b in itertools.pairwise(own)]
        return tuple(found)

    def _in_slits(self, index: int) -> Iterator[Seam]:
        """Seams of the gores in a panel's slits."""
        for slit in self.panels[index].slits:
            gore, side = self.index(slit.piece), Span(slit=slit.piece)
            yield Seam(index, "back", gore, "front", side, None)
            yield Seam(gore, "back", index, "front", None, side)

    @cached_property
    def _places_of_pieces(self) -> list[list[int]]:
        """Indices of what stands in each place that is no gore's: one panel, or its pieces."""
        places: list[list[int]] = []
        for k, panel in enumerate(self.panels):
            if "bottom" in panel.parted:
                places[-1].append(k)
            elif panel.pointed is None:
                places.append([k])
        return places

    def stacked(self, index: int) -> list[int]:
        """Indices of the pieces that stand on each other where one does.

        Parameters
        ----------
        index : int
            Of a panel or piece.

        Returns
        -------
        list of int
            From the bottom up; the one alone if it is a panel, or a gore.

        Raises
        ------
        UnknownNameError
            If there is no such panel.
        """
        self._refuse_place(index)
        return next((own for own in self._places_of_pieces if index in own), [index])

    def _beside(self, one: Sequence[int], two: Sequence[int]) -> Iterator[Seam]:
        """Seams from one place to the next, whose pieces meet at the same heights."""
        if len(one) == len(two) == 1:
            yield from self._between(one[0], two[0])
            return
        first, second = self.ends(one[0])[1], self.ends(two[0])[0]
        if len(one) == len(two):
            yield from (Seam(a, first, b, second) for a, b in zip(one, two, strict=True))
            return
        names = ["", *(self.panels[k].name for k in max(one, two, key=len)[1:]), ""]
        spans = [Span(low, high) for low, high in itertools.pairwise(names)]
        if len(one) == 1:
            for b, span in zip(two, spans, strict=True):
                yield Seam(one[0], first, b, second, span, None)
        else:
            for a, span in zip(one, spans, strict=True):
                yield Seam(a, first, two[0], second, None, span)

    def _between(self, one: int, two: int) -> Iterator[Seam]:
        """Seams from a panel to the next that is no gore: around the gores between, from below."""
        first, second = self.ends(one)[1], self.ends(two)[0]
        whole = Span()
        # First come those in the panel's own slits.
        for gore in range(one + 1 + len(self.panels[one].slits), two):
            name = self.panels[gore].name
            if self.panels[gore].pointed == "top":
                own, whole = Span(high=name), replace(whole, low=name)
            else:
                own, whole = Span(low=name), replace(whole, high=name)
            before, behind = self.ends(gore)
            yield Seam(one, first, gore, before, own, None)
            yield Seam(gore, behind, two, second, None, own)
        span = whole if whole != Span() else None
        yield Seam(one, first, two, second, span, span)

    @cached_property
    def _seams_of_panels(self) -> dict[int, tuple[tuple[int, Seam], ...]]:
        found: dict[int, list[tuple[int, Seam]]] = {}
        for number, seam in enumerate(self.seams, start=1):
            for index in dict.fromkeys((seam.first, seam.second)):
                found.setdefault(index, []).append((number, seam))
        return {index: tuple(own) for index, own in found.items()}

    def seams_of(self, index: int) -> tuple[tuple[int, Seam], ...]:
        """Seams of one panel, each with its number: its place among all seams, from 1.

        Parameters
        ----------
        index : int
            Of the panel.

        Returns
        -------
        tuple of (int, Seam)

        Raises
        ------
        UnknownNameError
            If there is no such panel.
        """
        self._refuse_place(index)
        return self._seams_of_panels.get(index, ())

    @cached_property
    def waist_seams(self) -> tuple[Seam, ...]:
        """Those of the seams that the waist crosses: all but the seams of gores that end short."""
        known = self.whole or self

        def crossed(seam: Seam) -> bool:
            panels = self.panels[seam.first], self.panels[seam.second]
            if any(panel.waist is None for panel in panels):
                return False
            span = seam.first_span
            if span is None or any(panel.pointed for panel in panels):
                return True
            names = [name for name in (span.low, span.high) if name in known]
            return all(known[name].waist is None or not known[name].pointed for name in names)

        return tuple(filter(crossed, self.seams))

    def open_edges(self) -> frozenset[tuple[int, EdgeName]]:
        """Edges at the centre front and centre back.

        Returns
        -------
        frozenset of (int, str)
            Panel index and edge name.
        """
        return self._open_edges

    @cached_property
    def _open_edges(self) -> frozenset[tuple[int, EdgeName]]:
        if self.whole is not None:
            here = self._places
            return frozenset((here[k], e) for k, e in self.whole.open_edges() if k in here)
        place = {k: own for own in self._places_of_pieces for k in own}
        last = max(place)
        edges: set[tuple[int, EdgeName]] = {(0, self.ends(0)[0]), (last, self.ends(last)[1])}
        before = int(self.front_place)
        if self.full and before == self.front_place:
            edges |= {(max(k for k in place if k < before), "front"), (before, "front")}
        return frozenset((j, edge) for k, edge in edges for j in place[k])

    def edge_kind(self, index: int, edge: EdgeName) -> EdgeKind:
        """What an edge of a panel is sewn to: its neighbour, an opening, or nothing.

        Parameters
        ----------
        index : int
            Of the panel.
        edge : {"front", "back", "top", "bottom"}

        Returns
        -------
        {"seam", "centre_front", "centre_back", "top", "bottom"}

        Raises
        ------
        UnknownNameError
            If there is no such panel or edge.
        """
        self._refuse_place(index)
        UnknownNameError.unless("edge", edge, EDGE_NAMES)
        if edge == "top" or edge == "bottom":
            return "seam" if edge in self.panels[index].parted else edge
        if (index, edge) not in self.open_edges():
            return "seam"
        return "centre_back" if edge == "back" else "centre_front"

    @property
    def waist(self) -> float:
        """Girth of all panels at the waist in mm: twice the half pattern's, without the gap."""
        drawn = sum(panel.waist_width for panel in self.panels)
        return drawn if self.full else 2.0 * drawn

    @property
    def area(self) -> float:
        """Area within the net outlines of the panels that are drawn, in mm2."""
        return sum(panel.area for panel in self.panels)

    def headline(self, unit: str = "mm") -> str:
        """What the pattern is, in a few words: one half or both, panels, the whole waist.

        Parameters
        ----------
        unit : {"mm", "cm", "in"}

        Returns
        -------
        str

        Raises
        ------
        UnknownNameError
            If there is no such unit.

        Examples
        --------
        >>> from panelshift import DraftPanel, pattern_from_panels
        >>> box, waist = [(0, 0), (60, 0), (60, 160), (0, 160)], [(0, 90), (60, 90)]
        >>> pattern_from_panels([DraftPanel("one", box, waist)]).headline()
        'half pattern of 1 panel, whole waist 120 mm'
        """
        refuse_other_units(unit)
        count, half = len(self.panels), "full" if self.full else "half"
        if self.whole is not None:
            return (
                f"{count} of {len(self.whole.panels)} panels of a {half} pattern, together "
                f"{show(self.waist, unit)} round the waist"
            )
        return (
            f"{half} pattern of {count} panel{'s' * (count != 1)}, "
            f"whole waist {show(self.waist, unit)}"
        )

    def seam_lengths(self) -> FloatArray:
        """Lengths of the two edges of every seam.

        Returns
        -------
        ndarray, shape (seams, 2)
            In mm.
        """
        return np.array([[walked.first, walked.second] for walked in self.walk()]).reshape(-1, 2)

    def edge_lengths(self) -> FloatArray:
        """Lengths of front, top, back and bottom of every panel.

        Returns
        -------
        ndarray, shape (panels, 4)
            In mm.
        """
        return np.array([[length(p.edge(name)) for name in EDGE_NAMES] for p in self.panels])

    @property
    def __geo_interface__(self) -> dict[str, object]:
        """All net outlines as a GeoJSON-like collection in sheet mm."""
        return {
            "type": "GeometryCollection",
            "geometries": [panel.__geo_interface__ for panel in self.panels],
        }

    def _repr_svg_(self) -> str:
        return panels_picture([("draft", self.panels)], self.source or "pattern")

    def index(self, name: str) -> int:
        """Index of the panel of that name.

        Parameters
        ----------
        name : str
            As the file has it: spaces at its ends do not count.

        Returns
        -------
        int

        Raises
        ------
        UnknownNameError
            If there is none; a `KeyError` that lists the names there are.
        """
        names = [panel.name for panel in self.panels]
        if isinstance(name, str):
            for wanted in (name, collapsed(name)):
                if wanted in names:
                    return names.index(wanted)
        raise UnknownNameError.of("panel", name, (panel.name for panel in self.panels))

    def __len__(self) -> int:
        """How many panels are drawn."""
        return len(self.panels)

    def __iter__(self) -> Iterator[Panel]:
        """Panels in order."""
        return iter(self.panels)

    def __getitem__(self, key: int | str) -> Panel:
        """The panel of a name, or at a place in the order.

        Parameters
        ----------
        key : int or str

        Returns
        -------
        Panel

        Raises
        ------
        UnknownNameError
            If there is no such name, or it is neither a name nor a place.
        IndexError
            If there is no such place.
        """
        try:
            return self.panels[self.index(key) if isinstance(key, str) else key]
        except TypeError:
            raise UnknownNameError.of("panel", key, (panel.name for panel in self)) from None

    def __contains__(self, name: object) -> bool:
        """Whether a panel has a name, or is one of these."""
        named = isinstance(name, str)
        return any(name is panel or (named and name == panel.name) for panel in self.panels)

    def walk(self) -> tuple[SeamLengths, ...]:
        """Walk every seam: measure the edges that are to be sewn together.

        Returns
        -------
        tuple of SeamLengths
            Lengths in mm, one for each of `seams`.
        """
        return tuple(
            SeamLengths(
                seam,
                f"{self.panels[seam.first].name} to {self.panels[seam.second].name}",
                length(self.panels[seam.first].stretch(seam.first_edge, seam.first_span)),
                length(self.panels[seam.second].stretch(seam.second_edge, seam.second_span)),
            )
            for seam in self.seams
        )

    def level_names(self) -> tuple[str, ...]:
        """Names of all levels drawn on any panel.

        Returns
        -------
        tuple of str
            From the top down, the waist among them.
        """
        heights: dict[str, list[float]] = {}
        for panel in self.panels:
            for level in panel.level_lines:
                heights.setdefault(level.name, []).append(level.height)
        return tuple(sorted(heights, key=lambda name: -float(np.mean(heights[name]))))

    def level_height(self, name: str) -> float:
        """Mean height of a level over the panels that carry it.

        Parameters
        ----------
        name : str
            One of `level_names`.

        Returns
        -------
        float
            In mm above the waist.

        Raises
        ------
        UnknownNameError
            If no panel carries it.
        """
        found = [level.height for panel in self.panels if (level := panel.level(name))]
        if not found:
            raise UnknownNameError.of("level", name, self.level_names())
        return float(np.mean(found))

    @held_to_types
    def height_of(self, key: str) -> float | None:
        """Height that a key of a measure means.

        Parameters
        ----------
        key : str
            A level of the pattern, or a signed length from the waist, such as "+120 mm", "-85" or
            "+4.5 in"; a level of that very name wins.

        Returns
        -------
        float or None
            In mm above the waist; None if the key means none.
        """
        if key in self.level_names():
            return self.level_height(key)
        # The sign tells a height from a misspelt level whose name is a number.
        if key.strip()[:1] not in ("+", "-"):
            return None
        try:
            return to_mm(key)
        except UnitError:
            return None


def other_way_round(panels: Sequence[Panel]) -> tuple[Panel, ...]:
    """Panels from the last to the first, each with the gores in its slits behind it."""
    places: list[list[Panel]] = []
    for panel in panels:
        if places and any(slit.piece == panel.name for slit in places[-1][0].slits):
            places[-1].append(panel)
        else:
            places.append([panel])
    return tuple(panel for own in reversed(places) for panel in own)
