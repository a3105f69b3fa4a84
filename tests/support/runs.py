"""The whole public run: SVG text in, layers shifted, a cutting file out and read back."""

from __future__ import annotations

import shutil
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache, cached_property
from pathlib import Path

import numpy as np

from panelshift.body import BodyModel, ClassModel, infer_classes
from panelshift.body.turn import TurnOfCloth, turn_of_cloth
from panelshift.cutting.layer_sheets import layer_sheets, layer_stem
from panelshift.cutting.plan import CutPlan
from panelshift.draft import assemble
from panelshift.job import CutResult, cut, read_job, resolve
from panelshift.outline import FloatArray
from panelshift.outline.measure import length
from panelshift.pattern.panel import EdgeName, Panel
from panelshift.pattern.pattern import Pattern, Seam
from panelshift.pattern.profile import SIDES
from panelshift.sheets.sheet import Sheet
from panelshift.sheets.svg_writer import sheet_svg
from panelshift.shift import LayerPattern, Shifted, shift
from panelshift.shift.lengthening import Lengthening
from panelshift.sources.svg import read_svg
from panelshift.stack import Fabric, Stack

SAMPLES = Path(__file__).parents[2] / "sample_patterns"


def sample_by_classes(folder: Path) -> Path:
    """The first sample's job, in a folder of its own, its body told by classes."""
    shutil.copy(SAMPLES / "hourglass.svg", folder)
    job = folder / "hourglass.toml"
    text = (SAMPLES / "hourglass.toml").read_text(encoding="utf-8")
    job.write_text(text + '\n[body]\nmodel = "classes"\n', encoding="utf-8")
    return job


def two_layers(distance: float) -> Stack:
    """A drafted layer and a second one whose mid-surface lies `distance` mm outside it.

    A negative distance puts the second layer inside, next to the body.
    """
    cloth = Fabric("drafted", abs(distance)), Fabric("shifted", abs(distance))
    return Stack(cloth if distance >= 0.0 else cloth[::-1], "drafted")


@dataclass(frozen=True, eq=False)
class Run:
    """A pattern as read, what it turns through, and all its layers."""

    pattern: Pattern
    turn: TurnOfCloth
    shifted: Shifted

    def layer(self, name: str = "shifted") -> Pattern:
        """A layer's pattern in memory."""
        return self.shifted.layers[self._place(name)].pattern

    def written(self, name: str = "shifted") -> Pattern:
        """A layer's cutting file, written and read back as a pattern of its own."""
        sheet = self._sheets[self._place(name)]
        return assemble(read_svg(sheet_svg(sheet), name=f"{name}.svg"))

    @cached_property
    def _sheets(self) -> list[Sheet]:
        # All at once: one by one each would look for the room that words have on all of them.
        return layer_sheets(self.shifted, self.shifted.layers, CutPlan())

    def _place(self, name: str) -> int:
        return [layer.fabric.name for layer in self.shifted.layers].index(name)


@cache
def read_pattern(svg: bytes) -> Pattern:
    return assemble(read_svg(svg, name="draft.svg"))


def run(
    svg: bytes,
    stack: Stack,
    body: BodyModel | None = None,
    *,
    classes: Sequence[str] | None = None,
    gap: float = 0.0,
) -> Run:
    """Read a drawing, turn it and shift it; classes are inferred unless given."""
    pattern = read_pattern(svg)
    if classes is None:
        classes = infer_classes(np.array([panel.waist_width for panel in pattern.panels]))
    turn = turn_of_cloth(pattern, body or ClassModel(), classes, gap=gap)
    return Run(pattern, turn, shift(pattern, stack, turn))


@cache
def sample(name: str) -> CutResult:
    """A sample pattern's job, carried out."""
    return cut(resolve(read_job(SAMPLES / f"{name}.toml")))


def sample_layers(name: str) -> list[tuple[LayerPattern, Pattern]]:
    """Every cut layer of a sample, with its cutting file read back as a pattern."""
    result = sample(name)
    layers = {f"{layer_stem(layer)}.svg": layer for layer in result.shifted.layers}
    return [
        (layers[file], assemble(read_svg(content, name=file)))
        for file, content in result.drawings.items()
        if file in layers
    ]


def level_widths(pattern: Pattern) -> FloatArray:
    """Width of every panel at every level line from the top down, shape (panels, levels)."""
    return np.array(
        [
            [level.width for level in sorted(p.level_lines, key=lambda item: -item.height)]
            for p in pattern.panels
        ]
    )


def level_heights(pattern: Pattern) -> FloatArray:
    """Mean height of every level line above the waist, as for `level_widths`."""
    heights = [sorted((lv.height for lv in p.level_lines), reverse=True) for p in pattern.panels]
    return np.asarray(np.mean(heights, axis=0))


def edge_lengths(panel: Panel) -> list[float]:
    """Lengths of the four edges: front, back, top, bottom."""
    return [length(panel.edge(name)) for name in ("front", "back", "top", "bottom")]


def seam_excess(before: Pattern, after: Pattern) -> float:
    """By how many mm any seam's two edges differ more than they did before."""

    def difference(pattern: Pattern, seam: Seam) -> float:
        first, second = pattern.panels[seam.first], pattern.panels[seam.second]
        return abs(length(first.edge(seam.first_edge)) - length(second.edge(seam.second_edge)))

    return max(difference(after, seam) - difference(before, seam) for seam in before.seams)


def on_grid(found: Lengthening, layer: int, name: EdgeName) -> FloatArray:
    """Displacement in mm of every panel's edge at the profile's heights, (panels, m)."""
    heights = found.turn.profile.heights
    panels, side = found.distances.shape[1], SIDES.index(name)
    edge = np.repeat(2 * np.arange(panels) + side, len(heights))
    value, _ = found.at(np.full_like(edge, layer), edge, np.tile(heights, panels))
    return value.reshape(panels, -1)
