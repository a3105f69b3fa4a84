"""What the maker decides from: the finished waist, papers that layers share, seams, formers."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

import numpy as np

from ..shift.layers import anchors
from ..units import CLOTH_MM, MM_PER_INCH, cloth_length, summand, tape_length
from .facts import FitFacts, Grown
from .girths import OUTSIDE, SKIN, LevelGirths, doubted, over_all
from .rolling import RollingStep
from .sections import short_names

SAME_GIRTH_MM: Final = 3.0
"""Layers on one paper differ by no more round the body: an eighth of an inch, the finest that is
usual for a finished girth (common practice, no source)."""

_MOST_NAMED: Final = 4
"""So many seams are named in a sentence; the table has all."""


@dataclass(frozen=True)
class Recut:
    """By how much a seam of a layer lies off if it was cut on the draft's own lines.

    `brief`: its short name. `amount`: in mm, both edges together where it is most, positive to
    let out; `plus_minus`: half of its 95 % interval, both edges erring alike, None if it is not
    known.
    """

    layer: str
    seam: str
    brief: str
    level: str
    amount: float
    plus_minus: float | None


def recuts(facts: FitFacts) -> tuple[Recut, ...]:
    """Every seam of every cut layer but the drafted one, at the level where it moves most."""
    pattern = facts.pattern
    known = {(item.layer, item.panel, item.level): item for item in facts.grown}
    at_front = anchors(pattern)
    short = short_names([panel.name for panel in pattern.panels])
    found = []
    for layer in facts.layers:
        if layer.drafted:
            continue
        for seam in pattern.seams:
            sides = [
                (pattern.panels[i].name, at_front[i] if edge == "front" else 1.0 - at_front[i])
                for i, edge in ((seam.first, seam.first_edge), (seam.second, seam.second_edge))
            ]
            name = " to ".join(panel for panel, _ in sides)
            brief = " to ".join(short[panel] for panel, _ in sides)
            moved = []
            for level in pattern.level_names():
                own = [known.get((layer.fabric.name, panel, level)) for panel, _ in sides]
                both = [item for item in own if item is not None]
                if len(both) == 2:
                    parts = [part for _, part in sides]
                    spreads = [_spread(item) for item in both]
                    amount = sum(float(p) * i.growth for i, p in zip(both, parts, strict=True))
                    error = None
                    if None not in spreads:
                        error = sum(
                            float(p) * (s or 0.0) for s, p in zip(spreads, parts, strict=True)
                        )
                    moved.append(Recut(layer.fabric.name, name, brief, level, amount, error))
            if moved:
                found.append(max(moved, key=lambda item: abs(item.amount)))
    return tuple(found)


def _spread(item: Grown) -> float | None:
    """What is known of the doubt: cloth and body, or the body alone."""
    return item.plus_minus if item.plus_minus is not None else item.by_body


def papers(facts: FitFacts) -> list[tuple[str, ...]]:
    """Cut layers in groups that may share one paper, from the body outwards.

    Within a group no line of a panel lies further apart than cloth can hold, and no girth by more
    than `SAME_GIRTH_MM`.
    """
    groups: list[tuple[str, ...]] = []
    for layer in facts.layers:
        name = layer.fabric.name
        if groups and all(_same(facts, name, other) for other in groups[-1]):
            groups[-1] = (*groups[-1], name)
        else:
            groups.append((name,))
    return groups


def _same(facts: FitFacts, one: str, other: str) -> bool:
    both = [own for own in facts.changes if one in own and other in own]
    if len(both) < max(sum(name in own for own in facts.changes) for name in (one, other)):
        return False
    apart = max(float(np.hypot(*(own[one].change - own[other].change).T).max()) for own in both)
    halves = 1.0 if facts.pattern.full else 2.0
    girths = [
        halves * (_sum(facts, one, level) - _sum(facts, other, level))
        for level in facts.pattern.level_names()
    ]
    return apart <= CLOTH_MM and max(map(abs, girths)) <= SAME_GIRTH_MM


def _sum(facts: FitFacts, layer: str, level: str) -> float:
    return sum(i.growth for i in facts.grown if i.layer == layer and i.level == level)


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
    groups = papers(facts)
    shared = [" and ".join(group) for group in groups if len(group) > 1]
    alone = [group[0] for group in groups if len(group) == 1]
    line, girth = (cloth_length(value, facts.units) for value in (CLOTH_MM, SAME_GIRTH_MM))
    if facts.units == "in":
        # Half a millimetre is less than a sixteenth.
        line = f"{summand(CLOTH_MM, 'in')} in"
    if not shared:
        return f"Cut each layer from its own paper: {', '.join(alone)}." if len(alone) > 1 else ""
    rest = f"; {', '.join(alone)} from {'its' if len(alone) == 1 else 'their'} own" if alone else ""
    return (
        f"From one paper you may cut {', and '.join(shared)} (their lines lie within {line}, their "
        f"girths within {girth}){rest}."
    )


def _recut_words(facts: FitFacts) -> str:
    paper = next((group for group in papers(facts) if facts.drafted in group), ())
    parts = []
    for layer in facts.layers:
        name = layer.fabric.name
        own = [item for item in recuts(facts) if item.layer == name and _shows(item)]
        if name in paper or not own:
            continue
        parts.append(f"{name}: {_seams_words(facts, own)}")
    if not parts:
        return ""
    return (
        f"What was cut on {facts.drafted}'s paper all the same, recut at these seams, both edges "
        f"together: {'; '.join(parts)}."
    )


def _shows(item: Recut) -> bool:
    return abs(item.amount) >= CLOTH_MM


def _seams_words(facts: FitFacts, own: list[Recut]) -> str:
    out = "out" if own[0].amount > 0.0 else "in"
    most = max(own, key=lambda item: abs(item.amount))
    if len(own) > _MOST_NAMED:
        least = min(own, key=lambda item: abs(item.amount))
        whole = len(facts.pattern.seams)
        count = f"all {whole}" if len(own) == whole else f"{len(own)} of {whole}"
        low = recut_length(least, facts.units).partition(" ±")[0].partition(" ")[0]
        return (
            f"{count} seams {out} by {low} to "
            f"{recut_length(most, facts.units)}, most at {most.brief}"
        )
    words: dict[str, list[str]] = {}
    for item in own:
        words.setdefault(recut_length(item, facts.units), []).append(item.brief)
    return ", ".join(f"{' and '.join(seams)} {out} by {by}" for by, seams in words.items())


def recut_length(item: Recut, units: str) -> str:
    """By how much to recut, without its direction, with plus or minus where it is known.

    To 0.5 mm, or to a thirty-second of an inch: seams are many, and a sixteenth hides most.
    """
    value = cloth_length(abs(item.amount), units, parts=_INCH_PARTS)
    if item.plus_minus is None:
        return value
    step = MM_PER_INCH / _INCH_PARTS if units == "in" else CLOTH_MM
    off = abs(abs(item.amount) - round(abs(item.amount) / step) * step)
    spread = float(np.ceil((item.plus_minus + off) / step - 1e-6) * step)
    words = cloth_length(spread, units, parts=_INCH_PARTS)
    return f"{value.removesuffix(f' {units}')} ± {words}"


_INCH_PARTS: Final = 32


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


def needs_former(step: RollingStep) -> bool:
    """Whether a panel's layers differ by what cloth can hold, so that a table will not do."""
    return step.former is not None and abs(step.step_front + step.step_back) >= CLOTH_MM


_FORMER_STEP_MM: Final = 5.0


def former_length(step: RollingStep, units: str) -> str:
    """A former's diameter, to 5 mm or a quarter inch, with plus or minus where it is known."""
    if step.former is None:
        return "flat"
    each = 6.35 if units == "in" else _FORMER_STEP_MM
    value = round(step.former / each) * each
    words = cloth_length(value, units)
    if not step.plus_minus:
        return words
    spread = float(np.ceil((step.plus_minus + abs(value - step.former)) / each) * each)
    return f"{words.removesuffix(f' {units}')} ± {cloth_length(spread, units)}"


def _narrower(facts: FitFacts) -> list[str]:
    """Which measure would narrow most what is not known of the body."""
    doubt = doubted(facts.shifted, facts.units)
    if doubt is None or not doubt.measure:
        return []
    more = f"{summand(doubt.width, facts.units)} {facts.units}"
    return [
        f"If you can, measure the {doubt.measure}: for want of knowing the body a panel of "
        f"{doubt.layer} may need up to {more} more or less, and "
        f"about {doubt.left:.0%} of that would be left."
    ]
