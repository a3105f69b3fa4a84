"""Everything the fit sheet states, gathered from a shifted pattern and what the maker said."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property

from ..body import BodyModel
from ..construction.account import SeamBulk, outcome_lines, seam_bulk
from ..cutting.layer_sheets import styles_of
from ..cutting.loose import loose_pieces
from ..cutting.plan import CutPlan, cut_layers, joined_words, split_words
from ..cutting.verdict import Verdict, verdict
from ..needs.buying import ClothOptions, FabricNeeds, fabric_needs
from ..pattern.drawing import Remark
from ..pattern.pattern import Pattern
from ..sheets.palette import Style
from ..shift import LayerPattern, Shifted
from .compared import CorsetSide
from .girths import (
    Alike,
    LevelGirths,
    cut_alike,
    finished_girths,
    short_panels,
    whole_levels,
)
from .laid_panels import LaidLayer, LaidPanel, laid_layers, lay_panels
from .layer_change import OutlineChange, layer_changes, suitable_magnification
from .matching import Matched, disagreeing_tapes, matched
from .plus_minus import growth_by_body, growth_spread, seam_by_body, seam_by_cloth, together
from .rolling import OneFormer, RollingStep, one_former, rolling_guide, useful_formers
from .sections import Section, section_at


@dataclass(frozen=True)
class FitOptions:
    """What a fit sheet takes into account.

    *seam_tolerance*: how far in mm the two edges of a seam may differ. *busk*: how far in mm the
    closed busk holds the two front edges apart. *seasoning*: least and largest part by which the
    cloth gives when worn in. *former*: diameter in mm of a former to compare with.
    """

    seam_tolerance: float = 0.5
    busk: float = 0.0
    seasoning: tuple[float, float] = (0.0, 0.0)
    former: float | None = None


@dataclass(frozen=True, eq=False)
class FitBasis:
    """All that a fit sheet is reckoned from.

    *gap*: lacing gap in mm. *units*: in which lengths are shown. *cloth*: what each fabric is cut
    from; None to lay no cloth out, which takes seconds. *drafted_named*: whether the maker named
    the layer that keeps the drafted size. *settings*: every choice that decides the lines, in
    words. *look_at*: what the maker should look at already. *unsaid*: what sewing would add, where
    nothing is said of it. *record*: lines of the work's record for the page.
    """

    shifted: Shifted
    body: BodyModel
    plan: CutPlan
    gap: float = 0.0
    units: str = "mm"
    options: FitOptions = FitOptions()
    cloth: Mapping[str, ClothOptions] | None = None
    drafted_named: bool = True
    settings: tuple[str, ...] = ()
    look_at: tuple[Remark, ...] = ()
    unsaid: str = ""
    record: tuple[str, ...] = ()


@dataclass(frozen=True)
class Walked:
    """One seam of one layer: both edges' lengths in mm, their difference, and the verdict.

    `plus_minus` is half the width of the 95 % interval of the seam's length by cloth and body,
    None if one that matters is not known; `by_body` is the body's part of it.
    """

    layer: str
    seam: str
    first: float
    second: float
    difference: float
    passes: bool
    plus_minus: float | None = None
    by_body: float | None = None


@dataclass(frozen=True)
class Grown:
    """How much wider than the draft a panel is in a layer at a level, in mm.

    `plus_minus` is half the width of the 95 % interval by cloth and body, None if a thickness
    that matters has no stated uncertainty; `by_body` is the part that the body leaves open,
    None if its model states none.
    """

    layer: str
    panel: str
    level: str
    growth: float
    plus_minus: float | None
    by_body: float | None = None


@dataclass(frozen=True)
class Turning:
    """Angle in radians through which a panel turns at a level.

    `share` is its part of what all drawn panels turn there, None if some end before it.
    """

    panel: str
    level: str
    angle: float
    share: float | None


@dataclass(frozen=True, eq=False)
class FitFacts:
    """All results of a fit sheet, each reckoned when first asked for; mm and radians.

    A page that follows what is typed asks for few of them at once.
    """

    basis: FitBasis

    @cached_property
    def girths(self) -> tuple[LevelGirths, ...]:
        """At every level, for every layer that might keep the drafted size."""
        basis, shifted = self.basis, self.shifted
        stack = shifted.stack
        return tuple(
            row
            for fabric in stack.fabrics
            if fabric.panels is None
            and fabric.band is None
            and (fabric.cut_out or fabric.name == stack.drafted)
            for row in finished_girths(
                shifted.turn,
                stack,
                fabric.name,
                gap=basis.gap,
                busk=basis.options.busk,
                lay=shifted.lay,
                leeway=shifted.leeway,
            )
        )

    @cached_property
    def turning(self) -> tuple[Turning, ...]:
        """How far each panel turns at each level."""
        return tuple(_turning(self.shifted))

    @cached_property
    def grown(self) -> tuple[Grown, ...]:
        """What each layer of each panel grows by at each level."""
        return tuple(_grown(self.shifted))

    @cached_property
    def walks(self) -> tuple[Walked, ...]:
        """Every seam in every layer."""
        return tuple(_walks(self.shifted, self.basis.options.seam_tolerance))

    @cached_property
    def alike(self) -> tuple[Alike, ...]:
        """What comes of cutting all layers alike."""
        return tuple(cut_alike(self.shifted))

    @cached_property
    def rolling(self) -> tuple[RollingStep, ...]:
        """The former of each panel at each level."""
        return tuple(rolling_guide(self.shifted))

    @cached_property
    def formers(self) -> tuple[OneFormer, ...]:
        """One former for all panels: the maker's own, and those that come near."""
        own = self.basis.options.former
        useful = useful_formers(self.shifted)
        return tuple(useful if own is None else [one_former(self.shifted, own), *useful])

    @cached_property
    def sections(self) -> tuple[Section, ...]:
        """The body cut through at each level that all panels reach."""
        turn, basis = self.shifted.turn, self.basis
        return tuple(
            section_at(turn, basis.body, name, gap=basis.gap) for name in whole_levels(turn)
        )

    @cached_property
    def matched(self) -> tuple[Matched, ...]:
        """The pattern beside the body that was measured."""
        return matched(self.shifted.turn, self.basis.body, self.units)

    @cached_property
    def needs(self) -> FabricNeeds:
        """The cloth to buy, if it is to be laid out."""
        basis = self.basis
        if basis.cloth is None:
            return FabricNeeds(())
        loose = loose_pieces(self.shifted, basis.plan, basis.gap)
        return fabric_needs(self.shifted, basis.plan, basis.cloth, loose=loose, unit=basis.units)

    @property
    def side(self) -> CorsetSide:
        """This corset, to be compared with another."""
        basis = self.basis
        return CorsetSide(self.shifted, basis.gap, basis.options.busk, self.needs)

    @property
    def units(self) -> str:
        """In which lengths are shown."""
        return self.basis.units

    @property
    def shifted(self) -> Shifted:
        """The draft in every layer."""
        return self.basis.shifted

    @property
    def pattern(self) -> Pattern:
        """The draft."""
        return self.shifted.turn.pattern

    @property
    def drafted(self) -> str:
        """The layer that keeps the drafted size."""
        return self.shifted.stack.drafted

    @property
    def layers(self) -> list[LayerPattern]:
        """Layers that are cut, from the body outwards."""
        return cut_layers(self.shifted)

    @property
    def styles(self) -> dict[str, Style]:
        """Line style of each of those layers."""
        return styles_of(self.layers)

    @property
    def yours(self) -> list[LevelGirths]:
        """Girths for the layer that the maker keeps at the drafted size."""
        return [row for row in self.girths if row.drafted == self.drafted]

    @property
    def seasoning(self) -> tuple[float, float] | None:
        """The maker's own range of give, as parts of the girth; None if there is none."""
        low, high = self.basis.options.seasoning
        return (low, high) if high > 0.0 else None

    @cached_property
    def verdict(self) -> Verdict:
        """Which layers one paper serves, and what is worth recutting."""
        return verdict(self.shifted, self.basis.plan)

    @cached_property
    def changes(self) -> tuple[dict[str, OutlineChange], ...]:
        """How each panel's outline changes in each layer that is cut, by the layer's name."""
        return layer_changes(self.shifted, self.layers)

    @cached_property
    def magnified(self) -> float:
        """How many times as large these changes are drawn, in all pictures."""
        return suitable_magnification(self.changes)

    @cached_property
    def laid(self) -> tuple[LaidPanel, ...]:
        """All panels where they lie on the body, from one edge of the gap to the other."""
        return lay_panels(self.shifted.turn, self.basis.body, gap=self.basis.gap)

    @cached_property
    def laid_layers(self) -> tuple[tuple[LaidLayer, ...], ...]:
        """For each of them the layers that are cut of it."""
        return laid_layers(self.shifted, self.layers, self.laid)

    @cached_property
    def bulk(self) -> tuple[SeamBulk, ...]:
        """How thick every seam is at the waist, where it is said how the corset is sewn."""
        return () if self.shifted.lay is None else seam_bulk(self.shifted.lay)

    @cached_property
    def sewing(self) -> list[str]:
        """What comes of how it is sewn, in words."""
        return [] if self.shifted.lay is None else outcome_lines(self.shifted.lay, self.units)

    def short_panels(self) -> dict[str, tuple[str, ...]]:
        """Levels that some panels do not reach, with those panels."""
        pairs = (
            (name, short_panels(self.shifted.turn, name)) for name in self.pattern.level_names()
        )
        return {name: short for name, short in pairs if short}

    def warnings(self) -> list[str]:
        """Everything the maker should look at before trusting the numbers."""
        return [words for _, words in self.look_at()]

    def look_at(self) -> list[tuple[str, str]]:
        """The same, each with its code before it."""
        doubted = disagreeing_tapes(self.shifted.turn, self.basis.body, self.units)
        found = [(remark.code, remark.words) for remark in (*self.basis.look_at, *doubted)]
        found += [("cloth", words) for words in self.needs.warnings]
        found += [("cut-in-one", words) for words in joined_words(self.shifted, self.units)]
        found += [("split", words) for words in split_words(self.shifted)]
        found += [
            (
                "level-short",
                f"no girth is given at the {level}, which these panels do not reach: "
                f"{', '.join(short)}",
            )
            for level, short in self.short_panels().items()
        ]
        failed = sum(not walk.passes for walk in self.walks)
        if failed:
            words = f"{failed} of {len(self.walks)} walked seams fail; see Seams walked"
            found.append(("walk", words))
        return found


def _turning(shifted: Shifted) -> Iterator[Turning]:
    turn = shifted.turn
    panels = turn.pattern.panels
    whole = set(whole_levels(turn))
    for index, panel in enumerate(panels):
        for level in sorted(panel.level_lines, key=lambda item: -item.height):
            angle = turn.angle_at(index, level.height)
            drawn = sum(turn.angle_at(i, level.height) for i in range(len(panels)))
            share = angle / drawn if level.name in whole else None
            yield Turning(panel.name, level.name, angle, share)


def _grown(shifted: Shifted) -> Iterator[Grown]:
    turn = shifted.turn
    for layer in shifted.layers:
        for index in layer.covered:
            panel = turn.pattern.panels[index]
            for level in sorted(panel.level_lines, key=lambda item: -item.height):
                growth = shifted.growth(layer.place, index, level.height)
                cloth = growth_spread(shifted, layer.place, index, level.height)
                body = growth_by_body(shifted, layer.place, index, level.height)
                spread = together(cloth, body)
                yield Grown(layer.fabric.name, panel.name, level.name, growth, spread, body)


def _walks(shifted: Shifted, tolerance: float) -> Iterator[Walked]:
    drafted = {walked.seam: walked.first for walked in shifted.turn.pattern.walk()}
    for layer in cut_layers(shifted):
        for walked in layer.walk():
            passes = abs(walked.difference) <= tolerance
            seam, change = walked.seam, walked.first - drafted[walked.seam]
            side = seam.first, seam.first_edge
            if seam.in_slit and seam.second_span is None:
                # The gore's own edge: a slit is none.
                side = seam.second, seam.second_edge
            body = seam_by_body(shifted, layer, *side)
            cloth = seam_by_cloth(shifted, layer, *side, change)
            yield Walked(
                layer.fabric.name,
                walked.name,
                walked.first,
                walked.second,
                walked.difference,
                passes,
                together(cloth, body),
                body,
            )
