"""What the names on a drawing say: which line is a waistline, a notch, a grainline; and where a
line lies, so that a maker finds it without a name."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Final, Literal

import numpy as np

from ..pattern.drawing import Shape, spaced
from ..units import trimmed

RoleKind = Literal[
    "waist",
    "level",
    "plumb",
    "grainline",
    "notch",
    "bone",
    "net",
    "allowance",
    "aside",
    "hatching",
    "split",
]

LEVELS_ABOVE: Final = ("overbust", "bust", "underbust", "rib")
LEVELS_BELOW: Final = ("high hip", "hip", "low hip")

_WORDS: Final[tuple[tuple[RoleKind, str, str], ...]] = (
    # The order matters: "high hip" before "hip", "underbust" before "bust".
    ("waist", "waist", r"waist|\bwl\b"),
    ("plumb", "", r"\bplumb\b"),
    ("grainline", "", r"grain"),
    ("notch", "", r"notch"),
    ("bone", "", r"\bbon(e|es|ing)\b|\bchannels?\b|\bcasings?\b"),
    ("allowance", "", r"allowance|\bcut(ting)? ?lines?\b"),
    ("aside", "", r"\b(frame|border|page|test square|scale|ruler|legend|title|guide)s?\b"),
    ("hatching", "", r"\b(cross ?)?hatch(es|ed|ing|ings)?\b|\bshading\b"),
    ("level", "overbust", r"over ?bust"),
    ("level", "underbust", r"under ?bust"),
    ("level", "bust", r"bust"),
    ("level", "rib", r"\bribs?\b"),
    ("level", "high hip", r"high ?hips?"),
    ("level", "low hip", r"low ?hips?"),
    ("level", "hip", r"\bhips?\b|hip ?line"),
    ("net", "", r"\b(net|stitch|outlines?|seam ?lines?)\b"),
)

_FROM_WAIST: Final = re.compile(
    r"\b(above|below|over|under|from) (the )?(natural )?(waist( ?line)?|wl)\b"
)

_THE_WAIST: Final = re.compile(r"(natural )?(waist ?(line)?s?|wl)( \d+)?")

_OUTLINE_MM: Final = 60.0
"""Closed shapes from this size on may be panels: a group of level lines holds none."""

_MADE_UP = re.compile(
    r"(cls|st|path|polygon|polyline|rect|line|circle|ellipse|g|group|svg|shape|layer|use"
    r"|vector|curve|spline|object|element|item|compound(?:[-_ ]?path)?|fill|stroke"
    r"|id(?=[-_]?[0-9])|xmlid|svgid|surface|patch|line2d|rectangle|oval|bezier|_(?=[0-9]{4}))"
    r"[-_ ]?[0-9a-f]*([-_][0-9]+)*_?",
    re.IGNORECASE,
)


@dataclass(frozen=True)
class Role:
    """What a name makes of a shape; `level` is the level's plain name where it has one."""

    kind: RoleKind
    level: str = ""


def own_role(shape: Shape) -> Role | None:
    """What the shape's own names and data say."""
    level = shape.data.get("level", "").strip()
    if level:
        known = first_role((level,))
        words = spaced(level)
        same = _plain(words) == _plain(known.level) if known else False
        if known and known.level and (same or _THE_WAIST.fullmatch(words)):
            return known
        # A low waist or a high bust is another level; what a maker calls a level stays as it is.
        return Role("level", " ".join(level.split()))
    return first_role((*shape.names, *shape.classes))


def _plain(words: str) -> str:
    """A level's name without what one may add to it: hips, hipline and full hip are the hip."""
    return re.sub(r"^full|s?(line|level)?$", "", words.casefold().replace(" ", ""))


def without_panels(shapes: Sequence[Shape]) -> tuple[Shape, ...]:
    """Shapes whose names do not say again what their group and their panel's own name say.

    Lines of cutting files are called after both: a notch on a panel that is called "low hip" is
    no level, and its waistline no low one.
    """
    panels = {spaced(shape.data["panel"]) for shape in shapes if shape.data.get("panel")}

    def plain(name: str, group: str) -> str:
        rest = name.removeprefix(f"{group}-")
        told = rest != name and {spaced(rest), spaced(_COUNTED.sub("", rest))} & panels
        return group if told else name

    return tuple(
        replace(shape, names=tuple(plain(name, shape.groups[-1]) for name in shape.names))
        if panels and shape.groups and shape.names
        else shape
        for shape in shapes
    )


_COUNTED: Final = re.compile(r"-\d+$")
"""What tells the second of several lines from the first."""


def level_role(shape: Shape) -> Role:
    """The role of a line that is called a waist and is a level all the same: by its own name."""
    if shape.data.get("level", "").strip():
        return Role("level", " ".join(shape.data["level"].split()))
    for name in shape.names:
        role, words = _role_of(name), spaced(name)
        if role and role.kind == "waist" and not _THE_WAIST.fullmatch(words):
            return Role("level", words)
    return Role("level")


def roles_of(shapes: Iterable[Shape]) -> dict[str, Role | None]:
    """Role of each shape by ident: what its own names say, or else the nearest group's.

    A group's name counts only if the group says what kind of line it holds. One that holds
    a waistline among other things, or a closed outline, is a panel or a whole pattern that
    happens to be called after a hip or a bust: its name says nothing of its lines.
    """
    shapes = tuple(shapes)
    own = {shape.ident: own_role(shape) for shape in shapes}
    mixed: set[tuple[str, ...]] = set()
    for shape in shapes:
        role = own[shape.ident]
        for depth in range(1, len(shape.groups) + 1):
            path = shape.groups[:depth]
            group = first_role(path[-1:])
            if group is None:
                continue
            differs = role is not None and role.kind != group.kind
            if differs or (group.level and _may_be_outline(shape)):
                mixed.add(path)
    result = {}
    for shape in shapes:
        role = own[shape.ident]
        for depth in range(len(shape.groups), 0, -1):
            if role is not None:
                break
            if shape.groups[:depth] not in mixed:
                role = first_role(shape.groups[depth - 1 : depth])
        result[shape.ident] = role
    return result


def _may_be_outline(shape: Shape) -> bool:
    return shape.curve.closed and float(np.ptp(shape.curve.hull_box, axis=0).max()) >= _OUTLINE_MM


def first_role(names: Iterable[str]) -> Role | None:
    """What the first of some names, or words, that says anything makes of a line."""
    return next((role for name in names if (role := _role_of(name)) is not None), None)


@lru_cache(maxsize=4096)
def _role_of(name: str) -> Role | None:
    # A group's name is asked for once for each shape in it.
    words = spaced(name)
    # A line so far above or below the waist is another one.
    rest = _FROM_WAIST.sub(" ", words)
    for kind, level, pattern in _WORDS:
        if re.search(pattern, rest):
            return Role(kind, level)
    return None if rest == words else Role("level")


def is_called(shape: Shape, wanted: str) -> bool:
    """Whether a shape has a name that the job file gives: its id, its label or the panel's."""
    names = (shape.ident, shape.element, *shape.names, shape.data.get("panel", ""))
    return any(name and spaced(name) == spaced(wanted) for name in names)


def says_gore(name: str) -> bool:
    """Whether a name speaks of a piece that is set in: a gore, a gusset or a godet."""
    return bool(re.search(r"\b(gore|gusset|godet)s?\b", spaced(name)))


def says_slit(name: str) -> bool:
    """Whether a name speaks of a line along which a panel is cut open."""
    return bool(re.search(r"\bslits?\b", spaced(name)))


def is_made_up(name: str) -> bool:
    """Whether a name looks like one that a program gave by itself, such as path4521."""
    return bool(_MADE_UP.fullmatch(name.strip()))


def given_name(names: Iterable[str]) -> str:
    """Return the first name that a person chose and that says more than a role, or empty."""
    for name in names:
        if name.strip() and not is_made_up(name) and spaced(name) not in _ROLE_ONLY:
            return name.strip()
    return ""


_ROLE_ONLY: Final = frozenset(
    {
        "outline",
        "net",
        "panel",
        "panels",
        "stitch line",
        "seam line",
        "stitchline",
        "seamline",
        "net outline",
        "pattern",
    }
)


_MOST_LISTED: Final = 12
"""Lines described in a message."""

_POINT_MM: Final = 1.0
"""Lines that reach less far across or down are said to be at one place."""

_COLOURS: Final = {
    "#000000": "black",
    "#ffffff": "white",
    "#ff0000": "red",
    "#00ff00": "green",
    "#008000": "green",
    "#0000ff": "blue",
    "#808080": "grey",
}


def described(shape: Shape) -> str:
    """Id of a shape; where no person has named it, how it looks and where it is as well.

    Examples
    --------
    >>> from panelshift.outline import Curve
    >>> from panelshift.pattern.drawing import LineStyle
    >>> line = Curve.polyline([(38.0, 230.0), (90.0, 230.0)])
    >>> described(Shape(line, "path[6]", style=LineStyle("#ff0000", 0.3, (6.0, 3.0))))
    'path[6] (dashed red line, 0.3 mm wide, 38 to 90 mm from the left, 230 mm from the top)'
    """
    if given_name(shape.names):
        return shape.ident
    return f"{shape.ident} ({looks(shape)}, {place(shape)})"


def looks(shape: Shape) -> str:
    """How a line is painted: dashed or solid, colour, width."""
    style = shape.style
    if style.width is None:
        return "filled shape without a line" if shape.curve.closed else "line that is not painted"
    what = "outline" if shape.curve.closed else "line"
    colour = colour_name(style.colour)
    kind = "dashed" if style.dash else "solid"
    words = " ".join(part for part in (kind, colour, what) if part)
    # A file may leave its lines' width to whoever draws them: then it is 0 here.
    return f"{words}, {trimmed(style.width, 2)} mm wide" if style.width else words


def colour_name(colour: str) -> str:
    """The plain name of a colour, or what is written in the file."""
    return _COLOURS.get(colour, colour)


def place(shape: Shape) -> str:
    """Where a shape lies on the sheet, in mm from its left and its top edge."""
    low, high = shape.curve.hull_box.tolist()
    sides = zip(low, high, ("left", "top"), strict=True)
    return ", ".join(f"{_reach(a, b)} mm from the {side}" for a, b, side in sides)


def _reach(low: float, high: float) -> str:
    if high - low < _POINT_MM:
        return trimmed(0.5 * (low + high), 0)
    return f"{trimmed(low, 0)} to {trimmed(high, 0)}"


def listed(shapes: Sequence[Shape]) -> str:
    """Several shapes for a message, not too many."""
    names = [described(shape) for shape in shapes[:_MOST_LISTED]]
    more = len(shapes) - len(names)
    return ", ".join(names) + (f" and {more} more" if more else "")
