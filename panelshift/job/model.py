"""The job file's keys, their types and their defaults."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, model_validator

from ..cutting.allowance import MITRE_LIMIT
from ..cutting.plan import SHEET_WIDTH_MM
from ..pattern.joining import JOIN_TOLERANCE_MM
from ..units import to_mm


def _length(value: Any) -> Any:
    """A bare number is mm; text may carry a unit."""
    if isinstance(value, bool) or not isinstance(value, (int, float, str)):
        raise ValueError('must be a length: a number of mm, or text such as "0.5 in"')
    number = to_mm(value) if isinstance(value, str) else float(value)
    if not math.isfinite(number):
        raise ValueError("must be a finite length")
    return number


Length = Annotated[float, BeforeValidator(_length)]
NotNegative = Annotated[Length, Field(ge=0.0)]
Positive = Annotated[Length, Field(gt=0.0)]
ClassName = Literal["front", "side", "back"]


class _Table(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False)


class PatternTable(_Table):
    """``[pattern]``: the drawing and how to read it."""

    file: Path
    title: str = ""
    units: Literal["mm", "cm", "in"] = "mm"
    drafted_waist: Positive | None = None
    lacing_gap: NotNegative = 0.0
    scale: Annotated[float, Field(gt=0.0, le=1000.0)] = 1.0
    halves: Literal["auto", "half", "full"] = "auto"
    order: tuple[str, ...] = ()
    waistlines: tuple[str, ...] = ()
    join_tolerance: NotNegative = JOIN_TOLERANCE_MM


class AllowanceTable(_Table):
    """Seam allowances by kind of edge; a fabric's own table may name only some."""

    seam: NotNegative | None = None
    centre_front: NotNegative | None = None
    centre_back: NotNegative | None = None
    top: NotNegative | None = None
    bottom: NotNegative | None = None


class FabricTable(_Table):
    """``[[stack.fabric]]``: one layer, the first lying next to the body."""

    name: Annotated[str, Field(min_length=1, max_length=80)]
    thickness: Annotated[Length, Field(ge=0.0, le=50.0)]
    coverage: Annotated[float, Field(ge=0.0, le=1.0)] = 1.0
    loft: Annotated[float, Field(ge=0.0, le=10.0)] = 1.0
    panels: tuple[str, ...] | None = None
    cut_out: bool | None = None
    allowance: AllowanceTable = AllowanceTable()


class StackTable(_Table):
    """``[stack]``: the fabrics and which of them keeps the drafted size."""

    drafted_layer: str = ""
    fabric: Annotated[tuple[FabricTable, ...], Field(min_length=1)]


class PanelTable(_Table):
    """``[panel.NAME]``: what is particular to one panel."""

    class_: Annotated[ClassName | None, Field(alias="class")] = None
    joins: str = ""
    cut: Annotated[int, Field(ge=1, le=100)] | None = None
    mirrored: bool | None = None
    fold: Literal["front", "back"] | None = None
    corners: dict[
        Literal["front_top", "back_top", "back_bottom", "front_bottom"], tuple[float, float]
    ] = Field(default_factory=dict)


class FactorsTable(_Table):
    """``[body.factors]``: radius of curvature over the mean radius."""

    front: Annotated[float, Field(gt=0.0)] | None = None
    side: Annotated[float, Field(gt=0.0)] | None = None
    back: Annotated[float, Field(gt=0.0)] | None = None


Ratio = Annotated[float, Field(gt=0.1, lt=10.0)]


class BodyTable(_Table):
    """``[body]``: the body model and its parameters."""

    model: Literal["classes", "section", "former"] = "classes"
    factors: FactorsTable = FactorsTable()
    ratio: Ratio | dict[str, Ratio] | None = None
    exponent: Annotated[float, Field(gt=1.0, le=20.0)] | None = None
    girths: dict[str, Positive] = Field(default_factory=dict)
    diameter: Positive | None = None

    @model_validator(mode="after")
    def _fits_model(self) -> BodyTable:
        own = {
            "classes": {"factors", "girths"},
            "section": {"ratio", "exponent", "girths"},
            "former": {"diameter"},
        }[self.model]
        strange = sorted(self.model_fields_set - own - {"model"})
        if strange:
            raise ValueError(
                f"{', '.join(strange)} has no meaning for the body model {self.model!r}, "
                f"which takes {', '.join(sorted(own))}"
            )
        if self.model == "former" and self.diameter is None:
            raise ValueError("the body model 'former' needs a diameter")
        return self


class SheetTable(_Table):
    """``[sheet]``: how cutting files are laid out."""

    width: Annotated[Length, Field(ge=100.0, le=20_000.0)] = SHEET_WIDTH_MM
    mitre_limit: Annotated[float, Field(ge=1.0, le=20.0)] = MITRE_LIMIT


class JobFile(_Table):
    """A whole job file."""

    pattern: PatternTable
    stack: StackTable
    allowance: AllowanceTable = AllowanceTable()
    panel: dict[str, PanelTable] = Field(default_factory=dict)
    body: BodyTable = BodyTable()
    sheet: SheetTable = SheetTable()
