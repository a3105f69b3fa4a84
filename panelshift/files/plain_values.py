"""Frozen objects as plain data and back, exactly, by the types that their fields state.

By the same types `refuse_misfits` judges the fields of objects that scripts make, and
`held_to_types` what a function is called with: a misspelt choice would else be taken for another.

What goes in and comes out is what JSON has. Numbers keep every bit: Python writes the shortest
text that reads back as the same.
"""

from __future__ import annotations

import inspect
import math
import operator
import typing
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import MISSING, Field, fields, is_dataclass
from functools import cache, wraps
from itertools import chain
from numbers import Integral
from types import NoneType, UnionType
from typing import (
    Any,
    Final,
    Literal,
    ParamSpec,
    TypeVar,
    Union,
    get_args,
    get_origin,
    get_type_hints,
)

import numpy as np

from ..errors import UnknownNameError, WrongTypeError

_WORDS: Final = {
    str: "text",
    bool: "true or false",
    int: "a whole number",
    float: "a number",
    Any: "values",
}


_NAMED: Final = getattr(typing, "TypeAliasType", ())
"""What `type X = ...` makes, from Python 3.12 on."""


def parts_of(kind: Any) -> tuple[Any, tuple[Any, ...]]:
    """Return what a type is made from, itself if it has no parts, and its parts.

    A type that was given a name, as newer releases of numpy name that of arrays, is what it names.

    Examples
    --------
    >>> parts_of(tuple[int, str]), parts_of(float)
    ((<class 'tuple'>, (<class 'int'>, <class 'str'>)), (<class 'float'>, ()))
    """
    origin, given = get_origin(kind) or kind, get_args(kind)
    if isinstance(origin, _NAMED):
        return parts_of(origin.__value__[given] if given else origin.__value__)
    return origin, given


class UnfitDataError(ValueError):
    """Plain data that no object of a type is made of: where, and what is wrong."""

    def __init__(self, place: str, problem: str) -> None:
        self.place, self.problem = place or "all of it", problem
        super().__init__(f"{self.place}: {problem}")


def plain(value: Any) -> Any:
    """Return an object as plain data: tables for objects, lists for arrays, tuples and sets."""
    if is_dataclass(value):
        return {each.name: plain(getattr(value, each.name)) for each in fields(value) if each.init}
    if isinstance(value, (np.ndarray, np.generic)):
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
    origin, given = parts_of(kind)
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
    if kind is float and type(data) is int and _is_number(data):
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
    _, (dtype,) = parts_of(given[1])
    try:
        found = np.array(data, dtype=np.float64)
    except (TypeError, ValueError):
        raise UnfitDataError(place, "is not an array of numbers") from None
    except OverflowError:
        raise UnfitDataError(place, "holds numbers that cannot be") from None
    if not np.isfinite(found).all() or (found.astype(dtype) != found).any():
        raise UnfitDataError(place, "holds numbers that cannot be")
    return found.astype(dtype)


_P = ParamSpec("_P")
_R = TypeVar("_R")


def refuse_misfits(thing: Any, what: str) -> None:
    """Refuse an object with a field that is not of the type it states, or is none of its choices.

    Lists that stand for tuples become such: a list could be changed later, and has no hash.

    *what*: what the object is, for messages.

    Raises `WrongTypeError`, and `UnknownNameError` for text that is none of the choices.
    """
    stated: Any = type(thing)
    for name, default, kind, fits, listed in _judges(stated):
        value = getattr(thing, name)
        if value is default:
            continue
        if not fits(value):
            _refuse_misfit(value, kind, f"{name} of {what}")
        if listed and (kept := _kept(kind, value)) is not value:
            object.__setattr__(thing, name, kept)


def _kept(kind: Any, value: Any) -> Any:
    """A fitting value as a frozen object keeps it: lists and arrays as the tuples they stand for.

    Examples
    --------
    >>> _kept(tuple[tuple[str, ...], ...], [["a"], ["b", "c"]]), _kept(frozenset[str] | None, ["a"])
    ((('a',), ('b', 'c')), frozenset({'a'}))
    """
    origin, given = parts_of(kind)
    if origin in (Union, UnionType):
        chosen = next((one for one in given if _judge(one)(value)), None)
        return value if chosen is None else _kept(chosen, value)
    if origin is frozenset:
        return value if type(value) is frozenset else frozenset(_items(given, value))
    if origin is not tuple and origin is not Sequence:
        return value
    kinds = given[:1] * len(value) if origin is Sequence or given[-1:] == (Ellipsis,) else given
    items = tuple(map(_kept, kinds, _items(given, value)))
    same = type(value) is tuple and all(map(operator.is_, items, value))
    return value if same else items


def _is_listed(kind: Any) -> bool:
    """Whether a type is that of tuples, sequences or sets, or has it among others."""
    origin, given = parts_of(kind)
    if origin in (Union, UnionType):
        return any(map(_is_listed, given))
    return origin in (tuple, Sequence, frozenset)


def _items(given: tuple[Any, ...], value: Any) -> Any:
    """What a collection holds: of an array Python's own numbers and text, where such are asked."""
    return value.tolist() if isinstance(value, np.ndarray) and given[0] in _PLAIN else value


@cache
def _judges(stated: Any) -> tuple[tuple[str, Any, Any, Callable[[Any], bool], bool], ...]:
    """Of each field of a class: name, default, type, what judges it, and whether it is a list."""
    hints = _hints(stated)
    # Defaults are most of what there is to judge, and known.
    return tuple(
        (each.name, each.default, kind := hints[each.name], _judge(kind), _is_listed(kind))
        for each in fields(stated)
        if each.init
    )


def held_to_types(function: Callable[_P, _R]) -> Callable[_P, _R]:
    """A function that refuses arguments of other types than it states, as `refuse_misfits` does."""
    signature = inspect.signature(function)

    @cache
    def hints() -> dict[str, Any]:
        # Only now, when every module that the types name can be imported.
        return get_type_hints(function)

    @wraps(function)
    def held(*args: _P.args, **kwargs: _P.kwargs) -> _R:
        try:
            given = signature.bind(*args, **kwargs)
        except TypeError:
            return function(*args, **kwargs)  # Python says best what is missing or too much
        for name, value in given.arguments.items():
            kind = hints().get(name, Any)
            _refuse_misfit(value, kind, f"{name} of {function.__name__}")
            if isinstance(value, np.ndarray):
                # Whether an array is empty is not asked as it is of a list.
                given.arguments[name] = _kept(kind, value)
        return function(*given.args, **given.kwargs)

    return held


def _refuse_misfit(value: Any, kind: Any, what: str) -> None:
    if _judge(kind)(value):
        return
    if isinstance(value, Mapping) and (tables := _tables(kind)):
        # What is wrong in it is told by its name, and so is a name that is wrong.
        _, (names, items) = parts_of(tables[0])
        for key, item in value.items():
            _refuse_misfit(key, names, f"key in {what}")
            _refuse_misfit(item, items, f"{what}, {key!r:.40},")
    choices = [each for each in _choices(kind) if isinstance(each, str)]
    if choices and isinstance(value, str):
        raise UnknownNameError.of(what, value, [choice or repr(choice) for choice in choices])
    WrongTypeError.unless(value, (), what, _wanted(kind))


def _tables(kind: Any) -> tuple[Any, ...]:
    """The tables that a type is, or has among others."""
    origin, given = parts_of(kind)
    if origin in (Union, UnionType):
        return tuple(chain.from_iterable(map(_tables, given)))
    return (kind,) if isinstance(origin, type) and issubclass(origin, Mapping) else ()


def _choices(kind: Any) -> tuple[Any, ...]:
    """All that a `Literal` may be, also one that is among other types."""
    origin, given = parts_of(kind)
    if origin is Literal:
        return given
    among = given if origin in (Union, UnionType) else ()
    return tuple(chain.from_iterable(map(_choices, among)))


def _wanted(kind: Any) -> str:
    """What a type asks for, in words."""
    origin, given = parts_of(kind)
    if origin in (Union, UnionType):
        return " or ".join(dict.fromkeys(_wanted(one) for one in given if one is not NoneType))
    if origin is Literal:
        return f"one of {', '.join(map(repr, given))}"
    if issubclass(origin, Mapping):
        return f"a mapping of names to {_wanted(given[1])}"
    if origin is tuple and given[-1:] != (Ellipsis,):
        return f"a list of {len(given)}: {', '.join(map(_wanted, given))}"
    if issubclass(origin, Iterable) and given:
        return f"a list, each of it {_wanted(given[0])}"
    return _WORDS.get(kind, getattr(origin, "__name__", str(origin)))


@cache
def _judge(kind: Any) -> Callable[[Any], bool]:
    """What tells whether a value is of a type, down to what lists and tables hold.

    Of arrays all may be. Made once for each type: a batch judges a million jobs.
    """
    origin, given = parts_of(kind)
    if kind in _PLAIN:
        return _PLAIN[kind]
    if origin in (Union, UnionType):
        return _judge_any(tuple(map(_judge, given)))
    if origin is Literal:
        return lambda value: any(type(value) is type(one) and value == one for one in given)
    if kind is object or not isinstance(origin, type) or origin.__module__ == "typing":
        return _anything
    if issubclass(origin, Mapping):
        return _judge_mapping(_judge(given[0]), _judge(given[1]))
    if given and issubclass(origin, Collection) and origin is not np.ndarray:
        return _judge_collection(origin, given)
    if getattr(origin, "_is_protocol", False):
        listed = issubclass(origin, Iterable)
        return lambda value: not (listed and isinstance(value, (str, bytes)))
    if issubclass(origin, Iterable):
        return lambda value: isinstance(value, origin) and not isinstance(value, (str, bytes))
    return lambda value: isinstance(value, origin)


def _judge_any(judges: tuple[Callable[[Any], bool], ...]) -> Callable[[Any], bool]:
    def fits(value: Any) -> bool:
        for judge in judges:  # noqa: SIM110  any() costs as much again as judging
            if judge(value):
                return True
        return False

    return fits


def _judge_mapping(
    key: Callable[[Any], bool], item: Callable[[Any], bool]
) -> Callable[[Any], bool]:
    def fits(value: Any) -> bool:
        return (
            isinstance(value, Mapping)
            and all(map(key, value))
            and (item is _anything or all(map(item, value.values())))
        )

    return fits


def _judge_collection(origin: Any, given: tuple[Any, ...]) -> Callable[[Any], bool]:
    judges = tuple(_judge(one) for one in given if one is not Ellipsis)
    pairwise = origin is tuple and given[-1] is not Ellipsis
    # A set has an order of its own in every process.
    ordered = issubclass(origin, Sequence)
    refused = (str, bytes, Mapping, set, frozenset) if ordered else (str, bytes, Mapping)

    def fits(value: Any) -> bool:
        if isinstance(value, refused) or not isinstance(value, Collection):
            return False
        if isinstance(value, np.ndarray) and not value.ndim:
            return False
        if pairwise:
            return len(value) == len(judges) and all(
                judge(item) for judge, item in zip(judges, value, strict=True)
            )
        return all(map(judges[0], value))

    return fits


def _anything(value: Any) -> bool:
    return True


def _is_whole(value: Any) -> bool:
    return isinstance(value, Integral) and not isinstance(value, bool)


_NUMBERS: Final = (int, float, np.integer, np.float32, np.float16)


def _is_number(value: Any) -> bool:
    """Whether a value is a number that arithmetic can take; true and false are none.

    Nor are fractions and long doubles: they would be kept, and no file can hold them exactly.
    """
    if type(value) is float:
        return True
    if not isinstance(value, _NUMBERS) or isinstance(value, bool):
        return False
    try:
        float(value)
    except OverflowError:
        return False
    return True


_PLAIN: Final[Mapping[Any, Callable[[Any], bool]]] = {
    float: _is_number,
    int: _is_whole,
    bool: lambda value: isinstance(value, (bool, np.bool_)),
    str: lambda value: isinstance(value, str),
    bytes: lambda value: isinstance(value, bytes),
}
