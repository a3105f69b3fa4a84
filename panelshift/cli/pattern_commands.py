"""Commands that read a pattern: new and check."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from ..errors import OutputError
from .common import say

if TYPE_CHECKING:
    from ..job import JobFile
    from ..pattern.pattern import Pattern


@click.command()
@click.argument("pattern", type=click.Path(path_type=Path))
@click.option("--out", type=click.Path(path_type=Path), help="Job file to write.")
@click.option("--overwrite", is_flag=True, help="Replace a job file that is there already.")
def new(pattern: Path, out: Path | None, overwrite: bool) -> None:
    """Write a starting job file for PATTERN.svg, to be filled in."""
    import os

    from ..files import write_whole
    from ..job.starter import starter_job

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
    say(
        f"{target}: {len(read.panels)} panels found. Measure your fabrics, fill in their "
        f"thickness, then run: panelshift check {target}"
    )


@click.command()
@click.argument("file", type=click.Path(path_type=Path))
@click.option("--json", "as_json", is_flag=True, help="Print plain data, lengths in mm.")
def check(file: Path, as_json: bool) -> None:
    """Say what was read from PATTERN.svg or JOB.toml.

    Exits 1 when something must be mended, 2 when the input cannot be read.
    """
    from ..job.findings import check_pattern
    from ..job.resolved import resolve
    from .reports.check import check_data, check_text

    if file.suffix.lower() == ".toml":
        from ..job import read_job

        job = read_job(file)
        resolved = resolve(job, source=str(file), keep_faults=True)
        found = check_pattern(resolved.pattern, job, also=resolved.doubts)
    else:
        found = check_pattern(_read(file), _bare_job(file))
    if as_json:
        click.echo(json.dumps(check_data(found), indent=2, ensure_ascii=False))
    else:
        say(check_text(found))
    sys.exit(1 if found.faults else 0)


def _bare_job(file: Path) -> JobFile:
    """Defaults for a pattern without a job file."""
    from ..job import JobFile

    return JobFile.model_validate(
        {"pattern": {"file": file}, "stack": {"fabric": [{"name": "draft", "thickness": 0.0}]}}
    )


def _read(file: Path) -> Pattern:
    from ..draft import assemble
    from ..sources.svg import read_svg

    return assemble(read_svg(file), keep_faults=True)
