"""The faults are what they say, and a module's functions take them."""

from __future__ import annotations

import ast
import sys
from types import ModuleType

import pytest

from .mutants import mutants, mutated
from .putting_in import put_in

SOURCE = """
from functools import cache
LIMIT: int = 3
@cache
def kept(items, key=None):
    if len(items) < LIMIT:
        items.append(key)
    return [sorted(item, reverse=True) for item in items], divmod(7, 2), -1, (1, 2)
"""


def test_faults_of_every_kind_are_made_once_and_keep_their_names() -> None:
    found = {mutant.name.partition("kept: ")[2]: mutant for mutant in mutants("m.py", SOURCE)}
    assert {
        "len(items) < LIMIT => len(items) > LIMIT",
        "if len(items) < LIMIT => if False",
        "items.append(key) => pass",
        "sorted(item, reverse=True) => sorted(item)",
        "for item in items => for item in all but the last",
        "divmod(7, 2) => divmod(2, 7)",
        "(1, 2) => [2, 1]",
        "(1, 2) => [1]",
        "-1 => 1",
    } <= found.keys()
    moved = [mutant.name for mutant in mutants("m.py", "\n\n" + SOURCE)]
    assert moved == [mutant.name for mutant in mutants("m.py", SOURCE)]
    for mutant in found.values():
        assert ast.dump(mutated(SOURCE, mutant)) != ast.dump(ast.parse(SOURCE))


@pytest.mark.parametrize(
    ("fault", "answer"), [("=> if False", 0), ("divmod(7, 2) => divmod(2, 7)", 1), ("3 => 4", None)]
)
def test_a_function_that_is_known_elsewhere_takes_the_fault(
    monkeypatch: pytest.MonkeyPatch, fault: str, answer: int | None
) -> None:
    module = ModuleType("mutation_sample")
    monkeypatch.setitem(sys.modules, module.__name__, module)
    exec(compile(SOURCE, "sample.py", "exec"), module.__dict__)
    known = module.kept
    (mutant,) = [m for m in mutants("sample.py", SOURCE) if m.name.endswith(fault)]
    code = compile(mutated(SOURCE, mutant), "sample.py", "exec")
    # A number of the module lies in no function.
    assert put_in(module, code) == (answer is not None)
    lists, shared, *_ = known.__wrapped__([], "b")
    assert (lists == []) == (answer == 0)
    assert shared == ((0, 2) if answer == 1 else (3, 1))
