"""What was printed: pages, sheets of paper, and the size when taped."""

from __future__ import annotations

from collections.abc import Sequence

from ...printing import PageOptions
from ...printing.layer_prints import PrintedFile
from .tables import listing, paragraphs, table


def tile_text(
    prints: Sequence[PrintedFile],
    written: Sequence[str],
    options: PageOptions,
    head: str = "",
    doubts: Sequence[str] = (),
) -> str:
    """Return the summary as text.

    *written*: paths of the files, in the same order. *head*: what pattern was printed, if it is
    known. *doubts*: what is to be looked at in it.
    """
    rows = []
    for item in prints:
        wide, high = item.printed.size
        grid = item.printed.grid
        rows.append(
            [
                item.title,
                str(item.printed.pages),
                "-" if grid is None else f"{grid.columns} x {grid.rows}",
                f"{wide:.0f} x {high:.0f} mm",
            ]
        )
    return paragraphs(
        head,
        table(["print", "pages", "across x down", "size or taped size"], rows),
        _paper(prints, options),
        listing("Look at", [*doubts, *(w for item in prints for w in item.warnings)]),
        listing("Written", list(written)),
        listing("Next", _next(prints)),
    )


def _paper(prints: Sequence[PrintedFile], options: PageOptions) -> str:
    """How much paper it takes."""
    if options.paper.is_roll:
        length = sum(item.printed.size[1] for item in prints)
        return f"{length / 1000.0:.2f} m of a roll {options.paper.width:g} mm wide."
    total = sum(item.printed.pages for item in prints)
    words = f"{total} page{'' if total == 1 else 's'} of {options.paper.name} in all"
    if any(item.printed.grid for item in prints):
        words += ", the first page of each print with its map among them"
    return f"{words}; one sheet of paper a page, printed on one side."


def _next(prints: Sequence[PrintedFile]) -> list[str]:
    steps = ["print at 100 % (no fit to page) and measure both test squares before you cut"]
    if any(item.printed.grid and item.printed.grid.pages > 1 for item in prints):
        steps.append("tape the pages so that the long arms of the crosses run on")
    return steps
