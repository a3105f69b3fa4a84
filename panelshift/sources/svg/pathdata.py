"""Path data become outlines: SVG 2, section 9.3.

One pattern of the whole grammar says whether the data are sound; then their numbers are taken out
at one go. Data that it does not match, and those with arcs, are read command by command, which
names the fault. Browsers draw a faulty path up to its fault; here half an outline is an error.

No library does this. fontTools and svgpathtools read past faults and take some numbers for
others (``1.`` or ``007``, ``1.e2``); neither keeps arcs to a tolerance.
"""

from __future__ import annotations

import re
from array import array
from collections.abc import Callable, Iterable, Iterator, Sequence
from functools import lru_cache
from itertools import accumulate, islice
from operator import itemgetter
from typing import Final

from ...errors import SvgError
from ...outline.bezier import CUBIC, LINE, QUADRATIC
from ..outlines import ARC_TOLERANCE_MM, Outline, arc_control
from .lengths import MOST_UNITS, NUMBER, SPACE, number, shown

MOST_PATH_SEGMENTS: Final = 50_000
"""Commands in one path at most: a traced outline has some thousands."""

_MOST_CUBICS: Final = 4 * MOST_PATH_SEGMENTS
"""Cubics of all arcs in one path at most: a giant arc may take thousands."""

_MOST_QUICK: Final = 500_000
"""Characters that are taken apart at once; longer data are read command by command."""

_NEGLIGIBLE_RADIUS: Final = 1e-12
"""An arc's radius below this is taken as 0: squares of it would be lost to rounding."""

_ARGUMENTS: Final = {
    **dict.fromkeys("HhVv", 1),
    **dict.fromkeys("MmLlTt", 2),
    **dict.fromkeys("SsQq", 4),
    **dict.fromkeys("Cc", 6),
    **dict.fromkeys("Aa", 7),
    **dict.fromkeys("Zz", 0),
}

Command = tuple[str, list[float]]
"""A letter, and the arguments of one or more commands of its kind."""


def path_outlines(d: str, scale: float) -> list[Outline]:
    """Return the outline of each subpath; one without a segment is a moveto and no more.

    Lines, quadratics and cubics stay as drawn. Arcs become cubics within `ARC_TOLERANCE_MM` under
    a transform that makes at most `scale` mm of a user unit.
    """
    tolerance = ARC_TOLERANCE_MM / scale
    found = _quick(d, tolerance) if len(d) <= _MOST_QUICK else None
    return _drawn(_strict(d), tolerance) if found is None else found


# -- from commands to outlines -----------------------------------------------------------


def _drawn(commands: Iterable[Command], tolerance: float) -> list[Outline]:
    pen = _Pen(tolerance)
    for letter, values in commands:
        pen.follow(letter, values)
    return pen.lifted()


_LINE: Final = bytes((LINE,))
_QUADRATIC: Final = bytes((QUADRATIC,))
_CUBIC: Final = bytes((CUBIC,))


class _Pen:
    """Follows commands; one after a closepath starts where that ended (section 9.3.4)."""

    def __init__(self, tolerance: float) -> None:
        self.tolerance = tolerance
        self.found: list[Outline] = []
        self.rows: list[float] = []
        self.degrees = bytearray()
        self.x = self.y = self.start_x = self.start_y = 0.0
        # What a smooth command reflects, and for curves of which degree it does.
        self.handle_x = self.handle_y = 0.0
        self.handle_of = 0
        self.is_down = False

    def follow(self, letter: str, values: list[float]) -> None:
        """Carry out one or more commands of a kind."""
        kind = letter.upper()
        relative = letter != kind
        if kind == "Z":
            self._end(closed=True)
            self.x, self.y, self.handle_of = self.start_x, self.start_y, 0
            return
        if kind == "M":
            self.lifted()
            x, y = values[:2]
            self.x, self.y = (self.x + x, self.y + y) if relative else (x, y)
            self.start_x, self.start_y, self.handle_of = self.x, self.y, 0
            # More pairs after a moveto are lines (section 9.3.3).
            kind, values = "L", values[2:]
        self.is_down = True
        size, draw, degree = _ARGUMENTS[kind], _DRAWN_BY[kind], _HANDLES.get(kind, 0)
        for k in range(0, len(values), size):
            own: Sequence[float] = values[k : k + size]
            if relative:
                own = self._absolute(kind, own)
            draw(self, *own)
            self.handle_of = degree

    def lifted(self) -> list[Outline]:
        """Return all outlines, the one that is being drawn left open."""
        if self.is_down:
            self._end(closed=False)
        return self.found

    def _end(self, *, closed: bool) -> None:
        self.found.append(Outline(array("d", self.rows), bytes(self.degrees), closed))
        self.rows, self.degrees, self.is_down = [], bytearray(), False

    def _absolute(self, kind: str, own: Sequence[float]) -> Sequence[float]:
        x, y = self.x, self.y
        if kind == "C":
            x1, y1, x2, y2, to_x, to_y = own
            return x1 + x, y1 + y, x2 + x, y2 + y, to_x + x, to_y + y
        if kind in "HV":
            return (own[0] + (x if kind == "H" else y),)
        if kind == "A":
            return *own[:5], own[5] + x, own[6] + y
        if kind in "LT":
            return own[0] + x, own[1] + y
        return own[0] + x, own[1] + y, own[2] + x, own[3] + y

    def _reflected(self, degree: int) -> tuple[float, float]:
        """The last handle on the other side of the pen, if it was of such a curve; else the pen."""
        x, y = self.x, self.y
        return (
            (x + x - self.handle_x, y + y - self.handle_y) if self.handle_of == degree else (x, y)
        )

    def _line(self, x: float, y: float) -> None:
        self.rows += (self.x, self.y, self.x, self.y, x, y, x, y)
        self.degrees += _LINE
        self.x, self.y = x, y

    def _cubic(self, x1: float, y1: float, x2: float, y2: float, x: float, y: float) -> None:
        self.rows += (self.x, self.y, x1, y1, x2, y2, x, y)
        self.degrees += _CUBIC
        self.x, self.y, self.handle_x, self.handle_y = x, y, x2, y2

    def _quadratic(self, x1: float, y1: float, x: float, y: float) -> None:
        one = self.x + (x1 - self.x) * (2 / 3), self.y + (y1 - self.y) * (2 / 3)
        two = x + (x1 - x) * (2 / 3), y + (y1 - y) * (2 / 3)
        self.rows += (self.x, self.y, *one, *two, x, y)
        self.degrees += _QUADRATIC
        self.x, self.y, self.handle_x, self.handle_y = x, y, x1, y1

    def _arc(self, *given: float) -> None:
        rx, ry, rotation, large, sweep, x, y = given
        radii = (abs(rx), abs(ry))
        if (x == self.x and y == self.y) or min(radii) < _NEGLIGIBLE_RADIUS:
            # SVG 2, section 9.5.1: no radius makes a line, no distance makes nothing.
            self._line(x, y)
            return
        ends = (complex(self.x, self.y), complex(x, y))
        arc = arc_control(*ends, radii, rotation, large == 1.0, sweep == 1.0, self.tolerance)
        self.rows += arc.ravel().tolist()
        self.degrees += _CUBIC * len(arc)
        self.x, self.y = x, y
        if len(self.degrees) > _MOST_CUBICS:
            raise _too_many()


_HANDLES: Final = {"C": CUBIC, "S": CUBIC, "Q": QUADRATIC, "T": QUADRATIC}
_DRAWN_BY: Final[dict[str, Callable[..., None]]] = {
    "L": _Pen._line,
    "H": lambda pen, x: pen._line(x, pen.y),
    "V": lambda pen, y: pen._line(pen.x, y),
    "C": _Pen._cubic,
    "S": lambda pen, *own: pen._cubic(*pen._reflected(CUBIC), *own),
    "Q": _Pen._quadratic,
    "T": lambda pen, *own: pen._quadratic(*pen._reflected(QUADRATIC), *own),
    "A": _Pen._arc,
}


# -- from characters to commands, quickly ------------------------------------------------

_LETTERS: Final = "MmZzLlHhVvCcSsQqTtAa"
_BLANKS: Final = " \t\n\f\r"
_SPLIT = re.compile(f"([{_LETTERS}])")
_NUMBER = re.compile(NUMBER)
_BETWEEN: Final = f"{SPACE}+,?+{SPACE}+"


def _sets(letters: str, size: int, again: str) -> str:
    """Return the pattern of a command with one or more sets of arguments."""
    one = _BETWEEN.join([NUMBER] * size)
    return f"[{letters}]{SPACE}+{one}(?:{_BETWEEN}{one}){again}"


def _plain(again: str) -> re.Pattern[str]:
    """Return the pattern of all path data without arcs; *again*: what repeats a group."""
    sets = (("Cc", 6), ("LlMmTt", 2), ("HhVv", 1), ("SsQq", 4))
    commands = "|".join([*(_sets(*one, again) for one in sets), "[Zz]"])
    first = _sets("Mm", 2, again)
    return re.compile(f"{SPACE}+{first}(?:{SPACE}+(?:{commands})){again}{SPACE}+")


_POSSESSIVE: Final = bool(re.fullmatch("(?:ab?c)*+a", "aca"))
"""Whether possessive groups are matched to their ends, as they are from Python 3.11.5 on."""

_BLANKED: Final = str.maketrans(dict.fromkeys(f"{_LETTERS},", " "))
# Without it matching takes twice as long, and memory for each pair of numbers.
_PLAIN = _plain("*+" if _POSSESSIVE else "*")


def _quick(d: str, tolerance: float) -> list[Outline] | None:
    """Return the outlines of path data; None if they hold arcs or break the grammar."""
    if _PLAIN.fullmatch(d) is None:
        return None
    try:
        values = list(map(float, d.translate(_BLANKED).split()))
    except ValueError:
        # Somewhere a sign or a point parts two numbers.
        values = list(map(float, _NUMBER.findall(d)))
    if not (max(values) <= MOST_UNITS and min(values) >= -MOST_UNITS):
        return None
    letters = _SPLIT.findall(d)
    if len(letters) <= _MOST_PLANNED:
        plan = _plan("".join(letters))
        if plan is not None and plan[0] == len(values):
            return [Outline(array("d", pick(values)), degs, end) for pick, degs, end in plan[1]]
    counts = sizes = [_ARGUMENTS[letter] for letter in letters]
    if sum(sizes) != len(values):
        # Some letter stands for more than one command.
        counts = [len(_NUMBER.findall(text)) for text in _SPLIT.split(d)[2::2]]
    commands = sum([n // (size or 1) or 1 for n, size in zip(counts, sizes, strict=True)])
    if commands > MOST_PATH_SEGMENTS:
        return None
    parts = zip(letters, counts, accumulate(counts), strict=True)
    return _drawn([(letter, values[end - n : end]) for letter, n, end in parts], tolerance)


_MOST_PLANNED: Final = 64
_NAMES_POINTS: Final = frozenset("MLHVCZ")
_Pick = Callable[[list[float]], Iterable[float]]


@lru_cache(maxsize=256)
def _plan(letters: str) -> tuple[int, list[tuple[_Pick, bytes, bool]]] | None:
    """Return how many numbers absolute commands take, one set each, and how they lay them out.

    They only copy numbers. So the pen is led over the numbers' places once for all paths of
    the same letters.
    """
    if not _NAMES_POINTS.issuperset(letters):
        return None
    ends = accumulate(_ARGUMENTS[letter] for letter in letters)
    places = [
        (letter, [float(k) for k in range(end - _ARGUMENTS[letter], end)])
        for letter, end in zip(letters, ends, strict=True)
    ]
    found = []
    for outline in _drawn(places, 1.0):
        picked = map(int, outline.rows)
        pick: _Pick = itemgetter(*picked) if len(outline.rows) else lambda _: ()
        found.append((pick, outline.degrees, outline.closed))
    return sum(_ARGUMENTS[letter] for letter in letters), found


# -- from characters to commands, strictly -----------------------------------------------

_LETTER = re.compile(f"{SPACE}([{_LETTERS}]){SPACE}")
_SPACE = re.compile(SPACE)
_GAP = re.compile(f"{SPACE},?{SPACE}")
_FLAG = re.compile("[01]")
_FLAG_PLACES: Final = (3, 4)
_AFTER: Final = {"M": "L", "m": "l"}


def _strict(d: str) -> list[Command]:
    """Return each command with one set of arguments; all are counted before any is drawn."""
    found = list(islice(_parsed(d), MOST_PATH_SEGMENTS + 1))
    if len(found) > MOST_PATH_SEGMENTS:
        raise _too_many()
    return found


def _too_many() -> SvgError:
    return SvgError(
        f"its path holds more than {MOST_PATH_SEGMENTS} pieces",
        remedy="Simplify the path: an edge takes a few curves.",
    )


def _parsed(d: str) -> Iterator[Command]:
    position = 0
    end = len(d.rstrip(_BLANKS))
    first = True
    while position < end:
        match = _LETTER.match(d, position)
        if match is None:
            raise _fault(d, position, "a command letter")
        letter = match.group(1)
        if first and letter not in "Mm":
            raise _fault(d, match.start(1), "M as the first command")
        first = False
        position = match.end()
        count = _ARGUMENTS[letter]
        if count == 0:
            yield letter, []
            continue
        while True:
            values, position = _values(d, position, letter, count)
            yield letter, values
            letter = _AFTER.get(letter, letter)
            gap = _GAP.match(d, position)
            assert gap is not None  # the pattern matches the empty string
            if _NUMBER.match(d, gap.end()) is None:
                if "," in gap.group():
                    raise _fault(d, gap.end(), "a number after the comma")
                break
            position = gap.end()


def _values(d: str, position: int, letter: str, count: int) -> tuple[list[float], int]:
    values = []
    for place in range(count):
        if place:
            gap = _GAP.match(d, position)
            assert gap is not None  # the pattern matches the empty string
            position = gap.end()
        is_flag = letter in "Aa" and place in _FLAG_PLACES
        match = (_FLAG if is_flag else _NUMBER).match(d, position)
        if match is None:
            wanted = "a flag, 0 or 1," if is_flag else "a number"
            raise _fault(d, position, f"{wanted} ({letter} takes {count})")
        values.append(number(match.group()))
        position = match.end()
    return values, position


def _fault(d: str, position: int, wanted: str) -> SvgError:
    space = _SPACE.match(d, position)
    assert space is not None  # the pattern matches the empty string
    position = space.end()
    return SvgError(
        f"its path data cannot be read at character {position + 1}: expected {wanted}, "
        f"found {shown(d, position)}",
        remedy="Delete the path or draw it again; half an outline is not used.",
    )
