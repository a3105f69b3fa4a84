"""Draft a plain corset block from measurements, and shift it to three cloths.

Run it: python parametric_block.py [folder]

The construction is the simplest that works. Panels are equally wide at the waist. What a girth
has over the waist is shared evenly among the edges that are sewn to another panel; the busk and
lacing edges stay straight. Every edge is upright at the waist and runs through the bust and hip
line in one cubic each, so that all seams are alike and walk by themselves.
"""

from __future__ import annotations

import sys
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from panelshift import (
    DraftPanel,
    Fabric,
    Measures,
    Pattern,
    SectionModel,
    Stack,
    layer_svg,
    pattern_from_panels,
    save,
    shift_pattern,
)

BETWEEN = 30.0  # mm between panels on the sheet


@dataclass(frozen=True)
class Client:
    """Girths as the corset is to be worn, and lengths from the waist; all in mm."""

    bust: float
    waist: float
    hip: float
    waist_to_bust: float
    waist_to_hip: float
    gap: float  # left open at the lacing
    panels: int  # of a half
    above_bust: float = 30.0
    below_hip: float = 15.0


INVENTED = Client(
    bust=910, waist=660, hip=930, waist_to_bust=165, waist_to_hip=150, gap=50, panels=6
)

BODY = SectionModel(ratio=Measures.constant(1.35))  # an ellipse, 1.35 times as broad as deep


def draft(client: Client) -> Pattern:
    """Draft the half block."""
    width = 0.5 * (client.waist - client.gap) / client.panels
    seam_edges = 2 * (client.panels - 1)  # of a half
    bust_spring = 0.5 * (client.bust - client.waist) / seam_edges
    hip_spring = 0.5 * (client.hip - client.waist) / seam_edges

    straight = edge(client, 0.0, 0.0)
    sprung = edge(client, bust_spring, hip_spring)
    panels = []
    for k in range(client.panels):
        front = straight if k == 0 else sprung * (-1, 1)
        back = straight if k == client.panels - 1 else sprung
        at = np.array([k * (width + 2 * max(bust_spring, hip_spring) + BETWEEN), 0.0])
        panels.append(panel(str(k + 1), front + at, back + at + [width, 0.0]))
    return pattern_from_panels(panels)


def edge(client: Client, bust_spring: float, hip_spring: float) -> np.ndarray:
    """Four cubics upwards along an edge, shape (4, 4, 2): x outwards, y down from the waist."""
    up, down = client.waist_to_bust, -client.waist_to_hip

    def rise(spring: float, level: float, beyond: float) -> list[np.ndarray]:
        # x = spring (3 t^2 - t^3) / 2 with t = height / level: upright at the waist, without
        # curvature at the level, so that it may go on straight.
        t = np.array([0, 1 / 3, 2 / 3, 1])
        curve = np.column_stack([spring * np.array([0, 0, 0.5, 1]), t * level])
        slope = 1.5 * spring / level
        straight = np.column_stack([spring + t * beyond * slope, level + t * beyond])
        return [curve, straight]

    above = rise(bust_spring, up, client.above_bust)
    below = [run[::-1] for run in rise(hip_spring, down, -client.below_hip)]
    return np.array([*below[::-1], *above]) * (1, -1)  # y runs downwards on a sheet


def panel(name: str, front: np.ndarray, back: np.ndarray) -> DraftPanel:
    """Close two edges to a panel, with its waist, bust and hip lines."""
    top = line(front[-1, -1], back[-1, -1])
    bottom = line(back[0, 0], front[0, 0])
    outline = np.concatenate([front, [top], back[::-1, ::-1], [bottom]])
    middle = 0.5 * (front[2, 0] + back[2, 0])
    return DraftPanel(
        name,
        outline,
        waist=[front[2, 0], back[2, 0]],
        levels={"bust": [front[3, 0], back[3, 0]], "hip": [front[1, 0], back[1, 0]]},
        grainline=np.array([(0.0, -60.0), (0.0, 60.0)]) + middle,
    )


def line(start: np.ndarray, end: np.ndarray) -> np.ndarray:
    """Control points of a straight cubic."""
    parts: np.ndarray = np.linspace(0, 1, 4)[:, None]
    between: np.ndarray = start + parts * (end - start)
    return between


def check(pattern: Pattern, client: Client) -> None:
    """Measure the block again: every girth as asked, every seam walks."""
    assert abs(pattern.waist + client.gap - client.waist) < 1e-9
    for name, girth in (("bust", client.bust), ("hip", client.hip)):
        levels = [level for panel in pattern if (level := panel.level(name))]
        drawn = 2.0 * sum(level.width for level in levels)
        assert abs(drawn + client.gap - girth) < 1e-9, name
    assert np.ptp(pattern.seam_lengths(), axis=1).max() < 1e-9


def main(folder: Path) -> None:
    """Draft, check, shift and write."""
    client = INVENTED
    pattern = draft(client)
    check(pattern, client)
    print(f"block: {client.panels} panels, waist {pattern.waist + client.gap:.2f} mm with the gap")

    stack = Stack(
        [Fabric("lining", 0.2), Fabric("coutille", 0.45), Fabric("damask", 0.55)],
        drafted="coutille",
    )
    shifted = shift_pattern(pattern, stack, BODY, gap=client.gap)

    print("\ngrowth in mm   " + "".join(f"{panel.name:>8}" for panel in pattern.panels))
    for level in ("bust", "waist", "hip"):
        growth = shifted.growth_table(pattern.level_height(level))
        for fabric, row in zip(stack.names, growth, strict=True):
            if fabric != stack.drafted:
                print(f"{level:6}{fabric:9}" + "".join(f"{value:+8.2f}" for value in row))

    print()
    folder.mkdir(parents=True, exist_ok=True)
    for layer in shifted.layers:
        name = f"{layer.fabric.name}.svg"
        save(layer_svg(shifted, layer.fabric.name), folder / name)
        print(f"{name}: waist {layer.pattern.waist:.2f} mm without the gap")


if __name__ == "__main__":
    main(Path(sys.argv[1] if len(sys.argv) > 1 else "block"))
