"""From the job's ``[body]`` to a body model."""

from __future__ import annotations

from collections.abc import Mapping

from ..body import (
    BodyModel,
    ClassModel,
    FormerModel,
    MeanFormModel,
    Measures,
    SectionModel,
    TapeModel,
    Tapes,
)
from ..body.widths import DEFAULT_FACTORS
from ..errors import JobError, PanelshiftError
from ..form.measured import read_section_file
from ..pattern.pattern import Pattern
from ..stack import Stack
from .checks import height_of, measures
from .model import BodyTable, TapeTable

BUST = "bust"
"""Name of the level at which the mean form's bust is put."""


def body_of(table: BodyTable, pattern: Pattern, stack: Stack, *, source: str = "") -> BodyModel:
    """Return the body model that a job names; `measure_faults` must have found nothing wrong.

    *stack*: its innermost layer lies next to a former. *source*: for messages.

    Raises `PanelshiftError` if the measures make no body, or the section file cannot be read.
    """
    girths = measures(table.girths, pattern) if table.girths else None
    try:
        if table.model == "form":
            assert table.file is not None  # the job file's own check
            return read_section_file(table.file).model(girths)
        if table.model == "tapes":
            return _tapes(table, pattern)
        if table.model == "mean":
            own = None if table.ratio is None else _ratios(table.ratio, pattern)
            return MeanFormModel(table.of, own, girths, _bust(table, pattern))
        if table.model == "former":
            assert table.diameter is not None  # the job file's own check
            return FormerModel(table.diameter, stack.fabrics[0].build)
        if table.model == "section":
            ratios = _ratios(1.4 if table.ratio is None else table.ratio, pattern)
            return SectionModel(ratios, table.exponent or 2.0, girths)
        given = table.factors.model_dump(exclude_none=True)
        return ClassModel({**DEFAULT_FACTORS, **given}, girths)
    except PanelshiftError as error:
        raise error.located(source=source) from None


def _tapes(table: BodyTable, pattern: Pattern) -> TapeModel:
    found: dict[float, Tapes] = {}
    for key, tapes in table.tapes.items():
        height = height_of(key, pattern)
        assert height is not None  # `measure_faults` asks
        if any(abs(height - other) < 1.0 for other in found):
            raise JobError(
                f"tapes are given twice {height:+.0f} mm from the waist",
                remedy="Write all tapes of a level into one table.",
                element=f"body.tapes.{key}",
            )
        found[height] = _taken(tapes)
    return TapeModel(
        found,
        table.of,
        table.error,
        upright=table.heights == "upright",
        bust_height=_bust(table, pattern),
    )


def _taken(tapes: TapeTable) -> Tapes:
    return Tapes(tapes.breadth, tapes.depth, tapes.girth, tapes.front_arc, tapes.stand_out)


def _bust(table: BodyTable, pattern: Pattern) -> float | None:
    if table.bust_height is not None:
        return table.bust_height
    return pattern.level_height(BUST) if BUST in pattern.level_names() else None


def _ratios(given: float | Mapping[str, float], pattern: Pattern) -> Measures:
    return measures(given, pattern) if isinstance(given, Mapping) else Measures.constant(given)
