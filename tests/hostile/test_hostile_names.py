"""Names that are paths, markup, control characters or far too long."""

from __future__ import annotations

import csv
import io
import json
import re
from pathlib import Path

import pytest
from click.testing import CliRunner
from hypothesis import given, strategies as st
from lxml import etree

from panelshift.cli import main
from panelshift.files import safe_name
from panelshift.files.one_line import MOST_LETTERS, collapsed
from panelshift.job import cut, read_job, resolve
from panelshift.sources.svg import read_svg
from tests.support.drawings import Draft, half, svg

NAMES = {
    "up": "../../../../tmp/evil",
    "absolute": "/etc/passwd",
    "drive": "C:\\windows\\evil",
    "device": "con",
    "dots": "..",
    "hidden": ".bashrc",
    "option": "--overwrite",
    "markup": "<script>alert(1)</script>",
    "attribute": '" onload="evil()" x=\'',
    "entity": "&lt;b&gt; &#x3c; &amp;",
    "cdata": "]]><g onload='evil()'>",
    "comment": "--><script>",
    "newline": "a\nb\r\tc",
    "terminal": "a\x9b2Jb\x85c",
    "bidi": "abc\u202efdp.gvs",
    "zero width": "a\u200bb\ufeffc",
    "long": "x" * 100_000,
    "wide": "ﷺ" * 500,
    "combining": "a" + "\u0301" * 5000,
    "kanji": "前身頃",
    "emoji": "👗 front",
    "percent": "%s%n%2e%2e%2f",
    "template": "{{7*7}} ${HOME} $(reboot) `id`",
    "quote": 'it\'s "it"',
    "spaces": "   ",
    "nothing": "\u200b",
}

MOST_TELLING = [
    pytest.param(
        name,
        id=kind,
        marks=()
        if kind in ("up", "markup", "attribute", "entity", "terminal", "long", "template")
        else pytest.mark.slow,
    )
    for kind, name in NAMES.items()
]
"""One name for each way out of a page, a template, a path or a line; the others are slow."""

RECORD = ".panelshift-written.json"
"""What the commands note of the files that they wrote."""

SAFE_FILE = re.compile(r"[a-z0-9]+(-[a-z0-9]+)*\.svg")
LIST = "cutting-list.csv"


def escaped(name: str) -> str:
    for character, word in (("&", "&amp;"), ("<", "&lt;"), (">", "&gt;"), ('"', "&quot;")):
        name = name.replace(character, word)
    return "".join(c if c >= " " else f"&#{ord(c)};" for c in name)


def toml(name: str) -> str:
    # JSON's own escapes, but one for each character: TOML has no pairs.
    text = json.dumps(name, ensure_ascii=False)
    return "".join(f"\\u{ord(c):04x}" if "\x7f" <= c <= "\x9f" else c for c in text)


def job_with(folder: Path, *, panel: str = "front", fabrics: tuple[str, ...] = ("lining",)) -> Path:
    first, second = half(2, names=("one", "back"))
    body = f'<path id="{escaped(panel)}" d="{first.data}"/>' + first.line(over=0.5) + second.panel()
    label = f'<text x="{first.x + 5}" y="{first.y + 30}" font-size="5">{escaped(panel)}</text>'
    (folder / "draft.svg").write_text(svg(body + label), encoding="utf-8")
    stack = "".join(f"[[stack.fabric]]\nname = {toml(name)}\nthickness = 0.4\n" for name in fabrics)
    job = folder / "job.toml"
    title = toml(collapsed(panel)[:MOST_LETTERS])
    job.write_text(f'[pattern]\nfile = "draft.svg"\ntitle = {title}\n{stack}', encoding="utf-8")
    return job


def drawings(folder: Path) -> list[Path]:
    check_list((folder / LIST).read_text(encoding="utf-8-sig"))
    return [path for path in folder.iterdir() if path.name not in (RECORD, LIST)]


def check_list(text: str) -> None:
    """A table without control characters, in which no cell is a formula to a spreadsheet."""
    assert not re.search("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f]", text)
    for row in csv.reader(io.StringIO(text)):
        assert not any(cell.startswith(("=", "+", "-", "@")) for cell in row)


def check_svg(content: bytes) -> None:
    """A file that is well formed, holds nothing active, and can be read back."""
    root = etree.fromstring(content)
    tags = {etree.QName(element).localname for element in root.iter("*")}
    assert tags <= {"svg", "g", "path", "text", "tspan", "title", "desc", "metadata", "defs"}
    for element in root.iter("*"):
        assert not any(str(name).lower().startswith("on") for name in element.attrib)
        for value in (*element.attrib.values(), element.text or ""):
            assert not re.search("[\x00-\x08\x0b-\x1f\x7f-\x9f]", str(value))
    idents = [element.get("id") for element in root.iter("*") if element.get("id")]
    assert len(idents) == len(set(idents))
    read_svg(content)


@pytest.mark.slow
@pytest.mark.parametrize("name", MOST_TELLING)
def test_panel_names(tmp_path, name) -> None:
    result = cut(resolve(read_job(job_with(tmp_path, panel=name))))
    for file, content in result.drawings.items():
        assert SAFE_FILE.fullmatch(file)
        check_svg(content)
    check_list(result.files[LIST].decode())


@pytest.mark.parametrize("name", MOST_TELLING)
@pytest.mark.slow
def test_panel_names_on_the_command_line(tmp_path, monkeypatch, name) -> None:
    monkeypatch.chdir(tmp_path)
    job_with(tmp_path, panel=name)
    result = CliRunner().invoke(main, ["cut", "job.toml", "--out", "out"])
    assert result.exit_code == 0, result.output
    assert not re.search("[\x00-\x08\x0b-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069]", result.output)
    assert {path.name for path in tmp_path.iterdir()} == {"draft.svg", "job.toml", "out"}
    assert all(path.is_file() for path in Path("out").iterdir())
    assert all(SAFE_FILE.fullmatch(path.name) for path in drawings(Path("out")))


@pytest.mark.parametrize("name", MOST_TELLING)
@pytest.mark.slow
def test_fabric_names(tmp_path, monkeypatch, name) -> None:
    monkeypatch.chdir(tmp_path)
    job_with(tmp_path, fabrics=(name, "coutille"))
    result = CliRunner().invoke(main, ["cut", "job.toml", "--out", "out"])
    # A name may be refused, but never makes anything other than a plain file in the folder.
    assert not re.search("[\x00-\x08\x0b-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069]", result.output)
    if result.exit_code == 0:
        for path in drawings(Path("out")):
            assert SAFE_FILE.fullmatch(path.name)
            assert len(path.name) < 120
            check_svg(path.read_bytes())
    else:
        assert "What to do" in result.output
        assert len(result.output) < 3000


@pytest.mark.slow
def test_names_that_become_one_file_name_stay_apart(tmp_path) -> None:
    fabrics = ("Seide!", "seide?", "SEIDE", "../seide", "s\u00e9ide", "前", "身")
    result = cut(resolve(read_job(job_with(tmp_path, fabrics=fabrics))))
    assert len(result.drawings) == len(fabrics) + 1
    assert result.files.keys() == {*result.drawings, LIST}
    assert len({name.lower() for name in result.files}) == len(result.files)


def test_panel_names_that_look_alike_get_idents_of_their_own(tmp_path) -> None:
    names = ("a b", "a-b", "A_B", "a  b!")
    drafts = half(4, names=("w", "x", "y", "z"))
    body = "".join(
        f'<path id="{name}" d="{draft.data}"/>' + draft.line(over=0.5)
        for name, draft in zip(names, drafts, strict=True)
    )
    (tmp_path / "draft.svg").write_text(svg(body), encoding="utf-8")
    (tmp_path / "job.toml").write_text(
        '[pattern]\nfile = "draft.svg"\n[[stack.fabric]]\nname = "l"\nthickness = 0.4\n'
    )
    for content in cut(resolve(read_job(tmp_path / "job.toml"))).drawings.values():
        check_svg(content)


@pytest.mark.parametrize("attribute", ["id", "class", "data-panel", "aria-label", "data-level"])
def test_names_of_a_drawing_are_short_and_plain(attribute) -> None:
    for name in NAMES.values():
        line = f'<line {attribute}="{escaped(name)}" x2="3"/>'
        (shape,) = read_svg(svg(f"<g id='{'g' * 5000}'>{line}</g>").encode()).shapes
        for word in (*shape.names, *shape.groups, *shape.data, *shape.data.values()):
            assert len(word) <= MOST_LETTERS
            assert word.isprintable()


@given(st.text())
def test_any_text_becomes_one_printable_line(text) -> None:
    assert collapsed(text).isprintable()
    assert collapsed(collapsed(text)) == collapsed(text)


@given(st.text(max_size=200))
def test_any_text_becomes_a_safe_file_name(text) -> None:
    assert re.fullmatch(r"[a-z0-9]+(-[a-z0-9]+)*", safe_name(text))
    assert len(safe_name(text)) <= 60


def test_draft_data_is_what_the_tests_say_it_is() -> None:
    # The helper above draws the outline under another name; it must be the same outline.
    draft = Draft("one")
    assert draft.data.startswith("M")
    assert draft.data.endswith("Z")
