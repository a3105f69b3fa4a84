"""The project's own pages and its sample, from this machine: help that needs no network."""

from __future__ import annotations

import re
from functools import cache
from typing import Any, Final

from markdown_it import MarkdownIt
from markdown_it.token import Token

from ..files.shipped import home

_FIGURES: Final = {".svg": "image/svg+xml", ".png": "image/png"}

_NAME: Final = re.compile(r"[a-z0-9-]+\.md")
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
    text = _FOR_BUILDERS.sub("", (place / name).read_text(encoding="utf-8"))
    tokens = _reader().parse(text)
    title = name
    for at, token in enumerate(tokens):
        if token.type == "heading_open":
            words = tokens[at + 1].content
            token.attrSet("id", slug(words))
            if token.tag == "h1":
                title = words
        for child in token.children or ():
            _lead_here(child)
    return {"title": title, "body": _reader().renderer.render(tokens, _reader().options, {})}


@cache
def _reader() -> Any:
    # No HTML of a page's own: what is shown is what markdown says.
    return MarkdownIt("commonmark", {"html": False}).enable("table")


def _lead_here(token: Token) -> None:
    """Links to other pages and figures lead to where this server has them."""
    for key in ("href", "src"):
        found = token.attrGet(key)
        if isinstance(found, str) and found.startswith("figures/"):
            token.attrSet(key, f"/help/{found}")


def slug(words: str) -> str:
    """The anchor of a heading, as documentation builders make it.

    Examples
    --------
    >>> slug("The body, if you know more of it")
    'the-body-if-you-know-more-of-it'
    """
    plain = re.sub(r"[^\w\- ]", "", words.lower())
    return plain.strip().replace(" ", "-")
