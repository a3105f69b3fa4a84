"""Files that cannot be used, and files that are meant to do harm."""

from __future__ import annotations

import tomllib

import numpy as np
import pytest
from playwright.sync_api import expect

from panelshift.sources.svg import read_svg
from tests.hostile.test_hostile_outside import hostile_svg
from tests.support.drawings import half, panels, svg

from .desk import Desk

FIRST, SECOND, THIRD = half(3)
GAP_MM = 6.0
OPEN = svg(FIRST.panel() + SECOND.pieces(gap=GAP_MM) + SECOND.line(over=0.5) + THIRD.panel())

_TRAP = "() => { window.evil = () => { window.ran = true } }"
"""What the hostile files call."""


def on_paper(desk: Desk, picture: str, content: str, part: str) -> tuple[float, float]:
    """Where in the drawing, in its own mm, something in a picture is on the screen."""
    boxes = np.array(
        [shape.curve.bounds() for shape in read_svg(content.encode(), name="draft.svg").shapes]
    )
    low, high = boxes[:, 0].min(axis=0), boxes[:, 1].max(axis=0)
    seen = np.array(
        desk.page.evaluate(
            """([picture, part]) => {
                const box = e => { const b = e.getBoundingClientRect();
                                   return [b.left, b.top, b.right, b.bottom] };
                const all = [...document.querySelectorAll(`${picture} svg > path`)].map(box);
                const least = k => Math.min(...all.map(b => b[k]));
                const most = k => Math.max(...all.map(b => b[k]));
                return [least(0), least(1), most(2), most(3), ...box(document.querySelector(part))];
            }""",
            [picture, part],
        )
    )
    scale = (high - low) / (seen[2:4] - seen[:2])
    np.testing.assert_allclose(scale[0], scale[1], rtol=0.02)
    middle = 0.5 * (seen[4:6] + seen[6:8])
    x, y = low + (middle - seen[:2]) * scale
    return float(x), float(y)


@pytest.mark.slow
def test_an_open_outline_is_shown_where_it_is_open_and_closed(empty, folder, open_desk) -> None:
    desk = open_desk(empty)
    page = desk.page
    desk.drop_pattern("open.svg", OPEN)
    expect(page.locator("#step-pattern")).to_contain_text("this outline is open: a gap of 6.00 mm")
    assert sorted(path.name for path in folder.glob("open.*")) == ["open.svg", "open.toml"]
    flag = "#pattern-picture .flag circle"
    expect(page.locator(flag)).to_have_count(2)
    x, y = on_paper(desk, "#pattern-picture", OPEN, flag)
    corner = SECOND.corners["left_top"]
    assert abs(x - corner[0]) < 2.0
    assert -2.0 < y - corner[1] < GAP_MM + 2.0
    # Pointing at the line is as good as the button.
    button = page.get_by_role("button", name="Close this gap")
    expect(button).to_be_visible()
    desk.change(lambda: page.locator(".option .hit").first.dispatch_event("click"))
    expect(page.locator("#pattern-picture .panel")).to_have_count(3)
    expect(button).to_have_count(0)


@pytest.mark.slow
@pytest.mark.parametrize(
    ("name", "content", "words"),
    [
        ("plain.svg", svg("".join(draft.outline() for draft in half(3))), "no waistline found"),
        ("page.svg", "<!doctype html><script>alert(1)</script>", "not well-formed XML"),
        # The server's words for these are tested without a browser too (test_table_hostile.py).
        ("empty.svg", "", "the file is empty"),
        ("noise.svg", "\x00\x01\x02 noise", "not well-formed XML"),
    ],
)
def test_what_is_no_pattern(sample_server, sample_folder, open_desk, name, content, words) -> None:
    """It is told why, and the job on the table stays as it was."""
    desk = open_desk(sample_server)
    before = {path.name: path.read_bytes() for path in sample_folder.iterdir()}
    desk.drop_pattern(name, content)
    trouble = desk.page.get_by_role("group", name=f"Why {name} was not taken")
    expect(trouble).to_contain_text(words)
    expect(trouble).to_contain_text("The job still uses hourglass.svg")
    expect(desk.page.locator("#pattern-picture .panel")).to_have_count(6)
    assert {path.name: path.read_bytes() for path in sample_folder.iterdir()} == before


@pytest.mark.slow
def test_a_panel_without_waistline_is_pointed_out(empty, open_desk) -> None:
    desk = open_desk(empty)
    content = svg(FIRST.panel() + SECOND.outline() + THIRD.panel())
    desk.drop_pattern("draft.svg", content)
    flag = desk.page.locator(".flags li")
    expect(flag).to_have_count(1)
    expect(flag).to_contain_text("panel 2: it looks like a panel, but no waistline crosses it")
    # The outline it is about is drawn under its flag.
    under = desk.page.evaluate(
        """() => {
            const foot = document.querySelector("#pattern-picture .flag circle");
            const at = foot.getBoundingClientRect();
            const [x, y] = [at.left + at.width / 2, at.top + at.height / 2];
            const drawn = "#pattern-picture path:not(.flag path, .option path)";
            return [...document.querySelectorAll(drawn)]
              .map(e => e.getBoundingClientRect())
              .filter(b => b.left < x && x < b.right && b.top < y && y < b.bottom).length;
        }"""
    )
    assert under == 1


@pytest.mark.slow
def test_a_file_that_is_too_large(empty, folder, open_desk) -> None:
    desk = open_desk(empty)
    page = desk.page
    carried = page.evaluate_handle(
        """() => {
            const carried = new DataTransfer();
            carried.items.add(new File([new Uint8Array(34 * 2 ** 20).fill(32)], "large.svg"));
            return carried;
        }"""
    )
    page.locator("main").dispatch_event("drop", {"dataTransfer": carried})
    expect(page.locator("body")).to_contain_text("too large")
    assert list(folder.iterdir()) == []
    desk.drop_pattern("draft.svg", svg(panels(half(3))))
    expect(page.locator("#pattern-picture .panel")).to_have_count(3)


@pytest.mark.slow
def test_a_hostile_file_runs_nothing_and_sends_nothing(empty, folder, open_desk) -> None:
    """The fixture fails on any complaint and on any request that leaves."""
    desk = open_desk(empty)
    page = desk.page
    page.on("dialog", lambda dialog: pytest.fail(f"a dialog: {dialog.message}"))
    page.evaluate(_TRAP)
    desk.drop_pattern("hostile.svg", hostile_svg("http://evil.example"))
    expect(page.locator("#pattern-picture .panel")).to_have_count(2)
    for name in desk.layers():
        desk.type(desk.thickness(name), "0.4")
    expect(page.locator("#overlay-picture svg")).to_be_visible()
    for part in page.locator(":is(#pattern-picture, #overlay-picture) path").all():
        part.dispatch_event("mouseover")
        part.dispatch_event("click")
    assert page.evaluate("window.ran") is None
    strange = page.locator(
        "main :is(image, foreignObject, iframe, script, style, animate, set, a[href^='javascript'])"
    )
    assert strange.count() == 0
    assert tomllib.loads((folder / "hostile.toml").read_text())["pattern"]["file"] == "hostile.svg"


@pytest.mark.slow
def test_names_that_are_markup(empty, folder, open_desk) -> None:
    """Names of panels, layers and files are words wherever they turn up."""
    desk = open_desk(empty)
    page = desk.page
    page.evaluate(_TRAP)
    mean = "<img src=x onerror=evil()>"
    drafts = half(2, names=(f"front {mean.replace('<', '&lt;')}", "back"))
    desk.drop_pattern("a'b&amp;<b>.svg", svg(panels(drafts)))
    desk.by_classes()
    expect(page.get_by_role("group", name=f"front {mean}")).to_be_visible()
    desk.type(desk.layer("lining").get_by_label("Layer 1"), f"lining {mean}\"'")
    assert desk.layers()[0] == f"lining {mean}\"'"
    for k in range(3):
        desk.type(page.locator(".layer [id$='-thickness']").nth(k), "0.3")
    expect(page.locator("#overlay-key")).to_contain_text(mean)
    assert page.locator("main img").count() == 0
    assert page.evaluate("window.ran") is None


@pytest.mark.slow
def test_a_policy_breach_would_be_told(sample_server, open_desk) -> None:
    # Negative control: the checks above could not fail if nothing were noted.
    desk = open_desk(sample_server)
    desk.page.evaluate(
        """() => {
            const script = document.createElement("script");
            script.textContent = "window.ran = true";
            document.body.append(script);
            const picture = document.createElement("img");
            picture.src = "http://evil.example/a.png";
            document.body.append(picture);
        }"""
    )
    desk.page.wait_for_timeout(100)
    assert desk.page.evaluate("window.ran") is None
    breaches = [words for words in desk.messages if "breach" in words]
    assert any("script-src" in words for words in breaches)
    assert any("img-src" in words for words in breaches)
    assert desk.strays() == ["http://evil.example/a.png"]
    desk.messages.clear()
    desk.requests.clear()


@pytest.mark.slow
def test_what_must_be_mended_is_said_before_the_end(sample_server, open_desk) -> None:
    """A waist that is not the drafted one: no green light, and step 5 says so at once."""
    desk = open_desk(sample_server)
    page = desk.page
    steps = page.locator("nav a.done")
    expect(steps).to_have_count(5)
    desk.type(page.get_by_label("Waist you drafted to"), "600")
    fault = page.locator("#step-pattern .flags li").first
    expect(fault).to_contain_text("In the way: the pattern's waist is 640 mm")
    expect(page.locator("#trouble-take")).to_contain_text("has to be mended first")
    # Nor is step 4 in order: it has nothing to show until then.
    expect(steps).to_have_count(2)
    expect(page.locator("#trouble-look")).to_be_visible()
    expect(page.get_by_role("button", name="My waist is 640 mm: use it")).to_be_visible()
    page.locator("#take").click()
    said = page.locator("#take-said")
    expect(said).to_contain_text("the pattern's waist is 640 mm")
    expect(said).to_have_class("hint refusal")
    desk.change(page.get_by_role("button", name="Undo").click)
    expect(steps).to_have_count(5)
    expect(page.locator("#trouble-take")).to_have_count(0)
