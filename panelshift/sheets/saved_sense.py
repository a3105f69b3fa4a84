"""Whether what was saved makes sense as a whole: what no one field tells, and a hand may break."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final

import numpy as np

from ..files.plain_values import UnfitDataError
from ..pattern.panel import CORNER_NAMES, Panel
from ..pattern.pattern import Pattern
from ..shift import LayerPattern

_EXACT: Final = 1e-9
_UNIT: Final = 1e-6
"""Directions are unit vectors to this."""
_SAME_MM: Final = 0.01


def refuse_nonsense(found: Pattern | Sequence[LayerPattern]) -> None:
    """Refuse what cannot be a pattern, or layers of one.

    Raises `UnfitDataError` of the first thing that is wrong.
    """
    if isinstance(found, Pattern):
        _refuse_pattern(found, "pattern")
        return
    for k, layer in enumerate(found):
        place = f"layers[{k}]"
        _refuse_pattern(layer.whole, f"{place}.whole")
        _refuse_layer(layer, found[:k], place)
    drafted = [k for k, layer in enumerate(found) if layer.drafted]
    if len(drafted) > 1:
        raise UnfitDataError(f"layers[{drafted[1]}].drafted", "is true of a second layer")


def _refuse_layer(layer: LayerPattern, before: Sequence[LayerPattern], place: str) -> None:
    names = [panel.name for panel in layer.whole]
    if layer.distances.shape != (len(names),):
        raise UnfitDataError(
            f"{place}.distances",
            f"has {layer.distances.size} numbers, and the layer {len(names)} panels",
        )
    if layer.drafted and layer.distances.any():
        raise UnfitDataError(f"{place}.distances", "is not 0 of the drafted layer")
    if layer.place < 0:
        raise UnfitDataError(f"{place}.place", "is below 0")
    for other in before:
        if other.fabric.name == layer.fabric.name:
            raise UnfitDataError(place, f"is {layer.fabric.name!r:.60} a second time")
        if other.place == layer.place:
            raise UnfitDataError(f"{place}.place", f"is that of {other.fabric.name!r:.60} as well")
        if [panel.name for panel in other.whole] != names:
            raise UnfitDataError(f"{place}.whole", "has other panels than the layers before it")
        apart = (layer.distances - other.distances) * np.sign(layer.place - other.place)
        if (apart < -_EXACT).all():
            raise UnfitDataError(
                f"{place}.place",
                f"puts it on the other side of {other.fabric.name!r:.60} than its distances",
            )


def _refuse_pattern(pattern: Pattern, place: str) -> None:
    if pattern.centre is not None and not 0.0 <= pattern.centre <= len(pattern):
        raise UnfitDataError(f"{place}.centre", "lies beyond the panels")
    every = dict(_panels(pattern, place))
    known = {panel.name for panel in (*every.values(), *(pattern.whole or ()))}
    for at, panel in every.items():
        _refuse_panel(panel, at)
        unplaced = panel.waist is None and panel.pointed is None and not panel.made_of
        if unplaced and "pieces" not in at:
            raise UnfitDataError(at, "has no waist")
        for tip in panel.tips:
            if tip.piece not in known:
                raise UnfitDataError(f"{at}.tips", f"names {tip.piece!r:.60}, which is no panel")


def _panels(pattern: Pattern, place: str) -> Iterator[tuple[str, Panel]]:
    for k, panel in enumerate(pattern):
        yield f"{place}.panels[{k}]", panel
        for j, piece in enumerate(panel.pieces):
            yield f"{place}.panels[{k}].pieces[{j}]", piece


def _refuse_panel(panel: Panel, place: str) -> None:
    if not panel.outline.closed:
        raise UnfitDataError(f"{place}.outline", "is not closed")
    count = len(panel.outline)
    corners = np.array([getattr(panel.corners, name) for name in CORNER_NAMES])
    for name, corner in zip(CORNER_NAMES, corners.tolist(), strict=True):
        if not 0.0 <= corner <= count:
            raise UnfitDataError(
                f"{place}.corners.{name}",
                f"is {corner:g}, beyond the outline, which has {count} segments",
            )
    ahead = (np.roll(corners, -1) - corners) * (1.0 if panel.corners.runs_up_front else -1.0)
    top, back, bottom, front = (ahead % count).tolist()
    # Those at the tip of a gore are one.
    if abs(top + back + bottom + front - count) > _EXACT * count or not (front and back):
        raise UnfitDataError(f"{place}.corners", "do not follow each other round the outline")
    across, up = panel.frame.across, panel.frame.up
    shapes = {array.shape for array in (panel.frame.origin, across, up)}
    if shapes != {(2,)}:
        raise UnfitDataError(f"{place}.frame", "has arrays that are no pairs")
    off = np.array([across @ across - 1.0, up @ up - 1.0, across @ up])
    if np.abs(off).max() > _UNIT:
        raise UnfitDataError(f"{place}.frame", "has directions that are not square to each other")
    for level in panel.level_lines:
        ends = panel.frame.to_panel(np.stack([level.curve.start, level.curve.end]))
        if abs(float(ends[:, 1].mean()) - level.height) > _SAME_MM:
            raise UnfitDataError(place, f"has its level {level.name!r:.60} at another height")
