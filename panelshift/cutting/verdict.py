"""What is worth cutting: which layers can share a paper, which seams are worth another line.

A difference that is smaller than the maker's cutting, or than what the cloth gives where it is
sewn, is not worth a paper of its own.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from ..outline import FloatArray
from ..pattern.panel import EDGE_NAMES, EdgeName
from ..shift import LayerPattern, Shifted
from ..units import CLOTH_MM, SIXTEENTH_MM, cloth_length, show
from .plan import CutPlan, cut_layers

_SAMPLES: Final = 33
_FLATNESS_MM: Final = 0.02


@dataclass(frozen=True)
class Recut:
    """An edge of a panel, and how far a layer's lies from the drafted layer's at most, in mm."""

    layer: str
    panel: str
    edge: EdgeName
    apart: float


@dataclass(frozen=True, eq=False)
class Verdict:
    """Which papers serve which layers.

    *papers*: Layers that can be cut from one paper, the one whose lines it has first. *apart*: For
    each paper, how far the outlines of its layers lie from its lines at most, in mm. *worth*,
    *not_worth*: Edges of the papers' layers that differ from the drafted layer's by more than the
    cutting's accuracy, and by less. *steps*: How far both edges of each seam move outwards from the
    drafted layer's at the waist, rounded to what cloth holds so that no rounding adds up along the
    waist.
    """

    papers: tuple[tuple[LayerPattern, ...], ...]
    apart: tuple[float, ...]
    worth: tuple[Recut, ...]
    not_worth: tuple[Recut, ...]
    steps: dict[str, tuple[tuple[str, float], ...]]

    @property
    def shared(self) -> tuple[LayerPattern, ...]:
        """The layers whose papers are needed."""
        return tuple(paper[0] for paper in self.papers)

    def words(self, plan: CutPlan, of: str = "") -> list[str]:
        """What to tell the maker; of one fabric, if it is named, only which paper serves it."""

        def most(length: float) -> str:
            # As the fit sheet tells it: what lines are off by at most is rounded up.
            return cloth_length(length, plan.unit, decimals=plan.decimals, up=True)

        lines = []
        for paper, apart in zip(self.papers, self.apart, strict=True):
            names = [layer.fabric.name for layer in paper]
            if of and of not in names:
                continue
            if len(names) > 1:
                others = ", ".join(names[1:])
                lines.append(
                    f"{names[0]}: one paper serves {others} too, no line lies more than "
                    f"{most(apart)} off"
                )
            else:
                lines.append(f"{names[0]}: a paper of its own")
        for layer in self.shared:
            own = [item for item in self.worth if item.layer == layer.fabric.name]
            if own and not of:
                panels: dict[str, list[str]] = {}
                for item in own:
                    panels.setdefault(item.panel, []).append(f"{item.edge} {most(item.apart)}")
                said = "; ".join(f"{name} ({', '.join(each)})" for name, each in panels.items())
                rest = sum(item.layer == layer.fabric.name for item in self.not_worth)
                lines.append(
                    f"{layer.fabric.name} differs from the draft where it matters, at most by: "
                    f"{said}; {rest} other edges by less than can be cut"
                )
        return lines


def verdict(shifted: Shifted, plan: CutPlan) -> Verdict:
    """Judge the layers that are cut by the plan's accuracy and the give of each cloth."""
    layers = sorted(cut_layers(shifted), key=lambda layer: float(layer.distances.mean()))
    apart = _Apart(layers)
    papers, gaps = [], []
    left = list(range(len(layers)))
    while left:
        # The innermost that is left, and the outermost paper that still serves it.
        first = left[0]
        serving = [j for j in left if apart.excess(first, j, plan) <= plan.accuracy]
        paper = max(serving)
        drafted = [j for j in serving if layers[j].drafted]
        chosen = drafted[0] if drafted else paper
        served = [k for k in left if apart.excess(k, chosen, plan) <= plan.accuracy]
        order = [chosen, *(k for k in served if k != chosen)]
        papers.append(tuple(layers[k] for k in order))
        others = (apart.between(k, chosen).max() for k in served if k != chosen)
        gaps.append(float(max(others, default=0.0)))
        left = [k for k in left if k not in served]
    base = next((k for k, layer in enumerate(layers) if layer.drafted), None)
    worth: list[Recut] = []
    not_worth: list[Recut] = []
    for paper_layers in papers:
        k = layers.index(paper_layers[0])
        if base is None or k == base:
            continue
        names = [panel.name for panel in layers[k].whole.panels]
        for (index, edge), far in apart.edges(k, base).items():
            item = Recut(layers[k].fabric.name, names[index], edge, far)
            (worth if far > plan.accuracy else not_worth).append(item)
    steps = {
        layer.fabric.name: _steps(shifted, layer, plan)
        for layer in layers
        if not (layer.drafted or layer.fabric.cut_in_one)
    }
    return Verdict(tuple(papers), tuple(gaps), tuple(worth), tuple(not_worth), steps)


def told_apart(
    layers: Sequence[LayerPattern], stroke: float
) -> tuple[list[LayerPattern], list[str]]:
    """Layers whose lines can be nested, and a table of those that would run together.

    Where neighbours lie nowhere further from each other than a stroke is wide (mm), only the
    innermost and the outermost are kept; the table says how far between them the others lie.
    """
    order = sorted(layers, key=lambda layer: float(layer.distances.mean()))
    apart = _Apart(order)
    gaps = [apart.between(k, k + 1).max(initial=0.0) for k in range(len(order) - 1)]
    # Drawn larger by different parts, they do not lie in the order of their distances.
    parted = len({layer.fabric.cut_larger for layer in order}) > 1
    if len(order) < 3 or parted or min(gaps) >= stroke:
        return list(layers), []
    inner, outer = order[0], order[-1]
    low, high = (float(end.distances.mean()) for end in (inner, outer))
    table = [
        f"{layer.fabric.name}: not drawn, its lines lie {share:.0%} of the way from "
        f"{inner.fabric.name} to {outer.fabric.name}"
        for layer in order[1:-1]
        for share in [(float(layer.distances.mean()) - low) / max(high - low, 1e-9)]
    ]
    return [layer for layer in layers if layer in (inner, outer)], table


_WALKS_MM: Final = 0.1
"""Seams as cut that differ by less more than they do as sewn are not spoken of."""


def walked_as_cut(shifted: Shifted, unit: str) -> list[str]:
    """How far the edges of seams differ before sewing has taken up what pieces are larger by.

    Widened more than lengthened, the slanting one of two edges grows more than its mate.
    """
    lines = []
    for layer in cut_layers(shifted):
        walks = zip(layer.walk(), layer.walk(as_cut=True), strict=True)
        more = [
            (abs(cut.difference) - abs(sewn.difference), cut)
            for sewn, cut in walks
            if abs(cut.difference) - abs(sewn.difference) > _WALKS_MM
        ]
        if more:
            _, worst = max(more, key=lambda item: item[0])
            lines.append(
                f"{layer.fabric.name} as cut: the edges of {worst.name} differ by "
                f"{show(abs(worst.difference), unit)}, {len(more)} of {len(layer.walk())} seams by "
                "more than as sewn; they meet once sewing has taken up its part: quilt or cord "
                "before you join panels, or ease them in"
            )
    return lines


class _Apart:
    """How far the outlines of layers lie from each other, edge by edge."""

    def __init__(self, layers: Sequence[LayerPattern]) -> None:
        self._layers = layers
        self._lines = [
            {
                (k, edge): layer.whole_as_cut.panels[k].edge(edge).flatten(_FLATNESS_MM)
                # Pieces of several panels have edges of their own.
                for k in (() if layer.fabric.cut_in_one else layer.covered)
                for edge in EDGE_NAMES
            }
            for layer in layers
        ]
        self._known: dict[tuple[int, int], dict[tuple[int, EdgeName], float]] = {}

    def edges(self, one: int, two: int) -> dict[tuple[int, EdgeName], float]:
        """Greatest distance of each edge that both layers have, in mm."""
        key = (min(one, two), max(one, two))
        if key not in self._known:
            first, second = self._lines[key[0]], self._lines[key[1]]
            self._known[key] = {
                edge: _greatest(line, second[edge])
                for edge, line in first.items()
                if edge in second
            }
        return self._known[key]

    def between(self, one: int, two: int) -> FloatArray:
        """The same as an array."""
        return np.array(list(self.edges(one, two).values()))

    def excess(self, one: int, paper: int, plan: CutPlan) -> float:
        """How far a layer lies from a paper beyond its cloth's give.

        It is inf if the layer lacks a panel, or has pieces of its own.
        """
        if one == paper:
            return 0.0
        if any(self._layers[k].fabric.own_pieces for k in (one, paper)):
            return np.inf
        if not set(self._layers[one].covered) <= set(self._layers[paper].covered):
            return np.inf
        give = plan.gives.get(self._layers[one].fabric.name, 0.0)
        panels = self._layers[one].whole_as_cut.panels
        return max(
            far - 0.5 * give * panels[k].waist_width
            for (k, _), far in self.edges(one, paper).items()
        )


def _greatest(one: FloatArray, two: FloatArray) -> float:
    """Greatest distance of points of a polyline from another polyline, in mm."""
    points = one[np.unique(np.linspace(0, len(one) - 1, _SAMPLES).astype(int))]
    start, step = two[:-1], np.diff(two, axis=0)
    size = np.maximum((step * step).sum(axis=1), 1e-30)
    share = np.clip(((points[:, None] - start) * step).sum(axis=2) / size, 0.0, 1.0)
    feet = start + share[..., None] * step
    return float(np.sqrt(((feet - points[:, None]) ** 2).sum(axis=2)).min(axis=1).max())


def _steps(shifted: Shifted, layer: LayerPattern, plan: CutPlan) -> tuple[tuple[str, float], ...]:
    """Rounded steps at the waist of each seam, what is lost at one carried on to the next."""
    draft = shifted.turn.pattern
    paper = shifted.layers[shifted.stack.drafted_index].whole_as_cut
    unit = SIXTEENTH_MM if plan.unit == "in" else CLOTH_MM
    found, carried = [], 0.0
    for seam in draft.waist_seams:
        moved = []
        for index, edge in ((seam.first, seam.first_edge), (seam.second, seam.second_edge)):
            old, new = (p.panels[index].waist_end(edge) for p in (paper, layer.whole_as_cut))
            assert old is not None  # as the waist crosses the seam
            assert new is not None
            outward = draft.panels[index].frame.across * (-1.0 if edge == "front" else 1.0)
            moved.append(float((new - old) @ outward))
        exact = 0.5 * sum(moved) + carried
        step = round(exact / unit) * unit
        carried = exact - step
        names = [draft.panels[k].name for k in (seam.first, seam.second)]
        found.append((" to ".join(names), step))
    return tuple(found)
