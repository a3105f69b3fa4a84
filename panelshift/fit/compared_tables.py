"""Two corsets side by side in words, tables and pictures; the first is called A, the second B."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

import numpy as np
from lxml import etree

from ..files import csv_bytes
from ..needs.buying import Layout
from ..sheets.palette import SIDE_STYLES
from ..sheets.svg_writer import finished, line, picture, stroke
from ..shift.altered import Altered
from ..units import cloth_length, summand, tape_length, unit_words
from .compared import ComparedCorsets, ComparedLength
from .fact_tables import NOTHING, Grid, plain
from .girths import OUTSIDE, SKIN, TAPE, coarse
from .layer_change import OutlineChange, suitable_magnification

_SURFACES: Final = {SKIN: "inside", OUTSIDE: "outside", TAPE: "tape over all"}

_SAME_MM: Final = 0.05
"""What is shown as the same, to the tenth that growth is told in."""


def compared_words(both: ComparedCorsets, units: str) -> list[str]:
    """What matters of the difference, in a few sentences."""
    found = [_waist_words(both, units), *_line_words(both, units)]
    found += [
        f"Only {name} has: {', '.join(own)}."
        for name, own in zip(SIDE_STYLES, both.only, strict=True)
        if own
    ]
    return [words for words in found if words]


def _waist_words(both: ComparedCorsets, units: str) -> str:
    waist = {item.of: item for item in both.girths if item.level == "waist"}
    if not waist:
        return "Both have no waist that all panels reach: no finished size is compared."
    said = [f"{_SURFACES[of]} {_against(item, units)}" for of, item in waist.items()]
    return f"The finished waist of B: {'; '.join(said)}."


def _against(item: ComparedLength, units: str) -> str:
    """B's length against A's, as a tape tells both."""
    more = tape_length(abs(item.more), units)
    size = tape_length(item.second, units)
    if more.startswith("0 "):
        return f"{size}, the same as A's"
    return f"{size}, {more} {'more' if item.more > 0.0 else 'less'} than A's"


def _line_words(both: ComparedCorsets, units: str) -> list[str]:
    found, alike = [], []
    for called, panels in both.lines.items():
        apart = {name: float(change.distances.max()) for name, change in panels.items()}
        if not apart:
            continue
        worst = max(apart, key=lambda name: apart[name])
        if apart[worst] < _SAME_MM:
            alike.append(called)
        else:
            far = cloth_length(apart[worst], units, up=True)
            found.append(f"{called}: B's lines lie up to {far} from A's, the furthest at {worst}.")
    return [*found, *([f"Cut alike in both: {', '.join(alike)}."] if alike else [])]


def compared_tables(both: ComparedCorsets, units: str) -> list[Grid]:
    """Finished girths, growth of each layer, and cloth to buy."""
    heads = ("A", "B", "B less A")
    girths = [
        plain(
            f"{item.level}, {_SURFACES[item.of]}",
            *(tape_length(end, units).removesuffix(f" {units}") for end in item.ends),
            summand(item.more, units, signed=True),
            kept=item.level == "waist",
        )
        for item in both.girths
    ]
    caption = f"Finished girths, lacing gap counted, {units}"
    found = [Grid(caption, "level and surface", heads, tuple(girths))] if girths else []
    for called in both.layers:
        own = [item for item in both.growth if item.of == called]
        rows = []
        for panel in dict.fromkeys(item.panel for item in own):
            most = max((i for i in own if i.panel == panel), key=lambda item: abs(item.more))
            cells = [summand(end, units, signed=True) for end in most.ends]
            more = summand(most.more, units, signed=True)
            rows.append(plain(panel, *cells, more, words=f"at the {most.level}"))
        if any(abs(item.more) >= _SAME_MM for item in own):
            caption = f"Growth of {called} across, {units}, where A and B differ most"
            found.append(Grid(caption, "panel", (*heads, "where"), tuple(rows)))
    if both.cloth:
        rows = [
            plain(
                f"{item.fabric}, {coarse(item.width, units)} wide",
                *(_bought(layout, units) for layout in item.ends),
            )
            for item in both.cloth
        ]
        found.append(Grid("Cloth to buy", "fabric", heads[:2], tuple(rows)))
    return found


def compared_csv(both: ComparedCorsets) -> bytes:
    """All numbers to a millionth, lengths in mm, for scripts and spreadsheets."""
    rows: list[list[float | str]] = [["what", "of", "panel", "level", "a_mm", "b_mm"]]
    for what, items in (("finished girth", both.girths), ("growth", both.growth)):
        # As numbers: what is negative would be text, as it might be a formula.
        rows += [[what, i.of, i.panel, i.level, *(round(end, 6) for end in i.ends)] for i in items]
    rows += [
        [
            f"cloth {item.width:g} mm wide",
            item.fabric,
            "",
            "",
            *("" if layout is None else round(layout.needed, 6) for layout in item.ends),
        ]
        for item in both.cloth
    ]
    return csv_bytes(rows)


def _bought(layout: Layout | None, units: str) -> str:
    if layout is None:
        return NOTHING
    # Pieces that lie in rows take no less: then it is the most that is needed.
    return f"{'' if layout.nested else 'at most '}{layout.to_buy_text(units)}"


def compared_figures(both: ComparedCorsets) -> Iterator[tuple[str, str]]:
    """For each layer and panel that differ what they are, and A's stitch line under B's."""
    for called, panels in both.lines.items():
        enlarged = suitable_magnification([{called: change} for change in panels.values()])
        for name, change in panels.items():
            if float(change.distances.max()) >= _SAME_MM:
                root, _ = compared_picture(change, name, enlarged)
                # One page holds many of them.
                del root[0].attrib["id"]
                yield f"{called}: {name}, differences x {enlarged:g}", finished(root)


_LETTER: Final = 0.04
"""Font size as a part of the picture's height."""

_FLIP: Final = np.array([1.0, -1.0])


def compared_picture(
    change: OutlineChange, panel: str, enlarged: float, line_px: float = 1.7
) -> tuple[etree._Element, tuple[float, float]]:
    """A's stitch line and B's over it, and where in the picture they lie furthest apart.

    *enlarged*: how many times as far B's is drawn from A's as it lies.
    """
    shown = change.at(enlarged) * _FLIP
    points = np.vstack([change.draft * _FLIP, shown])
    low, high = points.min(axis=0), points.max(axis=0)
    border = _LETTER * float(high[1] - low[1])
    low, high = low - border, high + border
    words = f"panel {panel}: B's line over A's, differences drawn {enlarged:g} times as large"
    wide, tall = (high - low).tolist()
    root = picture(wide, tall, words)
    root.set("class", "sheet overlay")
    root.set("fill", "none")
    # The magnifier of a page shows this group once more.
    group = etree.SubElement(root, "g", {"id": "overlay-lines", "class": "layers"})
    for name, own in (("A", change.draft * _FLIP), ("B", shown)):
        line(group, own - low, stroke(SIDE_STYLES[name], line_px) | {"class": "layer-line"})
    furthest = int(np.argmax(change.distances))
    at = change.at(0.5 * enlarged)[furthest] * _FLIP - low
    return root, (round(float(at[0]), 1), round(float(at[1]), 1))


BOTH_ALIKE: Final = (
    "One half is drawn: both sides are altered alike, and the whole girth changes by twice what is "
    "entered."
)


def altered_tables(found: Altered, units: str) -> tuple[Grid, ...]:
    """A draft before and after a fitting's alterations: its girths, and the seams that changed."""
    words = unit_words(units)
    girths = tuple(
        plain(
            girth.level,
            *(summand(size, units) for size in (girth.before, girth.after)),
            *(summand(by, units, signed=True) for by in (girth.after - girth.before, girth.asked)),
        )
        for girth in found.girths
    )
    seams = tuple(
        plain(
            seam.seam,
            *(
                summand(by, units, signed=True)
                for by in np.subtract(seam.after, seam.before).tolist()
            ),
            summand(seam.difference, units, signed=True),
        )
        for seam in found.seams
    )
    grids = (
        Grid(
            f"Girth of all panels, without the lacing gap, in {words}",
            "level",
            ("before", "after", "change", "asked for"),
            girths,
        ),
        Grid(
            f"Seams that changed their length, by edge, and by how much the edges differ now, in "
            f"{words}",
            "seam",
            ("first", "second", "difference"),
            seams,
        ),
    )
    return tuple(grid for grid in grids if grid.rows)
