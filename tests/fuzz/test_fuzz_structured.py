"""A short run of the structures that are nearly right; the long one is `run_structured`."""

from __future__ import annotations

import random
from pathlib import Path

import pytest

from . import structured
from .harness import BrokenError
from .run_structured import carry_out
from .spoiling import spoilt_cells
from .structured import Run


@pytest.mark.slow
def test_no_promise_is_broken_and_cases_of_each_kind_get_through() -> None:
    ended = list(carry_out(range(104), seed=7))
    assert [case.words for case in ended if case.verdict == "broken"] == []
    through = {structured.kind_of(case.number) for case in ended if case.verdict == "whole"}
    assert through == set(structured.KINDS)


@pytest.mark.parametrize(
    ("code", "said", "named", "words"),
    [
        (0, "", "lacing_gab", "silently ignored"),
        (1, "", "", "exit 1"),
        (2, "panelshift: {}/job.toml: a fault", "", "no refusal with file and remedy"),
        (2, "panelshift: a fault\n  What to do: Mend it.", "", "names no file"),
        (2, "panelshift: {}/job.toml: it\n  What to do: Mend it.", "gab", "without a word of"),
        (2, "panelshift: {}/job.toml: it\n  What to do: Mend it.", "", ""),
    ],
)
def test_the_oracle_sees_what_is_broken(
    tmp_path: Path, code: int, said: str, named: str, words: str
) -> None:
    run = Run(code, "", said.replace("{}", str(tmp_path)), None)
    if not words:
        assert structured.judged(run, tmp_path) == "refused"
        (tmp_path / "out").mkdir()
        words = "refused, but"
    with pytest.raises(BrokenError, match=words):
        structured.judged(run, tmp_path, named)


def test_a_file_with_a_number_that_is_not_finite_is_broken(tmp_path: Path) -> None:
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / "x.svg").write_text('<svg><path d="M0 nan"/></svg>', encoding="utf-8")
    with pytest.raises(BrokenError, match="not finite"):
        structured.judged(Run(0, "", "", None), tmp_path)


def test_a_table_of_any_shape_is_spoilt_further() -> None:
    ragged = [["name", "note"], ["a"] * 9, [], ["b"]]
    ways = {spoilt_cells(random.Random(seed), ragged).done.split()[0] for seed in range(200)}
    assert len(ways) == 6
