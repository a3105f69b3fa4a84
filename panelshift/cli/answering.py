"""What a command answers: words for people or one object for programs, and an exit code."""

from __future__ import annotations

import contextlib
import json
import sys
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, Literal, NoReturn

import click

from .. import __version__
from ..errors import PanelshiftError
from ..files.writing import output_error
from .common import printing, say, write

if TYPE_CHECKING:
    from ..job import JobFile
    from ..pattern.drawing import Remark

STANDARD: Final = Path("-")
"""Standard input or output, where a file may be named."""

MOST_BYTES: Final = 32 * 1024 * 1024
"""Taken from standard input: readers refuse more themselves."""

ExitCode = Literal[0, 1, 2]
"""All is well; something is to be mended or chosen, or some jobs failed; an error of the input."""


@dataclass(frozen=True)
class SaidThing:
    """One thing to mend or to look at: its code (docs/codes.md) or none, and what it is about."""

    words: str
    code: str = ""
    element: str = ""
    seam: str = ""

    @classmethod
    def of(cls, remarks: Sequence[Remark]) -> list[SaidThing]:
        """The warnings among remarks on a drawing or a job."""
        found = (remark for remark in remarks if remark.kind == "warning")
        return [cls(r.words, r.code, next(iter(r.elements), "")) for r in found]


@dataclass(frozen=True)
class Reply:
    """What a command came to.

    *words*: the report for people; *data*: the same for programs, lengths in mm. Only the one that
    is asked for is made. *files*: written. *piped*: content that goes to standard output. *error*:
    why it failed after all, once there is something to say.
    """

    words: Callable[[], str]
    data: Callable[[], Mapping[str, Any] | None]
    files: Sequence[Path] = ()
    look_at: Sequence[SaidThing] = ()
    must_be_mended: Sequence[SaidThing] = ()
    code: ExitCode = 0
    piped: bytes | None = None
    error: PanelshiftError | None = None


class InPath(click.Path):
    """A file to read; ``-`` is standard input."""

    def __init__(self) -> None:
        super().__init__(path_type=Path, allow_dash=True)


class OutPath(click.Path):
    """A file to write; ``-`` is standard output, and what is told then goes to standard error."""

    def __init__(self) -> None:
        super().__init__(path_type=Path, allow_dash=True)


class AnsweringCommand(click.Command):
    """A command whose function returns an `Reply`, which ``--json`` prints as one object."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        words = "Print one JSON object, lengths in mm: see docs/json.md."
        self.params.append(
            click.Option(["--json", "as_json"], is_flag=True, expose_value=False, help=words)
        )

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        """Read what the command is given, or print its help."""
        with printing():
            rest = super().parse_args(ctx, args)
        piped = [
            (param.name or "").upper() if isinstance(param, click.Argument) else param.opts[0]
            for param in self.params
            if isinstance(param.type, InPath) and ctx.params.get(param.name or "") == STANDARD
        ]
        if len(piped) > 1:
            ctx.fail(f"Only one of {' and '.join(piped)} comes from standard input.")
        return rest

    def invoke(self, ctx: click.Context) -> NoReturn:
        """Carry the command out, tell what came of it, and exit."""
        # What goes to standard output must not be mixed with what is told.
        piped = any(
            isinstance(param.type, OutPath) and ctx.params.get(param.name or "") == STANDARD
            for param in self.params
        )
        try:
            answer: Reply = super().invoke(ctx)
        except PanelshiftError as error:
            refuse(ctx, error, err=piped)
        if asks_for_json(ctx):
            say(envelope(self.name, answer), err=piped)
        else:
            say(answer.words(), err=piped)
            if answer.error is not None:
                refuse(ctx, answer.error)
        if answer.piped is not None:
            _put_out(answer.piped)
        ctx.exit(answer.code if answer.error is None else 2)


def asks_for_json(ctx: click.Context) -> bool:
    """Whether the answer is to be an object; known before the command's own options are read."""
    return bool(ctx.find_root().obj)


def refuse(ctx: click.Context, error: PanelshiftError, *, err: bool = False) -> NoReturn:
    """Tell an error and exit with 2."""
    if asks_for_json(ctx):
        nothing = Reply(str, lambda: None, error=error)
        say(envelope(ctx.info_name if ctx.parent else None, nothing), err=err)
    else:
        say(f"panelshift: {error}", err=True)
    ctx.exit(2)


def envelope(command: str | None, answer: Reply) -> str:
    """Return the one object that ``--json`` prints; docs/json.md describes it."""
    error = answer.error
    whole = {
        "panelshift": __version__,
        "command": command,
        "exit": answer.code if error is None else 2,
        "error": error
        and {
            "kind": type(error).__name__,
            "problem": error.problem,
            "remedy": error.remedy,
            "source": error.source,
            "element": error.element,
            "at": error.at,
        },
        "must_be_mended": [asdict(said) for said in answer.must_be_mended],
        "look_at": [asdict(said) for said in answer.look_at],
        "files": [str(path) for path in answer.files],
        "data": answer.data(),
    }
    # ASCII alone: no terminal is without one of its letters, and any reader undoes it.
    return json.dumps(whole, indent=2, allow_nan=False)


def _put_out(content: bytes) -> None:
    try:
        stream = sys.stdout.buffer
        stream.write(content)
        stream.flush()
    except BrokenPipeError:
        raise
    except OSError as error:
        raise output_error(error, Path("standard output"), "cannot write") from error


def write_or_pipe(
    files: Mapping[Path, bytes], *, overwrite: bool, inputs: Iterable[Path] = ()
) -> tuple[list[Path], bytes | None]:
    """Write a command's files but for one named ``-``; return their paths, and that one."""
    there = {path: content for path, content in files.items() if path != STANDARD}
    write(there, overwrite=overwrite, inputs=inputs)
    return list(there), files.get(STANDARD)


def called(path: Path) -> str:
    """What a file of the command line is called in messages."""
    return "standard input" if path == STANDARD else str(path)


@contextlib.contextmanager
def told_of(path: Path) -> Iterator[None]:
    """Name the job in an error about something that was made of it."""
    try:
        yield
    except PanelshiftError as error:
        raise error.located(source=called(path)) from error.__cause__


def input_bytes(most: int = MOST_BYTES) -> bytes:
    """Return what comes in by standard input, or one byte more than the most that is wanted."""
    try:
        return sys.stdin.buffer.read(most + 1)
    except OSError as error:
        raise output_error(error, Path("standard input"), "cannot read") from error


def read_job_at(path: Path) -> JobFile:
    """Read a job file; paths of one from standard input start in the working directory."""
    from ..job import read_job

    return _piped_job(input_bytes()) if path == STANDARD else read_job(path)


def job_or_drawing(path: Path) -> JobFile | Path | bytes:
    """Return the job, or else the drawing as its path or content, that a file is."""
    from ..job import read_job

    if path != STANDARD:
        return read_job(path) if path.suffix.lower() == ".toml" else path
    from ..sources.drawings import is_drawing

    content = input_bytes()
    return content if is_drawing(content) else _piped_job(content)


def drawing_option(command: Callable[..., Reply]) -> Callable[..., Reply]:
    """Add the option --drawing to a command of a job."""
    words = "What stands for the drawing that the job names, such as one that is not saved yet."
    return click.option("--drawing", type=InPath(), help=words)(command)


def read_drawn(path: Path) -> bytes:
    """Return what a drawing's file holds; its reader says what is wrong with it."""
    from ..errors import SvgError
    from ..files.contents import read_bounded

    if path == STANDARD:
        return input_bytes()
    too_large = ("the file is too large", "Save the pattern alone, without pictures.")
    check = "Check the name and the folder."
    return read_bounded(path, MOST_BYTES, SvgError, check=check, too_large=too_large)


def _piped_job(content: bytes) -> JobFile:
    from ..job.toml import job_data, parse_job

    source = called(STANDARD)
    return parse_job(job_data(content, source=source), source=source, folder=Path())
