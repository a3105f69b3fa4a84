"""Build the sheets: one for each layer that is cut, and one that overlays them all."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from ..outline import FloatArray
from ..pattern.panel import Panel
from ..shift import LayerPattern, Shifted
from .header import HEAD_MM, NARROWEST_MM, head, legend
from .labels import panel_labels, text_width
from .panel_lines import panel_strokes
from .placement import rows, upright
from .plan import CutPlan
from .sheet import LAYER_STYLES, Label, Sheet, Stroke, Style


@dataclass(frozen=True, eq=False)
class _Part:
    """One panel's drawing about its waist's middle, upright."""

    strokes: list[Stroke]
    labels: list[Label]

    def box(self) -> FloatArray:
        bounds = np.array([stroke.curve.bounds() for stroke in self.strokes])
        return np.array([bounds[:, 0].min(axis=0), bounds[:, 1].max(axis=0)])

    def at(self, place: FloatArray) -> _Part:
        move = np.array([[1.0, 0.0, place[0]], [0.0, 1.0, place[1]]])
        return _Part(
            [replace(s, curve=s.curve.transformed(move)) for s in self.strokes],
            [replace(label, at=label.at + place) for label in self.labels],
        )


def layer_sheet(
    shifted: Shifted, layer: LayerPattern, plan: CutPlan
) -> tuple[Sheet, tuple[str, ...]]:
    """Lay out all panels of one layer; also names of panels whose cut line was flattened."""
    drawn = shifted.turn.pattern
    parts, flattened = [], []
    for index in layer.covered:
        panel = layer.pattern.panels[index]
        strokes, flat = panel_strokes(layer.pattern, index, layer.fabric.name, plan)
        matrix = upright(drawn.panels[index])
        strokes = [replace(s, curve=s.curve.transformed(matrix)) for s in strokes]
        labels = _draft_texts(panel, matrix)
        words = [panel.name, layer.fabric.name, *plan.cutting(drawn, index).words()]
        taken = [_band(s) for s in strokes if s.kind in ("waistline", "level-lines")]
        taken += [_text_band(label) for label in labels]
        stitch = next(s for s in strokes if s.kind == "stitch-line")
        labels += panel_labels(panel.name, stitch.curve, taken, words)
        parts.append(_Part(strokes, labels))
        if flat:
            flattened.append(panel.name)
    title = f"{plan.title}: {layer.fabric.name}"
    about = [
        f"layer {layer.place + 1} of {len(shifted.layers)}, counted from the body"
        + (" (drafted layer: keeps the drafted size)" if layer.drafted else ""),
        f"mid-surface {_range(layer.distances)} mm from the drafted layer's",
        "true size in mm; turn of cloth is in the stitch lines",
        "solid: cut line; dashed: stitch line; dash-dot: waistline",
    ]
    return _sheet(title, about, parts, plan.sheet_width), tuple(flattened)


def _band(stroke: Stroke) -> tuple[float, float]:
    """The stretch of sheet y that a line takes up."""
    y = stroke.curve.vertices[:, 1]
    return float(y.min()), float(y.max())


def _text_band(label: Label) -> tuple[float, float]:
    """The stretch of sheet y that a text takes up, level or turned."""
    run = text_width(label.text, label.size) * np.sin(label.angle)
    rise = label.size * abs(np.cos(label.angle))
    y = float(label.at[1])
    return min(y, y + run) - rise, max(y, y + run) + 0.3 * rise


def _draft_texts(panel: Panel, matrix: FloatArray) -> list[Label]:
    turn = float(np.arctan2(matrix[1, 0], matrix[0, 0]))
    return [
        Label(
            text.content,
            matrix[:, :2] @ text.anchor + matrix[:, 2],
            text.size,
            text.angle + turn,
            panel=panel.name,
            drafted=True,
        )
        for text in panel.texts
    ]


def _range(distances: FloatArray) -> str:
    low, high = float(distances.min()), float(distances.max())
    if high - low < 5e-4:
        return f"{low:+.3f}"
    return f"{low:+.3f} to {high:+.3f}"


def overlay_sheet(shifted: Shifted, plan: CutPlan) -> Sheet:
    """Stitch lines of all cut layers on top of each other, panel by panel, for looking."""
    layers = [layer for layer in shifted.layers if layer.fabric.cut_out]
    styles = layer_styles([layer.fabric.name for layer in layers])
    drawn = shifted.turn.pattern
    parts = []
    for index, panel in enumerate(drawn.panels):
        matrix = upright(panel)
        strokes = []
        for layer in layers:
            if index in layer.covered:
                own = layer.pattern.panels[index]
                for curve in (own.outline, own.waist.curve, *(lv.curve for lv in own.levels)):
                    moved = curve.transformed(matrix)
                    strokes.append(Stroke("stitch-line", moved, panel.name, layer.fabric.name))
        if not strokes:
            continue
        taken = [_band(s) for s in strokes if not s.curve.closed]
        labels = panel_labels(panel.name, strokes[0].curve, taken, [panel.name])
        parts.append(_Part(strokes, labels))
    about = [
        "all layers of each panel on top of each other, to look at, not to cut",
        "true size; stitch lines, waist and level lines only",
    ]
    sheet = _sheet(f"{plan.title}: overlay", about, parts, plan.sheet_width)
    key, names = legend(styles, 200.0, 47.5)
    height = sheet.height + max(0.0, 7.5 * (len(styles) - 4))
    return replace(
        sheet,
        height=height,
        strokes=(*sheet.strokes, *key),
        labels=(*sheet.labels, *names),
        layer_styles=styles,
    )


def layer_styles(names: list[str]) -> dict[str, Style]:
    """A style for each layer, told apart by dash as well as by colour."""
    return {
        name: replace(LAYER_STYLES[k % len(LAYER_STYLES)], label=name)
        for k, name in enumerate(names)
    }


def _sheet(title: str, about: list[str], parts: list[_Part], width: float) -> Sheet:
    places, used_width, used_height = rows([part.box() for part in parts], width)
    strokes, labels = head(title, about)
    for part, place in zip(parts, places, strict=True):
        moved = part.at(place + np.array([0.0, HEAD_MM]))
        strokes += moved.strokes
        labels += moved.labels
    # Whole millimetres: the sheet's size is read by people and printers.
    return Sheet(
        title,
        float(np.ceil(max(used_width, NARROWEST_MM))),
        float(np.ceil(used_height + HEAD_MM)),
        tuple(strokes),
        tuple(labels),
    )
