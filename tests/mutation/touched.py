"""Which tests touch a mutant, from what `touching` collected."""

from __future__ import annotations

import ast
import json
from collections import defaultdict
from collections.abc import Sequence
from functools import cached_property
from pathlib import Path
from typing import Final

from .mutants import Mutant

LINES: Final = "lines.json"
TESTS: Final = "tests.json"


class Touched:
    """The tests that touch each line, with the processor time of each."""

    def __init__(self, folders: Sequence[Path], root: Path) -> None:
        self._root = root
        self.seconds: dict[str, float] = {}
        self._takers: defaultdict[str, set[str]] = defaultdict(set)
        self._lines: defaultdict[str, defaultdict[int, list[str]]] = defaultdict(
            lambda: defaultdict(list)
        )
        self._through: dict[str, set[str]] = {}
        self._failed: set[str] = set()
        for folder in folders:
            self._add(folder)
        for test in self._failed:
            self.seconds.pop(test, None)

    def _add(self, folder: Path) -> None:
        told = json.loads((folder / TESTS).read_text(encoding="utf-8"))
        self._failed |= set(told["failed"])
        self.seconds |= told["times"]
        for taker, shared in told["taken"].items():
            for name in shared:
                self._takers[name].add(taker)
        for context, files in json.loads((folder / LINES).read_text(encoding="utf-8")).items():
            for file, numbers in files.items():
                for number in numbers:
                    self._lines[file][number].append(context)

    def tests(self, mutant: Mutant, tree: ast.Module) -> list[str]:
        """Tests that touch it, in the order to try them."""
        lines = self._lines[mutant.module]
        body = _body_round(tree, mutant.lines[0])
        contexts: set[str] = set()
        if body is not None:
            for number in range(mutant.lines[0], mutant.lines[1] + 1):
                contexts.update(lines.get(number, ()))
            if not contexts:
                for number in range(body.lineno, (body.end_lineno or body.lineno) + 1):
                    contexts.update(lines.get(number, ()))
        else:
            contexts = self._using(mutant, tree)
        found: set[str] = set()
        for context in contexts:
            found |= self._tests_of(context)
        return self._in_order(found, mutant.module.split("/")[1])

    def _in_order(self, found: set[str], room: str) -> list[str]:
        """The cheapest case of each test first, those of the own room before the others'."""
        cases = sorted(found, key=lambda test: (self.seconds[test], test))
        seen: set[str] = set()
        again = set()
        for case in cases:
            function = case.partition("[")[0]
            if function in seen:
                again.add(case)
            seen.add(function)
        # Cases of one test are alike: ten tests find more than ten cases of one.
        return sorted(cases, key=lambda t: (t in again, not t.startswith(f"tests/{room}/")))

    def _tests_of(self, context: str) -> set[str]:
        """Tests that a context is, or that took what it made."""
        if context not in self._through:
            found, waiting, seen = set(), [context], {context}
            while waiting:
                one = waiting.pop()
                if one in self.seconds:
                    found.add(one)
                for taker in self._takers.get(one, ()):
                    if taker not in seen:
                        seen.add(taker)
                        waiting.append(taker)
            self._through[context] = found
        return self._through[context]

    def _using(self, mutant: Mutant, tree: ast.Module) -> set[str]:
        """Contexts of lines that use what a statement of a module or a class defines."""
        first = mutant.lines[0]
        named = _named(tree, first)
        contexts: set[str] = set()
        for file, numbers in self._uses.items():
            for name, number in numbers:
                if name in named and not (file == mutant.module and number == first):
                    contexts.update(self._lines[file].get(number, ()))
        return contexts

    @cached_property
    def _uses(self) -> dict[str, list[tuple[str, int]]]:
        """Every name and attribute of the package, with its line."""
        found = {}
        for path in (self._root / "panelshift").rglob("*.py"):
            every = ast.walk(ast.parse(path.read_text(encoding="utf-8")))
            found[str(path.relative_to(self._root))] = [
                (node.id if isinstance(node, ast.Name) else node.attr, node.lineno)
                for node in every
                if isinstance(node, ast.Name | ast.Attribute)
            ]
        return found


def _body_round(tree: ast.Module, line: int) -> ast.stmt | None:
    """The statement round a line, if it lies in the body of a function."""
    found: ast.stmt | None = None
    for node in ast.walk(tree):
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            for statement in node.body:
                if statement.lineno <= line <= (statement.end_lineno or statement.lineno):
                    found = statement
    return found


def _named(tree: ast.Module, line: int) -> set[str]:
    """What the statement on a line of a module or a class gives a name to."""
    named: set[str] = set()
    for node in ast.walk(tree):
        if not (hasattr(node, "lineno") and node.lineno <= line <= (node.end_lineno or 0)):
            continue
        if isinstance(node, ast.Assign):
            named |= {n.id for t in node.targets for n in ast.walk(t) if isinstance(n, ast.Name)}
        elif isinstance(node, ast.AnnAssign) and isinstance(node.target, ast.Name):
            named.add(node.target.id)
        elif isinstance(node, ast.FunctionDef | ast.ClassDef):
            named.add(node.name)
    # A field is found by its own name; its class only where nothing smaller is.
    return named
