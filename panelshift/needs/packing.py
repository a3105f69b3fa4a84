"""Nest pieces on cloth: true outlines, the grain kept, the length as short as can be found.

Which library, and why
----------------------
Strip packing of irregular outlines is done by spyrrow (MIT; binary wheels for Linux, musl
Linux, macOS and Windows on x86 and ARM), the Python face of sparrow, the heuristic of
Gardeyn and Wauters, "An open-source heuristic to reboot 2D nesting research",
arXiv:2509.13329. It had 14 releases in the year to March 2026.
tests/bench/performance.md compares lengths and times with what else there is.

rectpack (Apache-2.0) lays boxes, not outlines, and had its last release in 2021; rows do as
well. u-nesting (MIT) is a few months old, and its good strategies are no shorter and stop by
the clock. python-libnest2d and PackingSolver's bindings are LGPL and AGPL, with wheels for few
platforms. Others need newer Pythons or have not been kept up.

The same result each time
-------------------------
spyrrow too stops by the clock, so that a busy machine finds another layout (786.4 and 793.5
there). With one worker and a seed, however, the sequence of what it reports is always the
same; it is the moment of stopping that is not. So it is given an hour, its reports of work
are counted, and it is stopped after `EFFORT` of them. A solver cannot be stopped within a
process: it runs in a child process. That also keeps a solver that aborts from taking the
caller with it, and lets several layouts be found at once.

What comes back is pushed together along the cloth, checked by shapely, and used only if it
is shorter than rows, which need no library: where spyrrow or child processes are not to be
had, rows are the result, and `Packed.nested` says so.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np

from ..outline.planar import outward
from .bounds import lower_bound
from .laid import LaidPiece, fits, in_rows, laid_length, pushed_together, with_corner
from .pieces import Piece

EFFORT: Final = 40
"""Reports of work after which the solver is stopped: half a second to a few seconds."""

GAP_MM: Final = 3.0
"""Between cut lines, so that scissors pass: common practice, no source."""

ENOUGH_MM: Final = 3.0
"""The solver stops at a length within this of the lower bound: the push does the rest."""

_SIMPLER_MM: Final = 0.3
"""Few corners make the solver quick; each costs no more than this of the cloth."""

_FEW_PIECES: Final = 14
"""So many pieces are worth the plain effort, more of them more in proportion: 84 pieces lay in
rows (3077 mm on 1.4 m) with the plain effort, and on 2965 mm with six times as much."""

_MOST_EFFORT: Final = 6.0

_LONGEST_S: Final = 120.0
"""A child that has not answered by then is given up. On any ordinary machine none gets there:
only then would a result depend on the clock."""


@dataclass(frozen=True, eq=False)
class Packed:
    """Pieces laid on cloth.

    Parameters
    ----------
    laid : tuple of LaidPiece
        In the order of the pieces.
    nested : bool
        False if only rows could be tried, for want of the nesting library.
    """

    laid: tuple[LaidPiece, ...]
    nested: bool


def nest(
    pieces: Sequence[Piece],
    width: float,
    *,
    gap: float = GAP_MM,
    nap: bool = False,
    effort: int = EFFORT,
    seed: int = 0,
) -> Packed:
    """Lay pieces on cloth of a width, on the grain, as short as can be found.

    *pieces*: at least one, none wider than the cloth. *width*: in mm. *gap*: least distance in mm
    between two cut lines; at the edges of the cloth none is kept. *nap*: whether all pieces must
    lie the same way. If not, half turns are allowed. *effort*: reports of work that the solver may
    make; 0 lays rows only. *seed*: of the solver.

    Returns: the same for the same arguments, on one kind of machine.
    """
    best, usable = in_rows(pieces, width, gap, nap=nap), True
    if effort <= 0:
        return Packed(tuple(best), False)
    bound = lower_bound(pieces, width, gap)
    if laid_length(best) <= bound + 0.1:
        return Packed(tuple(best), True)
    effort = effort_for(len(pieces), effort)
    # With more freedom the solver may end at a longer layout: then the plainer one is kept.
    for turns in ([0.0],) if nap else ([0.0], [0.0, 180.0]):
        found, usable = _solved(pieces, width, gap, turns, effort, seed, bound)
        pushed = [] if found is None else pushed_together(found, gap)
        for candidate in (pushed, found):
            if candidate and fits(candidate, width, gap):
                best = min(best, candidate, key=laid_length)
                break
        if not usable or laid_length(best) <= bound + ENOUGH_MM:
            # What turning could still save is less than what it may lose.
            break
    return Packed(tuple(best), usable)


def effort_for(count: int, effort: int) -> int:
    """Reports of work for so many pieces: in proportion where they are many."""
    return round(effort * min(max(count / _FEW_PIECES, 1.0), _MOST_EFFORT))


def nest_folded(
    pieces: Sequence[Piece], width: float, *, gap: float, nap: bool, effort: int
) -> Packed:
    """Lay pieces on folded cloth, `width` mm from fold to selvedges, held ones along its fold.

    Those lie below each other; the others beside them, or below, whichever is shorter.
    """
    held = [k for k, piece in enumerate(pieces) if piece.held]
    free = [k for k, piece in enumerate(pieces) if not piece.held]
    if not held:
        return nest(pieces, width, gap=gap, nap=nap, effort=effort)
    column, top = [], 0.0
    for k in held:
        column.append(with_corner(pieces[k], False, 0.0, top))
        top += pieces[k].length + gap
    rest, usable = [pieces[k] for k in free], effort > 0
    found: list[list[LaidPiece]] = []
    if not rest:
        return Packed(tuple(column), usable)
    beside = max(pieces[k].width for k in held) + gap
    for room, at in ((width - beside, (beside, 0.0)), (width, (0.0, top))):
        if max(piece.width for piece in rest) <= room:
            packed = nest(rest, room, gap=gap, nap=nap, effort=effort)
            usable = packed.nested
            whole = [*column, *(lying.moved(*at) for lying in packed.laid)]
            pushed = pushed_together(whole, gap)
            found.append(pushed if fits(pushed, width, gap) else whole)
    shortest = min(found, key=laid_length)
    best = dict(zip([*held, *free], shortest, strict=True))
    return Packed(tuple(best[k] for k in range(len(pieces))), usable)


def _solved(
    pieces: Sequence[Piece],
    width: float,
    gap: float,
    turns: list[float],
    effort: int,
    seed: int,
    bound: float,
) -> tuple[list[LaidPiece] | None, bool]:
    """What the solver found, or None; and whether it could be used at all."""
    hulls = [outward(piece.ring, 0.5 * gap, _SIMPLER_MM) for piece in pieces]
    room = width + gap
    if max(float(np.ptp(hull[:, 0])) for hull in hulls) > room:
        # A piece as wide as the cloth does not pass with its margin; rows lay it all the same.
        return None, True
    task = {
        "width": room,
        # The solver's strip runs along its x axis.
        "rings": [hull[:, ::-1].tolist() for hull in hulls],
        "turns": turns,
        "effort": effort,
        "enough": bound + gap + ENOUGH_MM,
        "seed": seed,
        "seconds": _LONGEST_S,
        # On Windows a child is not told anew whose it is, and a launcher may stand between.
        "parent": os.getpid() if os.name == "posix" else None,
    }
    try:
        # The last line: whatever else a library may print comes before it.
        answer = json.loads((_run_child(json.dumps(task)) or "").rpartition("\n")[2])
    except json.JSONDecodeError:
        return None, False
    laid = []
    for piece, (rotation, along, across) in zip(pieces, answer or (), strict=False):
        # A swap of the axes and half a turn commute: the rotation means the same here.
        turned = abs(abs(rotation) - 180.0) < 1.0
        laid.append(LaidPiece(piece, turned, np.array([across - 0.5 * gap, along])))
    if len(laid) < len(pieces):
        return None, True
    start = min(float(lying.box[0, 1]) for lying in laid)
    return [lying.moved(0.0, -start) for lying in laid], True


def _run_child(task: str) -> str | None:
    """Run the solver on a task; None if it cannot be run or does not answer."""
    if not sys.executable:
        return None
    script = str(Path(__file__).with_name("solver.py"))
    # The child finds what this process finds; -P keeps the script's own folder out of it.
    path = os.pathsep.join(entry for entry in sys.path if entry)
    try:
        run = subprocess.run(
            [sys.executable, "-P", script],
            input=task,
            capture_output=True,
            text=True,
            encoding="utf-8",
            timeout=_LONGEST_S,
            env={**os.environ, "PYTHONPATH": path},
            check=True,
        )
    except (OSError, subprocess.SubprocessError):
        return None
    return run.stdout
