"""The page of one small job, and all ways to look at it, against what was looked over by eye.

When they are meant to change, look at the new ones and then refresh them:

    PANELSHIFT_REFRESH_GOLDEN=1 pytest tests/table/test_table_golden.py
"""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from lxml import html as lxml_html

from panelshift.errors import JobError
from panelshift.table.against_view import against_view
from panelshift.table.session import Session
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


def test_what_is_set_now_beside_a_is_the_golden_view(tmp_path: Path) -> None:
    session = Session(tmp_path, golden_job(tmp_path))
    first = session.state()
    assert first is not None
    with pytest.raises(JobError, match="no A was kept of this job"):
        session.back_to_aside(first.work.revision)
    assert against_view(first, {}, session.aside) == {"kept": False}
    session.keep_aside()
    told = [f"{key}: {value}" for key, value in against_view(first, {}, session.aside).items()]
    thicker = {"fabric": "brocade", "key": "thickness", "value": "1.65"}
    session.edit("fabric", thicker | {"revision": first.work.revision})
    now = session.state()
    assert now is not None
    for query in ({}, {"layer": "lining", "panel": "0"}):
        view = against_view(now, query, session.aside)
        told += ["==", *(f"{key}: {value}" for key, value in view.items())]
    assert changes("against-kept.txt", "\n".join(told)) == []
    session.back_to_aside(now.work.revision)
    back = session.state()
    assert back is not None
    assert back.work == first.work
    assert session.steps()[0] == "back to A"


def test_girths_of_the_body_stand_in_their_fields(tmp_path: Path) -> None:
    job = golden_job(tmp_path)
    job.write_text(job.read_text() + "[body.girths]\nwaist = 271\n")
    page = lxml_html.fromstring(Table(tmp_path, job.name).get("/").text)
    values = {field.get("value") for field in page.iter("input")}
    assert "271" in values


def test_a_path_that_no_file_can_have_is_not_there(tmp_path: Path) -> None:
    assert stamp_of(tmp_path / "null\0") is None
    assert stamp_of(tmp_path) is not None
