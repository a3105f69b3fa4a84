"""Kinds of values that keys of the job file have, each with what is said of a wrong one."""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from typing import Annotated, Any, ClassVar, Final, Literal

from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, Field, StrictInt

from ..errors import UnitError
from ..files.one_line import line_fault
from ..units import parse_number, parse_percent, to_mm


def _length(value: Any) -> Any:
    """A bare number is mm; text may carry a unit."""
    if isinstance(value, bool) or not isinstance(value, (int, float, str)):
        raise ValueError('must be a length: a number of mm, or text such as "0.5 in"')
    number = _typed(value, to_mm)
    if not math.isfinite(number):
        raise ValueError("must be a finite length")
    return number


def _number(value: Any) -> Any:
    """A number, or text that is one."""
    if isinstance(value, bool) or not isinstance(value, (int, float, str)):
        raise ValueError("must be a number")
    return _typed(value, parse_number)


def _count(value: Any) -> Any:
    """A whole number, or text that is one; what is neither is refused by the type itself."""
    return _typed(value, parse_number) if isinstance(value, str) else value


def _typed(value: float | str, read: Callable[[str], float]) -> float:
    try:
        return read(value) if isinstance(value, str) else float(value)
    except UnitError as error:
        raise ValueError(f"{error.problem}. {error.remedy}") from None
    except OverflowError:
        return math.inf


Length = Annotated[float, BeforeValidator(_length)]
Number = Annotated[float, BeforeValidator(_number)]
Count = Annotated[StrictInt, BeforeValidator(_count)]
NotNegative = Annotated[Length, Field(ge=0.0)]
Positive = Annotated[Length, Field(gt=0.0)]
ClothWidth = Annotated[Length, Field(ge=50.0, le=20_000.0)]
ClassName = Literal["front", "side", "back"]


def in_one_line(text: str) -> str:
    """Refuse what would break a line, or turn it."""
    if problem := line_fault(text):
        raise ValueError(problem)
    return text


OneLine = Annotated[str, AfterValidator(in_one_line)]
"""A name that ends up in drawings, in file names and on the terminal."""


class KeyTable(BaseModel):
    """A table of the job file: no key that is not known, nothing that changes."""

    # Validators are built at the first job, for all tables together: one for each took longer
    # than the whole of numpy's import. So no default may be made by validation either.
    model_config: ClassVar[ConfigDict] = ConfigDict(
        extra="forbid", frozen=True, allow_inf_nan=False, defer_build=True
    )


BRANCHES: Final = ("(a number)", "(a table)")
"""Tags of a key that takes either; no maker's key looks like one. Telling them apart first
gives one fault for a wrong value, not one for each form it might have had."""


def branch(value: Any) -> str:
    """Tag of the form that a value has."""
    return BRANCHES[isinstance(value, (dict, BaseModel))]


def _taken_up(value: Any) -> Any:
    """A part of 1, or text with a percent sign."""
    if isinstance(value, str) and value.rstrip().endswith("%"):
        share = _typed(value, parse_percent)
    else:
        share = _number(value)
    if share < 0.0:
        raise ValueError(
            "is negative, as if sewing made the cloth larger: give the part that it loses; a cloth "
            "that gives has stretch or give"
        )
    if share >= 0.5:
        raise ValueError('is half of the cloth or more: two parts in a hundred are 0.02, or "2 %"')
    return share


TakeUp = Annotated[float, BeforeValidator(_taken_up)]
"""What sewing takes from a cut piece, as a part of it."""

Give = Annotated[Number, Field(ge=0.0, le=0.5)]


def _height(value: Any) -> Any:
    """A level's name, or a signed length from the waist as text; a bare number is mm."""
    if isinstance(value, bool) or not isinstance(value, (int, float, str)):
        raise ValueError('must be a level, or a height such as "+120 mm" or -85')
    return value if isinstance(value, str) else f"{value:+.6f}"


def height_said(height: str | None) -> str | None:
    """A height for people: what was a bare number has six decimals and no unit."""
    bare = height is not None and re.fullmatch(r"[+-]\d+\.\d{6}", height)
    return f"{float(bare.group()):+.9g} mm" if bare else height


Height = Annotated[str, BeforeValidator(_height)]
"""Where something begins or ends: a level of the pattern, or how far above the waist."""
