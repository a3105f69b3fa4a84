"""What all commands share: printing, output directories, and the option to overwrite."""

from __future__ import annotations

import contextlib
import io
import os
import sys
from collections.abc import Callable, Iterable, Iterator, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, TextIO, cast

import click

from ..errors import OutputError, PanelshiftError, UnitError
from ..files.writing import output_error

if TYPE_CHECKING:
    from click._termui_impl import ProgressBar

    from ..printing import PageOptions


def say(text: str, *, err: bool = False) -> None:
    """Print text, with control characters from names and paths made visible.

    A name in a drawing could otherwise move the cursor or recolour the terminal. Letters that the
    terminal does not know are shown by their codes.

    Raises `OutputError` if standard output is full or broken. Where standard error is, there is
    nobody to tell, and the exit code alone says what came of it.
    """
    import unicodedata

    shown = (
        ascii(ch)[1:-1] if ch != "\n" and unicodedata.category(ch) in ("Cc", "Cs") else ch
        for ch in text
    )
    coding = (sys.stderr if err else sys.stdout).encoding or "utf-8"
    known = "".join(shown).encode(coding, "backslashreplace").decode(coding)
    if err:
        with contextlib.suppress(OSError):
            click.echo(known, err=True)
        return
    with printing():
        click.echo(known)


@contextlib.contextmanager
def printing() -> Iterator[None]:
    """Tell that standard output is full or broken, where something is printed.

    Raises `OutputError`.
    """
    try:
        yield
    except BrokenPipeError:
        # Whoever reads has enough; click ends quietly.
        raise
    except OSError as error:
        if isinstance(error, PanelshiftError):
            raise
        raise output_error(error, Path("standard output"), "cannot print") from error


def open_streams() -> None:
    """Give the process the standard streams that it was started without.

    The first files that it opens would be taken for them otherwise. What goes to a standard output
    that is not there is refused as by a full disk; standard input holds nothing.
    """
    for name, flags in (("stdin", os.O_RDONLY), ("stdout", os.O_RDONLY), ("stderr", os.O_WRONLY)):
        if getattr(sys, name) is None:
            raw = os.fdopen(os.open(os.devnull, flags), "rb" if name == "stdin" else "wb", 0)
            setattr(sys, name, io.TextIOWrapper(raw, "utf-8", write_through=True))


_NOBODY_HEARS: Final = (OSError, ValueError)
"""A stream that is full, and one that is closed."""


class _Unheard(io.TextIOBase):
    """Standard error, where it does not matter whether anybody hears."""

    def isatty(self) -> bool:
        return sys.stderr.isatty()

    def write(self, text: str) -> int:
        with contextlib.suppress(*_NOBODY_HEARS):
            sys.stderr.write(text)
        return len(text)

    def flush(self) -> None:
        with contextlib.suppress(*_NOBODY_HEARS):
            sys.stderr.flush()


def progress_bar(label: str, length: int) -> ProgressBar[int]:
    """Return a bar on standard error; what it tells the progress of goes on where that is full."""
    return click.progressbar(length=length, label=label, file=cast(TextIO, _Unheard()))


def check_directory(out: Path) -> None:
    """Refuse an output directory that is a file."""
    # os.path answers no, where pathlib raises, for a path that no file can have.
    if os.path.exists(out) and not os.path.isdir(out):
        raise OutputError(
            "is a file, not a directory", remedy="Name a directory for the files.", source=str(out)
        )


class NamedPath(click.Path):
    """A directory or file that has a name, where ``-`` would be made as one that is called so."""

    def __init__(self) -> None:
        super().__init__(path_type=Path)

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        """Return the path; refuse none and ``-``."""
        if os.fspath(value) == "":
            self.fail("it is empty, and needs a name.", param, ctx)
        if os.fspath(value) == "-":
            self.fail("not one file goes out that could go to standard output.", param, ctx)
        return super().convert(value, param, ctx)


def out_option(what: str) -> Callable[[Any], Any]:
    """Return the options --out DIR and --overwrite of a command that writes files."""

    def add(command: Any) -> Any:
        command = click.option(
            "--overwrite",
            is_flag=True,
            help="Replace files that panelshift did not write, or that were edited since.",
        )(command)
        return click.option(
            "--out", type=NamedPath(), required=True, help=f"Directory for {what}."
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
        say(f"removed, as an earlier run made it and this one does not: {names}", err=True)
