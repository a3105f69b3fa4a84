"""How the texts of an SVG are set: which part of each stands at its point, and how bold.

The reader of patterns keeps only what a text says and where its point lies, which is all that
a draft needs. To print a drawing again it must also be known what of the text stands there.
Attributes and style attributes are followed, of the text and of its groups; style sheets are
not.
"""

from __future__ import annotations

import os
from dataclasses import dataclass
from typing import Final, Literal

from lxml import etree

from ..sources.svg.document import load
from ..sources.svg.texts import content

Anchor = Literal["start", "middle", "end"]
_ANCHORS: Final[dict[str, Anchor]] = {"start": "start", "middle": "middle", "end": "end"}
_BOLD_FROM: Final = 600
"""Weight from which a text is drawn bold: half way between 400 (normal) and 700 (bold)."""


@dataclass(frozen=True)
class Setting:
    """How a text is set.

    Parameters
    ----------
    anchor : {"start", "middle", "end"}
        What of the text stands at its point.
    bold : bool
    """

    anchor: Anchor = "start"
    bold: bool = False


class Wording:
    """The title of a drawing and the settings of its texts.

    Parameters
    ----------
    source : str, PathLike or bytes
        As for `panelshift.sources.svg.read_svg`.

    Raises
    ------
    SvgError
        If the file is not readable SVG.
    """

    def __init__(self, source: str | os.PathLike[str] | bytes) -> None:
        root = load(source).root
        title = root.find("title")
        self.title = "" if title is None else " ".join("".join(map(str, title.itertext())).split())
        """The drawing's own title, or empty."""
        self._settings: dict[str, list[Setting]] = {}
        for element in root.iter("text"):
            self._settings.setdefault(content(element), []).append(_setting(element))

    def take(self, text: str) -> Setting:
        """Setting of the next text that says this, in document order.

        A copy (use) of a text comes without an element of its own: the last one's setting
        serves for it.
        """
        found = self._settings.get(text)
        if not found:
            return Setting()
        return found.pop(0) if len(found) > 1 else found[0]


def _setting(element: etree._Element) -> Setting:
    anchor = _ANCHORS.get(_inherited(element, "text-anchor"), "start")
    weight = _inherited(element, "font-weight")
    bold = weight in ("bold", "bolder") or (weight.isdecimal() and int(weight) >= _BOLD_FROM)
    return Setting(anchor, bold)


def _inherited(element: etree._Element, name: str) -> str:
    """Value of an inherited property, in lower case; empty if nothing sets it."""
    node: etree._Element | None = element
    while node is not None:
        value = _styled(node, name)
        if value and value != "inherit":
            return value
        node = node.getparent()
    return ""


def _styled(element: etree._Element, name: str) -> str:
    value = element.get(name, "")
    for declaration in element.get("style", "").split(";"):
        key, _, given = declaration.partition(":")
        if key.strip().lower() == name:
            value = given.replace("!important", "")
    return value.strip().lower()
