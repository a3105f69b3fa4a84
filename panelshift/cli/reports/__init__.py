"""What the commands print: results in, text for people out, or plain data for scripts."""

from __future__ import annotations

from collections.abc import Sequence


def table(heads: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    """Return an aligned table: the first column to the left, the others to the right."""
    from tabulate import tabulate

    align = ["left", *["right"] * (len(heads) - 1)]
    return tabulate(
        [list(row) for row in rows],
        headers=list(heads),
        tablefmt="simple",
        colalign=align if rows else None,
        disable_numparse=True,
    )


def listing(title: str, items: Sequence[str]) -> str:
    """Return a titled list, or nothing if it is empty."""
    if not items:
        return ""
    return "\n".join([f"{title}:", *(f"  - {item}" for item in items)])


def paragraphs(*parts: str) -> str:
    """Join parts by blank lines, leaving out the empty ones."""
    return "\n\n".join(part for part in parts if part)
