"""Job files that could be right, drawn from the model of the job file itself.

Every key that the model has is drawn sooner or later, a new one without a word here.
"""

from __future__ import annotations

import inspect
import json
import math
import random
import types
import typing
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any, Final, Literal, Union

from pydantic import BaseModel, BeforeValidator
from pydantic.fields import FieldInfo

from panelshift.job import JobFile
from tests.support.drawings import half

Tree = dict[str, Any]
Place = tuple[str | int, ...]

PANELS: Final = tuple(draft.name for draft in half(3))
FABRICS: Final = ("lining", "coutille", "brocade")
LEVELS: Final = ("waist", "bust", "hip", "+40 mm", "-30 mm")

_NAMES: Final[Mapping[str, tuple[str, ...]]] = {
    **dict.fromkeys(
        ("drafted_layer", "strength_layer", "inner", "outer", "layers", "fabric", "stitched"),
        FABRICS,
    ),
    **dict.fromkeys(
        ("panels", "order", "between", "upper", "lower", "panel", "joins", "per_panel")
        + ("cut_in_one",),
        PANELS,
    ),
    **dict.fromkeys(("gap_at", "thickness_at", "coverage_at", "girths", "ratio", "tapes"), LEVELS),
    "on": (*FABRICS, *PANELS),
    "seam": ("centre front", "centre back", f"{PANELS[0]} to {PANELS[1]}", "2 to 3"),
    "raise": ("centre front", "1 to 2", "centre back"),
    "let_out": LEVELS,
    "take_in": LEVELS,
    "level": ("waist", "bust", "hip"),
    "waistlines": tuple(f"waist {name}" for name in PANELS),
    "leave_out": ("spare",),
}
"""Names that mean something, by the key they stand under."""

_NUMBERS: Final[Mapping[str, tuple[float, ...]]] = {
    "thickness": (0.2, 0.35, 0.8, 1.4),
    "drafted_waist": (264.0, 265.0),
    "scale": (1.0, 1.0, 2.0),
    "page": (1,),
    "girths": (255.0, 270.0, 300.0),
    "distance": (0.4, 0.6),
    "uncertainty": (0.02, 0.1),
    "diameter": (84.0,),
    "former": (80.0,),
    "width": (5.5, 7.0, 12.0, 900.0),
    "lacing_gap": (0.0, 20.0, 40.0),
    "gap_at": (10.0, 20.0, 40.0),
    "ratio": (1.2, 1.4),
    "run_out": (30.0,),
    "raise": (0.0, 4.0),
    "lower": (0.0, 4.0),
    "let_out": (2.0, 6.0),
    "take_in": (2.0, 6.0),
    "allowance_drawn": (0.0,),
    **dict.fromkeys(
        ("seam", "centre_front", "centre_back", "top", "bottom"), (6.0, 10.0, 15.0, 25.0)
    ),
}
_ANY: Final = (0.01, 0.02, 0.1, 0.3, 0.5, 1.2, 2.0, 5.0, 12.0, 25.0, 40.0, 80.0, 120.0, 640.0)


def base() -> Tree:
    """The smallest job: a drawing of three panels, three fabrics."""
    thicknesses = zip(FABRICS, (0.2, 0.5, 0.8), strict=True)
    fabrics = [{"name": name, "thickness": value} for name, value in thicknesses]
    return {"pattern": {"file": "draft.svg"}, "stack": {"fabric": fabrics}}


def drawn_job(chance: random.Random, keys: int) -> Tree:
    """The smallest job with a number of keys more."""
    job = base()
    for _ in range(keys):
        _add_key(chance, job, JobFile)
    return job


def _add_key(chance: random.Random, table: Tree, model: type[BaseModel]) -> None:
    """Give a table one key that it has not, or one of its tables one."""
    name, field = chance.choice(list(model.model_fields.items()))
    key = field.alias or name
    if (inner := _model_of(field.annotation)) and key in table:
        held = table[key]
        _add_key(chance, chance.choice(held) if isinstance(held, list) else held, inner)
    elif key not in table:
        table[key] = _value(chance, key, field.annotation, field.metadata)


def _model_of(hint: Any) -> type[BaseModel] | None:
    """The table that a hint holds: itself, or one of a list."""
    if inspect.isclass(hint) and issubclass(hint, BaseModel):
        return hint
    if typing.get_origin(hint) is dict:
        return None
    return next(filter(None, map(_model_of, typing.get_args(hint))), None)


def _value(chance: random.Random, key: str, hint: Any, metadata: list[Any]) -> Any:
    """Something that a key of that type takes."""
    origin, parts = typing.get_origin(hint), typing.get_args(hint)
    if origin is typing.Annotated:
        return _value(chance, key, parts[0], [*metadata, *_flat(parts[1:])])
    for item in metadata:
        # What is typed may be text as well; the functions are the model's own.
        if isinstance(item, BeforeValidator) and "height" in item.func.__name__:
            return chance.choice((*LEVELS, -20, "top"))
    if origin in (Union, types.UnionType):
        known = [part for part in parts if part is not type(None)]
        return _value(chance, key, chance.choice(known), metadata)
    if origin is Literal:
        return chance.choice(parts)
    if origin is tuple:
        many = parts[-1] is Ellipsis
        inner = [parts[0]] * chance.randint(1, 2) if many else parts
        found = [_value(chance, key, part, []) for part in inner]
        return found if not many else [x for k, x in enumerate(found) if x not in found[:k]]
    if origin is dict:
        named, held = parts
        names = typing.get_args(named) or _NAMES.get(key, PANELS)
        chosen = chance.sample(names, min(len(names), chance.randint(1, 2)))
        return {name: _value(chance, key, held, []) for name in chosen}
    if inspect.isclass(hint) and issubclass(hint, BaseModel):
        return _table(chance, hint)
    return _single(chance, key, hint, _flat(metadata))


def _table(chance: random.Random, model: type[BaseModel]) -> Tree:
    fields = model.model_fields.items()
    needed = [(n, f) for n, f in fields if f.is_required()]
    others = [(n, f) for n, f in fields if not f.is_required()]
    chosen = needed + chance.sample(others, min(len(others), chance.randint(0, 3)))
    return {f.alias or n: _value(chance, f.alias or n, f.annotation, f.metadata) for n, f in chosen}


def _single(chance: random.Random, key: str, hint: Any, metadata: list[Any]) -> Any:
    if hint is bool:
        return chance.random() < 0.5
    if hint is int:
        return chance.choice((1, 2))
    if hint is float:
        return _number(chance, key, metadata)
    if hint is Path:
        return {"swatches": "swatches.csv"}.get(key, "sections.json")
    return chance.choice(_NAMES.get(key, ("a word", "brocade", "Ärmel 2")))


def _number(chance: random.Random, key: str, metadata: list[Any]) -> Any:
    low, high = -math.inf, math.inf
    for item in metadata:
        low = max(low, getattr(item, "ge", low), getattr(item, "gt", low))
        high = min(high, getattr(item, "le", high), getattr(item, "lt", high))
    fitting = [v for v in _NUMBERS.get(key, _ANY) if low <= v <= high] or [low]
    value = chance.choice(fitting)
    length = any(getattr(getattr(m, "func", None), "__name__", "") == "_length" for m in metadata)
    if length and chance.random() < 0.2:
        return chance.choice((f"{value} mm", f"{value / 10.0} cm", f"{value / 25.4} in"))
    return value


def _flat(metadata: Any) -> list[Any]:
    found: list[Any] = []
    for item in metadata:
        found += item.metadata if isinstance(item, FieldInfo) else [item]
    return found


# -- tables of clients ------------------------------------------------------------------


def drawn_table(chance: random.Random) -> tuple[Tree, list[list[str]]]:
    """A job with a number of keys, and the cells of a table that gives some of them.

    Its first row gives what the job says already; its second is left empty here and there, or
    gives something else.
    """
    job = drawn_job(chance, chance.choice((1, 1, 2, 3, 5)))
    given = dict(_columns(job))
    names = chance.sample(sorted(given), min(len(given), chance.randint(1, 4)))
    odd = ("1", "12 mm", "x", "-3", "true") if chance.random() < 0.3 else ()
    return job, [
        ["name", *names],
        ["Ann", *(given[name] for name in names)],
        ["Bo", *(chance.choice((*odd, "", given[name])) for name in names)],
    ]


def _columns(job: Tree) -> Iterator[tuple[str, str]]:
    """Columns of a table for the values of a job that may have one, and their cells."""
    for place, value in leaves(job):
        steps = list(place)
        if steps[:2] == ["stack", "fabric"]:
            steps[2] = job["stack"]["fabric"][steps[2]]["name"]
        # What a list holds has no column, nor has the drawing here: another would be needed.
        if all(isinstance(step, str) for step in steps) and steps != ["pattern", "file"]:
            yield ".".join(map(str, steps)), cell(value)


def cell(value: Any) -> str:
    """A value as a cell of a table."""
    return str(value).lower() if isinstance(value, bool) else str(value)


# -- trees as TOML ----------------------------------------------------------------------


class Raw(str):
    """A value as it stands in the file."""

    __slots__ = ()


def toml(tree: Tree) -> str:
    """A job as text: each table under its heading, whatever lies in it in one line."""
    lines = [f"{_key(k)} = {_toml(v)}" for k, v in tree.items() if not isinstance(v, dict)]
    for key, value in tree.items():
        if isinstance(value, dict):
            lines.append(f"\n[{_key(key)}]")
            lines += [f"{_key(k)} = {_toml(v)}" for k, v in value.items()]
    return "\n".join(lines) + "\n"


def _toml(value: Any) -> str:
    if isinstance(value, Raw):
        return str(value)
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{_key(k)} = {_toml(v)}" for k, v in value.items()) + " }"
    if isinstance(value, list | tuple):
        return "[" + ", ".join(map(_toml, value)) + "]"
    return _quoted(value) if isinstance(value, str) else repr(value)


def _key(key: str) -> str:
    return key if key.isidentifier() and key.isascii() else _quoted(key)


def _quoted(text: str) -> str:
    # JSON's strings are TOML's but for one letter, and for halves of pairs, which TOML has not.
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")


def leaves(tree: Any, place: Place = ()) -> list[tuple[Place, Any]]:
    """Places of all values of a tree that hold no others."""
    if isinstance(tree, dict):
        return [leaf for key, value in tree.items() for leaf in leaves(value, (*place, key))]
    if isinstance(tree, list):
        return [leaf for k, value in enumerate(tree) for leaf in leaves(value, (*place, k))]
    return [(place, tree)]


def holder(tree: Any, place: Place) -> Any:
    """What holds the value at a place."""
    for step in place[:-1]:
        tree = tree[step]
    return tree
