"""One panel in all its layers, the differences enlarged, from the draft to the layers."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from lxml import etree

from ..fit.fact_tables import bare
from ..fit.facts import FitFacts
from ..fit.outline_change import OutlineChange
from ..fit.overlay_figure import MAGNIFICATIONS
from ..outline import FloatArray
from ..pattern.panel import Panel
from ..sheets.palette import Style
from ..sheets.picture import finished, line, picture, stroke, text

_SHOWN_PART: Final = 0.12
"""Differences are enlarged to about this part of the panel's width unless the maker says."""

_LETTER: Final = 0.03
"""Font size as a part of the picture's height."""

_LINE_PX: Final = 1.7
"""Width of a layer's line on the screen, at any magnification."""

_FLIP: Final = np.array([1.0, -1.0])


@dataclass(frozen=True)
class Look:
    """What of the layers is looked at.

    Parameters
    ----------
    panel : int
        Index of the panel.
    layer : str
        Name of one layer; all if empty.
    enlarged : float
        How many times as large differences are drawn; 0 for what suits the panel.
    part : float
        How far from the draft (0) to the layers (1).
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


def overlay(facts: FitFacts, changes: Mapping[str, OutlineChange], look: Look) -> Overlay:
    """Draw a panel's outline in its layers on top of the draft's.

    Parameters
    ----------
    facts : FitFacts
    changes : mapping of layer name to OutlineChange
        Of that panel.
    look : Look
    """
    pattern = facts.pattern
    panel = pattern.panels[look.panel]
    styles = {
        layer.fabric.name: facts.styles[layer.fabric.name]
        for layer in facts.layers
        if look.panel in layer.covered and look.layer in ("", layer.fabric.name)
    }
    enlarged = look.enlarged or _suitable(list(changes.values()))
    chosen = {name: changes[name] for name in styles}
    root, at, letter = _paper(panel, list(changes.values()), enlarged)
    shape = etree.SubElement(root, "g", {"id": "overlay-lines", "class": "layers"})
    draft = panel.frame.to_panel(panel.outline.flatten(0.1))
    line(shape, draft * _FLIP + at, {"class": "draft-line"})
    for level in (panel.waist, *panel.levels):
        points = panel.frame.to_panel(level.curve.flatten(0.1)) * _FLIP + at
        line(shape, points, {"class": "level-line"})
    for name, change in chosen.items():
        points = change.at(look.part * enlarged) * _FLIP + at
        css = {"class": "layer-line", "data-layer": name}
        line(shape, points, stroke(styles[name], _LINE_PX) | css)
    _growth(root, facts, look, panel, at, letter, list(styles))
    return Overlay(finished(root), enlarged, styles, _widest(chosen, enlarged, at))


def _widest(
    changes: Mapping[str, OutlineChange], enlarged: float, at: FloatArray
) -> tuple[float, float]:
    """Place in the picture at which a layer moves furthest."""
    furthest, place = -1.0, at
    for change in changes.values():
        moved = np.hypot(*change.change.T)
        index = int(np.argmax(moved))
        if moved[index] > furthest:
            furthest = float(moved[index])
            place = change.at(0.5 * enlarged)[index] * _FLIP + at
    return round(float(place[0]), 1), round(float(place[1]), 1)


def _suitable(changes: Sequence[OutlineChange]) -> float:
    """The largest usual magnification that leaves the panel to be recognised."""
    largest = max((float(np.abs(change.change).max()) for change in changes), default=0.0)
    width = min((float(np.ptp(change.draft[:, 0])) for change in changes), default=0.0)
    return next(
        (m for m in MAGNIFICATIONS if m * largest <= _SHOWN_PART * width), MAGNIFICATIONS[-1]
    )


def _paper(
    panel: Panel, changes: Sequence[OutlineChange], enlarged: float
) -> tuple[etree._Element, FloatArray, float]:
    """An empty picture that holds every layer at its furthest, and where the waist's middle is."""
    # All layers count, not only those chosen: nothing jumps when another is looked at.
    clouds = [panel.frame.to_panel(panel.outline.flatten(0.1))]
    clouds += [change.at(enlarged) for change in changes]
    points = np.vstack(clouds) * _FLIP
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
    look: Look,
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
    right = float(panel.frame.to_panel(panel.outline.flatten(0.1))[:, 0].max())
    left = float(panel.frame.to_panel(panel.outline.flatten(0.1))[:, 0].min())
    for level in (panel.waist, *panel.levels):
        growth = facts.shifted.growth(place, look.panel, level.height)
        y = -level.height
        words = bare(growth, units, signed=True)
        end = np.array([right + 0.8 * letter + 3.0 * letter, y + 0.35 * letter]) + at
        text(root, words, end, letter)
        begin = np.array([left - 3.4 * letter, y + 0.35 * letter]) + at
        text(root, level.name, begin, 0.8 * letter)
