"""The command line."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from . import __version__
from .errors import OutputError, PanelshiftError, PrintError

if TYPE_CHECKING:
    from .job import JobFile
    from .job.tiles import PrintedFile
    from .pattern.pattern import Pattern
    from .printing import PageOptions

# Each command imports what it needs: numpy, lxml and svgpathtools would otherwise slow --help.


class _Commands(click.Group):
    """Turns every error that a user can cause into a message and exit code 2."""

    def invoke(self, ctx: click.Context) -> object:
        try:
            return super().invoke(ctx)
        except PanelshiftError as error:
            click.echo(f"panelshift: {error}", err=True)
            ctx.exit(2)


@click.group(cls=_Commands, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="panelshift")
def main() -> None:
    """Turn of cloth for corset patterns: from a drafted SVG to cutting files for each layer."""


@main.command()
@click.argument("pattern", type=click.Path(path_type=Path))
@click.option("--out", type=click.Path(path_type=Path), help="Job file to write.")
@click.option("--overwrite", is_flag=True, help="Replace a job file that is there already.")
def new(pattern: Path, out: Path | None, overwrite: bool) -> None:
    """Write a starting job file for PATTERN.svg, to be filled in."""
    import os

    from .files import write_whole
    from .job.starter import starter_job

    read = _read(pattern)
    target = out or pattern.with_suffix(".toml")
    # os.path answers no, where pathlib raises, for a path that no file can have.
    if os.path.exists(target) and not overwrite:
        raise OutputError(
            "there is a file of that name already",
            remedy="Choose another name with --out, or add --overwrite to replace it.",
            source=str(target),
        )
    folder = Path(os.path.realpath(target.parent))
    text = starter_job(read, Path(os.path.relpath(os.path.realpath(pattern), folder)))
    write_whole({target: text.encode()})
    click.echo(
        f"{target}: {len(read.panels)} panels found. Measure your fabrics, fill in their "
        f"thickness, then run: panelshift check {target}"
    )


@main.command()
@click.argument("file", type=click.Path(path_type=Path))
@click.option("--json", "as_json", is_flag=True, help="Print plain data, lengths in mm.")
def check(file: Path, as_json: bool) -> None:
    """Say what was read from PATTERN.svg or JOB.toml.

    Exits 1 when something must be mended, 2 when the input cannot be read.
    """
    from .job.resolve import resolve
    from .report.check import check_data, check_pattern, check_text

    if file.suffix.lower() == ".toml":
        from .job import read_job

        job = read_job(file)
        pattern = resolve(job, source=str(file)).pattern
    else:
        job = _bare_job(file)
        pattern = _read(file)
    found = check_pattern(pattern, job)
    if as_json:
        click.echo(json.dumps(check_data(found), indent=2, ensure_ascii=False))
    else:
        click.echo(check_text(found))
    sys.exit(1 if found.faults else 0)


@main.command()
@click.argument("job", type=click.Path(path_type=Path))
@click.option(
    "--out",
    type=click.Path(path_type=Path, file_okay=True),
    required=True,
    help="Directory for the cutting files.",
)
def cut(job: Path, out: Path) -> None:
    """Write one cutting file for each layer of JOB.toml, and an overlay of all."""
    from .files import write_whole
    from .job import cut as carry_out
    from .job import read_job, resolve
    from .report.cutting import cut_text

    result = carry_out(resolve(read_job(job), source=str(job)))
    _directory(out)
    write_whole({out / name: content for name, content in result.files.items()})
    click.echo(cut_text(result, [str(out / name) for name in result.files]))


@main.command()
@click.argument("job", type=click.Path(path_type=Path))
@click.option(
    "--out",
    type=click.Path(path_type=Path),
    required=True,
    help="Directory for fit.html, fit.json and fit.csv.",
)
def fit(job: Path, out: Path) -> None:
    """Write the fit sheet of JOB.toml: finished sizes, and what happens if nothing is done."""
    from .files import write_whole
    from .job import read_job, resolve
    from .report.fit_facts import facts_csv, facts_json, fit_facts
    from .report.fit_page import fit_page, headline

    facts = fit_facts(resolve(read_job(job), source=str(job)))
    _directory(out)
    files = {
        out / "fit.html": fit_page(facts),
        out / "fit.json": facts_json(facts),
        out / "fit.csv": facts_csv(facts),
    }
    write_whole(files)
    click.echo(headline(facts))
    click.echo("Written:\n" + "\n".join(f"  - {path}" for path in files))


@main.command()
@click.argument("file", type=click.Path(path_type=Path))
@click.option(
    "--paper",
    default="a4",
    show_default=True,
    help="a4, a3, a2, a1, a0, letter, "
    "legal, tabloid, a size such as 300x400 or 24x36in, or a roll such as roll:914.",
)
@click.option(
    "--out", type=click.Path(path_type=Path), required=True, help="Directory for the PDF files."
)
@click.option(
    "--margin", default="10", show_default=True, help="Blank border that the printer needs."
)
@click.option(
    "--overlap",
    default="10",
    show_default=True,
    help="Strip that neighbouring pages share, for gluing.",
)
@click.option("--layers", default="", help="Names of layers, with commas; all if not given.")
@click.option("--nested", is_flag=True, help="All layers of a panel in each other, on one print.")
@click.option("--keep-together", is_flag=True, help="Each panel on as few pages as can be.")
def tile(
    file: Path,
    paper: str,
    out: Path,
    margin: str,
    overlap: str,
    layers: str,
    nested: bool,
    keep_together: bool,
) -> None:
    """Print JOB.toml, or one cutting file LAYER.svg, as PDF pages at true size."""
    from .printing import PageOptions, parse_paper
    from .units import to_mm

    options = PageOptions(parse_paper(paper), to_mm(margin), to_mm(overlap))
    names = [name.strip() for name in layers.split(",") if name.strip()]
    if file.suffix.lower() == ".toml":
        prints = _print_job(file, options, names, nested, keep_together)
    else:
        prints = _print_drawing(file, options, bool(names or nested or keep_together))
    _directory(out)
    from .files import write_whole
    from .report.printing import tile_text

    write_whole({out / item.name: item.printed.data for item in prints})
    click.echo(tile_text(prints, [str(out / item.name) for item in prints], options))


def _print_job(
    file: Path, options: PageOptions, layers: list[str], nested: bool, keep_together: bool
) -> list[PrintedFile]:
    from .job import read_job, resolve
    from .job.tiles import print_job

    job = resolve(read_job(file), source=str(file))
    return print_job(
        job,
        options,
        layers=layers,
        nested=nested,
        keep_together=keep_together,
        progress=lambda title: click.echo(f"printing {title} ...", err=True),
    )


def _print_drawing(file: Path, options: PageOptions, needs_job: bool) -> list[PrintedFile]:
    from .cutting.reread import sheet_of_drawing
    from .job.tiles import print_sheet
    from .svg import read_svg

    if needs_job:
        raise PrintError(
            "--layers, --nested and --keep-together need a job file",
            remedy="Give the job file instead of the cutting file, or leave those options out.",
            source=str(file),
        )
    return [print_sheet(sheet_of_drawing(read_svg(file), file.stem), options, file.stem)]


def _directory(out: Path) -> None:
    import os

    # os.path answers no, where pathlib raises, for a path that no file can have.
    if os.path.exists(out) and not os.path.isdir(out):
        raise OutputError(
            "is a file, not a directory",
            remedy="Name a directory for the files.",
            source=str(out),
        )


def _bare_job(file: Path) -> JobFile:
    """Defaults for a pattern without a job file."""
    from .job import JobFile

    return JobFile.model_validate(
        {"pattern": {"file": file}, "stack": {"fabric": [{"name": "draft", "thickness": 0.0}]}}
    )


def _read(file: Path) -> Pattern:
    from .pattern.assembly import assemble
    from .svg import read_svg

    return assemble(read_svg(file))
