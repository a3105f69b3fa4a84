"""Commands that carry jobs out: one (cut, fit), many (batch), or on a page (table)."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from itertools import chain
from pathlib import Path
from typing import TYPE_CHECKING

import click

from ..errors import JobError, PanelshiftError, few
from .answering import (
    STANDARD,
    AnsweringCommand,
    InPath,
    Reply,
    SaidThing,
    asks_for_json,
    called,
    envelope,
    input_bytes,
    read_job_at,
    told_of,
)
from .common import check_directory, out_option, page_options, pages, progress_bar, say, write

if TYPE_CHECKING:
    from ..batch import BatchJob, Outcome


@click.command(cls=AnsweringCommand)
@click.argument("job", type=InPath())
@out_option("the cutting files")
@click.option("--dxf", is_flag=True, help="A DXF of each layer as well, for cutting machines.")
def cut(job: Path, out: Path, overwrite: bool, dxf: bool) -> Reply:
    """Write one cutting file for each layer of JOB.toml, an overlay of all, and a cutting list."""
    from ..job import cut as carry_out, resolve
    from .reports.outcomes import cut_text
    from .reports.plain import cut_data

    with told_of(job):
        result = carry_out(resolve(read_job_at(job), source=called(job)))
    check_directory(out)
    contents = {**result.files, **(result.machine_files() if dxf else {})}
    files = {out / name: content for name, content in contents.items()}
    inputs = [job, *result.job.file.sources()]
    write(files, overwrite=overwrite, inputs=inputs, made_by="cut")
    return Reply(
        lambda: cut_text(result, list(map(str, files))),
        lambda: cut_data(result),
        list(files),
        [SaidThing(words) for words in result.warnings],
    )


@click.command(cls=AnsweringCommand)
@click.argument("job", type=InPath())
@out_option("fit.html, fit.json and fit.csv")
@click.option(
    "--against",
    type=InPath(),
    help="Another job, laid beside JOB: sizes, growth, lines and cloth; in against.csv as well.",
)
def fit(job: Path, out: Path, overwrite: bool, against: Path | None) -> Reply:
    """Write the fit sheet of JOB.toml: finished sizes, and what happens if nothing is done."""
    from ..fit.compared import ComparedCorsets
    from ..fit.compared_tables import compared_csv, compared_words
    from ..fit.fact_rows import facts_csv, facts_data, facts_json
    from ..fit.first_page import answers, headline
    from ..fit.html_page import fit_page
    from ..job import resolve
    from ..job.result import fit_job
    from .reports import listing, paragraphs

    with told_of(job):
        resolved = resolve(read_job_at(job), source=called(job))
        facts = fit_job(resolved)
    other, heads = None, f"A is {called(job)}"
    inputs = [job, *resolved.file.sources()]
    if against is not None:
        heads += f", B is {called(against)}."
        with told_of(against):
            beside = resolve(read_job_at(against), source=called(against))
            other = fit_job(beside)
        inputs += [against, *beside.file.sources()]
    check_directory(out)
    files = {
        out / "fit.html": fit_page(facts, other),
        out / "fit.json": facts_json(facts),
        out / "fit.csv": facts_csv(facts),
    }
    compared: list[str] = []
    if other is not None:
        both = ComparedCorsets(facts.side, other.side)
        files[out / "against.csv"] = compared_csv(both)
        compared = [heads, *compared_words(both, facts.units)]
    write(files, overwrite=overwrite, inputs=inputs)
    head = f"{resolved.plan.title}: {resolved.pattern.headline(resolved.units)}"
    return Reply(
        lambda: paragraphs(
            "\n".join([head, headline(facts), *answers(facts)]),
            "\n".join(compared),
            listing("Look at", facts.warnings()),
            listing("Written", list(map(str, files))),
        ),
        lambda: facts_data(facts) | {"compared": compared},
        list(files),
        [SaidThing(words, code) for code, words in facts.look_at()],
    )


@click.command(cls=AnsweringCommand)
@click.argument("jobs", nargs=-1, required=True, type=click.Path(path_type=Path))
@out_option("the jobs, one for each in it")
@click.option(
    "--table",
    type=InPath(),
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
@click.option(
    "--keep-going",
    is_flag=True,
    help="Bad rows of the table fail, and the others are done; the table may be of any size.",
)
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
    keep_going: bool,
) -> Reply:
    """Carry out many JOBS.toml, or one for each row of a table.

    What is done and unchanged since the last run is not done again. Writes summary.csv and
    summary.json: a line for each job. Exits 1 when some jobs failed, 2 when the input cannot be
    read.
    """
    from ..batch import iter_many, iter_table, read_table
    from ..batch.clients import LARGEST_BYTES
    from ..batch.folders import as_jobs, settle
    from ..batch.summary import SUMMARY_FILES
    from .reports.outcomes import BatchTally

    options = pages(paper, margin, overlap)
    if table is not None and len(jobs) > 1:
        raise click.UsageError("--table takes one JOB: each of its rows changes that.")
    if table is None and keep_going:
        raise click.UsageError("--keep-going is for the rows of a --table.")
    check_directory(out)
    wanted = [name.strip() for name in products.split(",") if name.strip()]
    work: Iterable[BatchJob]
    rows = input_bytes(LARGEST_BYTES) if table == STANDARD else table
    source = "" if table is None else called(table)
    if rows is not None and keep_going:
        work, total = iter_table(rows, jobs[0], source=source), None
    else:
        if rows is None:
            work = as_jobs(jobs)
        else:
            read = read_table(rows, jobs[0], source=source)
            work = read.jobs
            say(f"{source}: {read.taken}", err=True)
            if read.fit_only and "fit" not in wanted:
                idle = few(read.fit_only)
                say(f"{source}: only the fit sheet reads {idle}; --products fit", err=True)
        total = len(work)
        # Refuses jobs that would write over each other before anything is done.
        settle(work, out)
    tally = BatchTally()
    outcomes = iter_many(
        work,
        out=out,
        products=wanted,
        pages=options,
        resume=not again,
        overwrite=overwrite,
        workers=workers,
        summary=True,
    )
    for outcome in _watched(outcomes, total):
        tally.add(outcome)
    return Reply(
        lambda: tally.text(str(out)),
        tally.data,
        [out / name for name in SUMMARY_FILES],
        [SaidThing(f"{of}: {words}") for words, of in tally.warnings().items()],
        code=1 if tally.counts["failed"] else 0,
    )


def _watched(outcomes: Iterator[Outcome], total: int | None) -> Iterator[Outcome]:
    """The same outcomes, with a bar while they come; what is refused at once needs none."""
    first = next(outcomes, None)
    if first is None:
        return
    with progress_bar("Jobs", total or 1) as bar:
        for count, outcome in enumerate(chain([first], outcomes), start=1):
            # Where nobody knows how many there are, the bar grows with them.
            bar.length = total or count + 1
            bar.update(1)
            yield outcome


class MissingExtraError(PanelshiftError, ImportError):
    """A command needs packages that are installed on wish only."""


@click.command(cls=AnsweringCommand)
@click.argument("job", required=False, type=click.Path(path_type=Path))
@click.option("--no-browser", is_flag=True, help="Only print the address.")
@click.option(
    "--port",
    type=click.IntRange(0, 65535),
    default=0,
    help="Port on 127.0.0.1; any free one if not given.",
)
@click.pass_context
def table(ctx: click.Context, job: Path | None, no_browser: bool, port: int) -> Reply:
    """Open a page in the browser: drop a pattern in, stack fabrics, take the pages away.

    Works on JOB.toml, or begins in this directory without one. The page is served on this
    machine only, and nothing leaves it. Ends with Ctrl-C.
    """
    try:
        from ..table.server import serve
        from ..table.session import Session
    except ModuleNotFoundError as error:
        if (error.name or "").partition(".")[0] not in _EXTRA:
            raise
        raise MissingExtraError(
            f"the table needs the package {error.name!r}, which is not installed",
            remedy="In your copy of the repository run: pip install '.[table]'",
        ) from None
    if job is not None and job.suffix.lower() in (".svg", ".svgz"):
        raise JobError(
            "is a drawing, not a job file",
            remedy="Run panelshift table without it, and drop it on the page.",
            source=str(job),
        )
    session = Session(Path(), job)

    def cleared() -> dict[str, str | None]:
        workspace = session.workspace
        return {"state": "cleared", "job": None if workspace is None else str(workspace.job)}

    def laid(address: str) -> None:
        # An object of its own: the last one comes when the page is no more.
        data = {"state": "laid", "address": address, **cleared()}
        if asks_for_json(ctx):
            say(envelope("table", Reply(str, lambda: data | {"state": "laid"})))
        else:
            say(
                f"The table is laid at {address}\n"
                "Nothing leaves this machine. End with Ctrl-C; the work is saved as you go."
            )

    serve(session, port=port, browse=not no_browser, started=laid)
    job_there = cleared()["job"]
    where = "" if job_there is None else f" Your work is in {job_there}."
    return Reply(lambda: f"The table is cleared.{where}", cleared)


_EXTRA = ("starlette", "uvicorn", "tomlkit", "python_multipart", "anyio", "h11", "idna")
"""What the extra brings."""
