"""Dotted keys: one value of a job named in one line, such as ``stack.fabric.silk.thickness``."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from types import UnionType
from typing import Any, Final, Union, get_args, get_origin

from pydantic import BaseModel

from ..errors import JobError
from ..files.plain_values import plain
from ..files.shipped import guide
from .model import JobFile

_NAMED: Final = ("body.girths.", "body.ratio.")
"""Tables whose keys are names out of the pattern; all that follows is one name."""

_TAPES: Final = "body.tapes."

_FABRIC: Final = "stack.fabric."
_PANEL: Final = "panel."

Place = tuple[str | int, ...]
"""Keys and list positions that lead from a job's table to one value."""


def place_of(key: str, data: Mapping[str, Any]) -> Place:
    """Find where a dotted key leads in a job.

    *key*: names of panels, levels and fabrics are written as they are; they may hold dots. *data*:
    the job as TOML gives it: it names the fabrics.

    Raises `JobError` if the key names a fabric that the job has not, or is not a dotted key at all.

    Examples
    --------
    >>> job = {"stack": {"fabric": [{"name": "no. 2 silk"}]}}
    >>> place_of("stack.fabric.no. 2 silk.thickness", job)
    ('stack', 'fabric', 0, 'thickness')
    >>> place_of("panel.4 side.class", {})
    ('panel', '4 side', 'class')
    """
    for table in _NAMED:
        if key.startswith(table) and len(key) > len(table):
            return (*table.rstrip(".").split("."), key.removeprefix(table))
    if key.startswith(_FABRIC):
        return _in_fabric(key, data)
    if key.startswith(_TAPES) and key.count(".") > 2:
        name, _, last = key.removeprefix(_TAPES).rpartition(".")
        return ("body", "tapes", name, last)
    if key.startswith(_PANEL) and key.count(".") > 1:
        name, _, last = key.removeprefix(_PANEL).rpartition(".")
        return ("panel", name, last)
    parts = key.split(".")
    if len(parts) < 2 or not all(parts):
        raise JobError(
            "is not a key of the job file",
            remedy="Write table and key with a dot between them, such as pattern.lacing_gap.",
            element=key,
        )
    return tuple(parts)


def _in_fabric(key: str, data: Mapping[str, Any]) -> Place:
    rest = key.removeprefix(_FABRIC)
    stack = data.get("stack")
    fabrics = stack.get("fabric") if isinstance(stack, Mapping) else None
    names = [
        str(fabric.get("name", "")) if isinstance(fabric, Mapping) else ""
        for fabric in (fabrics if isinstance(fabrics, list | tuple) else ())
    ]
    fitting = [name for name in names if name and rest.startswith(f"{name}.")]
    if not fitting:
        raise JobError(
            "names no fabric of the job",
            remedy=f"Write {_FABRIC}NAME.KEY; fabrics here: "
            f"{', '.join(name for name in names if name) or 'none'}.",
            element=key,
        )
    name = max(fitting, key=len)
    return ("stack", "fabric", names.index(name), *rest.removeprefix(f"{name}.").split("."))


def with_value(data: Any, place: Place, value: Any) -> Any:
    """Return a job with one value replaced; what the place does not lead through is shared."""
    if not place:
        return value
    head, rest = place[0], place[1:]
    if isinstance(head, int):
        return [with_value(item, rest, value) if k == head else item for k, item in enumerate(data)]
    # A value that is no table gives way: body.ratio may be either.
    table = data if isinstance(data, Mapping) else {}
    return {**table, head: with_value(table.get(head), rest, value)}


def with_overrides(
    data: Mapping[str, Any], overrides: Mapping[str, Any], *, source: str = ""
) -> dict[str, Any]:
    """Return a job with the values of dotted keys put in.

    *data*: the job as TOML gives it; it is left as it is. *source*: for messages.

    Raises `JobError` if keys do not lead anywhere; all of them are listed.

    Examples
    --------
    >>> with_overrides({"body": {"model": "classes"}}, {"body.girths.waist": 640})
    {'body': {'model': 'classes', 'girths': {'waist': 640}}}
    """
    changed, faults = dict(data), []
    for key, value in overrides.items():
        try:
            changed = with_value(changed, place_of(key, changed), plain(value))
        except JobError as error:
            faults.append(f"{error.element}: {error.problem}. {error.remedy}")
    if faults:
        raise JobError(
            "values for keys that are not there:\n" + "\n".join(f"    {f}" for f in faults),
            remedy=f"Mend the keys named above; {guide('job-file')} explains each of them.",
            source=source,
        )
    return changed


def is_known(place: Place) -> bool:
    """Whether the job file has such a key; names of panels and levels are not looked at.

    Examples
    --------
    >>> is_known(("pattern", "scale")), is_known(("pattern", "skale"))
    (True, False)
    """
    return _kind(place) is not None


def takes_text(place: Place) -> bool:
    """Whether a value is words, so that text that looks like a number stays text.

    Examples
    --------
    >>> takes_text(("pattern", "title")), takes_text(("pattern", "scale"))
    (True, False)
    """
    choices = _choices(_kind(place))
    # A length may be given as text too, but a bare number stays one.
    return (str in choices or Path in choices) and float not in choices


def _kind(place: Place) -> Any:
    kind: Any = JobFile
    for part in place:
        kind = _below(kind, part)
    return kind


def _below(kind: Any, part: str | int) -> Any:
    """Type of what one key or position holds inside a type; None if there is no such thing."""
    for choice in _choices(kind):
        if isinstance(choice, type) and issubclass(choice, BaseModel):
            for name, info in choice.model_fields.items():
                if part == (info.alias or name):
                    return info.annotation
        arguments = get_args(choice)
        if get_origin(choice) is dict:
            return arguments[1]
        if get_origin(choice) is tuple and isinstance(part, int):
            return arguments[0]
    return None


def _choices(kind: Any) -> list[Any]:
    """Members of a union, without what annotations say about them."""
    if hasattr(kind, "__metadata__"):
        return _choices(get_args(kind)[0])
    if get_origin(kind) in (Union, UnionType):
        return [choice for member in get_args(kind) for choice in _choices(member)]
    return [kind]
