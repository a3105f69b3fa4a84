"""The record of the work: kept in the job, shown only where the maker says."""

from __future__ import annotations

from pathlib import Path

import pytest
from pypdfium2 import PdfDocument

from panelshift.fit.fact_rows import facts_json
from panelshift.fit.html_page import fit_page
from panelshift.fit.share_card import share_card
from panelshift.job import read_job, resolve
from panelshift.job.result import cut, fit_job, print_job
from panelshift.printing import PageOptions, parse_paper
from tests.support.drawings import half, panels, write_job

RECORD = """
[record]
client = "A. N. Other"
project = "summer corset"
date = 2026-05-03
notes = ["left shoulder 8 mm lower"]
"""
TOLD = "client: A. N. Other, project: summer corset, date: 2026-05-03"


@pytest.mark.parametrize(
    "on",
    [("sheets",), *(pytest.param(on, marks=pytest.mark.slow) for on in ((), ("fit sheet",)))],
    ids=str,
)
@pytest.mark.slow
def test_the_record_stands_where_it_is_asked_for(tmp_path: Path, on: tuple[str, ...]) -> None:
    rest = RECORD + (f"on = {list(on)}\n" if on else "")
    found = resolve(read_job(write_job(tmp_path, panels(half(3)), rest=rest)))
    made = cut(found)
    facts = fit_job(found, made.shifted, lay_cloth=False)
    for words in (TOLD, "left shoulder 8 mm lower"):
        for name, data in made.drawings.items():
            shown = "sheets" in on and name != "overlay.svg"
            assert (words in data.decode()) == shown, name
        prints = print_job(found, PageOptions(parse_paper("a4")), made.shifted)
        for printed in prints:
            told = "".join(
                page.get_textpage().get_text_bounded() for page in PdfDocument(printed.printed.data)
            )
            assert (words in " ".join(told.split())) == ("sheets" in on), printed.name
        # What machines read says nothing of the work.
        assert not any(words.encode() in data for data in made.machine_files().values())
        assert (words in fit_page(facts).decode()) == ("fit sheet" in on)
        assert words not in facts_json(facts).decode() + share_card(facts)
