"""Draft a corset in numbers, cut it for three layers, and for two clients.

A script as a user of the library would keep it: run it with a folder to write to. All figures
are invented.
"""

from __future__ import annotations

import io
import sys
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import numpy as np
import numpy.typing as npt
from shapely.geometry import shape
from svgpathtools import Path as SvgPath  # type: ignore[import-untyped]

import panelshift as ps

Array = npt.NDArray[np.float64]

TOP, WAIST, HEM = 0.0, 150.0, 280.0  # mm down the sheet
WIDTHS = {"1 front": 56.0, "2 side": 48.0, "3 back": 52.0}  # mm at the waist
LEVELS = {"bust": 30.0, "hip": 250.0}
CLOTHS = {"lining": 0.2, "coutille": 0.45, "silk": 0.3}  # mm thick, from the body outwards


def straight(start: Array, end: Array) -> Array:
    """A line as one cubic, shape (1, 4, 2)."""
    return np.linspace(start, end, 4)[None]


def edge(x: float, flare: float) -> Array:
    """A side edge from the hem to the top, `flare` mm further out at both, shape (2, 4, 2)."""
    out, bend = x + flare, 45.0
    below = [(out, HEM), (out - flare / 3, HEM - bend), (x, WAIST + bend), (x, WAIST)]
    above = [(x, WAIST), (x, WAIST - bend), (out - flare / 3, TOP + bend), (out, TOP)]
    return np.array([below, above])


def draft_panel(name: str, left: float, *, busk: bool) -> ps.DraftPanel:
    """A panel whose two edges flare alike; the busk edge is straight."""
    right = left + WIDTHS[name]
    front, back = edge(left, 0.0 if busk else -11.0), edge(right, 11.0)
    top = straight(front[-1, -1], back[-1, -1])
    hem = straight(back[0, 0], front[0, 0])
    outline = np.concatenate([front, top, back[::-1, ::-1], hem])
    across = {name: [(left - 20, y), (right + 20, y)] for name, y in LEVELS.items()}
    return ps.DraftPanel(name, outline, [(left, WAIST), (right, WAIST)], across)


def drawing(pattern: ps.Pattern) -> str:
    """The draft as SVG, its paths made by svgpathtools."""
    parts = ['<svg xmlns="http://www.w3.org/2000/svg" width="320mm" height="300mm"']
    parts.append(' viewBox="-20 -10 320 300">')
    for panel in pattern.panels:
        path: SvgPath = ps.to_svgpathtools(panel.outline)
        parts.append(f'<path id="{panel.name}" d="{path.d()}"/>')
    parts.append(f'<path id="waist" d="M-20 {WAIST:g} H300"/></svg>')
    return "".join(parts)


def job(gap: float) -> str:
    """A job file for one client's lacing gap in mm."""
    head = f'[pattern]\nfile = "draft.svg"\nlacing_gap = {gap}\n'
    layers = [f'[[stack.fabric]]\nname = "{n}"\nthickness = {t}\n' for n, t in CLOTHS.items()]
    return "".join([head, '[stack]\ndrafted_layer = "coutille"\n', *layers])


def main(folder: Path) -> None:
    """Write everything below a folder and print what it came to."""
    lefts = {"1 front": 0.0, "2 side": 90.0, "3 back": 180.0}
    pattern = ps.pattern_from_panels(
        [draft_panel(name, left, busk=left == 0.0) for name, left in lefts.items()]
    )
    stack = ps.Stack([ps.Fabric(n, t) for n, t in CLOTHS.items()], drafted="coutille")
    ratio = ps.Measures(np.array([HEM - 400.0, 0.0, WAIST]), np.array([1.3, 1.45, 1.35]))
    shifted = ps.shift_pattern(pattern, stack, ps.SectionModel(ratio), gap=40.0)

    growth: Array = shifted.growth_table()
    silk = shifted.layer("silk")
    print(f"draft {pattern.waist:.1f} mm, silk {silk.pattern.waist:.3f} mm at the waist")
    print("growth of the silk:", ", ".join(f"{mm:.3f}" for mm in growth[silk.place]), "mm")
    areas = [shape(panel).area / 100.0 for panel in silk.pattern.panels]
    print("area:", ", ".join(f"{area:.1f}" for area in areas), "cm2")
    worst = max(abs(walked.difference) for walked in silk.walk())
    print(f"seams differ by {worst:.3f} mm at most")

    plan = ps.CutPlan("Sample", {"silk": ps.Allowances(top=15.0)})
    sheet, pages = io.BytesIO(), io.BytesIO()
    ps.save(ps.layer_svg(shifted, "silk", plan), sheet)
    ps.save(ps.layer_pdf(shifted, "silk", ps.PageOptions(ps.parse_paper("a4")), plan), pages)
    print(f"{len(sheet.getvalue())} bytes of SVG, {len(pages.getvalue())} bytes of PDF")

    (folder / "draft.svg").write_text(drawing(pattern), "utf-8")
    for client, gap in (("ann", 40.0), ("bo", 60.0)):
        (folder / f"{client}.toml").write_text(job(gap), "utf-8")
    jobs = [folder / "ann.toml", folder / "bo.toml"]
    with ThreadPoolExecutor(2) as threads:
        outcomes = ps.run_many(jobs, executor=threads, out=folder / "cut")
    for outcome in outcomes:
        print(f"{outcome.name}: {outcome.status}, {len(outcome.files)} files")


if __name__ == "__main__":
    try:
        main(Path(sys.argv[1]))
    except ps.PanelshiftError as error:
        sys.exit(str(error))
