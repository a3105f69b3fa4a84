"""A browser for all tests here, and tabs that must stay clean."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import ExitStack
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, sync_playwright

from tests.support.chromium import QUIET, program
from tests.support.runs import sample_by_classes
from tests.table.client import Served, served

from .desk import Desk

OpenDesk = Callable[..., Desk]


# Not for the whole session: while Playwright runs, no other event loop can in this thread.
@pytest.fixture(scope="package")
def chromium() -> Iterator[Browser]:
    path = program()
    if path is None:
        pytest.skip("no Chromium: apt-get install chromium")
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=path, args=QUIET)
        yield browser
        browser.close()


@pytest.fixture
def open_desk(chromium: Browser) -> Iterator[OpenDesk]:
    """Opens tabs; at the end none may have gone astray or complained."""
    desks: list[Desk] = []
    with ExitStack() as stack:

        def desk(server: Served, *, beside: Desk | None = None, **options: Any) -> Desk:
            if beside is None:
                options.setdefault("viewport", {"width": 1280, "height": 900})
                options.setdefault("reduced_motion", "reduce")
                context = stack.enter_context(chromium.new_context(**options))
            else:
                context = beside.page.context
            opened = Desk(context, server.origin)
            desks.append(opened)
            opened.open(server.address)
            return opened

        yield desk
        for opened in desks:
            assert opened.faults() == []
            assert opened.strays() == []


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """An empty folder to work in."""
    inside = tmp_path / "work"
    inside.mkdir()
    return inside


@pytest.fixture
def empty(folder: Path) -> Iterator[Served]:
    """A table with nothing on it."""
    with served(folder) as server:
        yield server


@pytest.fixture(scope="module")
def sample_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The sample that a module's tests share."""
    folder = tmp_path_factory.mktemp("sample")
    sample_by_classes(folder)
    return folder


@pytest.fixture(scope="module")
def sample_server(sample_folder: Path) -> Iterator[Served]:
    with served(sample_folder, "hourglass.toml") as server:
        yield server
