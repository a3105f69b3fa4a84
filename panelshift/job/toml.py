"""Read a job file and tell all its faults at once."""

from __future__ import annotations

import difflib
import os
import tomllib
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from pydantic import BaseModel, ValidationError

from ..errors import NEXT_FAULT, JobError, few
from ..files import read_bounded
from ..files.shipped import guide
from .model import JobFile
from .values import BRANCHES

LARGEST_JOB_BYTES: Final = 1_000_000
"""A job file is a page of text; anything larger is some other file."""

MOST_DOTS: Final = 200
"""Points in a line of a job file at most."""

MOST_FAULTS: Final = 100
"""Faults that a message lists; of more it gives the number."""

_LONGEST_KEY: Final = 80
_LONGEST_SHOWN: Final = 40


def read_job(path: str | os.PathLike[str]) -> JobFile:
    """Read and check a job file.

    *path*: a TOML file. The paths in it are relative to the job file's directory.

    Raises `JobError` if the file cannot be read, is not TOML, or has faults: each is listed with
    its key.
    """
    job_path = Path(path)
    data = job_data(job_bytes(job_path), source=str(job_path))
    return parse_job(data, source=str(job_path), folder=job_path.parent)


def job_data(raw: bytes, *, source: str) -> dict[str, Any]:
    """Parse the bytes of a job file into a dictionary, as TOML gives it.

    *source*: for messages.

    Raises `JobError` if they are no TOML, or no job file by their size or depth.
    """
    if len(raw) > LARGEST_JOB_BYTES:
        raise JobError(
            "larger than 1 MB: this is no job file",
            remedy="Give the TOML job file, not the pattern.",
            source=source,
        )
    if any(line.count(b".") > MOST_DOTS for line in raw.splitlines()):
        # tomllib's memory grows with the square of the parts of a dotted key.
        raise JobError(
            f"a line in it has more than {MOST_DOTS} points: this is no job file",
            remedy="Give the TOML job file, not the pattern.",
            source=source,
        )
    try:
        # Some editors begin a file with a byte order mark.
        return tomllib.loads(raw.decode("utf-8-sig"))
    except (ValueError, RecursionError) as error:
        # ValueError: no TOML, no UTF-8, or a number of thousands of digits.
        raise JobError(
            f"not a TOML file: {error}",
            remedy=f"See {guide('job-file')}, or let panelshift new write a job file.",
            source=source,
        ) from None


def parse_job(data: dict[str, Any], *, source: str, folder: Path) -> JobFile:
    """Check a job that has been parsed into a dictionary.

    *data*: as TOML gives it. *source*: for messages. *folder*: directory that the paths of pattern,
    swatches and section file are relative to.

    Raises `JobError` for with every fault and its key.
    """
    try:
        job = JobFile.model_validate(data)
    except ValidationError as error:
        items = error.errors(include_url=False)
        faults = [_fault(item, data) for item in items[:MOST_FAULTS]]
        count = f"{len(items)} faults" if len(items) > 1 else "a fault"
        raise JobError(
            f"{count} in the job file:\n    {few(faults, NEXT_FAULT, total=len(items))}",
            remedy=f"Mend the keys named above; {guide('job-file')} explains each of them.",
            source=source,
        ) from None
    file = folder / job.pattern.file
    pattern = job.pattern.model_copy(update={"file": file})
    stack = job.stack
    if stack.swatches is not None:
        stack = stack.model_copy(update={"swatches": folder / stack.swatches})
    sewn = job.construction
    if sewn is not None and sewn.swatches:
        files = tuple(folder / file for file in sewn.swatches)
        sewn = sewn.model_copy(update={"swatches": files})
    body = job.body
    if body.file is not None:
        body = body.model_copy(update={"file": folder / body.file})
    return job.model_copy(
        update={"pattern": pattern, "stack": stack, "body": body, "construction": sewn}
    )


@dataclass(frozen=True)
class Fault:
    """A value of a job file that cannot be.

    *place*: keys and places down to it. *words*: what is wrong. *relation*, *limit*: the bound that
    it breaks, such as "at most" 50, in mm if it is a length; None if it breaks none.
    """

    place: tuple[str | int, ...]
    words: str
    relation: str = ""
    limit: float | None = None


def job_faults(data: dict[str, Any]) -> tuple[Fault, ...]:
    """Return what is wrong with a job that has been parsed into a dictionary, value by value."""
    try:
        JobFile.model_validate(data)
    except ValidationError as error:
        return tuple(map(_value_fault, error.errors(include_url=False)))
    return ()


def _value_fault(item: Any) -> Fault:
    place = tuple(part for part in item["loc"] if part not in BRANCHES)
    kind = item["type"]
    if kind in _BOUNDS:
        limit, relation = _BOUNDS[kind]
        return Fault(place, _said(item), relation, float(item["ctx"][limit]))
    return Fault(place, _said(item))


def job_bytes(path: Path, most: int = LARGEST_JOB_BYTES) -> bytes:
    """Return the content of a job file, or of what the page keeps beside one.

    Raises `JobError` if it cannot be read, or is larger.
    """
    return read_bounded(
        path,
        most,
        JobError,
        check="Check the path of the job file.",
        too_large=(
            f"larger than {most // 1_000_000} MB: this is no job file",
            "Give the TOML job file, not the pattern.",
        ),
    )


def _fault(item: Any, data: dict[str, Any]) -> str:
    """One fault in words: its key, what is wrong and what would be right."""
    place = [part for part in item["loc"] if part not in BRANCHES]
    if place[-1:] == ["[key]"]:
        # Pydantic's mark of a fault in a key rather than in its value.
        place.pop()
    key = _key(place, data)
    kind = item["type"]
    if kind == "extra_forbidden":
        return f"{key}: {_said(item)}{_suggestion(place)}"
    found = "" if kind in ("missing", "literal_error") else f" (found {_shown(item['input'])})"
    return f"{key}: {_said(item)}{found}"


_BOUNDS: Final = {
    "greater_than_equal": ("ge", "at least"),
    "greater_than": ("gt", "more than"),
    "less_than_equal": ("le", "at most"),
    "less_than": ("lt", "less than"),
}
"""Faults of the validator that give a bound: where it stands, and our words for it."""

_KINDS: Final = {
    "bool_type": "must be true or false",
    "int_type": "must be a whole number",
    "string_type": 'must be text in quotes, such as "lining"',
    "path_type": 'must be a path in quotes, such as "corset.svg"',
    "tuple_type": 'must be a list in brackets, such as ["a", "b"]',
    "model_type": "must be a table with keys of its own",
    "model_attributes_type": "must be a table with keys of its own",
    "dict_type": "must be a table with keys of its own",
    "too_long": "has too many entries",
    "too_short": "has too few entries",
    "string_too_short": "must not be empty",
    "finite_number": "must be an ordinary number",
    "missing": "is required",
    "extra_forbidden": "is not a known key",
}
"""The other faults of the validator, in our words."""


def _said(item: Any) -> str:
    """What is wrong with a value."""
    kind = item["type"]
    if kind in _BOUNDS:
        limit, words = _BOUNDS[kind]
        return f"must be {words} {item['ctx'][limit]:g}"
    if kind == "literal_error":
        return f"{_shown(item['input'])} is not one of {item['ctx']['expected']}"
    if kind == "string_too_long":
        return f"must have at most {item['ctx']['max_length']} letters"
    if kind in _KINDS:
        return _KINDS[kind]
    message = item["msg"].removeprefix("Value error, ").split("\n")[0]
    return f"{message[:1].lower()}{message[1:]}"


def _shown(value: object) -> str:
    """Write a value for a message, cut short."""
    try:
        text = repr(value)
        return text if len(text) <= _LONGEST_SHOWN else f"{text[:_LONGEST_SHOWN]}..."
    except ValueError:
        # Python writes no whole number of thousands of digits.
        return "a number of thousands of digits"


def _key(place: list[Any], data: dict[str, Any]) -> str:
    """Dotted key; list entries carry the fabric's name where it has one."""
    words = ""
    here: Any = data
    for part in place:
        try:
            here = here[part]
        except (KeyError, IndexError, TypeError):
            here = None
        if isinstance(part, int):
            name = here.get("name") if isinstance(here, dict) else None
            shown = isinstance(name, str) and name and name.isprintable()
            words += f"[{part + 1}]" + (f" ({name:.40})" if shown else "")
        else:
            name = "".join(c if c.isprintable() else "?" for c in str(part)[:_LONGEST_KEY])
            words += f".{name}" if words else name
    return words or "job"


def _suggestion(place: list[Any]) -> str:
    known = _known_keys(place[:-1])
    close = difflib.get_close_matches(str(place[-1]), known, n=1)
    if close:
        return f"; did you mean {close[0]}?"
    return f"; known here: {', '.join(known)}" if known else ""


def _known_keys(place: list[Any]) -> list[str]:
    model: Any = JobFile
    for part in place:
        if not (isinstance(model, type) and issubclass(model, BaseModel)):
            return []
        if isinstance(part, int) or part not in model.model_fields:
            continue
        model = _inner_model(model.model_fields[part].annotation)
    if not (isinstance(model, type) and issubclass(model, BaseModel)):
        return []
    return [field.alias or name for name, field in model.model_fields.items()]


def _inner_model(annotation: Any) -> Any:
    """The table type inside an annotation such as tuple[FabricTable, ...]."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    for argument in getattr(annotation, "__args__", ()):
        found = _inner_model(argument)
        if found is not None:
            return found
    return None
