"""How far bones sink into the cloth over them, and what cut serves: the share of the tension.

Planar mechanics of two cloths round a body, bones between them, laced: bones sink only because the
outer cloth pulls. Forces in N, lengths in mm; derived in docs/how-it-works.md.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from ..outline import FloatArray
from .sewn import Sewn

HANG_N_PER_MM: Final = 0.196
"""The pull of the hang test: 1 kg on a strip 50 mm wide."""

LEAST_LACING_KPA: Final = 1.0
"""A corset that is on at all presses as much; cut longer than it then gives would hang loose."""

TIGHTER: Final = 1.6
"""A corset is sometimes laced so many times as tight as usual."""

USUAL_LACING_KPA: Final = 3.0
"""Between rest and tight: a study of corsets of 2011 found 0.94 in the mean and 3.0 at most;
Dickinson, 1910, 5.9 at the waist and about 1.3 to 12 at rest (both from memory)."""

MOST_STRAIN: Final = 0.005
"""Beyond half a percent in wear a woven cloth begins to take a set, and its weave to show: common
practice, no source."""

USUAL_INNER: Final = (0.003, 0.02)
USUAL_OUTER: Final = (0.005, 0.05)
"""Strains in the hang test, from memory: coutil and drill, then silk and brocade."""


def stretch_along(warp: float, weft: float, bias: float, angle: FloatArray) -> FloatArray:
    """Stretch under one pull at an angle in radians from the warp, from three hang tests.

    That of an orthotropic sheet: with c and s the angle's cosine and sine, along it
    warp c^4 + weft s^4 + (4 bias - warp - weft) c^2 s^2, bias being that at 45 degrees.
    """
    c, s = np.cos(angle) ** 2, np.sin(angle) ** 2
    mixed = max(4.0 * bias - warp - weft, 0.0)
    return np.asarray(warp * c * c + weft * s * s + mixed * c * s)


@dataclass(frozen=True)
class Pull:
    """Two cloths with bones between them, round a body that is laced.

    `radius` is the worn radius in mm, `count`, `width` and `height` are the bones', `inner` and
    `outer` the strains of the cloths in the hang test, `lacing` the pressure in kPa. Where bones do
    not lie evenly spaced, `scale` is what the outer needs over what it would over such ones.
    """

    radius: float
    count: int
    width: float
    height: float
    inner: float
    outer: float
    lacing: float
    scale: float = 1.0

    @property
    def girth(self) -> float:
        """Round the body, in mm."""
        return 2.0 * math.pi * self.radius

    @property
    def pulls(self) -> float:
        """Tension of both cloths together over that of the hang test."""
        return 1e-3 * self.lacing * self.radius / HANG_N_PER_MM

    def over(self, share: float) -> float:
        """What the outer cloth needs over the bones in mm, if it has this share of the tension."""
        r, t, stands = self.radius, self.height, 1.0 - share
        gap = max(math.pi * r / self.count - 0.5 * self.width, 0.0) if self.count else 0.0
        if 2.0 * r * stands * t <= gap * gap:
            corner = (2.0 * t) ** 1.5 / (3.0 * math.sqrt(r)) * (1.0 - 1.5 * share)
            corner /= math.sqrt(stands)
        else:
            corner = t * gap / r - gap**3 / (6.0 * r * r * stands * stands)
        return float(self.scale * self.count * (t * self.width / r + 2.0 * corner))

    def stands(self, share: float) -> float:
        """Part of a bone's height that stands above the inner cloth in the middle between bones.

        Under the bone the inner cloth is pressed in: beside it, as far as the outer one hangs free
        of it, it bears the lacing alone and bulges so much more.
        """
        free = 2.0 * self.radius * (1.0 - share) * self.height
        gap = max(math.pi * self.radius / self.count - 0.5 * self.width, 0.0)
        pressed = share if free <= gap * gap else gap * gap * share / free
        return max(1.0 - pressed, 0.0)

    def cut(self, share: float) -> float:
        """How much longer than flat turn of cloth the outer is cut, in mm, if it has this share."""
        given = share * self.outer - (1.0 - share) * self.inner
        return self.over(share) - self.girth * self.pulls * given

    def share(self, cut: float) -> float:
        """Share of the tension that the outer cloth has if it is cut so much longer, 0 to 1."""
        low, high = 0.0, 1.0 - 1e-9
        if cut >= self.cut(0.0):
            return 0.0
        for _ in range(60):
            middle = 0.5 * (low + high)
            if self.cut(middle) > cut:
                low = middle
            else:
                high = middle
        return 0.5 * (low + high)

    def strain(self, share: float) -> float:
        """Strain of the outer cloth."""
        return share * self.pulls * self.outer

    def tighter(self, lacing: float) -> Pull:
        """The same laced otherwise, in kPa."""
        return replace(self, lacing=lacing)


@dataclass(frozen=True)
class Cut:
    """What a cut comes to in wear, `longer` mm longer than flat turn of cloth.

    `stands` is the part of their height to which bones stand, `strain` the outer cloth's.
    """

    longer: float
    stands: float
    strain: float


def comes_to(pull: Pull, longer: float) -> Cut:
    """What comes of cutting the outer cloth so many mm longer than flat turn of cloth."""
    share = pull.share(longer)
    return Cut(longer, pull.stands(share), pull.strain(share))


def best_cut(pull: Pull) -> Cut | None:
    """The cut that is loose at no lacing and strained at none; None if no cut serves.

    It is taut unless the cloth would then strain too far, and never longer than the inner cloth
    gives when the corset is only just on.
    """
    taut = pull.over(0.0)
    least = pull.tighter(LEAST_LACING_KPA)
    high = taut + pull.girth * pull.inner * least.pulls
    hard = pull.tighter(TIGHTER * pull.lacing)
    share = MOST_STRAIN / (pull.outer * hard.pulls)
    low = hard.cut(share) if share < 1.0 else -math.inf
    if low > high:
        return None
    return comes_to(pull, max(taut, min(low, high)))


@dataclass(frozen=True)
class Cuts:
    """What can be said of cutting the outermost shell over bones, at the waist.

    `outer` are its layers' places; `flat` and `taut` say what comes of cutting it by its distance
    alone and of the length that full ridges need, `best` of the best cut, where both gives and the
    lacing are known and one serves. `untested` are the cloths whose give is not: of `flat` and
    `taut` the first has the least and the second the most that usual ones may make of each number,
    whichever of them are paired. `laced` says whether the lacing is known.
    """

    inner_name: str
    outer_name: str
    outer: tuple[int, ...]
    lacing: float
    laced: bool
    untested: tuple[str, ...]
    flat: tuple[Cut, Cut]
    taut: tuple[Cut, Cut]
    best: Cut | None
    measured: bool = False

    @property
    def known(self) -> bool:
        """Whether all is known that tells the best cut."""
        return self.laced and not self.untested


def _range(cuts: list[Cut]) -> tuple[Cut, Cut]:
    """The least and the most of each number of cuts that are as long."""
    stands, strains = [cut.stands for cut in cuts], [cut.strain for cut in cuts]
    longer = cuts[0].longer
    return Cut(longer, min(stands), min(strains)), Cut(longer, max(stands), max(strains))


def cuts_over(sewn: Sewn, count: int, radius: float, extra: float) -> Cuts | None:
    """What cutting the outermost shell comes to over so many bones round a worn waist.

    *extra*: what it needs over them in mm, ridges standing as they were taken to. None if no bones
    lie between the strength layer and another cloth outside it.
    """
    how, stack = sewn.construction, sewn.stack
    strength = sewn.strength
    outermost = max((k for k, f in enumerate(stack.fabrics) if f.cut_out), default=strength)
    shell = sewn.shell_of(outermost)
    if not how.bones or not count or outermost <= strength or shell is None or extra <= 0.0:
        return None
    bones = how.bones[0]
    names = stack.names[strength], stack.names[outermost]
    lacing = USUAL_LACING_KPA if how.lacing is None else how.lacing
    given = [how.stretch.get(name) for name in names]
    gives = [
        usual if give is None else (give,)
        for give, usual in zip(given, (USUAL_INNER, USUAL_OUTER), strict=True)
    ]
    pulls = []
    for inner, outer in itertools.product(*gives):
        pull = Pull(radius, count, bones.width, bones.height, inner, outer, lacing)
        pulls.append(replace(pull, scale=extra / pull.over(0.0)))
    laced = how.lacing is not None
    untested = tuple(name for name, give in zip(names, given, strict=True) if give is None)
    places = tuple(stack.names.index(name) for name in shell.layers)
    measured = bones.standing is not None
    flat, taut = (_range([comes_to(pull, cut) for pull in pulls]) for cut in (0.0, extra))
    best = best_cut(pulls[0]) if laced and not untested and not measured else None
    return Cuts(*names, places, lacing, laced, untested, flat, taut, best, measured)
