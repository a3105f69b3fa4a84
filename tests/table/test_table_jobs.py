"""Another job, a new one, a copy, the sample; the parcel on its way; help from this machine."""

from __future__ import annotations

import io
import os
import re
import time
import zipfile

import pytest

from panelshift.job import read_job
from panelshift.table.handbook import slug
from tests.support.runs import SAMPLES

from .client import ORIGIN, Table, inner, sample, tree


def test_the_sample_is_tried_at_once(tmp_path) -> None:
    table = Table(tmp_path)
    assert (
        table.post("/job/sample", {}).said == "hourglass.toml is on the table: try it, it is yours."
    )
    assert (tmp_path / "hourglass.svg").read_bytes() == (SAMPLES / "hourglass.svg").read_bytes()
    assert "take-form" in table.get("/work").text
    # Again, after a change: what is there is not written over.
    table.edit("setting", {"place": "pattern.title", "value": "mine"})
    assert "hourglass-2.toml is on" in table.post("/job/sample", {}).said
    assert read_job(tmp_path / "hourglass.toml").pattern.title == "mine"


def test_a_new_job_another_and_a_copy(tmp_path) -> None:
    table = sample(tmp_path)
    before = table.text
    answer = table.post("/job/copy", {"name": "Second Try"})
    assert answer.said == "You now work on second-try.toml."
    table.edit("setting", {"place": "pattern.title", "value": "second"})
    assert (tmp_path / "hourglass.toml").read_text() == before
    assert "second" in (tmp_path / "second-try.toml").read_text()
    assert "hourglass.toml" in table.get("/jobs").text
    assert "second-try" not in table.get("/jobs").text
    for name, words in (("second-try", "there already"), ("  ", "has no name")):
        refused = table.post("/job/copy", {"name": name}, of="copy-form")
        assert words in refused.why("copy-form")
    assert table.post("/open", {"name": "hourglass.toml"}).said == "hourglass.toml is on the table."
    empty = table.post("/job/new", {})
    assert inner(empty.text, "job-name") == "An empty table"
    assert "second-try.toml" in inner(empty.text, "step-pattern")
    assert sorted(os.listdir(tmp_path)) == sorted(
        [
            ".second-try.toml.panelshift-undo.json",
            "hourglass.svg",
            "hourglass.toml",
            "second-try.toml",
        ]
    )


def test_a_copy_has_readings_of_its_own(tmp_path) -> None:
    table = sample(tmp_path)
    reading = {"inner": "lining", "outer": "brocade", "former": "80", "length": "100"}
    table.edit("reading", {**reading, "overhang": "4.2"})
    table.post("/job/copy", {"name": "other"})
    names = [read_job(tmp_path / f"{name}.toml").stack.swatches for name in ("hourglass", "other")]
    assert names[0] != names[1]
    table.edit("unread", {"place": "0"})
    assert names[0] is not None
    assert "4.2" in names[0].read_text()


def test_a_job_file_that_is_gone_is_told_at_once(tmp_path) -> None:
    table = sample(tmp_path)
    mark = re.search(r'data-mark="([^"]*)"', table.get("/work").text)
    assert mark is not None
    text = table.text
    table.job.unlink()
    assert table.get("/pulse", params={"mark": mark.group(1)}).text == "changed"
    page = table.get("/work").text
    assert "Not saved: hourglass.toml is gone from its folder" in inner(page, "kept")
    # It stays told, in every tab, until it is mended.
    assert "is gone from its folder" in inner(table.get("/work").text, "kept")
    assert inner(table.post("/job/again", {}).text, "kept") == "Saved"
    assert table.text == text
    assert table.post("/job/again", {}).refused


@pytest.mark.slow
def test_the_parcel_says_how_far_it_is_and_its_pages_open(tmp_path) -> None:
    table = sample(tmp_path)
    asked = {"part": ["cut", "fit", "job"]}
    headers = table._headers() | {"origin": ORIGIN}
    begun = table.ask("POST", "/parcel", params=asked, headers=headers).json()
    number, seen = begun["number"], []
    for _ in range(400):
        found = table.get(f"/parcel/{number}").json()
        seen.append((found["step"], found["making"]))
        if found["done"]:
            break
        time.sleep(0.05)
    assert found["done"]
    assert found["of"] == 3
    assert [step for step, _ in seen] == sorted(step for step, _ in seen)
    assert seen[-1] == (3, "the job and its files")
    whole = table.get(f"/parcel/{number}/{found['name']}")
    assert whole.content == table.get("/parcel.zip", params=asked).content
    with zipfile.ZipFile(io.BytesIO(whole.content)) as archive:
        (sheet,) = found["shown"]
        shown = table.get(f"/parcel/{number}/{sheet}")
        assert shown.content == archive.read(sheet)
    assert shown.headers["content-type"].startswith("text/html")
    assert shown.headers["content-disposition"] == "inline"
    assert "script" not in shown.headers["content-security-policy"]
    assert "default-src 'none'" in shown.headers["content-security-policy"]
    for path in (f"{number}/hourglass.toml", f"{number}/../x.pdf", "nothing", "nothing/a.pdf"):
        assert table.get(f"/parcel/{path}").status_code == 404
    refused = table.ask("POST", "/parcel", headers=headers)
    assert refused.headers["x-refused"] == "1"
    assert "nothing is chosen" in refused.text


def test_help_is_on_this_machine(tmp_path) -> None:
    """Every help link of the page leads to a page and a heading that there are."""
    table = sample(tmp_path)
    text = table.get("/").text + table.get("/look").text + table.get("/tables").text
    links = set(re.findall(r'href="/help/([^"]+)"', text))
    assert len(links) > 5
    for link in links:
        name, _, anchor = link.partition("#")
        page = table.get(f"/help/{name}")
        assert page.status_code == 200, name
        ids = [str(found) for found in tree(page.text).xpath("//@id")]
        assert not anchor or anchor in ids, link
    shown = set()
    for name in ("table", "index", "first-corset", "getting-started-makers", "glossary"):
        text = table.get(f"/help/{name}.md").text
        assert "&lt;!--" not in text
        assert "toctree" not in text
        page = tree(text)
        assert page.xpath("//script") == []
        shown |= {str(source) for source in page.xpath("//img/@src")}
        for link in page.xpath("//footer//a/@href"):
            assert table.get(str(link)).status_code == 200, link
    assert len(shown) > 8
    for source in shown:
        assert table.get(source).status_code == 200, source
    for name in ("../pyproject.toml", "conf.py", "none.md", "figures/../conf.py"):
        assert table.get(f"/help/{name}").status_code == 404


@pytest.mark.parametrize(
    ("words", "anchor"),
    [("[stack] and [[stack.fabric]]", "stack-and-stackfabric"), ("[panel.NAME]", "panelname")],
)
def test_anchors_are_those_of_the_site(words: str, anchor: str) -> None:
    assert slug(words) == anchor
