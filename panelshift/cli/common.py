"""What all commands share: printing, output directories, and the option to overwrite."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Iterable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from ..errors import OutputError, UnitError
from ..files.writing import output_error

if TYPE_CHECKING:
    from ..printing import PageOptions


def say(text: str, *, err: bool = False) -> None:
    """Print text, with control characters from names and paths made visible.

    A name in a drawing could otherwise move the cursor or recolour the terminal. Letters that the
    terminal does not know are shown by their codes.

    Raises `OutputError` if what prints is full or broken.
    """
    import unicodedata

    shown = (
        ascii(ch)[1:-1] if ch != "\n" and unicodedata.category(ch) in ("Cc", "Cs") else ch
        for ch in text
    )
    coding = (sys.stderr if err else sys.stdout).encoding or "utf-8"
    known = "".join(shown).encode(coding, "backslashreplace").decode(coding)
    try:
        click.echo(known, err=err)
    except BrokenPipeError:
        # Whoever reads has enough; click ends quietly.
        raise
    except OSError as error:
        if err:
            raise
        raise output_error(error, Path("standard output"), "cannot print") from error


def check_directory(out: Path) -> None:
    """Refuse an output directory that is a file."""
    # os.path answers no, where pathlib raises, for a path that no file can have.
    if os.path.exists(out) and not os.path.isdir(out):
        raise OutputError(
            "is a file, not a directory", remedy="Name a directory for the files.", source=str(out)
        )


def out_option(what: str) -> Callable[[Any], Any]:
    """Return the options --out DIR and --overwrite of a command that writes files."""

    def add(command: Any) -> Any:
        command = click.option(
            "--overwrite",
            is_flag=True,
            help="Replace files that panelshift did not write, or that were edited since.",
        )(command)
        return click.option(
            "--out", type=click.Path(path_type=Path), required=True, help=f"Directory for {what}."
        )(command)

    return add


def page_options(command: Any) -> Any:
    """Add the options --paper, --margin and --overlap to a command that prints."""
    for option in (
        click.option(
            "--overlap",
            default="10",
            show_default=True,
            help="Strip that neighbouring pages share, for gluing.",
        ),
        click.option(
            "--margin", default="10", show_default=True, help="Blank border that the printer needs."
        ),
        click.option(
            "--paper",
            default="a4",
            show_default=True,
            help="a4, a3, a2, a1, a0, letter, legal, tabloid, a size such as 300x400 or 24x36in, "
            "or a roll such as roll:914.",
        ),
    ):
        command = option(command)
    return command


def pages(paper: str, margin: str, overlap: str) -> PageOptions:
    """Return what the options of `page_options` say."""
    from ..printing import PageOptions, parse_paper

    return PageOptions(parse_paper(paper), length(margin, "--margin"), length(overlap, "--overlap"))


def length(text: str, option: str) -> float:
    """Return in mm the length that was typed for an option, which an error then names."""
    from ..units import to_mm

    try:
        return to_mm(text)
    except UnitError as error:
        raise error.located(element=option) from None


def write(
    files: Mapping[Path, bytes],
    *,
    overwrite: bool,
    inputs: Iterable[Path | None] = (),
    made_by: str = "",
) -> None:
    """Write a command's files, never over its inputs or over what somebody else wrote.

    *made_by*: the command, whose files of an earlier run are removed if it makes them no more.
    """
    from ..files.outputs import write_outputs

    own = [path for path in inputs if path]
    gone = write_outputs(files, overwrite=overwrite, inputs=own, made_by=made_by)
    if gone:
        names = ", ".join(str(path) for path in gone)
        click.echo(f"removed, as an earlier run made it and this one does not: {names}", err=True)
