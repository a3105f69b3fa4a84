"""What the fuzzer calls: one function for each way in, and what must hold for all of them.

A function takes any bytes and may raise `BrokenError` (a promise is broken) or let an exception
through that is no `PanelshiftError`: either is a crasher. Nothing here knows the fuzzer, so
that the tests replay cases without it.
"""

from __future__ import annotations

import contextlib
import math
import re
import tempfile
import time
import warnings
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Final

import numpy as np

from panelshift.draft import assemble
from panelshift.errors import PanelshiftError
from panelshift.job import cut, read_job, resolve
from panelshift.pattern.drawing import Drawing
from panelshift.pattern.pattern import Pattern
from panelshift.sources.svg import read_svg
from tests.support.svg_grammar import document

LONGEST_S: Final = 2.0
"""A run over small inputs that takes more processor time than this is a hang."""

BAD_NUMBER = re.compile(rb"(?i)(?<![\w#-])[-+]?(nan|inf(inity)?)(?![\w-])")


class BrokenError(AssertionError):
    """A promise that the input made us break."""


def svg(data: bytes) -> None:
    """Bytes as an SVG file: read, then assembled."""
    with _watched():
        _read_and_assemble(data)


def grammar(data: bytes) -> None:
    """Bytes as choices of the SVG grammar: read, then assembled."""
    with _watched():
        _read_and_assemble(document(data))


def job(data: bytes) -> None:
    """Bytes as a job file."""
    with _watched(), _folder() as folder:
        path = folder / "job.toml"
        path.write_bytes(data)
        read_job(path)


def whole(data: bytes) -> None:
    """A job file and a drawing, parted by a line of dashes, cut in memory."""
    text, _, drawing = data.partition(b"\n-----\n")
    with _watched(), _folder() as folder:
        path = folder / "job.toml"
        path.write_bytes(text)
        found = read_job(path)
        if found.pattern.file.name != "draft.svg" or found.pattern.file.parent != folder:
            # No input may make a test read any other file.
            return
        found.pattern.file.write_bytes(drawing or document(text))
        result = cut(resolve(found))
        for name, content in result.files.items():
            if BAD_NUMBER.search(re.sub(rb"<text.*?</text>|<title.*?</title>", b"", content)):
                raise BrokenError(f"{name} holds a number that is not finite")
            if Path(name).name != name or name.startswith("."):
                raise BrokenError(f"{name!r} is no plain file name")


TARGETS: Final[dict[str, Callable[[bytes], None]]] = {
    "svg": svg,
    "grammar": grammar,
    "job": job,
    "cut": whole,
}
"""By name, as the command line and the folders of cases have it."""


def _read_and_assemble(text: bytes) -> None:
    drawing = read_svg(text, name="fuzz.svg")
    _check_drawing(drawing)
    _check_pattern(assemble(drawing))


def _check_drawing(drawing: Drawing) -> None:
    idents = [shape.ident for shape in drawing.shapes]
    if len(set(idents)) != len(idents):
        raise BrokenError("two shapes have one ident")
    for shape in drawing.shapes:
        if not np.isfinite(shape.curve.control).all():
            raise BrokenError(f"{shape.ident} has a coordinate that is not finite")
    for text in drawing.texts:
        if not (np.isfinite(text.anchor).all() and math.isfinite(text.size + text.angle)):
            raise BrokenError(f"{text.ident} has a place that is not finite")


def _check_pattern(pattern: Pattern) -> None:
    for panel in pattern.panels:
        numbers = [panel.waist.height, panel.waist_width]
        numbers += [level.height for level in panel.levels]
        for part in (panel.outline, *(mark.curve for mark in panel.marks)):
            numbers.append(float(np.abs(part.control).max()))
        if not np.isfinite(numbers).all():
            raise BrokenError(f"panel {panel.name} has a number that is not finite")
    names = [panel.name for panel in pattern.panels]
    if len(set(names)) != len(names):
        raise BrokenError("two panels have one name")
    if not all(math.isfinite(walked.difference) for walked in pattern.walk()):
        raise BrokenError("a seam has a length that is not finite")


@contextlib.contextmanager
def _watched() -> Iterator[None]:
    """Let the errors through that a user may see; count time; make warnings errors."""
    begin = time.process_time()
    with warnings.catch_warnings(), contextlib.suppress(PanelshiftError):
        warnings.simplefilter("error")
        yield
    spent = time.process_time() - begin
    if spent > LONGEST_S:
        raise BrokenError(f"took {spent:.1f} s of processor time")


@contextlib.contextmanager
def _folder() -> Iterator[Path]:
    with tempfile.TemporaryDirectory(prefix="fuzz-") as folder:
        yield Path(folder)
