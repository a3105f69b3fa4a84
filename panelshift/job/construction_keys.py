"""The job file's ``[construction]``: its keys.

Tables of shells, bones and strips have the keys and defaults of the classes of that name.
"""

from __future__ import annotations

import dataclasses
import functools
import operator
import types
import typing
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Final, Literal, Union

from pydantic import Field, StrictBool, create_model

from ..construction.edges import EdgeFinish
from ..construction.sewing import Bones, Shell, Strip
from .values import Count, Height, KeyTable, Length, Number

_PLAIN: Final[Mapping[Any, Any]] = {float: Length, int: Count, bool: StrictBool}


def _typed(hint: Any) -> Any:
    """What a job file takes for an argument of a class: lengths with units, lists, tables."""
    parts = tuple(_typed(part) for part in typing.get_args(hint))
    kind = typing.get_origin(hint)
    if kind in (Union, types.UnionType):
        return functools.reduce(operator.or_, parts)
    if kind is Sequence:
        return types.GenericAlias(tuple, (parts[0], ...))
    if kind is Mapping:
        return types.GenericAlias(dict, parts)
    return hint if kind is Literal else _PLAIN.get(hint, hint)


def _table_of(made: Any, **own: Any) -> type[KeyTable]:
    """The table of a class; *own*: keys that a job file has otherwise."""
    hints = typing.get_type_hints(made)
    keys: dict[str, Any] = {
        item.name: (
            _typed(hints[item.name]),
            ... if item.default is dataclasses.MISSING else item.default,
        )
        for item in dataclasses.fields(made)
    }
    name = f"{made.__name__}Table"
    return create_model(name, __base__=KeyTable, __module__=__name__, **{**keys, **own})


if TYPE_CHECKING:
    ShellTable = KeyTable
    BonesTable = KeyTable
    StripTable = KeyTable
else:
    ShellTable, BonesTable = _table_of(Shell), _table_of(Bones)
    StripTable = _table_of(
        Strip,
        on=(str, ""),
        low=(Annotated[Height | None, Field(alias="from")], None),
        high=(Annotated[Height | None, Field(alias="to")], None),
    )


class ConstructionTable(KeyTable):
    """``[construction]``: how the corset is sewn."""

    body: Literal["soft", "stiff"] = "soft"
    strength_layer: str = ""
    lacing: Annotated[Number, Field(ge=0.1, le=20.0)] | None = None
    top: EdgeFinish = "flat"
    bottom: EdgeFinish = "flat"
    fold_factor: Annotated[Number, Field(ge=0.0, le=1.0)] | None = None
    fold_factor_uncertainty: Annotated[Number, Field(ge=0.0, le=1.0)] = 0.0
    swatches: tuple[Path, ...] = ()
    shell: tuple[ShellTable, ...] = ()
    bones: tuple[BonesTable, ...] = ()
    strip: tuple[StripTable, ...] = ()
