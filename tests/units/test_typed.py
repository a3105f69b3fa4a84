"""Numbers as makers type them."""

from __future__ import annotations

import pytest
from hypothesis import given, strategies as st

from panelshift.errors import UnitError
from panelshift.units import (
    MM_PER_UNIT,
    TypedLength,
    length_parts,
    parse_length,
    parse_number,
    parse_percent,
    several,
    show,
    shown_length,
    to_mm,
)


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
    found = parse_length(text, bare=units).job_value
    assert found == value
    assert type(found) is type(value)


@pytest.mark.parametrize(
    "text", ["", "x", "1,2,3", "1,2.3", "1.2.3", "1/0", "3 bananas", "nan", "1e999", "--1", "1 2"]
)
def test_what_is_no_length_is_refused(text) -> None:
    with pytest.raises(UnitError):
        parse_length(text)


def test_bare_numbers_and_parts_of_a_hundred() -> None:
    assert parse_number("1,4") == 1.4
    assert parse_percent("20 %") == 0.2
    assert parse_percent("12,5") == 0.125
    assert parse_percent("100") == 1
    with pytest.raises(UnitError, match="has a unit"):
        parse_number("1 mm")


@given(
    st.floats(0.001, 2000.0).map(lambda value: round(value, 3)), st.sampled_from(["mm", "cm", "in"])
)
def test_a_length_survives_being_shown_and_typed_again(value, units) -> None:
    shown = shown_length(value, units)
    again = to_mm(shown, bare=units)
    # A field shows a micrometre, or about as fine.
    assert abs(again - value) <= {"mm": 5e-4, "cm": 5e-4, "in": 13e-4}[units] + 1e-9


def test_text_that_is_no_length_is_shown_as_nothing() -> None:
    assert shown_length("measure me", "mm") == ""
    assert shown_length(None, "mm") == ""
    assert shown_length("0.5 in", "mm") == "12.7"


# -- what is read, and what can be read in two ways -----------------------------------------


@pytest.mark.parametrize(
    ("text", "number", "unit"),
    [
        ("0,5", 0.5, ""),
        (",5 cm", 0.5, "cm"),
        ("0,125", 0.125, ""),  # no number of thousands begins with 0
        ("1234,500", 1234.5, ""),  # nor has one four digits before its mark
        ("12,50", 12.5, ""),
        ("-2,5 MM", -2.5, "mm"),
        ("\u22122.5", -2.5, ""),
        ('1 3/8"', 1.375, "in"),
        ("1-3/8 in", 1.375, "in"),
        ("+1 3/8in", 1.375, "in"),
        ("-1 3/8 in", -1.375, "in"),
        ("3 / 8 inch", 0.375, "in"),
        ("1\u00bd in", 1.5, "in"),
        ("\u215c\u2033", 0.375, "in"),
        ("0.5''", 0.5, "in"),
        ("1\u00a0cm", 1.0, "cm"),
    ],
)
def test_forms_of_one_grammar(text: str, number: float, unit: str) -> None:
    assert length_parts(text) == (number, unit)


@pytest.mark.parametrize(
    ("text", "readings"),
    [
        ("1,000", "can be 1.000 or 1000"),
        ("12,500 mm", "can be 12.500 or 12500"),
        ("-999,125", "can be -999.125 or -999125"),
        ("3/8", "can be 3/8 mm or 3/8 in"),
        ("1 3/8", "can be 1 3/8 mm or 1 3/8 in"),
    ],
)
def test_what_can_be_read_in_two_ways_is_refused_with_both(text: str, readings: str) -> None:
    with pytest.raises(UnitError, match=readings.replace("/", "/")):
        to_mm(text)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("1,234.5", "several marks"),
        ("1.234.567", "several marks"),
        ("1 11/8 in", "not smaller than 1"),
        ("1 8/8 in", "not smaller than 1"),
        ("3/0 in", "divides by 0"),
        ("5,", "is not a length"),
        ("1.5/8 in", "is not a length"),
        ("1 000", "is not a length"),
        ("5'", "unknown unit"),
        ("\u0663 mm", "is not a length"),
    ],
)
def test_faults_are_told_by_their_cause(text: str, words: str) -> None:
    with pytest.raises(UnitError, match=words):
        to_mm(text)


def test_a_fraction_takes_the_unit_of_inches_where_bare_numbers_are_inches() -> None:
    assert to_mm("3/8", bare="in") == 0.375 * 25.4


@pytest.mark.parametrize(
    ("text", "words"),
    [("1,000", "can be 1.000 or 1000"), ("half", "is not a number"), ("1/2", "is not a number")],
)
def test_numbers_are_refused_in_the_same_words(text: str, words: str) -> None:
    with pytest.raises(UnitError, match=words):
        parse_number(text)


def test_several_lengths_are_parted_by_semicolons_where_decimals_have_commas() -> None:
    assert several("80,200,6.5") == ["80", "200", "6.5"]
    assert several("80; 200; 6,5") == ["80", "200", "6,5"]


# -- what is printed is read back -----------------------------------------------------------


@given(
    st.floats(-1e5, 1e5, allow_subnormal=False),
    st.sampled_from(sorted(MM_PER_UNIT)),
)
def test_what_a_job_file_says_is_read_back_exactly(number: float, unit: str) -> None:
    length = TypedLength(number, unit)
    assert to_mm(str(length.job_value)) == length.mm


@given(st.floats(-1e4, 1e4), st.sampled_from(["mm", "cm", "in"]), st.booleans())
def test_what_is_shown_is_read_back_as_shown(value: float, unit: str, signed: bool) -> None:
    text = show(value, unit, signed=signed)
    again = to_mm(text)
    assert show(again, unit, signed=signed) == text
    # Never three decimals, which with a comma could be thousands.
    assert to_mm(text.replace(".", ",")) == again


@given(st.integers(0, 999), st.integers(1, 63), st.sampled_from([2, 4, 8, 16, 32, 64]))
def test_fractions_are_what_they_say(whole: int, above: int, below: int) -> None:
    above %= below
    assert to_mm(f"{whole} {above}/{below} in") == (whole + above / below) * 25.4
