"""Thousands of corsets that might come of one job: what is not known, drawn at random."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from ..errors import StackError
from ..files.plain_values import held_to_types
from ..outline import FloatArray
from ..outline.by_value import ByValue, read_only
from ..shift import Shifted
from ..stack import Stack

_MOST: Final = 1_000_000


@dataclass(frozen=True, eq=False)
class GrowthDraws(ByValue):
    """Growth of all panels in all layers, as it might truly have to be.

    Parameters
    ----------
    layers, panels, levels : tuple of str
        Names, in the order of the axes.
    growth : ndarray, shape (draws, layers, panels, levels)
        Across each panel in mm, as `Shifted.growth` has it.
    of_body : ndarray, shape (layers, panels, levels)
        Part of the variance of each that comes of not knowing the body.
    halves : int
        How often the drawn panels go round: 2 for a half pattern.
    """

    layers: tuple[str, ...]
    panels: tuple[str, ...]
    levels: tuple[str, ...]
    growth: FloatArray
    of_body: FloatArray
    halves: int

    def __post_init__(self) -> None:
        read_only(self, "growth", "of_body")

    @property
    def girths(self) -> FloatArray:
        """What each layer's panels gain together right round, shape (draws, layers, levels)."""
        return np.asarray(self.halves * self.growth.sum(axis=2))

    @held_to_types
    def interval(self, part: float = 0.95) -> tuple[FloatArray, FloatArray]:
        """Low and high end of what holds so large a part of the draws.

        Parameters
        ----------
        part : float
            Between 0 and 1.

        Returns
        -------
        (ndarray, ndarray), each of shape (layers, panels, levels)
            In mm.

        Raises
        ------
        StackError
            If the part is not between 0 and 1.
        """
        if not 0.0 < part < 1.0:
            raise StackError(
                f"an interval that holds {part:g} of all draws",
                remedy="Give a part between 0 and 1, such as 0.95.",
            )
        low, high = np.quantile(self.growth, [0.5 - 0.5 * part, 0.5 + 0.5 * part], axis=0)
        return low, high


@held_to_types
def growth_draws(shifted: Shifted, draws: int = 10_000, seed: int = 0) -> GrowthDraws:
    """Draw what growth may truly be: thicknesses, pinned distances, sewing and the body.

    Parameters
    ----------
    shifted : Shifted
        As `shift_pattern` gives it.
    draws : int
        How many, from 2 to a million.
    seed : int
        From 0 on. The same seed gives the same draws.

    Returns
    -------
    GrowthDraws

    Raises
    ------
    StackError
        If there are too few draws or too many, the seed is negative, or a fabric that matters has
        no stated uncertainty.

    Notes
    -----
    Each number is normal about what was given, with its standard uncertainty (GUM Supplement 1,
    JCGM 101:2008): cloths that were measured once are wrong together, a fabric is equally wrong on
    all panels, and bodies differ from the model's as its own draws do. Growth is distance times
    turn, so that both may be off at once.

    Examples
    --------
    >>> from panelshift import DraftPanel, Fabric, Stack, pattern_from_panels, shift_pattern
    >>> box = [(0, 0), (60, 0), (60, 160), (0, 160)]
    >>> pattern = pattern_from_panels([DraftPanel("one", box, [(0, 90), (60, 90)])])
    >>> stack = Stack([Fabric("drill", 0.5, thickness_uncertainty=0.02),
    ...                Fabric("brocade", 0.7, thickness_uncertainty=0.05)], "drill")
    >>> found = growth_draws(shift_pattern(pattern, stack), 2000)
    >>> found.growth.shape
    (2000, 2, 1, 1)
    >>> [round(float(value), 1) for value in found.girths[:, 1, 0].mean(axis=0, keepdims=True)]
    [3.8]
    """
    if seed < 0:
        raise StackError(f"a seed of {seed}", remedy="Give a whole number from 0 on.")
    if not 2 <= draws <= _MOST:
        raise StackError(f"{draws} draws", remedy=f"Give a number from 2 to {_MOST}.")
    turn, pattern = shifted.turn, shifted.turn.pattern
    levels = pattern.level_names()
    heights = np.array([pattern.level_height(name) for name in levels])
    chance = np.random.default_rng(seed)
    turned = turn.growth_on(heights)
    wider = _by_body(shifted, heights, chance, draws)
    by_cloth = _by_cloth(shifted, heights, turned, chance, draws)
    # What turns more does so on every distance, those that are wrong as well.
    with np.errstate(divide="ignore", invalid="ignore"):
        share = np.where(turned > 0.0, wider / turned, 0.0)
    by_body = _for_all_turn(shifted, heights, turned) * share[:, None]
    growth = shifted.grown.on(heights) + by_cloth * (1.0 + share[:, None]) + by_body
    body, cloth = by_body.var(axis=0), by_cloth.var(axis=0)
    whole = body + cloth
    return GrowthDraws(
        tuple(fabric.name for fabric in shifted.stack.fabrics),
        tuple(panel.name for panel in pattern),
        levels,
        growth,
        np.divide(body, whole, out=np.zeros_like(whole), where=whole > 0.0),
        1 if pattern.full else 2,
    )


def _by_body(
    shifted: Shifted, heights: FloatArray, chance: np.random.Generator, draws: int
) -> FloatArray:
    """How much more panels turn, (draws, panels, levels), in mm for each mm of distance."""
    turn = shifted.turn
    count = len(turn.pattern.panels)
    spread = turn.body.spread
    if spread is None:
        return np.zeros((draws, count, len(heights)))
    bodies = turn.places.by_panel(spread.bodies)
    at = np.array([[np.interp(heights, spread.heights, c) for c in body.T] for body in bodies])
    # Between two heights bodies even out; as far apart as stated there they are all the same.
    stated = np.array([np.interp(heights, spread.heights, c) for c in bodies.std(axis=0).T])
    own = at.std(axis=0)
    at *= np.divide(stated, own, out=np.ones_like(own), where=own > 0.0)
    # As many normal numbers as bodies: their mixtures have the bodies' own covariance.
    mixed = chance.standard_normal((draws, len(at))) / np.sqrt(len(at))
    return np.asarray((mixed @ at.reshape(len(at), -1)).reshape(draws, count, len(heights)))


def _for_all_turn(shifted: Shifted, heights: FloatArray, turned: FloatArray) -> FloatArray:
    """What grows in proportion to the turn, (layers, panels, levels), in mm."""
    layers, panels = shifted.grown.distances.shape
    found = np.array(
        [
            [[shifted.grown.distance(i, k, float(h)) for h in heights] for k in range(panels)]
            for i in range(layers)
        ]
    )
    found *= turned
    if (leeway := shifted.leeway) is not None:
        found += leeway.by_turn[..., [leeway.at(float(height)) for height in heights]]
    return found


def _by_cloth(
    shifted: Shifted,
    heights: FloatArray,
    turned: FloatArray,
    chance: np.random.Generator,
    draws: int,
) -> FloatArray:
    """What cloth and sewing add to growth, (draws, layers, panels, levels), in mm."""
    stack, pattern = shifted.stack, shifted.turn.pattern
    if (leeway := shifted.leeway) is not None:
        at = [leeway.at(float(height)) for height in heights]
        changes = leeway.growth[:, 1:-1, :, at]
        if np.abs(changes[leeway.known == 0.0]).max(initial=0.0) > 0.0:
            _refuse_unknown(shifted)
        effects = changes
    else:
        stacks = [shifted.stack.at(float(height)) for height in heights]
        effects = np.stack([_by_distance(shifted, at) for at in stacks], axis=-1) * turned
    z = chance.standard_normal((draws, len(effects)))
    result = (z @ effects.reshape(len(effects), -1)).reshape(draws, *effects.shape[1:])
    taken = np.array([fabric.sewn_uncertainty for fabric in stack.fabrics])
    if taken.any():
        panels = range(len(pattern.panels))
        widths = np.array([[shifted.turn.width_at(k, float(h)) for h in heights] for k in panels])
        z = chance.standard_normal((draws, len(taken))) * taken
        result += z[:, :, None, None] * widths
    return np.asarray(result)


def _by_distance(shifted: Shifted, stack: Stack) -> FloatArray:
    """How far layers lie off for one standard uncertainty of each source, by layers and panels.

    Sources are independent: cloths that were measured once are one.
    """
    drafted = stack.drafted_index
    columns = []
    for panel in shifted.turn.pattern:
        surfaces = stack.surfaces(panel.name)
        shares = [surfaces.shares(drafted, place) for place in range(len(stack))]
        if any(surfaces.unknown(drafted, place) for place in range(len(stack))):
            _refuse_unknown(shifted)
        known = np.nan_to_num(surfaces.thickness_uncertainty)
        # Alike are all or none of them: the first of each kind has the number of all.
        kinds, own = np.unique(np.argmax(surfaces.alike > 0.0, axis=1), return_inverse=True)
        gathered = (
            np.equal.outer(np.arange(len(kinds)), own)
            @ (np.array([share for share, _ in shares]) * known).T
        )
        pinned = (np.array([pairs for _, pairs in shares]) * surfaces.measured_uncertainty).T
        columns.append(np.concatenate([gathered, pinned]))
    return np.stack(columns, axis=2)


def _refuse_unknown(shifted: Shifted) -> None:
    names = [f.name for f in shifted.stack.fabrics if f.build_uncertainty is None]
    raise StackError(
        f"no uncertainty is stated of {', '.join(names)}",
        remedy="Give thickness_uncertainty of each fabric in mm: 0 if it is known exactly.",
        element=names[0],
    )
