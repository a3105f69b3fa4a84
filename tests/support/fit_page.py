"""A fit sheet taken apart: its tables by caption, its checks as a document."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from html.parser import HTMLParser

from lxml import html

VOID = frozenset({"meta", "br", "hr", "img", "input", "link", "wbr", "col", "source"})


@dataclass(frozen=True)
class Table:
    """Heads without the corner, and cells by row name."""

    corner: str
    heads: tuple[str, ...]
    rows: dict[str, tuple[str, ...]]

    def cells(self) -> Iterator[tuple[str, str, str]]:
        """Row name, column head and text of every cell."""
        for row, texts in self.rows.items():
            for head, text in zip(self.heads, texts, strict=True):
                yield row, head, text


def tables(page: bytes) -> dict[str, Table]:
    """All tables of a page; parts of one that was too wide are put together again."""
    result: dict[str, Table] = {}
    for element in html.fromstring(page.decode()).iter("table"):
        caption = words(element.find("caption"))
        heads = [words(cell) for cell in element.find("thead").iter("th")]
        rows = {}
        for row in element.find("tbody").iter("tr"):
            name, *cells = (words(cell) for cell in row)
            assert name not in rows, (caption, name)
            assert len(cells) == len(heads) - 1, (caption, name)
            rows[name] = tuple(cells)
        found = Table(heads[0], tuple(heads[1:]), rows)
        whole = caption.removesuffix(" (continued)")
        if whole != caption:
            first = result[whole]
            assert first.rows.keys() == rows.keys()
            found = Table(
                first.corner,
                first.heads + found.heads,
                {name: first.rows[name] + rows[name] for name in rows},
            )
        else:
            assert caption not in result, caption
        result[whole] = found
    return result


def words(element: html.HtmlElement) -> str:
    return " ".join(element.text_content().split())


class _Strict(HTMLParser):
    """Collects what is wrong with the nesting of tags and with ids."""

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.faults: list[str] = []
        self.ids: list[str] = []
        self.wanted: list[str] = []
        self.tags: list[str] = []
        self.addresses: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        if tag not in VOID:
            self.open.append(tag)
        names = [name for name, _ in attrs]
        if len(set(names)) != len(names):
            self.faults.append(f"{tag}: an attribute twice")
        for name, value in attrs:
            if name == "id":
                self.ids.append(value or "")
            elif name == "aria-labelledby":
                self.wanted += (value or "").split()
            elif name in ("src", "href", "xlink:href", "action", "data", "srcset", "poster"):
                self.addresses.append(value or "")
            elif name.startswith("on"):
                self.faults.append(f"{tag}: {name}")

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.handle_starttag(tag, attrs)
        if tag not in VOID:
            self.open.pop()

    def handle_endtag(self, tag: str) -> None:
        if not self.open or self.open[-1] != tag:
            self.faults.append(f"</{tag}> closes {self.open[-1:]}")
        else:
            self.open.pop()


def strictly(page: bytes) -> _Strict:
    """Parse a page and note every fault of nesting, ids and references."""
    parser = _Strict()
    parser.feed(page.decode())
    parser.close()
    parser.faults += [f"<{tag}> is never closed" for tag in parser.open]
    parser.faults += [f"id {name!r} twice" for name in parser.ids if parser.ids.count(name) > 1]
    parser.faults += [f"no id {name!r}" for name in parser.wanted if name not in parser.ids]
    return parser
