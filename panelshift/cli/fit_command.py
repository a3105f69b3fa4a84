"""The command that writes the fit sheet."""

from __future__ import annotations

from pathlib import Path

import click

from .common import check_directory, out_option, say, write


@click.command()
@click.argument("job", type=click.Path(path_type=Path))
@out_option("fit.html, fit.json and fit.csv")
def fit(job: Path, out: Path, overwrite: bool) -> None:
    """Write the fit sheet of JOB.toml: finished sizes, and what happens if nothing is done."""
    from ..fit.fact_rows import facts_csv, facts_json
    from ..fit.html_page import answers, fit_page, headline
    from ..job import read_job, resolve
    from ..job.fitting import fit_job
    from .reports.tables import listing, paragraphs

    resolved = resolve(read_job(job), source=str(job))
    facts = fit_job(resolved)
    check_directory(out)
    files = {
        out / "fit.html": fit_page(facts),
        out / "fit.json": facts_json(facts),
        out / "fit.csv": facts_csv(facts),
    }
    write(files, overwrite=overwrite, inputs=[job, *resolved.file.sources()])
    lines = [headline(facts), *answers(facts)]
    say(
        paragraphs(
            "\n".join(lines),
            listing("Look at", facts.warnings()),
            listing("Written", [str(path) for path in files]),
        )
    )
