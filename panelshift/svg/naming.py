"""What elements are called: their own names, and a readable place for those without an id."""

from __future__ import annotations

from lxml import etree


def collapsed(text: str) -> str:
    """Return text with every run of white space made one space, and none at the ends."""
    return " ".join(text.split())


def own_id(element: etree._Element) -> str:
    """Return the element's id, or an empty string."""
    return (element.get("id") or "").strip()


def _labels(element: etree._Element) -> list[str]:
    """Label attributes of any namespace, as drawing programs write them, then aria-label."""
    found = [
        value for key, value in element.attrib.items() if str(key).rpartition("}")[2] == "label"
    ]
    return [collapsed(str(value)) for value in (*found, element.get("aria-label", ""))]


def _title(element: etree._Element) -> str:
    title = element.find("title")
    return "" if title is None else collapsed("".join(str(part) for part in title.itertext()))


def own_names(element: etree._Element) -> tuple[str, ...]:
    """Return id, labels, title and classes of an element, each once and in this order."""
    names = [own_id(element), *_labels(element), _title(element)]
    names.extend((element.get("class") or "").split())
    return tuple(dict.fromkeys(name for name in names if name))


def best_name(element: etree._Element) -> str:
    """Return the label of a group, else its title, else its id, else an empty string."""
    return next(
        (name for name in (*_labels(element), _title(element), own_id(element)) if name), ""
    )


def own_data(element: etree._Element) -> dict[str, str]:
    """Return the data attributes of an element without their ``data-`` prefix."""
    return {
        str(key)[5:]: str(value)
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
