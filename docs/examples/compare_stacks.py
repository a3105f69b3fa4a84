"""The same draft in four stacks of cloth: what each does to the waist, inside and outside.

Run it from the repository: python docs/examples/compare_stacks.py
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from panelshift import Fabric, Stack, read_pattern, shift_pattern

DRAFT = Path(__file__).resolve().parents[2] / "sample_patterns" / "hourglass.svg"
GAP = 50.0

# Thicknesses in mm, all invented: measure your own cloth.
LINING = Fabric("lining", 0.2)
COUTILLE = Fabric("coutille", 0.45)
BONES = Fabric("bones in channels", 1.5, coverage=0.2)

STACKS = {
    "coutille, lined": Stack([LINING, COUTILLE, BONES], "coutille"),
    "silk over coutille": Stack([LINING, COUTILLE, BONES, Fabric("silk", 0.3)], "coutille"),
    "with interlining": Stack(
        [LINING, COUTILLE, BONES, Fabric("interlining", 0.3), Fabric("silk", 0.3)], "coutille"
    ),
    "heavy wool": Stack([LINING, COUTILLE, BONES, Fabric("wool", 1.8)], "coutille"),
}


@dataclass(frozen=True)
class Result:
    """The waist in mm, lacing gap counted, and the piece that differs most from the draft."""

    name: str
    thickness: float
    inside: float
    outside: float
    piece: str
    growth: float


def compare() -> list[Result]:
    """Shift the draft to every stack."""
    pattern = read_pattern(DRAFT)
    results = []
    for name, stack in STACKS.items():
        shifted = shift_pattern(pattern, stack, gap=GAP)
        drafted = pattern.waist + GAP
        around = shifted.turn.ring_growth_at(0.0)  # mm of girth for each mm outwards
        surfaces = stack.surfaces()
        growth = {
            f"{fabric.name} {panel.name}": float(value)
            for fabric, row in zip(stack.fabrics, shifted.growth_table(), strict=True)
            for panel, value in zip(pattern.panels, row, strict=True)
            if fabric.cut_out
        }
        piece = max(growth, key=lambda key: abs(growth[key]))
        results.append(
            Result(
                name,
                stack.total(),
                drafted + surfaces.skin * around,
                drafted + surfaces.outside * around,
                piece,
                growth[piece],
            )
        )
    return results


def main() -> None:
    """Print the comparison."""
    print("stack                 thick   inside  outside  between   most changed piece")
    for r in compare():
        print(
            f"{r.name:20}{r.thickness:7.2f}{r.inside:9.2f}{r.outside:9.2f}"
            f"{r.outside - r.inside:9.2f}   {r.piece} {r.growth:+.2f}"
        )
    print("\nmm; the waist with the lacing gap, coutille kept at the drafted size")


if __name__ == "__main__":
    main()
