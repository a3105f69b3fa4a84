"""Structures spoilt: trees of keys, tables of cells, elements of drawings, lines of text."""

from __future__ import annotations

import copy
import random
from dataclasses import dataclass
from typing import Any, Final

from lxml import etree

from .plausible import Raw, Tree, holder, leaves

LONG: Final = 100_000
"""Letters of a huge text."""

NUMBERS: Final = (
    *("0", "-0.0", "-1", "1e-300", "1e308", "-1e308", "1e999", "nan", "inf", "-inf", "0x10"),
    *("9" * 25, "9" * 5000, "99999.9", "100000.1", "1e-9", "5e-324", "1_000", "0.1" + "0" * 400),
)
TEXTS: Final = (
    *(
        "",
        " ",
        "0.5 in",
        "3/8",
        "1 3/8 in",
        "1,5",
        "1,000",
        "½ in",
        "\u22123 mm",
        "5 furlongs",
        "50%",
    ),
    *("nan", "inf", "NaN mm", "1e400", "measure me", "-", "../draft.svg", "/dev/null", "/dev/zero"),
    *(".", "draft.svg", "job.toml", "nothing here.svg", "a" * 301, "Ä" * 80, "名前", "\u202eevil"),
    *("\ufeff", "\ufffe", "e\u0301", "a\tb", "a\nb", "\x1b[31m", "\x7f", "=1+1", "<b>&amp;</b>"),
    *("CON", "a/b", "a\\b", "~", "${HOME}", "%s%n", "{0}", "true", "2026-11-26", "waist", "bust"),
    *("😀", "٣", "0" * LONG),
)
NO_TOML: Final = ("1.5.5", "=", "[", "'''", '"', "{ a = 1", "[1, 2", "# ", "01", "+", "1979-05-27")


WAYS: Final = ("drop", "misspell", "unknown", "number", "text", "type", "double", "nest") + (
    "other",
) * 6


@dataclass(frozen=True)
class Spoilt:
    """A structure with one fault: what was done, and the key that a refusal has to name."""

    tree: Any
    done: str
    named: str = ""


def spoilt_tree(chance: random.Random, tree: Tree) -> Spoilt:
    """A tree with one thing dropped, misspelt, doubled, of a wrong type, or out of bounds."""
    tree = copy.deepcopy(tree)
    place, value = chance.choice(leaves(tree))
    # A whole table now and then, instead of a value.
    place = place[: chance.choice((len(place), len(place), chance.randint(1, len(place))))]
    held = holder(tree, place)
    last = place[-1]
    way = chance.choice(WAYS)
    named = ""
    if way == "drop":
        del held[last]
    elif way == "misspell" and isinstance(last, str):
        named = misspelt(chance, last)
        held[named] = held.pop(last)
    elif way in ("misspell", "unknown"):
        owner, named = _some_table(chance, tree), chance.choice(("colour", "thicknes", "fabrics"))
        owner[named] = chance.choice((1, "x", {}, []))
    elif way == "other":
        held[last] = other_value(chance, value, tree)
    elif way == "number":
        held[last] = Raw(chance.choice(NUMBERS))
    elif way == "text":
        held[last] = chance.choice(TEXTS)
    elif way == "type":
        held[last] = chance.choice((True, [], {}, [value], {"waist": value}, Raw("1979-05-27"), ""))
    elif way == "double" and isinstance(held, list):
        held += [copy.deepcopy(held[last])] * chance.choice((1, 1, 1, 40, 3_000))
    else:
        held[last] = _nested(chance, value)
    return Spoilt(tree, f"{way} {'.'.join(map(str, place))}", named)


def other_value(chance: random.Random, value: Any, tree: Tree) -> Any:
    """A value of the same type: a slip of unit or sign, or what stands elsewhere in the tree."""
    if isinstance(value, bool):
        return not value
    if isinstance(value, int | float):
        return value * chance.choice((0, -1, 0.5, 2, 10, 0.1, 25.4, 1 / 25.4, 1000))
    alike = [other for _, other in leaves(tree) if isinstance(other, str)]
    return chance.choice((*alike, *TEXTS[:20], "waist", "panel 2", "top"))


def misspelt(chance: random.Random, name: str) -> str:
    """A name with one letter more, less, or other."""
    at = chance.randrange(max(len(name), 1))
    letter = chance.choice("qxjé")
    return chance.choice(
        (f"{name[:at]}{letter}{name[at:]}", f"{name[:at]}{letter}{name[at + 1 :]}")
    )


def _some_table(chance: random.Random, tree: Tree) -> Any:
    """A table of fixed keys: one on the way to some value."""
    found: list[Any] = [tree]
    for place, _ in leaves(tree):
        inner: Any = tree
        for step in place[: 2 if place[0] != "panel" else 0]:
            inner = inner[step]
            if isinstance(inner, dict):
                found.append(inner)
    return chance.choice(found)


def _nested(chance: random.Random, value: Any) -> Any:
    depth = chance.choice((1, 20, 400))
    if chance.random() < 0.5:
        return Raw("[" * depth + "]" * depth)
    return Raw("{ a = " * min(depth, 300) + "1" + " }" * min(depth, 300))


def spoilt_text(chance: random.Random, text: str) -> Spoilt:
    """A text with a line doubled, dropped, moved, cut short, or with letters put in."""
    lines = text.split("\n")
    at = chance.randrange(len(lines))
    way = chance.choice(("double", "drop", "move", "cut", "letters", "end", "mark", "breaks"))
    if way == "double":
        lines.insert(at, lines[at])
    elif way == "drop":
        del lines[at]
    elif way == "move":
        lines.insert(chance.randrange(len(lines)), lines.pop(at))
    elif way == "cut":
        lines[at] = lines[at][: chance.randrange(len(lines[at]) + 1)]
    elif way == "letters":
        place = chance.randrange(len(lines[at]) + 1)
        lines[at] = f"{lines[at][:place]}{chance.choice(TEXTS + NO_TOML)}{lines[at][place:]}"
    elif way == "end":
        lines = lines[: at + 1]
    joined = ("\r\n" if way == "breaks" else "\n").join(lines)
    return Spoilt(f"\ufeff{joined}" if way == "mark" else joined, f"{way} line {at + 1}")


def encoded(chance: random.Random, text: str) -> bytes:
    """Text as a file; rarely in another coding, or with bytes that are none."""
    coding = chance.choice(("utf-8",) * 30 + ("utf-16", "latin-1", "utf-8-sig", "cp1252"))
    raw = text.encode(coding, "replace")
    if chance.random() < 0.03 and raw:
        at = chance.randrange(len(raw))
        raw = raw[:at] + chance.choice((b"\x00", b"\xff", b"\xc3", b"\xed\xa0\x80")) + raw[at:]
    return raw


Cells = list[list[str]]


def spoilt_cells(chance: random.Random, cells: Cells) -> Spoilt:
    """A table with a heading or cell spoilt, or a row or column doubled, dropped, or moved."""
    cells = copy.deepcopy(cells)
    row = chance.randrange(len(cells))
    column = chance.randrange(max(len(cells[row]), 1))
    for line in cells:
        line += [""] * (not line)
    way = chance.choice(("cell", "cell", "cell", "heading", "row", "column", "short", "long"))
    named = ""
    if way == "cell":
        row = row if row or len(cells) == 1 else 1
        column = min(column, len(cells[row]) - 1)
        cells[row][column] = chance.choice((*TEXTS, *NUMBERS))
    elif way == "heading":
        column = min(column, len(cells[0]) - 1)
        if chance.random() < 0.6:
            named = misspelt(chance, cells[0][column])
            cells[0][column] = named
        else:
            cells[0][column] = chance.choice((*TEXTS, *cells[0]))
    elif way == "row":
        cells[row:row] = chance.choice(([cells[row]], [[]], [[""]], [["# a remark"]]))
    elif way == "column":
        for line in cells:
            del line[column : column + 1]
            if not line:
                line.append("")
    elif way == "short":
        del cells[row][column:]
    else:
        cells[row] += chance.choice((["1"], [""], ["x"] * 50))
    return Spoilt(cells, f"{way} {row}, {column}", named)


def written(chance: random.Random, cells: Cells) -> str:
    """A table as text, parted by one of three marks, quoted where it has to be, or not."""
    part = chance.choice(",,,;\t")
    careless = chance.random() < 0.1

    def cell(text: str) -> str:
        if careless or not any(ch in text for ch in f'{part}"\n'):
            return text
        return '"' + text.replace('"', '""') + '"'

    return "\n".join(part.join(map(cell, row)) for row in cells) + "\n"


_ATTRIBUTES: Final = (
    *("d", "transform", "style", "class", "id", "width", "height", "viewBox", "display", "x", "y"),
    *("points", "fill", "stroke", "href", "opacity", "font-size", "stroke-dasharray"),
)
_VALUES: Final = (
    *("none", "url(#a)", "#panel 1", "scale(0)", "scale(1e200)", "rotate(45)", "skewX(89.9999)"),
    *("translate(1e9)", "matrix(1 0 0 1 0)", "100%", "1e5mm", "0", "-1", "2in", "1 1 1 1"),
    *("M0 0", "M0 0L", "M0 0H1e999", "M0 0C1 1 1 1 0 0Z", "0 0 0 0", "0 0 1e-9 1e-9", "5 5"),
    *("M10 10h100v100h-100z", "M10,10 A1e9 1e-9 45 1 1 11 11z", "m" + "1 1 " * 3000),
)


def spoilt_drawing(chance: random.Random, svg: bytes) -> Spoilt:
    """A drawing with an element doubled, dropped, moved or nested, or an attribute spoilt."""
    root = etree.fromstring(svg, etree.XMLParser(huge_tree=True))
    every = list(root.iter(etree.Element))
    element = chance.choice(every)
    way = chance.choice(("attribute", "attribute", "number", "number", "drop", "double", "nest"))
    parent = element.getparent()
    if way == "attribute" or parent is None:
        name = chance.choice((*element.attrib, *_ATTRIBUTES))
        element.set(name, chance.choice((*_VALUES, *(t for t in TEXTS if t.isprintable()))))
    elif way == "number" and "d" in element.attrib:
        words = element.get("d", "").replace("L", " L ").replace("C", " C ").split()
        at = chance.randrange(len(words))
        words[at] = chance.choice((*NUMBERS, "0", "100", "L", "Z", "A", "", words[at - 1]))
        element.set("d", " ".join(words))
    elif way == "drop":
        parent.remove(element)
    elif way == "double":
        for _ in range(chance.choice((1, 1, 2, 300))):
            parent.append(copy.deepcopy(element))
    else:
        held = parent
        for _ in range(chance.choice((1, 3, 200))):
            held = etree.SubElement(held, "{http://www.w3.org/2000/svg}g")
            held.set("transform", chance.choice(_VALUES))
        held.append(element)
    return Spoilt(etree.tostring(root), way)


_NUMBER_AT: Final = tuple("0123456789.-")


def spoilt_words(chance: random.Random, text: str, between: str = " ") -> Spoilt:
    """A text with one word of it another, doubled or dropped: operators, records, numbers."""
    words = text.split(between)
    at = chance.randrange(len(words))
    way = chance.choice(("number", "other", "double", "drop", "swap"))
    if way == "number":
        places = [k for k, word in enumerate(words) if word and set(word) <= set(_NUMBER_AT)]
        at = chance.choice(places or [at])
        words[at] = chance.choice(NUMBERS)
    elif way == "other":
        words[at] = chance.choice((*TEXTS, *words))
    elif way == "double":
        words[at:at] = words[max(0, at - 6) : at] * chance.choice((1, 2, 200))
    elif way == "drop":
        del words[at : at + chance.randint(1, 8)]
    else:
        other = chance.randrange(len(words))
        words[at], words[other] = words[other], words[at]
    return Spoilt(between.join(words), f"{way} word {at}")
