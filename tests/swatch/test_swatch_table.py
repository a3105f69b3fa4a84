"""CSV files of readings: units, separators, and every fault with its line."""

from __future__ import annotations

from pathlib import Path

import pytest

from panelshift.errors import SwatchError
from panelshift.swatch import SwatchReading, read_csv
from panelshift.swatch.recorded import LARGEST_BYTES, parse_csv

HEAD = "inner,outer,former,length,overhang"
ROW = "coutille,brocade,80,200,6.5"


def lines(*rows: str) -> str:
    return "\n".join(rows) + "\n"


def faults(text: str, **layers: str) -> str:
    with pytest.raises(SwatchError) as caught:
        parse_csv(text, source="s.csv", **layers)
    assert caught.value.source == "s.csv"
    return str(caught.value)


def numbers(reading: SwatchReading) -> tuple[float, ...]:
    return reading.former, reading.length, reading.overhang


def test_bare_numbers_are_mm() -> None:
    (found,) = parse_csv(lines(HEAD, ROW))
    assert found == SwatchReading("coutille", "brocade", 80.0, 200.0, 6.5, origin="line 2")


@pytest.mark.parametrize(
    "text",
    [
        lines("inner,outer,former_in,length_cm,overhang_mm", "coutille,brocade,4,20,6.5"),
        lines("Inner, Outer, Former (in), Length cm, Overhang", "coutille,brocade,4,20,6.5"),
        lines(HEAD, "coutille,brocade,4 in,20cm,6.5 mm"),
        # A unit in the cell says more than the heading's.
        lines("inner,outer,former_mm,length,overhang", "coutille,brocade,4 in,20cm,6.5mm"),
        lines("inner;outer;former_in;length_cm;overhang", "coutille;brocade;4,0;20;6,5"),
        lines("inner\touter\tformer_in\tlength_cm\toverhang", "coutille\tbrocade\t4\t20\t6,5"),
        "\ufeff"
        + lines("# pinned on a Monday", "", HEAD, ",,,,", '"coutille",brocade,4in,20cm,6.5mm'),
        lines(
            "note,overhang,former_in,length_cm,outer,inner", "slipped?,6.5,4,20,brocade,coutille"
        ),
    ],
)
def test_units_separators_and_order_of_columns(text: str, tmp_path: Path) -> None:
    file = tmp_path / "s.csv"
    file.write_text(text, encoding="utf-8")
    (found,) = read_csv(file)
    assert (found.inner, found.outer) == ("coutille", "brocade")
    assert numbers(found) == pytest.approx((101.6, 200.0, 6.5))


def test_columns_that_may_be_left_out() -> None:
    head = HEAD + ",u_overhang,u_former_in,u_length,under"
    full, blank = parse_csv(lines(head, ROW + ",0.3,0.1,1,0.25", ROW + ",,,,"))
    assert (full.u_overhang, full.u_length, full.under) == (0.3, 1.0, 0.25)
    assert full.u_former == pytest.approx(2.54)
    assert blank == SwatchReading("coutille", "brocade", 80.0, 200.0, 6.5, origin="line 3")


def test_layers_may_be_given_for_the_whole_file() -> None:
    (found,) = parse_csv(lines("former,length,overhang", "80,200,6.5"), inner="a", outer="b")
    assert (found.inner, found.outer) == ("a", "b")
    (own,) = parse_csv(lines(HEAD, ROW), inner="a", outer="b")
    assert (own.inner, own.outer) == ("coutille", "brocade")


def test_commas_in_names_are_no_decimals() -> None:
    head = HEAD.replace(",", ";")
    (found,) = parse_csv(lines(head, "silk, 1,5 ply;brocade;80;200;6,5"))
    assert found.inner == "silk, 1,5 ply"
    assert found.overhang == 6.5


def test_mixed_units_in_a_column_without_one_are_refused() -> None:
    message = faults(lines(HEAD, "a,b,80,200,6.5", "a,b,3 in,200,6.5"))
    assert "column 'former' mixes numbers without a unit (line 2: 80)" in message
    assert "with one (line 3: 3 in)" in message
    assert "former_mm" in message
    assert parse_csv(lines(HEAD, "a,b,80mm,200,6.5", "a,b,3 in,200,6.5"))[1].former == 3 * 25.4


def test_all_faults_are_told_with_their_lines() -> None:
    rows = ("a,b,0,200,5", "a,b,80,x,5", "a,b,80,200,250", "a,,80,200,5", "a,b,80,200,6,5", ROW)
    message = faults(lines(HEAD, *rows))
    for words in (
        "5 faults in the readings",
        "line 2: the diameter of the former is 0 mm",
        "line 3: length: 'x' is not a length",
        "line 4: the overhang of 250 mm is not smaller than the swatch of 200 mm",
        "line 5: no outer layer",
        "line 6: has 6 cells under 5 headings",
    ):
        assert words in message
    assert "line 7" not in message


@pytest.mark.parametrize(
    ("head", "words"),
    [
        ("inner,outer,former,length", "no column 'overhang'"),
        ("outer,former,length,overhang", "no column 'inner'"),
        (HEAD + ",u_overhnag", "column 'u_overhnag' is not known; did you mean u_overhang?"),
        (HEAD + ",weather", "column 'weather' is not known"),
        (HEAD + ",former_in", "column 'former' is there twice"),
        (HEAD + ",inner", "column 'inner' is there twice"),
        (
            HEAD.replace("length", "length_ft"),
            "column 'length_ft' is not known; did you mean length?",
        ),
    ],
)
def test_faults_of_the_headings(head: str, words: str) -> None:
    assert words in faults(lines(head, ROW))


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "an empty file"),
        ("\n \n", "an empty file"),
        (HEAD, "no readings below the headings"),
        (lines(HEAD, 'a,"b,80,200,5'), "line 2: "),
        (lines(HEAD, "a,b,nan,200,5"), "line 2: former: 'nan' is not a length"),
        (lines(HEAD, "a,b,1e999,200,5"), "line 2: former: '1e999' is not a finite length"),
        (lines(HEAD, "a,b,,200,5"), "line 2: former: '' is not a length"),
    ],
)
def test_files_without_readings(text: str, words: str) -> None:
    assert words in faults(text)


def test_files_that_cannot_be_read(tmp_path: Path) -> None:
    with pytest.raises(SwatchError, match=r"none\.csv: cannot read: No such file"):
        read_csv(tmp_path / "none.csv")
    big = tmp_path / "big.csv"
    big.write_bytes(b"x" * (LARGEST_BYTES + 1))
    with pytest.raises(SwatchError, match="larger than 1 MB"):
        read_csv(big)
    big.write_bytes(b"\xff\xfe\x00")
    with pytest.raises(SwatchError, match="not a text file in UTF-8"):
        read_csv(big)
    with pytest.raises(SwatchError, match="cannot read"):
        read_csv("a\0b")
