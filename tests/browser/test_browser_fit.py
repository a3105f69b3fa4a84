"""The fit sheet in a real browser."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any, Literal

import pypdfium2
import pytest
from lxml import html
from playwright.sync_api import Browser, Page

from panelshift.fit.html_page import fit_page
from panelshift.job import read_job, resolve
from panelshift.job.result import fit_job
from tests.support.fit_jobs import straining_job, unsure_job
from tests.support.runs import SAMPLES

from .accessibility import needs_axe, violations

pytestmark = pytest.mark.slow

NAMES = ["hourglass", "fuller_figure", "unsure", "straining"]

PAPERS = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}
MARGIN_MM = 12.0
PX_PER_MM = 96.0 / 25.4
POINT_MM = 25.4 / 72.0


class Pages(dict[str, Path]):
    """Fit sheets, each made when it is first asked for."""

    def __init__(self, folder: Path) -> None:
        super().__init__()
        self.folder = folder

    def __missing__(self, name: str) -> Path:
        own = self.folder / name
        own.mkdir()
        made = {"unsure": unsure_job, "straining": straining_job}.get(name)
        job = made(own) if made else SAMPLES / f"{name}.toml"
        self[name] = own / f"{name}.html"
        self[name].write_bytes(fit_page(fit_job(resolve(read_job(job)))))
        return self[name]


@pytest.fixture(scope="module")
def pages(tmp_path_factory: pytest.TempPathFactory) -> Pages:
    """Four fit sheets: both samples, one with everything known, one that strains the page."""
    return Pages(tmp_path_factory.mktemp("pages"))


class Window:
    """One open page: everything it asked for and said is kept."""

    def __init__(self, page: Page) -> None:
        self.page = page
        self.requests: list[str] = []
        self.messages: list[str] = []
        page.on("request", lambda request: self.requests.append(request.url))
        page.on("console", lambda message: self.messages.append(f"{message.type}: {message.text}"))
        page.on("pageerror", lambda error: self.messages.append(f"thrown: {error}"))

    def open(self, file: Path) -> None:
        """Open a file and wait until it has loaded, and until late messages have come."""
        self.requests.clear()
        self.messages.clear()
        self.page.goto(file.resolve().as_uri())
        self.page.wait_for_timeout(150)

    def ask(self, expression: str) -> Any:
        """Value of a JavaScript expression."""
        return self.page.evaluate(expression)

    def size(self, width: int, height: int) -> None:
        self.page.set_viewport_size({"width": width, "height": height})


@pytest.fixture(scope="module")
def window(chromium: Browser) -> Iterator[Window]:
    with chromium.new_context() as context:
        yield Window(context.new_page())


@pytest.fixture(params=NAMES)
def name(request: pytest.FixtureRequest) -> str:
    return str(request.param)


@pytest.fixture
def shown(window: Window, pages: dict[str, Path], name: str) -> Iterator[Window]:
    """The page as opened on a wide window."""
    window.size(1280, 900)
    window.open(pages[name])
    yield window
    window.page.emulate_media(media="null", color_scheme="light")


def test_no_message_and_no_request_leaves_the_page(
    shown: Window, pages: dict[str, Path], name: str
) -> None:
    assert shown.messages == []
    assert shown.requests == [pages[name].resolve().as_uri()]
    assert shown.ask("performance.getEntriesByType('resource').length") == 0
    assert shown.ask("document.compatMode") == "CSS1Compat"
    assert shown.ask("document.scripts.length + document.images.length") == 0


def test_the_browser_would_tell_a_message_and_a_request(window: Window, tmp_path: Path) -> None:
    # Negative control: the test above could not fail if nothing were noted.
    file = tmp_path / "bad.html"
    file.write_text(
        "<!doctype html><title>x</title><img src='missing.png' alt=''>"
        "<script>console.error('told')</script>"
    )
    window.open(file)
    assert any("told" in words for words in window.messages)
    assert any(address.endswith("missing.png") for address in window.requests)


def test_the_first_page_is_open_and_all_else_opens(shown: Window) -> None:
    """Picture, sizes, choices and sentences are seen at once; each heading opens by its key."""
    assert shown.ask("document.querySelectorAll('details[open]').length") == 0
    seen = "e => e.checkVisibility({contentVisibilityAuto: true})"
    for what in ("h1", "figure svg", "dl dd", "table", "ol li"):
        assert shown.ask(f"[...document.querySelectorAll('.first {what}')].map({seen})"), what
        assert all(shown.ask(f"[...document.querySelectorAll('.first {what}')].map({seen})"))
    assert not any(shown.ask(f"[...document.querySelectorAll('details table')].map({seen})"))
    # Not more sentences than a page can carry, and each says one thing.
    assert 1 <= shown.ask("document.querySelectorAll('.first ol li').length") <= 5
    shown.page.focus("summary")
    shown.page.keyboard.press("Enter")
    assert shown.ask("document.querySelectorAll('details[open]').length") == 1


OPEN = "document.querySelectorAll('details').forEach(d => { d.open = true; })"


def test_all_tables_are_there_and_whole(shown: Window, pages: dict[str, Path], name: str) -> None:
    """Rows and cells as in the file, and every one of them takes up room once it is opened."""
    shown.ask(OPEN)
    found = shown.ask(
        "[...document.querySelectorAll('table')].map(t => [t.caption.textContent, "
        "[...t.rows].map(r => r.cells.length), [...t.querySelectorAll('th,td')].every("
        "c => c.getClientRects().length == 1 && c.getBoundingClientRect().height > 8)])"
    )
    written = [
        [table.find("caption").text_content(), [len(row) for row in table.iter("tr")], True]
        for table in html.fromstring(pages[name].read_bytes().decode()).iter("table")
    ]
    assert found == written
    assert len(found) >= 9
    for _, rows, _ in found:
        assert len(set(rows)) == 1


@pytest.mark.parametrize("width", [1280, 390])
@pytest.mark.parametrize("opened", [False, True])
def test_nothing_is_cut_off_on_a_screen(shown: Window, width: int, opened: bool) -> None:
    shown.size(width, 900)
    if opened:
        shown.ask(OPEN)
    # The page itself never scrolls sideways; a wide table does, in a box that can.
    assert shown.ask("document.documentElement.scrollWidth") == width
    boxes = shown.ask(
        "[...document.querySelectorAll('.scroll')].map(b => [b.scrollWidth - b.clientWidth, "
        "getComputedStyle(b).overflowX, b.tabIndex])"
    )
    assert all(over <= 0 or (how == "auto" and tab == 0) for over, how, tab in boxes)
    assert shown.ask(OVERLAPS) == []
    assert shown.ask(SPILLS) == []


OVERLAPS = """
[...document.querySelectorAll('figure svg')].flatMap(svg => {
  const words = [...svg.querySelectorAll('text')].map(t => [t.textContent, t.getBBox(), t]);
  return words.flatMap(([a, p, s], k) => words.slice(k + 1).filter(([b, q, t]) =>
    s.getCTM().a == t.getCTM().a && s.getCTM().b == t.getCTM().b &&
    s.parentNode == svg && t.parentNode == svg &&
    p.x + p.width > q.x + .5 && q.x + q.width > p.x + .5 &&
    p.y + .72 * p.height > q.y + .28 * q.height && q.y + .72 * q.height > p.y + .28 * p.height
  ).map(([b]) => svg.getAttribute('aria-label') + ': ' + a + ' / ' + b));
})
"""
"""Pairs of words in a picture that lie over each other; the letters fill the middle of a box."""

SPILLS = """
[...document.querySelectorAll('figure svg')].flatMap(svg => {
  const box = svg.viewBox.baseVal, away = 1;
  return [...svg.querySelectorAll(':scope > text, :scope > path')].filter(e => {
    const b = e.getBBox();
    return b.x < box.x - away || b.y < box.y - away ||
      b.x + b.width > box.x + box.width + away || b.y + b.height > box.y + box.height + away;
  }).map(e => svg.getAttribute('aria-label') + ': ' + (e.textContent || e.outerHTML.slice(0, 60)));
})
"""
"""What is drawn outside its picture, where it is cut off."""


def test_words_in_pictures_are_large_enough_to_read(shown: Window) -> None:
    shown.ask(OPEN)
    sizes = shown.ask(
        "[...document.querySelectorAll('figure svg text')].map(t => "
        "parseFloat(t.getAttribute('font-size')) * Math.abs(t.getScreenCTM().a || "
        "t.getScreenCTM().b))"
    )
    assert min(sizes) > 7.0


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("whole", [False, True])
def test_print_has_no_clipped_content(
    shown: Window, pages: dict[str, Path], name: str, paper: str, whole: bool
) -> None:
    wide, tall = PAPERS[paper]
    if whole:
        shown.page.check("#whole")
    shown.page.emulate_media(media="print")
    room = int((wide - 2.0 * MARGIN_MM) * PX_PER_MM)
    shown.size(room, 900)
    assert shown.ask("document.documentElement.scrollWidth") == room
    assert (
        shown.ask(
            "Math.max(...[...document.querySelectorAll('table')].map(t => Math.ceil("
            "t.getBoundingClientRect().right)))"
        )
        <= room
    )
    # No picture is taller than a page's print area.
    highest = shown.ask(
        "Math.max(...[...document.querySelectorAll('figure')].map(f => f.offsetHeight))"
    )
    assert highest < (tall - 2.0 * MARGIN_MM) * PX_PER_MM
    sheets = shown.page.pdf(width=f"{wide}mm", height=f"{tall}mm", print_background=True)
    printed = pypdfium2.PdfDocument(sheets)
    try:
        check_print(printed, pages[name], wide, tall, whole=whole)
        if name != "straining":
            # Letter is 18 mm shorter than A4.
            assert len(printed) <= (4 + (paper == "letter") if whole else 1)
    finally:
        printed.close()


def check_print(
    printed: pypdfium2.PdfDocument, file: Path, wide: float, tall: float, *, whole: bool
) -> None:
    """Right size, blank margins, and every word of the page on some sheet.

    Of what is closed, no word; no heading stands at the foot of a sheet with nothing below it.
    """
    text = ""
    for sheet in printed:
        size = (sheet.get_width() * POINT_MM, sheet.get_height() * POINT_MM)
        assert size == pytest.approx((wide, tall), abs=0.6)
        ink = sheet.render(scale=1.0, grayscale=True).to_numpy()
        edge = int((MARGIN_MM - 2.0) / POINT_MM)
        for strip in (ink[:edge], ink[-edge:], ink[:, :edge], ink[:, -edge:]):
            assert strip.min() == 255
        text += sheet.get_textpage().get_text_bounded()
    document = html.fromstring(file.read_bytes().decode())
    found = letters(text)
    (first,) = document.find_class("first")
    places = [first, *(document.iter("details") if whole else ())]
    for place in places:
        for element in place.iter("h1", "h2", "li", "p", "caption", "th", "td", "figcaption"):
            assert letters(element.text_content()) in found, element.text_content()
    if not whole:
        assert letters(document.find_class("rest")[0].find("h2").text_content()) not in found
        assert "Whatthiswasreckonedwith" not in found
    headings = {letters(h.text_content()) for d in document.iter("details") for h in d.iter("h2")}
    for sheet in printed:
        lines = [letters(line) for line in sheet.get_textpage().get_text_bounded().splitlines()]
        assert [line for line in lines if line][-1] not in headings


def letters(text: str) -> str:
    """Letters and digits only: print breaks lines, and PDF text has its own spaces."""
    return re.sub(r"[^A-Za-z0-9]+", "", text)


def test_it_reads_without_colour(shown: Window, name: str) -> None:
    """Whatever is coloured is also said: in words, by weight, by dashes or by numbers."""
    verdicts = shown.ask(
        "[...document.querySelectorAll('.pass,.fail')].map(c => [c.className.trim(), "
        "c.textContent])"
    )
    assert len(verdicts) > 0
    assert all(text.endswith(f" {css}") for css, text in verdicts)
    assert any(css == "fail" for css, _ in verdicts) == (name == "straining")
    # Line styles differ by their dashes, not by colour alone.
    dashes = shown.ask(
        "[...document.querySelectorAll('.key path')].map(p => p.getAttribute('stroke-dasharray'))"
    )
    assert len(set(dashes)) >= min(len(dashes), 6)
    # Each panel in a section has its angle beside it.
    assert all(
        shown.ask(
            "[...document.querySelectorAll('svg[aria-label^=\"body section\"]')].map(s => "
            "[...s.querySelectorAll('text')].filter(t => t.textContent.endsWith('°')).length > 1)"
        )
    )


def test_grey_levels_of_a_section_tell_strong_from_weak(shown: Window) -> None:
    """The darker the panel the more it turns, also in grey."""
    drawn = shown.ask(
        "[...document.querySelectorAll('svg[aria-label$=waist] path')].map(p => "
        "p.getAttribute('stroke'))"
    )
    cloth = [c for c in drawn if c not in ("#222222", "#555555", "#777777")]
    grey = [0.299 * r + 0.587 * g + 0.114 * b for r, g, b in map(channels, cloth)]
    assert max(grey) - min(grey) > 25.0


def channels(colour: str) -> tuple[int, ...]:
    return tuple(int(colour[k : k + 2], 16) for k in (1, 3, 5))


@needs_axe
@pytest.mark.parametrize("width", [1280, 390])
@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("opened", [False, True])
def test_axe_finds_nothing_serious(
    shown: Window, width: int, scheme: Literal["light", "dark"], opened: bool
) -> None:
    shown.size(width, 900)
    shown.page.emulate_media(color_scheme=scheme)
    if opened:
        shown.ask(OPEN)
    assert violations(shown.page) == []


@needs_axe
def test_axe_would_find_pale_letters(window: Window, tmp_path: Path) -> None:
    # Negative control.
    file = tmp_path / "pale.html"
    file.write_text(
        "<!doctype html><html lang='en'><title>x</title><main>"
        "<h1 style='color:#ddd;background:#fff'>pale</h1></main></html>"
    )
    window.open(file)
    assert [item["id"] for item in violations(window.page)] == ["color-contrast"]
