"""Numbers as makers type them."""

from __future__ import annotations

import pytest
from hypothesis import given, strategies as st

from panelshift.errors import UnitError
from panelshift.table.typed import (
    shown_length,
    typed_length,
    typed_number,
    typed_percent,
)
from panelshift.units import to_mm


@pytest.mark.parametrize(
    ("text", "units", "value"),
    [
        ("0.45", "mm", 0.45),
        ("0,45", "mm", 0.45),
        (",45", "mm", 0.45),
        (" 10 ", "mm", 10),
        ("1 cm", "mm", "1 cm"),
        ("0,5", "in", "0.5 in"),
        ("3/8", "in", "0.375 in"),
        ("1 1/2", "in", "1.5 in"),
        ("25-1/4 in", "mm", "25.25 in"),
        ('3/8"', "mm", "0.375 in"),
        ("2 inches", "mm", "2 in"),
        ("12 mm", "in", 12),
        ("1e2", "mm", 100),
    ],
)
def test_what_a_job_file_says_for_what_is_typed(text, units, value) -> None:
    assert typed_length(text, units) == value
    assert type(typed_length(text, units)) is type(value)


@pytest.mark.parametrize(
    "text", ["", "x", "1,2,3", "1,2.3", "1.2.3", "1/0", "3 bananas", "nan", "1e999", "--1", "1 2"]
)
def test_what_is_no_length_is_refused(text) -> None:
    with pytest.raises(UnitError):
        typed_length(text, "mm")


def test_bare_numbers_and_parts_of_a_hundred() -> None:
    assert typed_number("1,4") == 1.4
    assert typed_percent("20 %") == 0.2
    assert typed_percent("12,5") == 0.125
    assert typed_percent("100") == 1
    with pytest.raises(UnitError, match="has a unit"):
        typed_number("1 mm")


@given(
    st.floats(0.001, 2000.0).map(lambda value: round(value, 3)), st.sampled_from(["mm", "cm", "in"])
)
def test_a_length_survives_being_shown_and_typed_again(value, units) -> None:
    shown = shown_length(value, units)
    again = to_mm(str(typed_length(shown, units)))
    # A field shows a micrometre, or about as fine.
    assert abs(again - value) <= {"mm": 5e-4, "cm": 5e-4, "in": 13e-4}[units] + 1e-9


def test_text_that_is_no_length_is_shown_as_nothing() -> None:
    assert shown_length("measure me", "mm") == ""
    assert shown_length(None, "mm") == ""
    assert shown_length("0.5 in", "mm") == "12.7"
