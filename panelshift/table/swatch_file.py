"""Readings of pinned swatches as the page keeps them: a CSV file beside the job file."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from dataclasses import replace
from typing import Final

from ..errors import JobError, SwatchError
from ..swatch import SwatchReading
from ..swatch.recorded import parse_csv
from ..units import to_mm
from .edits import Form, field
from .workspace import HEADINGS

MOST_READINGS: Final = 200


def readings_of(text: str | None, source: str = "") -> tuple[SwatchReading, ...]:
    """Readings of a file that this page keeps; none if it is empty.

    Raises `SwatchError` for see `panelshift.swatch.recorded.parse_csv`.
    """
    if text is None or not text.partition("\n")[2].strip():
        return ()
    return parse_csv(text, source=source)


def with_reading(
    readings: Sequence[SwatchReading], form: Form, units: str
) -> tuple[SwatchReading, ...]:
    """Return readings with one more.

    Raises `PanelshiftError` if a number cannot be read, or cannot be right.
    """
    if len(readings) >= MOST_READINGS:
        raise SwatchError(
            f"there are {MOST_READINGS} readings already", remedy="Take old ones out first."
        )
    former, length, overhang = (
        to_mm(field(form, name), bare=units) for name in ("former", "length", "overhang")
    )
    reading = SwatchReading(field(form, "inner"), field(form, "outer"), former, length, overhang)
    return (*readings, reading)


def without_reading(readings: Sequence[SwatchReading], form: Form) -> tuple[SwatchReading, ...]:
    """Return readings without the one of a number.

    Raises `JobError` if there is none.
    """
    number = field(form, "place")
    if not (number.isascii() and number.isdigit() and int(number[:6]) < len(readings)):
        raise JobError("there is no such reading any more", remedy="Look at the readings again.")
    return tuple(item for k, item in enumerate(readings) if k != int(number))


def following(
    readings: Sequence[SwatchReading], kind: str, form: Form
) -> tuple[SwatchReading, ...]:
    """Return readings after an edit of the layers: renamed with them, gone with them."""
    name = form.get("fabric", "")
    if kind == "rename":
        new = field(form, "value")
        return tuple(
            replace(
                item,
                inner=new if item.inner == name else item.inner,
                outer=new if item.outer == name else item.outer,
            )
            for item in readings
        )
    if kind == "remove":
        return tuple(item for item in readings if name not in (item.inner, item.outer))
    return tuple(readings)


def readings_text(readings: Sequence[SwatchReading]) -> str:
    """Return readings as the file that keeps them."""
    stream = io.StringIO()
    writer = csv.writer(stream, lineterminator="\n")
    writer.writerow(HEADINGS)
    for item in readings:
        lengths = (item.former, item.length, item.overhang)
        writer.writerow([item.inner, item.outer, *(f"{value:.6g}" for value in lengths)])
    return stream.getvalue()
