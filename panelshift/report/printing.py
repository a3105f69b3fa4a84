"""What was printed: pages, sheets of paper, and the size when taped."""

from __future__ import annotations

from collections.abc import Sequence

from ..job.tiles import PrintedFile
from ..printing import PageOptions
from .tables import listing, paragraphs, table


def tile_text(prints: Sequence[PrintedFile], written: Sequence[str], options: PageOptions) -> str:
    """Return the summary as text.

    Parameters
    ----------
    prints : sequence of PrintedFile
    written : sequence of str
        Paths of the files, in the same order.
    options : PageOptions
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
    total = sum(item.printed.pages for item in prints)
    what = "size" if options.paper.is_roll else "taped size"
    return paragraphs(
        table(["print", "pages", "across x down", what], rows),
        f"{total} pages of {options.paper.name} in all, the first page of each print with its "
        "map among them; one sheet of paper a page, printed on one side."
        if not options.paper.is_roll
        else "",
        listing("Look at", [w for item in prints for w in item.warnings]),
        listing("Written", list(written)),
        listing(
            "Next",
            [
                "print at 100 % (no fit to page) and measure both test squares before you cut",
                "tape the pages so that the crosses meet",
            ],
        ),
    )
