"""Base drafts as lists of elements, and the SVG files that they are exported to.

A base draft is drawn plainly: one closed outline a panel, named; a waistline and level lines,
notches, grainlines and bone channels, named; nothing twice. The tests disturb the list as a
drawing program would and write it out again.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from functools import cache
from html import escape
from pathlib import Path
from typing import Final

import numpy as np
import pytest

from panelshift.draft import Reading, assemble
from panelshift.outline import Curve
from panelshift.pattern.pattern import Pattern
from panelshift.sources.svg import read_svg
from tests.support.drafts import path_data
from tests.support.drawings import half

SAMPLE: Final = Path(__file__).parents[2] / "sample_patterns" / "hourglass.svg"

STROKED: Final = 'fill="none" stroke="#000000" stroke-width="0.5"'
FILLED: Final = 'fill="#dddddd" stroke="none"'


@dataclass(frozen=True, eq=False)
class Element:
    """One path element, in sheet mm.

    Parameters
    ----------
    curves : tuple of Curve
        Its subpaths.
    name : str
        Its label; empty if the export gave it none.
    role : str
        What it is on the base draft: outline, waist, level or mark.
    panel : str
        The panel it lies on; empty for what lies on several or on none.
    paint : str
        Presentation attributes.
    """

    curves: tuple[Curve, ...]
    name: str = ""
    role: str = "mark"
    panel: str = ""
    paint: str = STROKED

    def moved(self, matrix: np.ndarray) -> Element:
        return replace(self, curves=tuple(curve.transformed(matrix) for curve in self.curves))


Elements = list[Element]
Change = Callable[[Elements], Elements]


# -- the base drafts ----------------------------------------------------------------------


def _line(*points: tuple[float, float]) -> Curve:
    return Curve.polyline(points)


@cache
def _half_block() -> tuple[Element, ...]:
    """Four panels with curved sides from formulas, with all kinds of marks."""
    found = []
    for draft in half(4):
        name, x, y, end = draft.name, draft.x, draft.y, draft.x + draft.waist
        (outline,) = curves_of(f'<path d="{draft.data}"/>')
        found.append(Element((outline,), name, "outline", name))
        found.append(Element((_line((x - 1, y), (end + 1, y)),), "waist", "waist", name))
        for level, up in (("bust", 90.0), ("hip", -70.0)):
            line = _line((x - 30, y - up), (end + 30, y - up))
            found.append(Element((_trimmed(line, outline),), level, "level", name))
        found.append(Element((_line((x + 12, y - 60), (x + 12, y + 70)),), "grain", "mark", name))
        channel = Curve.polyline(
            [(x + 20, y - 95), (x + 27, y - 95), (x + 27, y + 80), (x + 20, y + 80)], closed=True
        )
        found.append(Element((channel,), "bone channel", "mark", name))
        notch = _line((x + draft.waist - 4, y + 30), (x + draft.waist + 5, y + 30))
        found.append(Element((notch,), "notch", "mark", name))
    return tuple(found)


def _trimmed(line: Curve, outline: Curve) -> Curve:
    """The part of a level line within an outline and 1 mm beyond."""
    from panelshift.outline.crossing import crossings

    (ax, ay), (bx, by) = crossings(outline, line).points
    return _line((min(ax, bx) - 1.0, ay), (max(ax, bx) + 1.0, by))


@cache
def _hourglass() -> tuple[Element, ...]:
    """The sample: six panels, transforms baked in, each line named after its label or group."""
    drawing = read_svg(SAMPLE)
    panels = assemble(drawing).panels
    found = [Element((panel.outline,), panel.name, "outline", panel.name) for panel in panels]
    for shape in drawing.shapes:
        labels = [*shape.groups[2:], *shape.names[1:]]
        if "sheet" in shape.groups or not labels:
            continue
        role = "waist" if labels[-1] == "waist" else "mark"
        if "levels" in shape.groups and role != "waist":
            role = "level"
        found.append(Element((shape.curve,), labels[-1], role, shape.groups[1]))
    return tuple(found)


BASES: Final[dict[str, Callable[[], tuple[Element, ...]]]] = {
    "half block": _half_block,
    "hourglass": _hourglass,
}


EACH_BASE: Final = ["half block", pytest.param("hourglass", marks=pytest.mark.slow)]
"""The drafts for a test of each: the sample goes the same ways, and takes longer."""


def base(name: str) -> Elements:
    """The elements of a base draft."""
    return list(BASES[name]())


@cache
def plain(name: str) -> Pattern:
    """The pattern that a base draft makes as it is."""
    return assembled(base(name))


# -- writing ------------------------------------------------------------------------------

MM: Final = np.array([[1.0, 0.0, 0.0], [0.0, 1.0, 0.0]])
ROOT_MM: Final = 'width="1000mm" height="1000mm" viewBox="0 0 1000 1000"'

Data = Callable[[Curve], str]


def written(element: Element, number: int, data: Data = path_data) -> str:
    """A path element; a label is an id made unique and, in full, an aria-label."""
    label = escape(element.name)
    named = f'id="{label} {number}" aria-label="{label}" ' if label else ""
    if element.role == "outline" and label:
        named = f'id="{label}" '
    return f'<path {named}{element.paint} d="{"".join(map(data, element.curves))}"/>'


def body_of(elements: Iterable[Element], data: Data = path_data) -> str:
    return "".join(written(element, k, data) for k, element in enumerate(elements))


def document(body: str, root: str = ROOT_MM) -> bytes:
    return f'<svg xmlns="http://www.w3.org/2000/svg" {root}>{body}</svg>'.encode()


def curves_of(body: str) -> list[Curve]:
    """The curves of SVG elements in mm."""
    return [shape.curve for shape in read_svg(document(body)).shapes]


def pattern_of(body: str, root: str = ROOT_MM, reading: Reading | None = None) -> Pattern:
    """The pattern that a document's elements make."""
    return assemble(read_svg(document(body, root), name="export.svg"), reading)


def assembled(
    elements: Sequence[Element], data: Data = path_data, reading: Reading | None = None
) -> Pattern:
    """The pattern that elements make, on a sheet in mm."""
    return pattern_of(body_of(elements, data), reading=reading)


def of_role(elements: Iterable[Element], *roles: str) -> Elements:
    return [element for element in elements if element.role in roles]
