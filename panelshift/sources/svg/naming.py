"""What elements are called: their own names, and a readable place for those without an id."""

from __future__ import annotations

from typing import Final

from lxml import etree

MOST_NAMED: Final = 200
"""Characters of a name at most; the rest is cut off."""

MOST_CLASSES: Final = 50
"""Classes of an element that are looked at."""


def collapsed(text: str) -> str:
    """Return text with every run of white space made one space, and none at the ends.

    What cannot be printed counts as white space: control characters could steer a terminal,
    and marks of direction could make a name read otherwise than it is.

    Examples
    --------
    >>> collapsed(" centre\tfront\x9b2J ")
    'centre front 2J'
    """
    if not text.isprintable():
        text = "".join(character if character.isprintable() else " " for character in text)
    return " ".join(text.split())


def _name(text: str | None) -> str:
    return collapsed(text or "")[:MOST_NAMED].strip()


def own_id(element: etree._Element) -> str:
    """Return the element's id, or an empty string."""
    return _name(element.get("id"))


def _labels(element: etree._Element) -> list[str]:
    """Label attributes of any namespace, as drawing programs write them, then aria-label."""
    found = [
        value for key, value in element.attrib.items() if str(key).rpartition("}")[2] == "label"
    ]
    return [_name(str(value)) for value in (*found, element.get("aria-label", ""))]


def own_title(element: etree._Element) -> str:
    """Return the text of an element's own title, or an empty string."""
    title = element.find("title")
    return "" if title is None else _name("".join(map(str, title.itertext())))


def own_names(element: etree._Element) -> tuple[str, ...]:
    """Return id, labels and title of an element, each once and in this order."""
    names = [own_id(element), *_labels(element), own_title(element)]
    return tuple(dict.fromkeys(name for name in names if name))


def own_classes(element: etree._Element) -> tuple[str, ...]:
    """Return the classes of an element, each once."""
    words = (element.get("class") or "").split()[:MOST_CLASSES]
    return tuple(dict.fromkeys(name for word in words if (name := _name(word))))


def best_name(element: etree._Element) -> str:
    """Return the label of a group, else its title, else its id, else an empty string."""
    return next(
        (name for name in (*_labels(element), own_title(element), own_id(element)) if name), ""
    )


def own_data(element: etree._Element) -> dict[str, str]:
    """Return the data attributes of an element without their ``data-`` prefix."""
    return {
        _name(str(key)[5:]): _name(str(value))
        for key, value in element.attrib.items()
        if str(key).startswith("data-")
    }


class Idents:
    """Gives out names that are unique in a drawing."""

    def __init__(self) -> None:
        self._taken: set[str] = set()
        self._next: dict[str, int] = {}

    def unique(self, name: str) -> str:
        """Return the name, or the name with a number where it is taken."""
        ident = name
        while ident in self._taken:
            count = self._next.get(name, 2)
            self._next[name] = count + 1
            ident = f"{name} ({count})"
        self._taken.add(ident)
        return ident
