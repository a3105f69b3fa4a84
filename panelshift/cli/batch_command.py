"""The command that carries out many jobs."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from .common import check_directory, out_option, page_options, pages, say

if TYPE_CHECKING:
    from ..batch import BatchJob, Outcome


@click.command()
@click.argument("jobs", nargs=-1, required=True, type=click.Path(path_type=Path))
@out_option("the jobs, one for each in it")
@click.option(
    "--table",
    type=click.Path(path_type=Path),
    help="CSV of clients or sizes: a column name, and keys of the job file such as "
    "body.girths.waist; each row is the one JOB with these values.",
)
@click.option(
    "--products",
    default="cut",
    show_default=True,
    help="What to make of each: cut, tile, fit, with commas.",
)
@page_options
@click.option(
    "--workers", type=click.IntRange(1), help="Jobs at the same time; one a core if not given."
)
@click.option("--again", is_flag=True, help="Also do what is done and unchanged.")
def batch(
    jobs: tuple[Path, ...],
    out: Path,
    table: Path | None,
    products: str,
    paper: str,
    margin: str,
    overlap: str,
    workers: int | None,
    again: bool,
    overwrite: bool,
) -> None:
    """Carry out many JOBS.toml, or one for each row of a table.

    What is done and unchanged since the last run is not done again. Exits 1 when some jobs
    failed, 2 when the input cannot be read.
    """
    import contextlib

    from ..batch import read_table, run_many
    from .reports.batch import batch_text

    options = pages(paper, margin, overlap)
    work: list[BatchJob | Path] = list(jobs)
    if table is not None:
        if len(jobs) > 1:
            raise click.UsageError("--table takes one JOB: each of its rows changes that.")
        read = read_table(table, jobs[0])
        work = list(read.jobs)
        say(f"{table}: {read.taken}", err=True)
    wanted = [name.strip() for name in products.split(",") if name.strip()]
    check_directory(out)
    with contextlib.ExitStack() as stack:
        bars: list[Any] = []

        def progress(outcome: Outcome, ended: int, total: int) -> None:
            if not bars:
                # Not before: what is refused at once needs no bar.
                bar = click.progressbar(length=total, label="Jobs", file=sys.stderr)
                bars.append(stack.enter_context(bar))
            bars[0].update(1)

        outcomes = run_many(
            work,
            out=out,
            products=wanted,
            pages=options,
            progress=progress,
            resume=not again,
            overwrite=overwrite,
            workers=workers,
        )
    say(batch_text(outcomes, str(out)))
    sys.exit(1 if any(outcome.status == "failed" for outcome in outcomes) else 0)
