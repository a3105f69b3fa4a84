"""Remake all figures, or write them into another folder.

Run from the repository: python docs/figures/make_figures.py [folder]
"""

from __future__ import annotations

import importlib
import sys
from pathlib import Path
from typing import Final

HERE: Final = Path(__file__).resolve().parent
FIGURES: Final = {
    "overlay": "make_overlay",
    "first_draft": "first_corset.drafted",
    "first_piece": "first_corset.piece",
    "first_fit": "first_corset.fit_page",
    "pinning": "handwork.pinning",
    "taping": "handwork.taping",
    "measuring_scan": "measuring.scan",
    "measuring_tapes": "measuring.tapes",
    "measuring_traces": "measuring.traces",
    "route_pages": "routes.pages",
    "route_tiles": "routes.tiles",
    "route_layers": "routes.layers",
    "route_paper": "routes.on_paper",
    "slits": "gores.in_a_slit",
    **{
        name: name
        for name in (
            "draft",
            "altered",
            "cut_in_one",
            "drawn_line",
            "edges_moved",
            "gores",
            "pieces",
            "split_layer",
            "layers_round_body",
            "ring",
            "corset",
            "body_sections",
            "tilt",
            "edges",
            "mates",
            "taut",
            "example_block",
            "example_sizes",
            "example_stacks",
        )
    },
}
"""What draws each figure, by its name: a module, or one of its functions."""


def main(folder: Path) -> None:
    """Write every figure."""
    sys.path.insert(0, str(HERE.parent / "examples"))
    for name, maker in FIGURES.items():
        module, _, function = maker.partition(".")
        text: str = getattr(importlib.import_module(module), function or "figure")()
        (folder / f"{name}.svg").write_text(text, encoding="utf-8", newline="\n")


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else HERE)
