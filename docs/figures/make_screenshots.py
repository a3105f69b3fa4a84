"""Remake the pictures of the table, or write them into another folder: a real page, photographed.

Run from the repository: python docs/figures/make_screenshots.py [folder]

Needs the test packages, Chromium and lens figures (apt-get install chromium
liblensfun-data-v1). The bytes depend on the fonts of
the machine, so no test compares them.
"""

from __future__ import annotations

import io
import shutil
import sys
import tempfile
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np
from PIL import Image
from playwright.sync_api import sync_playwright

HERE: Final = Path(__file__).resolve().parent
REPOSITORY: Final = HERE.parents[1]
sys.path.insert(0, str(REPOSITORY))

from panelshift.outline import Curve  # noqa: E402
from panelshift.sources.paper import cards  # noqa: E402
from tests.browser.desk import Desk  # noqa: E402
from tests.paper.drawn_paper import (  # noqa: E402
    INK,
    PENCIL,
    RED,
    USED,
    Stroke,
    drawn,
    sample_draft,
    strokes_of,
)
from tests.paper.photographed import (  # noqa: E402
    TWO_VIEWS,
    laid_round,
    on_paper,
    photograph,
    scene,
    shots,
    telephones,
)
from tests.support.chromium import QUIET, program  # noqa: E402
from tests.table.client import served  # noqa: E402

COLOURS: Final = 128
MARGIN_PX: Final = 8.0


@dataclass(frozen=True)
class Shot:
    """A picture of a step: its file, the window, and the last part that is shown; `look`: the way
    to look at the layers that is chosen first; `first`: the first part, if it is not the step's."""

    name: str
    step: str
    last: str
    width: int
    scheme: str = "light"
    scale: float = 1.0
    look: str = ""
    first: str = ""


SHOTS: Final = (
    Shot("table-pattern", "pattern", "#pattern-picture", 1280),
    Shot("table-look", "look", "#overlay-key", 1280),
    Shot("table-wrap", "look", "#wrap-words", 700, look="wrap"),
    Shot("table-solid", "look", "#solid-key", 700, look="solid"),
    Shot("table-fabrics-390-dark", "fabrics", ".layer:nth-child(2)", 390, "dark", 2.0),
    # The last, for they change the job.
    Shot("table-fitting", "pattern", "#alter-edge", 1000, first="#fitting"),
    Shot("table-against", "look", "#overlay-picture", 700, look="against"),
)


def main(folder: Path) -> None:
    """Write every picture."""
    with tempfile.TemporaryDirectory() as work:
        for suffix in ("svg", "toml"):
            shutil.copy(REPOSITORY / "sample_patterns" / f"hourglass.{suffix}", work)
        paper = Path(work) / "paper"
        photographed_draft(paper)
        with served(Path(work), "hourglass.toml") as server, sync_playwright() as playwright:
            browser = playwright.chromium.launch(executable_path=program(), args=QUIET)
            for shot in SHOTS:
                context = browser.new_context(
                    viewport={"width": shot.width, "height": 900},
                    color_scheme=shot.scheme,
                    reduced_motion="reduce",
                    device_scale_factor=shot.scale,
                )
                desk = Desk(context, server.origin)
                desk.open(server.address)
                if shot.look:
                    chosen(desk, shot.look)
                elif shot.first:
                    fitted(desk)
                (folder / f"{shot.name}.png").write_bytes(photographed(desk, shot))
                context.close()
            with served(paper) as traced:
                context = browser.new_context(
                    viewport={"width": 1000, "height": 900}, reduced_motion="reduce"
                )
                desk = Desk(context, traced.origin)
                desk.open(traced.address)
                trace(desk, paper)
                last = "#paper-panels > li:first-child"
                shot = Shot("table-paper", "pattern", last, 1000, first="#paper-traced-head")
                (folder / f"{shot.name}.png").write_bytes(photographed(desk, shot))
                context.close()
            browser.close()


LENGTH: Final = "length.txt"


def photographed_draft(folder: Path) -> None:
    """Two photos of the hourglass's pieces on paper, by calculation, with a strip between them; one
    piece has its waistline in pencil, and a line is drawn that does not count."""
    folder.mkdir()
    draft = sample_draft()
    wide, high = draft.size
    room = np.array([[1.0, 0.0, 90.0], [0.0, 1.0, 0.0]])
    half = len(draft.outlines) // 2

    def spread(curves: list[Curve]) -> list[Curve]:
        return [*curves[:half], *(curve.transformed(room) for curve in curves[half:])]

    outlines, waists = spread(draft.outlines), spread(draft.waists)
    strokes = strokes_of(outlines, INK) + strokes_of([waists[0], *waists[2:]], RED)
    strokes += strokes_of([waists[1]], PENCIL)
    right = float(outlines[-1].bounds()[1, 0])
    strokes.append(Stroke(np.array([(right + 10.0, 60.0), (right + 16.0, 130.0)]), INK))
    size = wide + 90.0, high
    left = float(outlines[half - 1].bounds()[1, 0])
    middle = 0.5 * (left + float(outlines[half].bounds()[0, 0])) - 0.5 * size[0]
    laid = {**laid_round(*size), "G": (middle + 30.0, -120.0, 1.571)}
    paper = drawn(strokes, size, px_per_mm=6.0, sheet=USED)
    table, rng = scene(paper, laid), np.random.default_rng(3)
    for number, shot in enumerate(shots(telephones()[5], laid, TWO_VIEWS)):
        (folder / f"photo-{number + 1}.jpg").write_bytes(photograph(table, shot, rng))
    cross = np.array([cards.CROSS])
    ends = [on_paper(laid[name], cross)[0] for name in "AD"]
    (folder / LENGTH).write_text(f"A to D {np.hypot(*(ends[1] - ends[0])):.1f} mm")


def trace(desk: Desk, folder: Path) -> None:
    """Drop the photos, say what was measured, and wait for the tracing."""
    page = desk.page
    page.locator("#from-paper > summary").click()
    files = sorted(folder.glob("*.jpg"))
    desk.change(lambda: page.locator("#photo-file").set_input_files(files))
    page.locator("#paper-length-0").fill((folder / LENGTH).read_text())
    desk.change(page.locator("#paper-trace").click)
    page.locator("#paper-traced").wait_for(timeout=180_000)
    desk.rest()
    page.wait_for_timeout(500)


def chosen(desk: Desk, look: str) -> None:
    """Look at the layers another way; for two of them keep one, and change a cloth."""
    page = desk.page
    page.locator(f"#look-at-{look}").click()
    page.locator(f"[data-look={look}]").wait_for()
    desk.rest()
    if look == "wrap":
        page.locator("#wrap-wrapped").fill("70")
    elif look == "solid":
        page.locator("#solid-names li").first.wait_for()
    else:
        desk.change(page.locator("#keep-aside").click)
        desk.type(desk.thickness("brocade"), "1.65")
        page.locator("#against-key").wait_for()
    page.wait_for_timeout(300)
    desk.rest()


def fitted(desk: Desk) -> None:
    """Enter what a fitting changed at one seam and at the top, and begin with another seam."""
    page = desk.page
    page.locator("#fitting-head").click()
    for form, fields in (
        ("seam", {"where": "3 side front to 4 side", "at-2": "0", "at-4": "12"}),
        ("edge", {"where": "top", "at-0": "15", "at-2": "0"}),
    ):
        page.locator(f"#alter-{form}").evaluate("part => { part.open = true }")
        for name, text in fields.items():
            field = page.locator(f"#alter-{form}-{name}")
            (field.select_option if name == "where" else field.fill)(text)
        desk.change(page.locator(f"#alter-{form}-form button[type=submit]").click)
    page.locator("#alter-edge").evaluate("part => { part.open = false }")
    page.locator("#alter-seam-where").select_option("5 side back to 6 centre back")
    page.locator("#alter-seam-side").select_option("left")
    page.mouse.move(0, 0)


def photographed(desk: Desk, shot: Shot) -> bytes:
    """Take a picture of a step's upper part, or from another part on, and make it small."""
    # Boxes are told from the window's corner.
    desk.page.evaluate("scrollTo(0, 0)")
    first, last = (
        desk.page.locator(part).bounding_box()
        for part in (shot.first or f"#step-{shot.step}", shot.last)
    )
    assert first is not None
    assert last is not None
    # At the very top the head of the page belongs to it as well.
    top = 0.0 if shot.step == "pattern" and not shot.first else first["y"] - MARGIN_PX
    height = last["y"] + last["height"] + MARGIN_PX - top
    clip = {"x": 0.0, "y": top, "width": float(shot.width), "height": height}
    raw = desk.page.screenshot(full_page=True, clip=clip)
    stream = io.BytesIO()
    shown = np.array(Image.open(io.BytesIO(raw)).convert("RGB"))
    if shot.name == "table-paper":
        # The grain of photographed paper would take all colours there are, and all room.
        shown[(shown.min(axis=2) > 215) & (np.ptp(shown, axis=2) < 12)] = 252
    few = Image.fromarray(shown).quantize(COLOURS, dither=Image.Dither.NONE)
    few.save(stream, "PNG", optimize=True)
    return stream.getvalue()


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else HERE)
