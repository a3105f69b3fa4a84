"""The cascade: style sheets and style attributes, for the few properties that move lines.

Selectors are matched once for the whole file. Rules apply as on a screen: those in
``@media all`` and ``@media screen`` do (the latter with a warning, since a printer would
not use them), those in ``@media print`` do not (with a warning as well). What a browser may
apply and this module cannot work out (another condition, a selector that is not known, a rule
inside a rule, an animation) is refused if it would move a line or hide one.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from types import MappingProxyType
from typing import Any, Final, NamedTuple

import tinycss2
from lxml import etree
from tinycss2.ast import Node

from ...errors import SvgError
from .lengths import clipped

__all__ = ["Node", "block", "rules", "sheet", "text_of", "values"]

MOST_NESTED: Final = 64
"""Brackets in brackets at most; tinycss2 writes nodes out by recursion, as deep as they are."""

_NO_NUMBER: Final = re.compile("[0-9]{1000}")
"""Python makes no number of so many digits as tinycss2 asks for."""

_OPENING: Final = "([{"
_CLOSING: Final = ")]}"


def sheet(text: str) -> list[Node]:
    """Return the rules of a style sheet."""
    found: list[Node] = tinycss2.parse_stylesheet(
        _checked(text), skip_comments=True, skip_whitespace=True
    )
    return found


def rules(content: list[Node]) -> list[Node]:
    """Return the rules inside an at-rule."""
    found: list[Node] = tinycss2.parse_rule_list(content, skip_comments=True, skip_whitespace=True)
    return found


def block(content: str | list[Node]) -> list[Node]:
    """Return the declarations of a rule or of a style attribute."""
    source = _checked(content) if isinstance(content, str) else content
    found: list[Node] = tinycss2.parse_blocks_contents(source)
    return found


def values(text: str) -> list[Node]:
    """Return the values that a property's text is made of, without white space."""
    nodes = tinycss2.parse_component_value_list(_checked(text), skip_comments=True)
    return [node for node in nodes if node.type != "whitespace"]


def text_of(nodes: Iterable[Node]) -> str:
    """Return nodes as CSS text again, trimmed."""
    text: str = tinycss2.serialize(nodes)
    return text.strip()


def _checked(text: str) -> str:
    if _NO_NUMBER.search(text):
        raise SvgError(
            "a style in it holds a number of a thousand digits",
            remedy="Select all, copy it into a new drawing, and save that.",
        )
    if sum(text.count(bracket) for bracket in _OPENING) > MOST_NESTED:
        depth = 0
        for character in text:
            if character in _OPENING:
                depth += 1
                if depth > MOST_NESTED:
                    raise SvgError(
                        f"a style in it nests brackets more than {MOST_NESTED} deep",
                        remedy="Select all, copy it into a new drawing, and save that.",
                    )
            elif character in _CLOSING:
                depth = max(0, depth - 1)
    return text


UNREAD_TRANSFORMS: Final = ("translate", "rotate", "scale", "zoom", "offset-path", "offset")
"""Properties that move elements in browsers and are refused, not followed."""

PROPERTIES: Final = frozenset(
    (
        "display",
        "visibility",
        "transform",
        "transform-origin",
        "transform-box",
        "font",
        "font-size",
        "x",
        "y",
        "width",
        "height",
        "cx",
        "cy",
        "r",
        "rx",
        "ry",
        "d",
        *UNREAD_TRANSFORMS,
    )
)
"""Properties that decide where a line lies or whether it is drawn."""

LOOKS: Final = dict.fromkeys(
    (*("color", "stroke", "stroke-width", "stroke-dasharray"), *("text-anchor", "font-weight"))
).keys()
"""Inherited properties that tell lines and texts apart, in the order in which they are read."""

_FOLLOWED: Final = PROPERTIES.union(LOOKS, ("vector-effect", "clip-path", "overflow"))
"""Properties that are looked at; all others are passed over."""

_NEVER_BELOW_0: Final = frozenset(
    ("font-size", "width", "height", "r", "rx", "ry", "stroke-width", "stroke-dasharray")
)
"""A declaration of one that is negative is none (CSS Values Level 4, section 5.1)."""

MOST_MATCHED: Final = 2_000_000
"""Elements times words of selectors at most: a second or two of matching."""

_HARMLESS: Final = frozenset(("font-face", "page", "namespace", "charset", "counter-style"))
"""At-rules whose declarations are no styles of elements."""

_NONE: Final[Mapping[str, str]] = MappingProxyType({})


def _naming(properties: Iterable[str]) -> re.Pattern[str]:
    names = "|".join(map(re.escape, sorted(properties)))
    return re.compile(rf"(?<![\w-])(?:{names})\s*:", re.IGNORECASE)


_MOVES: Final = _naming(PROPERTIES)
_FOLLOWS: Final = _naming(_FOLLOWED)
_FONT_SIZE: Final = re.compile(
    r"(?:^|\s)([0-9.]+(?:[a-z]+|%)|(?:xx?-|xxx-)?(?:small|large)|medium|smaller|larger)(?=[\s/])",
    re.IGNORECASE,
)
_FONT_WEIGHT: Final = re.compile(r"(?:^|\s)(bold|bolder|lighter|[1-9]00)(?=\s)", re.IGNORECASE)


class _Declaration(NamedTuple):
    name: str
    value: str
    important: bool


class _Winner(NamedTuple):
    """A declaration with its place in the cascade (CSS Cascading Level 4, section 6)."""

    weight: tuple[bool, bool, tuple[int, int, int], int]
    value: str


def _may_declare(named: re.Pattern[str], text: str) -> bool:
    """Whether a text may declare one of some properties; comments and escapes may hide names."""
    return "/*" in text or "\\" in text or named.search(text) is not None


def _declarations(nodes: Iterable[Node]) -> Iterator[_Declaration]:
    for node in nodes:
        if node.type != "declaration" or node.lower_name not in _FOLLOWED:
            continue
        name, value = node.lower_name, text_of(node.value)
        if name in _NEVER_BELOW_0 and any(map(_is_negative, node.value)):
            # What stands elsewhere, in another rule or as an attribute, holds.
            continue
        if name == "font":
            weight = _FONT_WEIGHT.search(value)
            yield _Declaration(
                "font-weight", weight.group(1) if weight else "normal", node.important
            )
            match = _FONT_SIZE.search(value)
            name, value = "font-size", match.group(1) if match else "medium"
        yield _Declaration(name, value, node.important)


def _is_negative(token: Node) -> bool:
    return token.type in ("number", "dimension", "percentage") and bool(token.value < 0.0)


class Styles:
    """What the style sheets and style attributes of a file declare.

    *root*: the outermost ``svg``, with bare element names.

    *warnings*: rules that could not be followed, each named once.
    """

    def __init__(self, root: etree._Element) -> None:
        self._root = root
        self._matched: dict[etree._Element, dict[str, _Winner]] = {}
        self._inline: dict[str, Mapping[str, str]] = {}
        self._order = 0
        self._elements = sum(1 for _ in root.iter())
        self._left = {True: MOST_MATCHED, False: MOST_MATCHED}
        # A dict keeps each warning once, in order.
        self._warnings: dict[str, None] = {}
        for element in root.iter("style"):
            kind = element.get("type", "text/css").strip().lower()
            if kind in ("", "text/css"):
                self._read(element)
        for node in root.itersiblings(etree.ProcessingInstruction, preceding=True):
            if getattr(node, "target", "") == "xml-stylesheet":
                self._warn("a style sheet outside the file (xml-stylesheet) is not read")
        self.warnings = tuple(self._warnings)

    def of(self, element: etree._Element, text: str | None) -> Mapping[str, str]:
        """Return the winning declarations for an element by lower-case property name.

        Presentation attributes are not among them: any declaration beats those. The text is
        that of its style attribute; what it alone declares is worked out once.
        """
        matched = self._matched.get(element) if self._matched else None
        if matched is None:
            if text is None:
                return _NONE
            known = self._inline.get(text)
            if known is None:
                known = self._inline[text] = self._contended(None, text)
            return known
        return self._contended(matched, text)

    def _contended(self, matched: dict[str, _Winner] | None, text: str | None) -> Mapping[str, str]:
        if text is None or not _may_declare(_FOLLOWS, text):
            return {name: winner.value for name, winner in (matched or {}).items()}
        winners = dict(matched or {})
        for place, declaration in enumerate(_declarations(block(text))):
            weight = (declaration.important, True, (0, 0, 0), place)
            _contend(winners, declaration, weight)
        return {name: winner.value for name, winner in winners.items()}

    def _warn(self, text: str) -> None:
        self._warnings[text] = None

    def _read(self, element: etree._Element) -> None:
        text = "".join(str(part) for part in element.itertext())
        rules = sheet(text)
        media = element.get("media", "all")
        if self._applies(f"media {media}", media, rules):
            self._read_rules(rules)

    def _read_rules(self, rules: Iterable[Node]) -> None:
        for rule in rules:
            if rule.type == "qualified-rule":
                self._read_rule(rule)
            elif rule.type == "at-rule":
                self._read_at_rule(rule)

    def _read_at_rule(self, rule: Node) -> None:
        condition = text_of(rule.prelude)
        name = rule.lower_at_keyword
        if name == "import":
            self._warn(f"a style sheet outside the file (@import {condition}) is not read")
        elif name == "media" and rule.content is not None:
            inner = rules(rule.content)
            if self._applies(f"@media {condition}", condition, inner):
                self._read_rules(inner)
        elif _matters(rule) and name not in _HARMLESS:
            raise _unread(f"rules under {clipped(f'@{name} {condition}')!r}")

    def _applies(self, condition: str, media: str, rules: list[Node]) -> bool:
        media = media.strip().lower()
        if media in ("", "all"):
            return True
        if any(_matters(rule) for rule in rules):
            on_paper = media == "print" or media.startswith("print and ")
            if media != "screen" and not on_paper:
                raise _unread(f"rules under {clipped(condition)!r}")
            fate = "not applied" if on_paper else "applied"
            self._warn(f"style rules under {condition!r} are {fate}")
        return media == "screen"

    def _read_rule(self, rule: Node) -> None:
        # Few drawings have a rule.
        from cssselect import GenericTranslator, SelectorError, parse as parse_selectors

        contents = block(rule.content)
        declarations = list(_declarations(contents))
        selector = text_of(rule.prelude)
        if any(node.type in ("qualified-rule", "at-rule") and _matters(node) for node in contents):
            raise _unread(f"rules nested inside {clipped(selector)!r}")
        if not declarations:
            return
        self._order += 1
        moves = any(declaration.name in PROPERTIES for declaration in declarations)
        self._left[moves] -= self._elements * (1 + len(re.findall(r"[\s>+~,:\[]+", selector)))
        if self._left[moves] < 0:
            if not moves:
                self._warn("its style sheets hold so many rules that colours of lines are not read")
                return
            raise SvgError(
                "its style sheets hold too many rules for so many elements",
                remedy="Save it with styles on the elements: presentation attributes or inline "
                "styles, in the dialogue for saving SVG.",
            )
        try:
            for alternative in parse_selectors(selector):
                if alternative.pseudo_element:
                    continue
                path = GenericTranslator().selector_to_xpath(alternative)
                # Any: a selector yields elements, though XPath could yield anything.
                found: Any = etree.XPath(path)(self._root)
                specificity = alternative.specificity()
                for element in found:
                    winners = self._matched.setdefault(element, {})
                    for declaration in declarations:
                        weight = (declaration.important, False, specificity, self._order)
                        _contend(winners, declaration, weight)
        except (SelectorError, etree.XPathError) as error:
            names = ", ".join(sorted({d.name for d in declarations if d.name in PROPERTIES}))
            if not moves:
                return
            raise _unread(f"selector {clipped(selector)!r} (for {names})") from error


def _unread(what: str) -> SvgError:
    return SvgError(
        f"the style {what} may move or hide lines and cannot be followed here",
        remedy="Write the style on the elements themselves, or apply it and remove it.",
    )


def _contend(
    winners: dict[str, _Winner],
    declaration: _Declaration,
    weight: tuple[bool, bool, tuple[int, int, int], int],
) -> None:
    standing = winners.get(declaration.name)
    if standing is None or weight >= standing.weight:
        winners[declaration.name] = _Winner(weight, declaration.value)


def _matters(rule: Node) -> bool:
    """Whether a rule, or one inside it, may move a line or hide one."""
    content = getattr(rule, "content", None)
    return content is not None and _may_declare(_MOVES, text_of(content))
