"""What the maker decides about cutting, apart from the shape of the panels."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Final, Literal

import numpy as np

from ..errors import StackError, UnitError, UnknownNameError, WrongTypeError
from ..files.one_line import MOST_LETTERS, refuse_broken_line
from ..files.plain_values import held_to_types, refuse_misfits
from ..outline.by_value import ByValue, fix_mappings
from ..pattern.panel import EDGE_NAMES, EdgeName, Panel
from ..pattern.pattern import EDGE_KINDS, EdgeKind, Pattern
from ..shift import LayerPattern, Shifted
from ..stack import Fabric
from ..units import LONGEST_MM, cloth_length
from .allowance import MITRE_LIMIT, CornerShape
from .extras import Extras

DEFAULT_ALLOWANCE_MM: Final = 10.0
"""Common practice, no source: 10 mm (3/8 in) for corset seams."""

ACCURACY_MM: Final = 0.5
"""Common practice, no source: what careful shears and a sharp pencil hold."""

SHEET_WIDTH_MM: Final = 900.0
"""About the width of a copy shop's roll."""


DEFAULT_WIDTH_MM: Final = 1400.0
"""Common practice, no source: cloth about 1.4 m wide, between the selvedges."""

DEFAULT_SPARE_MM: Final = 30.0
"""Common practice, no source: the shop's cut is seldom square to the grain."""


@dataclass(frozen=True)
class Allowances:
    """Seam allowance for each kind of edge, from the net outline to the cut line.

    Parameters
    ----------
    seam, centre_front, centre_back, top, bottom : float
        In mm, from 0 to 100. A seam joins two panels; the centres are the open edges.

    Raises
    ------
    StackError
        If one is negative or more than 100 mm.

    Examples
    --------
    >>> wide_back = Allowances(centre_back=25.0)
    >>> wide_back.of("centre_back"), wide_back.of("seam")
    (25.0, 10.0)
    """

    seam: float = DEFAULT_ALLOWANCE_MM
    centre_front: float = DEFAULT_ALLOWANCE_MM
    centre_back: float = DEFAULT_ALLOWANCE_MM
    top: float = DEFAULT_ALLOWANCE_MM
    bottom: float = DEFAULT_ALLOWANCE_MM

    def __post_init__(self) -> None:
        refuse_misfits(self, "an allowance")
        for kind in EDGE_KINDS:
            if not 0.0 <= self.of(kind) <= 100.0:
                raise StackError(
                    f"a {kind.replace('_', ' ')} allowance of {self.of(kind):g} mm",
                    remedy="Give a length from 0 to 100 mm.",
                    element=f"allowance.{kind}",
                )

    def of(self, kind: EdgeKind) -> float:
        """Allowance of a kind of edge.

        Parameters
        ----------
        kind : {"seam", "centre_front", "centre_back", "top", "bottom"}

        Returns
        -------
        float
            In mm.

        Raises
        ------
        UnknownNameError
            If there is no such kind.
        """
        UnknownNameError.unless("kind of edge", kind, EDGE_KINDS)
        value: float = getattr(self, kind)
        return value


@dataclass(frozen=True)
class Cutting:
    """How often a panel is cut.

    Parameters
    ----------
    count : int
        Pieces to cut of each layer.
    mirrored : bool
        Whether half of them are cut mirrored (face to face).
    fold : {"front", "back"} or None
        Edge that lies on the fold of the cloth: it gets no allowance.

    Raises
    ------
    StackError
        If it is not cut 1 to 100 times.

    Examples
    --------
    >>> Cutting(1, mirrored=False, fold="front").words()
    ('cut 1', 'on the fold')
    """

    count: int = 2
    mirrored: bool = True
    fold: Literal["front", "back"] | None = None

    def __post_init__(self) -> None:
        refuse_misfits(self, "a cutting")
        if not 1 <= self.count <= 100:
            raise StackError(
                f"a panel that is cut {self.count} times",
                remedy="Give from 1 to 100 pieces of each layer.",
                element="count",
            )

    @property
    def sides(self) -> tuple[int, int]:
        """How many are cut as drawn, and how many mirrored: the smaller half of an odd count."""
        mirrored = self.count // 2 if self.mirrored else 0
        return self.count - mirrored, mirrored

    def words(self) -> tuple[str, ...]:
        """What the label says.

        Returns
        -------
        tuple of str
            Short lines.
        """
        if self.fold is not None:
            return (f"cut {self.count}", "on the fold")
        mirrored = self.sides[1]
        if not mirrored:
            return (f"cut {self.count}",)
        how = "half" if 2 * mirrored == self.count > 2 else "one" if mirrored == 1 else mirrored
        return (f"cut {self.count}", f"{how} mirrored")


@dataclass(frozen=True, eq=False)
class CutPlan(ByValue):
    """All that the cutting files need beside the shifted layers.

    Parameters
    ----------
    title : str
        The pattern's name.
    allowances : mapping of fabric name to Allowances
        Fabrics that are not named get the default.
    cuttings : mapping of panel name to Cutting
        Panels that are not named are cut once if both halves are drawn, else as a mirrored
        pair.
    mitre_limit : float
        Longest mitre as a multiple of the wider allowance.
    sheet_width : float
        In mm.
    corners : {"mitred", "mirrored", "squared"}
        How the allowance of a side edge ends at the top and the bottom.
    notches : {"across", "edge"}
        Whether notches run from the stitch line to the cut edge or stand on the cut edge.
    mates : {"single and double", "numbered"}
        Front edges have one notch and back edges two, or each seam its number.
    client, revision : str
        For whom, and which state of the pattern: they stand on every piece.
    napped : set of str
        Fabrics that are laid one way.
    unit : {"mm", "cm", "in"}
        In which lengths are told.
    decimals : bool
        Whether inches are told as decimals rather than in sixteenths.
    accuracy : float
        How exactly the maker cuts, in mm.
    gives : mapping of fabric name to float
        By what part of its width a cloth gives when it is sewn; 0 for those not named.
    extras : panelshift.cutting.extras.Extras
        What is cut beside the panels, and where eyelets stand.
    record : tuple of str
        Lines of the work's record for the heads of sheets that are cut from.
    centres : bool
        Whether words stand along the centre front and the centre back, as on a mock-up.

    Raises
    ------
    StackError
        If the mitre limit is not from 1 to 20, the width from 100 to 20,000 mm, the accuracy
        from 0 to 20 mm, or a give from 0 to 0.5; or words are none that fit in a line.

    Examples
    --------
    >>> from panelshift import DraftPanel, pattern_from_panels
    >>> box = [(0, 0), (60, 0), (60, 160), (0, 160)]
    >>> pattern = pattern_from_panels([DraftPanel("one", box, [(0, 90), (60, 90)])])
    >>> plan = CutPlan(
    ...     allowances={"lining": Allowances(bottom=20.0)},
    ...     cuttings={"one": Cutting(1, fold="front")},
    ... )
    >>> plan.edges(pattern, 0, "lining")
    {'front': 0.0, 'top': 10.0, 'back': 10.0, 'bottom': 20.0}
    """

    title: str = "pattern"
    allowances: Mapping[str, Allowances] = field(default_factory=dict)
    cuttings: Mapping[str, Cutting] = field(default_factory=dict)
    mitre_limit: float = MITRE_LIMIT
    sheet_width: float = SHEET_WIDTH_MM
    corners: CornerShape = "mitred"
    notches: Literal["across", "edge"] = "across"
    mates: Literal["single and double", "numbered"] = "single and double"
    client: str = ""
    revision: str = ""
    napped: frozenset[str] = frozenset()
    unit: Literal["mm", "cm", "in"] = "mm"
    decimals: bool = False
    accuracy: float = ACCURACY_MM
    gives: Mapping[str, float] = field(default_factory=dict)
    extras: Extras = field(default_factory=Extras)
    record: tuple[str, ...] = ()
    centres: bool = False

    def __post_init__(self) -> None:
        refuse_misfits(self, "a plan")
        for what in ("title", "client", "revision"):
            refuse_broken_line(getattr(self, what), f"the {what} of a plan", StackError)
        for line in self.record:
            # Of any length: client, project and day may stand in one.
            refuse_broken_line(line[:MOST_LETTERS], "a line of a plan's record", StackError)
        fix_mappings(self)
        for what, value, low, most in (
            ("a mitre limit", self.mitre_limit, 1.0, 20.0),
            ("a sheet's width in mm", self.sheet_width, 100.0, 20_000.0),
            ("an accuracy in mm", self.accuracy, 0.0, 20.0),
            *((f"a give of {name!r}", give, 0.0, 0.5) for name, give in self.gives.items()),
        ):
            if not low <= value <= most:
                raise StackError(
                    f"{what} of {value:g}", remedy=f"Give from {low:g} to {most:g}.", element="plan"
                )

    @held_to_types
    def refuse_unknown(self, shifted: Shifted) -> None:
        """Refuse a plan that names a fabric or a panel which is not there.

        Parameters
        ----------
        shifted : Shifted

        Raises
        ------
        UnknownNameError
            Of the first such name.
        """
        fabrics = [layer.fabric.name for layer in shifted.layers]
        cut = [layer.fabric.name for layer in cut_layers(shifted)]
        panels = [panel.name for panel in shifted.turn.pattern.panels]
        for what, names, known in (
            ("fabric", (*self.allowances, *sorted(self.napped), *self.gives), fabrics),
            ("fabric to cut from", [own for own in self.extras.fabric.values() if own], cut),
            ("panel", tuple(self.cuttings), panels),
        ):
            for name in names:
                if name not in known:
                    raise UnknownNameError.of(what, name, known)
        for layer in cut_layers(shifted):
            for group in layer.fabric.cut_in_one:
                self.refuse_unlike(shifted.turn.pattern, group, layer.fabric.name)

    @held_to_types
    def refuse_unlike(self, pattern: Pattern, group: Sequence[str], layer: str) -> None:
        """Refuse one piece of panels that are cut differently, or on a fold within it.

        Parameters
        ----------
        pattern : Pattern
        group : sequence of str
            Names of the panels.
        layer : str
            Name of the fabric.

        Raises
        ------
        StackError
            It names the panel and what is different.
        UnknownNameError
            If there is no panel of a name.
        """
        places = sorted(pattern.index(name) for name in group)
        own = [self.cutting(pattern, index) for index in places]
        if not places:
            return
        ends = {places[0]: pattern.ends(places[0])[0], places[-1]: pattern.ends(places[-1])[1]}
        for index, one in zip(places, own, strict=True):
            alike = (one.count, one.mirrored) == (own[0].count, own[0].mirrored)
            inside = one.fold is not None and one.fold != ends.get(index)
            if inside or not (alike or any(c.fold for c in own)):
                name = pattern.panels[index].name
                raise StackError(
                    f"panels of {layer!r} to be cut in one: {name!r} is cut "
                    f"{', '.join(one.words()[-1:] if inside else one.words())!r}",
                    remedy="Panels of one piece are cut as often, and none lies on a fold by an "
                    "edge within the piece: see [panel] in docs/job-file.md.",
                    element=layer,
                )

    def said(self, length_mm: float) -> str:
        """A length in words, as finely as cloth holds it.

        Parameters
        ----------
        length_mm : float
            In mm.

        Returns
        -------
        str
            With its unit.

        Raises
        ------
        UnitError
            If it is longer than 100 m, or no length.
        """
        WrongTypeError.unless(length_mm, (int, float, np.number), "a length", "a number in mm")
        if not abs(length_mm) <= LONGEST_MM:
            raise UnitError(f"a length of {length_mm!r:.40} mm", remedy="Give no more than 100 m.")
        return cloth_length(length_mm, self.unit, decimals=self.decimals)

    @held_to_types
    def words(
        self, shifted: Shifted, layer: LayerPattern, index: int, *, short: bool = False
    ) -> list[str]:
        """What stands on a piece.

        Parameters
        ----------
        shifted : Shifted
        layer : LayerPattern
        index : int
            Of the panel.
        short : bool
            Without what stands on the sheet or in the cutting list as well: for small pieces.

        Returns
        -------
        list of str
            The panel's name, then a line for each thing.

        Raises
        ------
        UnknownNameError
            If there is no such panel.
        """
        pattern, fabric = layer.whole, layer.fabric.name
        edges = self.edges(pattern, index, fabric)
        kinds = {pattern.edge_kind(index, edge): value for edge, value in edges.items()}
        if tip := pattern.panels[index].pointed:
            kinds.pop(tip, None)
        if fold := self.cutting(pattern, index).fold:
            kinds.pop(pattern.edge_kind(index, fold), None)
        # The unit stands once, after the last of them.
        added = ", ".join(
            f"{kind.replace('_', ' ')} {self.said(value).rpartition(' ')[0]}"
            for kind, value in kinds.items()
        )
        name = pattern.panels[index].name
        place = f"layer {layer.place + 1} of {len(shifted.layers)}"
        own = [
            ", ".join(self.cutting(pattern, index).words()),
            "right side up" + (", nap: top up" if fabric in self.napped else ""),
            drawn_larger(layer.fabric),
            _darts_told(pattern.panels[index]),
        ]
        if short:
            # What a piece needs most comes first: where there is no room the rest is left out.
            lines = [name, place, own[0], fabric, *own[1:]]
        else:
            title = ", ".join(part for part in (self.title, self.client) if part)
            more = [f"added: {added} {self.unit}", self.revision]
            lines = [name, title, f"{place}: {fabric}", *own, *more]
        return [line for line in lines if line]

    def cutting(self, pattern: Pattern, index: int) -> Cutting:
        """How often a panel is cut.

        Parameters
        ----------
        pattern : Pattern
        index : int
            Of the panel.

        Returns
        -------
        Cutting
            The panel's own, or the default.

        Raises
        ------
        UnknownNameError
            If there is no such panel.
        """
        # Asked for by the hundred: looked at by hand, not by `held_to_types`.
        WrongTypeError.unless(pattern, Pattern, "what panels are cut of", "a pattern")
        default = Cutting(1, mirrored=False) if pattern.full else Cutting()
        panel = pattern.panels[UnknownNameError.place("panel", index, [p.name for p in pattern])]
        own = [self.cuttings.get(name, default) for name in panel.made_of or (panel.name,)]
        # A piece of several panels may lie on the fold by either of its outer edges.
        folded = [one for one, edge in ((own[0], "front"), (own[-1], "back")) if one.fold == edge]
        chosen = (folded or own)[0]
        # Its other part lies on the fold: of this one there is a left and a right one.
        return Cutting(2 * chosen.count) if chosen.fold in panel.parted else chosen

    def edges(self, pattern: Pattern, index: int, fabric: str) -> dict[EdgeName, float]:
        """Allowance of each edge of a panel in a fabric.

        Parameters
        ----------
        pattern : Pattern
        index : int
            Of the panel.
        fabric : str

        Returns
        -------
        dict of edge name to float
            In mm; 0 on the fold.

        Raises
        ------
        UnknownNameError
            If there is no such panel.
        """
        WrongTypeError.unless(fabric, str, "what it is cut of", "the name of a fabric")
        table = self.allowances.get(fabric, Allowances())
        fold = self.cutting(pattern, index).fold
        return {
            edge: 0.0 if edge == fold else table.of(pattern.edge_kind(index, edge))
            for edge in EDGE_NAMES
        }


def _darts_told(panel: Panel) -> str:
    """How many darts a piece has; empty if none."""
    count = sum(mark.kind == "dart" for mark in panel.marks)
    return f"sew {count} dart{'s' * (count > 1)} first" if count else ""


def drawn_larger(fabric: Fabric) -> str:
    """By how much pieces are drawn larger than they come out, in words; empty if they are not."""
    words = (("wider", "narrower"), ("longer", "shorter"))
    said = " and ".join(
        f"{abs(100.0 * (by - 1.0)):.3g} % {way[by < 1.0]}"
        for by, way in zip(fabric.cut_larger, words, strict=True)
        if by != 1.0
    )
    taken = fabric.take_up > 0.0 or fabric.take_up_length > 0.0
    stretched = fabric.reduced > 0.0 or fabric.reduced_length > 0.0
    why = ["what sewing takes up"] * taken + ["being stretched to size"] * stretched
    return f"drawn {said} for {' and '.join(why)}" if said else ""


def cut_layers(shifted: Shifted) -> list[LayerPattern]:
    """Layers that get a cutting file, from the body outwards."""
    return [layer for layer in shifted.layers if layer.fabric.cut_out and layer.covered]


def split_words(shifted: Shifted) -> list[str]:
    """What is not reckoned of layers that are split, where it is said how they are sewn."""
    return [
        f"{layer.fabric.name}: the cloth in its seams at {', '.join(layer.fabric.split_at)} is not "
        "among what other layers ride over"
        for layer in cut_layers(shifted)
        if layer.fabric.split_at and shifted.lay is not None
    ]


def joined_words(shifted: Shifted, unit: str) -> list[str]:
    """What is to be known of every piece of several panels, layer by layer."""
    return [
        f"{layer.fabric.name}: {piece.words(unit)}"
        for layer in cut_layers(shifted)
        for piece in layer.joined
    ]
