"""Lay pieces in rows: always possible, always quick, and often enough."""

from __future__ import annotations

from collections.abc import Sequence

from .laid import LaidPiece, fits, laid_length, pushed_together, with_corner
from .pieces import Piece


def in_rows(pieces: Sequence[Piece], width: float, gap: float, *, nap: bool) -> list[LaidPiece]:
    """Lay pieces in rows across the cloth, then push them together along it.

    *pieces*: none wider than the cloth. *width*: of the cloth, in mm. *gap*: between any two
    pieces, in mm. *nap*: whether all must lie the same way; if not, every second row is tried
    turned as well.

    Returns: in the order of the pieces; the shortest of a few tries.
    """
    # Rounded: two pieces alike but for rounding keep the pattern's order on every machine.
    order = sorted(range(len(pieces)), key=lambda k: -round(pieces[k].length, 6))
    tries = []
    for lines in (_first_fit(pieces, order, width, gap), _best_cut(pieces, order, width, gap)):
        for turning in (False,) if nap else (False, True):
            boxed = _boxed(pieces, lines, width, gap, turning)
            pushed = pushed_together(boxed, gap)
            tries.append(pushed if fits(pushed, width, gap) else boxed)
    return min(tries, key=lambda laid: round(laid_length(laid), 3))


def _first_fit(
    pieces: Sequence[Piece], order: Sequence[int], width: float, gap: float
) -> list[list[int]]:
    """Put each piece into the first row that has room for it, the longest first.

    First fit by decreasing height: Coffman, Garey, Johnson and Tarjan, SIAM J. Comput. 9
    (1980), 808-826.
    """
    lines: list[list[int]] = []
    runs: list[float] = []
    for k in order:
        size = pieces[k].width
        for place, run in enumerate(runs):
            if run + gap + size <= width + 1e-9:
                lines[place].append(k)
                runs[place] = run + gap + size
                break
        else:
            lines.append([k])
            runs.append(size)
    return lines


def _best_cut(
    pieces: Sequence[Piece], order: Sequence[int], width: float, gap: float
) -> list[list[int]]:
    """Cut the pieces, the longest first, into rows so that the rows together are shortest.

    First fit fills the first row to the brim and leaves what happens to be wide for the
    last; here the last row may take the shortest pieces instead. Found by going through all
    places of the last cut, for one piece more at a time.
    """
    shortest = [(0.0, 0)]
    for end in range(1, len(order) + 1):
        choices = []
        run = -gap
        for start in range(end - 1, -1, -1):
            run += gap + pieces[order[start]].width
            if run > width + 1e-9 and start < end - 1:
                break
            choices.append((shortest[start][0] + gap + pieces[order[start]].length, start))
        shortest.append(min(choices))
    lines: list[list[int]] = []
    end = len(order)
    while end > 0:
        start = shortest[end][1]
        lines.append(list(order[start:end]))
        end = start
    return lines[::-1]


def _boxed(
    pieces: Sequence[Piece],
    lines: Sequence[Sequence[int]],
    width: float,
    gap: float,
    turning: bool,
) -> list[LaidPiece]:
    """Rows from the left and from the right by turns.

    The longest pieces of a row then lie behind the shortest of the row before it, where
    there is most room to push them into.
    """
    result: dict[int, LaidPiece] = {}
    top = 0.0
    for place, line in enumerate(lines):
        odd = place % 2 == 1
        run = 0.0
        for k in line:
            size = pieces[k].width
            left = width - run - size if odd else run
            result[k] = with_corner(pieces[k], turning and odd, left, top)
            run += size + gap
        top += max(pieces[k].length for k in line) + gap
    return [result[k] for k in range(len(pieces))]
