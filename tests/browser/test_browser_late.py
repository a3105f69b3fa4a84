"""Answers that come late: what a maker did last counts, and is shown."""

from __future__ import annotations

import re
from collections.abc import Callable

import pytest
from playwright.sync_api import Route, expect

from .desk import Desk

pytestmark = pytest.mark.slow


class Held:
    """Requests of a kind that are kept back until they are let go."""

    def __init__(self, desk: Desk, pattern: str) -> None:
        self._desk, self._pattern = desk, re.compile(pattern)
        self._kept: list[Route] = []
        desk.page.route(self._pattern, lambda route: self._kept.append(route))

    def wait(self) -> None:
        """Until there is one."""
        self._desk.until(lambda: bool(self._kept))

    @property
    def first(self) -> str:
        """Address of the first of them."""
        return self._kept[0].request.url

    def let_go(self) -> None:
        # In this order: without its route the browser lets everything go by itself.
        for route in self._kept:
            route.continue_()
        self._desk.page.unroute(self._pattern)


def typed(desk: Desk, value: str) -> Callable[[], None]:
    box = desk.thickness("lining")

    def act() -> None:
        box.fill(value)
        box.press("Tab")

    return act


def test_step_four_shows_what_was_chosen_while_it_was_reckoned(sample_server, open_desk) -> None:
    """After an edit step 4 comes anew; the controls may have been moved in the meantime."""
    desk = open_desk(sample_server)
    page = desk.page
    panel, picture = page.locator("#look-panel"), page.locator("#overlay-picture svg")
    held = Held(desk, r"/look\?")
    with page.expect_response("**/edit/fabric"):
        typed(desk, "0.33")()
    held.wait()
    panel.select_option(label="2 front")
    page.locator("#look-part").focus()
    page.keyboard.press("Home")
    held.let_go()
    desk.rest()
    expect(picture).to_have_attribute("aria-label", re.compile("^panel 2 front:"))
    expect(page.locator("#overlay-words")).to_contain_text(", 0 % of the way")
    assert panel.evaluate("e => e.selectedOptions[0].text") == "2 front"
    assert page.locator("#look-part").input_value() == "0"
    # And the sizes are those of the edit.
    expect(page.locator("#tables")).to_contain_text("Finished sizes")
    desk.change(page.get_by_role("button", name="Undo").click)


def test_a_slider_that_is_moved_quickly(sample_server, open_desk) -> None:
    """Its last place is drawn, however many there were on the way."""
    desk = open_desk(sample_server)
    slider = desk.page.locator("#look-part")
    slider.focus()
    for key, count, words in (
        ("ArrowLeft", 3, ", 85 % of"),
        ("ArrowLeft", 8, ", 45 % of"),
        ("ArrowRight", 4, ", 65 % of"),
    ):
        for _ in range(count):
            desk.page.keyboard.press(key)
        expect(desk.page.locator("#overlay-words")).to_contain_text(words)


def test_the_page_is_not_fetched_anew_for_its_own_change(sample_server, open_desk) -> None:
    """It asks now and then whether others changed something; its own edit may come between."""
    desk = open_desk(sample_server)
    held = Held(desk, r"/pulse\?")
    desk.page.evaluate("() => { window.dispatchEvent(new Event('focus')) }")
    held.wait()
    desk.change(typed(desk, "0.34"))
    before = len(desk.requests)
    # On a laden machine it has asked again since, about the work as it is now.
    with desk.page.expect_response(held.first) as answer:
        held.let_go()
    # The server has to say so: it was asked about the work of before the edit.
    assert answer.value.text() == "changed"
    desk.page.wait_for_timeout(300)
    assert [url for url in desk.requests[before:] if "/work" in url or "/look" in url] == []
    desk.change(desk.page.get_by_role("button", name="Undo").click)


@pytest.mark.parametrize("answer", [500, 503])
def test_an_edit_that_failed_is_told(sample_server, sample_folder, open_desk, answer) -> None:
    desk = open_desk(sample_server)
    before = (sample_folder / "hourglass.toml").read_bytes()
    desk.page.route("**/edit/*", lambda route: route.fulfill(status=answer, body="no"))
    typed(desk, "0.35")()
    expect(desk.page.locator("#said")).not_to_have_text("")
    assert "Saved" not in desk.page.locator("#said").inner_text()
    assert (sample_folder / "hourglass.toml").read_bytes() == before
    assert any(str(answer) in words for words in desk.messages)
    desk.messages.clear()
