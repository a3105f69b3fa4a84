"""Lengths at the program's edges."""

from __future__ import annotations

import pytest
from hypothesis import given, strategies as st

from panelshift.errors import UnitError
from panelshift.sources.svg.lengths import split_length
from panelshift.units import MM_PER_UNIT, show, to_mm


@pytest.mark.parametrize(
    ("text", "mm"),
    [
        ("1in", 25.4),
        ("96px", 25.4),
        ("72pt", 25.4),
        ("6pc", 25.4),
        ("2.54cm", 25.4),
        ("25.4mm", 25.4),
        ("101.6Q", 25.4),
        ("101.6q", 25.4),
        (" 1 IN ", 25.4),
        ("+3", 3.0),
        ("-.5e1mm", -5.0),
        ("3.", 3.0),
    ],
)
def test_units_are_those_of_css(text: str, mm: float) -> None:
    # CSS Values: 1 in = 2.54 cm = 96 px = 72 pt = 6 pc.
    assert to_mm(text) == pytest.approx(mm, abs=1e-12)


def test_bare_number_has_the_unit_that_is_asked_for() -> None:
    assert to_mm("2", bare="in") == 50.8
    assert to_mm("2cm", bare="in") == 20.0


@pytest.mark.parametrize(
    "text", ["", " ", "mm", "nan", "inf", "1 2", "0x10", "--1", "1e", "\u0663 mm\0"]
)
def test_text_that_is_no_length_is_refused(text: str) -> None:
    with pytest.raises(UnitError, match=r"is not a length|unknown unit") as caught:
        to_mm(text)
    assert "What to do: " in str(caught.value)


def test_number_too_large_for_a_float_is_refused() -> None:
    with pytest.raises(UnitError, match="is not a finite length"):
        split_length("1e400mm")


def test_unknown_unit_lists_the_known_ones() -> None:
    with pytest.raises(UnitError, match=r"mm, cm, in, pt, pc, px, Q\."):
        to_mm("3 ell")


def test_long_text_is_cut_short_in_the_message() -> None:
    with pytest.raises(UnitError) as caught:
        to_mm("x" * 10_000)
    assert len(str(caught.value)) < 200


@given(st.text(max_size=12))
def test_any_text_gives_a_finite_number_or_the_right_error(text: str) -> None:
    try:
        number, unit = split_length(text)
    except UnitError:
        return
    assert abs(number) < float("inf")
    assert unit == unit.lower()


@given(
    st.floats(-1e5, 1e5),
    st.sampled_from(sorted(MM_PER_UNIT)),
)
def test_what_is_written_in_a_unit_reads_back(number: float, unit: str) -> None:
    assert to_mm(f"{number!r} {unit}") == pytest.approx(number * MM_PER_UNIT[unit], abs=1e-9)


@pytest.mark.parametrize(
    ("mm", "unit", "signed", "text"),
    [
        (25.4, "in", False, "1 in"),
        (12.346, "mm", False, "12.3 mm"),
        (12.346, "cm", False, "1.23 cm"),
        (12.346, "in", False, "0.49 in"),
        (-0.01, "mm", True, "+0 mm"),
        (-0.01, "mm", False, "0 mm"),
        (-1.5, "mm", True, "-1.5 mm"),
        (120.0, "mm", True, "+120 mm"),
    ],
)
def test_lengths_are_shown_with_their_units_digits_and_no_minus_zero(
    mm: float, unit: str, signed: bool, text: str
) -> None:
    assert show(mm, unit, signed=signed) == text


def test_every_display_unit_has_digits() -> None:
    assert all(show(1.0, unit).endswith(unit) for unit in ("mm", "cm", "in"))
