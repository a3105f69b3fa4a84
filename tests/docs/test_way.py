"""The page on a draft's way through the code is true line by line."""

from __future__ import annotations

import ast
import inspect
import re
import textwrap
from importlib import import_module
from typing import Any

import click
import pytest

from tests.docs.doc_pages import DOCS

TEXT = (DOCS / "way-through-the-code.md").read_text(encoding="utf-8")
STEPS = re.findall(r"\| `([\w.]+)` \| `([\w.]+)` \|$", TEXT, re.MULTILINE)
NAMED = sorted({name for name in re.findall(r"`([a-z_]+\.[\w.]+)`", TEXT) if name != "job.toml"})


def found(name: str) -> Any:
    """What a dotted name below the package stands for."""
    parts = name.split(".")
    for count in range(len(parts), 0, -1):
        try:
            here: Any = import_module(".".join(["panelshift", *parts[:count]]))
        except ModuleNotFoundError:
            continue
        for part in parts[count:]:
            here = getattr(here, part)
        return here.callback if isinstance(here, click.Command) else here
    raise AssertionError(name)


def calls(caller: Any) -> list[str]:
    """Names of what a function calls, innermost first; imported ones by their name at home."""
    tree = ast.parse(textwrap.dedent(inspect.getsource(caller)))
    at_home = {
        alias.asname: alias.name
        for node in ast.walk(tree)
        if isinstance(node, ast.ImportFrom)
        for alias in node.names
        if alias.asname
    }
    made = [node for node in ast.walk(tree) if isinstance(node, ast.Call)]
    made.sort(key=lambda call: (call.end_lineno, call.end_col_offset))
    names = [ast.unparse(call.func).rpartition(".")[2] for call in made]
    return [at_home.get(name, name) for name in names]


@pytest.mark.parametrize("name", NAMED)
def test_every_function_named_is_there(name: str) -> None:
    assert callable(found(name))
    assert found(name).__module__.startswith("panelshift")


@pytest.mark.parametrize(("called", "caller"), STEPS)
def test_each_is_called_where_the_page_says(called: str, caller: str) -> None:
    assert called.rpartition(".")[2] in calls(found(caller))


@pytest.mark.parametrize("caller", sorted({caller for _, caller in STEPS}))
def test_the_calls_of_one_function_stand_in_its_order(caller: str) -> None:
    own = [called.rpartition(".")[2] for called, by in STEPS if by == caller]
    used = calls(found(caller))
    places = [used.index(name) for name in own]
    assert places == sorted(places)


def test_the_page_fits_on_one_screen() -> None:
    assert len(STEPS) >= 30
    assert len(TEXT.splitlines()) <= 50
