"""Undo and redo; a reload, a second tab and a new start find the same work."""

from __future__ import annotations

import signal
from pathlib import Path
from urllib.parse import parse_qsl, urlencode

import pytest
from playwright.sync_api import Route, expect

from panelshift.job import read_job
from tests.support.runs import sample_by_classes
from tests.table.client import served

from .desk import Desk

pytestmark = pytest.mark.slow


@pytest.fixture
def job(folder: Path) -> Path:
    sample_by_classes(folder)
    return folder / "hourglass.toml"


def thickness(job: Path) -> float:
    return read_job(job).stack.fabric[0].thickness


def shown(desk: Desk) -> list[str]:
    """All that a maker may have set, as the page shows it."""
    return list(
        desk.page.evaluate(
            """() => [...document.querySelectorAll("main input:not([type=file]), main select")]
                .map(e => [e, e.type === "radio" || e.type === "checkbox" ? e.checked : e.value])
                .map(([e, value]) => `${e.id}: ${value}`)"""
        )
    )


def test_undo_and_redo(job, open_desk) -> None:
    with served(job.parent, job.name) as server:
        desk = open_desk(server)
        page = desk.page
        undo, redo = (
            page.get_by_role("button", name="Undo"),
            page.get_by_role("button", name="Redo"),
        )
        original = job.read_bytes()
        assert undo.is_disabled()
        assert redo.is_disabled()
        states = [original]
        desk.type(desk.thickness("lining"), "0.31")
        states.append(job.read_bytes())
        desk.change(page.locator("#class-0-side").check)
        states.append(job.read_bytes())
        desk.change(desk.layer("brocade").get_by_label("one place inwards").click)
        states.append(job.read_bytes())
        assert len(set(states)) == 4
        expect(undo).to_have_attribute("title", "Take back: the place of brocade")

        # By button all the way back and forth.
        for state in states[-2::-1]:
            desk.change(undo.click)
            assert job.read_bytes() == state
        expect(undo).to_be_disabled()
        expect(desk.thickness("lining")).to_have_value("0.2")
        assert page.locator("#class-0-front").is_checked()
        for state in states[1:]:
            desk.change(redo.click)
            assert job.read_bytes() == state
        expect(redo).to_be_disabled()

        # By keys: three ways that makers know.
        page.locator("#class-0-side").focus()
        for key, state in (
            ("Control+z", states[2]),
            ("Control+z", states[1]),
            ("Control+y", states[2]),
            ("Control+z", states[1]),
            ("Control+Shift+z", states[2]),
        ):
            desk.change(lambda key=key: page.keyboard.press(key))
            assert job.read_bytes() == state
        expect(page.locator("#said")).to_contain_text("Done again: the class of 1 centre front")

        # In a text box the keys are the box's own.
        requests = len(desk.requests)
        page.locator("#title").fill("x")
        page.keyboard.press("Control+z")
        assert not [url for url in desk.requests[requests:] if url.endswith(("/undo", "/redo"))]
        page.locator("#title").fill("")


def test_reload_and_a_new_start(job, open_desk) -> None:
    with served(job.parent, job.name) as server:
        desk = open_desk(server)
        desk.type(desk.thickness("lining"), "0,37")
        desk.change(desk.page.locator("#class-2-front").check)
        desk.type(desk.page.get_by_label("Lacing gap"), "65")
        before = shown(desk)
        assert any(line.endswith("thickness: 0.37") for line in before)
        desk.open()
        assert shown(desk) == before
        desk.page.close()
        server.process.send_signal(signal.SIGKILL)
        server.process.wait(timeout=20)
    with served(job.parent, job.name) as server:
        again = open_desk(server)
        assert shown(again) == before
        again.change(again.page.get_by_role("button", name="Undo").click)
        expect(again.page.get_by_label("Lacing gap")).to_have_value("50")


def test_a_second_tab_follows(job, open_desk) -> None:
    with served(job.parent, job.name) as server:
        first = open_desk(server)
        second = open_desk(server, beside=first)
        # A field that only has the focus follows as well.
        first.thickness("lining").focus()
        second.type(second.thickness("lining"), "0.41")
        # Without being touched: the page asks every few seconds.
        expect(first.thickness("lining")).to_have_value("0.41")
        first.rest()
        assert shown(first) == shown(second)
        # Different things changed in both at the same time both count.
        first.type(first.thickness("coutille"), "0.52")
        second.type(second.thickness("brocade"), "0.71")
        found = {fabric.name: fabric.thickness for fabric in read_job(job).stack.fabric}
        assert (found["lining"], found["coutille"], found["brocade"]) == (0.41, 0.52, 0.71)
        # So does what a text editor writes.
        job.write_text(job.read_text().replace("thickness = 0.41", "thickness = 0.44"))
        expect(first.thickness("lining")).to_have_value("0.44")


def of_long_ago(route: Route) -> None:
    """Send a request on with another revision."""
    fields = dict(parse_qsl(route.request.post_data or "", keep_blank_values=True))
    assert fields["revision"]
    route.continue_(post_data=urlencode(fields | {"revision": "long ago"}))


def test_an_edit_of_what_another_tab_has_changed_is_not_lost_silently(job, open_desk) -> None:
    with served(job.parent, job.name) as server:
        first = open_desk(server)
        second = open_desk(server, beside=first)
        second.type(second.thickness("lining"), "0.41")
        # As from a tab that has slept: the edit says that its page is of before the other's
        # change. Only the request does, for the page itself asks anew every few seconds.
        first.page.route("**/edit/*", of_long_ago)
        answer = first.type(first.thickness("lining"), "0.49")
        assert "x-refused" in answer.headers
        expect(first.page.locator("[role=alert]").first).to_be_attached()
        assert thickness(job) == 0.41


def test_the_server_has_ended(job, open_desk) -> None:
    """The page says so, and nothing that was typed is taken for saved."""
    with served(job.parent, job.name) as server:
        desk = open_desk(server)
        server.process.send_signal(signal.SIGKILL)
        server.process.wait(timeout=20)
        box = desk.thickness("lining")
        box.fill("0.44")
        box.press("Tab")
        expect(desk.page.locator("#said")).to_contain_text("does not answer")
        expect(desk.page.locator("#kept")).to_have_text("panelshift does not answer")
        assert thickness(job) == 0.2
        assert any("ERR_CONNECTION_REFUSED" in words for words in desk.messages)
        desk.messages.clear()
        desk.page.close()


def test_units(sample_server, sample_folder, open_desk) -> None:
    """In inches everything is shown so; the job keeps what was written in it."""
    desk = open_desk(sample_server)
    before = thickness(sample_folder / "hourglass.toml")
    desk.change(lambda: desk.page.get_by_label("Units").select_option("in"))
    expect(desk.thickness("lining")).to_have_value("0.0079")
    expect(desk.layer("lining").locator(".unit").first).to_have_text("in")
    expect(desk.page.locator("#pattern-summary")).to_contain_text("whole waist 25 3/16 in")
    expect(desk.page.locator("#growth-more caption").first).to_contain_text(" in")
    expect(desk.page.locator("#paper")).to_have_value("letter")
    expect(desk.page.get_by_label("Shared strip, for gluing")).to_have_value("3/8 in")
    expect(desk.page.locator("#finished")).to_contain_text(" in")
    assert thickness(sample_folder / "hourglass.toml") == before
    desk.type(desk.page.get_by_label("Lacing gap"), "2 1/4")
    expect(desk.page.get_by_label("Lacing gap")).to_have_value("2 1/4")
    for _ in range(2):
        desk.change(desk.page.get_by_role("button", name="Undo").click)
    expect(desk.page.locator("#pattern-summary")).to_contain_text("640 mm")


def test_tapes_that_were_typed_stay_while_one_of_them_is_refused(job, open_desk) -> None:
    """All of them went, and the level went back to the first: the next try was for another."""
    with served(job.parent, job.name) as server:
        desk = open_desk(server)
        page = desk.page
        page.locator("#body-more > summary").click()
        page.locator("#tape-level").select_option("hip")
        page.locator("#tape-breadth").fill("330")
        page.locator("#tape-depth").fill("24o")
        use = page.locator("#model-tapes button[type=submit]")
        desk.change(use.click)
        expect(page.locator("#model-tapes-why")).to_contain_text("Depth: unknown unit 'o'")
        expect(page.locator("#tape-level")).to_have_value("hip")
        expect(page.locator("#tape-breadth")).to_have_value("330")
        page.locator("#tape-depth").fill("240")
        desk.change(use.click)
        expect(page.locator("#model-tapes")).to_contain_text("hip: breadth 330 mm, depth 240 mm")
        expect(page.locator("#tape-breadth")).to_have_value("")
        assert set(read_job(job).body.tapes) == {"hip"}
