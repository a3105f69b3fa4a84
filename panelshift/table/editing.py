"""What an edit is, and how its form is read."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from ..errors import JobError
from ..units import parse_length
from .documents import Change

Form = Mapping[str, str]
Touched = Callable[[Mapping[str, Any]], Any]
Reader = Callable[[str, str], Any]
"""Reads a field: its text, and the unit of lengths that name none."""


@dataclass(frozen=True, eq=False)
class Edit:
    """One change that a maker asks for.

    Parameters
    ----------
    change : callable
        Of a job's document.
    touches : callable
        What of a job the edit is about: where two tabs changed different things, both count.
    words : str
        What it does, for undoing it.
    """

    change: Change
    touches: Touched
    words: str


def typed_length(text: str, units: str) -> float | int | str:
    """What a job file should say for a length that was typed; a `Reader`."""
    return parse_length(text, bare=units).job_value


def unknown(problem: str) -> JobError:
    """Return the error for a form that no page of ours sends."""
    return JobError(problem, remedy="Load the page again.")


def field(form: Form, name: str) -> str:
    """Text of a field, one line.

    Raises
    ------
    JobError
        If the form has none.
    """
    if name not in form:
        raise unknown(f"the form lacks {name!r}")
    return " ".join(form[name].split())
