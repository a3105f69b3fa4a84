"""Commands that carry a job out: cut, tile and fit."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from ..errors import PrintError
from .common import check_directory, out_option, page_options, pages, say, write

if TYPE_CHECKING:
    from ..job import Job
    from ..printing import PageOptions
    from ..printing.layer_prints import PrintedFile


@click.command()
@click.argument("job", type=click.Path(path_type=Path))
@out_option("the cutting files")
def cut(job: Path, out: Path, overwrite: bool) -> None:
    """Write one cutting file for each layer of JOB.toml, and an overlay of all."""
    from ..job import cut as carry_out, read_job, resolve
    from .reports.cutting import cut_text

    result = carry_out(resolve(read_job(job), source=str(job)))
    check_directory(out)
    write(
        {out / name: content for name, content in result.files.items()},
        overwrite=overwrite,
        inputs=[job, *result.job.file.sources()],
    )
    say(cut_text(result, [str(out / name) for name in result.files]))


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
def tile(
    file: Path,
    paper: str,
    out: Path,
    overwrite: bool,
    margin: str,
    overlap: str,
    layers: tuple[str, ...],
    nested: bool,
    keep_together: bool,
) -> None:
    """Print JOB.toml, or one cutting file LAYER.svg, as PDF pages at true size."""
    options = pages(paper, margin, overlap)
    # Before the work, which may take a while.
    check_directory(out)
    if file.suffix.lower() == ".toml":
        job, prints = _print_job(file, options, layers, nested, keep_together)
        inputs, doubts = job.file.sources(), job.warnings
        head = f"{job.plan.title}: {job.pattern.headline(job.units)}"
    else:
        inputs, head, doubts = [], "", ()
        prints = _print_drawing(file, options, bool(layers or nested or keep_together))
    from .reports.printing import tile_text

    files = {out / item.name: item.printed.data for item in prints}
    write(files, overwrite=overwrite, inputs=[file, *inputs])
    say(tile_text(prints, [str(out / item.name) for item in prints], options, head, doubts))


def _print_job(
    file: Path, options: PageOptions, layers: tuple[str, ...], nested: bool, keep_together: bool
) -> tuple[Job, list[PrintedFile]]:
    from ..job import read_job, resolve
    from ..job.result import print_job

    job = resolve(read_job(file), source=str(file))
    prints = print_job(
        job,
        options,
        layers=layers,
        nested=nested,
        keep_together=keep_together,
        progress=lambda title: say(f"printing {title} ...", err=True),
    )
    return job, prints


def _print_drawing(file: Path, options: PageOptions, needs_job: bool) -> list[PrintedFile]:
    from ..printing.layer_prints import print_file

    if needs_job:
        raise PrintError(
            "--layers, --nested and --keep-together need a job file",
            remedy="Give the job file instead of the cutting file, or leave those options out.",
            source=str(file),
        )
    return [print_file(file, options)]


@click.command()
@click.argument("job", type=click.Path(path_type=Path))
@out_option("fit.html, fit.json and fit.csv")
def fit(job: Path, out: Path, overwrite: bool) -> None:
    """Write the fit sheet of JOB.toml: finished sizes, and what happens if nothing is done."""
    from ..fit.fact_rows import facts_csv, facts_json
    from ..fit.html_page import answers, fit_page, headline
    from ..job import read_job, resolve
    from ..job.fitting import fit_job
    from .reports.tables import listing, paragraphs

    resolved = resolve(read_job(job), source=str(job))
    facts = fit_job(resolved)
    check_directory(out)
    files = {
        out / "fit.html": fit_page(facts),
        out / "fit.json": facts_json(facts),
        out / "fit.csv": facts_csv(facts),
    }
    write(files, overwrite=overwrite, inputs=[job, *resolved.file.sources()])
    lines = [f"{resolved.plan.title}: {resolved.pattern.headline(resolved.units)}"]
    lines += [headline(facts), *answers(facts)]
    say(
        paragraphs(
            "\n".join(lines),
            listing("Look at", facts.warnings()),
            listing("Written", [str(path) for path in files]),
        )
    )
