"""The command that opens the local web page."""

from __future__ import annotations

from pathlib import Path

import click

from ..errors import JobError, PanelshiftError
from .common import say


class MissingExtraError(PanelshiftError, ImportError):
    """A command needs packages that are installed on wish only."""


@click.command()
@click.argument("job", required=False, type=click.Path(path_type=Path))
@click.option("--no-browser", is_flag=True, help="Only print the address.")
@click.option(
    "--port",
    type=click.IntRange(0, 65535),
    default=0,
    help="Port on 127.0.0.1; any free one if not given.",
)
def table(job: Path | None, no_browser: bool, port: int) -> None:
    """Open a page in the browser: drop a pattern in, stack fabrics, take the pages away.

    Works on JOB.toml, or begins in this directory without one. The page is served on this
    machine only, and nothing leaves it. Ends with Ctrl-C.
    """
    try:
        from ..table.server import serve
        from ..table.session import Session
    except ModuleNotFoundError as error:
        if (error.name or "").partition(".")[0] not in _EXTRA:
            raise
        raise MissingExtraError(
            f"the table needs the package {error.name!r}, which is not installed",
            remedy="In your copy of the repository run: pip install '.[table]'",
        ) from None
    if job is not None and job.suffix.lower() in (".svg", ".svgz"):
        raise JobError(
            "is a drawing, not a job file",
            remedy="Run panelshift table without it, and drop it on the page.",
            source=str(job),
        )
    session = Session(Path(), job)
    serve(session, port=port, browse=not no_browser, say=say)
    where = "" if session.workspace is None else f" Your work is in {session.workspace.job}."
    say(f"The table is cleared.{where}")


_EXTRA = ("starlette", "uvicorn", "tomlkit", "python_multipart", "anyio", "h11", "idna")
"""What the extra brings."""
