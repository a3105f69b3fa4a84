"""Remake the pictures of the table, or write them into another folder: a real page, photographed.

Run from the repository: python docs/figures/make_screenshots.py [folder]

Needs the test packages and Chromium (apt-get install chromium). The bytes depend on the fonts of
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

from PIL import Image
from playwright.sync_api import sync_playwright

HERE: Final = Path(__file__).resolve().parent
REPOSITORY: Final = HERE.parents[1]
sys.path.insert(0, str(REPOSITORY))

from tests.browser.desk import Desk  # noqa: E402
from tests.support.chromium import QUIET, program  # noqa: E402
from tests.table.client import served  # noqa: E402

COLOURS: Final = 128
MARGIN_PX: Final = 8.0


@dataclass(frozen=True)
class Shot:
    """A picture of a step: its file, the window, and the last part that is shown; `look`: the way
    to look at the layers that is chosen first."""

    name: str
    step: str
    last: str
    width: int
    scheme: str = "light"
    scale: float = 1.0
    look: str = ""


SHOTS: Final = (
    Shot("table-pattern", "pattern", "#pattern-picture", 1280),
    Shot("table-look", "look", "#overlay-key", 1280),
    Shot("table-wrap", "look", "#wrap-words", 700, look="wrap"),
    Shot("table-solid", "look", "#solid-key", 700, look="solid"),
    Shot("table-fabrics-390-dark", "fabrics", ".layer:nth-child(2)", 390, "dark", 2.0),
    # The last, for it changes a cloth.
    Shot("table-against", "look", "#overlay-picture", 700, look="against"),
)


def main(folder: Path) -> None:
    """Write every picture."""
    with tempfile.TemporaryDirectory() as work:
        for suffix in ("svg", "toml"):
            shutil.copy(REPOSITORY / "sample_patterns" / f"hourglass.{suffix}", work)
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
                (folder / f"{shot.name}.png").write_bytes(photographed(desk, shot))
                context.close()
            browser.close()


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


def photographed(desk: Desk, shot: Shot) -> bytes:
    """Take a picture of a step's upper part, and make it small."""
    # Boxes are told from the window's corner.
    desk.page.evaluate("scrollTo(0, 0)")
    first, last = (
        desk.page.locator(part).bounding_box() for part in (f"#step-{shot.step}", shot.last)
    )
    assert first is not None
    assert last is not None
    # At the very top the head of the page belongs to it as well.
    top = 0.0 if shot.step == "pattern" else first["y"] - MARGIN_PX
    height = last["y"] + last["height"] + MARGIN_PX - top
    clip = {"x": 0.0, "y": top, "width": float(shot.width), "height": height}
    raw = desk.page.screenshot(full_page=True, clip=clip)
    stream = io.BytesIO()
    few = Image.open(io.BytesIO(raw)).convert("RGB").quantize(COLOURS, dither=Image.Dither.NONE)
    few.save(stream, "PNG", optimize=True)
    return stream.getvalue()


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else HERE)
