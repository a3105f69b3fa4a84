"""The job file's ``[construction]``: its keys, and what they mean in the library's words."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Literal

from pydantic import Field, StrictBool

from ..construction.edges import EdgeFinish, roll
from ..construction.sewing import Bones, Construction, DrawnAs, Held, SeamKind, Sewn, Shell, Strip
from ..errors import PanelshiftError
from ..pattern.pattern import EdgeKind
from ..stack import Stack
from .values import Count, KeyTable, Length, NotNegative, Number, Positive

Thin = Annotated[Length, Field(ge=0.0, le=10.0)]


class ShellTable(KeyTable):
    """``[[construction.shell]]``: cloths that are sewn as one."""

    layers: tuple[str, ...]
    seams: SeamKind = "open"
    allowance: NotNegative | None = None
    graded: tuple[NotNegative, ...] = ()
    lie: Literal["inside", "outside"] = "inside"
    held: Held = "edges"


class BonesTable(KeyTable):
    """``[[construction.bones]]``: bones of one kind."""

    on: str
    width: Positive
    thickness: Positive
    bends: StrictBool = False
    drawn_as: DrawnAs = ""
    per_panel: dict[str, Count] | None = None
    channel: Positive | None = None
    casing: Thin = 0.0
    stitched: tuple[str, ...] = ()
    standing: NotNegative | None = None


class StripTable(KeyTable):
    """``[[construction.strip]]``: a facing or stay along an edge."""

    on: str = ""
    thickness: Thin
    width: Positive
    edge: Literal["centre_front", "centre_back", "seams", "top", "bottom"]


class ConstructionTable(KeyTable):
    """``[construction]``: how the corset is sewn."""

    body: Literal["soft", "stiff"] = "soft"
    strength_layer: str = ""
    lacing: Annotated[Number, Field(ge=0.1, le=20.0)] | None = None
    top: EdgeFinish = "flat"
    bottom: EdgeFinish = "flat"
    fold_factor: Annotated[Number, Field(ge=0.0, le=1.0)] | None = None
    shell: tuple[ShellTable, ...] = ()
    bones: tuple[BonesTable, ...] = ()
    strip: tuple[StripTable, ...] = ()


def sewn_of(
    table: ConstructionTable,
    stack: Stack,
    allowance: float,
    stretch: Mapping[str, float],
    *,
    source: str = "",
) -> Sewn:
    """How a job says that its stack is sewn.

    *allowance*: of seams where nothing else is said. *stretch*: of layers, by name.

    Raises `ConstructionError` if it contradicts itself or the stack.
    """
    try:
        shells = [
            Shell(
                item.layers,
                item.seams,
                allowance if item.allowance is None else item.allowance,
                item.graded,
                item.lie,
                item.held,
            )
            for item in table.shell
        ]
        bones = [Bones(**dict(item)) for item in table.bones]
        strips = [Strip(**dict(item)) for item in table.strip]
        whole = Construction(
            shells,
            bones,
            strips,
            table.strength_layer,
            table.body,
            table.lacing,
            stretch,
            table.fold_factor,
        )
        return Sewn(whole, stack, allowance)
    except PanelshiftError as error:
        raise error.located(source=source) from None


def edge_rolls(table: ConstructionTable, stack: Stack, layer: str) -> dict[EdgeKind, float]:
    """What a layer needs besides to turn over the top and the bottom edge, in mm.

    Its distance is from the innermost layer that is cut, round which all others turn.
    """
    cut = [place for place, fabric in enumerate(stack.fabrics) if fabric.cut_out]
    place = stack.names.index(layer)
    if place not in cut:
        return {}
    apart = stack.surfaces().distance(cut[0], place)
    rolls: dict[EdgeKind, float] = {
        "top": roll(table.top, apart),
        "bottom": roll(table.bottom, apart),
    }
    return {edge: value for edge, value in rolls.items() if value > 0.0}
