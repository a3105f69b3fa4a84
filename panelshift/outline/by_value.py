"""What the library's objects with arrays have in common as values."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, MutableSequence
from copy import copy
from dataclasses import fields
from typing import Any, NoReturn, TypeVar

import numpy as np

from ..errors import WrongTypeError
from .bezier import sealed

_K = TypeVar("_K")
_V = TypeVar("_V")


class Sealed:
    """Holds arrays that cannot be written to, as a copy or in another process either.

    What numpy copies or unpickles can be: then a curve changed, and its hash and length did not.
    """

    def __setstate__(self, state: dict[str, Any]) -> None:
        _seal(state)
        self.__dict__.update(state)


def _seal(value: object) -> None:
    if isinstance(value, np.ndarray):
        value.flags.writeable = False
    elif isinstance(value, Mapping):
        for item in value.values():
            _seal(item)
    elif isinstance(value, (tuple, list)):
        for item in value:
            _seal(item)


class ByValue(Sealed):
    """Equal if all that it is made of is, to the last bit; a dataclass with ``eq=False`` adds it.

    A dataclass of its own compares arrays by ``==``, which gives an array and no answer. Fields
    with ``compare=False`` do not count, as there.
    """

    def __eq__(self, other: object) -> bool:
        if type(other) is not type(self):
            return NotImplemented
        return self is other or _made_of(self) == _made_of(other)

    def __hash__(self) -> int:
        return hash(_made_of(self))


def _made_of(value: Any) -> tuple[object, ...]:
    return tuple(_plain(getattr(value, each.name)) for each in fields(value) if each.compare)


def _plain(value: object) -> object:
    """What can be compared and hashed, and is equal where the value is."""
    if isinstance(value, np.ndarray):
        # Adding nothing makes -0.0 its equal, 0.0.
        return value.shape, (value + 0).tobytes()
    if isinstance(value, Mapping):
        return frozenset((key, _plain(item)) for key, item in value.items())
    if isinstance(value, (tuple, list)):
        return tuple(_plain(item) for item in value)
    return value


def read_only(value: Any, *names: str, dtype: type[Any] = np.float64) -> None:
    """Make a frozen object's arrays views that cannot be written to; the caller's own can."""
    for name in names:
        given = getattr(value, name)
        try:
            array = np.asarray(given, dtype)
        except (TypeError, ValueError, OverflowError):
            WrongTypeError.unless(given, (), f"{name} of {type(value).__name__}", "an array")
        object.__setattr__(value, name, sealed(array))


class FixedDict(dict[_K, _V]):
    """A copy of a mapping that cannot be changed, nor can what lies within it.

    A dictionary still, for all that takes one; unlike a read-only view of one it can be hashed,
    and sent to another process.
    """

    def __init__(self, given: Mapping[_K, _V] | Iterable[tuple[_K, _V]] = ()) -> None:
        super().__init__((key, _fixed(value)) for key, value in dict(given).items())

    def __hash__(self) -> int:  # type: ignore[override]
        return hash(frozenset(self.items()))

    def __reduce__(self) -> tuple[object, ...]:
        return type(self), (dict(self),)

    def _refuse(self, *_args: object, **_kwargs: object) -> NoReturn:
        raise TypeError("what an object is made of cannot be changed: make another object")

    __setitem__ = __delitem__ = __ior__ = _refuse
    clear = pop = popitem = setdefault = update = _refuse


def _fixed(value: Any) -> Any:
    """A value as its holder keeps it, whatever its giver does to it later."""
    if isinstance(value, FixedDict):
        return value
    if isinstance(value, Mapping):
        return FixedDict(value)
    if isinstance(value, np.ndarray):
        return sealed(value.copy())
    if type(value) in (tuple, list):
        return tuple(_fixed(item) for item in value)
    # Paths of other libraries are lists of segments.
    return copy(value) if isinstance(value, MutableSequence) else value


def fix_mappings(value: Any) -> None:
    """Copy a frozen object's mappings: what a script does to its own later changes nothing."""
    fix(
        value,
        *(each.name for each in fields(value) if isinstance(getattr(value, each.name), Mapping)),
    )


def fix(value: Any, *names: str) -> None:
    """Copy what a frozen object was given under these names: mappings, arrays, lists of points."""
    for name in names:
        object.__setattr__(value, name, _fixed(getattr(value, name)))
