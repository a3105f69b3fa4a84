"""Nothing is fetched, nothing is run, and nothing of either kind gets into an output."""

from __future__ import annotations

import re
import socket
from pathlib import Path

import pikepdf
import pytest
from click.testing import CliRunner
from lxml import etree, html

from panelshift.cli import main
from panelshift.draft import assemble
from panelshift.sources.svg import read_svg
from tests.support.drawings import half, job_text, panels

ACTIVE = {"script", "foreignObject", "image", "img", "iframe", "handler", "use", "animate", "link"}
"""Elements that no output may hold: each could fetch or run something."""


def hostile_svg(address: str) -> str:
    """Two panels that walk, among everything that a browser would fetch or run."""
    drafts = half(2, names=("front", "back"))
    return f"""<?xml version="1.0"?>
<?xml-stylesheet href="{address}/a.css"?>
<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink"
 xmlns:h="http://www.w3.org/1999/xhtml" xmlns:xi="http://www.w3.org/2001/XInclude"
 width="1000mm" height="1000mm" viewBox="0 0 1000 1000" onload="evil()" xml:base="{address}/">
<script>evil()</script><script href="{address}/a.js"/>
<style>@import url({address}/b.css); @font-face {{ font-family: x; src: url({address}/f.woff) }}
 path {{ fill: url({address}/c.svg#p) }}</style>
<title onclick="evil()">&lt;script&gt;evil()&lt;/script&gt;</title>
<image href="{address}/a.png" width="9" height="9"/>
<image xlink:href="file:///etc/passwd" width="9" height="9"/>
<use href="{address}/d.svg#x"/><use xlink:href="{address}/e.svg#x"/>
<feImage href="{address}/g.png"/><filter id="f"><feImage href="{address}/h.png"/></filter>
<foreignObject width="9" height="9"><h:iframe src="{address}/i.html"/>
 <h:script>evil()</h:script></foreignObject>
<xi:include href="{address}/j.svg"/><xi:include href="file:///etc/passwd" parse="text"/>
<a href="javascript:evil()" onclick="evil()">{panels(drafts)}</a>
<path id="l" onmouseover="evil()" d="M70 150h20" style="mask: url({address}/m.svg#m)"/>
<text x="70" y="250" onclick="evil()">javascript:alert</text>
<handler xmlns="http://www.w3.org/2001/xml-events">evil()</handler>
</svg>"""


@pytest.fixture
def house(tmp_path, monkeypatch):
    """A folder with a job and its drawing, and a door at which anybody may knock."""
    with socket.create_server(("127.0.0.1", 0)) as door:
        door.settimeout(0.2)
        address = f"http://127.0.0.1:{door.getsockname()[1]}"
        (tmp_path / "draft.svg").write_text(hostile_svg(address), encoding="utf-8")
        (tmp_path / "job.toml").write_text(job_text(), encoding="utf-8")
        called: list[object] = []

        def refuse(self: socket.socket, place: object) -> None:
            called.append(place)
            raise OSError("no test goes out of the house")

        monkeypatch.setattr(socket.socket, "connect", refuse)
        yield tmp_path
        assert called == []
        with pytest.raises(TimeoutError):
            door.accept()


def test_reading_fetches_nothing(house) -> None:
    drawing = read_svg(house / "draft.svg")
    pattern = assemble(drawing)
    assert len(pattern.panels) == 2
    reasons = " / ".join(item.reason for item in pattern.left_out)
    assert "a picture is not read" in reasons
    assert "another file" in reasons
    assert "markup that is not SVG is not read" in reasons
    assert any("outside the file" in warning for warning in pattern.warnings)


@pytest.mark.parametrize(
    "command",
    [
        ["check", "draft.svg"],
        ["cut", "job.toml", "--out", "out"],
        ["tile", "job.toml", "--out", "out"],
        ["tile", "draft.svg", "--out", "out"],
        ["fit", "job.toml", "--out", "out"],
        ["new", "draft.svg", "--out", "out/new.toml"],
    ],
    ids=lambda command: " ".join(command[:2]),
)
@pytest.mark.slow
def test_no_command_carries_anything_active_on(house, monkeypatch, command) -> None:
    monkeypatch.chdir(house)
    Path("out").mkdir()
    result = CliRunner().invoke(main, command)
    assert result.exit_code == 0, result.output
    written = [file for file in Path("out").rglob("*") if file.is_file()]
    assert written or command[0] == "check"
    for file in written:
        assert b"root:" not in file.read_bytes()
        {".svg": _check_markup, ".html": _check_markup, ".pdf": _check_pdf}.get(
            file.suffix, _check_text
        )(file)


def _check_markup(file: Path) -> None:
    parse = etree.fromstring if file.suffix == ".svg" else html.fromstring
    for element in parse(file.read_bytes()).iter("*"):
        assert str(element.tag).rpartition("}")[2] not in ACTIVE
        for name, value in element.attrib.items():
            if str(name).startswith("xmlns"):
                continue
            assert not str(name).lower().startswith("on")
            assert "evil" not in str(value)
            assert not re.match(r"(?i)\s*(javascript|https?|file|data):", str(value))
        if element.tag == "style":
            assert not re.search(r"(?i)@import|url\s*\(|evil", element.text or "")


def _check_pdf(file: Path) -> None:
    with pikepdf.open(file) as document:
        assert "/OpenAction" not in document.Root
        assert "/AA" not in document.Root
        for item in document.objects:
            if isinstance(item, pikepdf.Dictionary):
                assert not {"/JS", "/URI", "/Launch", "/EF", "/JavaScript"} & set(item.keys())


def _check_text(file: Path) -> None:
    assert file.suffix in (".json", ".toml", ".csv")
    assert "\x1b" not in file.read_text(encoding="utf-8")
