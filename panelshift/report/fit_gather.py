"""Everything the fit sheet states, gathered from a job."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from ..cutting.layer_sheets import cut_layers
from ..fit.alike import Alike, cut_alike
from ..fit.girths import LevelGirths, finished_girths, growth_spread
from ..fit.levels import short_panels, whole_levels
from ..fit.rolling import OneFormer, RollingStep, one_former, rolling_guide, useful_formers
from ..fit.section import Section, section_at
from ..job.resolved import Job
from ..job.result import cloth_needs, shift_job
from ..needs import FabricNeeds
from ..sheets.palette import Style, layer_styles
from ..shift import LayerPattern, Shifted


@dataclass(frozen=True)
class Walked:
    """One seam of one layer: both edges' lengths in mm, their difference, and the verdict."""

    layer: str
    seam: str
    first: float
    second: float
    difference: float
    passes: bool


@dataclass(frozen=True)
class Grown:
    """How much wider than the draft a panel is in a layer at a level, in mm.

    `plus_minus` is half the width of the 95 % interval, None if a thickness that matters has
    no stated uncertainty.
    """

    layer: str
    panel: str
    level: str
    growth: float
    plus_minus: float | None


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
    """All results of a fit sheet; lengths in mm, angles in radians."""

    job: Job
    shifted: Shifted
    girths: tuple[LevelGirths, ...]
    turning: tuple[Turning, ...]
    grown: tuple[Grown, ...]
    walks: tuple[Walked, ...]
    alike: tuple[Alike, ...]
    rolling: tuple[RollingStep, ...]
    formers: tuple[OneFormer, ...]
    sections: tuple[Section, ...]
    needs: FabricNeeds

    @property
    def layers(self) -> list[LayerPattern]:
        """Layers that are cut, from the body outwards."""
        return cut_layers(self.shifted)

    @property
    def styles(self) -> dict[str, Style]:
        """Line style of each of those layers."""
        return layer_styles([layer.fabric.name for layer in self.layers])

    @property
    def yours(self) -> list[LevelGirths]:
        """Girths for the layer that the job keeps at the drafted size."""
        return [row for row in self.girths if row.drafted == self.job.stack.drafted]

    @property
    def seasoning(self) -> tuple[float, float] | None:
        """The maker's own range of give, as parts of the girth; None if there is none."""
        low, high = self.job.file.fit.seasoning
        return (low, high) if high > 0.0 else None

    def short_panels(self) -> dict[str, tuple[str, ...]]:
        """Levels that some panels do not reach, with those panels."""
        pairs = (
            (name, short_panels(self.shifted.turn, name)) for name in self.job.pattern.level_names()
        )
        return {name: short for name, short in pairs if short}

    def warnings(self) -> list[str]:
        """Everything the maker should look at before trusting the numbers."""
        lines = list(self.job.warnings)
        lines += self.needs.warnings
        lines += [
            f"no girth is given at the {level}, which these panels do not reach: {', '.join(short)}"
            for level, short in self.short_panels().items()
        ]
        failed = sum(not walk.passes for walk in self.walks)
        if failed:
            lines.append(f"{failed} of {len(self.walks)} walked seams fail; see Seams walked")
        return lines


def fit_facts(job: Job, shifted: Shifted | None = None) -> FitFacts:
    """Compute everything the fit sheet states.

    Parameters
    ----------
    job : Job
    shifted : Shifted, optional
        As `shift_job` gives it for this job, where it is known already.

    Raises
    ------
    PanelshiftError
        See `panelshift.job.result.shift_job`.
    """
    shifted = shift_job(job) if shifted is None else shifted
    turn, options = shifted.turn, job.file.fit
    girths = [
        row
        for fabric in job.stack.fabrics
        if fabric.panels is None and (fabric.cut_out or fabric.name == job.stack.drafted)
        for row in finished_girths(turn, job.stack, fabric.name, gap=job.gap, busk=options.busk)
    ]
    formers = useful_formers(shifted)
    if options.former is not None:
        formers = [one_former(shifted, options.former), *formers]
    return FitFacts(
        job,
        shifted,
        tuple(girths),
        tuple(_turning(shifted)),
        tuple(_grown(shifted)),
        tuple(_walks(shifted, options.seam_tolerance)),
        tuple(cut_alike(shifted)),
        tuple(rolling_guide(shifted)),
        tuple(formers),
        tuple(section_at(turn, job.body, name, gap=job.gap) for name in whole_levels(turn)),
        cloth_needs(job, shifted) if options.needs else FabricNeeds(()),
    )


def _turning(shifted: Shifted) -> Iterator[Turning]:
    turn = shifted.turn
    panels = turn.pattern.panels
    whole = set(whole_levels(turn))
    for index, panel in enumerate(panels):
        for level in sorted((panel.waist, *panel.levels), key=lambda item: -item.height):
            angle = turn.angle_at(index, level.height)
            drawn = sum(turn.angle_at(i, level.height) for i in range(len(panels)))
            share = angle / drawn if level.name in whole else None
            yield Turning(panel.name, level.name, angle, share)


def _grown(shifted: Shifted) -> Iterator[Grown]:
    turn = shifted.turn
    for layer in shifted.layers:
        for index in layer.covered:
            panel = turn.pattern.panels[index]
            for level in sorted((panel.waist, *panel.levels), key=lambda item: -item.height):
                growth = shifted.growth(layer.place, index, level.height)
                spread = growth_spread(shifted.stack, turn, layer.place, index, level.height)
                yield Grown(layer.fabric.name, panel.name, level.name, growth, spread)


def _walks(shifted: Shifted, tolerance: float) -> Iterator[Walked]:
    for layer in cut_layers(shifted):
        for walked in layer.walk():
            passes = abs(walked.difference) <= tolerance
            yield Walked(
                layer.fabric.name,
                walked.name,
                walked.first,
                walked.second,
                walked.difference,
                passes,
            )
