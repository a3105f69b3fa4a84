"""For those who roll pin: formers that fit, the step to expect, and what one former does."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from ..shift import LayerPattern, Shifted
from ..shift.layers import anchors
from ..units import CLOTH_MM, cloth_length
from .girths import SKIN, surface_distances


@dataclass(frozen=True)
class CommonObject:
    """Something at home with a round cross-section, and straight for a length; all in mm."""

    name: str
    smallest: float
    largest: float
    long: float
    source: str = "from memory"


COMMON_OBJECTS: Final[tuple[CommonObject, ...]] = (
    CommonObject("broom handle", 22.0, 30.0, 1000.0),
    CommonObject("cardboard tube of kitchen paper", 38.0, 45.0, 230.0),
    CommonObject("rolling pin", 45.0, 65.0, 230.0),
    CommonObject("drinks can", 64.0, 67.0, 110.0),
    CommonObject("wine bottle", 72.0, 80.0, 180.0),
    CommonObject("jam jar", 68.0, 90.0, 100.0),
    CommonObject(
        "adult's calf",
        101.0,
        131.0,
        150.0,
        "girths of 316 to 410 mm, 5th to 95th percentile of 507 adults: Heinz, Peterson, "
        "Johnson, Kerk, J. Statistics Education 11(2), 2003",
    ),
    CommonObject("drain pipe", 108.0, 112.0, 500.0),
    CommonObject("rolled exercise mat", 110.0, 150.0, 600.0),
    CommonObject("foam roller", 140.0, 155.0, 330.0),
    CommonObject("tin of paint", 150.0, 175.0, 160.0),
    CommonObject(
        "adult's thigh",
        161.0,
        208.0,
        250.0,
        "girths of 507 to 652 mm, 5th to 95th percentile of 507 adults: Heinz, Peterson, "
        "Johnson, Kerk, J. Statistics Education 11(2), 2003",
    ),
    CommonObject("bolster cushion", 180.0, 230.0, 450.0),
    CommonObject("tall saucepan", 200.0, 260.0, 180.0),
    CommonObject("waste-paper bin", 230.0, 290.0, 280.0),
    CommonObject("household bucket", 270.0, 310.0, 230.0),
)
"""Only what a panel, or the part of it at a level, can lie on: a plate is round, but 20 mm high."""


FLAT_RAD: Final = 1e-3
"""A panel that turns less would need a former of a hundred metres: a table will do."""


@dataclass(frozen=True)
class RollingStep:
    """How to roll one panel at one level.

    *angle*: by how many radians the panel turns along itself. *former*: diameter in mm of the
    former under the innermost layer on which the pieces' edges meet as on the body; None if the
    panel is as good as flat there. *step_front*, *step_back*: how far in mm the outermost layer's
    edge comes short of the innermost one's, at either edge, if both were cut alike: the step to
    expect when they are rolled. *objects*: things of about that diameter. *plus_minus*: of the
    former, half the width in mm of the 95 % interval that the body leaves; None if its model states
    none.
    """

    panel: str
    level: str
    angle: float
    former: float | None
    step_front: float
    step_back: float
    objects: tuple[str, ...]
    plus_minus: float | None = None


def objects_near(diameter: float) -> tuple[str, ...]:
    """Names of common objects that a diameter in mm falls into, give or take 5 %."""
    return tuple(
        thing.name
        for thing in COMMON_OBJECTS
        if thing.smallest * 0.95 <= diameter <= thing.largest * 1.05
    )


def rolling_guide(shifted: Shifted) -> list[RollingStep]:
    """Former and step for each panel at each of its levels.

    Notes
    -----
    Where the body's surface is tilted a panel bends by cos(tilt) theta over its width w only
    (Meusnier), which is what it grows by, so the drafted layer's middle has the radius
    w / (cos(tilt) theta) across; the former lies under all layers inside it.
    """
    turn, pattern = shifted.turn, shifted.turn.pattern
    names = [panel.name for panel in pattern.panels]
    skin = surface_distances(shifted.stack, names)[SKIN]
    fixed = anchors(pattern)
    result = []
    for index, panel in enumerate(pattern.panels):
        spread = _spread(shifted, index)
        for level in sorted(panel.level_lines, key=lambda item: -item.height):
            angle = turn.growth_at(index, level.height)
            width = turn.width_at(index, level.height)
            former = None if angle < FLAT_RAD else 2.0 * (width / angle + float(skin[index]))
            step = spread * angle
            doubt = turn.spread_at(index, level.height)
            if former is None or doubt is None:
                error = None
            else:
                # The diameter goes with one over the angle.
                error = 2.0 * width * doubt / angle**2
            result.append(
                RollingStep(
                    panel.name,
                    level.name,
                    angle,
                    former,
                    step * float(fixed[index]),
                    step * (1.0 - float(fixed[index])),
                    () if former is None else objects_near(former),
                    error,
                )
            )
    return result


@dataclass(frozen=True)
class OneFormer:
    """Every panel rolled over one former, at the waist.

    *diameter*: in mm. *gained*: what the outermost layer gains on the innermost over the whole
    corset, in mm. *needed*: what it needs on the body, in mm.
    """

    diameter: float
    gained: float
    needed: float

    @property
    def excess(self) -> float:
        """Gained less needed: positive if rolling over-eases, negative if it under-eases."""
        return self.gained - self.needed


def _pieces(shifted: Shifted, panel: int) -> list[LayerPattern]:
    """Cut pieces of a panel from the body outwards: bones and tapes have no edge to step."""
    return [layer for layer in shifted.layers if layer.fabric.cut_out and panel in layer.covered]


def _spread(shifted: Shifted, panel: int) -> float:
    """Distance in mm from the innermost cut piece of a panel to the outermost."""
    own = _pieces(shifted, panel)
    return float(own[-1].distances[panel] - own[0].distances[panel]) if own else 0.0


def one_former(shifted: Shifted, diameter: float) -> OneFormer:
    """Compare rolling everything over one former with what the body needs, at the waist.

    *diameter*: of the former, in mm.

    Notes
    -----
    A piece of width w turns through w / (D/2 + t/2) on the former (see `FormerModel`), so the
    outermost layer gains its distance from the innermost times that angle; on the body it
    needs the distance times the panel's own angle, 2 pi in all if there is no lacing gap.
    """
    turn, pattern = shifted.turn, shifted.turn.pattern
    both = 1.0 if pattern.full else 2.0
    skin = surface_distances(shifted.stack, [panel.name for panel in pattern.panels])[SKIN]
    gained = needed = 0.0
    for index in range(len(pattern.panels)):
        own = _pieces(shifted, index)
        if not own:
            continue
        spread = _spread(shifted, index)
        # The innermost piece's middle turns; what lies under it lifts it off the former.
        radius = 0.5 * diameter + float(own[0].distances[index] - skin[index])
        gained += both * spread * turn.width_at(index, 0.0) / radius
        needed += both * spread * turn.growth_at(index, 0.0)
    return OneFormer(diameter, gained, needed)


def useful_formers(shifted: Shifted) -> list[OneFormer]:
    """The comparison for a run of diameters from a bottle to a bucket."""
    return [one_former(shifted, float(d)) for d in np.array([80.0, 120.0, 160.0, 200.0, 280.0])]


def needs_former(step: RollingStep) -> bool:
    """Whether a panel's layers differ by what cloth can hold, so that a table will not do."""
    return step.former is not None and abs(step.step_front + step.step_back) >= CLOTH_MM


_FORMER_STEP_MM: Final = 5.0


def former_length(step: RollingStep, units: str) -> str:
    """A former's diameter, to 5 mm or a quarter inch, with plus or minus where it is known."""
    if step.former is None:
        return "flat"
    each = 6.35 if units == "in" else _FORMER_STEP_MM
    value = round(step.former / each) * each
    words = cloth_length(value, units)
    if not step.plus_minus:
        return words
    spread = float(np.ceil((step.plus_minus + abs(value - step.former)) / each) * each)
    return f"{words.removesuffix(f' {units}')} ± {cloth_length(spread, units)}"
