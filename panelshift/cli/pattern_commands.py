"""Commands about the draft alone: new, check and alter."""

from __future__ import annotations

import json
import os
import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from ..errors import OutputError, PatternError
from .common import say, write

if TYPE_CHECKING:
    from ..job import JobFile


@click.command()
@click.argument("pattern", type=click.Path(path_type=Path), required=False)
@click.option("--out", type=click.Path(path_type=Path), help="Job file to write.")
@click.option("--overwrite", is_flag=True, help="Replace a job file that is there already.")
@click.option("--page", type=click.IntRange(min=1), help="Page of a PDF that is the pattern.")
@click.option(
    "--list", "listing", is_flag=True, help="Say what each page and layer holds; no more."
)
@click.option("--svg", type=click.Path(path_type=Path), help="Save what was read as SVG as well.")
@click.option(
    "--sample",
    is_flag=True,
    help="Put a sample to try, a draft and its job, into the directory PATTERN, or into this one.",
)
def new(
    pattern: Path | None,
    out: Path | None,
    overwrite: bool,
    page: int | None,
    listing: bool,
    svg: Path | None,
    sample: bool,
) -> None:
    """Write a starting job file for PATTERN (SVG or PDF), to be filled in.

    What cannot be decided stands in it as lines to choose from. Exits 1 when there is something
    to choose or to mend, 2 when the file cannot be read at all.
    """
    from ..files import write_whole
    from ..job.choices import survey
    from ..job.starter import starter_job
    from ..sources.drawings import pages_of, read_drawing
    from ..sources.svg import drawing_svg
    from .reports.drafts import new_text, pages_text

    if sample:
        _put_sample(pattern or Path(), overwrite)
        return
    if pattern is None:
        raise click.UsageError("Name a pattern, or say --sample.")
    if listing:
        say(pages_text(pages_of(pattern)))
        return
    drawing = read_drawing(pattern, page=page)
    target = out or pattern.with_suffix(".toml")
    files = {target: b""}
    if svg is not None:
        files[svg] = drawing_svg(drawing)
    for path, option in ((target, "--out"), (svg, "--svg")):
        if path is not None and not overwrite:
            _refuse_present(path, f"Choose another name with {option}")
    found = survey(drawing)
    folder = Path(os.path.realpath(target.parent))
    relative = Path(os.path.relpath(os.path.realpath(pattern), folder))
    files[target] = starter_job(found, relative, page).encode()
    write_whole(files)
    say(new_text(found, target))
    sys.exit(0 if found.is_settled else 1)


def _refuse_present(path: Path, instead: str) -> None:
    # os.path answers no, where pathlib raises, for a path that no file can have.
    if os.path.exists(path):
        raise OutputError(
            "there is a file of that name already",
            remedy=f"{instead}, or add --overwrite to replace it.",
            source=str(path),
        )


def _put_sample(folder: Path, overwrite: bool) -> None:
    """Copy the sample that came with panelshift, both files or none."""
    from ..files import write_whole
    from ..files.shipped import sample_files

    files = {folder / name: content for name, content in sample_files().items()}
    if not files:
        raise OutputError(
            "this installation came without its sample",
            remedy="Install panelshift again from its wheel, or work in a copy of its repository.",
        )
    for path in files if not overwrite else ():
        _refuse_present(path, "Name another directory")
    write_whole(files)
    job = next(path for path in files if path.suffix == ".toml")
    say(
        "Written:\n"
        + "\n".join(f"  - {path}" for path in files)
        + f"\n\nNext: panelshift cut {job} --out cut"
    )


@click.command()
@click.argument("file", type=click.Path(path_type=Path))
@click.option("--json", "as_json", is_flag=True, help="Print plain data, lengths in mm.")
def check(file: Path, as_json: bool) -> None:
    """Say what was read from PATTERN.svg or JOB.toml.

    Exits 1 when something must be mended, 2 when the input cannot be read.
    """
    from ..job import read_job
    from ..job.choices import survey_job
    from ..job.resolved import read_pattern, resolve
    from ..job.said import check_pattern
    from .reports.drafts import check_data, check_text, choices_data, choices_text

    is_job = file.suffix.lower() == ".toml"
    job = read_job(file) if is_job else _bare_job(file)
    try:
        if is_job:
            resolved = resolve(job, source=str(file), keep_faults=True)
            found = check_pattern(resolved.pattern, job, also=resolved.doubts, body=resolved.body)
        else:
            found = check_pattern(read_pattern(job, source=str(file)), job)
    except PatternError as error:
        if not error.key:
            raise
        open_ = survey_job(job)
        data, text = choices_data(open_), choices_text(open_, str(file))
        faulty = True
    else:
        data, text, faulty = check_data(found), check_text(found), bool(found.faults)
    if as_json:
        click.echo(json.dumps(data, indent=2, ensure_ascii=False))
    else:
        say(text)
    sys.exit(1 if faulty else 0)


@click.command()
@click.argument("job", type=click.Path(path_type=Path))
@click.option("--out", type=click.Path(path_type=Path), help="SVG file for the new draft.")
@click.option(
    "--mock-up",
    "mock",
    type=click.Path(path_type=Path),
    help="SVG file for a mock-up: one cloth cut to the draft's lines, with 25 mm of allowance.",
)
@click.option(
    "--overwrite",
    is_flag=True,
    help="Replace a file that panelshift did not write, or that was edited since.",
)
@click.option("--json", "as_json", is_flag=True, help="Print plain data, lengths in mm.")
def alter(job: Path, out: Path | None, mock: Path | None, overwrite: bool, as_json: bool) -> None:
    """Write a new draft with the alterations of JOB.toml made: what a fitting found.

    Without alterations it is the draft as it was read. Prints the list of changes, girths and
    seams before and after, and what the job file must say of the new draft.
    """
    from ..job import read_job
    from ..job.altering import mock_up, new_draft
    from .reports.drafts import altered_data, altered_text

    named = [path for path in (out, mock) if path is not None]
    if not named:
        raise click.UsageError("Give --out, or --mock-up, or both.")
    for path in named:
        if path.suffix.lower() != ".svg":
            raise OutputError(
                "is no name of an SVG file",
                remedy="Name it draft-2.svg or the like.",
                source=str(path),
            )
    read = read_job(job)
    made = new_draft(read, source=str(job), name="draft-2.svg" if out is None else out.name)
    files = {} if out is None else {out: made.svg}
    if mock is not None:
        files[mock] = mock_up(read, source=str(job))
    write(files, overwrite=overwrite, inputs=[job, *read.sources()])
    written = list(map(str, named))
    if as_json:
        data = altered_data(made) | {"files": written}
        click.echo(json.dumps(data, indent=2, ensure_ascii=False))
    else:
        say(altered_text(made, read.pattern.units, written, told=out is not None))


def _bare_job(file: Path) -> JobFile:
    """Defaults for a pattern without a job file."""
    from ..job import JobFile

    return JobFile.model_validate(
        {"pattern": {"file": file}, "stack": {"fabric": [{"name": "draft", "thickness": 0.0}]}}
    )
