"""Commands that draw for elsewhere: pages to print, layers beside the draft, and an extension."""

from __future__ import annotations

import sys
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Final, Literal

import click

from ..errors import PrintError
from .answering import (
    AnsweringCommand,
    InPath,
    OutPath,
    Reply,
    SaidThing,
    called,
    drawing_option,
    job_or_drawing,
    read_drawn,
    read_job_at,
    told_of,
    write_or_pipe,
)
from .common import NamedPath, check_directory, out_option, page_options, pages, say, write

if TYPE_CHECKING:
    from ..job import Job
    from ..printing import PageOptions
    from ..printing.sheet_prints import PrintedFile

_STEM: Final = "panelshift_layers"


@click.command(cls=AnsweringCommand)
@click.argument("file", type=InPath())
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
@drawing_option
def tile(
    file: Path,
    drawing: Path | None,
    paper: str,
    out: Path,
    overwrite: bool,
    margin: str,
    overlap: str,
    layers: tuple[str, ...],
    projector: Literal["light", "dark"] | None,
    spread: float | None,
    **how: bool,
) -> Reply:
    """Print JOB.toml, or one cutting file LAYER.svg, as PDF pages at true size."""
    from ..job import JobFile
    from ..job.result import drawn_job

    strip = how["strip"]
    options = replace(pages(paper, margin, overlap), projector=projector or "", strip=strip)
    # Before the work, which may take a while.
    check_directory(out)
    given = job_or_drawing(file)
    if isinstance(given, JobFile):
        drawn = None if drawing is None else read_drawn(drawing)
        job = drawn_job(given, drawn, source=called(file), name=called(drawing or file))
        with told_of(file):
            prints = _print_job(job, options, layers, spread, how)
        inputs, doubts = job.file.sources(), SaidThing.of(job.look_at)
        head = f"{job.plan.title}: {job.pattern.headline(job.units)}"
        options = replace(options, unit=job.units)
    else:
        inputs, head, doubts = [], "", []
        needs_job = bool(layers or projector or spread or drawing or any(how.values()))
        prints = _print_drawing(given, called(file), options, needs_job)
    from .reports.outcomes import tile_text
    from .reports.plain import tile_data

    written = [out / item.name for item in prints]
    files = dict(zip(written, (item.printed.data for item in prints), strict=True))
    # Drawings are often printed one after the other into one folder: each is a set of its own.
    made_by = "tile" if isinstance(given, JobFile) else f"tile {Path(called(file)).stem}"
    write(files, overwrite=overwrite, inputs=[file, *inputs], made_by=made_by)
    doubts += [SaidThing(words, "print") for item in prints for words in item.warnings]
    return Reply(
        lambda: tile_text(
            prints, list(map(str, written)), options, head, [said.words for said in doubts]
        ),
        lambda: tile_data(prints, written),
        written,
        doubts,
    )


def _print_job(
    job: Job,
    options: PageOptions,
    layers: tuple[str, ...],
    spread: float | None,
    how: dict[str, bool],
) -> list[PrintedFile]:
    from ..job.result import print_job

    return print_job(
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


def _print_drawing(
    drawing: Path | bytes, source: str, options: PageOptions, needs_job: bool
) -> list[PrintedFile]:
    from ..printing.drawing_prints import print_file

    if needs_job:
        raise PrintError(
            "--layers, --nested, --keep-together, --projector, --one-file, --share, --spread, "
            "--strip and --drawing need a job file",
            remedy="Give the job file instead of the cutting file, or leave those options out.",
            source=source,
        )
    return [print_file(drawing, options, source)]


@click.command(cls=AnsweringCommand)
@click.argument("job", type=InPath())
@click.argument("out", type=OutPath())
@drawing_option
@click.option(
    "--overwrite",
    is_flag=True,
    help="Replace a file that panelshift did not write, or that was edited since.",
)
def layers(job: Path, out: Path, drawing: Path | None, overwrite: bool) -> Reply:
    """Write one drawing OUT.svg: the draft of JOB.toml as it is, and every layer beside it.

    Each layer is a drawing layer of its own, in true size. Read again, the drawing is the draft
    alone: layers that panelshift drew are left out, and replaced when they are drawn anew.
    """
    from ..job import cut
    from ..job.result import draft_with_layers, drawn_job
    from .reports import listing, paragraphs

    read = read_job_at(job)
    drawn = read_drawn(read.pattern.file if drawing is None else drawing)
    name = called(drawing or read.pattern.file)
    result = cut(drawn_job(read, drawn, source=called(job), name=name))
    files = {out: draft_with_layers(result, drawn, name=name)}
    inputs = [job, *read.sources(), *([] if drawing is None else [drawing])]
    written, piped = write_or_pipe(files, overwrite=overwrite, inputs=inputs)
    title = f"{result.job.plan.title}: {len(result.sheets)} layers beside the draft"
    return Reply(
        lambda: paragraphs(
            title, listing("Look at", result.warnings), listing("Written", list(map(str, written)))
        ),
        lambda: {"title": result.job.plan.title, "layers": list(result.sheets)},
        written,
        [SaidThing(words) for words in result.warnings],
        piped=piped,
    )


@click.command(cls=AnsweringCommand)
@click.argument("directory", type=NamedPath())
@click.option("--overwrite", is_flag=True, help="Replace files that panelshift did not write.")
def extension(directory: Path, overwrite: bool) -> Reply:
    """Put an extension for Inkscape into DIRECTORY, its folder for extensions of the user.

    The program names that folder under Preferences, System, User extensions. Start it again, and
    the menu Extensions has Turn of cloth.
    """
    import json
    from importlib.resources import files as packed

    check_directory(directory)
    home = Path(__file__).resolve().parents[2]
    # This very panelshift, whatever else the program's surroundings name so.
    start = (
        f"import sys; sys.path.insert(0, {str(home)!r}); from panelshift.cli import main; main()"
    )
    contents = {
        directory / f"{_STEM}{suffix}": (packed(__package__) / "extension" / f"{_STEM}{suffix}")
        for suffix in (".inx", ".py")
    }
    files = {path: source.read_bytes() for path, source in contents.items()}
    command = json.dumps([sys.executable, "-P", "-c", start])
    files[directory / f"{_STEM}.json"] = (command + "\n").encode()
    write(files, overwrite=overwrite)
    return Reply(
        lambda: (
            f"Written into {directory}. Start the drawing program again: it is under Extensions, "
            "Turn of cloth."
        ),
        lambda: {"directory": str(directory)},
        list(files),
    )
