"""Errors say where, what and what to do, and survive the way between processes."""

from __future__ import annotations

import pickle

import pytest

from panelshift import errors

KINDS = [
    kind
    for kind in vars(errors).values()
    if isinstance(kind, type) and issubclass(kind, errors.PanelshiftError)
]


def test_message_names_the_place_the_problem_and_the_remedy() -> None:
    error = errors.SvgError("bad", remedy="Mend it.", source="a.svg", element="path1")
    assert str(error) == "a.svg, path1: bad\n  What to do: Mend it."
    assert str(errors.SvgError("bad", remedy="Mend it.")) == "bad\n  What to do: Mend it."


def test_located_fills_in_what_is_missing_and_keeps_what_is_there() -> None:
    error = errors.ScaleError("bad", remedy="Mend it.", element="x").located(
        source="a.svg", element="y"
    )
    assert type(error) is errors.ScaleError
    assert (error.source, error.element) == ("a.svg", "x")


@pytest.mark.parametrize("kind", KINDS)
def test_every_kind_can_be_sent_to_another_process(kind: type[errors.PanelshiftError]) -> None:
    error = kind("bad", remedy="Mend it.", source="a.svg", element="x")
    again = pickle.loads(pickle.dumps(error))
    assert type(again) is kind
    assert str(again) == str(error)


@pytest.mark.parametrize("kind", [k for k in KINDS if k is not errors.PanelshiftError])
def test_every_kind_is_also_a_usual_exception(kind: type[errors.PanelshiftError]) -> None:
    assert issubclass(kind, (ValueError, OSError, KeyError, TypeError))
