"""The command line."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from . import __version__
from .errors import OutputError, PanelshiftError

if TYPE_CHECKING:
    from .job import JobFile
    from .pattern.pattern import Pattern

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

    target = out or pattern.with_suffix(".toml")
    if target.exists() and not overwrite:
        raise OutputError(
            "there is a file of that name already",
            remedy="Choose another name with --out, or add --overwrite to replace it.",
            source=str(target),
        )
    read = _read(pattern)
    folder = target.resolve().parent
    text = starter_job(read, Path(os.path.relpath(pattern.resolve(), folder)))
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
    if out.exists() and not out.is_dir():
        raise OutputError(
            "is a file, not a directory",
            remedy="Name a directory for the cutting files.",
            source=str(out),
        )
    write_whole({out / name: content for name, content in result.files.items()})
    click.echo(cut_text(result, [str(out / name) for name in result.files]))


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
