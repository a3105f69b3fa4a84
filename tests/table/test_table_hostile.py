"""Uploads that are made to break a reader or a page: nothing runs, nothing falls over."""

from __future__ import annotations

import gzip
import time

import pytest
from hypothesis import HealthCheck, given, settings, strategies as st

from panelshift.sources.svg.document import MOST_ATTRIBUTES, MOST_BYTES
from tests.hostile.test_hostile_names import MOST_TELLING, escaped
from tests.hostile.test_hostile_outside import hostile_svg
from tests.support.drawings import half, panels, svg
from tests.support.examples import examples, thinned

from .client import Answer, Table, tree

NAMESPACE = 'xmlns="http://www.w3.org/2000/svg"'
PAGE = f'<svg {NAMESPACE} width="9mm" height="9mm">'
ROWS = "".join(f'<!ENTITY e{k} "{f"&e{k - 1};" * 10}">' for k in range(1, 12))

UPLOADS = {
    "entity bomb": f'<!DOCTYPE svg [<!ENTITY e0 "ha">{ROWS}]>{PAGE}<text>&e11;</text></svg>',
    "outside entity": f'<!DOCTYPE svg [<!ENTITY x SYSTEM "file:///etc/passwd">]>{PAGE}&x;</svg>',
    "depth": PAGE + "<g>" * 100_000,
    "attributes": PAGE
    + "<path "
    + " ".join(f'a{k}="1"' for k in range(MOST_ATTRIBUTES + 9))
    + "/>",
    "nothing": "",
    "nulls": b"\x00" * 1000,
    "bytes": bytes(range(256)) * 20,
    "page": "<!doctype html><script>alert(1)</script>",
    "packed bomb": gzip.compress(PAGE.encode()) + gzip.compress(b" " * 2**20) * 64,
    "damaged": gzip.compress(PAGE.encode())[:20],
    "uses": PAGE + '<g id="a">' + '<use href="#a"/>' * 50 + "</g></svg>",
    "no panel": PAGE + '<path d="M0 0L5 5"/></svg>',
    "not finite": PAGE + '<path id="bad" d="M0 0L10 1e999"/></svg>',
    "many curves": PAGE + '<path d="M0 0' + "L1 1L0 0" * 20_000 + '"/></svg>',
}


@pytest.fixture
def table(tmp_path) -> Table:
    return Table(tmp_path)


OWN = ("#", "/static/", "/help/", "/parcel.zip", "/strips.pdf", "/cards.pdf")
"""Where the page's links may lead: to itself, and to what the server hands out."""


def harmless(answer: Answer) -> None:
    """Hold that a page runs nothing that it does not bring along itself."""
    page = tree(answer.text)
    assert not page.xpath("//script[not(starts-with(@src, '/static/'))] | //style | //*[@style]")
    assert not page.xpath("//iframe | //object | //embed | //foreignobject | //image | //img")
    assert not page.xpath("//animate | //set | //handler")
    for attribute in page.xpath("//@*"):
        assert not str(attribute.attrname).lower().startswith("on")
        if attribute.attrname.split(":")[-1] in ("href", "src", "action"):
            assert attribute.startswith(OWN), attribute


READABLE = ("no panel", "many curves")
"""Drawings all the same: what is missing is shown on them, to be mended."""


@pytest.mark.slow
@pytest.mark.parametrize("kind", thinned(UPLOADS))
def test_a_hostile_upload_is_refused_in_words(table, kind) -> None:
    content = UPLOADS[kind]
    begin = time.process_time()
    answer = table.drop("x.svg", content if isinstance(content, bytes) else content.encode())
    assert time.process_time() - begin < 10.0
    if kind in READABLE:
        assert "x.svg is on the table; something in it is open" in answer.said
        assert "no waistline found" in answer.text
    else:
        assert "x.svg was not taken" in answer.text
    assert "Traceback" not in answer.text
    assert "root:" not in answer.text
    harmless(answer)
    # It goes on answering, and takes the next one.
    good = table.drop("good.svg", svg(panels(half(2))).encode())
    assert "2 panels read" in good.said


def test_the_largest_upload_is_answered(table) -> None:
    answer = table.drop("big.svg", PAGE.encode() + b" " * (MOST_BYTES - 200))
    assert "was not taken" in answer.text
    headers = {"cookie": f"panelshift-table-8765={table.cookies['panelshift-table-8765']}"}
    headers["origin"] = "http://127.0.0.1:8765"
    files = {"pattern": ("big.svg", b" " * (MOST_BYTES + 200_000))}
    assert table.ask("POST", "/pattern", files=files, headers=headers).status_code == 413


@pytest.mark.slow
def test_a_drawing_full_of_scripts_draws_panels_and_runs_nothing(table) -> None:
    answer = table.drop("evil.svg", hostile_svg("http://evil.example").encode())
    assert "look-picture" in answer.text, answer.text[:3000]
    harmless(answer)
    # What was not read is told in words; no address leads there.
    assert not tree(answer.text).xpath("//@*[contains(., 'evil.example')]")
    for name in ("lining", "strength layer", "fashion fabric"):
        answer = table.edit("fabric", {"fabric": name, "key": "thickness", "value": "0.3"})
        harmless(answer)
    harmless(Answer(table.get("/look")))
    harmless(Answer(table.get("/tables")))


@pytest.mark.slow
@pytest.mark.parametrize("name", thinned(MOST_TELLING))
def test_strange_names_of_panels_layers_and_files(tmp_path, name) -> None:
    folder = tmp_path / "inside"
    folder.mkdir()
    table = Table(folder)
    text = panels(half(2)).replace('id="', f'id="{escaped(name[:3000])}', 1)
    answer = table.drop("x.svg", svg(text).encode())
    harmless(answer)
    table.session.take_pattern(name, svg(text).encode())
    assert sorted(path.name for path in tmp_path.iterdir()) == ["inside"]
    answer = table.edit("add", {"name": name[:100], "thickness": "0.3"}, of="add-form")
    harmless(answer)
    harmless(table.edit("setting", {"place": "pattern.title", "value": name[:500]}, of="title"))
    for path in ("/", "/look", "/tables", "/section"):
        harmless(Answer(table.get(path)))


@pytest.mark.slow
@given(st.binary(max_size=300) | st.text(max_size=300).map(lambda t: f"{PAGE}{t}</svg>".encode()))
@settings(max_examples=10, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_any_bytes(tmp_path, content) -> None:
    table = Table(tmp_path)
    harmless(table.drop("x.svg", content))


@pytest.mark.slow
@given(
    st.dictionaries(
        st.sampled_from(
            ["fabric", "key", "value", "place", "to", "name", "panel", "model"]
            + ["seam", "edge", "way", "at hip", "height", "height_amount", "between"]
        ),
        st.text(max_size=40),
    ),
    st.sampled_from(
        [
            "fabric",
            "move",
            "setting",
            "class",
            "body",
            "girth",
            "add",
            "remove",
            "rename",
            "reading",
            "unread",
            "alter",
            "unalter",
            "gore",
            "x",
        ]
    ),
)
@examples(8)
def test_any_form(tmp_path_factory, fields, kind) -> None:
    """Whatever a form holds, the answer is a page and the job on the disk is sound."""
    from panelshift.job import read_job

    from .client import sample

    table = sample(tmp_path_factory.mktemp("form"))
    harmless(table.edit(kind, fields, of="x"))
    read_job(table.job)
