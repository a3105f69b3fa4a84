"""Give the functions of an imported module the code of a mutant."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from functools import cached_property
from types import CodeType, FunctionType, ModuleType
from typing import Any


def put_in(module: ModuleType, code: CodeType) -> bool:
    """Give a module's functions the code that they have in another code of it.

    The functions stay the same objects, so that all who have imported them see the change. Returns
    whether any function is another one: what is worked out at import is not, nor are defaults.
    """
    other = ModuleType(module.__name__)
    for name in ("__package__", "__file__", "__spec__", "__path__"):
        if hasattr(module, name):
            setattr(other, name, getattr(module, name))
    sys.modules[module.__name__] = other  # dataclasses look there
    try:
        exec(code, other.__dict__)
    finally:
        sys.modules[module.__name__] = module
    theirs = dict(_functions(other))
    changed = False
    for name, function in _functions(module):
        there = theirs.get(name)
        if there is not None and there.__code__ != function.__code__:
            function.__code__ = there.__code__
            changed = True
    return changed


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


def _unwrapped(value: Any) -> FunctionType | None:
    """The function within what decorators made of it: a method, a property, a cache, a command."""
    while not isinstance(value, FunctionType) or hasattr(value, "__wrapped__"):
        if isinstance(value, classmethod | staticmethod):
            value = value.__func__
        elif isinstance(value, property):
            value = value.fget
        elif isinstance(value, cached_property):
            value = value.func
        elif not isinstance(value, type) and callable(getattr(value, "callback", None)):
            value = value.callback
        elif not isinstance(value, type) and hasattr(value, "__wrapped__"):
            value = value.__wrapped__
        else:
            return None
    return value
