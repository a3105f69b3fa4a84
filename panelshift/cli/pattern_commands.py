"""Commands about the draft alone: new, check and alter."""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING

import click

from ..errors import OutputError, PatternError
from .answering import (
    STANDARD,
    AnsweringCommand,
    InPath,
    OutPath,
    Reply,
    SaidThing,
    called,
    input_bytes,
    job_or_drawing,
    read_job_at,
    write_or_pipe,
)

if TYPE_CHECKING:
    from ..job import JobFile
    from ..job.said import Finding


@click.command(cls=AnsweringCommand)
@click.argument("pattern", type=InPath(), required=False)
@click.option("--out", type=OutPath(), help="Job file to write.")
@click.option("--overwrite", is_flag=True, help="Replace a job file that is there already.")
@click.option("--page", type=click.IntRange(min=1), help="Page of a PDF that is the pattern.")
@click.option(
    "--list", "listing", is_flag=True, help="Say what each page and layer holds; no more."
)
@click.option("--svg", type=OutPath(), help="Save what was read as SVG as well.")
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
) -> Reply:
    """Write a starting job file for PATTERN (SVG or PDF), to be filled in.

    What cannot be decided stands in it as lines to choose from. Exits 1 when there is something
    to choose or to mend, 2 when the file cannot be read at all.
    """
    from ..files import write_whole
    from ..job.choices import survey
    from ..job.said import check_draft
    from ..job.starter import starter_job
    from ..sources.drawings import pages_of, read_drawing
    from ..sources.svg import drawing_svg
    from .reports.drafts import new_text, pages_text
    from .reports.plain import pages_data, survey_data

    if sample:
        return _put_sample(pattern or Path(), overwrite)
    if pattern is None:
        raise click.UsageError("Name a pattern, or say --sample.")
    if listing:
        source = input_bytes() if pattern == STANDARD else pattern
        pages = pages_of(source, name=called(pattern))
        return Reply(lambda: pages_text(pages), lambda: pages_data(pages))
    if pattern == STANDARD:
        raise click.UsageError("A job file names its pattern: give a file, or add --list.")
    if out == svg == STANDARD:
        raise click.UsageError("Only one of --out and --svg goes to standard output.")
    drawing = read_drawing(pattern, page=page)
    target = out or pattern.with_suffix(".toml")
    files = {target: b""}
    if svg is not None:
        files[svg] = drawing_svg(drawing)
    for path, option in ((target, "--out"), (svg, "--svg")):
        if path not in (None, STANDARD) and not overwrite:
            _refuse_present(path, f"Choose another name with {option}")
    found = survey(drawing)
    folder = Path(os.path.realpath(target.parent))
    relative = Path(os.path.relpath(os.path.realpath(pattern), folder))
    files[target] = starter_job(found, relative, page).encode()
    piped = files.pop(STANDARD, None)
    look, mend = [], [SaidThing(words) for words in found.faults]
    if found.pattern is not None:
        checked = check_draft(_bare_job(pattern, page), source=called(pattern), drawing=drawing)
        look = list(map(_said, checked.warnings))
        # What the ledger says is among the survey's faults, but for what is to be chosen.
        told = {remark.code for remark in found.pattern.ledger}
        mend += [_said(fault) for fault in checked.faults if fault.code not in told]
    write_whole(files)
    return Reply(
        lambda: new_text(found, target, look, mend),
        lambda: survey_data(found),
        list(files),
        look,
        mend,
        1 if found.choices or mend else 0,
        piped,
    )


def _said(finding: Finding) -> SaidThing:
    return SaidThing(finding.words, finding.code, finding.element, finding.seam)


def _bare_job(file: Path, page: int | None = None) -> JobFile:
    """Defaults for a pattern without a job file."""
    from ..job import JobFile

    fabric = {"name": "draft", "thickness": 0.0}
    return JobFile.model_validate(
        {"pattern": {"file": file, "page": page}, "stack": {"fabric": [fabric]}}
    )


def _refuse_present(path: Path, instead: str) -> None:
    # os.path answers no, where pathlib raises, for a path that no file can have.
    if os.path.exists(path):
        raise OutputError(
            "there is a file of that name already",
            remedy=f"{instead}, or add --overwrite to replace it.",
            source=str(path),
        )


def _put_sample(folder: Path, overwrite: bool) -> Reply:
    """Copy the sample that came with panelshift, both files or none."""
    from ..files import write_whole
    from ..files.shipped import sample_files
    from .reports import listing, paragraphs

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
    return Reply(
        lambda: paragraphs(
            listing("Written", list(map(str, files))), f"Next: panelshift cut {job} --out cut"
        ),
        lambda: {"job": str(job)},
        list(files),
    )


@click.command(cls=AnsweringCommand)
@click.argument("file", type=InPath())
def check(file: Path) -> Reply:
    """Say what was read from PATTERN.svg or JOB.toml.

    Exits 1 when something must be mended, 2 when the input cannot be read.
    """
    from ..job import JobFile
    from ..job.choices import survey_job
    from ..job.resolved import resolve
    from ..job.said import check_draft, check_pattern
    from ..sources.drawings import read_drawing
    from .reports.drafts import check_text, choices_text
    from .reports.plain import check_data, survey_data

    source, drawing = job_or_drawing(file), None
    if isinstance(source, JobFile):
        job = source
    else:
        job = _bare_job(file)
        drawing = read_drawing(source, name=called(file))
    try:
        if drawing is None:
            resolved = resolve(job, source=called(file), keep_faults=True)
            found = check_pattern(resolved.pattern, job, also=resolved.doubts, body=resolved.body)
        else:
            found = check_draft(job, source=called(file), drawing=drawing)
    except PatternError as error:
        if not error.key:
            raise
        open_ = survey_job(job, drawing)
        return Reply(
            lambda: choices_text(open_, called(file)),
            lambda: survey_data(open_),
            must_be_mended=[SaidThing(words) for words in open_.faults],
            code=1,
        )
    return Reply(
        lambda: check_text(found),
        lambda: check_data(found),
        look_at=list(map(_said, found.warnings)),
        must_be_mended=list(map(_said, found.faults)),
        code=1 if found.faults else 0,
    )


@click.command(cls=AnsweringCommand)
@click.argument("job", type=InPath())
@click.option("--out", type=OutPath(), help="SVG file for the new draft.")
@click.option(
    "--mock-up",
    "mock",
    type=OutPath(),
    help="SVG file for a mock-up: one cloth cut to the draft's lines, with 25 mm of allowance.",
)
@click.option(
    "--overwrite",
    is_flag=True,
    help="Replace a file that panelshift did not write, or that was edited since.",
)
def alter(job: Path, out: Path | None, mock: Path | None, overwrite: bool) -> Reply:
    """Write a new draft with the alterations of JOB.toml made: what a fitting found.

    Without alterations it is the draft as it was read. Prints the list of changes, girths and
    seams before and after, and what the job file must say of the new draft.
    """
    from ..job.altering import mock_up
    from ..job.new_draft import new_draft
    from .reports.drafts import altered_text
    from .reports.plain import altered_data

    named_paths = [path for path in (out, mock) if path is not None]
    if not named_paths:
        raise click.UsageError("Give --out, or --mock-up, or both.")
    if out == mock:
        raise click.UsageError("--out and --mock-up are two files.")
    for path in named_paths:
        if path.suffix.lower() != ".svg" and path != STANDARD:
            raise OutputError(
                "is no name of an SVG file",
                remedy="Name it draft-2.svg or the like.",
                source=str(path),
            )
    read, source = read_job_at(job), called(job)
    name = "draft-2.svg" if out in (None, STANDARD) else out.name
    made = new_draft(read, source=source, name=name, saved=out is not None)
    files = {} if out is None else {out: made.svg}
    if mock is not None:
        files[mock] = mock_up(read, source=source)
    written, piped = write_or_pipe(files, overwrite=overwrite, inputs=[job, *read.sources()])
    return Reply(
        lambda: altered_text(
            made, read.pattern.units, list(map(str, written)), told=out is not None
        ),
        lambda: altered_data(made),
        written,
        piped=piped,
    )
