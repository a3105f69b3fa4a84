"""The job file's keys, their types and their defaults."""

from __future__ import annotations

import datetime
from collections.abc import Mapping
from pathlib import Path
from typing import Annotated, Any, Final, Literal

from pydantic import (
    AfterValidator,
    BeforeValidator,
    Discriminator,
    Field,
    StrictBool,
    Tag,
    model_validator,
)

from ..cutting.allowance import MITRE_LIMIT, CornerShape
from ..cutting.bones import CLEARANCE_MM
from ..cutting.extras import ClothExtra
from ..cutting.plan import (
    ACCURACY_MM,
    DEFAULT_SPARE_MM,
    DEFAULT_WIDTH_MM,
    SHEET_WIDTH_MM,
)
from ..draft.draft import JOIN_TOLERANCE_MM, NetOutline
from ..stack.fabric import DARTS_FROM_MM, MOST_DART_MM
from ..stack.measured import LEAST_UNCERTAINTY_MM
from ..stack.stack import MOST_FABRICS
from .altering import AlterationTable
from .construction_keys import ConstructionTable
from .values import (
    BRANCHES,
    ClassName,
    ClothWidth,
    Count,
    Give,
    Height,
    KeyTable,
    Length,
    NotNegative,
    Number,
    OneLine,
    Positive,
    TakeUp,
    branch,
    in_one_line,
)


class AllowanceTable(KeyTable):
    """Seam allowances by kind of edge; a fabric's own table may name only some."""

    seam: NotNegative | None = None
    centre_front: NotNegative | None = None
    centre_back: NotNegative | None = None
    top: NotNegative | None = None
    bottom: NotNegative | None = None


AllowanceDrawn = Annotated[
    Annotated[NotNegative, Tag(BRANCHES[0])] | Annotated[AllowanceTable, Tag(BRANCHES[1])],
    Discriminator(branch),
]


class PatternTable(KeyTable):
    """``[pattern]``: the drawing and how to read it."""

    file: Path
    page: Annotated[Count, Field(ge=1)] | None = None
    title: OneLine = ""
    units: Literal["mm", "cm", "in"] = "mm"
    drafted_waist: Positive | None = None
    lacing_gap: NotNegative = 0.0
    gap_at: dict[str, NotNegative] = Field(default_factory=dict)
    scale: Annotated[Number, Field(gt=0.0, le=1000.0)] = 1.0
    halves: Literal["auto", "half", "full"] = "auto"
    order: tuple[str, ...] = ()
    waistlines: tuple[str, ...] = ()
    level: OneLine = ""
    leave_out: tuple[str, ...] = ()
    leave_layers: tuple[str, ...] = ()
    fitting_layer: OneLine = ""
    join_tolerance: NotNegative = JOIN_TOLERANCE_MM
    net_outline: NetOutline = "auto"
    size: OneLine = ""
    allowance_drawn: AllowanceDrawn | None = None


def _some_widths(widths: tuple[float, ...]) -> tuple[float, ...]:
    if not widths:
        raise ValueError("needs at least one width")
    return widths


Stretch = Annotated[Number, Field(gt=0.0, le=0.5)]


class StretchTable(KeyTable):
    """``stretch`` of a fabric by direction: along the warp, the weft, and half way between."""

    warp: Stretch
    weft: Stretch
    bias: Stretch


StretchOrTable = Annotated[
    Annotated[Stretch, Tag(BRANCHES[0])] | Annotated[StretchTable, Tag(BRANCHES[1])],
    Discriminator(branch),
]


class FabricTable(KeyTable):
    """``[[stack.fabric]]``: one layer, the first lying next to the body."""

    name: Annotated[str, Field(min_length=1, max_length=80), AfterValidator(in_one_line)]
    thickness: Annotated[Length, Field(ge=0.0, le=50.0)]
    coverage: Annotated[Number, Field(ge=0.0, le=1.0)] = 1.0
    loft: Annotated[Number, Field(ge=0.0, le=10.0)] = 1.0
    thickness_uncertainty: Annotated[Length, Field(ge=0.0, le=50.0)] | None = None
    loft_uncertainty: Annotated[Number, Field(ge=0.0, le=10.0)] = 0.0
    coverage_uncertainty: Annotated[Number, Field(ge=0.0, le=1.0)] = 0.0
    cloth: OneLine = ""
    panels: tuple[str, ...] | None = None
    cut_out: StrictBool | None = None
    allowance: AllowanceTable = AllowanceTable.model_construct()
    cloth_widths: Annotated[tuple[ClothWidth, ...], AfterValidator(_some_widths)] = (
        DEFAULT_WIDTH_MM,
    )
    nap: StrictBool = False
    folded: StrictBool = False
    give: Annotated[Number, Field(ge=0.0, le=0.5)] = 0.0
    shrinkage: Annotated[Number, Field(ge=0.0, lt=0.5)] = 0.0
    shrinkage_width: Annotated[Number, Field(ge=0.0, lt=0.5)] = 0.0
    spare: Annotated[Length, Field(ge=0.0, le=2_000.0)] = DEFAULT_SPARE_MM
    from_: Annotated[Height | None, Field(alias="from")] = None
    to: Height | None = None
    thickness_at: dict[str, Annotated[Length, Field(ge=0.0, le=50.0)]] = Field(default_factory=dict)
    coverage_at: dict[str, Annotated[Number, Field(ge=0.0, le=1.0)]] = Field(default_factory=dict)
    stretch: StretchOrTable | None = None
    take_up: TakeUp = 0.0
    take_up_length: TakeUp = 0.0
    take_up_uncertainty: TakeUp = 0.0
    reduced: TakeUp = 0.0
    reduced_length: TakeUp = 0.0
    cut_in_one: tuple[tuple[OneLine, ...], ...] = ()
    darts_from: Annotated[Length, Field(ge=0.0, le=MOST_DART_MM)] = DARTS_FROM_MM
    split_at: tuple[Annotated[OneLine, Field(min_length=1)], ...] = ()


def _some(fabrics: tuple[FabricTable, ...]) -> tuple[FabricTable, ...]:
    # Field(min_length=1) would count only the fabrics without faults of their own.
    if not fabrics:
        raise ValueError("needs at least one fabric")
    if len(fabrics) > MOST_FABRICS:
        raise ValueError(f"has {len(fabrics)} fabrics, more than {MOST_FABRICS}")
    return fabrics


class MeasuredTable(KeyTable):
    """``[[stack.measured]]``: a distance between the middles of two layers, from a swatch."""

    inner: str
    outer: str
    distance: Annotated[Length, Field(gt=0.0, le=50.0)]
    uncertainty: Annotated[Length, Field(ge=LEAST_UNCERTAINTY_MM, le=50.0)]


class StackTable(KeyTable):
    """``[stack]``: the fabrics and which of them keeps the drafted size."""

    drafted_layer: str = ""
    swatches: Path | None = None
    measured: tuple[MeasuredTable, ...] = ()
    fabric: Annotated[tuple[FabricTable, ...], AfterValidator(_some)]


class PanelTable(KeyTable):
    """``[panel.NAME]``: what is particular to one panel."""

    class_: Annotated[ClassName | None, Field(alias="class")] = None
    joins: str = ""
    cut: Annotated[Count, Field(ge=1, le=100)] | None = None
    mirrored: StrictBool | None = None
    fold: Literal["front", "back"] | None = None
    corners: dict[
        Literal["front_top", "back_top", "back_bottom", "front_bottom"],
        tuple[Number, Number],
    ] = Field(default_factory=dict)


class StandsOnTable(KeyTable):
    """``[[stands_on]]``: two pieces of one panel, sewn along a seam that runs across."""

    upper: Annotated[OneLine, Field(min_length=1)]
    lower: Annotated[OneLine, Field(min_length=1)]


class GoreTable(KeyTable):
    """``[[gore]]``: a piece that ends in a point, set in a seam between two panels or in a slit."""

    panel: Annotated[OneLine, Field(min_length=1)]
    between: tuple[OneLine, OneLine] | None = None
    slit: OneLine = ""
    tip: OneLine = ""
    opens_at: Literal["", "bottom", "top"] = ""


class FactorsTable(KeyTable):
    """``[body.factors]``: radius of curvature over the mean radius."""

    front: Annotated[Number, Field(gt=0.0)] | None = None
    side: Annotated[Number, Field(gt=0.0)] | None = None
    back: Annotated[Number, Field(gt=0.0)] | None = None


Ratio = Annotated[Number, Field(gt=0.1, lt=10.0)]

RatioOrTable = Annotated[
    Annotated[Ratio, Tag(BRANCHES[0])] | Annotated[dict[str, Ratio], Tag(BRANCHES[1])],
    Discriminator(branch),
]


class TapeTable(KeyTable):
    """``[body.tapes.LEVEL]``: what was measured on the body at a level."""

    breadth: Positive | None = None
    depth: Positive | None = None
    girth: Positive | None = None
    front_arc: Positive | None = None
    stand_out: Length | None = None

    @model_validator(mode="after")
    def _some_tape(self) -> TapeTable:
        if not self.model_fields_set:
            raise ValueError(f"needs one of {', '.join(TapeTable.model_fields)}")
        return self


KEYS_OF_BODY: Final[Mapping[str, frozenset[str]]] = {
    "classes": frozenset({"of", "factors", "girths"}),
    "section": frozenset({"ratio", "exponent", "girths"}),
    "mean": frozenset({"of", "ratio", "bust_height", "girths"}),
    "tapes": frozenset({"of", "tapes", "error", "heights", "bust_height"}),
    "form": frozenset({"file", "girths"}),
    "former": frozenset({"diameter"}),
}
"""What each body model takes, beside its name."""


class BodyTable(KeyTable):
    """``[body]``: the body model and its parameters."""

    model: Literal["mean", "tapes", "form", "classes", "section", "former"] = "mean"
    of: Literal["women", "men", "either"] = "either"
    bust_height: Annotated[Length, Field(ge=20.0, le=600.0)] | None = None
    tapes: dict[str, TapeTable] = Field(default_factory=dict)
    error: Annotated[Length, Field(ge=0.1, le=50.0)] = 3.0
    heights: Literal["panel", "upright"] = "panel"
    file: Path | None = None
    factors: FactorsTable = FactorsTable.model_construct()
    ratio: RatioOrTable | None = None
    exponent: Annotated[Number, Field(ge=1.1, le=20.0)] | None = None
    girths: dict[str, Positive] = Field(default_factory=dict)
    diameter: Positive | None = None

    @model_validator(mode="after")
    def _fits_model(self) -> BodyTable:
        own = KEYS_OF_BODY[self.model]
        strange = self.model_fields_set - own - {"model"}
        if strange:
            unsaid = "" if "model" in self.model_fields_set else ", taken as none is named"
            others = [repr(name) for name, keys in KEYS_OF_BODY.items() if strange <= keys]
            raise ValueError(
                f"{', '.join(sorted(strange))} has no meaning for the body model {self.model!r}"
                f"{unsaid}, which takes {', '.join(sorted(own))}"
                + (f"; with it name the model {' or '.join(others)}" if others else "")
            )
        if self.model == "former" and self.diameter is None:
            raise ValueError("the body model 'former' needs a diameter")
        if self.model == "form" and self.file is None:
            raise ValueError(
                "the body model 'form' needs a file, as panelshift form writes it; "
                "with nothing measured take the model 'mean'"
            )
        if self.model == "tapes" and not self.tapes:
            raise ValueError(
                "the body model 'tapes' needs a table of tapes, such as [body.tapes.waist]"
            )
        return self


class SheetTable(KeyTable):
    """``[sheet]``: how cutting files are laid out."""

    width: Annotated[Length, Field(ge=100.0, le=20_000.0)] = SHEET_WIDTH_MM
    mitre_limit: Annotated[Number, Field(ge=1.0, le=20.0)] = MITRE_LIMIT
    corners: CornerShape = "mitred"
    notches: Literal["across", "edge"] = "across"
    mates: Literal["single and double", "numbered"] = "single and double"
    inches: Literal["sixteenths", "decimals"] = "sixteenths"
    client: OneLine = ""
    revision: OneLine = ""
    accuracy: Annotated[Length, Field(ge=0.0, le=20.0)] = ACCURACY_MM
    strip: StrictBool = False


def _written_day(value: Any) -> Any:
    """A day as TOML has it, or as anybody writes it."""
    return value.isoformat() if isinstance(value, datetime.date) else value


class RecordTable(KeyTable):
    """``[record]``: the work's own record, which nothing shows that is not named in `on`."""

    client: OneLine = ""
    project: OneLine = ""
    revision: OneLine = ""
    date: Annotated[OneLine, BeforeValidator(_written_day)] = ""
    notes: tuple[OneLine, ...] = ()
    on: tuple[Literal["sheets", "fit sheet"], ...] = ()

    def lines(self, where: Literal["sheets", "fit sheet"]) -> tuple[str, ...]:
        """What stands there: nothing unless the maker asks for it."""
        if where not in self.on:
            return ()
        said = [
            f"{key}: {value}"
            for key in ("client", "project", "revision", "date")
            if (value := getattr(self, key))
        ]
        return (*([", ".join(said)] if said else []), *self.notes)


def _rising(pair: tuple[float, float]) -> tuple[float, float]:
    if pair[0] > pair[1]:
        raise ValueError("must begin with the smaller number")
    return pair


class FitTable(KeyTable):
    """``[fit]``: what the fit sheet takes into account."""

    seam_tolerance: NotNegative = 0.5
    busk: NotNegative = 0.0
    seasoning: Annotated[tuple[Give, Give], AfterValidator(_rising)] = (0.0, 0.0)
    former: Positive | None = None
    needs: StrictBool = True


class ExtrasTable(KeyTable):
    """``[extras]``: what is cut beside the panels; nothing that is not asked for."""

    binding: NotNegative = 0.0
    waist_tape: NotNegative = 0.0
    casing: NotNegative = 0.0
    front_facing: NotNegative = 0.0
    back_facing: NotNegative = 0.0
    top_facing: NotNegative = 0.0
    bottom_facing: NotNegative = 0.0
    modesty: NotNegative = 0.0
    eyelet_spacing: NotNegative = 0.0
    eyelet_inset: NotNegative = 12.0
    bones: OneLine = "bone"
    bone_clearance: NotNegative = CLEARANCE_MM
    bone_lengths: tuple[Positive, ...] = ()
    fabric: dict[ClothExtra, OneLine] = Field(default_factory=dict)


class JobFile(KeyTable):
    """A whole job file."""

    pattern: PatternTable
    stack: StackTable
    alteration: tuple[AlterationTable, ...] = ()
    allowance: AllowanceTable = AllowanceTable.model_construct()
    panel: dict[str, PanelTable] = Field(default_factory=dict)
    gore: tuple[GoreTable, ...] = ()
    stands_on: tuple[StandsOnTable, ...] = ()
    body: BodyTable = BodyTable.model_construct()
    construction: ConstructionTable | None = None
    sheet: SheetTable = SheetTable.model_construct()
    record: RecordTable = RecordTable.model_construct()
    fit: FitTable = FitTable.model_construct()
    extras: ExtrasTable = ExtrasTable.model_construct()

    @property
    def altered(self) -> bool:
        """Whether the draft is altered before anything is made of it."""
        return bool(self.alteration or self.pattern.fitting_layer)

    def sources(self) -> list[Path]:
        """Files that the job is made from, beside the job file itself."""
        made = () if self.construction is None else self.construction.swatches
        named = (self.pattern.file, self.stack.swatches, self.body.file, *made)
        return [path for path in named if path is not None]
