"""The page of one small job, and all ways to look at it, against what was looked over by eye.

When they are meant to change, look at the new ones and then refresh them:

    PANELSHIFT_REFRESH_GOLDEN=1 pytest tests/table/test_table_golden.py
"""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from lxml import html as lxml_html

from panelshift.table.workspace import stamp_of
from tests.support.golden import changes, golden_job

from .client import Table


@pytest.fixture(scope="module")
def table(tmp_path_factory: pytest.TempPathFactory) -> Table:
    folder = tmp_path_factory.mktemp("golden")
    return Table(folder, golden_job(folder).name)


@pytest.mark.parametrize(
    ("name", "address"),
    [
        ("table.html", "/"),
        ("look-overlay.html", "/look?look=overlay"),
        ("look-solid.html", "/look?look=solid"),
        ("look-wrap.html", "/look?look=wrap"),
        ("look-against.html", "/look?look=against"),
        ("tables.html", "/tables"),
        ("section.html", "/section?section=hip"),
    ],
)
def test_the_page_is_the_golden_one(table: Table, name: str, address: str) -> None:
    found = table.get(address).text.replace(str(table.folder), "FOLDER")
    assert changes(name, re.sub(r"[0-9a-f]{16,}(-[0-9a-f]{8})?", "HASH", found)) == []


def test_girths_of_the_body_stand_in_their_fields(tmp_path: Path) -> None:
    job = golden_job(tmp_path)
    job.write_text(job.read_text() + "[body.girths]\nwaist = 271\n")
    page = lxml_html.fromstring(Table(tmp_path, job.name).get("/").text)
    values = {field.get("value") for field in page.iter("input")}
    assert "271" in values


def test_a_path_that_no_file_can_have_is_not_there(tmp_path: Path) -> None:
    assert stamp_of(tmp_path / "null\0") is None
    assert stamp_of(tmp_path) is not None
