"""How long edits take to be answered, over a real socket: fourteen panels, then forty, five layers.

    python tests/table/bench_table.py

From the repository, with the test packages installed. The aim is 100 ms for an edit on a
machine with two idle cores, and at forty panels at most three times that; step 4 follows by
itself, after the edit has been answered.
"""

from __future__ import annotations

import os
import re
import statistics
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

sys.path[:0] = [str(Path(__file__).parents[1]), str(Path(__file__).parents[2])]

from tests.support.large import FORTY, JOB, forty_draft, large_draft  # noqa: E402
from tests.table.client import Served, served  # noqa: E402

ROUNDS = 15
LAST: dict[str, str] = {}


def main() -> None:
    for count, draft in ((14, large_draft()), (FORTY, forty_draft())):
        LAST.clear()
        print(f"{count} panels, load {os.getloadavg()[0]:.1f}")
        measure(draft)


def measure(draft: bytes) -> None:
    layers = "".join(f'[[stack.fabric]]\nname = "more {k}"\nthickness = 0.3\n' for k in range(3))
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        (folder / "large.svg").write_bytes(draft)
        (folder / "large.toml").write_text(JOB + layers)
        with served(folder, "large.toml") as server:
            get = server.client.get

            def thickness(k: int) -> None:
                value = f"0.{300 + k}"
                fields = {"fabric": "inner", "key": "thickness", "value": value}
                post(server, "fabric", fields)

            def panel_class(k: int) -> None:
                value = ("side", "back", "front")[k % 3]
                post(server, "class", {"panel": f"panel {2 + k // 3}", "value": value})

            def order(k: int) -> None:
                post(server, "move", {"fabric": "more 2", "to": str(3 + k % 2)})

            get("/")
            for words, act in (
                ("thickness", thickness),
                ("class, with the section", panel_class),
                ("order of layers", order),
                ("the slider", lambda k: get("/look/overlay", params={"part": str(5 * k)})),
                ("the whole page", lambda k: get("/")),
            ):
                report(words, act)

            def look(k: int) -> None:
                get("/look")

            report("step 4 after an edit", look, before=thickness)


def post(server: Served, kind: str, fields: dict[str, str]) -> None:
    """An edit, as the page sends it: with the revision that the last answer gave."""
    data = {"revision": LAST.get("revision") or server.revision(), **fields}
    answer = server.client.post(f"/edit/{kind}", data=data, headers={"origin": server.origin})
    assert "x-refused" not in answer.headers, answer.text
    found = re.search(r'name="revision" value="(\w*)"', answer.text)
    assert found is not None
    LAST["revision"] = found.group(1)


def report(
    words: str, act: Callable[[int], object], before: Callable[[int], object] | None = None
) -> None:
    spent = []
    for k in range(ROUNDS):
        if before is not None:
            before(k)
        begin = time.perf_counter()
        act(k)
        spent.append(1000.0 * (time.perf_counter() - begin))
    print(f"{words:28} median {statistics.median(spent):6.1f} ms, worst {max(spent):6.1f} ms")


if __name__ == "__main__":
    main()
