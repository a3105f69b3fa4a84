"""Two corsets side by side: finished girths, growth, cut lines, and cloth to buy."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import cached_property

from ..cutting.plan import cut_layers
from ..draft.halves import POSSIBLE_GIRTHS_MM
from ..errors import BodyError
from ..files.plain_values import held_to_types
from ..needs.buying import FabricNeeds, Layout
from ..shift import Shifted
from .girths import OUTSIDE, SKIN, TAPE, LevelGirths, finished_girths, over_all, whole_levels
from .layer_change import OutlineChange, outline_change


@dataclass(frozen=True)
class CorsetSide:
    """One of two corsets that are compared.

    Parameters
    ----------
    shifted : Shifted
        The draft in all its layers.
    gap : float
        Lacing gap in mm.
    busk : float
        How far in mm the closed busk holds the two front edges apart.
    needs : FabricNeeds
        The cloth to buy; without layouts, none is compared.
    """

    shifted: Shifted
    gap: float = 0.0
    busk: float = 0.0
    needs: FabricNeeds = field(default_factory=lambda: FabricNeeds(()))

    @cached_property
    def girths(self) -> dict[str, LevelGirths]:
        """Finished girths by level, the drafted size kept as the stack says."""
        shifted = self.shifted
        found = finished_girths(
            shifted.turn,
            shifted.stack,
            shifted.stack.drafted,
            gap=self.gap,
            busk=self.busk,
            lay=shifted.lay,
            leeway=shifted.leeway,
        )
        return {row.level: row for row in found}

    @property
    def outer(self) -> str:
        """Name of the outermost layer that is cut, empty if none is."""
        layers = cut_layers(self.shifted)
        return layers[-1].fabric.name if layers else ""


@dataclass(frozen=True)
class ComparedLength:
    """The same length of both corsets.

    Parameters
    ----------
    level : str
        Where it is measured.
    of : str
        A surface ("skin side", "outside", "outside, tape over all"), or a layer.
    panel : str
        Empty for a whole girth.
    first, second : float
        In mm.
    """

    level: str
    of: str
    panel: str
    first: float
    second: float

    @property
    def ends(self) -> tuple[float, float]:
        """Both of them."""
        return self.first, self.second

    @property
    def more(self) -> float:
        """By how many mm the second is longer."""
        return self.second - self.first


@dataclass(frozen=True)
class ComparedCloth:
    """Layouts of one fabric on cloth of one width in mm; None where a corset has none."""

    fabric: str
    width: float
    ends: tuple[Layout | None, Layout | None]


@dataclass(frozen=True, eq=False)
class ComparedCorsets:
    """Two corsets beside each other; layers, panels and levels belong together by their names.

    Parameters
    ----------
    first, second : CorsetSide

    Notes
    -----
    Where the outermost layers have unlike names they are compared all the same, as one layer
    called by both names. See `panelshift.compare_corsets`.
    """

    first: CorsetSide
    second: CorsetSide

    @cached_property
    def girths(self) -> tuple[ComparedLength, ...]:
        """Finished girths inside, outside and by a tape over all, lacing gap counted."""
        return tuple(
            ComparedLength(level, surface, "", one.closed[a], other.closed[b])
            for level, one in self.first.girths.items()
            if (other := self.second.girths.get(level)) is not None
            for surface, a, b in (
                (SKIN, SKIN, SKIN),
                (OUTSIDE, OUTSIDE, OUTSIDE),
                (TAPE, over_all(one), over_all(other)),
            )
        )

    @cached_property
    def layers(self) -> dict[str, tuple[str, str]]:
        """Layers that are cut of both, by what they are called here."""
        names = [layer.fabric.name for layer in cut_layers(self.second.shifted)]
        own = [layer.fabric.name for layer in cut_layers(self.first.shifted)]
        found = {name: (name, name) for name in own if name in names}
        ends = self.first.outer, self.second.outer
        if all(ends) and ends[0] != ends[1]:
            found[" / ".join(ends)] = ends
        return found

    @property
    def panels(self) -> list[tuple[int, int]]:
        """Places of panels that have the same name in both."""
        places = {p.name: k for k, p in enumerate(self.second.shifted.turn.pattern.panels)}
        own = enumerate(self.first.shifted.turn.pattern.panels)
        return [(k, places[panel.name]) for k, panel in own if panel.name in places]

    @cached_property
    def growth(self) -> tuple[ComparedLength, ...]:
        """How much wider than its own draft each layer of each panel is at each level."""
        return tuple(self._growth())

    def _growth(self) -> Iterator[ComparedLength]:
        one, other = self.first.shifted, self.second.shifted
        for called, names in self.layers.items():
            a, b = one.layer(names[0]), other.layer(names[1])
            for k, j in self.panels:
                if k not in a.covered or j not in b.covered:
                    continue
                panel, mate = one.turn.pattern.panels[k], other.turn.pattern.panels[j]
                for level in panel.level_lines:
                    if (same := mate.level(level.name)) is not None:
                        first = one.growth(a.place, k, level.height)
                        second = other.growth(b.place, j, same.height)
                        yield ComparedLength(level.name, called, panel.name, first, second)

    @cached_property
    def lines(self) -> dict[str, dict[str, OutlineChange]]:
        """By layer and panel, how the second's stitch line lies beside the first's.

        Each in its draft's own axes, the middles of the drafted waists on each other.
        """
        one, other = self.first.shifted, self.second.shifted
        return {
            called: {
                one.turn.pattern.panels[k].name: outline_change(
                    a.whole.panels[k],
                    b.whole.panels[j],
                    (one.turn.pattern.panels[k].frame, other.turn.pattern.panels[j].frame),
                )
                for k, j in self.panels
                if k in a.covered and j in b.covered
            }
            for called, names in self.layers.items()
            for a, b in [(one.layer(names[0]), other.layer(names[1]))]
        }

    @cached_property
    def cloth(self) -> tuple[ComparedCloth, ...]:
        """The cloth to buy of each fabric on each of its widths."""
        one, other = (
            {(layout.fabric, layout.sold_width): layout for layout in side.needs.layouts}
            for side in (self.first, self.second)
        )
        return tuple(
            ComparedCloth(*key, (one.get(key), other.get(key)))
            for key in dict.fromkeys([*one, *other])
        )

    @property
    def only(self) -> tuple[tuple[str, ...], tuple[str, ...]]:
        """What the first has that the second has not, and the other way round, in words."""
        a, b = (
            {
                *(f"panel {panel.name}" for panel in side.shifted.turn.pattern.panels),
                *(f"layer {fabric.name}" for fabric in side.shifted.stack.fabrics),
                *(f"level {name}" for name in whole_levels(side.shifted.turn)),
            }
            for side in (self.first, self.second)
        )
        return tuple(sorted(a - b)), tuple(sorted(b - a))


@held_to_types
def compare_corsets(
    first: Shifted,
    second: Shifted,
    *,
    gaps: tuple[float, float] | None = None,
    busks: tuple[float, float] = (0.0, 0.0),
) -> ComparedCorsets:
    """Lay two corsets side by side: another stack, another body or another size.

    Parameters
    ----------
    first, second : Shifted
    gaps : pair of float, optional
        Lacing gap of each in mm; if not given, those that they were shifted with.
    busks : pair of float
        How far in mm each one's closed busk holds the two front edges apart.

    Returns
    -------
    ComparedCorsets
        Of all measures those of the first and of the second, lengths in mm.

    Raises
    ------
    BodyError
        If a gap or a busk is negative, or wider than any body.

    Examples
    --------
    >>> from panelshift import DraftPanel, Fabric, Stack, pattern_from_panels, shift_pattern
    >>> box, waist = [(0, 0), (60, 0), (60, 160), (0, 160)], [(0, 90), (60, 90)]
    >>> pattern = pattern_from_panels([DraftPanel(name, box, waist) for name in "abc"])
    >>> thin = Stack([Fabric("drill", 0.5), Fabric("silk", 0.2)])
    >>> thick = Stack([Fabric("drill", 0.5), Fabric("silk", 1.2)])
    >>> both = compare_corsets(shift_pattern(pattern, thin), shift_pattern(pattern, thick))
    >>> [(item.of, round(item.more, 2)) for item in both.girths if item.of == "outside"]
    [('outside', 6.28)]

    Once round the body is one full turn: what lies 1 mm further out is 2 pi mm longer.
    """
    if gaps is None:
        own, other_gap = (side.turn.ring.gap_at(0.0) for side in (first, second))
        gaps = own, other_gap
    for what, pair in (("lacing gap", gaps), ("busk", busks)):
        for value in pair:
            if not 0.0 <= value <= POSSIBLE_GIRTHS_MM[1]:
                raise BodyError(
                    f"a {what} of {value:g} mm",
                    remedy="Give how far it holds two edges apart, in mm; 0 if they meet.",
                )
    sides = zip((first, second), gaps, busks, strict=True)
    one, other = (CorsetSide(*side) for side in sides)
    return ComparedCorsets(one, other)
