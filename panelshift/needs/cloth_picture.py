"""The picture of a layout: cloth, cut lines, names and marks along the length."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Final

import numpy as np
from lxml import etree

from ..outline import FloatArray
from ..outline.pathtext import number, path_data
from ..sheets.lettering import width
from ..sheets.palette import CLOTH, INK, MIRRORED, PAPER
from ..sheets.svg_writer import FONT_FAMILY, SVG_NAMESPACE
from ..units import MM_PER_UNIT
from .buying import BUYING_STEP_MM, YARD_EIGHTH_MM, Layout, bought
from .laid import LaidPiece

_SHRINK: Final = 0.9
_LEVELS: Final = 9
"""Places along a piece that are tried for its name."""
_SAMPLES: Final = 7
"""Lines across the piece on which the room for a name is measured."""


@dataclass(frozen=True, eq=False)
class Name:
    """What is written on a piece.

    Parameters
    ----------
    lines : tuple of str
        One under the other, read from the bottom of the piece to its top.
    full : tuple of str
        Its name, and whether it is mirrored.
    at : ndarray, shape (2,)
        Middle of the lines, in mm on the cloth.
    size : float
        Font size in mm of cloth.
    turned : bool
        Whether the piece, and with it the name, is turned.
    key : str
        Not empty if the name has no room: then `lines` holds only this number.
    """

    lines: tuple[str, ...]
    full: tuple[str, ...]
    at: FloatArray
    size: float
    turned: bool
    key: str = ""


def names_in(laid: Sequence[LaidPiece], size: float, smallest: float, line: float) -> list[Name]:
    """Find room for the name of each piece.

    *size*, *smallest*: font size to try first, and the least, in mm of cloth. *line*: distance of
    lines as a part of the font size.
    """
    names = []
    keys: dict[tuple[str, ...], str] = {}
    for lying in laid:
        how = ["mirrored"] if lying.mirrored else []
        how += ["on the fold"] if lying.piece.held else []
        how += ["both plies"] if lying.piece.plies > 1 else []
        full = (lying.name, *how)
        one_line = (", ".join(full),)
        name = _fitted(lying, full, (full, one_line), size, smallest, line)
        if name is None:
            key = keys.setdefault(full, str(len(keys) + 1))
            at, _ = _roomiest(lying.ring, smallest, np.inf)
            name = Name((key,), full, at, smallest, lying.turned, key)
        names.append(name)
    return names


def _fitted(
    lying: LaidPiece,
    full: tuple[str, ...],
    forms: Sequence[tuple[str, ...]],
    size: float,
    smallest: float,
    line: float,
) -> Name | None:
    while size >= smallest:
        for lines in forms:
            run = size * max(width(text) for text in lines)
            needed = line * size * len(lines)
            at, room = _roomiest(lying.ring, run, needed)
            if room >= needed:
                return Name(lines, full, at, size, lying.turned)
        size *= _SHRINK
    return None


def _roomiest(ring: FloatArray, run: float, enough: float) -> tuple[FloatArray, float]:
    """Middle and width in mm of a strip along the cloth that is as long as a run.

    The one nearest to the middle that is wide enough, or else the widest.
    """
    low, high = float(ring[:, 1].min()), float(ring[:, 1].max())
    middle = 0.5 * (low + high)
    best = (np.array([float(ring[:, 0].mean()), middle]), 0.0)
    if run >= high - low:
        return best
    spare = 0.5 * (high - low - run) * 0.9
    places = middle + spare * np.linspace(-1.0, 1.0, _LEVELS)
    for place in sorted(places, key=lambda y: abs(y - middle)):
        left, right = _strip(ring, place - 0.5 * run, place + 0.5 * run)
        if right - left > best[1]:
            best = (np.array([0.5 * (left + right), float(place)]), right - left)
        if best[1] >= enough:
            break
    return best


def _strip(ring: FloatArray, low: float, high: float) -> tuple[float, float]:
    """Ends across the cloth of the widest strip inside a ring between two lengths."""
    a, b = ring[:-1], ring[1:]
    strips = [(-np.inf, np.inf)]
    for y in np.linspace(low, high, _SAMPLES):
        cross = (a[:, 1] - y) * (b[:, 1] - y) < 0.0
        t = (y - a[cross, 1]) / (b[cross, 1] - a[cross, 1])
        hits = np.sort(a[cross, 0] + t * (b[cross, 0] - a[cross, 0]))
        # Inside lies between every other pair of crossings: a hollow piece has several.
        inside = list(zip(hits[0::2], hits[1::2], strict=False))
        strips = [
            (max(left, float(x0)), min(right, float(x1)))
            for left, right in strips
            for x0, x1 in inside
            if min(right, x1) > max(left, x0)
        ]
    if not strips:
        return 0.0, 0.0
    return max(strips, key=lambda strip: strip[1] - strip[0])


PAGE_MM: Final = 180.0
"""Width on the page that sizes are chosen for: A4 and Letter between usual margins."""

_LEFT, _TOP, _RIGHT, _BOTTOM = 12.0, 7.0, 8.0, 6.5
"""Margins on the page, in mm."""

_TEXT: Final = 2.8
"""Font size on the page in mm: about 8 points."""

_SMALLEST: Final = 1.9
"""About 5.4 points; below it a piece bears a number, and the name stands under the picture."""

_LINE: Final = 1.3


def layout_picture(layout: Layout, unit: str = "mm") -> str:
    """Draw a layout as an ``<svg>`` element, to stand in a page or in a file of its own.

    *unit*: {"mm", "cm", "in"}. Display unit: marks along the length are 100 mm or an eighth of a
    yard apart.

    Returns: one user unit is a millimetre of cloth; letters are legible at `PAGE_MM` across.

    Notes
    -----
    Names read from the bottom of each piece to its top, so that a piece that is turned shows
    it. Mirrored pieces say so, beside being tinted. No element has an id: a page may hold
    many pictures.
    """
    scale = layout.lying_width / (PAGE_MM - _LEFT - _RIGHT)
    names = names_in(layout.laid, _TEXT * scale, _SMALLEST * scale, _LINE)
    keyed = [name for name in names if name.key]
    page = _ClothPage(layout, scale, unit)
    foot = _key_lines(keyed)
    height = layout.length + (_TOP + _BOTTOM + _LINE * _TEXT * len(foot)) * scale
    root = _root(page, height)
    _cloth(root, page)
    _pieces(root, page)
    _write_names(root, page, names)
    _marks(root, page)
    _grain(root, page)
    for k, line in enumerate(foot):
        at = (0.0, layout.length + (_BOTTOM + _LINE * _TEXT * (k + 0.5)) * scale)
        _text(root, line, at, _TEXT * scale, anchor="start")
    return etree.tostring(root, encoding="unicode")


@dataclass(frozen=True, eq=False)
class _ClothPage:
    """A layout, mm of cloth for each mm of page, and the display unit."""

    layout: Layout
    scale: float
    unit: str


def _root(page: _ClothPage, height: float) -> etree._Element:
    layout, scale = page.layout, page.scale
    title = (
        f"{layout.fabric} on cloth {_about(layout.sold_width, page.unit)} wide: "
        f"{len(layout.laid)} pieces on {_about(layout.length, page.unit)}"
    )
    box = (-_LEFT * scale, -_TOP * scale, PAGE_MM * scale, height)
    return etree.Element(
        f"{{{SVG_NAMESPACE}}}svg",
        {
            "viewBox": " ".join(number(value) for value in box),
            "role": "img",
            "aria-label": _printable(title),
            "font-family": FONT_FAMILY,
        },
        nsmap={None: SVG_NAMESPACE},  # type: ignore[dict-item]
    )


def _cloth(root: etree._Element, page: _ClothPage) -> None:
    width, length = number(page.layout.lying_width), number(page.layout.length)
    thin = {"stroke": INK, "stroke-width": number(0.25 * page.scale)}
    etree.SubElement(
        root, "rect", {"x": "0", "y": "0", "width": width, "height": length, "fill": CLOTH, **thin}
    )


def _pieces(root: etree._Element, page: _ClothPage) -> None:
    group = etree.SubElement(
        root,
        "g",
        {
            "stroke": INK,
            "stroke-width": number(0.3 * page.scale),
            "stroke-linejoin": "round",
        },
    )
    for lying in page.layout.laid:
        fill = MIRRORED if lying.mirrored else PAPER
        etree.SubElement(group, "path", {"d": path_data(lying.outline), "fill": fill})


def _write_names(root: etree._Element, page: _ClothPage, names: list[Name]) -> None:
    for name in names:
        turn = 90.0 if name.turned else -90.0
        x, y = (number(float(value)) for value in name.at)
        group = etree.SubElement(root, "g", {"transform": f"translate({x} {y}) rotate({turn:g})"})
        # Lines are spread about the middle; a baseline lies a third of a letter below it.
        first = 0.35 * name.size - 0.5 * _LINE * name.size * (len(name.lines) - 1)
        for k, line in enumerate(name.lines):
            _text(group, line, (0.0, first + _LINE * name.size * k), name.size)


def _marks(root: etree._Element, page: _ClothPage) -> None:
    """Ticks along the left edge, the cloth's width above, the length below."""
    layout, scale = page.layout, page.scale
    step = BUYING_STEP_MM[page.unit]
    group = etree.SubElement(
        root, "g", {"stroke": INK, "stroke-width": number(0.25 * scale), "fill": "none"}
    )
    words = etree.SubElement(root, "g")
    for k in range(int(layout.length / step + 1e-9) + 1):
        y = k * step
        d = f"M{number(-1.5 * scale)},{number(y)}H0"
        etree.SubElement(group, "path", {"d": d})
        at = (-2.2 * scale, y + 0.35 * _TEXT * scale)
        _text(words, _mark(y, page.unit), at, _TEXT * scale, anchor="end")
    middle = 0.5 * layout.lying_width
    wide = f"cloth {_about(layout.cloth_width, page.unit)} wide"
    wide += " once it is washed" if layout.options.shrinkage_width else ""
    if layout.options.folded:
        wide += ", folded along its length: fold on the left, both selvedges on the right; "
        wide += "cut single plies one at a time"
    else:
        wide += ", selvedge to selvedge"
    _text(words, wide, (middle, -2.5 * scale), _TEXT * scale)
    below = layout.length + 4.2 * scale
    long = f"pieces take up {_about(layout.length, page.unit)}; buy {layout.to_buy_text(page.unit)}"
    _text(words, long, (middle, below), _TEXT * scale)


def _about(length: float, unit: str) -> str:
    """A length in mm as finely as cloth is measured."""
    digits = 0 if unit == "mm" else 1
    return f"{round(length / MM_PER_UNIT[unit], digits):g} {unit}"


def _mark(y: float, unit: str) -> str:
    """What a tick says: mm, cm, or eighths of a yard."""
    if unit == "in":
        eighths = round(y / YARD_EIGHTH_MM)
        return bought(y, unit) if eighths % 8 == 0 else str(Fraction(eighths, 8))
    return f"{y / MM_PER_UNIT[unit]:.0f}" + (f" {unit}" if y == 0.0 else "")


def _grain(root: etree._Element, page: _ClothPage) -> None:
    """An arrow along the cloth in the right margin: both ways, or one way with nap."""
    layout, scale = page.layout, page.scale
    nap = layout.options.nap
    x = layout.lying_width + 2.2 * scale
    half = min(0.4 * layout.length, 14.0 * scale)
    middle = 0.5 * layout.length
    head = 1.2 * scale
    top, bottom = middle - half, middle + half
    arrow = f"M{_at(x, bottom)}L{_at(x, top)}"
    arrow += f"M{_at(x - 0.6 * head, top + head)}L{_at(x, top)}L{_at(x + 0.6 * head, top + head)}"
    if not nap:
        arrow += f"M{_at(x - 0.6 * head, bottom - head)}L{_at(x, bottom)}"
        arrow += f"L{_at(x + 0.6 * head, bottom - head)}"
    etree.SubElement(
        root,
        "path",
        {"d": arrow, "fill": "none", "stroke": INK, "stroke-width": number(0.3 * scale)},
    )
    transform = f"translate({_at(x + 3.6 * scale, middle)}) rotate(-90)"
    group = etree.SubElement(root, "g", {"transform": transform})
    _text(group, "nap: one way" if nap else "grain", (0.0, 0.0), _TEXT * scale)


def _at(x: float, y: float) -> str:
    return f"{number(x)},{number(y)}"


def _key_lines(keyed: list[Name]) -> list[str]:
    """Names that stand under the picture, by their numbers, in lines as wide as it."""
    entries = list(dict.fromkeys(f"{name.key} {' '.join(name.full)}" for name in keyed))
    room = (PAGE_MM - _LEFT - _RIGHT) / _TEXT
    lines: list[str] = []
    for entry in entries:
        longer = f"{lines[-1]};  {entry}" if lines else ""
        if lines and width(longer) <= room:
            lines[-1] = longer
        else:
            lines.append(entry)
    return lines


def _text(
    parent: etree._Element,
    content: str,
    at: tuple[float, float] | FloatArray,
    size: float,
    anchor: str = "middle",
) -> None:
    attributes: Mapping[str, str] = {
        "x": number(float(at[0])),
        "y": number(float(at[1])),
        "font-size": number(size),
        "text-anchor": anchor,
        "fill": INK,
    }
    etree.SubElement(parent, "text", dict(attributes)).text = _printable(content)


def _printable(text: str) -> str:
    """Leave out what XML cannot hold: names come from files of all kinds."""
    return "".join(ch for ch in text if ch.isprintable() or ch == " ")
