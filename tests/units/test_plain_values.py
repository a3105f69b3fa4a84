"""Values held to stated types, and objects made of plain data: what fits, and what is said."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Literal, TypeVar

import numpy as np
import numpy.typing as npt
import pytest
from typing_extensions import TypeAliasType

from panelshift.errors import PanelshiftError
from panelshift.files import plain_values
from panelshift.files.plain_values import UnfitDataError, held_to_types, made, parts_of, plain


@held_to_types
def taken(
    count: int = 1,
    *,
    width: float = 0.0,
    name: str = "",
    raw: bytes = b"",
    both: bool = False,
    kind: Literal["top", "bottom", 3] = "top",
    either: float | Literal["auto"] | None = None,
    widths: Mapping[str, float] | None = None,
    pair: tuple[float, str] = (0.0, ""),
    many: tuple[int, ...] = (),
    lines: Sequence[str] = (),
    some: Iterable[float] = (),
    thing: Any = None,
) -> dict[str, Any]:
    return {"count": count, "width": width, "thing": thing}


FITS: dict[str, Sequence[Any]] = {
    "count": (2, np.int64(3)),
    "width": (2, 0.5, np.float32(0.5)),
    "name": ("", "a"),
    "raw": (b"a",),
    "both": (True, np.bool_(False)),
    "kind": ("top", "bottom", 3),
    "either": (1, 2.5, "auto", None),
    "widths": ({}, {"a": 1}, None),
    "pair": ((1, "a"), [0.5, "a"]),
    "many": ((), (1, 2), [3]),
    "lines": ((), ["a", "b"]),
    "some": ((), [0.5], np.ones(2)),
    "thing": (3, None, "a", [1]),
}
REFUSED: Sequence[tuple[str, Any, str]] = [
    ("count", 1.0, "count of taken is 1.0, a float: Give a whole number."),
    ("count", True, "count of taken is True, a bool: Give a whole number."),
    ("count", "1", "count of taken is '1', a str: Give a whole number."),
    ("width", "0.5", "width of taken is '0.5', a str: Give a number."),
    ("width", True, "width of taken is True, a bool: Give a number."),
    (
        "width",
        10**400,
        "width of taken is 1000000000000000000000000000000000000000, a int: Give a number.",
    ),
    ("name", b"a", "name of taken is b'a', a bytes: Give text."),
    ("raw", "a", "raw of taken is 'a', a str: Give bytes."),
    ("both", 1, "both of taken is 1, a int: Give true or false."),
    ("kind", "tip", "there is no kind of taken 'tip': Its name is one of: top, bottom."),
    ("kind", 4, "kind of taken is 4, a int: Give one of 'top', 'bottom', 3."),
    ("kind", 3.0, "kind of taken is 3.0, a float: Give one of 'top', 'bottom', 3."),
    ("either", "automatic", "there is no either of taken 'automatic': Its name is one of: auto."),
    ("either", True, "either of taken is True, a bool: Give a number or one of 'auto'."),
    ("widths", {"a": "b"}, "widths of taken, 'a', is 'b', a str: Give a number."),
    (
        "widths",
        {1: 1.0},
        "key in widths of taken is 1, a int: Give text.",
    ),
    (
        "widths",
        [("a", 1.0)],
        "widths of taken is [('a', 1.0)], a list: Give a mapping of names to a number.",
    ),
    ("pair", (1.0,), "pair of taken is (1.0,), a tuple: Give a list of 2: a number, text."),
    ("pair", ("a", 1.0), "pair of taken is ('a', 1.0), a tuple: Give a list of 2: a number, text."),
    (
        "many",
        (1, "a"),
        "many of taken is (1, 'a'), a tuple: Give a list, each of it a whole number.",
    ),
    ("lines", "ab", "lines of taken is 'ab', a str: Give a list, each of it text."),
    ("lines", {"a": 1}, "lines of taken is {'a': 1}, a dict: Give a list, each of it text."),
    ("some", "ab", "some of taken is 'ab', a str: Give a list, each of it a number."),
    ("widths", {"a": 1.0, "b": "c"}, "widths of taken, 'b', is 'c', a str: Give a number."),
]


@pytest.mark.parametrize("name", FITS)
def test_what_is_of_the_stated_type_is_taken(name: str) -> None:
    for value in FITS[name]:
        taken(**{name: value})


@pytest.mark.parametrize(("name", "value", "words"), REFUSED)
def test_what_is_not_is_refused_and_what_to_give_is_said(name: str, value: Any, words: str) -> None:
    with pytest.raises(PanelshiftError) as caught:
        taken(**{name: value})
    assert f"{caught.value.problem}: {caught.value.remedy}" == words


def test_arguments_go_through_and_python_says_which_are_none() -> None:
    assert taken(2, width=0.5, thing="a") == {"count": 2, "width": 0.5, "thing": "a"}
    with pytest.raises(TypeError, match=r"taken\(\) got an unexpected keyword argument 'colour'"):
        taken(colour=3)  # type: ignore[call-arg]
    with pytest.raises(TypeError, match="takes from 0 to 1 positional arguments but 2 were given"):
        taken(1, 2)  # type: ignore[misc]


@dataclass(frozen=True)
class Inner:
    size: float
    kind: Literal["top", "bottom"] = "top"


@dataclass(frozen=True)
class Outer:
    name: str
    count: int = 1
    both: bool = False
    inner: Inner | None = None
    pair: tuple[int, str] = (0, "")
    many: tuple[Inner, ...] = ()
    some: frozenset[str] = frozenset()
    table: Mapping[str, float] = field(default_factory=dict)
    points: npt.NDArray[np.int64] = field(default_factory=lambda: np.zeros(0, dtype=np.int64))
    known: str = field(default="known", init=False)


def test_an_object_comes_back_from_what_is_plain() -> None:
    whole = {
        "name": "a",
        "count": 2,
        "both": True,
        "inner": {"size": 0.5, "kind": "bottom"},
        "pair": [3, "b"],
        "many": [{"size": 1.0, "kind": "top"}, {"size": 2.0, "kind": "top"}],
        "some": ["c", "d"],
        "table": {"e": 1.5},
        "points": [4, 5],
    }
    found = made(Outer, whole)
    assert plain(found) == whole
    assert (found.inner, found.pair) == (Inner(0.5, "bottom"), (3, "b"))
    assert (found.many, found.some) == ((Inner(1.0), Inner(2.0)), frozenset({"c", "d"}))
    assert (found.points.tolist(), found.points.dtype) == ([4, 5], np.int64)
    assert plain(made(Outer, {"name": "a"})) == plain(Outer("a"))
    assert made(Outer, {"name": "a", "inner": None}).inner is None


@pytest.mark.parametrize(
    ("data", "place", "problem"),
    [
        ([], "all of it", "is not a table"),
        ({}, "all of it", "has no name"),
        ({"name": 3}, "name", "is not text"),
        ({"name": "a", "known": "b"}, "all of it", "has 'known', which means nothing here"),
        ({"name": "a", "count": 1.0}, "count", "is not a whole number"),
        ({"name": "a", "both": 1}, "both", "is not true or false"),
        ({"name": "a", "inner": {}}, "inner", "has no size"),
        ({"name": "a", "inner": {"size": "b"}}, "inner.size", "is not a number"),
        ({"name": "a", "inner": {"size": float("inf")}}, "inner.size", "is not a number"),
        (
            {"name": "a", "inner": {"size": 1, "kind": "b"}},
            "inner.kind",
            "is none of 'top', 'bottom'",
        ),
        ({"name": "a", "pair": [1]}, "pair", "has 1 entries, not 2"),
        ({"name": "a", "pair": [1, 2]}, "pair[1]", "is not text"),
        ({"name": "a", "many": {}}, "many", "is not a list"),
        ({"name": "a", "many": [{"size": 1}, {}]}, "many[1]", "has no size"),
        ({"name": "a", "some": ["b", 1]}, "some[1]", "is not text"),
        ({"name": "a", "table": []}, "table", "is not a table"),
        ({"name": "a", "table": {"b": "c"}}, "table.b", "is not a number"),
        ({"name": "a", "points": 1}, "points", "is not a list"),
        ({"name": "a", "points": ["b"]}, "points", "is not an array of numbers"),
        ({"name": "a", "points": [1.5]}, "points", "holds numbers that cannot be"),
    ],
)
def test_what_no_object_is_made_of_is_told_by_its_place(
    data: Any, place: str, problem: str
) -> None:
    with pytest.raises(UnfitDataError) as caught:
        made(Outer, data)
    assert (caught.value.place, caught.value.problem) == (place, problem)
    assert str(caught.value) == f"{place}: {problem}"


def test_a_type_that_was_named_is_what_it_names(monkeypatch: pytest.MonkeyPatch) -> None:
    """As from numpy 2.5 on the type of arrays is: nothing that was saved could be read by it."""
    kind = TypeVar("kind", bound=np.generic)
    arrays = np.ndarray[tuple[Any, ...], np.dtype[kind]]
    named = TypeAliasType("named", arrays, type_params=(kind,))  # type: ignore[misc]
    monkeypatch.setattr(plain_values, "_NAMED", TypeAliasType)
    assert parts_of(named[np.float64]) == parts_of(arrays[np.float64])
    assert parts_of(TypeAliasType("alias", int)) == (int, ())
    assert made(named[np.float64], [1, 2.5]).tolist() == [1.0, 2.5]
