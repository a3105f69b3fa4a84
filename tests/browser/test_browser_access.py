"""For everybody: checked by axe-core, on a phone, in print, with colours forced."""

from __future__ import annotations

import io

import numpy as np
import pypdfium2
import pytest
from PIL import Image
from playwright.sync_api import Locator, Page, expect

from tests.support.drawings import half, svg

from .accessibility import needs_axe, violations
from .desk import STEPS, Desk

pytestmark = pytest.mark.slow

PHONE = {"width": 390, "height": 844}
DESKTOP = {"width": 1280, "height": 900}

_OPEN = "for (const part of document.querySelectorAll('details')) part.open = true"

_TARGETS = """() => [...document.querySelectorAll(
    "button, select, input, summary, textarea, nav a")]
  .filter(e => e.offsetParent && e.type !== "hidden")
  .map(e => {
    const part = e.type === "radio" || e.type === "checkbox" ? e.closest("label") : e;
    const box = part.getBoundingClientRect();
    return [e.id || e.textContent.trim(), Math.min(box.width, box.height)];
  })"""
"""Every control and the smaller side of what can be hit."""

WORDS_IN_PRINT = (
    "hourglass.toml",
    "6 panels",
    "Thickness",
    "coutille",
    "bones in channels",
    "Finished sizes",
    "687",
    "All 20 pass",
    "Take care.",
)

_BROKEN = """() => [...document.querySelectorAll(".class-choice label span")].filter(e =>
    e.getBoundingClientRect().height > 2.2 * parseFloat(getComputedStyle(e).fontSize)
  ).map(e => e.outerHTML)"""
"""Classes that stand in more than one line."""

_OVER = """() => [...document.querySelectorAll("main *")].filter(e => {
    const box = e.getBoundingClientRect();
    return box.right > innerWidth + 1 && !e.closest(".scroll, .paper, .unseen") && box.width > 0;
  }).map(e => e.outerHTML.slice(0, 120))"""


def _see_the_corset(page: Page) -> None:
    """In three dimensions where the browser can draw them, else in the still picture."""
    page.locator("#look-at-solid").click()
    canvas, still = page.locator("#solid-stage"), page.locator("#solid-still")
    expect(still).to_have_count(1)
    expect(canvas.or_(still).locator("visible=true")).to_have_count(1)
    asked = "e => e.querySelector('img').naturalWidth"
    if canvas.is_visible():
        shot = Image.open(io.BytesIO(page.locator("#solid-canvas").screenshot())).convert("L")
        assert np.ptp(np.asarray(shot)[20:-20, 20:-20].astype(int)) > 100
        # Panels that look this way are named, in the picture and where it says what names mean.
        named = page.locator("#solid-names li").all_text_contents()
        assert {"1", "2", "3"} <= set(named)
        expect(page.locator("#solid-words")).to_contain_text("3 = 3 side front")
    else:
        assert still.evaluate(asked) > 100


def _see_a_and_b(desk: Desk) -> None:
    """What is set now kept as A, a cloth changed, and both looked at with the magnifier."""
    page = desk.page
    page.locator("#look-at-against").click()
    expect(page.locator("#keep-aside")).to_be_visible()
    desk.rest()
    desk.change(page.locator("#keep-aside").click)
    expect(page.locator("#against-words")).to_contain_text("A is what is set now")
    desk.type(desk.thickness("brocade"), "1.65")
    expect(page.locator("#against-words")).to_contain_text("6 mm more than A's")
    page.locator("#against-panel").select_option("4")
    expect(page.locator("#overlay-picture")).to_have_attribute("data-panel-shown", "brocade 4")
    window = "document.getElementById('lens').getAttribute('viewBox')"
    before = page.evaluate(window)
    page.locator("#overlay-picture svg").hover(position={"x": 40, "y": 40})
    desk.until(lambda: page.evaluate(window) != before)


@needs_axe
@pytest.mark.parametrize("size", [DESKTOP, PHONE], ids=["wide", "phone"])
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_axe_finds_nothing_serious(sample_server, open_desk, size, scheme) -> None:
    """All five steps, everything folded out, and with a value refused."""
    desk = open_desk(sample_server, viewport=size, color_scheme=scheme)
    if scheme == "dark":
        _see_the_corset(desk.page)
    elif size is PHONE:
        desk.page.locator("#look-at-wrap").click()
        expect(desk.page.locator("#wrap-picture svg")).to_be_visible()
    else:
        _see_a_and_b(desk)
    desk.page.evaluate(_OPEN)
    for step in STEPS:
        expect(desk.page.locator(f"#step-{step}")).to_be_visible()
    answer = desk.type(desk.thickness("lining"), "thin")
    assert "x-refused" in answer.headers
    assert violations(desk.page) == []
    # The same of a form: nothing says which seam.
    desk.change(desk.page.locator("#alter-seam-form button[type=submit]").click)
    expect(desk.page.locator("#alter-seam-form-why")).to_contain_text("No seam is chosen")
    assert violations(desk.page) == []
    if desk.id("forget-aside").count():
        desk.change(desk.page.locator("#back-to-aside").click)
        desk.change(desk.page.locator("#forget-aside").click)
        expect(desk.page.locator("#forget-aside")).to_have_count(0)
        expect(desk.thickness("brocade")).to_have_value("0.65")


@needs_axe
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_axe_finds_nothing_serious_on_the_way(empty, open_desk, scheme) -> None:
    """An empty table, a file that was not taken, and fabrics still to be measured."""
    desk = open_desk(empty, color_scheme=scheme)
    assert violations(desk.page) == []
    desk.drop_pattern("empty.svg", "")
    expect(desk.page.locator("#attempt")).to_be_visible()
    assert violations(desk.page) == []
    first, *others = half(3)
    gap = first.pieces(gap=0.8) + first.line() + "".join(draft.panel() for draft in others)
    desk.drop_pattern("open.svg", svg(gap))
    expect(desk.page.get_by_role("button", name="Close this gap")).to_be_visible()
    assert violations(desk.page) == []
    outline = half(3)[1].outline()
    desk.drop_pattern("draft.svg", svg(half(3)[0].panel() + outline + half(3)[2].panel()))
    expect(desk.page.locator("#unmeasured")).to_be_visible()
    assert violations(desk.page) == []


@needs_axe
def test_axe_would_find_pale_letters(sample_server, open_desk) -> None:
    # Negative control.
    desk = open_desk(sample_server)
    desk.page.evaluate("document.querySelector('#pattern-head').style.color = '#dddddd'")
    assert [item["id"] for item in violations(desk.page)] == ["color-contrast"]


def test_the_choice_of_light_or_dark_is_kept(sample_server, open_desk) -> None:
    desk = open_desk(sample_server, color_scheme="light")
    ground = "getComputedStyle(document.body).backgroundColor"
    light = desk.page.evaluate(ground)
    desk.page.get_by_label("Light or dark").select_option("dark")
    dark = desk.page.evaluate(ground)
    assert dark != light
    desk.open()
    assert desk.page.evaluate(ground) == dark
    desk.type(desk.thickness("lining"), "0.21")
    desk.type(desk.thickness("lining"), "0.2")
    assert desk.page.get_by_label("Light or dark").input_value() == "dark"
    desk.page.get_by_label("Light or dark").select_option("")
    assert desk.page.evaluate(ground) == light


@pytest.mark.parametrize(("size", "least"), [(DESKTOP, 24.0), (PHONE, 44.0)], ids=["wide", "phone"])
def test_it_fits_and_can_be_hit(sample_server, open_desk, size, least) -> None:
    """Nothing sideways beyond the window; WCAG's sizes of targets, for touch on the phone."""
    desk = open_desk(sample_server, viewport=size, has_touch=size is PHONE)
    for opened in (False, True):
        if opened:
            desk.page.evaluate(_OPEN)
        assert desk.page.evaluate("document.documentElement.scrollWidth") == size["width"]
        assert desk.page.evaluate(_OVER) == []
    # A class is one word, in one line, at any size of letters.
    for size_of_letters in ("100%", "160%"):
        desk.page.evaluate(
            "size => { document.documentElement.style.fontSize = size }", size_of_letters
        )
        assert desk.page.evaluate(_BROKEN) == []
    desk.page.evaluate("document.documentElement.style.fontSize = ''")
    targets = desk.page.evaluate(_TARGETS)
    assert len(targets) > 50
    assert [target for target in targets if target[1] < least - 0.5] == []


def test_a_finger_is_enough(sample_server, sample_folder, open_desk) -> None:
    desk = open_desk(sample_server, viewport=PHONE, has_touch=True)
    section = desk.page.locator("#section-picture")
    before = section.inner_html()
    desk.change(desk.page.locator("#class-picture [data-panel='0']").tap)
    assert desk.page.locator("#class-0-side").is_checked()
    assert section.inner_html() != before
    desk.change(desk.layer("lining").get_by_label("one place outwards").tap)
    assert desk.layers()[:2] == ["waist tape", "lining"]
    for _ in range(2):
        desk.change(desk.page.get_by_role("button", name="Undo").tap)
    assert section.inner_html() == before
    lens = desk.page.locator("#lens")
    view = lens.get_attribute("viewBox")
    desk.page.locator("#overlay-picture svg").tap(position={"x": 150, "y": 60})
    assert lens.get_attribute("viewBox") != view
    desk.page.locator("#lens-closer").tap()
    closer = box_of(lens)
    lens.scroll_into_view_if_needed()
    area = lens.bounding_box()
    assert area is not None
    x, y = area["x"] + 0.5 * area["width"], area["y"] + 0.5 * area["height"]
    # Two fingers that go apart bring it closer; one finger drags what is under it.
    fingers = desk.page.context.new_cdp_session(desk.page)
    for kind, apart in (("touchStart", 20.0), ("touchMove", 40.0), ("touchEnd", 0.0)):
        points = [{"x": x - apart, "y": y, "id": 0}, {"x": x + apart, "y": y, "id": 1}]
        fingers.send(
            "Input.dispatchTouchEvent",
            {"type": kind, "touchPoints": points if apart else []},
        )
    pinched = box_of(lens)
    assert pinched[2] == pytest.approx(0.5 * closer[2], rel=0.1)
    desk.page.mouse.move(x, y)
    desk.page.mouse.wheel(0, 100)
    desk.until(lambda: box_of(lens)[2] > pinched[2])
    before = box_of(lens)
    desk.page.mouse.down()
    desk.page.mouse.move(x + 30.0, y)
    desk.page.mouse.up()
    after = box_of(lens)
    assert before[0] - after[0] == pytest.approx(30.0 * before[2] / area["width"], rel=0.05)


def box_of(lens: Locator) -> list[float]:
    return [float(value) for value in str(lens.get_attribute("viewBox")).split()]


def test_print(sample_server, open_desk) -> None:
    """The work on a few sheets, in black on white, without controls."""
    desk = open_desk(sample_server, color_scheme="dark")
    page = desk.page
    page.emulate_media(media="print")
    shown = page.evaluate(
        """() => [...document.querySelectorAll("button, nav a, input[type=file], #take-form *")]
            .filter(e => e.getClientRects().length).map(e => e.id || e.textContent)"""
    )
    assert shown == []
    assert page.evaluate("getComputedStyle(document.body).backgroundColor") == "rgb(255, 255, 255)"
    printed = pypdfium2.PdfDocument(page.pdf(format="A4"))
    try:
        sheets = [sheet.get_textpage().get_text_bounded() for sheet in printed]
        text = " ".join(" ".join(sheets).split())
        # Nothing is cut off at the right: a blank strip all along.
        for sheet in printed:
            ink = sheet.render(scale=1.0, grayscale=True).to_numpy()
            assert ink[:, -12:].min() == 255
    finally:
        printed.close()
    assert 2 <= len(sheets) <= 6
    for words in WORDS_IN_PRINT:
        assert words in text, words
    for words in ("Undo", "Choose File", "Make the parcel", "Skip to"):
        assert words not in text


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_forced_colours_hide_nothing(sample_server, open_desk, scheme) -> None:
    """A drawing's lines stand out from its paper in high contrast as well."""
    desk = open_desk(sample_server, color_scheme=scheme, forced_colors="active")
    for picture in ("#pattern-picture", "#section-picture", "#overlay-picture"):
        grey = np.asarray(
            Image.open(io.BytesIO(desk.page.locator(picture).screenshot())).convert("L"),
            dtype=float,
        )
        paper = float(np.median(grey))
        # Outlines and words are a few percent of the drawing, and far from the paper's grey.
        assert np.mean(np.abs(grey - paper) > 120.0) > 0.008, picture
    chosen = desk.page.locator(".class-choice input:checked")
    assert chosen.count() == 6
    assert desk.page.locator("nav a").first.is_visible()


def test_less_motion_is_no_less(sample_server, open_desk) -> None:
    """Nothing moves when less motion is asked for, and every step is there all the same."""
    desk = open_desk(sample_server, reduced_motion="reduce")
    assert desk.page.evaluate("document.getAnimations().length") == 0
    assert desk.page.evaluate("getComputedStyle(document.documentElement).scrollBehavior") == "auto"
    desk.page.get_by_role("link", name="Look").click()
    expect(desk.page.locator("#step-look")).to_be_in_viewport()
