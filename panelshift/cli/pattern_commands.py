"""Commands that read a pattern: new and check."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from ..errors import OutputError, PatternError
from .common import say

if TYPE_CHECKING:
    from ..job import JobFile


@click.command()
@click.argument("pattern", type=click.Path(path_type=Path))
@click.option("--out", type=click.Path(path_type=Path), help="Job file to write.")
@click.option("--overwrite", is_flag=True, help="Replace a job file that is there already.")
def new(pattern: Path, out: Path | None, overwrite: bool) -> None:
    """Write a starting job file for PATTERN.svg, to be filled in.

    What cannot be decided stands in it as lines to choose from. Exits 1 when there is something
    to choose or to mend, 2 when the file cannot be read at all.
    """
    import os

    from ..files import write_whole
    from ..job.choices import survey
    from ..job.starter import starter_job
    from ..sources.svg import read_svg
    from .reports.drafts import new_text

    drawing = read_svg(pattern)
    target = out or pattern.with_suffix(".toml")
    # os.path answers no, where pathlib raises, for a path that no file can have.
    if os.path.exists(target) and not overwrite:
        raise OutputError(
            "there is a file of that name already",
            remedy="Choose another name with --out, or add --overwrite to replace it.",
            source=str(target),
        )
    found = survey(drawing)
    folder = Path(os.path.realpath(target.parent))
    text = starter_job(found, Path(os.path.relpath(os.path.realpath(pattern), folder)))
    write_whole({target: text.encode()})
    say(new_text(found, target))
    sys.exit(0 if found.is_settled else 1)


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


def _bare_job(file: Path) -> JobFile:
    """Defaults for a pattern without a job file."""
    from ..job import JobFile

    return JobFile.model_validate(
        {"pattern": {"file": file}, "stack": {"fabric": [{"name": "draft", "thickness": 0.0}]}}
    )
