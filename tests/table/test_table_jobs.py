"""Another job, a new one, a copy, the sample; the parcel on its way; help from this machine."""

from __future__ import annotations

import io
import os
import re
import time
import zipfile
from pathlib import Path
from urllib.parse import urljoin

import pytest

from panelshift.job import read_job
from panelshift.job.starter import UNMEASURED
from panelshift.table.handbook import figure, help_page, slug
from panelshift.table.parcel import ParcelMaking
from tests.support.golden import golden_job
from tests.support.runs import SAMPLES

from .client import ORIGIN, Table, inner, sample, tree

DOCS = Path(__file__).parents[2] / "docs"


@pytest.mark.slow
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


@pytest.mark.slow
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


@pytest.mark.slow
def test_what_is_kept_as_a_stands_beside_what_is_set_now(tmp_path) -> None:
    """The picture, sizes and cloth of both; undo stays as it was, and nothing is written."""
    table = sample(tmp_path)
    ask = {"look": "against"}
    assert "keep-aside" in table.get("/look", params=ask).text
    table.edit("setting", {"place": "pattern.title", "value": "mine"})
    before, steps = table.text, table.session.steps()
    mark = table.session.mark()
    assert table.post("/job/keep", {}, of="keep-aside").said.startswith("This is A now")
    assert (table.text, table.session.steps()) == (before, steps)
    assert table.session.mark() != mark, "another tab follows"
    assert "A is what is set now" in table.get("/look", params=ask).text
    table.edit("fabric", {"fabric": "brocade", "key": "thickness", "value": "1.65"})
    shown = table.get("/look", params=ask).text
    # One mm more outside is 2 pi mm more round the waist: 699 and 706 to a tape.
    words = " ".join(inner(shown, "against-words").split())
    assert "inside 687 mm, the same as A's; outside 706 mm, 6 mm more than A's" in words
    rows = {row[0].text: [cell.text for cell in row[1:]] for row in tree(shown).iter("tr")}
    assert rows["waist, outside"] == ["699", "706", "+6.3"]
    assert all(text.startswith("at most ") for text in rows["brocade, 1400 mm wide"])
    differs = " ".join(inner(shown, "against-differs").split())
    assert "In Abrocade: 0.65 mm thick" in differs
    assert "In Bbrocade: 1.65 mm thick" in differs
    # Another panel and layer, in one picture with its magnifier.
    other = table.get("/look/against", params={"panel": "0", "layer": "lining"}).text
    assert "lining</strong>, 1 centre front" in other
    assert 'id="lens"' in other
    # Back to A is a change like any other.
    late = table.post("/job/back", {"revision": "old"}, of="back-to-aside")
    assert "nothing was set back" in late.text
    assert "thickness = 1.65" in table.text, "a page that is not up to date sets nothing back"
    assert "set as in A" in table.post("/job/back", {}, of="back-to-aside").said
    assert table.text == before
    assert table.post("/undo", {}).said == "Taken back: back to A."
    assert "thickness = 1.65" in table.text
    # Of another job it is compared with, but not set back to.
    table.post("/job/copy", {"name": "other"})
    assert "you kept of hourglass.toml" in inner(table.get("/look", params=ask).text, "seen")
    assert "No A was kept of this job" in table.post("/job/back", {}, of="back-to-aside").text
    assert "forgotten" in table.post("/job/forget", {}).said
    assert "keep what is set now" in table.get("/look", params=ask).text.lower()


def test_nothing_is_kept_that_cannot_be_reckoned(tmp_path) -> None:
    table = sample(tmp_path)
    text = table.text.replace("thickness = 0.65", f'thickness = "{UNMEASURED}"')
    table.job.write_text(text)
    assert "There is nothing to compare yet" in table.post("/job/keep", {}, of="keep-aside").text
    assert table.session.aside is None


@pytest.mark.slow
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


@pytest.mark.slow
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


@pytest.mark.slow
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
    # Whatever a page links to on this machine is there, examples as well; nothing else is a link.
    pages = sorted(path.relative_to(DOCS).as_posix() for path in DOCS.glob("**/*.md"))
    led = set()
    for name in (name for name in pages if not name.startswith("_")):
        found = help_page(name)
        assert found is not None
        hrefs = re.findall(r'href="([^"]+)"', found["body"])
        led |= {urljoin(f"/help/{name}", href) for href in hrefs if "://" not in href}
    assert {"/help/examples/index.md", "/help/examples/size_range.md"} <= led
    for link in {link.partition("#")[0].removeprefix("/help/") for link in led}:
        assert help_page(link) or figure(link.removeprefix("figures/")), link
    script = table.get("/help/examples/compare_stacks.md").text
    assert "from panelshift import Fabric" in script
    assert "literalinclude" not in script
    for name in ("../pyproject.toml", "conf.py", "none.md", "figures/../conf.py"):
        assert table.get(f"/help/{name}").status_code == 404


@pytest.mark.parametrize(
    ("words", "anchor"),
    [("[stack] and [[stack.fabric]]", "stack-and-stackfabric"), ("[panel.NAME]", "panelname")],
)
def test_anchors_are_those_of_the_site(words: str, anchor: str) -> None:
    assert slug(words) == anchor


@pytest.mark.slow
def test_every_act_on_a_job_says_what_was_done(tmp_path) -> None:
    table = Table(tmp_path, golden_job(tmp_path).name)
    said = {}
    for act in ("keep", "back", "forget", "again", "copy", "redraft", "new", "sample"):
        if act == "again":
            # It is there still.
            assert table.post("/job/again", {}).refused
            table.job.unlink()
        said[act] = table.post(f"/job/{act}", {"name": f"a {act}"}).said
        if act == "again":
            assert table.job.is_file()
    assert said == {
        "keep": "This is A now: change something, and look at A and B.",
        "back": "All is set as in A again; Undo goes back to B.",
        "forget": "A is forgotten.",
        "again": "The job file is in its folder again.",
        "copy": "You now work on a-copy.toml.",
        "redraft": said["redraft"],
        "new": "The table is empty; the job's files are as they were.",
        "sample": "hourglass.toml is on the table: try it, it is yours.",
    }


def test_the_last_three_parcels_are_kept(tmp_path, monkeypatch) -> None:
    monkeypatch.setattr(ParcelMaking, "make", lambda making, turn: None)
    table = Table(tmp_path, golden_job(tmp_path).name)
    numbers = []
    for _ in range(4):
        headers = table._headers() | {"origin": ORIGIN}
        numbers.append(table.ask("POST", "/parcel?part=cut", headers=headers).json()["number"])
    assert [table.get(f"/parcel/{number}").status_code for number in numbers] == [404, *[200] * 3]
