"""Frozen objects as plain data and back, exactly, by the types that their fields state.

What goes in and comes out is what JSON has. Numbers keep every bit: Python writes the shortest
text that reads back as the same.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import MISSING, Field, fields, is_dataclass
from functools import cache
from types import NoneType, UnionType
from typing import Any, Final, Literal, Union, get_args, get_origin, get_type_hints

import numpy as np

_WORDS: Final = {str: "text", bool: "true or false", int: "a whole number", float: "a number"}


class UnfitDataError(ValueError):
    """Plain data that no object of a type is made of: where, and what is wrong."""

    def __init__(self, place: str, problem: str) -> None:
        self.place, self.problem = place or "all of it", problem
        super().__init__(f"{self.place}: {problem}")


def plain(value: Any) -> Any:
    """Return an object as plain data: tables for objects, lists for arrays, tuples and sets."""
    if is_dataclass(value):
        return {each.name: plain(getattr(value, each.name)) for each in fields(value) if each.init}
    if isinstance(value, np.ndarray):
        return value.tolist()
    if isinstance(value, Mapping):
        return {key: plain(item) for key, item in value.items()}
    if isinstance(value, (tuple, list)):
        return [plain(item) for item in value]
    if isinstance(value, frozenset):
        return sorted(value)
    return value


def made(kind: Any, data: Any, place: str = "") -> Any:
    """Return the object of a type that plain data describe.

    *place*: of the data in a larger whole, for messages.

    Raises `UnfitDataError`; or whatever the object's own checks raise.
    """
    origin, given = get_origin(kind) or kind, get_args(kind)
    if is_dataclass(kind):
        return _object(kind, _checked(data, dict, place, "a table"), place)
    if origin in (Union, UnionType):
        wanted = [each for each in given if each is not NoneType]
        return None if data is None and NoneType in given else made(wanted[0], data, place)
    if origin is Literal:
        if data not in given:
            raise UnfitDataError(place, f"is none of {', '.join(map(repr, given))}")
        return data
    if origin is np.ndarray:
        return _array(given, _checked(data, list, place, "a list"), place)
    if origin is tuple and given[-1:] != (Ellipsis,):
        items = _checked(data, list, place, "a list")
        if len(items) != len(given):
            raise UnfitDataError(place, f"has {len(items)} entries, not {len(given)}")
        pairs = enumerate(zip(given, items, strict=True))
        return tuple(made(*pair, f"{place}[{k}]") for k, pair in pairs)
    if origin in (tuple, frozenset):
        items = _checked(data, list, place, "a list")
        return origin(made(given[0], item, f"{place}[{k}]") for k, item in enumerate(items))
    if issubclass(origin, Mapping):
        table = _checked(data, dict, place, "a table")
        return {key: made(given[1], item, f"{place}.{key}") for key, item in table.items()}
    if kind is float and type(data) is int:
        data = float(data)
    if type(data) is not kind or (kind is float and not math.isfinite(data)):
        raise UnfitDataError(place, f"is not {_WORDS[kind]}")
    return data


def _checked(data: Any, kind: type, place: str, words: str) -> Any:
    if not isinstance(data, kind):
        raise UnfitDataError(place, f"is not {words}")
    return data


def _object(kind: Any, data: dict[str, Any], place: str) -> Any:
    hints = _hints(kind)
    for name in data.keys() - hints:
        raise UnfitDataError(place, f"has {name!r:.60}, which means nothing here")
    for each in fields(kind):
        if each.init and _is_needed(each) and each.name not in data:
            raise UnfitDataError(place, f"has no {each.name}")
    prefix = f"{place}." if place else ""
    return kind(**{n: made(hints[n], item, f"{prefix}{n}") for n, item in data.items()})


def _is_needed(each: Field[Any]) -> bool:
    return each.default is MISSING and each.default_factory is MISSING


@cache
def _hints(kind: Any) -> dict[str, Any]:
    """Types of the fields that make an object, by name."""
    hints = get_type_hints(kind)
    return {each.name: hints[each.name] for each in fields(kind) if each.init}


def _array(given: tuple[Any, ...], data: list[Any], place: str) -> Any:
    (dtype,) = get_args(given[1])
    try:
        found = np.array(data, dtype=np.float64)
    except (TypeError, ValueError):
        raise UnfitDataError(place, "is not an array of numbers") from None
    whole = found.astype(dtype)
    if not np.isfinite(found).all() or (whole != found).any():
        raise UnfitDataError(place, "holds numbers that cannot be")
    return whole
