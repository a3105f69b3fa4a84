"""What the library's objects with arrays have in common as values."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields
from typing import Any

import numpy as np

from .bezier import sealed


class ByValue:
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
        return frozenset(value.items())
    return value


def read_only(value: Any, *names: str) -> None:
    """Make a frozen object's arrays views that cannot be written to; the caller's own can."""
    for name in names:
        object.__setattr__(value, name, sealed(np.asarray(getattr(value, name), np.float64)))
