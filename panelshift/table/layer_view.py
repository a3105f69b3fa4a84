"""A panel in all its layers over the draft, the differences enlarged: the cut lines of step 4."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from lxml import etree

from ..fit.facts import FitFacts
from ..fit.layer_change import MAGNIFICATIONS, OutlineChange, level_points, outline_points
from ..outline import FloatArray
from ..pattern.panel import Panel
from ..sheets.palette import Style
from ..sheets.svg_writer import finished, key_line, line, picture, stroke, text
from ..units import summand
from .pattern_picture import safe
from .toml_changes import key_of

_LETTER: Final = 0.03
"""Font size as a part of the picture's height."""

_LINE_PX: Final = 1.7
"""Width of a layer's line on the screen, at any magnification."""

_FLIP: Final = np.array([1.0, -1.0])


@dataclass(frozen=True)
class LayerChoice:
    """What of the layers is looked at.

    *panel*: index of the panel. *layer*: name of one layer; all if empty. *enlarged*: how many
    times as large differences are drawn; 0 for what suits all panels. *part*: how far from the
    draft (0) to the layers (1).
    """

    panel: int = 0
    layer: str = ""
    enlarged: float = 0.0
    part: float = 1.0


@dataclass(frozen=True, eq=False)
class Overlay:
    """The picture, how much it enlarges, its layers' styles, and where they differ most in it."""

    svg: str
    enlarged: float
    styles: dict[str, Style]
    widest: tuple[float, float]


def overlay(facts: FitFacts, choice: LayerChoice) -> Overlay:
    """Draw a panel's outline in its layers on top of the draft's."""
    pattern = facts.pattern
    panel = pattern.panels[choice.panel]
    styles = {
        layer.fabric.name: facts.styles[layer.fabric.name]
        for layer in facts.layers
        if choice.panel in layer.covered and choice.layer in ("", layer.fabric.name)
    }
    changes = facts.changes[choice.panel]
    enlarged = choice.enlarged or facts.magnified
    chosen = {name: changes[name] for name in styles}
    root, at, letter = _paper(panel, list(changes.values()), enlarged)
    shape = etree.SubElement(root, "g", {"id": "overlay-lines", "class": "layers"})
    line(shape, outline_points(panel) * _FLIP + at, {"class": "draft-line"})
    for points in level_points(panel):
        line(shape, points * _FLIP + at, {"class": "level-line"})
    for name, change in chosen.items():
        points = change.at(choice.part * enlarged) * _FLIP + at
        css = {"class": "layer-line", "data-layer": name}
        line(shape, points, stroke(styles[name], _LINE_PX) | css)
    _growth(root, facts, choice, panel, at, letter, list(styles))
    return Overlay(finished(root), enlarged, styles, _widest(chosen, enlarged, at))


def _widest(
    changes: Mapping[str, OutlineChange], enlarged: float, at: FloatArray
) -> tuple[float, float]:
    """Place in the picture at which a layer moves furthest."""
    furthest, place = -1.0, at
    for change in changes.values():
        index = int(np.argmax(change.distances))
        if change.distances[index] > furthest:
            furthest = float(change.distances[index])
            place = change.at(0.5 * enlarged)[index] * _FLIP + at
    return round(float(place[0]), 1), round(float(place[1]), 1)


def _paper(
    panel: Panel, changes: Sequence[OutlineChange], enlarged: float
) -> tuple[etree._Element, FloatArray, float]:
    """An empty picture that holds every layer at its furthest, and where the waist's middle is."""
    # All layers count, not only those chosen: nothing jumps when another is looked at.
    clouds = (change.at(enlarged) for change in changes)
    points = np.vstack([outline_points(panel), *clouds]) * _FLIP
    low, high = points.min(axis=0), points.max(axis=0)
    letter = max(_LETTER * float(high[1] - low[1]), 1e-3)
    low, high = low - np.array([6.5, 1.0]) * letter, high + np.array([6.5, 1.0]) * letter
    width, height = (float(size) for size in high - low)
    root = picture(
        width,
        height,
        f"panel {panel.name}: its layers over the draft, differences drawn {enlarged:g} times "
        "as large",
    )
    root.set("class", "sheet overlay")
    root.set("fill", "none")
    return root, -low, letter


def _growth(
    root: etree._Element,
    facts: FitFacts,
    choice: LayerChoice,
    panel: Panel,
    at: FloatArray,
    letter: float,
    layers: Sequence[str],
) -> None:
    """Write at each level how much wider the layer is; of several layers, the outermost."""
    if not layers:
        return
    units = facts.units
    place = facts.shifted.layer(layers[-1]).place
    left, right = (float(end(outline_points(panel)[:, 0])) for end in (np.min, np.max))
    for level in panel.level_lines:
        growth = facts.shifted.growth(place, choice.panel, level.height)
        y = -level.height
        words = summand(growth, units, signed=True)
        end = np.array([right + 0.8 * letter + 3.0 * letter, y + 0.35 * letter]) + at
        text(root, words, end, letter)
        begin = np.array([left - 3.4 * letter, y + 0.35 * letter]) + at
        text(root, level.name, begin, 0.8 * letter)


def choice_of(form: Mapping[str, str], facts: FitFacts) -> LayerChoice:
    """Return what the controls ask for; what makes no sense is left at its default."""
    panels = facts.pattern.panels
    names = [layer.fabric.name for layer in facts.layers]
    panel = _whole(form.get("panel", ""))
    if panel is None or panel >= len(panels):
        panel = _most_turned(facts)
    enlarged = _whole(form.get("enlarged", ""))
    part = _whole(form.get("part", ""))
    return LayerChoice(
        panel,
        form.get("layer", "") if form.get("layer") in names else "",
        float(enlarged) if enlarged is not None and float(enlarged) in MAGNIFICATIONS else 0.0,
        1.0 if part is None else min(max(part, 0), 100) / 100.0,
    )


def _most_turned(facts: FitFacts) -> int:
    """The panel that turns most at the waist: there the layers differ most."""
    names = [panel.name for panel in facts.pattern.panels]
    at_waist = {turn.panel: turn.angle for turn in facts.turning if turn.level == "waist"}
    return max(range(len(names)), key=lambda index: at_waist.get(names[index], 0.0))


def _whole(text: str) -> int | None:
    return int(text) if text.isascii() and text.isdigit() and len(text) < 6 else None


def overlay_view(facts: FitFacts, query: Mapping[str, str]) -> dict[str, Any]:
    """Return the picture of one panel and its controls."""
    choice = choice_of(query, facts)
    drawn = overlay(facts, choice)
    panels = [panel.name for panel in facts.pattern.panels]
    layers = [layer.fabric.name for layer in facts.layers]
    return {
        "panel": choice.panel,
        "panels": panels,
        "layer": choice.layer,
        "layers": layers,
        # The controls are left as they are while there is the same to choose from.
        "keep": key_of("\n".join([*panels, "", *layers])),
        "part": math.floor(100.0 * choice.part + 0.5),
        "enlarged": f"{drawn.enlarged:g}",
        "chosen": f"{choice.enlarged:g}" if choice.enlarged else "",
        "enlargements": [f"{value:g}" for value in reversed(MAGNIFICATIONS)],
        "svg": safe(drawn.svg),
        "widest": drawn.widest,
        "key": [
            {"name": name, "svg": safe(key_line(style))} for name, style in drawn.styles.items()
        ],
        "growth_of": list(drawn.styles)[-1] if drawn.styles else "",
        "units": facts.units,
    }
