"""The fit sheet's facts set in tables, in the maker's units."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from ..units import MM_PER_UNIT, show
from .facts import FitFacts, Grown
from .girths import OUTSIDE, SKIN, Alike, LevelGirths

MOST_COLUMNS: Final = 6
"""Columns of numbers that fit beside the row's name on a page of A4 or Letter."""


@dataclass(frozen=True)
class Cell:
    """What stands in one place of a table: a word or number, a smaller second line, a style."""

    text: str
    note: str = ""
    css: str = ""


@dataclass(frozen=True)
class Row:
    """A named row; `kept` sets it off as the maker's own choice."""

    head: str
    cells: tuple[Cell, ...]
    kept: bool = False


@dataclass(frozen=True)
class Grid:
    """A table.

    Parameters
    ----------
    corner : str
        What the rows' names are.
    heads : tuple of str
        Of the columns.
    rows : tuple of Row
        Each as wide as the heads.
    left : frozenset of int
        Columns set to the left, as words are.
    kept_column : int
        Column set off as the maker's own choice; none if negative.
    """

    caption: str
    corner: str
    heads: tuple[str, ...]
    rows: tuple[Row, ...]
    left: frozenset[int] = frozenset()
    kept_column: int = -1


def narrow(grid: Grid, most: int = MOST_COLUMNS) -> list[Grid]:
    """Cut a table that is too wide for a page into several, each with the rows' names."""
    count = len(grid.heads)
    if count <= most:
        return [grid]
    # Parts of nearly equal width: no column stands alone.
    each = -(-count // -(-count // most))
    parts = []
    for start in range(0, count, each):
        chosen = slice(start, start + each)
        parts.append(
            Grid(
                grid.caption + (" (continued)" if start else ""),
                grid.corner,
                grid.heads[chosen],
                tuple(replace(row, cells=row.cells[chosen]) for row in grid.rows),
                frozenset(k - start for k in grid.left if start <= k < start + each),
                grid.kept_column - start if start <= grid.kept_column < start + each else -1,
            )
        )
    return parts


def cells(texts: Sequence[str]) -> tuple[Cell, ...]:
    """Return plain cells."""
    return tuple(Cell(words) for words in texts)


NOTHING = "-"
"""Stands where a panel has no such level."""


def bare(value: float, units: str, *, signed: bool = False) -> str:
    """Format a length without its unit."""
    return show(value, units, signed=signed).split()[0]


def coarse(value: float, units: str) -> str:
    """Format the size of a thing that is looked for in a kitchen: to the mm, or near it."""
    digits = {"mm": 0, "cm": 1, "in": 1}[units]
    return f"{value / MM_PER_UNIT[units]:.{digits}f} {units}"


def waist_choices(facts: FitFacts) -> Grid:
    """The waist inside and outside for every layer that might keep the drafted size."""
    units = facts.units
    found = [row for row in facts.girths if row.level == "waist"]
    return Grid(
        "The waist, for each layer that might keep the drafted size",
        "drafted size kept on",
        ("inside, with gap", "outside, with gap", "inside, corset alone", "outside, corset alone"),
        tuple(
            Row(
                row.drafted + (" (your choice)" if row.drafted == facts.drafted else ""),
                cells(
                    [
                        bare(values[surface], units)
                        for values in (row.closed, row.edge_to_edge)
                        for surface in (SKIN, OUTSIDE)
                    ]
                ),
                kept=row.drafted == facts.drafted,
            )
            for row in found
        ),
    )


def your_girths(facts: FitFacts) -> Grid:
    """Every surface at every level for the layer that the job keeps, and worn in."""
    units, drafted = facts.units, facts.drafted
    levels = facts.yours
    lines = [
        Row(
            surface,
            tuple(_girth_cell(row, surface, units) for row in levels),
            kept=surface == drafted,
        )
        for surface in levels[0].closed
    ]
    if facts.seasoning is not None:
        low, high = facts.seasoning
        lines.append(
            Row(
                f"{SKIN}, worn in",
                tuple(
                    Cell(
                        f"{bare(row.worn_in(SKIN, low), units)} to",
                        bare(row.worn_in(SKIN, high), units),
                    )
                    for row in levels
                ),
            )
        )
    return Grid(
        f"Drafted size kept on {drafted}: your choice",
        "surface",
        tuple(row.level for row in levels),
        tuple(lines),
    )


def _girth_cell(row: LevelGirths, surface: str, units: str) -> Cell:
    # The drafted layer has its size by the maker's own choice.
    error = None if surface == row.drafted else row.plus_minus[surface]
    spread = "" if error is None else f" ± {bare(error, units)}"
    alone = bare(row.edge_to_edge[surface], units)
    return Cell(f"{bare(row.closed[surface], units)}{spread}", f"({alone})")


def side_by_side(facts: FitFacts) -> list[Grid]:
    """For every level the girth on each surface, one column for each possible drafted layer."""
    units = facts.units
    grids = []
    for level in (row.level for row in facts.yours):
        found = [row for row in facts.girths if row.level == level]
        choices = [row.drafted for row in found]
        grids.append(
            Grid(
                f"{level}: drafted size kept on each layer in turn",
                "surface",
                tuple(choices),
                tuple(
                    Row(
                        surface,
                        tuple(
                            Cell(bare(row.closed[surface], units), css=_own(surface, row))
                            for row in found
                        ),
                    )
                    for surface in found[0].closed
                ),
                kept_column=choices.index(facts.drafted),
            )
        )
    return grids


def _own(surface: str, row: LevelGirths) -> str:
    return "own" if surface == row.drafted else ""


def turning_table(facts: FitFacts) -> Grid:
    """How many degrees each panel turns at each level, and its part of all panels."""
    levels = facts.pattern.level_names()
    found = {(item.panel, item.level): item for item in facts.turning}
    lines = []
    for panel in facts.pattern.panels:
        own = [found.get((panel.name, level)) for level in levels]
        lines.append(
            Row(
                panel.name,
                tuple(
                    Cell(NOTHING)
                    if item is None
                    else Cell(
                        f"{np.degrees(item.angle):.1f}°",
                        "" if item.share is None else f"{item.share:.0%}",
                    )
                    for item in own
                ),
            )
        )
    return Grid("Turning of each panel, and its share", "panel", levels, tuple(lines))


def growth_tables(facts: FitFacts) -> list[Grid]:
    """For every cut layer but the drafted one what each panel gains or loses across."""
    units = facts.units

    def cell(item: Grown) -> Cell:
        words = bare(item.growth, units, signed=True)
        if item.plus_minus is not None:
            return Cell(f"{words} ± {bare(item.plus_minus, units)}")
        if item.by_body:
            return Cell(f"{words} ± {bare(item.by_body, units)}", "by the body")
        return Cell(words)

    grids = []
    for layer in facts.layers:
        if not layer.distances.any():
            continue
        name = layer.fabric.name
        found = {(i.panel, i.level): cell(i) for i in facts.grown if i.layer == name}
        own = layer.distances[list(layer.covered)]
        grids.append(
            _by_level(facts, f"{name}, {_range(own.tolist())} from the drafted layer", found)
        )
    return grids


def _range(distances: Sequence[float]) -> str:
    low, high = min(distances), max(distances)
    return f"{low:+.3f} mm" if high - low < 5e-4 else f"{low:+.3f} to {high:+.3f} mm"


def alike_tables(facts: FitFacts) -> list[Grid]:
    """Strain of each outer layer and excess of each inner one if all were cut alike."""
    units = facts.units

    def cell(item: Alike) -> Cell:
        if item.strain is not None:
            return Cell(f"{item.strain:.2%}")
        if item.buckle is not None:
            return Cell(
                f"{bare(-item.growth, units)} over", f"up to {bare(item.buckle, units)} high"
            )
        return Cell("0")

    grids = []
    for layer in facts.layers:
        own = [item for item in facts.alike if item.layer == layer.fabric.name]
        if not own or not layer.distances.any():
            continue
        outer = bool(layer.distances.max() > 0.0)
        what = "stretch it would need" if outer else "cloth over, and its buckle at most"
        found = {(item.panel, item.level): cell(item) for item in own}
        grids.append(_by_level(facts, f"{layer.fabric.name}: {what}", found))
    return grids


def _by_level(facts: FitFacts, caption: str, found: dict[tuple[str, str], Cell]) -> Grid:
    """One row a panel, one column a level."""
    pattern = facts.pattern
    levels = pattern.level_names()
    panels = [
        panel.name
        for panel in pattern.panels
        if any((panel.name, name) in found for name in levels)
    ]
    return Grid(
        caption,
        "panel",
        levels,
        tuple(
            Row(panel, tuple(found.get((panel, level), Cell(NOTHING)) for level in levels))
            for panel in panels
        ),
    )


def walk_table(facts: FitFacts) -> Grid:
    """Difference of the two edges of every seam in every layer, with the verdict in words."""
    units = facts.units
    names = tuple(layer.fabric.name for layer in facts.layers)
    found = {(walk.seam, walk.layer): walk for walk in facts.walks}
    lines = []
    for seam in dict.fromkeys(walk.seam for walk in facts.walks):
        row = []
        for name in names:
            walk = found.get((seam, name))
            if walk is None:
                row.append(Cell(NOTHING))
                continue
            verdict = "pass" if walk.passes else "fail"
            words = bare(walk.difference, units, signed=True)
            row.append(Cell(f"{words} {verdict}", css=verdict))
        lines.append(Row(seam, tuple(row)))
    return Grid("Difference of the two edges", "seam", names, tuple(lines))


def rolling_tables(facts: FitFacts) -> list[Grid]:
    """Former and step for each panel, one table a level."""
    units = facts.units
    grids = []
    for level in facts.pattern.level_names():
        steps = [step for step in facts.rolling if step.level == level]
        grids.append(
            Grid(
                f"{level}: former and step",
                "panel",
                ("turns", "former", "step, front edge", "step, back edge", "about as thick"),
                tuple(
                    Row(
                        step.panel,
                        cells(
                            [
                                f"{np.degrees(step.angle):.1f}°",
                                "flat" if step.former is None else coarse(step.former, units),
                                show(step.step_front, units),
                                show(step.step_back, units),
                                ", ".join(step.objects) or "nothing common",
                            ]
                        ),
                    )
                    for step in steps
                ),
                left=frozenset({4}),
            )
        )
    return grids


def former_table(facts: FitFacts) -> Grid:
    """What rolling all panels over one former would come to, at the waist."""
    units = facts.units
    return Grid(
        "All panels rolled over one former, at the waist",
        "former",
        ("gained, whole corset", "needed on the body", "so rolling"),
        tuple(
            Row(
                coarse(item.diameter, units),
                cells(
                    [
                        show(item.gained, units),
                        show(item.needed, units),
                        _former_words(item.excess, lambda value: show(value, units)),
                    ]
                ),
                kept=item.diameter == facts.basis.options.former,
            )
            for item in facts.formers
        ),
        left=frozenset({2}),
    )


def _former_words(excess: float, size: Callable[[float], str]) -> str:
    if abs(excess) < 0.5:
        return "comes out right"
    return f"{'over' if excess > 0.0 else 'under'}-eases by {size(abs(excess))}"


def needs_table(facts: FitFacts) -> Grid:
    """What to buy of each fabric on each width of cloth, and how good the layout is."""
    units = facts.units
    return Grid(
        "Length to buy",
        "fabric and width of cloth",
        ("to buy", "layout", "share used", "lower bound", "above the bound"),
        tuple(
            Row(
                f"{layout.fabric}, {coarse(layout.cloth_width, units)}",
                cells(
                    [
                        layout.to_buy_text(units),
                        coarse(layout.length, units),
                        f"{layout.share:.0%}",
                        coarse(layout.bound, units),
                        f"{layout.above_bound:.1%}",
                    ]
                ),
            )
            for layout in facts.needs.layouts
        ),
    )
