"""One draft, a range of sizes: grade it in width, and shift every size to every layer.

Run it from the repository: python docs/examples/size_range.py [folder]

Each size keeps the heights of the draft; every panel gets wider in proportion to the waist. A
house grades by its own rules: put them in place of `graded`.
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np

from panelshift import (
    CutPlan,
    DraftPanel,
    Fabric,
    Panel,
    Pattern,
    Shifted,
    Stack,
    layer_svg,
    pattern_from_panels,
    read_pattern,
    save,
    shift_pattern,
)

DRAFT = Path(__file__).resolve().parents[2] / "sample_patterns" / "hourglass.svg"
GAP = 50.0
SIZES = {"S": 580.0, "M": 640.0, "L": 700.0, "XL": 770.0}  # waist in mm, without the gap
STACK = Stack(
    [Fabric("lining", 0.2), Fabric("coutille", 0.45), Fabric("brocade", 0.65)],
    drafted="coutille",
)
SEAM_TOLERANCE = 0.5  # mm by which a seam may fail to walk


def graded(pattern: Pattern, waist: float) -> Pattern:
    """Widen every panel alike, so that together they have the waist asked for."""
    factor = waist / pattern.waist
    return pattern_from_panels([widened(panel, factor) for panel in pattern.panels])


def widened(panel: Panel, factor: float) -> DraftPanel:
    """Widen a panel along its own waistline; it moves apart from its neighbours as well."""
    across, origin = panel.frame.across, panel.frame.origin
    linear = np.eye(2) + (factor - 1.0) * np.outer(across, across)
    matrix = np.column_stack([linear, factor * origin - linear @ origin])
    assert panel.waist is not None  # the sample's panels all reach the waist
    return DraftPanel(
        panel.name,
        panel.outline.transformed(matrix),
        panel.waist.curve.transformed(matrix).vertices,
        {level.name: level.curve.transformed(matrix).vertices for level in panel.levels},
        notches=[
            mark.curve.transformed(matrix).vertices for mark in panel.marks if mark.kind == "notch"
        ],
    )


def size_range() -> dict[str, Shifted]:
    """Every size, shifted to all layers."""
    draft = read_pattern(DRAFT)
    result = {}
    for size, waist in SIZES.items():
        pattern = graded(draft, waist)
        assert abs(pattern.waist - waist) < 1e-9
        # Grading bends the two edges of a seam a little differently: walk them.
        assert np.ptp(pattern.seam_lengths(), axis=1).max() < SEAM_TOLERANCE
        result[size] = shift_pattern(pattern, STACK, gap=GAP)
    return result


def main(folder: Path) -> None:
    """Write every layer of every size, and print what their waists measure."""
    sizes = size_range()
    print("waist in mm " + "".join(f"{name:>10}" for name in STACK.names) + "   brocade gains")
    for size, shifted in sizes.items():
        waists = {layer.fabric.name: layer.pattern.waist for layer in shifted.layers}
        gain = waists["brocade"] - waists["coutille"]
        print(f"{size:12}" + "".join(f"{w:10.2f}" for w in waists.values()) + f"{gain:16.2f}")

    written = 0
    for size, shifted in sizes.items():
        (folder / size).mkdir(parents=True, exist_ok=True)
        for name in STACK.names:
            plan = CutPlan(title=f"hourglass, size {size}")
            save(layer_svg(shifted, name, plan), folder / size / f"{name}.svg")
            written += 1
    print(f"\n{written} cutting files, {len(STACK.names)} for each size")


if __name__ == "__main__":
    main(Path(sys.argv[1] if len(sys.argv) > 1 else "sizes"))
