"""The command line."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from . import __version__
from .errors import OutputError, PanelshiftError, PrintError, SwatchError

if TYPE_CHECKING:
    from .batch import Outcome
    from .job import JobFile
    from .job.tiles import PrintedFile
    from .pattern.pattern import Pattern
    from .printing import PageOptions
    from .swatch import Reading

# Each command imports what it needs: numpy, lxml and svgpathtools would otherwise slow --help.


class _Commands(click.Group):
    """Turns every error that a user can cause into a message and exit code 2."""

    def invoke(self, ctx: click.Context) -> object:
        try:
            return super().invoke(ctx)
        except PanelshiftError as error:
            _say(f"panelshift: {error}", err=True)
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
    _say(
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
        _say(check_text(found))
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
    _say(cut_text(result, [str(out / name) for name in result.files]))


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
    from .report.fit_page import answers, fit_page, headline
    from .report.tables import listing, paragraphs

    facts = fit_facts(resolve(read_job(job), source=str(job)))
    _directory(out)
    files = {
        out / "fit.html": fit_page(facts),
        out / "fit.json": facts_json(facts),
        out / "fit.csv": facts_csv(facts),
    }
    write_whole(files)
    lines = [headline(facts), *answers(facts)]
    _say(
        paragraphs(
            "\n".join(lines),
            listing("Look at", facts.warnings()),
            listing("Written", [str(path) for path in files]),
        )
    )


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
    margin: str,
    overlap: str,
    layers: tuple[str, ...],
    nested: bool,
    keep_together: bool,
) -> None:
    """Print JOB.toml, or one cutting file LAYER.svg, as PDF pages at true size."""
    from .printing import PageOptions, parse_paper
    from .units import to_mm

    options = PageOptions(parse_paper(paper), to_mm(margin), to_mm(overlap))
    # Before the work, which may take a while.
    _directory(out)
    if file.suffix.lower() == ".toml":
        prints = _print_job(file, options, layers, nested, keep_together)
    else:
        prints = _print_drawing(file, options, bool(layers or nested or keep_together))
    from .files import write_whole
    from .report.printing import tile_text

    write_whole({out / item.name: item.printed.data for item in prints})
    _say(tile_text(prints, [str(out / item.name) for item in prints], options))


@main.command()
@click.option("--inner", default="", help="Name of the layer that lay towards the former.")
@click.option("--outer", default="", help="Name of the layer that lay outside.")
@click.option(
    "--reading",
    "given",
    multiple=True,
    metavar="FORMER,LENGTH,OVERHANG",
    help="One reading, such as 80,200,6.5 (mm) or 3in,8in,0.25in; give it once for each swatch.",
)
@click.option(
    "--csv", "file", type=click.Path(path_type=Path), help="Readings from a file instead."
)
@click.option("--job", type=click.Path(path_type=Path), help="Job file to compare with.")
@click.option("--inner-thickness", help="Of the inner cloth, where there is no job file.")
@click.option("--under", help="Thickness of what lay between former and inner cloth.")
@click.option(
    "--u-overhang",
    help="Standard uncertainty of an overhang; found from the readings, or that of a ruler "
    "(0.5 mm) for fewer than three, if not given.",
)
@click.option("--u-former", help="Standard uncertainty of the diameters.")
@click.option("--u-length", help="Standard uncertainty of the lengths.")
@click.option("--json", "as_json", is_flag=True, help="Print plain data, lengths in mm.")
@click.option(
    "--sheet",
    type=click.Path(path_type=Path),
    help="Write strips to print and cut, as OUT.svg or OUT.pdf.",
)
@click.option("--formers", help="Diameters for the sheet, such as 60,80,100.")
def swatch(
    inner: str,
    outer: str,
    given: tuple[str, ...],
    file: Path | None,
    job: Path | None,
    inner_thickness: str | None,
    as_json: bool,
    sheet: Path | None,
    formers: str | None,
    **others: str | None,
) -> None:
    """Measure the distance between two layers with swatches pinned round a former.

    Prints the strips for it (--sheet), and fits what was read on them.
    """
    if sheet is not None:
        _swatch_sheet(sheet, formers)
        if not (given or file):
            return
    elif formers is not None:
        raise SwatchError("--formers is for the sheet", remedy="Add --sheet OUT.pdf.")
    from .job.swatching import fit_by_hand, fit_with_job
    from .report.swatch import swatch_data, swatch_text
    from .units import to_mm

    readings = _swatch_readings(inner, outer, given, file, others)
    source = str(file or "")
    if (job is None) == (inner_thickness is None):
        raise SwatchError(
            "the thickness of the inner cloth is needed, once",
            remedy="Give either --job with the job file, or --inner-thickness.",
        )
    if job is not None:
        found = fit_with_job(readings, job, source=source)
    else:
        found = fit_by_hand(readings, to_mm(inner_thickness or ""), source=source)
    if as_json:
        data = swatch_data(found.fits, found.comparisons)
        click.echo(json.dumps(data, indent=2, ensure_ascii=False))
    else:
        _say(swatch_text(found.fits, found.comparisons, csv=source))


@main.command()
@click.argument("jobs", nargs=-1, required=True, type=click.Path(path_type=Path))
@click.option(
    "--out",
    type=click.Path(path_type=Path),
    required=True,
    help="Directory in which each job gets one of its own.",
)
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
@click.option("--paper", default="a4", show_default=True, help="Paper of tiles: see tile --help.")
@click.option(
    "--margin", default="10", show_default=True, help="Blank border that the printer needs."
)
@click.option(
    "--overlap",
    default="10",
    show_default=True,
    help="Strip that neighbouring pages share, for gluing.",
)
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
) -> None:
    """Carry out many JOBS.toml, or one for each row of a table.

    What is done and unchanged since the last run is not done again. Exits 1 when some jobs
    failed, 2 when the input cannot be read.
    """
    import contextlib

    from .batch import BatchJob, read_table, run_many
    from .batch.summary import batch_text
    from .printing import PageOptions, parse_paper
    from .units import to_mm

    pages = PageOptions(parse_paper(paper), to_mm(margin), to_mm(overlap))
    work: list[BatchJob | Path] = list(jobs)
    if table is not None:
        if len(jobs) > 1:
            raise click.UsageError("--table takes one JOB: each of its rows changes that.")
        read = read_table(table, jobs[0])
        work = list(read.jobs)
        _say(f"{table}: {read.taken}", err=True)
    wanted = [name.strip() for name in products.split(",") if name.strip()]
    _directory(out)
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
            pages=pages,
            progress=progress,
            resume=not again,
            workers=workers,
        )
    _say(batch_text(outcomes, str(out)))
    sys.exit(1 if any(outcome.status == "failed" for outcome in outcomes) else 0)


def _print_job(
    file: Path, options: PageOptions, layers: tuple[str, ...], nested: bool, keep_together: bool
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
        progress=lambda title: _say(f"printing {title} ...", err=True),
    )


def _print_drawing(file: Path, options: PageOptions, needs_job: bool) -> list[PrintedFile]:
    from .job.tiles import print_file

    if needs_job:
        raise PrintError(
            "--layers, --nested and --keep-together need a job file",
            remedy="Give the job file instead of the cutting file, or leave those options out.",
            source=str(file),
        )
    return [print_file(file, options)]


def _swatch_readings(
    inner: str,
    outer: str,
    given: tuple[str, ...],
    file: Path | None,
    others: dict[str, str | None],
) -> tuple[Reading, ...]:
    from .swatch import read_csv
    from .swatch.readings import parse_reading
    from .units import to_mm

    stated = {key: to_mm(text) for key, text in others.items() if text is not None}
    if file is not None:
        if given or stated:
            named = ["reading"] * bool(given) + [key.replace("_", "-") for key in stated]
            raise SwatchError(
                f"--csv and --{named[0]} do not go together",
                remedy="The file has a line for each reading and columns for what else is known.",
                source=str(file),
            )
        return read_csv(file, inner=inner, outer=outer)
    if not given:
        raise SwatchError(
            "no readings",
            remedy="Give --reading FORMER,LENGTH,OVERHANG, or --csv FILE; --sheet OUT.pdf writes "
            "the strips to read them on.",
        )
    if not (inner and outer):
        raise SwatchError(
            "the layers of the swatch are not named", remedy="Give --inner and --outer."
        )
    return tuple(
        parse_reading(text, inner, outer, origin=f"reading {place}", **stated)
        for place, text in enumerate(given, start=1)
    )


def _swatch_sheet(path: Path, formers: str | None) -> None:
    from .files import write_whole
    from .swatch.printout import DEFAULT_FORMERS_MM, sheet_bytes
    from .units import to_mm

    diameters = (
        DEFAULT_FORMERS_MM if formers is None else tuple(to_mm(f) for f in formers.split(","))
    )
    write_whole({path: sheet_bytes(diameters, path.suffix.lower())})
    _say(f"written: {path}\nPrint at 100 % (no fit to page) and measure the test square.")


def _say(text: str, *, err: bool = False) -> None:
    """Print text, with control characters from names and paths made visible.

    A name in a drawing could otherwise move the cursor or recolour the terminal.
    """
    import unicodedata

    shown = (
        ascii(ch)[1:-1] if ch != "\n" and unicodedata.category(ch) in ("Cc", "Cs") else ch
        for ch in text
    )
    click.echo("".join(shown), err=err)


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
