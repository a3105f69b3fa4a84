"""Give the functions of an imported module the code of a mutant."""

from __future__ import annotations

import ast
import sys
from collections.abc import Iterator
from functools import cached_property
from types import FunctionType, ModuleType
from typing import Any


def in_a_body(tree: ast.Module, line: int, column: int) -> bool:
    """Whether a place in a source lies in the body of a function, so that `put_in` will do."""
    return any(
        isinstance(node, ast.FunctionDef)
        and (node.body[0].lineno, node.body[0].col_offset) <= (line, column)
        and line <= (node.end_lineno or node.lineno)
        for node in ast.walk(tree)
    )


def put_in(module: ModuleType, source: str) -> None:
    """Give a module's functions the code that they have in another source.

    The functions stay the same objects, so that all who have imported them see the change.
    """
    other = ModuleType(module.__name__)
    for name in ("__package__", "__file__", "__spec__"):
        setattr(other, name, getattr(module, name))
    sys.modules[module.__name__] = other  # dataclasses look there
    try:
        exec(compile(source, str(module.__file__), "exec"), other.__dict__)
    finally:
        sys.modules[module.__name__] = module
    theirs = dict(_functions(other))
    for name, function in _functions(module):
        function.__code__ = theirs[name].__code__


def _functions(holder: Any, prefix: str = "") -> Iterator[tuple[str, FunctionType]]:
    """Functions written in a module and in its classes, by dotted name."""
    module = holder.__name__ if isinstance(holder, ModuleType) else holder.__module__
    for name, value in list(vars(holder).items()):
        inner = _unwrapped(value)
        # Those that dataclasses make have no file.
        if inner and inner.__module__ == module and inner.__code__.co_filename[0] != "<":
            yield f"{prefix}{name}", inner
        if isinstance(value, type) and value.__module__ == module:
            yield from _functions(value, f"{prefix}{name}.")


def _unwrapped(value: object) -> FunctionType | None:
    if isinstance(value, classmethod | staticmethod):
        value = value.__func__
    elif isinstance(value, property):
        value = value.fget
    elif isinstance(value, cached_property):
        value = value.func
    return value if isinstance(value, FunctionType) else None
