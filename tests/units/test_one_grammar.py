"""Job file, page, both tables and the command line take the same texts and refuse the same."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, strategies as st

from panelshift.batch import BatchJob, read_table
from panelshift.batch.key_columns import value_of
from panelshift.cli.common import length
from panelshift.errors import PanelshiftError, UnitError
from panelshift.job.toml import parse_job
from panelshift.printing import parse_paper
from panelshift.swatch.recorded import parse_csv
from panelshift.table.edits import typed_length
from panelshift.units import to_mm


def _job(value: Any) -> float:
    data = {
        "pattern": {"file": "draft.svg", "lacing_gap": value},
        "stack": {"fabric": [{"name": "drill", "thickness": 0.5}]},
    }
    return parse_job(data, source="", folder=Path()).pattern.lacing_gap


def _line(*cells: str) -> str:
    stream = io.StringIO()
    csv.writer(stream).writerow(cells)
    return stream.getvalue()


def _swatch(text: str) -> float:
    head = "inner,outer,former,length,overhang,under\n"
    return parse_csv(head + _line("a", "b", "80", "100", "3", text))[0].under


CALLERS: dict[str, Callable[[str], float]] = {
    "job file": _job,
    "page": lambda text: _job(typed_length(text, "mm")),
    "batch table": lambda text: _job(value_of(text)),
    "swatch table": _swatch,
    "option": lambda text: length(text, "--margin"),
    "paper": lambda text: parse_paper(f"roll:{text}").width,
}

LENGTHS = ["12", "12.5", "12,5", "0,125", ",5", "3 cm", '0.5"', "0,5 in", "3/8 in", "1 3/8 in"]
LENGTHS += ["1-1/2 inches", "72pt", "6 pc", "96 px", "4 Q", "1e1", "1\u00bd in", "+3"]
NO_LENGTHS = ["wide", "1,000", "12,345 mm", "3/8", "1,2,3", "1.2.3", "3 ft", "3/0 in", "1e999"]
NO_LENGTHS += ["1 11/8 in", "nan", "inf", "1_0", "0x10", "5 %"]


@pytest.mark.parametrize("caller", CALLERS)
@pytest.mark.parametrize("text", LENGTHS)
def test_each_reads_what_all_read(caller: str, text: str) -> None:
    assert CALLERS[caller](text) == to_mm(text)


@pytest.mark.parametrize("caller", CALLERS)
@pytest.mark.parametrize("text", NO_LENGTHS)
def test_each_refuses_what_all_refuse_in_the_same_words(caller: str, text: str) -> None:
    with pytest.raises(UnitError) as words:
        to_mm(text)
    with pytest.raises(PanelshiftError) as caught:
        CALLERS[caller](text)
    assert words.value.problem in str(caught.value)
    assert words.value.remedy in str(caught.value)


@given(
    st.from_regex(r"[0-9]{1,3}([.,][0-9]{1,4})?( ?(mm|cm|in|\"|px))?", fullmatch=True)
    | st.from_regex(r"([0-9]{1,2}[ -])?[0-9]{1,2}/[0-9]{1,2}( ?(in|\"|mm|inch))?", fullmatch=True)
)
def test_all_agree_on_any_text(text: str) -> None:
    answers = set()
    for read in CALLERS.values():
        try:
            answers.add(read(text))
        except PanelshiftError as error:
            # Nothing of a width is no paper, though it is a length.
            answers.add("refused" if "no usable size" not in error.problem else 0.0)
    assert len(answers) == 1


@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
@pytest.mark.parametrize("text", ["62,5", "2 1/2 in", '0,5"', "62.5"])
def test_a_whole_table_of_clients_takes_them_too(tmp_path: Path, delimiter: str, text: str) -> None:
    data = {
        "pattern": {"file": "draft.svg"},
        "stack": {"fabric": [{"name": "drill", "thickness": 0.5}]},
    }
    file = tmp_path / "clients.csv"
    with file.open("w", newline="") as stream:
        writer = csv.writer(stream, delimiter=delimiter)
        writer.writerows([["name", "pattern.lacing_gap"], ["Ann", text]])
    (job,) = read_table(file, BatchJob("clients", data)).jobs
    assert job.load().pattern.lacing_gap == to_mm(text)


@pytest.mark.parametrize("value", ["0,98", "0.98"])
def test_bare_numbers_have_the_same_commas(value: str) -> None:
    data = {
        "pattern": {"file": "draft.svg", "scale": value},
        "stack": {"fabric": [{"name": "drill", "thickness": 0.5, "loft": "1,5"}]},
        "panel": {"one": {"cut": "2"}},
        "body": {"model": "section", "ratio": "1,4"},
    }
    job = parse_job(data, source="", folder=Path())
    assert (job.pattern.scale, job.stack.fabric[0].loft, job.panel["one"].cut) == (0.98, 1.5, 2)
    assert job.body.ratio == 1.4
