"""The project's own pages and its sample, from this machine: help that needs no network."""

from __future__ import annotations

import re
from collections.abc import Sequence
from functools import cache
from typing import Any, Final

from markdown_it import MarkdownIt
from markdown_it.token import Token

from ..files.shipped import home

_FIGURES: Final = {".svg": "image/svg+xml", ".png": "image/png"}

_NAME: Final = re.compile(r"(examples/)?[a-z0-9_-]+\.md")
_INCLUDED: Final = re.compile(
    r"^```\{literalinclude\} ([a-z0-9_]+\.(?:py|txt))\n.*?^```\n", re.M | re.S
)
_FOR_BUILDERS: Final = re.compile(r"^<!--.*?-->\n|^```\{\w+\}\n.*?^```\n", re.MULTILINE | re.DOTALL)
"""Notes to tests, and lists of pages for the site: no reader's business."""

_FIGURE: Final = re.compile(r"[a-z0-9_-]+\.(svg|png)")


def figure(name: str) -> tuple[bytes, str] | None:
    """A figure of the pages and its type; None if there is none of that name."""
    place = home("docs")
    if place is None or not _FIGURE.fullmatch(name) or not (place / "figures" / name).is_file():
        return None
    return (place / "figures" / name).read_bytes(), _FIGURES[name[name.rfind(".") :]]


def help_page(name: str) -> dict[str, str] | None:
    """A page's title and its body as HTML; None if there is none of that name."""
    place = home("docs")
    if place is None or not _NAME.fullmatch(name) or not (place / name).is_file():
        return None
    page = place / name

    def included(found: re.Match[str]) -> str:
        return f"```\n{(page.parent / found.group(1)).read_text(encoding='utf-8')}```\n"

    text = _INCLUDED.sub(included, page.read_text(encoding="utf-8"))
    text = _FOR_BUILDERS.sub("", text)
    tokens = _reader().parse(text)
    title = name
    for at, token in enumerate(tokens):
        if token.type == "heading_open":
            words = tokens[at + 1].content
            token.attrSet("id", slug(words))
            if token.tag == "h1":
                title = words
        _lead_here(token.children or ())
    return {"title": title, "body": _reader().renderer.render(tokens, _reader().options, {})}


@cache
def _reader() -> Any:
    # No HTML of a page's own: what is shown is what markdown says.
    return MarkdownIt("commonmark", {"html": False}).enable("table")


def _lead_here(tokens: Sequence[Token]) -> None:
    """Links to other pages and figures lead to where this server has them; others are none.

    The reference of names is made by the site's builder, which need not be here.
    """
    away = False
    for token in tokens:
        for key in ("href", "src"):
            found = token.attrGet(key)
            if isinstance(found, str) and found.removeprefix("../").startswith("figures/"):
                token.attrSet(key, f"/help/{found.removeprefix('../')}")
        if token.type == "link_open":
            away = str(token.attrGet("href")).endswith(".rst")
        if away and token.type in ("link_open", "link_close"):
            away = token.type == "link_open"
            token.type, token.content = "text", ""


def slug(words: str) -> str:
    """The anchor of a heading, as documentation builders make it.

    Examples
    --------
    >>> slug("The body, if you know more of it")
    'the-body-if-you-know-more-of-it'
    """
    plain = re.sub(r"[^\w\- ]", "", words.lower())
    return plain.strip().replace(" ", "-")
