"""The one place that knows tinycss2: CSS text into rules, declarations and values."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

import tinycss2
from tinycss2.ast import Node

from ...errors import SvgError

__all__ = ["Node", "block", "rules", "sheet", "text_of", "values"]

MOST_NESTED: Final = 64
"""Brackets in brackets at most; tinycss2 writes nodes out by recursion, as deep as they are."""

_OPENING: Final = "([{"
_CLOSING: Final = ")]}"


def sheet(text: str) -> list[Node]:
    """Return the rules of a style sheet.

    Raises
    ------
    SvgError
        If brackets are nested too deep.
    """
    found: list[Node] = tinycss2.parse_stylesheet(
        _checked(text), skip_comments=True, skip_whitespace=True
    )
    return found


def rules(content: list[Node]) -> list[Node]:
    """Return the rules inside an at-rule."""
    found: list[Node] = tinycss2.parse_rule_list(content, skip_comments=True, skip_whitespace=True)
    return found


def block(content: str | list[Node]) -> list[Node]:
    """Return the declarations of a rule or of a style attribute.

    Raises
    ------
    SvgError
        If brackets are nested too deep.
    """
    source = _checked(content) if isinstance(content, str) else content
    found: list[Node] = tinycss2.parse_blocks_contents(source)
    return found


def values(text: str) -> list[Node]:
    """Return the values that a property's text is made of, without white space.

    Raises
    ------
    SvgError
        If brackets are nested too deep.
    """
    nodes = tinycss2.parse_component_value_list(_checked(text), skip_comments=True)
    return [node for node in nodes if node.type != "whitespace"]


def text_of(nodes: Iterable[Node]) -> str:
    """Return nodes as CSS text again, trimmed."""
    text: str = tinycss2.serialize(nodes)
    return text.strip()


def _checked(text: str) -> str:
    if sum(text.count(bracket) for bracket in _OPENING) > MOST_NESTED:
        depth = 0
        for character in text:
            if character in _OPENING:
                depth += 1
                if depth > MOST_NESTED:
                    raise SvgError(
                        f"a style in it nests brackets more than {MOST_NESTED} deep",
                        remedy="Save the file again as plain SVG.",
                    )
            elif character in _CLOSING:
                depth = max(0, depth - 1)
    return text
