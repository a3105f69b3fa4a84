"""The documentation as a site: built offline without a warning, and whole.

The build needs the extra ``docs``: pip install '.[docs]'.
"""

from __future__ import annotations

import re
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Any, Literal, get_args, get_origin
from urllib.parse import unquote, urlsplit

import click
import pytest
from lxml import html
from pydantic import BaseModel

import panelshift
from panelshift.cli import main
from panelshift.job import JobFile
from tests.docs.doc_pages import DOCS, ROOT

for needed in ("sphinx", "myst_parser", "furo", "numpydoc", "sphinx_click"):
    pytest.importorskip(needed, reason=f"{needed} is not installed: pip install 'panelshift[docs]'")

LOADING = {
    "script": "src",
    "img": "src",
    "iframe": "src",
    "source": "src",
    "embed": "src",
    "object": "data",
    "use": "href",
}
"""Elements whose attribute makes a browser load something, beside `link`."""


@dataclass(frozen=True)
class Site:
    """The built pages."""

    folder: Path

    @cached_property
    def pages(self) -> dict[Path, Any]:
        """Every page's tree by its path."""
        return {path: html.parse(path).getroot() for path in self.folder.rglob("*.html")}

    @cached_property
    def anchors(self) -> dict[Path, set[str]]:
        """All ids of every page."""
        return {path: set(root.xpath("//@id")) for path, root in self.pages.items()}

    def loads(self) -> Iterator[tuple[Path, str]]:
        """Everything that a browser loads for a page, with the page."""
        for path, root in self.pages.items():
            for element in root.iter(*LOADING, "link"):
                if element.tag == "link":
                    # The others, such as next and prev, are only for following.
                    kinds = {"stylesheet", "icon", "preload", "prefetch", "manifest", "shortcut"}
                    if kinds & set(element.get("rel", "").split()):
                        yield path, element.get("href")
                elif element.get(LOADING[element.tag]) is not None:
                    yield path, element.get(LOADING[element.tag])


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Site:
    """Build the site, every warning an error."""
    folder = tmp_path_factory.mktemp("site")
    build = ["-W", "--keep-going", "-n", "-q", "-b", "html", "-d", str(folder / "trees")]
    done = subprocess.run(
        [sys.executable, "-m", "sphinx", *build, str(DOCS), str(folder / "html")],
        capture_output=True,
        text=True,
        cwd=ROOT,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    return Site(folder / "html")


@pytest.mark.slow
def test_every_page_of_the_folder_is_in_the_site(site: Site) -> None:
    sources = [
        path.relative_to(DOCS)
        for kind in ("*.md", "*.rst")
        for path in DOCS.rglob(kind)
        if "_build" not in path.parts
    ]
    assert len(sources) > 20
    for source in sources:
        assert (site.folder / source.with_suffix(".html")).is_file(), source


@pytest.mark.slow
def test_internal_links_and_anchors_resolve(site: Site) -> None:
    broken, seen = [], 0
    for path, root in site.pages.items():
        for target in root.xpath("//a/@href"):
            parts = urlsplit(target)
            if parts.scheme or parts.netloc:
                continue
            seen += 1
            other = (path.parent / unquote(parts.path)).resolve() if parts.path else path
            anchor = unquote(parts.fragment)
            if not other.is_file() or (anchor and anchor not in site.anchors[other]):
                broken.append(f"{path.name}: {target}")
    assert seen > 1000
    assert broken == []


@pytest.mark.slow
def test_nothing_is_loaded_from_outside_and_no_file_is_missing(site: Site) -> None:
    faults, images = [], 0
    for path, target in site.loads():
        parts = urlsplit(target)
        images += parts.path.endswith(".svg")
        if parts.scheme == "data" or not (parts.netloc or parts.path):
            continue
        if parts.scheme or parts.netloc:
            faults.append(f"{path.name} loads {target}")
        elif not (path.parent / unquote(parts.path)).is_file():
            faults.append(f"{path.name}: {target} is missing")
    for sheet in site.folder.rglob("*.css"):
        text = sheet.read_text(encoding="utf-8")
        faults += [
            f"{sheet.name} loads {found}"
            for found in re.findall(r"url\(\s*[\"']?((?:https?:)?//[^)\s]+)|@import[^;]+", text)
        ]
    assert images >= 8
    assert faults == []


@pytest.mark.slow
def test_every_public_name_is_in_the_reference(site: Site) -> None:
    entries = {
        anchor
        for path, anchors in site.anchors.items()
        if path.parent.name == "reference"
        for anchor in anchors
    }
    assert [name for name in panelshift.__all__ if f"panelshift.{name}" not in entries] == []


@pytest.mark.slow
def test_every_error_is_in_the_reference(site: Site) -> None:
    from panelshift import errors

    page = site.anchors[site.folder / "reference" / "errors.html"]
    kinds = [
        name
        for name, kind in vars(errors).items()
        if isinstance(kind, type) and issubclass(kind, errors.PanelshiftError)
    ]
    assert len(kinds) > 10
    for name in kinds:
        assert {f"panelshift.errors.{name}", f"panelshift.{name}"} & page, name


@pytest.mark.slow
def test_every_command_and_option_is_in_the_reference(site: Site) -> None:
    words = site.pages[site.folder / "reference" / "command-line.html"].text_content()
    assert len(main.commands) >= 7
    for name, command in main.commands.items():
        assert f"panelshift {name} [OPTIONS]" in words
        for option in command.params:
            if isinstance(option, click.Option):
                assert option.opts[0] in words, f"{name} {option.opts[0]}"


def job_keys(model: type[BaseModel], path: tuple[str, ...] = ()) -> Iterator[tuple[str, ...]]:
    """Dotted keys of the job file, without the names that makers choose."""
    for name, field in model.model_fields.items():
        own = (*path, field.alias or name)
        yield own
        for table in _models(field.annotation):
            yield from job_keys(table, own)
        for key in _literal_keys(field.annotation):
            yield (*own, key)


def _models(kind: Any) -> Iterator[type[BaseModel]]:
    if isinstance(kind, type) and issubclass(kind, BaseModel):
        yield kind
    for part in get_args(kind):
        yield from _models(part)


def _literal_keys(kind: Any) -> tuple[str, ...]:
    arguments = get_args(kind)
    if get_origin(kind) is dict and get_origin(arguments[0]) is Literal:
        return get_args(arguments[0])
    return ()


def sections() -> dict[str, str]:
    """The page of the job file by the tables that its headings name."""
    text = (DOCS / "job-file.md").read_text(encoding="utf-8")
    result = {}
    for heading, body in re.findall(r"^## (.*)\n((?:(?!^## ).*\n)*)", text, re.MULTILINE):
        for table in re.findall(r"\[+([\w.]+)\]+", heading):
            result[table.removesuffix(".NAME")] = body
    return result


@pytest.mark.parametrize("key", sorted(set(job_keys(JobFile))), ids=".".join)
def test_every_key_of_the_job_file_is_described(key: tuple[str, ...]) -> None:
    described = sections()
    if ".".join(key) in described:
        return
    tables = [
        name
        for size in range(len(key) - 1, 0, -1)
        for name in (".".join(key[:size]), key[size - 1])
        if name in described
    ]
    code = " ".join(re.findall(r"`([^`]+)`", described[tables[0]]))
    assert re.search(rf"(?<![\w.]){re.escape(key[-1])}(?!\w)", code), tables[0]


def test_rows_of_the_job_file_are_keys_and_none_has_two() -> None:
    known = {key[-1] for key in job_keys(JobFile)}
    rows = 0
    for name, body in sections().items():
        heads = re.findall(r"^\| (`[^|]+`) \|", body, re.MULTILINE)
        keys = [key for head in heads for key in re.findall(r"`(\w+)`", head)]
        assert keys == list(dict.fromkeys(keys)), name
        assert set(keys) <= known, name
        rows += len(keys)
    assert rows > 90


def test_the_walk_over_the_job_file_finds_its_keys() -> None:
    keys = set(job_keys(JobFile))
    assert {
        ("pattern", "file"),
        ("stack", "fabric", "thickness"),
        ("stack", "fabric", "allowance", "seam"),
        ("stack", "measured", "distance"),
        ("panel", "class"),
        ("panel", "corners", "back_bottom"),
        ("body", "factors", "side"),
        ("fit", "busk"),
    } <= keys
    assert len(keys) > 50
