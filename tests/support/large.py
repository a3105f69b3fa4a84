"""A job of fourteen panels that needs about thirty pages of A4."""

from __future__ import annotations

import tempfile
from functools import cache
from pathlib import Path

import numpy as np

from panelshift.job import read_job, resolve
from panelshift.job.resolved import Job

from . import drafts

JOB = """
[pattern]
file = "large.svg"
halves = "half"
lacing_gap = 60
[stack]
drafted_layer = "inner"
[[stack.fabric]]
name = "inner"
thickness = 0.5
[[stack.fabric]]
name = "outer"
thickness = 0.4
"""


def large_draft() -> bytes:
    """Fourteen panels, smooth, long and wide, of an invented figure."""
    count = 14
    figure = drafts.Figure(
        waists=(116.0,) * count,
        bust=tuple(np.linspace(1.15, 1.5, count).tolist()),
        hip=tuple(np.linspace(1.5, 1.1, count).tolist()),
        shares=(0.0,) + (0.5,) * (count - 1),
        top=240.0,
        bottom=-270.0,
    )
    return drafts.drawn(figure.panels(), drafts.Sheet(offset=(30.0, 400.0)))


FORTY = 40


def forty_draft() -> bytes:
    """Forty narrow panels of an invented figure."""
    figure = drafts.Figure(
        waists=tuple(np.linspace(30.0, 45.0, FORTY).tolist()),
        bust=tuple(np.linspace(1.15, 1.4, FORTY).tolist()),
        hip=tuple(np.linspace(1.4, 1.1, FORTY).tolist()),
        shares=(0.0,) + (0.5,) * (FORTY - 1),
        top=200.0,
        bottom=-200.0,
    )
    return drafts.drawn(figure.panels(), drafts.Sheet(offset=(30.0, 400.0)))


@cache
def large_job(body: str = "") -> Job:
    """The job, with a [body] table of its own if one is given."""
    with tempfile.TemporaryDirectory() as folder:
        Path(folder, "large.svg").write_bytes(large_draft())
        job = Path(folder, "large.toml")
        job.write_text(JOB + body)
        return resolve(read_job(job))
