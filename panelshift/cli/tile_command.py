"""The command that prints pages."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from ..errors import PrintError
from .common import check_directory, out_option, page_options, pages, say, write

if TYPE_CHECKING:
    from ..printing import PageOptions
    from ..printing.layer_prints import PrintedFile


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
        prints, inputs = _print_job(file, options, layers, nested, keep_together)
    else:
        inputs = []
        prints = _print_drawing(file, options, bool(layers or nested or keep_together))
    from .reports.printing import tile_text

    files = {out / item.name: item.printed.data for item in prints}
    write(files, overwrite=overwrite, inputs=[file, *inputs])
    say(tile_text(prints, [str(out / item.name) for item in prints], options))


def _print_job(
    file: Path, options: PageOptions, layers: tuple[str, ...], nested: bool, keep_together: bool
) -> tuple[list[PrintedFile], list[Path]]:
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
    return prints, job.file.sources()


def _print_drawing(file: Path, options: PageOptions, needs_job: bool) -> list[PrintedFile]:
    from ..printing.layer_prints import print_file

    if needs_job:
        raise PrintError(
            "--layers, --nested and --keep-together need a job file",
            remedy="Give the job file instead of the cutting file, or leave those options out.",
            source=str(file),
        )
    return [print_file(file, options)]
