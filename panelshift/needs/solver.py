"""Lay polygons with spyrrow, in a process of its own: read JSON, write JSON.

Run as a script, never imported by the rest: only the standard library and spyrrow are
needed, so that it starts in a tenth of a second. Why a process, and why it counts reports
instead of seconds, is told in `panelshift.needs.packing`.
"""

from __future__ import annotations

import json
import os
import sys
import threading
import time
from typing import Any, Final

_LONG_S: Final = 3600
"""For the library's clock, which must never be what ends a run."""

_PAUSE_S: Final = 0.005

_FAILURE: Final = 14
"""Reports of work that a whole vain attempt counts for: after a few of them in a row little
is gained, and they take longest."""


def solve(task: dict[str, Any]) -> list[list[float]] | None:
    """Lay polygons on a strip as short as can be found within a budget.

    *task*: ``width`` of the strip; ``rings``, a list of polygons (along, across); ``turns``, the
    allowed rotations in degrees; ``effort``, after how much reported work to stop; ``enough``, a
    length at which to stop at once; ``seed``; ``seconds``, after which nobody waits any more;
    ``parent``, the process that waits, or none where that cannot be seen.

    Returns: none if the library ended, or time was up, before it had laid them.
    """
    import spyrrow

    until = time.monotonic() + task["seconds"]

    items = [
        spyrrow.Item(str(k), [(x, y) for x, y in ring], 1, task["turns"])
        for k, ring in enumerate(task["rings"])
    ]
    instance = spyrrow.StripPackingInstance("cloth", task["width"], items)
    config = spyrrow.StripPackingConfig(
        early_termination=True,
        total_computation_time=None,
        exploration_time=_LONG_S,
        compression_time=_LONG_S,
        # More than one worker shares the work out as the threads happen to run.
        num_workers=1,
        seed=task["seed"],
    )
    reports = spyrrow.ProgressQueue()
    worker = threading.Thread(target=instance.solve, args=(config, reports), daemon=True)
    worker.start()
    best: Any = None
    spent = 0
    while True:
        running = worker.is_alive()
        for kind, found in reports.drain():
            if kind == spyrrow.ReportType.ExplImproving:
                spent += 1
            elif kind == spyrrow.ReportType.ExplInfeas:
                spent += _FAILURE
            else:
                best = found
            if spent >= task["effort"] or (best is not None and best.width <= task["enough"]):
                running = False
                break
        if not running or time.monotonic() > until or _is_orphan(task["parent"]):
            break
        time.sleep(_PAUSE_S)
    if best is None:
        return None
    placed = sorted(best.placed_items, key=lambda item: int(item.id))
    return [[item.rotation, *item.translation] for item in placed]


def _is_orphan(parent: int | None) -> bool:
    # A process that was killed cannot end its child: the child looks whose it is.
    return parent is not None and os.getppid() != parent


def _main() -> None:
    answer = solve(json.load(sys.stdin))
    sys.stdout.write("\n" + json.dumps(answer))
    sys.stdout.flush()
    # The worker has no end of its own before its time is up.
    os._exit(0)


if __name__ == "__main__":
    _main()
