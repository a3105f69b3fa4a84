"""Write pattern.json: the schema of saved patterns, from the types that they are made of.

python docs/schemas/make_schema.py
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from dataclasses import MISSING, fields, is_dataclass
from pathlib import Path
from types import NoneType, UnionType
from typing import Any, Final, Literal, Union, get_args, get_type_hints

import numpy as np

from panelshift import LayerPattern, Pattern
from panelshift.files.plain_values import parts_of
from panelshift.sheets.saved import KINDS

_NAMES: Final = {str: "string", bool: "boolean", int: "integer", float: "number"}
_WIDE: Final = 100


def whole() -> dict[str, Any]:
    """The schema of a saved file."""
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "A pattern, or layers, saved by panelshift: lengths in mm, y downwards",
        "type": "object",
        "properties": {
            "panelshift": {"enum": list(KINDS)},
            "format": {"const": 1},
            "units": {"const": "mm"},
            **{kind: schema(hint) for kind, hint in KINDS.items()},
        },
        "required": ["panelshift", "format", "units"],
        "oneOf": [{"required": [kind]} for kind in KINDS],
        "additionalProperties": False,
        "$defs": definitions(Pattern, LayerPattern),
    }


def schema(kind: Any) -> dict[str, Any]:
    """The JSON Schema of a type's plain data; objects stand under ``#/$defs`` by their names."""
    origin, given = parts_of(kind)
    if is_dataclass(kind):
        return {"$ref": f"#/$defs/{origin.__name__}"}
    if origin in (Union, UnionType):
        return {"anyOf": [schema(each) for each in given]}
    if kind is NoneType:
        return {"type": "null"}
    if origin is Literal:
        return {"enum": list(given)}
    if origin is np.ndarray:
        return {"type": "array", "items": {"type": ["number", "array"]}}
    if origin is tuple and given[-1:] != (Ellipsis,):
        items = [schema(each) for each in given]
        return {"type": "array", "prefixItems": items, "minItems": len(items), "items": False}
    if origin in (tuple, frozenset):
        return {"type": "array", "items": schema(given[0])}
    if issubclass(origin, Mapping):
        return {"type": "object", "additionalProperties": schema(given[1])}
    return {"type": _NAMES[kind]}


def definitions(*kinds: Any) -> dict[str, Any]:
    """The schemas of objects, and of all that they are made of, by their names."""
    found: dict[str, Any] = {}
    waiting: list[Any] = list(kinds)
    while waiting:
        kind = waiting.pop()
        if kind.__name__ in found:
            continue
        hints = get_type_hints(kind)
        bare = [
            each.name for each in fields(kind) if each.name in hints and each.default is MISSING
        ]
        found[kind.__name__] = {
            "type": "object",
            "properties": {name: schema(hint) for name, hint in hints.items()},
            "required": bare,
            "additionalProperties": False,
        }
        waiting += [part for hint in hints.values() for part in _objects(hint)]
    return dict(sorted(found.items()))


def _objects(hint: Any) -> Iterator[Any]:
    """Types of objects that stand in a hint."""
    if is_dataclass(hint):
        yield hint
    for part in get_args(hint):
        yield from _objects(part)


def text(value: Any, depth: int = 0) -> str:
    """JSON with short tables and lists on one line."""
    line = json.dumps(value)
    if len(line) + depth <= _WIDE or not isinstance(value, (dict, list)):
        return line
    inner = [
        (f"{json.dumps(key)}: " if isinstance(value, dict) else "")
        + text(value[key] if isinstance(value, dict) else key, depth + 1)
        for key in value
    ]
    start, end = "{}" if isinstance(value, dict) else "[]"
    pad = " " * depth
    return f"{start}\n{pad} " + f",\n{pad} ".join(inner) + f"\n{pad}{end}"


if __name__ == "__main__":
    Path(__file__).with_name("pattern.json").write_text(text(whole()) + "\n", encoding="utf-8")
