"""Commands that carry jobs out: one (cut, tile, fit), many (batch), or on a page (table)."""

from __future__ import annotations

import sys
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

import click

from ..errors import JobError, PanelshiftError, PrintError
from .common import check_directory, out_option, page_options, pages, say, write

if TYPE_CHECKING:
    from ..batch import BatchJob, Outcome
    from ..job import Job
    from ..printing import PageOptions
    from ..printing.sheet_prints import PrintedFile


@click.command()
@click.argument("job", type=click.Path(path_type=Path))
@out_option("the cutting files")
@click.option("--dxf", is_flag=True, help="A DXF of each layer as well, for cutting machines.")
def cut(job: Path, out: Path, overwrite: bool, dxf: bool) -> None:
    """Write one cutting file for each layer of JOB.toml, an overlay of all, and a cutting list."""
    from ..job import cut as carry_out, read_job, resolve
    from .reports.outcomes import cut_text

    result = carry_out(resolve(read_job(job), source=str(job)))
    check_directory(out)
    contents = {**result.files, **(result.machine_files() if dxf else {})}
    files = {out / name: content for name, content in contents.items()}
    inputs = [job, *result.job.file.sources()]
    write(files, overwrite=overwrite, inputs=inputs, made_by="cut")
    say(cut_text(result, [str(path) for path in files]))


@click.command()
@click.argument("file", type=click.Path(path_type=Path))
@page_options
@out_option("the PDF files")
@click.option(
    "--layers",
    multiple=True,
    help="Names of layers, with commas or the option given again; all if not given.",
)
@click.option("--nested", is_flag=True, help="All layers of a panel in each other, on one print.")
@click.option("--keep-together", is_flag=True, help="Each panel on as few pages as can be.")
@click.option(
    "--projector",
    type=click.Choice(["light", "dark"]),
    help="For a projector, on this background: thick lines, a grid to align by, no pages.",
)
@click.option("--one-file", is_flag=True, help="All layers in one PDF on one grid, or on one roll.")
@click.option("--share", is_flag=True, help="Only papers that are needed.")
@click.option(
    "--spread",
    type=click.FloatRange(1.0, 50.0),
    help="A print to look at as well: layers so many times as far apart.",
)
@click.option("--strip", is_flag=True, help="Pages in one row or one column.")
def tile(
    file: Path,
    paper: str,
    out: Path,
    overwrite: bool,
    margin: str,
    overlap: str,
    layers: tuple[str, ...],
    projector: Literal["light", "dark"] | None,
    spread: float | None,
    **how: bool,
) -> None:
    """Print JOB.toml, or one cutting file LAYER.svg, as PDF pages at true size."""
    strip = how["strip"]
    options = replace(pages(paper, margin, overlap), projector=projector or "", strip=strip)
    # Before the work, which may take a while.
    check_directory(out)
    if file.suffix.lower() == ".toml":
        job, prints = _print_job(file, options, layers, spread, how)
        inputs, doubts = job.file.sources(), job.warnings
        head = f"{job.plan.title}: {job.pattern.headline(job.units)}"
        options = replace(options, unit=job.units)
    else:
        inputs, head, doubts = [], "", ()
        prints = _print_drawing(
            file, options, bool(layers or projector or spread or any(how.values()))
        )
    from .reports.outcomes import tile_text

    files = {out / item.name: item.printed.data for item in prints}
    write(files, overwrite=overwrite, inputs=[file, *inputs])
    say(tile_text(prints, [str(out / item.name) for item in prints], options, head, doubts))


def _print_job(
    file: Path,
    options: PageOptions,
    layers: tuple[str, ...],
    spread: float | None,
    how: dict[str, bool],
) -> tuple[Job, list[PrintedFile]]:
    from ..job import read_job, resolve
    from ..job.result import print_job

    job = resolve(read_job(file), source=str(file))
    prints = print_job(
        job,
        options,
        layers=layers,
        progress=lambda title: say(f"printing {title} ...", err=True),
        nested=how["nested"],
        keep_together=how["keep_together"],
        one_file=how["one_file"],
        share=how["share"],
        spread=spread,
    )
    return job, prints


def _print_drawing(file: Path, options: PageOptions, needs_job: bool) -> list[PrintedFile]:
    from ..printing.drawing_prints import print_file

    if needs_job:
        raise PrintError(
            "--layers, --nested, --keep-together, --projector, --one-file, --share, --spread "
            "and --strip need a job file",
            remedy="Give the job file instead of the cutting file, or leave those options out.",
            source=str(file),
        )
    return [print_file(file, options)]


@click.command()
@click.argument("job", type=click.Path(path_type=Path))
@out_option("fit.html, fit.json and fit.csv")
@click.option(
    "--against",
    type=click.Path(path_type=Path),
    help="Another job, laid beside JOB: sizes, growth, lines and cloth; in against.csv as well.",
)
def fit(job: Path, out: Path, overwrite: bool, against: Path | None) -> None:
    """Write the fit sheet of JOB.toml: finished sizes, and what happens if nothing is done."""
    from ..fit.compared import ComparedCorsets
    from ..fit.compared_tables import compared_csv, compared_words
    from ..fit.fact_rows import facts_csv, facts_json
    from ..fit.first_page import answers, headline
    from ..fit.html_page import fit_page
    from ..job import read_job, resolve
    from ..job.result import fit_job
    from .reports import listing, paragraphs

    resolved = resolve(read_job(job), source=str(job))
    facts = fit_job(resolved)
    other = None
    inputs = [job, *resolved.file.sources()]
    if against is not None:
        beside = resolve(read_job(against), source=str(against))
        other = fit_job(beside)
        inputs += [against, *beside.file.sources()]
    check_directory(out)
    files = {
        out / "fit.html": fit_page(facts, other),
        out / "fit.json": facts_json(facts),
        out / "fit.csv": facts_csv(facts),
    }
    lines = [f"{resolved.plan.title}: {resolved.pattern.headline(resolved.units)}"]
    compared = []
    if other is not None:
        both = ComparedCorsets(facts.side, other.side)
        files[out / "against.csv"] = compared_csv(both)
        compared = [f"A is {job}, B is {against}.", *compared_words(both, facts.units)]
    write(files, overwrite=overwrite, inputs=inputs)
    lines += [headline(facts), *answers(facts)]
    say(
        paragraphs(
            "\n".join(lines),
            "\n".join(compared),
            listing("Look at", facts.warnings()),
            listing("Written", [str(path) for path in files]),
        )
    )


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
    from .reports.outcomes import batch_text

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


class MissingExtraError(PanelshiftError, ImportError):
    """A command needs packages that are installed on wish only."""


@click.command()
@click.argument("job", required=False, type=click.Path(path_type=Path))
@click.option("--no-browser", is_flag=True, help="Only print the address.")
@click.option(
    "--port",
    type=click.IntRange(0, 65535),
    default=0,
    help="Port on 127.0.0.1; any free one if not given.",
)
def table(job: Path | None, no_browser: bool, port: int) -> None:
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
    serve(session, port=port, browse=not no_browser, say=say)
    where = "" if session.workspace is None else f" Your work is in {session.workspace.job}."
    say(f"The table is cleared.{where}")


_EXTRA = ("starlette", "uvicorn", "tomlkit", "python_multipart", "anyio", "h11", "idna")
"""What the extra brings."""
