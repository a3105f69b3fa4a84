"""The layout that DEVELOPERS.md shows is the tree."""

from __future__ import annotations

import ast
import re
import tomllib
from pathlib import Path

import pytest
from click.testing import CliRunner

from panelshift.cli import main
from panelshift.files import shipped
from tests.docs.doc_pages import DOCS, ROOT

PACKAGE = ROOT / "panelshift"
ENTRY = {"__init__", "__main__", "version"}
_ROW = re.compile(r"^\| `(\w+)` \| (.*) \|$", re.MULTILINE)


def test_pages_that_the_code_names_are_there() -> None:
    named = set()
    for path in PACKAGE.rglob("*.py"):
        text = path.read_text(encoding="utf-8")
        named |= set(re.findall(r"docs/([\w-]+)\.md|guide\(['\"]([\w-]+)['\"]\)", text))
    pages = {a or b for a, b in named}
    assert {"job-file", "batch", "swatches"} <= pages
    assert [page for page in sorted(pages) if not (DOCS / f"{page}.md").is_file()] == []


def test_a_room_shows_all_that_its_first_page_takes_from_its_modules() -> None:
    told = 0
    for path in PACKAGE.rglob("__init__.py"):
        tree = ast.parse(path.read_text(encoding="utf-8"))
        shown = [
            ast.literal_eval(node.value)
            for node in tree.body
            if isinstance(node, ast.Assign) and ast.unparse(node.targets[0]) == "__all__"
        ]
        if not shown or path.parent == PACKAGE:
            continue
        taken = {
            name.name
            for node in tree.body
            if isinstance(node, ast.ImportFrom) and node.module != "__future__"
            for name in node.names
        }
        told += 1
        # Constants, then classes, then functions.
        by_kind = sorted(taken, key=lambda name: (not name.isupper(), not name[0].isupper(), name))
        assert shown[0] == by_kind, path
    assert told > 10


def test_an_installed_copy_names_pages_by_their_whole_path(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert shipped.guide("job-file") == "docs/job-file.md"
    folder = tmp_path / "share" / "panelshift" / "docs"
    folder.mkdir(parents=True)
    monkeypatch.setattr(shipped, "_COPY", dict.fromkeys(shipped._COPY, tmp_path / "none"))
    monkeypatch.setattr(shipped.sysconfig, "get_path", lambda name, scheme: str(tmp_path))
    shipped.home.cache_clear()
    try:
        assert shipped.guide("job-file") == str(folder / "job-file.md")
        assert f"\n  {folder}\n" in CliRunner().invoke(main, ["--help"]).output
    finally:
        shipped.home.cache_clear()


def rows() -> dict[str, str]:
    """What the table says of each room."""
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    return dict(_ROW.findall(text))


def is_package(path: Path) -> bool:
    return (path / "__init__.py").exists()


def test_every_room_has_a_row_and_every_row_a_room() -> None:
    packages = {path.name for path in PACKAGE.iterdir() if is_package(path)}
    modules = {path.stem for path in PACKAGE.glob("*.py")} - ENTRY
    assert set(rows()) == packages | modules


@pytest.mark.parametrize("room", sorted(rows()))
def test_a_row_names_the_modules_of_its_room(room: str) -> None:
    home = PACKAGE / room
    modules = {path.stem for path in home.rglob("*.py")} - {"__init__"}
    folders = {path.name for path in home.glob("*") if path.is_dir()} - {"__pycache__"}
    named = re.findall(r"`([a-z_]+)`", rows()[room])
    assert sorted(named) == sorted(modules | folders)


def test_rows_stand_in_the_order_of_the_contract() -> None:
    text = (ROOT / "pyproject.toml").read_text(encoding="utf-8")
    layers = re.search(r'type = "layers"\nlayers = \[\n(.*?)\n\]', text, re.DOTALL)
    assert layers is not None
    levels = [re.findall(r"panelshift\.(\w+)", line) for line in layers[1].splitlines()]
    level_of = {room: level for level, rooms in enumerate(levels) for room in rooms}
    assert set(level_of) == set(rows())
    found = [level_of[room] for room in rows()]
    assert found == sorted(found)


def test_the_citation_is_of_this_release() -> None:
    # Citation File Format 1.2.0: the keys that are required, and those that pyproject.toml has too.
    yaml = pytest.importorskip("yaml", reason="PyYAML comes with the docs extra")
    cited = yaml.safe_load((DOCS / "CITATION.cff").read_text(encoding="utf-8"))
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    assert cited["cff-version"] == "1.2.0"
    assert cited["message"]
    assert cited["authors"]
    assert cited["title"] == project["name"]
    assert str(cited["version"]) == project["version"]
    for key in ("license", "keywords"):
        assert cited[key] == project[key]
