"""The pattern beside the body that was measured: where they differ, and by how much."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np

from ..body import BodyModel, Measures, TapeModel
from ..body.form import FormModel
from ..body.spread import mean_upright
from ..body.turn import TurnOfCloth
from ..pattern.drawing import Remark
from ..pattern.pattern import Pattern
from .girths import coarse

_STEP_MM: Final = 2.0
_SAME_MM: Final = 1.0

_TAPE_WORDS: Final = {"front_arc": "front arc", "stand_out": "stand-out"}


@dataclass(frozen=True)
class Matched:
    """One measure of the pattern beside the body's own, in mm, at a level or a height in words."""

    level: str
    quantity: str
    pattern: float
    body: float

    @property
    def difference(self) -> float:
        """By how much the body's is more than the pattern's."""
        return self.body - self.pattern


def matched(turn: TurnOfCloth, body: BodyModel, units: str) -> tuple[Matched, ...]:
    """Measures that both have, from the highest level down; none where no body was measured."""
    if isinstance(body, FormModel):
        found = [*_girths_of_form(turn, body), *_lengths(turn, body), _narrowest(turn, body)]
    else:
        found = list(_girths_given(turn, body, units))
    return tuple(found)


def disagreeing_tapes(turn: TurnOfCloth, body: BodyModel, units: str) -> tuple[Remark, ...]:
    """Tapes that the others of the body do not bear out, level by level with the amount."""
    if not isinstance(body, TapeModel):
        return ()
    return tuple(
        Remark(
            "warning",
            "tapes-disagree",
            f"tapes {_level(turn.pattern, item.height, units)}: the "
            f"{_TAPE_WORDS.get(item.tape, item.tape)} is {coarse(abs(item.amount), units)} "
            f"{'longer' if item.amount > 0.0 else 'shorter'} than the others and the mean form let "
            "expect; measure that level anew",
        )
        for item in body.contradictions(turn.ring)
    )


def _girths_of_form(turn: TurnOfCloth, body: FormModel) -> Iterator[Matched]:
    low, high = float(body.heights[0]), float(body.heights[-1])
    for name, height in _levels(turn):
        upright = mean_upright(turn.body, height) if body.upright else height
        if low - _SAME_MM <= upright <= high + _SAME_MM:
            own = float(np.interp(upright, body.heights, body.sections.girths))
            yield Matched(name, "girth", _girth_at(turn, height), own)


def _girths_given(turn: TurnOfCloth, body: BodyModel, units: str) -> Iterator[Matched]:
    """Girths that a tape told, at their own heights."""
    told: Mapping[float, float] = {}
    if isinstance(body, TapeModel):
        told = {at: tapes.girth for at, tapes in body.tapes.items() if tapes.girth is not None}
    elif isinstance(girths := getattr(body, "girths", None), Measures):
        told = dict(zip(girths.heights.tolist(), girths.values.tolist(), strict=True))
    low, high = turn.profile.drawn
    for height, own in sorted(told.items(), reverse=True):
        if low - _SAME_MM <= height <= high + _SAME_MM:
            words = _level(turn.pattern, height, units).removeprefix("at the ")
            yield Matched(words, "girth", _girth_at(turn, height), own)


def _lengths(turn: TurnOfCloth, body: FormModel) -> Iterator[Matched]:
    """From the waist to levels that the body names as well, along the middles of front and back.

    The body's is the length of its outline seen from the side, as a tape lies on it.
    """
    ahead = np.tile([[0.0, np.pi]], (len(body.heights), 1))
    outlines = body.sections.support(ahead).T
    for name, height in _levels(turn):
        if name == "waist" or name not in body.names:
            continue
        reach = body.names[name]
        z = np.linspace(0.0, reach, max(int(abs(reach) / _STEP_MM), 2) + 1)
        for words, outline in zip(("centre front", "centre back"), outlines, strict=True):
            out = Measures(body.heights, outline).at(z)
            along = float(np.hypot(np.diff(z), np.diff(out)).sum())
            yield Matched(name, f"{words} from the waist", abs(height), along)


def _narrowest(turn: TurnOfCloth, body: FormModel) -> Matched:
    """How far above its waistline each is narrowest."""
    drawn = turn.ring.heights[int(np.argmin(turn.ring.girths))]
    near = np.abs(body.heights) <= max(abs(turn.ring.heights[0]), abs(turn.ring.heights[-1]))
    heights, girths = body.heights[near], body.sections.girths[near]
    own = heights[int(np.argmin(girths))]
    return Matched("waist", "narrowest above it by", float(drawn), float(own))


def _levels(turn: TurnOfCloth) -> list[tuple[str, float]]:
    pairs = ((name, turn.pattern.level_height(name)) for name in turn.pattern.level_names())
    return sorted(pairs, key=lambda pair: -pair[1])


def _girth_at(turn: TurnOfCloth, height: float) -> float:
    drawn = float(turn.profile.widths_at(np.array([height])).sum())
    return (1.0 if turn.pattern.full else 2.0) * drawn + turn.ring.gap_at(height)


def _level(pattern: Pattern, height: float, units: str) -> str:
    for name in pattern.level_names():
        if abs(pattern.level_height(name) - height) < _SAME_MM:
            return f"at the {name}"
    return f"{'+' if height > 0.0 else ''}{coarse(height, units)} from the waist"
