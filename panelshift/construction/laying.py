"""All layers laid over each other in turn, at every level: what each needs, panel by panel."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from typing import Final

import numpy as np

from ..body.turn import TurnOfCloth
from ..outline import FloatArray
from ..outline.bezier import IntArray
from .columns import columns_of
from .edges import folds
from .growth import Growth
from .overlaps import full_width
from .resting import resting
from .ridges import Ridges, Site, ridges_of
from .sewn import Sewn
from .taut import BoolArray, Columns, Face, Path, Relief, taut
from .tension import Cuts, cuts_over

SLOPE_MM: Final = 2.0
"""Cloth that is stitched down beside a raw edge comes down from it over at least so much: plies of
1 mm lie at 27 degrees there. A convention of ours."""

_SAME_MM: Final = 1e-12
"""Heights are alike that differ by rounding only."""

_ROUNDS: Final = 3
"""The face that ridges lie on is smaller by what the drafted layer needs over them; one round
brings that to a hundredth of it."""


@dataclass(frozen=True, eq=False)
class Lay:
    """Layers laid over each other at m levels, heights in mm above the waist.

    `angles`, (panels, m), is the turn of each panel times the cosine of the tilt. `positions`,
    (layers + 2, panels, m), are distances in mm of flat cloths from the drafted one: skin side,
    every middle, outside. `extra`, (layers, panels, m), is what each layer needs beside its
    distance times the turn, against the drafted one, and `edges`, (layers, 2 panels, m), how far
    each lies from it at every side edge, panel by panel. `cuts` says what comes of cutting the
    outermost shell so, where bones lie under it; `pile` is how they were laid.
    """

    sewn: Sewn
    turn: TurnOfCloth
    levels: FloatArray
    angles: FloatArray
    positions: FloatArray
    extra: FloatArray
    edges: FloatArray
    cuts: Cuts | None
    pile: Pile

    @cached_property
    def tape(self) -> FloatArray:
        """What a tape over all needs beside its distance times the turn, in mm, shape (m,).

        On all panels that are drawn, against the drafted layer.
        """
        own = self.pile.extra[self.sewn.stack.drafted_index]
        return np.asarray(self.pile.tape() - own.sum(axis=0))

    @property
    def distances(self) -> FloatArray:
        """Distance of each layer's flat cloth from the drafted one, shape (layers, panels, m)."""
        return self.positions[1:-1]

    @cached_property
    def growth(self) -> Growth:
        """The same for the shift: averaged where something ends, smooth between the levels."""
        # How far a seam lies out besides the flat cloths of the panel.
        over = self.edges - np.repeat(self.distances, 2, axis=1)
        ridged = np.concatenate([self.extra, over], axis=1)
        return Growth.over_levels(self.turn, self.levels, self.distances, ridged)


def lay(
    sewn: Sewn, turn: TurnOfCloth, levels: FloatArray | None = None, *, turned: float = 1.0
) -> Lay:
    """Lay every layer of a stack over what is below it, as the construction says.

    *levels*: heights in mm at which it is looked at, those of the body if not given. *turned*: by
    how many times as much panels turn as they do.

    Raises `ConstructionError` if the construction does not fit the pattern or the stack.
    """
    levels = turn.body.heights if levels is None else levels
    names = [panel.name for panel in turn.pattern.panels]
    stack = sewn.stack
    drafted = stack.drafted_index
    positions, builds = stack.at_heights(names, levels)
    # By place from here on: a panel with a slit has several.
    places = turn.places
    widths = places.widths(turn.profile, levels)
    there = turn.profile.there(levels)[places.panel]
    angles = np.where(there, np.maximum(turned * turn.growth_by_place(levels), 0.0), 0.0)
    distances, builds = positions[1:-1][:, places.panel], builds[:, places.panel]
    inner = distances - 0.5 * builds
    # Panels may have cloths that others have not: ridges as wide as a panel.
    base = inner.min(axis=1)
    steps = inner - base[:, None]
    needed = np.zeros_like(widths)
    for _ in range(_ROUNDS):  # pragma: no branch - the last round breaks or ends it
        face = Face.of((widths - needed).T, angles.T)
        outer = (distances + 0.5 * builds).min(axis=1)
        site = Site(turn, levels, face, outer, builds)
        ridges = ridges_of(sewn, site)
        laid = Pile.of(sewn, site, ridges, base, steps)
        own = laid.extra[drafted]
        if float(np.abs(own - needed).max()) < 1e-6:
            break
        needed = own
    extra = places.summed(laid.extra - own)
    cuts = cuts_over(sewn, *_round_the_waist(site, ridges, extra[-1]))
    if cuts is not None and cuts.best is not None:
        extra[list(cuts.outer)] *= cuts.best.longer / cuts.taut[0].longer
    if sewn.construction.fold_factor:
        folded = folds(sewn, positions[1:-1], turn, levels)
        extra += sewn.construction.fold_factor * (folded - folded[drafted])
        extra *= turn.profile.there(levels)
    heights = laid.heights + distances.min(axis=1)[:, None]
    edges = (heights - heights[drafted])[:, places.edges.ravel()]
    return Lay(sewn, turn, levels, places.summed(angles), positions, extra, edges, cuts, laid)


def _round_the_waist(site: Site, ridges: Ridges, extra: FloatArray) -> tuple[int, float, float]:
    """Bones round the waist, the worn radius, and what the outermost layer needs there, in mm."""
    waist = int(np.argmin(np.abs(site.levels)))
    both = 1 if site.turn.pattern.full else 2
    count = ridges.bones_round(waist, half=both > 1)
    drawn = both * float(site.face.bounds[waist, -1])
    radius = both * float(site.face.runs[waist, -1]) / drawn
    return count, radius, both * float(extra[:, waist].sum())


@dataclass(frozen=True, eq=False)
class Pile:
    """Paths of all layers from the body outwards, on the columns that all ridges ask for."""

    sewn: Sewn
    site: Site
    ridges: Ridges
    base: FloatArray
    steps: FloatArray
    columns: Columns
    first: IntArray
    last: IntArray
    paths: tuple[Path, ...] = ()

    @classmethod
    def of(
        cls, sewn: Sewn, site: Site, ridges: Ridges, base: FloatArray, steps: FloatArray
    ) -> Pile:
        """Lay all layers; *base*, *steps*: where inner faces lie, and by panel beyond that."""
        columns, first, last = columns_of(site, ridges)
        bare = cls(sewn, site, ridges, base, steps, columns, first, last)
        return replace(bare, paths=tuple(bare._all_layers()))

    def _all_layers(self) -> list[Path]:
        soft = self.sewn.construction.body == "soft"
        bare = Relief.bare(self.columns)
        below = Path(bare, np.zeros((len(self.site.levels), self.site.builds.shape[1])))
        paths: list[Path] = []
        holds: set[str | int] = set()
        none = np.zeros(0, dtype=np.int64)
        under = none
        for layer in range(len(self.base)):
            shell, own = self.sewn.shell_of(layer), self._holds(layer)
            between = self.ridges.between(layer - 1, layer)
            if soft:
                between = between[self.ridges.on[between] >= self.sewn.strength]
            step = self.steps[layer] - (self.steps[layer - 1] if layer else 0.0)
            fused = shell is not None and shell.held == "fused"
            new = len(between) > 0 or bool(step.any())
            if new or not (fused or holds <= own):
                relief = self._relief(below.relief, between, step, own, under)
                if fused:
                    # It goes up and down with what it lies on, and what is drawn over it does not.
                    over = (step * np.diff(self.site.face.bounds, axis=1).T).T
                    below, holds = Path(relief, below.extra + over), {"everywhere"}
                    under = np.concatenate([under, between])
                else:
                    face = self.site.face.raised(self.base[layer][:, None])
                    below, holds = taut(face, self.columns, relief, self._held(own)), own
                    under = none
            paths.append(below)
        return paths

    def _holds(self, layer: int) -> set[str | int]:
        """Where a layer is held beside its edges: at seams, and by numbers of bones at channels."""
        shell, name = self.sewn.shell_of(layer), self.sewn.stack.names[layer]
        if shell is None:
            return set()
        bones = enumerate(self.sewn.construction.bones)
        own: set[str | int] = {number for number, item in bones if name in item.stitched}
        return own | {"seams"} if shell.held == "seams" or shell.layers[0] != name else own

    def _sewn(self, holds: set[str | int]) -> BoolArray:
        """Seams and ends at which a layer is held that is held so, (m, panels + 1)."""
        seams = self.columns.seams
        sewn = np.ones(seams.shape, dtype=np.bool_)
        if "seams" in holds:
            sewn[:, 1:-1] = self.site.real.T
        else:
            sewn[:, 1:-1] = False
            count = seams.shape[1] - 1
            # Both halves are held at the centre front, where a seam lies there.
            if self.site.turn.pattern.full and count % 2 == 0:
                sewn[:, count // 2] = True
        return sewn

    def _held(self, holds: set[str | int]) -> BoolArray:
        """Columns at which a layer is held that is held so, (m, n)."""
        held = np.zeros(self.columns.psi.shape, dtype=np.bool_)
        np.put_along_axis(held, self.columns.seams, self._sewn(holds), axis=1)
        return held | self._stitched(holds)

    def _stitched(self, holds: set[str | int]) -> BoolArray:
        """Columns at which it is held along the lines of channels, (m, n)."""
        held = np.zeros(self.columns.psi.shape, dtype=np.bool_)
        for number in holds - {"seams"}:
            casings = np.flatnonzero(self.ridges.casing == number)
            for edge in (self.first, self.last):
                np.put_along_axis(held, edge[:, casings], True, axis=1)
        return held

    def _plies(self, ridges: IntArray) -> FloatArray:
        """Height of some ridges together on each interval, (m, n - 1)."""
        thick = self.ridges.thick[:, ridges]
        found = self._summed(ridges, thick)
        # Sums that end are nothing, not nearly nothing.
        found[self._summed(ridges, (thick > 0.0).astype(np.float64)) == 0.0] = 0.0
        cloths = self._cloths(ridges)
        if len(cloths) > 1:
            found -= self._overlapping_little(cloths)
        # Columns in one place part ridges that meet there: between them is nothing.
        found[self.columns.narrow] = 0.0
        return found

    def _overlapping_little(self, cloths: IntArray) -> FloatArray:
        """How much lower cloths stand for raw edges that overlap by little, (m, n - 1)."""
        psi, panel = self.columns.psi, self.columns.panel
        widths = np.take_along_axis(self.site.face.radii, panel[:, 1:], axis=1) * np.diff(psi)
        thick = self.ridges.thick[:, cloths]
        whole = np.where(widths > 0.0, self._summed(cloths, thick), 0.0)
        lower = whole - full_width(whole, widths, SLOPE_MM)
        if not lower.any():
            return lower
        # A cloth that is narrow itself is as high as it is: it overlaps nothing.
        far = np.pad(np.cumsum(widths, axis=1), ((0, 0), (1, 0)))
        across = np.take_along_axis(far, self.last[:, cloths], axis=1)
        across -= np.take_along_axis(far, self.first[:, cloths], axis=1)
        own = self._summed(cloths, thick * np.maximum(1.0 - across / SLOPE_MM, 0.0))
        return np.maximum(lower - own, 0.0)

    def _beside_edges(
        self, plies: FloatArray, row: IntArray, at: IntArray, ways: tuple[int, ...] = (-1, 1)
    ) -> FloatArray:
        """How much higher columns stand for plies beside them than for those on them, (k,).

        *plies*: height on each interval, (m, n - 1). *ways*: whether to look before columns (-1)
        or behind them (1). What is beside a column counts the less the further its edge lies off:
        so the place of what is stitched or laid there makes no leap.
        """
        psi = self.columns.psi
        more = np.zeros(len(at))
        radius = self.site.face.radii[row, self.columns.panel[row, at]]
        padded = np.pad(plies, ((0, 0), (1, 1)))
        own = np.maximum(padded[row, at], padded[row, at + 1])
        for way in ways:
            edge, near, here, over = at.copy(), np.ones(len(at), dtype=np.bool_), own, 0.0 * own
            while near.any():
                away = radius * np.abs(psi[row, edge] - psi[row, at]) / SLOPE_MM
                near &= away < 1.0
                beyond = padded[row, edge + (way > 0)]
                # Every step up on the way counts by how near it is.
                over = over + np.where(near, (beyond - here) * (1.0 - away), 0.0)
                more = np.maximum(more, over)
                here, edge = beyond, np.clip(edge + way, 0, psi.shape[1] - 1)
                near &= (edge > 0) & (edge < psi.shape[1] - 1)
        return more

    def _summed(self, ridges: IntArray, values: FloatArray) -> FloatArray:
        """Sum over ridges of values, (m, q), on the intervals that each covers, (m, n - 1)."""
        m, n = self.columns.psi.shape
        ends = np.concatenate([self.first[:, ridges], self.last[:, ridges]], axis=1)
        ends += n * np.arange(m)[:, None]
        change = np.concatenate([values, -values], axis=1).ravel()
        steps = np.zeros(m * n) + np.bincount(ends.ravel(), change, m * n)
        return np.asarray(np.cumsum(steps.reshape(m, n), axis=1)[:, :-1])

    def _relief(
        self,
        below: Relief,
        between: IntArray,
        step: FloatArray | float,
        holds: set[str | int],
        under: IntArray,
    ) -> Relief:
        """What lies between two layers, on top of the inner one's path; how the outer is held.

        *under*: what that path itself goes up and down with, being fused to it.
        """
        ridges, columns = self.ridges, self.columns
        below = self._stepped(below, step)
        added = self._plies(between)
        height = below.height + _higher_side(added)
        if len(under):
            both = self._plies(np.concatenate([under, between])) - self._plies(under)
            less = np.maximum(added - both, 0.0)
            added = added - less
            onto = _higher_side(below.between + added) - _higher_side(below.between)
            follows = np.pad(below.follows, ((0, 0), (1, 1)), constant_values=True)
            beside = follows[:, :-1] & follows[:, 1:]
            height = below.height + np.where(beside, onto, _higher_side(added))
        stitched = self._stitched(holds)
        if stitched.any():
            row, at = np.nonzero(stitched)
            height[row, at] += self._beside_edges(self._plies(self._cloths(between)), row, at)
        bars = between[ridges.bar[between]]
        follows = below.follows
        if len(bars):
            there = (ridges.thick[:, bars] > 0.0).astype(np.float64)
            follows = follows & (self._summed(bars, there) == 0.0)
        bones = between[ridges.bone[between] >= 0]
        if len(bones):
            self._lay_over_bones(height, below, between)
            self._stand_beside_bones(height, bones, self._sewn(holds))
        # In one place it is as high as the highest, wherever cloth is held there.
        height = np.maximum.reduceat(height.ravel(), columns.first)[columns.group]
        higher = np.where(columns.narrow, height[:, 1:], below.between + added)
        return Relief(height, higher, follows)

    def _stepped(self, below: Relief, step: FloatArray | float) -> Relief:
        """A relief with a cloth that is thicker on some panels: by so much on each, (panels, m)."""
        if not np.any(step):
            return below
        columns, steps = self.columns, np.asarray(step).T
        here = np.take_along_axis(steps, columns.panel, axis=1)
        between = below.between + here[:, 1:]
        ends = np.concatenate([steps[:, :1], steps, steps[:, -1:]], axis=1)
        np.put_along_axis(here, columns.seams, np.maximum(ends[:, :-1], ends[:, 1:]), axis=1)
        return Relief(below.height + here, between, below.follows)

    def _cloths(self, ridges: IntArray) -> IntArray:
        """Those ridges that are neither bones nor their casings."""
        return ridges[(self.ridges.bone[ridges] < 0) & (self.ridges.casing[ridges] < 0)]

    def _lay_over_bones(self, height: FloatArray, below: Relief, between: IntArray) -> None:
        """Raise a relief's heights, (m, n), to bones as they rest on what is below and under them.

        Cloth whose raw edge lies just beside a bone or a casing lifts it, or lies on it, the less
        the further off: whether its edge lies under a corner or a hair's breadth beside makes no
        leap.
        """
        ridges = self.ridges
        cloths, bones = self._cloths(between), between[ridges.bone[between] >= 0]
        over = ridges.over[cloths]
        lower, upper = self._plies(cloths[~over]), self._plies(cloths[over])
        cased = between[(ridges.casing[between] >= 0) & (ridges.thick[:, between] > 0.0).any(0)]
        row, ends, _, part = self._ends(cased)
        for at, way in zip(ends, (-1, 1), strict=True):
            more = part * self._beside_edges(lower + upper, row, at, (way,))
            np.maximum.at(height, (row, at), height[row, at] + more)
        row, ends, thick, part = self._ends(bones)
        there = np.flatnonzero(thick > 0.0)
        row, ends, thick, part = row[there], ends[:, there], thick[there], part[there]
        bone = np.tile(bones, len(height))[there]
        if len(row) == 0:
            return
        front, back = ends[:, :, None]
        which = np.minimum(front + np.arange((back - front).max() + 1), back)
        each = row[:, None]
        ground = (below.height + _higher_side(lower))[each, which]
        above = _higher_side(self._plies(between[ridges.over[between]]))[each, which]
        for plies, on in ((lower, ground), (upper, above)):
            for at, way in zip(ends, (-1, 1), strict=True):
                more = part * self._beside_edges(plies, row, at, (way,))
                on += np.where(which == at[:, None], more[:, None], 0.0)
        top = ground + above + thick[:, None]
        bars = np.flatnonzero(ridges.bar[bone])
        if len(bars):
            flat = np.where(below.follows, below.between + lower, -np.inf)[each, which[:, :-1]]
            flat[np.diff(which, axis=1) == 0] = -np.inf
            low, high = ridges.low[row, bone][bars], ridges.high[row, bone][bars]
            middle, half = 0.5 * (low + high), 0.5 * (high - low)
            panel = self.site.face.panel_at(row[bars], middle)
            radius = self.site.face.radii[row[bars], panel]
            fall = (radius + thick[bars]) * (1.0 / np.cos(half) - 1.0)
            across = (self.columns.psi[each, which][bars] - middle[:, None]) / half[:, None]
            lifted = resting(across, ground[bars], flat[bars], thick[bars], fall)
            lifted *= part[bars, None]
            top[bars] += lifted + fall[:, None] * across**2
        np.maximum.at(height, (each, which), top)

    def _ends(self, ridges: IntArray) -> tuple[IntArray, IntArray, FloatArray, FloatArray]:
        """Of ridges level by level: these, the columns of both their ends, and how high they are.

        Shapes (k,), (2, k) and (k,); the last, (k,), has what part of their whole height that is.
        """
        ends = np.array([self.first[:, ridges].ravel(), self.last[:, ridges].ravel()])
        row = np.repeat(np.arange(len(self.first)), len(ridges))
        thick = self.ridges.thick[:, ridges]
        part = thick / np.maximum(thick.max(axis=0, initial=0.0), _SAME_MM)
        return row, ends, thick.ravel(), part.ravel()

    def _stand_beside_bones(self, height: FloatArray, bones: IntArray, sewn: BoolArray) -> None:
        """Raise heights, (m, n), at seams and ends where cloth is held right beside bones.

        A line of stitches has no room nearer to a bone than half its thickness: where one is
        drawn nearer, or under the bone, cloth stands there on the way down from it.
        """
        psi, seams = self.columns.psi, self.columns.seams
        at = np.take_along_axis(psi, seams, axis=1)[:, :, None]
        own = np.take_along_axis(height, seams, axis=1)
        room = 0.5 * self.ridges.thick[:, None, bones]
        row, ends, _, _ = self._ends(bones)
        found = own
        for columns, way in zip(ends, (-1.0, 1.0), strict=True):
            radius = self.site.face.radii[row, self.columns.panel[row, columns]]
            corner, turned, radius = (
                values.reshape(len(psi), 1, -1)
                for values in (height[row, columns], psi[row, columns], radius)
            )
            away = way * (at - turned) * radius
            near = (away >= 0.0) & (away < room)
            part = np.where(near, 1.0 - away / np.where(near, room, 1.0), 0.0)
            more = part * np.maximum(corner - own[:, :, None], 0.0)
            found = np.maximum(found, own + more.max(axis=2))
        np.put_along_axis(height, seams, np.where(sewn, found, own), axis=1)

    @cached_property
    def extra(self) -> FloatArray:
        """What each layer is longer than its own flat face on each panel, (layers, panels, m)."""
        angles = np.diff(self.site.face.bounds, axis=1)
        found = np.array([path.extra for path in self.paths]).transpose(0, 2, 1)
        return np.asarray(found - self.steps * angles.T)

    @cached_property
    def heights(self) -> FloatArray:
        """How high each layer rides at every seam and both ends, (layers, panels + 1, m)."""
        heights = np.array([path.relief.height for path in self.paths])
        return np.take_along_axis(heights, self.columns.seams[None], axis=2).transpose(0, 2, 1)

    def tape(self) -> FloatArray:
        """What a tape over all needs beside its flat length, on the drawn panels, (m,)."""
        last = len(self.paths) - 1
        # The outermost cloth may be on some panels only: it is a ridge as wide as they are.
        thin = self.site.builds[last].min(axis=0)
        own = self.site.builds[last] - thin
        beyond = self.ridges.between(last, last + 1)
        over = self._relief(self.paths[-1].relief, beyond, own, set(), beyond[:0])
        face = self.site.face.raised((self.base[last] + thin)[:, None])
        if not self.site.turn.pattern.full:
            # It goes on over the centre front, and there lies as high as the highest on that side.
            points = self.columns.points(face, over.height).real
            over.height[:, 0] += points.max(axis=1) - points[:, 0]
        none = np.zeros(self.columns.psi.shape, dtype=np.bool_)
        steps = ((self.steps[last] + own).T * np.diff(face.bounds, axis=1)).sum(axis=1)
        return np.asarray(taut(face, self.columns, over, none).extra.sum(axis=1) - steps)


def _higher_side(plies: FloatArray) -> FloatArray:
    """The higher of what lies before and behind each column, (m, n), of intervals (m, n - 1)."""
    padded = np.pad(plies, ((0, 0), (1, 1)))
    return np.maximum(padded[:, :-1], padded[:, 1:])
