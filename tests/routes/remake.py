"""Send every draft through every route again, and write the table in docs/reliability.md.

``python -m tests.routes.remake``: the cases are kept beside this file, so that the tests
need none of the programs. With ``--table`` only the table is written, from the kept cases; names
of drafts (their causes) send those alone.
"""

from __future__ import annotations

import gzip
import sys
import tempfile
from collections.abc import Sequence
from pathlib import Path
from typing import Final

from .drafts import drafts
from .judging import Outcome, judge
from .programs import ROUTES

CASES: Final = Path(__file__).parent / "cases"
PAGE: Final = Path(__file__).parents[2] / "docs" / "reliability.md"
_BEGIN: Final = "<!-- remade by routes.remake -->"
_END: Final = "<!-- end -->"


def case(cause: str, route: str) -> Path:
    """Where the drawing of a draft that went a route is kept."""
    return CASES / f"{cause}--{route}.svgz"


def send(causes: Sequence[str]) -> None:
    """Send the drafts on their ways, or some of them."""
    CASES.mkdir(exist_ok=True)
    for old in () if causes else CASES.glob("*.svgz"):
        old.unlink()
    for draft in (draft for draft in drafts() if not causes or draft.cause in causes):
        for route in ROUTES:
            with tempfile.TemporaryDirectory() as folder:
                drawing = Path(folder) / "draft.svg"
                drawing.write_text(draft.svg, encoding="utf-8")
                into = Path(folder) / "out"
                into.mkdir()
                content = route.run(drawing, into).read_bytes()
            case(draft.cause, route.name).write_bytes(gzip.compress(content, 9, mtime=0))


def table() -> str:
    """Drafts down, routes across."""
    lines = [
        "| draft | as drawn | " + " | ".join(route.about for route in ROUTES) + " |",
        "| --- | --- |" + " --- |" * len(ROUTES),
    ]
    for draft in drafts():
        drawings = [draft.svg.encode()]
        drawings += [case(draft.cause, route.name).read_bytes() for route in ROUTES]
        cells = [_cell(judge(draft, drawing)) for drawing in drawings]
        lines.append(f"| {draft.about} | " + " | ".join(cells) + " |")
    return "\n".join(lines)


def _cell(outcome: Outcome) -> str:
    return f"right, {outcome.off:.3f} mm" if outcome.verdict == "right" else outcome.verdict


def main() -> None:
    """Remake cases and table."""
    if "--table" not in sys.argv[1:]:
        send(sys.argv[1:])
    page = PAGE.read_text(encoding="utf-8")
    head, _, rest = page.partition(_BEGIN)
    _, _, tail = rest.partition(_END)
    PAGE.write_text(f"{head}{_BEGIN}\n{table()}\n{_END}{tail}", encoding="utf-8")


if __name__ == "__main__":
    main()
