"""Path data taken apart into subpaths, strictly by the grammar of SVG 2, section 9.3.9.

Browsers draw a faulty path up to its fault; here a fault is an error, because half an
outline is worse than none.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from ...errors import SvgError
from .numbers import NUMBER, SPACE, number, shown

_ARGUMENTS: Final = {"M": 2, "Z": 0, "L": 2, "H": 1, "V": 1, "C": 6, "S": 4, "Q": 4, "T": 2, "A": 7}
_LETTER = re.compile(f"{SPACE}([MmZzLlHhVvCcSsQqTtAa]){SPACE}")
_SPACE = re.compile(SPACE)
_GAP = re.compile(f"{SPACE},?{SPACE}")
_NUMBER = re.compile(NUMBER)
_FLAG = re.compile("[01]")
_FLAG_PLACES: Final = (3, 4)
_AFTER: Final = {"M": "L", "m": "l"}
"""More pairs after a moveto are lines (SVG 2, section 9.3.3)."""

MOST_PATH_SEGMENTS: Final = 50_000
"""Commands in one path at most: a traced outline has some thousands."""

_NEGLIGIBLE_RADIUS: Final = 1e-12
"""An arc's radius below this is taken as 0: squares of it would be lost to rounding."""


@dataclass(frozen=True, slots=True)
class Subpath:
    """One unbroken run of path data.

    Parameters
    ----------
    data : str
        Path data that starts with an absolute M and holds one letter before each set of
        arguments, without a Z; all arcs in it have radii above 0 and ends that differ.
    closed : bool
        Whether a Z ended it.
    """

    data: str
    closed: bool


def subpaths(d: str) -> list[Subpath]:
    """Split path data at each moveto and after each closepath.

    A command that follows a closepath continues from the start of the subpath that was
    closed (SVG 2, section 9.3.4).

    Raises
    ------
    SvgError
        At the first character outside the grammar, naming its position, or after
        `MOST_PATH_SEGMENTS` commands.
    """
    result: list[Subpath] = []
    run: list[str] = []
    start = pen = 0j
    for place, (letter, values) in enumerate(_commands(d)):
        if place >= MOST_PATH_SEGMENTS:
            raise SvgError(
                f"its path holds more than {MOST_PATH_SEGMENTS} pieces",
                remedy="Simplify the path: an edge takes a few curves.",
            )
        kind, relative = letter.upper(), letter.islower()
        if kind == "Z":
            result.append(Subpath(" ".join(run or [_moveto(start)]), closed=True))
            run = []
            pen = start
            continue
        origin = pen
        pen = _end(kind, values, pen, relative)
        if kind == "M":
            if run:
                result.append(Subpath(" ".join(run), closed=False))
            start = pen
            run = [_moveto(start)]
            continue
        if not run:
            run = [_moveto(start)]
        if kind == "A" and (pen == origin or min(map(abs, values[:2])) < _NEGLIGIBLE_RADIUS):
            # SVG 2, section 9.5.1: no radius makes a line, no distance makes nothing. A line
            # of no length still keeps a smooth command after it from seeing a curve.
            run.append(f"L{pen.real!r},{pen.imag!r}")
        else:
            run.append(letter + ",".join(map(_plain if kind == "A" else repr, values)))
    if run:
        result.append(Subpath(" ".join(run), closed=False))
    return result


def _plain(value: float) -> str:
    """Write an argument of an arc; its flags must be a bare 0 or 1."""
    return str(int(value)) if value in (0.0, 1.0) else repr(value)


def _moveto(point: complex) -> str:
    return f"M{point.real!r},{point.imag!r}"


def _end(kind: str, values: list[float], pen: complex, relative: bool) -> complex:
    if kind == "H":
        return complex(values[0] + (pen.real if relative else 0.0), pen.imag)
    if kind == "V":
        return complex(pen.real, values[0] + (pen.imag if relative else 0.0))
    point = complex(values[-2], values[-1])
    return point + pen if relative else point


def _commands(d: str) -> Iterator[tuple[str, list[float]]]:
    """Yield each command letter with one set of arguments."""
    position = 0
    end = len(d.rstrip(" \t\n\f\r"))
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
        count = _ARGUMENTS[letter.upper()]
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
