"""The table of ways of making in the documentation is what the code says."""

from __future__ import annotations

import sys
from pathlib import Path

DOCS = Path(__file__).parents[2] / "docs"


def test_the_table_is_that_of_the_code() -> None:
    sys.path.insert(0, str(DOCS / "figures"))
    import ways

    page = (DOCS / "how-it-works.md").read_text(encoding="utf-8")
    assert "\n".join(ways.rows()) in page
