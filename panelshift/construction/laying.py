"""All layers laid over each other in turn, at every level: what each needs, panel by panel."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from typing import Final

import numpy as np

from ..body.turn import TurnOfCloth
from ..outline import FloatArray
from ..outline.bezier import IntArray
from .edges import folds
from .growth import Growth
from .ridges import Ridges, Site, ridges_of
from .sewn import Sewn
from .taut import BoolArray, Columns, Face, Path, Relief, taut
from .tension import Cuts, cuts_over

_WIDE_MM: Final = 4.0
"""A ridge that bends is looked at every so many mm across."""

SLOPE_MM: Final = 2.0
"""Cloth that is stitched down beside a raw edge comes down from it over at least so much: plies of
1 mm lie at 27 degrees there. A convention of ours."""

_DIGITS: Final = 10
"""Decimals of a direction in radians: edges of two ridges that meet are one, to 1e-8 mm."""

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
    count = both * ridges.bones_at(waist)
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
        columns, first, last = _columns(site, ridges)
        bare = cls(sewn, site, ridges, base, steps, columns, first, last)
        return replace(bare, paths=tuple(bare._all_layers()))

    def _all_layers(self) -> list[Path]:
        soft = self.sewn.construction.body == "soft"
        bare = Relief.bare(self.columns)
        below = Path(bare, np.zeros((len(self.site.levels), self.site.builds.shape[1])))
        paths: list[Path] = []
        holds: set[str | int] = set()
        for layer in range(len(self.base)):
            shell, own = self.sewn.shell_of(layer), self._holds(layer)
            between = self.ridges.between(layer - 1, layer)
            if soft:
                between = between[self.ridges.on[between] >= self.sewn.strength]
            step = self.steps[layer] - (self.steps[layer - 1] if layer else 0.0)
            fused = shell is not None and shell.held == "fused"
            new = len(between) > 0 or bool(step.any())
            if new or not (fused or holds <= own):
                relief = self._relief(below.relief, between, step, self._stitched(own))
                if fused:
                    # It goes up and down with what it lies on, and what is drawn over it does not.
                    over = (step * np.diff(self.site.face.bounds, axis=1).T).T
                    below, holds = Path(relief, below.extra + over), {"everywhere"}
                else:
                    face = self.site.face.raised(self.base[layer][:, None])
                    below, holds = taut(face, self.columns, relief, self._held(own)), own
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

    def _held(self, holds: set[str | int]) -> BoolArray:
        """Columns at which a layer is held that is held so, (m, n)."""
        held = np.zeros(self.columns.psi.shape, dtype=np.bool_)
        seams = self.columns.seams
        sewn = np.ones(seams.shape, dtype=np.bool_)
        sewn[:, 1:-1] = self.site.real.T
        if "seams" not in holds:
            # Both halves are held at the centre front, where a seam lies there.
            count = seams.shape[1] - 1
            middle = self.site.turn.pattern.full and count % 2 == 0
            own = [count // 2] if middle else []
            seams, sewn = seams[:, own], sewn[:, own]
        np.put_along_axis(held, seams, sewn, axis=1)
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
        # Columns in one place part ridges that meet there: between them is nothing.
        found[self.columns.narrow] = 0.0
        return found

    def _beside_edges(self, plies: FloatArray, stitched: BoolArray) -> FloatArray:
        """How much higher cloth stands at columns that are stitched beside plies than on its own.

        *plies*: height on each interval, (m, n - 1). What is beside a column counts the less the
        further its edge lies off: so the place of a line makes no leap.
        """
        m, n = stitched.shape
        more = np.zeros((m, n))
        row, at = np.nonzero(stitched)
        psi = self.columns.psi
        radius = self.site.face.radii[row, self.columns.panel[row, at]]
        padded = np.pad(plies, ((0, 0), (1, 1)))
        own = np.maximum(padded[row, at], padded[row, at + 1])
        for way in (-1, 1):
            edge, near, here, over = at.copy(), np.ones(len(at), dtype=np.bool_), own, 0.0 * own
            while near.any():
                away = radius * np.abs(psi[row, edge] - psi[row, at]) / SLOPE_MM
                near &= away < 1.0
                beyond = padded[row, edge + (way > 0)]
                # Every step up on the way counts by how near it is.
                over = over + np.where(near, (beyond - here) * (1.0 - away), 0.0)
                more[row, at] = np.maximum(more[row, at], over)
                here, edge = beyond, np.clip(edge + way, 0, n - 1)
                near &= (edge > 0) & (edge < n - 1)
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
        stitched: BoolArray | None = None,
    ) -> Relief:
        """What lies between two layers, on top of the inner one's path."""
        ridges, columns = self.ridges, self.columns
        added = self._plies(between)
        padded = np.pad(added, ((0, 0), (1, 1)))
        height = below.height + np.maximum(padded[:, :-1], padded[:, 1:])
        if stitched is not None and stitched.any():
            cloths = between[(ridges.bone[between] < 0) & (ridges.casing[between] < 0)]
            height += self._beside_edges(self._plies(cloths), stitched)
        higher = below.between + added
        follows = below.follows.copy()
        bars = between[ridges.bar[between]]
        if len(bars):
            there = (ridges.thick[:, bars] > 0.0).astype(np.float64)
            follows &= self._summed(bars, there) == 0.0
            half = 0.5 * (ridges.high[:, bars] - ridges.low[:, bars])
            middle = 0.5 * (ridges.high[:, bars] + ridges.low[:, bars])
            row = np.repeat(np.arange(len(middle)), len(bars))
            panel = self.site.face.panel_at(row, middle.ravel())
            radius = self.site.face.radii[row, panel].reshape(middle.shape)
            # A bar touches what is below it in its middle: its edges stand off.
            rise = there * (radius + ridges.thick[:, bars]) * (1.0 / np.cos(half) - 1.0)
            for ends in (self.first[:, bars], self.last[:, bars]):
                np.add.at(height, (row, ends.ravel()), rise.ravel())
        if np.any(step):
            steps = np.asarray(step).T
            here = np.take_along_axis(steps, columns.panel, axis=1)
            at = np.take_along_axis(here, columns.seams, axis=1)
            padded = np.concatenate([steps[:, :1], steps, steps[:, -1:]], axis=1)
            at = np.maximum(padded[:, :-1], padded[:, 1:])
            higher = higher + here[:, 1:]
            np.put_along_axis(here, columns.seams, at, axis=1)
            height = height + here
        # In one place it is as high as the highest, wherever cloth is held there.
        height = np.maximum.reduceat(height.ravel(), columns.first)[columns.group]
        higher = np.where(columns.narrow, height[:, 1:], higher)
        return Relief(height, higher, follows)

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
        over = self._relief(self.paths[-1].relief, self.ridges.between(last, last + 1), own)
        face = self.site.face.raised((self.base[last] + thin)[:, None])
        if not self.site.turn.pattern.full:
            # It goes on over the centre front, and there lies as high as the highest on that side.
            points = self.columns.points(face, over.height).real
            over.height[:, 0] += points.max(axis=1) - points[:, 0]
        none = np.zeros(self.columns.psi.shape, dtype=np.bool_)
        steps = ((self.steps[last] + own).T * np.diff(face.bounds, axis=1)).sum(axis=1)
        return np.asarray(taut(face, self.columns, over, none).extra.sum(axis=1) - steps)


def _at_seams(face: Face, psi: FloatArray) -> FloatArray:
    """Directions, (m, n), of which those that are a seam's but for rounding are made just that.

    A column at a seam belongs to the panel before it.
    """
    row = np.repeat(np.arange(len(psi)), psi.shape[1])
    panel = face.panel_at(row, psi.ravel())
    for end in (0, 1):
        seam = face.bounds[row, panel + end].reshape(psi.shape)
        psi = np.where(np.abs(psi - seam) < 10.0**-_DIGITS, seam, psi)
    return psi


def _columns(site: Site, ridges: Ridges) -> tuple[Columns, IntArray, IntArray]:
    """Columns at all edges of ridges and within wide ones; and those of the ridges' edges."""
    count = len(ridges.on)
    wide = (ridges.high - ridges.low).max(axis=0, initial=0.0) * np.median(site.face.radii)
    # What has no height anywhere has no edges either, but for lines that are stitched down.
    known = (ridges.thick > 0.0).any(axis=0) | (ridges.casing >= 0)
    parts = [ridges.low, ridges.high]
    pieces = np.where((wide > _WIDE_MM) & ~ridges.bar & known, np.ceil(wide / _WIDE_MM), 1.0)
    for many in np.unique(pieces[pieces > 1.0]).tolist():
        own = np.flatnonzero(pieces == many)
        low, high = ridges.low[:, own, None], ridges.high[:, own, None]
        inner = np.arange(1.0, many) / many
        parts.append((low + (high - low) * inner).reshape(len(low), -1))
    psi = np.concatenate(parts, axis=1).round(_DIGITS)
    # What is as wide on several layers is one column.
    found: dict[bytes, int] = {}
    which = np.array(
        [found.setdefault(column.tobytes(), len(found)) for column in psi.T], dtype=np.int64
    )
    _, once = np.unique(which, return_index=True)
    psi = psi[:, once]
    columns, place = Columns.of(site.face, _at_seams(site.face, psi))
    ends = place[:, which[: 2 * count]]
    return columns, ends[:, :count], ends[:, count:]
