"""The command line.

In come arguments; out go files, a report, and an exit code: 0, 1 where something must be mended,
2 for every error that a user can cause.
"""

from __future__ import annotations

import contextlib
import os
from collections.abc import Iterator
from typing import Any

import click

from .. import __version__
from ..errors import PanelshiftError
from .answering import asks_for_json, refuse
from .common import open_streams, printing, say
from .drawing_commands import extension, layers, tile
from .job_commands import batch, cut, fit, table
from .measuring_commands import form, swatch
from .paper_commands import cards, trace
from .pattern_commands import alter, check, new

# Each command imports what it needs: numpy, lxml and svgpathtools would otherwise slow --help.


class CommandLineError(PanelshiftError):
    """Options or arguments that no command takes, told as data."""


@contextlib.contextmanager
def _told_as_data(ctx: click.Context) -> Iterator[None]:
    """Tell what no command takes as an object, where one is asked for."""
    try:
        yield
    except click.UsageError as error:
        if not asks_for_json(ctx):
            # As click does, but for a standard error that nothing can be printed to.
            with contextlib.suppress(OSError):
                error.show()
            ctx.exit(error.exit_code)
        remedy = f"Run {(error.ctx or ctx).command_path} --help."
        refuse(error.ctx or ctx, CommandLineError(error.format_message(), remedy=remedy))


@contextlib.contextmanager
def _refused(ctx: click.Context) -> Iterator[None]:
    """End where what was to be told cannot be printed."""
    try:
        yield
    except PanelshiftError as error:
        say(f"panelshift: {error}", err=True)
        ctx.exit(2)


class _Commands(click.Group):
    """Knows from the start whether the answer is for people or for programs."""

    def main(self, *args: Any, **extra: Any) -> Any:
        open_streams()
        return super().main(*args, **extra)

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        ctx.obj = "--json" in args
        with _refused(ctx), _told_as_data(ctx), printing():
            return super().parse_args(ctx, args)

    def invoke(self, ctx: click.Context) -> object:
        with _refused(ctx), _told_as_data(ctx):
            return super().invoke(ctx)

    def format_epilog(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        from ..files.shipped import home

        if place := home("docs"):
            formatter.write_paragraph()
            formatter.write_text(
                "Pages that messages name as docs/... open from panelshift table, behind each "
                "question mark, and lie in"
            )
            formatter.write(f"  {place}\n")


@click.group(cls=_Commands, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="panelshift")
def main() -> None:
    """Turn of cloth for corset patterns: from a drafted SVG to cutting files for each layer."""
    # Before any command imports numpy: matrices here are small, and a second thread waits.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    # Nor has any other package a say in how a job is read; looking for one takes longer than that.
    os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "__all__")


for _command in (
    *(new, check, cards, trace, alter, cut, layers, tile, fit),
    *(form, swatch, batch, table, extension),
):
    main.add_command(_command)
