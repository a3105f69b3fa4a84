"""Tables of the fit sheet before any markup."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

MOST_COLUMNS: Final = 6
"""Columns of numbers that fit beside the row's name on a page of A4 or Letter."""


@dataclass(frozen=True)
class Cell:
    """What stands in one place of a table: a word or number, a smaller second line, a style."""

    text: str
    note: str = ""
    css: str = ""


@dataclass(frozen=True)
class Row:
    """A named row; `kept` sets it off as the maker's own choice."""

    head: str
    cells: tuple[Cell, ...]
    kept: bool = False


@dataclass(frozen=True)
class Grid:
    """A table.

    Parameters
    ----------
    corner : str
        What the rows' names are.
    heads : tuple of str
        Of the columns.
    rows : tuple of Row
        Each as wide as the heads.
    left : frozenset of int
        Columns set to the left, as words are.
    kept_column : int
        Column set off as the maker's own choice; none if negative.
    """

    caption: str
    corner: str
    heads: tuple[str, ...]
    rows: tuple[Row, ...]
    left: frozenset[int] = frozenset()
    kept_column: int = -1


def narrow(grid: Grid, most: int = MOST_COLUMNS) -> list[Grid]:
    """Cut a table that is too wide for a page into several, each with the rows' names."""
    count = len(grid.heads)
    if count <= most:
        return [grid]
    # Parts of nearly equal width: no column stands alone.
    each = -(-count // -(-count // most))
    parts = []
    for start in range(0, count, each):
        chosen = slice(start, start + each)
        parts.append(
            Grid(
                grid.caption + (" (continued)" if start else ""),
                grid.corner,
                grid.heads[chosen],
                tuple(replace(row, cells=row.cells[chosen]) for row in grid.rows),
                frozenset(k - start for k in grid.left if start <= k < start + each),
                grid.kept_column - start if start <= grid.kept_column < start + each else -1,
            )
        )
    return parts


def cells(texts: Sequence[str]) -> tuple[Cell, ...]:
    """Return plain cells."""
    return tuple(Cell(words) for words in texts)
