"""How well the growth of a corset that is sewn is known: it is laid again with each number changed.

What a maker measured (thicknesses, distances, how high bones stand, the fold factor) is changed by
a hundredth of its standard uncertainty, one after the other, and all layers are laid anew: so an
allowance that is thicker than thought counts in the distance and in the ridge. The changes are
added in quadrature (GUM, JCGM 100:2008, 5.1.2), cloths that were measured once together (5.2.2).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from ..outline import FloatArray
from ..stack import Fabric, Stack
from .laying import Lay, lay
from .sewn import Sewn

NORMAL_95: Final = 1.959964
"""Standard uncertainties on either side that hold 95 % of a normal distribution (scipy)."""

_PART: Final = 0.01
"""Of a standard uncertainty: so small that nothing refuses it and changes are in proportion."""

_MATTERS_MM: Final = 1e-7
"""What changes less by a part of a thickness does not hang on it."""


@dataclass(frozen=True, eq=False)
class Leeway:
    """Changes at m levels for one standard uncertainty of each of s sources.

    `growth`, (s, layers + 2, panels, m), is that of the skin side, every layer and the outside,
    against the drafted layer's draft; `apart`, of the same shape, that of their distances, `edges`,
    (s, layers, 2 panels, m), that of layers at side edges, and `tape`, (s, m), that of a tape over
    all on the drawn panels, all in mm. `known` is false of sources of unknown size, whose changes
    are for some size. `by_turn`, (layers, panels, m), is what layers need over ridges for
    each part that panels turn more.
    """

    levels: FloatArray
    growth: FloatArray
    apart: FloatArray
    edges: FloatArray
    tape: FloatArray
    known: FloatArray
    by_turn: FloatArray

    def total(self, changes: FloatArray) -> float | None:
        """Half the 95 % interval of what changes so with the sources, (s,), in mm.

        None if it hangs on one of unknown size.
        """
        if np.any((self.known == 0.0) & (np.abs(changes) > _MATTERS_MM)):
            return None
        return float(NORMAL_95 * np.sqrt((self.known * changes**2).sum()))

    def at(self, height: float) -> int:
        """Place of the level nearest to a height."""
        return int(np.argmin(np.abs(self.levels - height)))


def leeway_of(found: Lay, levels: FloatArray) -> Leeway:
    """How well what a lay says is known at some levels."""
    sewn, turn = found.sewn, found.turn
    at = lay(sewn, turn, levels)
    parts = [(_change(at, lay(other, turn, levels)), known) for other, known in _changed(sewn)]
    layers, panels, m = at.distances.shape
    shapes = ((layers + 2, panels, m), (layers + 2, panels, m), at.edges.shape, (m,))
    growth, apart, edges, tape = (
        np.array([changes[k] for changes, _ in parts]).reshape(-1, *shape)
        for k, shape in enumerate(shapes)
    )
    more = lay(sewn, turn, levels, turned=1.0 + _PART)
    by_turn = (more.extra - at.extra) / _PART
    known = np.array([float(is_known) for _, is_known in parts])
    return Leeway(levels, growth, apart, edges, tape, known, by_turn)


def _grown(found: Lay) -> FloatArray:
    """Growth of every surface on each panel, (layers + 2, panels, m)."""
    extra = np.concatenate([found.extra[:1], found.extra, found.extra[-1:]])
    return np.asarray(found.positions * found.angles + extra)


def _change(one: Lay, two: Lay) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    flat = two.positions[-1] * two.angles - one.positions[-1] * one.angles
    return (
        (_grown(two) - _grown(one)) / _PART,
        (two.positions - one.positions) / _PART,
        (two.edges - one.edges) / _PART,
        (flat.sum(axis=0) + two.tape - one.tape) / _PART,
    )


def _changed(sewn: Sewn) -> Iterator[tuple[Sewn, bool]]:
    """The corset with each number changed by a part of its standard uncertainty.

    The second says whether that is known.
    """
    stack, how = sewn.stack, sewn.construction
    cloths = [fabric.cloth or f"\0{fabric.name}" for fabric in stack.fabrics]
    for cloth in dict.fromkeys(cloths):
        own = [f for f, name in zip(stack.fabrics, cloths, strict=True) if name == cloth]
        unknown = any(f.build_uncertainty is None for f in own)
        if not unknown and not any(f.build_uncertainty for f in own):
            continue
        fabrics = [
            _thicker(f) if name == cloth else f
            for f, name in zip(stack.fabrics, cloths, strict=True)
        ]
        yield _with(sewn, replace(stack, fabrics=fabrics)), not unknown
    widened = stack.surfaces().measured_uncertainty
    for place, item in enumerate(stack.measured):
        more = replace(item, distance=item.distance + _PART * float(widened[place]))
        measured = [more if k == place else other for k, other in enumerate(stack.measured)]
        yield _with(sewn, replace(stack, measured=measured)), True
    for place, bones in enumerate(how.bones):
        if bones.standing_uncertainty:
            less = replace(bones, standing=bones.height - _PART * bones.standing_uncertainty)
            kinds = [less if k == place else other for k, other in enumerate(how.bones)]
            yield replace(sewn, construction=replace(how, bones=kinds)), True
    if how.fold_factor is not None and how.fold_factor_uncertainty:
        step = _PART * how.fold_factor_uncertainty
        factor = how.fold_factor + (step if how.fold_factor < 0.5 else -step)
        yield replace(sewn, construction=replace(how, fold_factor=factor)), True


def _thicker(fabric: Fabric) -> Fabric:
    u = fabric.build_uncertainty
    u = 0.1 * fabric.build if u is None else u
    factor = fabric.coverage * fabric.loft
    return replace(fabric, thickness=fabric.thickness + _PART * u / factor) if factor else fabric


def _with(sewn: Sewn, stack: Stack) -> Sewn:
    return replace(sewn, stack=stack)
