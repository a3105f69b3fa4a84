"""What the library's names say of themselves: docstrings, examples, types."""

from __future__ import annotations

import ast
import doctest
import inspect
import re
import textwrap
from collections.abc import Callable, Iterator
from functools import cached_property
from pathlib import Path
from typing import Any

import pytest
from numpydoc.docscrape import NumpyDocString

import panelshift

PACKAGE = Path(panelshift.__file__).parent
NAMES = [name for name in panelshift.__all__ if name != "__version__"]


def unwrapped(value: object) -> object:
    """What a class holds under a name: the function of a method or of a property."""
    if isinstance(value, (classmethod, staticmethod)):
        return value.__func__
    if isinstance(value, property):
        return value.fget
    if isinstance(value, cached_property):
        return value.func
    return value


def members(name: str) -> Iterator[tuple[str, Callable[..., Any], bool]]:
    """Public methods and properties of a class: name, function, whether it is called."""
    kind = getattr(panelshift, name)
    if not inspect.isclass(kind):
        return
    for member, value in vars(kind).items():
        function = unwrapped(value)
        if not member.startswith("_") and inspect.isfunction(function):
            called = not isinstance(value, (property, cached_property))
            yield f"{name}.{member}", function, called


CALLED = {
    **{name: getattr(panelshift, name) for name in NAMES},
    **{path: function for name in NAMES for path, function, called in members(name) if called},
}
"""Everything public that takes arguments, by its dotted name."""

PROPERTIES = {
    path: function for name in NAMES for path, function, called in members(name) if not called
}


def read(thing: object) -> NumpyDocString:
    return NumpyDocString(inspect.getdoc(thing) or "")


def undocumented(thing: Callable[..., Any]) -> set[str]:
    """Parameters that the signature and the docstring do not have in common."""
    signature = set(inspect.signature(thing).parameters) - {"self", "cls"}
    documented = {
        name.strip() for item in read(thing)["Parameters"] for name in item.name.split(",")
    }
    return signature ^ documented


def raised(thing: Callable[..., Any]) -> set[str]:
    """Errors that a function, or a class on being made, raises in its own lines."""
    body = getattr(thing, "__post_init__", None) if inspect.isclass(thing) else thing
    if body is None:
        return set()
    tree = ast.parse(textwrap.dedent(inspect.getsource(body)))
    names = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Raise) and isinstance(node.exc, ast.Call):
            function = node.exc.func
            names.add(ast.unparse(function).removesuffix(".of"))
    return names


@pytest.mark.parametrize("name", NAMES)
def test_public_name_has_an_example(name: str) -> None:
    """That it runs is seen to by --doctest-modules, and by CI on the installed wheel."""
    examples = "\n".join(read(getattr(panelshift, name))["Examples"])
    found = doctest.DocTestParser().get_examples(examples)
    assert found, f"{name} has no example"
    assert any(example.want for example in found), f"{name}'s example shows no answer"


@pytest.mark.parametrize("path", CALLED)
def test_parameters_and_answer_are_documented(path: str) -> None:
    thing = CALLED[path]
    assert read(thing)["Summary"], f"{path} has no docstring"
    assert not undocumented(thing)
    if not inspect.isclass(thing) and inspect.signature(thing).return_annotation != "None":
        assert read(thing)["Returns"], f"{path} does not say what it returns"


@pytest.mark.parametrize("path", PROPERTIES)
def test_property_has_a_docstring(path: str) -> None:
    assert read(PROPERTIES[path])["Summary"]


@pytest.mark.parametrize("path", CALLED)
def test_own_errors_are_documented(path: str) -> None:
    documented = {item.type for item in read(CALLED[path])["Raises"]}
    assert raised(CALLED[path]) <= documented


UNITS = ("mm", "radians", "factor", "part of", "over", "multiple", "position", "unit", "degree")


def without_units(thing: object) -> list[str]:
    """Numbers among the parameters and answers whose unit, or lack of one, is not said."""
    doc = read(thing)
    # What is said of the whole counts for each part.
    whole = [*doc["Summary"], *doc["Extended Summary"], *doc["Notes"]]
    return [
        item.name or "answer"
        for item in [*doc["Parameters"], *doc["Returns"]]
        if re.search("float|array", f"{item.name} {item.type}")
        and not re.search(
            rf"\b({'|'.join(UNITS)})", " ".join([item.name, *item.desc, *whole]), re.I
        )
    ]


@pytest.mark.parametrize("path", CALLED)
def test_numbers_have_units(path: str) -> None:
    assert not without_units(CALLED[path])


# -- the checks themselves -----------------------------------------------------------------


def _careless(width: float, height: float) -> float:
    """Do something.

    Parameters
    ----------
    width : float
    depth : float
    """
    if width > height:
        raise panelshift.PanelshiftError("too wide", remedy="Make it narrower.")
    return width


def test_the_checks_find_what_is_missing() -> None:
    assert undocumented(_careless) == {"height", "depth"}
    assert raised(_careless) == {"panelshift.PanelshiftError"}
    assert without_units(_careless) == ["width", "depth"]
    assert not read(_careless)["Returns"]


# -- the whole package -----------------------------------------------------------------------


def definitions(
    node: ast.AST, path: str, *, public: bool = True
) -> Iterator[tuple[str, Any, bool]]:
    """Every function and class below a node, however deep, and whether it is public."""
    for child in ast.iter_child_nodes(node):
        if isinstance(child, (ast.FunctionDef, ast.AsyncFunctionDef, ast.ClassDef)):
            open_name = public and not child.name.startswith("_")
            yield f"{path}.{child.name}", child, open_name
            # What is defined within a function is nobody else's.
            within = open_name and isinstance(child, ast.ClassDef)
            yield from definitions(child, f"{path}.{child.name}", public=within)
        else:
            yield from definitions(child, path, public=public)


def faults(source: str, name: str) -> list[str]:
    tree = ast.parse(source)
    found = [] if ast.get_docstring(tree) or not source.strip() else [f"{name}: no docstring"]
    for path, node, public in definitions(tree, name):
        if public and not ast.get_docstring(node):
            found.append(f"{path}: no docstring")
        if not isinstance(node, ast.ClassDef):
            if node.returns is None:
                found.append(f"{path}: no return type")
            a = node.args
            everything = [*a.posonlyargs, *a.args, *a.kwonlyargs, a.vararg, a.kwarg]
            bare = [arg.arg for arg in everything if arg is not None and arg.annotation is None]
            found += [f"{path}: no type of {arg}" for arg in bare if arg not in ("self", "cls")]
    return found


@pytest.mark.slow
def test_docstrings_and_types_are_complete_in_the_whole_package() -> None:
    sources = sorted(PACKAGE.rglob("*.py"))
    assert len(sources) > 100
    found = [
        fault
        for file in sources
        for fault in faults(file.read_text("utf-8"), str(file.relative_to(PACKAGE)))
    ]
    assert not found


def test_the_count_finds_what_is_missing() -> None:
    source = '"""A module."""\nclass A:\n    def b(self, c): return lambda x: x\n'
    assert faults(source, "m") == [
        "m.A: no docstring",
        "m.A.b: no docstring",
        "m.A.b: no return type",
        "m.A.b: no type of c",
    ]
    assert faults("x = 1\n", "m") == ["m: no docstring"]
    assert faults('"""A module."""\ndef _f() -> None: ...\n', "m") == []
