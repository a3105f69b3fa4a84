"""Measure everything and write the tables of performance.md.

Run ``python -m tests.bench.report`` on a machine that does nothing else. About 17
minutes; ``--without-writing`` prints the tables and leaves the page alone.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
from pathlib import Path
from typing import Final

import pytest

from .machine import Watch, described
from .measured import Measured
from .profiling import hot_spots
from .tables import all_tables

HERE: Final = Path(__file__).parent
PAGE: Final = HERE / "performance.md"
BEGIN: Final = "<!-- remade by bench.report: {} -->"
END: Final = "<!-- end -->"


def main() -> int:
    """Measure, print and write."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n")[0])
    parser.add_argument("--without-writing", action="store_true")
    options = parser.parse_args()
    watch = Watch()
    with tempfile.TemporaryDirectory() as folder:
        found = Path(folder, "found.json")
        failed = pytest.main([str(HERE), f"--rootdir={HERE}", f"--benchmark-json={found}"])
        if failed:
            print("A benchmark failed: nothing was written.", file=sys.stderr)
            return int(failed)
        tables = f"{described()} {watch.warning()}\n\n{all_tables(Measured.load(found))}"
    spots = hot_spots()
    print(f"{tables}\n\n{spots}")
    if not options.without_writing:
        text = PAGE.read_text()
        PAGE.write_text(_put(_put(text, "tables", tables), "hot spots", spots))
    return 0


def _put(text: str, name: str, block: str) -> str:
    """Replace what stands between a block's two marks."""
    begin = BEGIN.format(name)
    before, mark, after = text.partition(f"{begin}\n")
    _, end, rest = after.partition(END)
    if not mark or not end:
        raise SystemExit(f"{PAGE.name} lacks the marks {begin} and {END}")
    return f"{before}{begin}\n{block}\n{end}{rest}"


if __name__ == "__main__":
    sys.exit(main())
