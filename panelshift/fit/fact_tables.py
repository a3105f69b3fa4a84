"""The fit sheet's facts set in tables, in the maker's units."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from ..cutting.layer_sheets import distance_range
from ..units import caliper_length, summand, tape_length
from .facts import FitFacts, Grown, Turning
from .first_page import seam_steps, step_length
from .girths import OUTSIDE, SKIN, Alike, LevelGirths, coarse, over_all
from .rolling import RollingStep, former_length

MOST_COLUMNS: Final = 6
"""Columns of numbers that fit beside the row's name on a page of A4 or Letter."""


@dataclass(frozen=True)
class Cell:
    """What stands in one place of a table: a word or number, a smaller second line, a style."""

    text: str
    note: str = ""
    css: str = ""


@dataclass(frozen=True)
class GridRow:
    """A named row; `kept` sets it off as the maker's own choice."""

    head: str
    cells: tuple[Cell, ...]
    kept: bool = False


@dataclass(frozen=True)
class Grid:
    """A table; *corner*: what the rows' names are, *heads*: of the columns, as many as cells."""

    caption: str
    corner: str
    heads: tuple[str, ...]
    rows: tuple[GridRow, ...]


def narrow(*grids: Grid, most: int = MOST_COLUMNS) -> list[Grid]:
    """Cut tables that are too wide for a page into several, each with the rows' names."""
    return [part for grid in grids for part in _parts(grid, most)]


def _parts(grid: Grid, most: int) -> Iterator[Grid]:
    count = len(grid.heads)
    # Parts of nearly equal width: no column stands alone.
    each = max(-(-count // max(-(-count // most), 1)), 1)
    for start in range(0, max(count, 1), each):
        chosen = slice(start, start + each)
        rows = tuple(replace(row, cells=row.cells[chosen]) for row in grid.rows)
        yield Grid(
            grid.caption + (" (continued)" if start else ""), grid.corner, grid.heads[chosen], rows
        )


def plain(head: str, *texts: str, words: str = "", kept: bool = False) -> GridRow:
    """Return a row of plain cells; *words* stand in the last one, set to the left."""
    said = (Cell(words, css="left"),) if words else ()
    return GridRow(head, (*map(Cell, texts), *said), kept)


NOTHING = "-"
"""Stands where a panel has no such level."""


_CHOSEN: Final = {True: " (your choice)", False: " (taken, as none is chosen)"}


def waist_choices(facts: FitFacts) -> Grid:
    """The waist inside, outside and over all for every layer that might keep the drafted size."""
    rows = []
    for found in facts.girths:
        if found.level == "waist":
            own = found.drafted == facts.drafted
            surfaces = (SKIN, OUTSIDE, over_all(found))
            texts = [_girth(found, surface, facts.units) for surface in surfaces]
            drawn = found.closed[found.drafted]
            beside = [_against(found.closed[at] - drawn, facts.units) for at in surfaces[::2]]
            words = f"inside {beside[0]}, over all {beside[1]} the drafted size"
            name = found.drafted + (_CHOSEN[facts.basis.drafted_named] if own else "")
            rows.append(plain(name, *texts, words=words, kept=own))
    return Grid(
        "The waist, for each layer that might keep the drafted size",
        "drafted size kept on",
        ("inside", "outside", "tape over all", "so it finishes"),
        tuple(rows),
    )


def _against(difference: float, units: str) -> str:
    size = tape_length(abs(difference), units)
    if size.startswith("0 "):
        return "at"
    return f"{size} {'above' if difference > 0.0 else 'below'}"


def _girth(row: LevelGirths, surface: str, units: str) -> str:
    # The drafted layer has its size by the maker's own choice.
    error = 0.0 if surface == row.drafted else row.plus_minus[surface]
    return tape_length(row.closed[surface], units, error).removesuffix(f" {units}")


def matching_table(facts: FitFacts) -> Grid:
    """The pattern beside the body that was measured, to what a tape can tell."""
    units = facts.units
    rows = [
        plain(
            f"{item.level}: {item.quantity}",
            *(coarse(value, units) for value in (item.pattern, item.body)),
            ("+" if item.difference > 0.0 else "") + coarse(item.difference, units),
        )
        for item in facts.matched
    ]
    heads = ("pattern", "body", "body less pattern")
    return Grid("The pattern against the body", "measure", heads, tuple(rows))


def your_girths(facts: FitFacts) -> Grid:
    """Every surface at every level for the layer that the job keeps, and worn in."""
    units, drafted, levels = facts.units, facts.drafted, facts.yours
    lines = [
        GridRow(name, tuple(_girth_cell(row, name, units) for row in levels), kept=name == drafted)
        for name in levels[0].closed
    ]
    if facts.seasoning is not None:
        worn = [
            [_taped(row.worn_in(SKIN, part), units) for part in facts.seasoning] for row in levels
        ]
        own = tuple(Cell(f"{least} to", most) for least, most in worn)
        lines.append(GridRow(f"{SKIN}, worn in", own))
    heads = tuple(row.level for row in levels)
    chosen = "your choice" if facts.basis.drafted_named else "taken, as none is chosen"
    return Grid(f"Drafted size kept on {drafted}: {chosen}", "surface", heads, tuple(lines))


def _girth_cell(row: LevelGirths, surface: str, units: str) -> Cell:
    alone = _taped(row.edge_to_edge[surface], units)
    return Cell(_girth(row, surface, units), f"({alone})")


def _taped(length_mm: float, units: str) -> str:
    return tape_length(length_mm, units).removesuffix(f" {units}")


def side_by_side(facts: FitFacts) -> Grid:
    """Inside and over all at every level, one row for each layer that might keep the size."""
    choices = dict.fromkeys(row.drafted for row in facts.girths)
    rows = []
    for name in choices:
        own = [row for row in facts.girths if row.drafted == name]
        cells = tuple(
            Cell(
                _taped(row.closed[SKIN], facts.units),
                _taped(row.closed[over_all(row)], facts.units),
            )
            for row in own
        )
        rows.append(GridRow(name, cells, kept=name == facts.drafted))
    return Grid(
        "Drafted size kept on each layer in turn: inside, and below it by a tape over all",
        "drafted size kept on",
        tuple(row.level for row in facts.yours),
        tuple(rows),
    )


def turning_table(facts: FitFacts) -> Grid:
    """How many degrees each panel turns at each level, and its part of all panels."""

    def cell(item: Turning) -> Cell:
        share = "" if item.share is None else f"{item.share:.0%}"
        return Cell(f"{np.degrees(item.angle):.1f}°", share)

    found = {(item.panel, item.level): cell(item) for item in facts.turning}
    return _by_level(facts, "Turning of each panel, and its share", found)


def growth_tables(facts: FitFacts) -> list[Grid]:
    """For every cut layer but the drafted one what each panel gains or loses across."""
    units = facts.units

    def cell(item: Grown) -> Cell:
        words = summand(item.growth, units, signed=True)
        spread = item.plus_minus if item.plus_minus is not None else item.by_body
        return Cell(words if not spread else f"{words} ± {_upwards(spread, units)}")

    grids = []
    for layer in facts.layers:
        if not layer.distances.any():
            continue
        name = layer.fabric.name
        found = {(i.panel, i.level): cell(i) for i in facts.grown if i.layer == name}
        own = layer.distances[list(layer.covered)]
        known = any(i.plus_minus is None and i.by_body for i in facts.grown if i.layer == name)
        grids.append(
            _by_level(
                facts,
                f"{name}, {distance_range(own, units)} from the drafted layer"
                + ("; plus or minus by the body alone" if known else ""),
                found,
            )
        )
    return grids


def bulk_table(facts: FitFacts) -> Grid:
    """Plies of cloth at every seam at the waist, and how thick they are together."""
    rows = [
        plain(item.seam, str(item.plies), summand(item.thickness, facts.units))
        for item in facts.bulk
    ]
    caption = "Seams at the waist, on their thicker side"
    return Grid(caption, "seam", ("plies", "thickness"), tuple(rows))


def _upwards(spread: float, units: str) -> str:
    """A plus or minus is never shown smaller than it is."""
    step = {"mm": 0.1, "cm": 0.1, "in": 0.254}[units]
    return summand(float(np.ceil(spread / step - 1e-6)) * step, units)


def recut_table(facts: FitFacts) -> Grid:
    """By how much to recut each edge of a layer's seams that was cut on the draft's own lines."""
    names = tuple(facts.verdict.steps)
    steps = seam_steps(facts)
    found = {
        (item.seam, item.layer): f"{'out' if item.step > 0.0 else 'in'} "
        + step_length(item, facts.units).removesuffix(f" {facts.units}")
        for item in steps
        if item.step
    }
    return Grid(
        f"Seams to recut, each edge, where a layer was cut on {facts.drafted}'s paper",
        "seam",
        names,
        tuple(
            plain(seam, *(found.get((seam, name), "as it is") for name in names))
            for seam in dict.fromkeys(item.seam for item in steps)
        ),
    )


def alike_tables(facts: FitFacts) -> list[Grid]:
    """Strain of each outer layer and excess of each inner one if all were cut alike."""
    units = facts.units

    def cell(item: Alike) -> Cell:
        if item.strain is not None:
            return Cell(f"{item.strain:.1%}")
        if item.buckle is not None:
            return Cell(
                f"{summand(-item.growth, units)} over", f"{summand(item.buckle, units)} high"
            )
        return Cell("0")

    grids = []
    for layer in facts.layers:
        own = [item for item in facts.alike if item.layer == layer.fabric.name]
        if not own or not layer.distances.any():
            continue
        outer = bool(layer.distances.max() > 0.0)
        what = "stretch it would need" if outer else "cloth over, and one wave of it"
        found = {(item.panel, item.level): cell(item) for item in own}
        grids.append(_by_level(facts, f"{layer.fabric.name}: {what}", found))
    return grids


def _by_level(facts: FitFacts, caption: str, found: dict[tuple[str, str], Cell]) -> Grid:
    """One row a panel, one column a level; panels of which nothing is known are left out."""
    levels = facts.pattern.level_names()
    rows = [
        GridRow(
            panel.name, tuple(found.get((panel.name, level), Cell(NOTHING)) for level in levels)
        )
        for panel in facts.pattern.panels
        if any((panel.name, level) in found for level in levels)
    ]
    return Grid(caption, "panel", levels, tuple(rows))


def walk_table(facts: FitFacts) -> Grid:
    """Difference of the two edges of every seam in every layer, with the verdict in words."""
    names, units = tuple(layer.fabric.name for layer in facts.layers), facts.units
    most = summand(facts.basis.options.seam_tolerance, units)
    found = {}
    for walk in facts.walks:
        verdict = "pass" if walk.passes else "fail"
        words = summand(walk.difference, units, signed=True)
        if not walk.passes and float(words.lstrip("+-")) <= float(most):
            # Told finer, and upwards, where a tenth would hide by how little it fails.
            size = caliper_length(abs(walk.difference), units, up=True).removesuffix(f" {units}")
            words = words[0] + size
        found[walk.seam, walk.layer] = Cell(f"{words} {verdict}", css=verdict)
    rows = [
        GridRow(seam, tuple(found.get((seam, name), Cell(NOTHING)) for name in names))
        for seam in dict.fromkeys(walk.seam for walk in facts.walks)
    ]
    return Grid("Difference of the two edges", "seam", names, tuple(rows))


def rolling_table(facts: FitFacts) -> Grid:
    """Former for each panel at each level, and the steps at its front and back edge."""
    units = facts.units

    def cell(step: RollingStep) -> Cell:
        size = former_length(step, units).removesuffix(f" {units}")
        steps = [summand(value, units) for value in (step.step_front, step.step_back)]
        return Cell(size, " | ".join(steps))

    found = {(step.panel, step.level): cell(step) for step in facts.rolling}
    return _by_level(facts, "Formers, and the steps at the front | back edge", found)


def objects_table(facts: FitFacts) -> Grid:
    """What at home is about as thick as each panel's former at the waist."""
    rows = [
        plain(step.panel, words=", ".join(step.objects) or "nothing common")
        for step in facts.rolling
        if step.level == "waist"
    ]
    heads = ("about as thick as its former at the waist",)
    return Grid("Things of that size", "panel", heads, tuple(rows))


def former_table(facts: FitFacts) -> Grid:
    """What rolling all panels over one former would come to, at the waist."""
    units = facts.units
    rows = [
        plain(
            coarse(item.diameter, units),
            _taped(item.gained, units),
            _taped(item.needed, units),
            words=_former_words(item.excess, units),
            kept=item.diameter == facts.basis.options.former,
        )
        for item in facts.formers
    ]
    heads = ("gained, whole corset", "needed on the body", "so rolling")
    caption = "All panels rolled over one former, at the waist"
    return Grid(caption, "former", heads, tuple(rows))


def _former_words(excess: float, units: str) -> str:
    if abs(excess) < 0.5:
        return "comes out right"
    return f"{'over' if excess > 0.0 else 'under'}-eases by {tape_length(abs(excess), units)}"


def needs_table(facts: FitFacts) -> Grid:
    """What to buy of each fabric on each width of cloth, and how good the layout is."""
    units = facts.units
    rows = [
        plain(
            f"{layout.fabric}, {coarse(layout.sold_width, units)}",
            layout.to_buy_text(units),
            coarse(layout.length, units),
            f"{layout.share:.0%}",
            coarse(layout.bound, units),
            f"{layout.above_bound:.1%}",
        )
        for layout in facts.needs.layouts
    ]
    heads = ("to buy", "layout", "share used", "lower bound", "above the bound")
    return Grid("Length to buy", "fabric and width of cloth", heads, tuple(rows))
