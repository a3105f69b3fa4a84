"""What the maker decides from: the finished waist, papers that layers share, seams, formers."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

import numpy as np

from ..shift.layers import anchors
from ..units import CLOTH_MM, SIXTEENTH_MM, cloth_length, tape_length
from .facts import FitFacts, Grown
from .girths import OUTSIDE, SKIN, LevelGirths, over_all
from .plus_minus import doubted
from .rolling import former_length, needs_former
from .sections import short_names

_MOST_NAMED: Final = 4
"""So many seams are named in a sentence; the table has all."""


@dataclass(frozen=True)
class SeamStep:
    """By how much both edges of a seam of a layer lie off if it was cut on the draft's own lines.

    `brief`: the seam's short name. `step`: of each edge at the waist, in mm, outwards, as the
    verdict rounds it. `plus_minus`: half of its 95 % interval, both panels erring alike, None if
    it is not known.
    """

    layer: str
    seam: str
    brief: str
    step: float
    plus_minus: float | None


def seam_steps(facts: FitFacts) -> tuple[SeamStep, ...]:
    """Every seam of every cut layer but the drafted one."""
    pattern = facts.pattern
    names = [panel.name for panel in pattern.panels]
    short = short_names(names)
    known = {(i.layer, i.panel): _spread(i) for i in facts.grown if i.level == "waist"}
    at_front = anchors(pattern).tolist()
    found = []
    for layer, steps in facts.verdict.steps.items():
        for seam, (name, step) in zip(pattern.waist_seams, steps, strict=True):
            errors = []
            for index, edge in ((seam.first, seam.first_edge), (seam.second, seam.second_edge)):
                error = known.get((layer, names[index]))
                part = at_front[index] if edge == "front" else 1.0 - at_front[index]
                errors.append(None if error is None else 0.5 * part * error)
            first, second = errors
            spread = None if first is None or second is None else first + second
            brief = f"{short[names[seam.first]]} to {short[names[seam.second]]}"
            found.append(SeamStep(layer, name, brief, step, spread))
    return tuple(found)


def _spread(item: Grown) -> float | None:
    """What is known of the doubt: cloth and body, or the body alone."""
    return item.plus_minus if item.plus_minus is not None else item.by_body


# -- sizes ----------------------------------------------------------------------------------


def waist_sizes(facts: FitFacts) -> list[tuple[str, str]]:
    """Finished waist inside, outside and by a tape over all, each as a tape tells it."""
    row = next((row for row in facts.yours if row.level == "waist"), None)
    return [] if row is None else list(_sizes(row, facts.units))


def _sizes(row: LevelGirths, units: str) -> Iterator[tuple[str, str]]:
    places = (("inside", SKIN), ("outside", OUTSIDE), ("tape over all", over_all(row)))
    for name, surface in places:
        yield name, tape_length(row.closed[surface], units, row.plus_minus[surface])


def headline(facts: FitFacts) -> str:
    """One line on the waist: inside, outside and over all, with plus or minus where it is known."""
    sizes = waist_sizes(facts)
    if not sizes:
        return ""
    return f"Finished waist, lacing gap counted: {'; '.join(' '.join(pair) for pair in sizes)}."


# -- sentences ------------------------------------------------------------------------------


def answers(facts: FitFacts) -> list[str]:
    """At most five sentences that say what to do."""
    found = [_papers_words(facts), _recut_words(facts), _former_words(facts)]
    sizes = dict(waist_sizes(facts))
    if sizes:
        gap = cloth_length(facts.basis.gap, facts.units)
        found.append(
            f"When it is sewn and laced to a gap of {gap}, hold a tape over all at the waist: it "
            f"should read {sizes['tape over all']}."
        )
    return [*(words for words in found if words), *_narrower(facts)]


def _papers_words(facts: FitFacts) -> str:
    """Which layers one paper serves, and how far that puts them out."""
    shared, alone = [], []
    for paper, apart in zip(facts.verdict.papers, facts.verdict.apart, strict=True):
        first, *others = (layer.fabric.name for layer in paper)
        if not others:
            alone.append(first)
            continue
        units = facts.units
        off = max(abs(_waist_growth(facts, first) - _waist_growth(facts, k)) for k in others)
        shared.append(
            f"from {first}'s paper {', '.join(others)} too (no line lies more than "
            f"{cloth_length(apart, units, up=True)} off, but together they come to "
            f"{cloth_length(off, units)} round the waist)"
        )
    if not shared:
        return f"Cut each layer from its own paper: {', '.join(alone)}." if len(alone) > 1 else ""
    rest = f"; {', '.join(alone)} from {'its' if len(alone) == 1 else 'their'} own" if alone else ""
    return f"You can cut {', and '.join(shared)}{rest}."


def _waist_growth(facts: FitFacts, layer: str) -> float:
    halves = 1.0 if facts.pattern.full else 2.0
    own = facts.shifted.layer(layer)
    drawn_larger = own.as_cut.waist - own.pattern.waist
    grown = halves * sum(i.growth for i in facts.grown if i.layer == layer and i.level == "waist")
    return grown + drawn_larger


def _recut_words(facts: FitFacts) -> str:
    served = [paper for paper in facts.verdict.papers if any(layer.drafted for layer in paper)]
    same = {layer.fabric.name for paper in served for layer in paper}
    parts = []
    for name in facts.verdict.steps:
        own = [item for item in seam_steps(facts) if item.layer == name and item.step != 0.0]
        if own and name not in same:
            parts.append(f"{name}: {_seams_words(facts, own)}")
    if not parts:
        return ""
    return (
        f"What was cut on {facts.drafted}'s paper all the same, recut at these seams, each edge: "
        f"{'; '.join(parts)}."
    )


def _seams_words(facts: FitFacts, own: list[SeamStep]) -> str:
    words: dict[str, list[str]] = {}
    for item in own:
        out = "out" if item.step > 0.0 else "in"
        words.setdefault(f"{out} by {step_length(item, facts.units)}", []).append(item.brief)
    whole = len(facts.pattern.waist_seams)
    found = []
    for by, seams in words.items():
        named = " and ".join(seams)
        if len(seams) == whole > 1:
            named = f"all {whole} seams"
        elif len(seams) > _MOST_NAMED:
            named = f"{len(seams)} of {whole} seams (see Growth across)"
        found.append(f"{named} {by}")
    return ", ".join(found)


def step_length(item: SeamStep, units: str) -> str:
    """How far an edge moves, without its direction, with plus or minus where it is known."""
    value = cloth_length(abs(item.step), units)
    if item.plus_minus is None:
        return value
    # The step is rounded by up to half of one, and takes over what the seam before it lost.
    unit = SIXTEENTH_MM if units == "in" else CLOTH_MM
    spread = float(np.ceil((item.plus_minus + 0.5 * unit) / unit - 1e-6) * unit)
    return f"{value.removesuffix(f' {units}')} ± {cloth_length(spread, units)}"


def _former_words(facts: FitFacts) -> str:
    named: dict[str, list[str]] = {}
    short = short_names([panel.name for panel in facts.pattern.panels])
    for step in facts.rolling:
        if step.level == "waist" and needs_former(step):
            named.setdefault(former_length(step, facts.units), []).append(short[step.panel])
    if not named:
        return ""
    each = ", ".join(f"{size} for {' and '.join(panels)}" for size, panels in named.items())
    return (
        "To try the pieces of a panel on each other, lay their waists over something round, on "
        f"which their edges meet; over a hand they do not. Its diameter: {each}."
    )


def _narrower(facts: FitFacts) -> list[str]:
    """Which measure would narrow most what is not known of the body."""
    doubt = doubted(facts.shifted, facts.units)
    if doubt is None or not doubt.measurable:
        return []
    more = cloth_length(doubt.width, facts.units, up=True)
    return [
        f"For want of knowing the body a panel of {doubt.layer} may need up to {more} more or "
        f"less: {doubt.remedy()}."
    ]
