"""The whole way through with the mouse, from an empty folder to the files taken away."""

from __future__ import annotations

import re
import tomllib
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from click.testing import CliRunner
from playwright.sync_api import Locator, expect

from panelshift.cli import main
from panelshift.job import read_job
from tests.support.drawings import half, svg
from tests.support.runs import SAMPLES

from .desk import Desk

DRAFT = (SAMPLES / "hourglass.svg").read_bytes()


def on_disk(folder: Path) -> dict[str, Any]:
    return tomllib.loads((folder / "hourglass.toml").read_text())


def fabrics(folder: Path) -> list[dict[str, Any]]:
    return list(on_disk(folder)["stack"]["fabric"])


def written(*arguments: str | Path) -> dict[str, bytes]:
    """What a command writes, by name."""
    result = CliRunner().invoke(main, [str(argument) for argument in arguments])
    assert result.exit_code == 0, result.output
    out = Path(arguments[-1])
    return {path.name: path.read_bytes() for path in out.iterdir() if path.name[0] != "."}


def middle(part: Locator) -> tuple[float, float]:
    box = part.bounding_box()
    assert box is not None
    return box["x"] + 0.5 * box["width"], box["y"] + 0.5 * box["height"]


@pytest.mark.slow
def test_the_whole_way_with_the_mouse(empty, folder, open_desk, tmp_path) -> None:
    desk = open_desk(empty)
    page = desk.page
    expect(page.get_by_role("heading", level=1)).to_have_text("An empty table")

    # 1. The pattern is drawn as soon as it is chosen.
    desk.choose_pattern("hourglass.svg", DRAFT)
    expect(page.locator("#pattern-picture .panel")).to_have_count(6)
    expect(page.locator("#pattern-summary")).to_contain_text("Half pattern of 6 panels")
    expect(page.locator("#pattern-summary")).to_contain_text("640 mm")
    assert (folder / "hourglass.svg").read_bytes() == DRAFT
    desk.type(page.get_by_label("Waist you drafted to"), "64 cm")
    assert on_disk(folder)["pattern"]["drafted_waist"] == "64 cm"
    assert page.locator(".flags li").count() == 0

    # 2. A click on a panel changes its class, and the section follows.
    section = page.locator("#section-picture")
    expect(page.locator("#look-picture [data-panel='1']")).to_have_attribute("data-class", "front")
    desk.by_classes()
    before = section.inner_html()
    assert page.get_by_role("group", name="2 front").get_by_label("front").is_checked()
    desk.change(page.locator("#class-picture [data-panel='1']").click)
    assert on_disk(folder)["panel"]["2 front"]["class"] == "side"
    assert page.get_by_role("group", name="2 front").get_by_label("side").is_checked()
    expect(page.locator("#class-picture [data-panel='1']")).to_have_attribute("data-class", "side")
    assert section.inner_html() != before
    desk.change(page.get_by_role("group", name="2 front").get_by_label("front").click)
    assert on_disk(folder)["panel"]["2 front"]["class"] == "front"
    assert section.inner_html() == before
    desk.type(page.get_by_label("Lacing gap"), "50")
    expect(page.locator("#pattern-summary")).to_contain_text("laced with the gap 690 mm")
    page.get_by_label("The body's section at the").select_option("bust")
    expect(section.locator("svg")).to_have_attribute("aria-label", "body section at the bust")

    # 3. Fabrics.
    expect(page.locator("#look")).to_contain_text("Give the thickness of lining")
    desk.type(desk.thickness("lining"), "0,45 mm")
    assert fabrics(folder)[0]["thickness"] == pytest.approx(0.45, abs=1e-12)
    desk.type(desk.thickness("strength layer"), "0.02 in")
    assert fabrics(folder)[1]["thickness"] == "0.02 in"
    expect(desk.thickness("strength layer")).to_have_value("0.508")
    desk.type(desk.thickness("fashion fabric"), "0.65")
    check_wrong_values(desk, folder)
    desk.change(desk.layer("lining").get_by_label("one place outwards").click)
    assert desk.layers() == ["strength layer", "lining", "fashion fabric"]
    grip = desk.layer("fashion fabric").locator(".grip")
    desk.change(lambda: grip.drag_to(desk.layer("strength layer")))
    assert desk.layers() == ["fashion fabric", "strength layer", "lining"]
    assert [fabric["name"] for fabric in fabrics(folder)] == desk.layers()
    desk.change(lambda: page.locator("#undo").click())
    desk.change(lambda: page.locator("#undo").click())
    assert desk.layers() == ["lining", "strength layer", "fashion fabric"]
    row = desk.layer("strength layer")
    desk.change(row.get_by_label("keeps the drafted size").check)
    assert on_disk(folder)["stack"]["drafted_layer"] == "strength layer"
    page.get_by_label("Another layer, outside").fill("voile, thin")
    page.locator("#add-thickness").fill("0.15")
    desk.change(page.get_by_role("button", name="Add it").click)
    assert desk.layers()[-1] == "voile, thin"

    # 4. What moves.
    check_look(desk)

    # 5. The parcel holds what the commands write for the job file in it.
    page.get_by_label("Paper", exact=True).select_option("letter")
    page.get_by_label("Blank border the printer needs").fill("12")
    page.get_by_label("Shared strip, for gluing").fill("8")
    found = desk.parcel()
    expect(page.locator("#take-said")).to_have_text("hourglass.zip is with your downloads.")
    away = tmp_path / "away"
    away.mkdir()
    for name in ("hourglass.toml", "hourglass.svg"):
        (away / name).write_bytes(found[name])
        assert found.pop(name) == (folder / name).read_bytes()
    job = away / "hourglass.toml"
    assert len(read_job(job).stack.fabric) == 4
    paper = ("--paper", "letter", "--margin", "12", "--overlap", "8")
    expected = {
        f"{part}/{name}": content
        for part, command in (("cut", ["cut"]), ("fit", ["fit"]), ("pages", ["tile", *paper]))
        for name, content in written(*command, job, "--out", tmp_path / part).items()
    }
    assert found.keys() == expected.keys()
    for name, content in expected.items():
        assert found[name] == content, name


def check_wrong_values(desk: Desk, folder: Path) -> None:
    """Each is told beside its field and changes nothing; what was typed stays to be mended."""
    before = (folder / "hourglass.toml").read_bytes()
    box = desk.thickness("lining")
    for typed, words in (
        ("abc", "abc"),
        ("-1", "at least 0 mm"),
        ("0.4 ells", "ells"),
        ("1,2,3", "1,2,3"),
        ("", "needs its thickness"),
        ("1e999", ""),
    ):
        answer = desk.type(box, typed)
        assert "x-refused" in answer.headers
        expect(box).to_have_attribute("aria-invalid", "true")
        expect(box).to_have_value(typed)
        ident = box.get_attribute("aria-describedby")
        why = desk.id(str(ident))
        expect(why).to_contain_text(words)
        assert len(why.inner_text()) > 20
        assert middle(why)[1] - middle(box)[1] < 150.0
        assert (folder / "hourglass.toml").read_bytes() == before
    desk.type(box, "0.45")
    expect(box).not_to_have_attribute("aria-invalid", "true")


def check_look(desk: Desk) -> None:
    page = desk.page
    slider = page.get_by_label("From the draft to the layer")
    words = page.locator("#overlay-words")
    assert spread(desk) > 1.0
    slider.scroll_into_view_if_needed()
    box = slider.bounding_box()
    assert box is not None
    slider.click(position={"x": 2.0, "y": 0.5 * box["height"]})
    expect(words).to_contain_text(", 0 % of the way")
    assert spread(desk) < 0.01
    slider.click(position={"x": 0.5 * box["width"], "y": 0.5 * box["height"]})
    expect(words).to_contain_text(", 50 % of the way")
    page.locator("#look-panel").select_option(label="3 side front")
    expect(page.locator("#overlay-picture svg")).to_have_attribute(
        "aria-label", re.compile("^panel 3 side front: its layers over the draft")
    )
    slider.press("End")
    expect(words).to_contain_text(", 100 % of the way")
    # The glass shows what is under the pointer, in its middle.
    picture = page.locator("#overlay-picture svg")
    picture.scroll_into_view_if_needed()
    area = picture.bounding_box()
    assert area is not None
    x, y = area["x"] + 0.55 * area["width"], area["y"] + 0.4 * area["height"]
    page.mouse.move(x, y)
    expected = page.evaluate(
        "([x, y]) => { const p = new DOMPoint(x, y).matrixTransform(document.querySelector("
        "'#overlay-picture svg').getScreenCTM().inverse()); return [p.x, p.y] }",
        [x, y],
    )
    view = np.array(str(page.locator("#lens").get_attribute("viewBox")).split(), dtype=float)
    np.testing.assert_allclose(view[:2] + 0.5 * view[2:], expected, atol=1e-3)
    assert view[2] == view[3]
    shown = np.array(str(picture.get_attribute("viewBox")).split(), dtype=float)
    assert view[2] < 0.5 * shown[2:].max()
    expect(page.locator("#walk")).to_contain_text("All 20 pass")


def spread(desk: Desk) -> float:
    """How far the layers lie from the draft in the drawing, in its units."""
    return float(
        desk.page.evaluate(
            """() => {
                const box = path => path.getBBox();
                const draft = box(document.querySelector("#overlay-lines .draft-line"));
                return Math.max(...[...document.querySelectorAll("#overlay-lines .layer-line")]
                  .map(box).map(b => Math.abs(b.width - draft.width)));
            }"""
        )
    )


_COUNT = """
window.strokes = [0, 0];
addEventListener("click", event => { if (event.isTrusted && event.detail) strokes[0] += 1 }, true);
addEventListener("keydown", event => { if (event.isTrusted) strokes[1] += 1 }, true);
"""
"""Clicks and keystrokes of the maker's own."""

MOST_STROKES = 25


def flawed_draft() -> str:
    """Three sizes round each other, a gap in one outline, and no line called the waist."""
    drawn = ""
    for draft in half(3):
        sizes = [
            replace(
                draft,
                name=f"{draft.name} size {k}",
                x=draft.x - 3.0 * k,
                waist=draft.waist + 6.0 * k,
                above=draft.above + 4.0 * k,
                below=draft.below + 4.0 * k,
            )
            for k in range(3)
        ]
        largest = sizes[-1]
        drawn += sizes[0].outline() + sizes[1].outline()
        drawn += largest.pieces(gap=0.78) if draft.x > 100.0 else largest.outline()
        drawn += largest.line(over=0.5).replace("waist", "middle")
        ends = largest.x - 10.0, largest.x + largest.waist + 10.0
        drawn += f'<path id="lower {draft.name}" d="M{ends[0]} {draft.y + 50}H{ends[1]}"/>'
    return svg(drawn)


def counted(desk: Desk) -> int:
    return int(desk.page.evaluate("strokes[0] + strokes[1]"))


@pytest.mark.slow
def test_from_a_flawed_drawing_to_pages_in_inches(empty, folder, open_desk) -> None:
    """Everything is mended by pointing; no more is typed than what only the maker knows."""
    desk = open_desk(empty)
    page, keys = desk.page, desk.page.keyboard
    page.add_init_script(_COUNT)
    desk.open()
    desk.drop_pattern("draft.svg", flawed_draft())
    desk.change(lambda: page.locator("#units").select_option("in"))
    # The line is the waist: it is pointed at in the drawing itself.
    line = page.locator(".option:has(text:text-is('B')) .line").first
    line.scroll_into_view_if_needed()
    desk.change(lambda: page.mouse.click(*middle(line)))
    desk.change(page.get_by_role("button", name="Close this gap").click)
    desk.change(page.get_by_role("button", name="This size: 2, counted from inside").click)
    expect(page.locator("#pattern-picture .panel")).to_have_count(3)
    first = page.locator(".layer [id$='-thickness']").first
    first.click()
    for place, text in enumerate(("1/64", ".02", ".03")):
        box = page.locator(".layer [id$='-thickness']").nth(place)
        box.focus()
        keys.type(text)
        desk.change(lambda: keys.press("Tab"))
    question = page.locator("#size-question")
    expect(question).to_be_visible()
    expect(page.locator("#size-drawing svg")).to_be_visible()
    desk.change(desk.layer("strength layer").get_by_label("keeps the drafted size").click)
    expect(question).to_have_count(0)
    expect(page.locator("#finished")).to_contain_text("inside")
    expect(page.locator("#paper")).to_have_value("letter")
    found = desk.parcel()
    assert any(name.endswith(".pdf") for name in found)
    assert counted(desk) < MOST_STROKES
    # What was made opens as it is.
    link = page.locator("#take-open a").first
    expect(link).to_be_visible()
    shown = page.request.get(f"{desk.origin}{link.get_attribute('href')}")
    assert shown.headers["content-type"] == "application/pdf"
    assert shown.body().startswith(b"%PDF-")


@pytest.mark.slow
def test_the_sample_to_its_pages(empty, open_desk) -> None:
    desk = open_desk(empty)
    desk.page.add_init_script(_COUNT)
    desk.open()
    desk.change(desk.page.get_by_role("button", name="Try the sample").click)
    desk.page.locator("#part-pages").uncheck()
    desk.page.locator("#part-fit").uncheck()
    found = desk.parcel()
    assert {"cut/overlay.svg", "hourglass.toml"} <= set(found)
    assert counted(desk) <= 4


@pytest.mark.slow
def test_a_dropped_file(empty, folder, open_desk) -> None:
    desk = open_desk(empty)
    desk.drop_pattern("hourglass.svg", DRAFT.decode())
    expect(desk.page.locator("#pattern-picture .panel")).to_have_count(6)
    assert (folder / "hourglass.svg").read_bytes() == DRAFT
    assert on_disk(folder)["pattern"]["file"] == "hourglass.svg"


_ON_LINE = """path => {
  const at = path.getPointAtLength(0.3 * path.getTotalLength());
  const seen = at.matrixTransform(path.getScreenCTM());
  return [seen.x, seen.y];
}"""
"""Where on the screen a line of a drawing runs."""


@pytest.mark.slow
def test_a_fitting_is_entered_and_the_new_draft_written(empty, folder, open_desk, tmp_path) -> None:
    desk = open_desk(empty)
    page, keys = desk.page, desk.page.keyboard
    desk.change(page.get_by_role("button", name="Try the sample").first.click)
    page.locator("#fitting-head").click()

    def click(place: int) -> Locator:
        line = page.locator("#fitting-picture .option").nth(place)
        line.scroll_into_view_if_needed()
        page.mouse.click(*line.locator(".hit").first.evaluate(_ON_LINE))
        return line

    # A seam is chosen in the drawing; the rest goes by keyboard.
    seam = click(3)
    assert desk.focused() == "alter-seam-where"
    expect(page.locator("#alter-seam-where")).to_have_value("3 side front to 4 side")
    expect(seam).to_have_class("option pointed")
    for ident, text in (("alter-seam-at-2", "0"), ("alter-seam-at-4", "half")):
        while desk.focused() != ident:
            keys.press("Tab")
        keys.type(text)
    answer = desk.change(lambda: keys.press("Enter"))
    assert "x-refused" in answer.headers
    expect(page.locator("#alter-seam-form-why")).to_contain_text("Hip: 'half' is not a length")
    # What was typed is there still, to be mended.
    assert desk.focused() == "alter-seam-at-4"
    keys.press("Control+a")
    keys.type("1/4 in")
    desk.change(lambda: keys.press("Enter"))
    expect(page.locator("#fitting")).to_contain_text(
        "3 side front to 4 side: 0 at waist, +6.35 at hip"
    )
    expect(page.locator("#fitting table").first).to_contain_text("912.7")
    expect(page.locator("#alter-seam-at-4")).to_have_value("")
    assert on_disk(folder)["alteration"][0]["let_out"] == {"waist": 0, "hip": "0.25 in"}

    # The top, clicked as well; taken out, and back by undo.
    click(7)
    assert desk.focused() == "alter-edge-where"
    page.locator("#alter-edge-way").select_option("raise")
    page.locator("#alter-edge-at-0").fill("3")
    page.locator("#alter-edge-at-6").fill("0")
    desk.change(page.locator("#alter-edge-form button[type=submit]").click)
    page.locator("#alter-1 > summary").click()
    desk.change(page.locator("#alter-1-out").click)
    assert desk.focused() == "fitting-head"
    desk.change(page.get_by_role("button", name="Undo").click)
    assert len(on_disk(folder)["alteration"]) == 2
    desk.open(empty.address)

    # What the command writes, and the layers come from it.
    result = CliRunner().invoke(
        main, ["alter", str(folder / "hourglass.toml"), "--out", str(tmp_path / "command.svg")]
    )
    assert result.exit_code == 0, result.output
    sizes = page.locator("#finished").inner_text()
    page.locator("#fitting-head").click()
    desk.change(page.locator("#redraft").click)
    expect(page.locator("#said")).to_contain_text("hourglass-2.svg is the draft now")
    assert (folder / "hourglass-2.svg").read_bytes() == (tmp_path / "command.svg").read_bytes()
    assert on_disk(folder)["pattern"]["file"] == "hourglass-2.svg"
    assert "alteration" not in on_disk(folder)
    expect(page.locator("#pattern-picture .panel")).to_have_count(6)
    assert page.locator(".flags li").count() == 0
    assert desk.focused() == "fitting-head"
    expect(page.locator("#finished")).to_have_text(sizes, use_inner_text=True)
