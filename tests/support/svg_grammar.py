"""Bytes into SVG text and job text: every choice of a small grammar is taken from the bytes.

Both the fuzzer and hypothesis feed it, so that either can reach what random text cannot:
nested groups, copies, style sheets, and outlines that almost make a panel.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final, TypeVar

Item = TypeVar("Item")

NUMBERS: Final = (
    *("0", "1", "-1", "10", "50", "100", ".5", "-.5", "5.", "1e2", "1e-3", "-0", "3.25"),
    *("1e12", "1e13", "-1e12", "1e-300", "1e308", "1e999", "0.1", "1e5", "-1e5", "nan", "inf"),
    *("200000", "99999.9", "1e-9", "1e-7", "0.0000001", "360", "90", "45", "180"),
)
UNITS: Final = ("", "mm", "cm", "in", "pt", "pc", "px", "Q", "%", "em", "ex", "vw", " mm", "MM")
GROUPS: Final = ("g", "a", "switch", "svg", "symbol", "defs", "clipPath", "foreignObject")
NAMES: Final = (
    *("a", "b", "c", "waist", "waist 1", "wl", "bust", "hip", "notch", "grain", "1", "2"),
    *("../x", "panel 1", "left", "right", "back", "allowance", "frame", "net", "", "&lt;b&gt;"),
)
ROOTS: Final = (
    'width="500mm" height="500mm" viewBox="0 0 500 500"',
    'width="500mm" height="500mm" viewBox="0 0 500 500"',
    'width="10in" viewBox="0 0 960 960"',
    'viewBox="0 0 1000 2000"',
    'width="100%" height="50%"',
    "",
)
COMMANDS: Final = "MmZzLlHhVvCcSsQqTtAa"
TRANSFORMS: Final = ("translate", "scale", "rotate", "skewX", "skewY", "matrix", "rotateZ")
ALIGNMENTS: Final = ("none", "xMinYMin", "xMidYMid", "xMaxYMax slice", "xMidYMax meet", "defer")
SELECTORS: Final = ("*", "path", ".k", "#a", "g > path", "g path", ":not(g)", "path:first-child")
PROPERTIES: Final = (
    *("display:none", "visibility:hidden", "display:inline", "visibility:visible"),
    *("transform:rotate(30deg)", "transform:scale(2)", "transform:translate(10%,1mm)"),
    *("transform-origin:center", "transform-box:fill-box", "font-size:2em", "font:9px serif"),
    *("d:path('M0 0L9 9')", "x:3px", "r:5", "rx:auto", "width:50%", "all:unset", "rotate:3deg"),
)
ARGUMENTS: Final = {"M": 2, "L": 2, "H": 1, "V": 1, "C": 6, "S": 4, "Q": 4, "T": 2, "A": 7}


class Choices:
    """Bytes read as choices; after the last byte every choice is the first one.

    The first byte says whether strange numbers and units are among the choices: a document
    full of them is refused early, and one without them gets far.
    """

    def __init__(self, data: bytes) -> None:
        self._data = data
        self._place = 0
        self._strange = self.byte() % 4 == 3

    def __bool__(self) -> bool:
        return self._place < len(self._data)

    def byte(self) -> int:
        """Return the next byte, 0 at the end."""
        place, self._place = self._place, self._place + 1
        return self._data[place] if place < len(self._data) else 0

    def pick(self, items: Sequence[Item]) -> Item:
        """Return one of the items."""
        return items[self.byte() % len(items)]

    def number(self) -> str:
        """Return a number as text: mostly one within a page, at times a strange one."""
        kind = self.byte()
        if kind < 200 or not self._strange:
            return f"{(self.byte() - 64) * (1 + kind % 3) / (1 + kind % 2)!r}"
        return NUMBERS[kind % len(NUMBERS)]

    def unit(self) -> str:
        """Return a unit."""
        return self.pick(UNITS if self._strange else UNITS[:9])


def document(data: bytes) -> bytes:
    """Return an SVG file that the bytes spell."""
    choices = Choices(data)
    root = choices.pick(ROOTS)
    if not root:
        box = " ".join(choices.number() for _ in range(4))
        root = f'width="{choices.number()}{choices.unit()}" viewBox="{box}" '
        root += f'preserveAspectRatio="{choices.pick(ALIGNMENTS)}"'
    body = []
    while choices:
        body.append(_element(choices, 0))
    text = (
        '<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" '
        f"{root}>{''.join(body)}</svg>"
    )
    return text.encode()


def _element(choices: Choices, depth: int) -> str:
    kind = choices.byte() % 16
    if kind < 4:
        return _panel(choices)
    if kind == 4:
        return f'<path {_own(choices)} d="{_path(choices)}"/>'
    if kind == 5:
        tag = choices.pick(("polygon", "polyline"))
        numbers = choices.pick((" ", ",", " , ")).join(
            choices.number() for _ in range(choices.byte() % 17)
        )
        return f'<{tag} {_own(choices)} points="{numbers}"/>'
    if kind == 6:
        return _shape(choices)
    if kind == 7:
        href = choices.pick(NAMES)
        name = choices.pick(("href", "xlink:href"))
        return f'<use {_own(choices)} {name}="#{href}" {_lengths(choices, "x y width height")}/>'
    if kind == 8:
        selector, declaration = choices.pick(SELECTORS), choices.pick(PROPERTIES)
        return f"<style>{selector}{{{declaration}}}</style>"
    if kind == 9:
        return f"<text {_own(choices)} {_lengths(choices, 'x y')}>{choices.pick(NAMES)}</text>"
    if kind == 10:
        tag = choices.pick(("image", "script", "title", "unknown", "textPath", "marker"))
        return f"<{tag} {_own(choices)}>{choices.pick(NAMES)}</{tag}>"
    if depth > 6:
        return ""
    tag = choices.pick(GROUPS)
    box = ""
    if tag in ("svg", "symbol"):
        box = _lengths(choices, "x y width height")
        if choices.byte() % 2:
            numbers = " ".join(choices.number() for _ in range(4))
            box += f' viewBox="{numbers}" preserveAspectRatio="{choices.pick(ALIGNMENTS)}"'
    inner = "".join(_element(choices, depth + 1) for _ in range(choices.byte() % 4))
    return f"<{tag} {_own(choices)} {box}>{inner}</{tag}>"


def _own(choices: Choices) -> str:
    """What an element may carry: id, class, transform, style."""
    parts = []
    flags = choices.byte()
    if flags & 1:
        parts.append(f'id="{choices.pick(NAMES)}"')
    if flags & 2:
        parts.append('class="k"')
    if flags & 4 and flags & 8:
        parts.append(f'transform="{_transform(choices)}"')
    if flags & 16 and flags & 32:
        parts.append(f'style="{choices.pick(PROPERTIES)}"')
    if flags & 64 and flags & 128:
        parts.append(f'data-panel="{choices.pick(NAMES)}"')
    return " ".join(parts)


def _transform(choices: Choices) -> str:
    name = choices.pick(TRANSFORMS)
    count = 6 if name == "matrix" else choices.pick((1, 2, 3))
    return f"{name}({choices.pick((' ', ',')).join(choices.number() for _ in range(count))})"


def _lengths(choices: Choices, names: str) -> str:
    flags = choices.byte()
    return " ".join(
        f'{name}="{choices.number()}{choices.unit()}"'
        for place, name in enumerate(names.split())
        if flags >> place & 1
    )


def _shape(choices: Choices) -> str:
    tag, names = choices.pick(
        (
            ("rect", "x y width height rx ry"),
            ("circle", "cx cy r"),
            ("ellipse", "cx cy rx ry"),
            ("line", "x1 y1 x2 y2"),
        )
    )
    return f"<{tag} {_own(choices)} {_lengths(choices, names)}/>"


def _path(choices: Choices) -> str:
    parts = ["M", choices.number(), " ", choices.number()]
    for _ in range(choices.byte() % 9):
        letter = choices.pick(COMMANDS)
        parts.append(letter)
        for place in range(ARGUMENTS.get(letter.upper(), 0)):
            flag = letter in "Aa" and place in (3, 4)
            parts.append(" " + (choices.pick("01") if flag else choices.number()))
    return "".join(parts)


def _panel(choices: Choices) -> str:
    """An outline with a waistline, pushed out of shape by up to a few mm or a lot."""
    x, y = 2.0 * choices.byte(), 150.0 + choices.byte()
    push = choices.pick((0.0, 0.0, 0.01, 0.1, 1.0))

    def near(value: float) -> float:
        return value + push * (choices.byte() - 128) / 8.0

    corners = [(x - 5, y - 120), (x + 55, y - 120), (x + 50, y), (x + 60, y + 100)]
    corners += [(x - 10, y + 100), (x, y)]
    points = [(near(px), near(py)) for px, py in corners] if push else corners
    style = choices.byte() % 6
    if style == 0:
        data = "M" + "L".join(f"{px!r} {py!r}" for px, py in points) + "Z"
    elif style == 1:
        data = "M" + "L".join(f"{px!r} {py!r}" for px, py in (*points, points[0]))
    elif style == 2:
        (ax, ay), (bx, by), (cx, cy), (dx, dy), (ex, ey), (fx, fy) = points
        data = f"M{ax} {ay}L{bx} {by}Q{cx} {cy} {dx} {dy}L{ex} {ey}T{fx} {fy}C{fx} {fy} {ax} {ay} "
        data += f"{ax} {ay}z"
    elif style == 3:
        doubled = [point for point in points for _ in range(1 + choices.byte() % 2)]
        data = "M" + "L".join(f"{px!r} {py!r}" for px, py in doubled) + "Z"
    elif style == 4:
        data = "".join(
            f"M{points[k][0]} {points[k][1]}L{points[k - 1][0]} {points[k - 1][1]}"
            for k in range(6)
        )
    else:
        data = f"M{x} {y - 100}a30 {choices.byte()} {choices.byte()} 1 0 60 0v200h-60z"
    over = choices.pick((1.0, 1.0, 0.0, -1.0, -3.0, 40.0))
    waist = f"M{x - over} {near(y)}H{x + 50 + over}" if choices.byte() % 8 else ""
    name = choices.pick(NAMES)
    return (
        f'<path {_own(choices)} d="{data}"/><path id="waist {name}" d="{waist}"/>'
        if choices.byte() % 4
        else f'<g id="{name}"><path d="{data}"/><path class="waist" d="{waist}"/></g>'
    )
