"""The whole way through without a mouse."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable
from pathlib import Path

import cv2
import pytest
from playwright.sync_api import expect

from tests.paper.drawn_paper import FLAT, INK, RED, drawn, strokes_of
from tests.paper.photographed import scene
from tests.paper.test_photos import GLASS, PX, cross_to_cross, two_panels
from tests.support.runs import SAMPLES

from .accessibility import AXE, violations
from .desk import Desk

pytestmark = pytest.mark.slow

DRAFT = (SAMPLES / "hourglass.svg").read_bytes()
MOST_STOPS = 500

_OUTLINED = """() => {
  const at = document.activeElement, style = getComputedStyle(at);
  const box = at.getBoundingClientRect();
  return style.outlineStyle !== "none" && parseFloat(style.outlineWidth) >= 2
    && box.width > 0 && box.height > 0
    && box.bottom > 0 && box.top < innerHeight;
}"""
"""Whether what has the focus shows it, and is on the screen."""

_FOLLOWS = """previous => {
  const at = document.activeElement;
  if (at === document.body) return "";
  const follows = !previous || Boolean(
    document.getElementById(previous)?.compareDocumentPosition(at) & 4);
  at.id ||= `stop-${Math.random()}`;
  return follows ? at.id : `${at.id} comes before ${previous}`;
}"""


def tab_to(desk: Desk, ident: str, *, key: str = "Tab") -> None:
    """Go on with the Tab key until an element has the focus; each stop must show it."""
    for _ in range(MOST_STOPS):
        if desk.focused() == ident:
            return
        desk.page.keyboard.press(key)
        assert desk.page.evaluate(
            "document.activeElement === document.body || " + f"({_OUTLINED})()"
        ), desk.page.evaluate("document.activeElement.outerHTML.slice(0, 300)")
    raise AssertionError(f"no way to {ident}")


def press(desk: Desk, key: str) -> Callable[[], None]:
    return lambda: desk.page.keyboard.press(key)


def layer_id(desk: Desk, name: str) -> str:
    return str(desk.layer(name).get_attribute("id"))


def written_in(desk: Desk, text: str) -> None:
    """Type over what stands in the field, and go on to the next stop."""
    keys = desk.page.keyboard
    keys.press("Control+a")
    keys.type(text)
    desk.change(press(desk, "Tab"))


def test_the_whole_way_with_the_keyboard(empty, folder, open_desk) -> None:
    desk = open_desk(empty)
    page, keys = desk.page, desk.page.keyboard

    def job() -> dict:
        return tomllib.loads((folder / "hourglass.toml").read_text())

    # The first stop leads past the head of the page.
    keys.press("Tab")
    expect(page.locator(":focus")).to_have_text("Skip to the work")
    assert page.evaluate(_OUTLINED)
    keys.press("Enter")
    keys.press("Tab")
    assert desk.focused() == "pattern-file"

    def choose() -> None:
        with page.expect_file_chooser() as chooser:
            keys.press("Enter")
        chooser.value.set_files(
            {"name": "hourglass.svg", "mimeType": "image/svg+xml", "buffer": DRAFT}
        )

    desk.change(choose)
    assert desk.focused() == "pattern-file"

    # The other models of the body are behind one stop, and each is a button.
    tab_to(desk, "body-more-head")
    keys.press("Enter")
    tab_to(desk, "use-classes")
    desk.change(press(desk, "Enter"))

    # Classes are radio buttons: one stop a panel, arrows between.
    tab_to(desk, "class-1-front")
    desk.change(press(desk, "ArrowRight"))
    assert job()["panel"]["2 front"]["class"] == "side"
    assert desk.focused() == "class-1-side"
    expect(page.locator("#class-picture [data-panel='1']")).to_have_attribute("data-class", "side")
    desk.change(press(desk, "ArrowLeft"))
    assert job()["panel"]["2 front"]["class"] == "front"
    assert desk.focused() == "class-1-front"
    tab_to(desk, "section-level")
    section = page.locator("#section-picture svg")
    keys.press("b")
    expect(section).to_have_attribute("aria-label", re.compile("at the bust$"))
    assert desk.focused() == "section-level"
    tab_to(desk, "gap")
    written_in(desk, "50")
    assert job()["pattern"]["lacing_gap"] == 50

    # Fabrics. Leaving a field saves it, and the focus is on the next stop, not lost.
    for name, text in (("lining", "0,2"), ("strength layer", "1/50 in"), ("fashion fabric", "0.4")):
        tab_to(desk, f"{layer_id(desk, name)}-thickness")
        written_in(desk, text)
        # Radio buttons of one name are one stop: that of the layer which is chosen.
        chosen = "drafted" if name == "lining" else "cut"
        assert desk.focused() == f"{layer_id(desk, name)}-{chosen}"
    tab_to(desk, f"{layer_id(desk, 'lining')}-out", key="Shift+Tab")
    desk.change(press(desk, "Enter"))
    assert desk.layers() == ["strength layer", "lining", "fashion fabric"]
    assert desk.focused() == f"{layer_id(desk, 'lining')}-out"
    desk.change(press(desk, "Enter"))
    assert desk.layers() == ["strength layer", "fashion fabric", "lining"]
    # It is the outermost now, its button at rest: the focus stays in its row.
    assert desk.focused() == f"{layer_id(desk, 'lining')}-in"
    desk.change(press(desk, "Enter"))
    desk.change(press(desk, "Space"))
    assert desk.layers() == ["lining", "strength layer", "fashion fabric"]
    tab_to(desk, f"{layer_id(desk, 'lining')}-drafted", key="Tab")
    desk.change(press(desk, "ArrowDown"))
    assert job()["stack"]["drafted_layer"] == "strength layer"
    assert desk.focused() == f"{layer_id(desk, 'strength layer')}-drafted"
    tab_to(desk, "add-name")
    keys.type("voile")
    keys.press("Tab")
    keys.type("0.15")
    desk.change(press(desk, "Enter"))
    assert desk.layers()[-1] == "voile"
    assert desk.focused() == "add-thickness"

    # What moves: the slider and the magnifier.
    tab_to(desk, "look-part")
    for _ in range(3):
        keys.press("ArrowLeft")
    expect(page.locator("#overlay-words")).to_contain_text("85 % of the way")
    assert desk.focused() == "look-part"
    tab_to(desk, "lens")
    before = page.locator("#lens").get_attribute("viewBox")
    for key in ("ArrowUp", "ArrowRight", "+"):
        keys.press(key)
        after = page.locator("#lens").get_attribute("viewBox")
        assert after != before
        before = after

    # The parcel.
    tab_to(desk, "part-fit")
    keys.press("Space")
    tab_to(desk, "paper")
    keys.press("l")
    expect(page.locator("#paper")).to_have_value("letter")
    tab_to(desk, "take")
    found = desk.parcel(press(desk, "Enter"))
    assert {name.partition("/")[0] for name in found} == {
        "pages",
        "cut",
        "hourglass.toml",
        "hourglass.svg",
    }
    assert found["hourglass.toml"] == (folder / "hourglass.toml").read_bytes()


def test_every_stop_in_order_and_no_trap(sample_server, open_desk) -> None:
    """From the head of the page to its end, in the order of reading, and back out."""
    desk = open_desk(sample_server)
    page = desk.page
    page.evaluate("for (const part of document.querySelectorAll('details')) part.open = true")
    stops, previous = [], ""
    for _ in range(MOST_STOPS):
        page.keyboard.press("Tab")
        previous = page.evaluate(_FOLLOWS, previous)
        assert " comes before " not in previous
        if not previous:
            break
        stops.append(previous)
        assert page.evaluate(_OUTLINED), previous
    else:
        raise AssertionError(f"no end after {stops[-3:]}")
    for ident in ("units", "pattern-file", "class-0-front", "gap", "lens", "take", "job-text"):
        assert ident in stops
    page.keyboard.press("Shift+Tab")
    assert page.evaluate(_FOLLOWS, "") == stops[-1]


def test_the_focus_is_not_lost_when_its_button_goes(sample_server, open_desk) -> None:
    desk = open_desk(sample_server)
    page = desk.page
    row = layer_id(desk, "interlining")
    desk.layer("interlining").locator("summary").press("Enter")
    page.locator(f"#{row}-remove").focus()
    desk.change(press(desk, "Enter"))
    assert "interlining" not in desk.layers()
    assert page.evaluate("document.activeElement !== document.body")
    desk.change(press(desk, "Control+z"))
    assert "interlining" in desk.layers()


def test_names_that_are_read_out(sample_server, open_desk) -> None:
    """Whoever comes to a control by Tab alone hears which layer or panel it is for."""
    desk = open_desk(sample_server)
    page = desk.page
    for name in desk.layers():
        for role, words in (
            ("button", f"{name}: one place inwards"),
            ("button", f"{name}: one place outwards"),
            ("textbox", f"Thickness ({name})"),
            ("radio", f"{name} keeps the drafted size"),
            ("checkbox", f"pieces are cut from {name}"),
        ):
            expect(page.get_by_role(role, name=words, exact=True)).to_have_count(1)
    expect(page.get_by_role("group", name="4 side 58 mm")).to_have_count(1)
    for status in ("#said", "#take-said"):
        expect(page.locator(status)).to_have_attribute("role", "status")


def scanned(folder: Path) -> tuple[Path, str]:
    """A scan of two panels with strips beside them, the second with its waistline in ink; and what
    was measured."""
    draft = two_panels()
    strokes = strokes_of(draft.outlines, INK) + strokes_of(draft.waists[:1], RED)
    strokes += strokes_of(draft.waists[1:], INK)
    table = scene(drawn(strokes, draft.size, px_per_mm=PX), GLASS, px=PX, table=FLAT.colour)
    path = folder / "scan.png"
    cv2.imwrite(str(path), table.texture[:, :, ::-1])
    return path, f"B to A {cross_to_cross(GLASS, 'A', 'B'):.1f} mm"


def test_a_draft_on_paper_with_the_keyboard(empty, folder, open_desk, tmp_path) -> None:
    """From a scan to the draft of the job, with a reload on the way."""
    scan, length = scanned(tmp_path)
    desk = open_desk(empty)
    page, keys = desk.page, desk.page.keyboard
    page.locator("#from-paper > summary").focus()
    keys.press("Enter")
    tab_to(desk, "photo-file")

    def choose() -> None:
        with page.expect_file_chooser() as chooser:
            keys.press("Enter")
        chooser.value.set_files(scan)

    desk.change(choose)
    tab_to(desk, "paper-length-0")
    keys.type(length)
    tab_to(desk, "paper-scans")
    keys.press("Space")
    tab_to(desk, "paper-trace")
    desk.change(press(desk, "Enter"))
    # Whatever it is: the control that was pressed is gone, and the focus is not.
    assert desk.focused() in ("paper-stop", "paper-traced-head")
    expect(page.locator("#paper-traced-head")).to_be_visible(timeout=90_000)
    desk.until(lambda: desk.focused() == "paper-traced-head")

    desk.open()
    expect(page.locator("#paper-use")).to_be_disabled()
    (line,) = page.locator("[id^='paper-line-']").all()
    tab_to(desk, str(line.get_attribute("id")))
    desk.change(press(desk, "Enter"))
    expect(page.locator("#paper-run")).to_have_count(0, timeout=60_000)
    for number in (0, 1):
        button = page.locator("button[id^='paper-approve-']").nth(number)
        tab_to(desk, str(button.get_attribute("id")))
        desk.change(press(desk, "Enter"))
        expect(button).to_have_text(re.compile("Approved"))
    # By finger or mouse: two ends in the picture are a waistline as well, and a change like any.
    page.locator("[id^='paper-waist-'] summary").first.click()
    page.locator(".pointing .arm").first.click()
    box = page.locator("#paper-sheet path").first.bounding_box()
    assert box is not None
    page.mouse.click(box["x"] + 1, box["y"] + 0.3 * box["height"])
    desk.change(
        lambda: page.mouse.click(box["x"] + box["width"] - 4, box["y"] + 0.3 * box["height"])
    )
    expect(page.locator("#paper-use-why")).to_contain_text("panel 1 first", timeout=60_000)
    if AXE.exists():
        assert violations(page) == []
    desk.change(page.locator("button[id^='paper-approve-']").first.click)
    tab_to(desk, "paper-use")
    desk.change(press(desk, "Enter"))
    expect(page.locator("#pattern-summary")).to_contain_text("Half pattern of 2 panels")
    assert desk.focused() == "pattern-summary"
    assert (folder / "paper-draft.svg").is_file()
