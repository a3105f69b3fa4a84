"""The command that cuts: one file for each layer."""

from __future__ import annotations

from pathlib import Path

import click

from .common import check_directory, out_option, say, write


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
