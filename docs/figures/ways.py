"""Ten ways of making the hourglass sample, and what each asks of the brocade at the waist."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np

from panelshift.body.turn import TurnOfCloth, turn_of_cloth
from panelshift.construction.account import needed_at, seam_bulk
from panelshift.construction.laying import Lay, lay
from panelshift.construction.sewing import Bones, Construction, Shell
from panelshift.construction.sewn import Sewn
from panelshift.job import read_job, resolve
from panelshift.job.resolved import Job
from panelshift.stack import Stack

STEELS = Bones("coutille", 5.5, 1.5)
FLAT_LINED = ["interlining", "brocade"]
NO_SEAMS = [Shell(["lining"]), Shell(["coutille"], allowance=0.0)]


@cache
def sample() -> tuple[Job, TurnOfCloth, Stack]:
    """The hourglass as it is sewn, without its waist tape."""
    folder = Path(__file__).resolve().parents[2] / "sample_patterns"
    job = resolve(read_job(folder / "hourglass_sewn.toml"))
    turn = turn_of_cloth(job.pattern, job.body, job.classes, gap=job.gap)
    fabrics = [fabric for fabric in job.stack.fabrics if fabric.name != "waist tape"]
    return job, turn, Stack(fabrics, "coutille")


WAYS: dict[str, Construction] = {
    "all flat: what is reckoned without a construction": Construction(
        [*NO_SEAMS, Shell(FLAT_LINED, allowance=0.0)]
    ),
    "outer shell flat lined, seams pressed open": Construction([Shell(FLAT_LINED)]),
    "the same, seams trimmed to 6 mm": Construction([Shell(FLAT_LINED, allowance=6.0)]),
    "the same, seams to one side": Construction([Shell(FLAT_LINED, seams="to back")]),
    "the same, seams felled, 8 mm": Construction(
        [Shell(FLAT_LINED, seams="felled", allowance=8.0)]
    ),
    "24 steels in channels, the shell all in one piece": Construction(
        [*NO_SEAMS, Shell(FLAT_LINED, allowance=0.0)], [STEELS]
    ),
    "24 steels, loose shell, seams pressed open": Construction([Shell(FLAT_LINED)], [STEELS]),
    "the same, coutille's seams outward under it": Construction(
        [Shell(["coutille"], lie="outside"), Shell(FLAT_LINED)], [STEELS]
    ),
    "the same, shell held at its seams": Construction(
        [Shell(["coutille"], lie="outside"), Shell(FLAT_LINED, held="seams")], [STEELS]
    ),
    "24 steels, channels of 10 mm stitched through the shell": Construction(
        [Shell(FLAT_LINED)],
        [replace(STEELS, drawn_as="outlines", channel=10.0, stitched=tuple(FLAT_LINED))],
    ),
}


def laid(how: Construction) -> Lay:
    """The sample laid so."""
    _, turn, stack = sample()
    return lay(Sewn(how, stack), turn)


def rows() -> Iterator[str]:
    """Rows of the table in docs/how-it-works.md."""
    yield "| way | over ridges, mm | brocade in all, mm | seam bulk, mm | most at |"
    yield "| --- | ---: | ---: | ---: | --- |"
    _, turn, _ = sample()
    flat = 2.0 * 0.85 * float(turn.growth_on(np.zeros(1)).sum())
    for name, how in WAYS.items():
        found = laid(how)
        over = float(needed_at(found, 0.0)[0][-1])
        bulk = max(item.thickness for item in seam_bulk(found))
        waist = int(np.argmin(np.abs(found.levels)))
        own = found.extra[-1][:, waist]
        most = sample()[0].pattern.panels[int(np.argmax(own))].name if own.max() > 0.005 else "-"
        yield f"| {name} | {over:.2f} | {flat + over:.2f} | {bulk:.2f} | {most} |"


if __name__ == "__main__":
    print("\n".join(rows()))
