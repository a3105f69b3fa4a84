"""Build the sheets: one for each layer that is cut, and one that overlays them all."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from ..outline import FloatArray
from ..sheets.palette import Style, layer_styles
from ..sheets.sheet import Sheet, SheetLayer, layer_ident, numbered_layers
from ..shift import LayerPattern, Shifted
from ..units import caliper_length
from .composing import Arrange, compose, legend, rowed
from .parts import Part, nested_parts, overlay_parts, parts_of_layers
from .plan import CutPlan, cut_layers, drawn_larger


def layer_sheet(
    shifted: Shifted,
    layer: LayerPattern,
    plan: CutPlan,
    *,
    arrange: Arrange | None = None,
    headed: bool = True,
) -> Sheet:
    """Lay out all panels of one layer.

    *arrange*: how parts are placed; in rows as wide as the plan's sheet if not given. *headed*:
    whether the sheet begins with its title, test squares and cautions.
    """
    return layer_sheets(shifted, [layer], plan, arrange=arrange, headed=headed)[0]


def layer_sheets(
    shifted: Shifted,
    layers: Sequence[LayerPattern],
    plan: CutPlan,
    *,
    arrange: Arrange | None = None,
    headed: bool = True,
) -> list[Sheet]:
    """What `layer_sheet` gives, of several layers in one pass."""
    plan.refuse_unknown(shifted)
    sheets = []
    for layer, parts in zip(layers, parts_of_layers(shifted, layers, plan), strict=True):
        title = f"{plan.title}: {layer.fabric.name}"
        about = [*layer_words(shifted, layer, plan.unit), *plan.record]
        sheets.append(
            compose(title, about, parts, arrange or rowed(plan.sheet_width), headed=headed)
        )
    return sheets


def layer_words(shifted: Shifted, layer: LayerPattern, unit: str = "mm") -> list[str]:
    """Lines that explain a layer's sheet."""
    kept = " (drafted layer: keeps the drafted size)" if layer.drafted else ""
    uncut = ", ".join(own.fabric.name for own in shifted.layers if not own.fabric.cut_out)
    return [
        f"layer {layer.place + 1} of {len(shifted.layers)}, counted from the body{kept}",
        *([f"among them, not cut from a pattern: {uncut}"] if uncut else []),
        f"mid-surface {distance_range(layer.distances, unit)} from the drafted layer's",
        "true size; turn of cloth is in the stitch lines",
        *([larger] if (larger := drawn_larger(layer.fabric)) else []),
        *([f"split at {', '.join(layer.fabric.split_at)}"] if layer.fabric.split_at else []),
        "solid: cut line; dashed: stitch line; dash-dot: waistline",
    ]


def overlay_sheet(shifted: Shifted, plan: CutPlan) -> Sheet:
    """Stitch lines of all cut layers on top of each other, panel by panel, for looking."""
    layers = cut_layers(shifted)
    about = [
        "all layers of each panel on top of each other, to look at, not to cut",
        "true size; stitch lines, waist and level lines only"
        if not any(drawn_larger(layer.fabric) for layer in layers)
        else "as sewn, not as drawn larger to cut; stitch, waist and level lines only",
    ]
    parts = overlay_parts(shifted, layers)
    sheet = compose(f"{plan.title}: overlay", about, parts, rowed(plan.sheet_width))
    return _with_legend(sheet, layers, headed=True)


def nested_sheet(
    shifted: Shifted,
    layers: Sequence[LayerPattern],
    plan: CutPlan,
    *,
    arrange: Arrange | None = None,
    headed: bool = True,
    parts: Sequence[Part] | None = None,
    spread: float | None = None,
) -> Sheet:
    """All layers of each panel nested in each other, told apart by line style.

    As for `layer_sheet`, for several layers. *parts*: as `nested_parts` gives them, if known; or as
    `overlay_parts` does, `spread` so many times as far apart.
    """
    parts = nested_parts(shifted, layers, plan) if parts is None else parts
    sheet = compose(
        f"{plan.title}: layers {'nested' if spread is None else 'spread, NOT TO CUT FROM'}",
        nested_words(layers) if spread is None else spread_words(spread),
        parts,
        arrange or rowed(plan.sheet_width),
        headed=headed,
    )
    return _with_legend(sheet, layers, headed=headed)


def nested_words(layers: Sequence[LayerPattern]) -> list[str]:
    """Lines that explain a nested sheet; each panel says what is drawn larger, and by how much."""
    larger = any(drawn_larger(layer.fabric) for layer in layers)
    return [
        "all layers nested: follow one line style, outermost line to cut",
        f"true size; turn of cloth{' and take-up are' if larger else ' is'} in the stitch lines",
    ]


def spread_words(spread: float) -> list[str]:
    """Lines that explain a sheet whose layers are drawn further apart than they lie."""
    return [
        f"not to cut from: each layer's stitch line lies {spread:g} times as far from the draft's "
        "as it does in truth",
        "the drafted layer is at true size",
    ]


def layer_stem(layer: LayerPattern) -> str:
    """Name of a layer's files, without what follows the dot."""
    return layer_ident(layer.place + 1, layer.fabric.name)


def styles_of(layers: Sequence[LayerPattern]) -> dict[str, Style]:
    """Line style of each layer, by the name of its fabric."""
    return layer_styles([layer.fabric.name for layer in layers])


def sheet_layers_of(layers: Sequence[LayerPattern]) -> tuple[SheetLayer, ...]:
    """Layers as a sheet of several shows them, numbered as their files are."""
    return numbered_layers([(layer.fabric.name, layer.place + 1) for layer in layers])


def _with_legend(sheet: Sheet, layers: Sequence[LayerPattern], *, headed: bool) -> Sheet:
    numbered = sheet_layers_of(layers)
    if not headed:
        return replace(sheet, layers=numbered)
    key, names = legend(numbered, 200.0, 47.5)
    return replace(
        sheet,
        strokes=(*sheet.strokes, *key),
        labels=(*sheet.labels, *names),
        layers=numbered,
    )


def distance_range(distances: FloatArray, unit: str) -> str:
    """Least and greatest distance in words, more finely than cloth is cut."""
    low, high = (
        caliper_length(float(end), unit, signed=True) for end in (distances.min(), distances.max())
    )
    return low if low == high else f"{low.removesuffix(f' {unit}')} to {high}"
