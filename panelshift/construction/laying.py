"""All layers laid over each other in turn, at every level: what each needs, panel by panel."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from typing import Final

import numpy as np

from ..body.turn import TurnOfCloth
from ..outline import FloatArray
from ..outline.bezier import IntArray
from ..outline.splines import Spline
from ..stack import Stack
from .edges import folds
from .growth import Growth
from .ridges import Ridges, Site, ridges_of
from .sewing import Sewn
from .taut import BoolArray, Columns, Face, Path, Relief, taut
from .tension import Cuts, cuts_over

RELAXED_MM: Final = 24.0
"""Where a band ends cloth comes down over about this length: distances are averaged over as much,
by Hann's weights."""

SMOOTHED_MM: Final = 6.0
"""What ridges add has run out by itself: it is averaged over so much only, for smooth edges."""

_WIDE_MM: Final = 4.0
"""A ridge that bends is looked at every so many mm across."""

_DIGITS: Final = 10
"""Decimals of a direction in radians: edges of two ridges that meet are one, to 1e-8 mm."""

_ROUNDS: Final = 3
"""The face that ridges lie on is smaller by what the drafted layer needs over them; one round
brings that to a hundredth of it."""


@dataclass(frozen=True, eq=False)
class Lay:
    """Layers laid over each other at m levels.

    Parameters
    ----------
    levels : ndarray, shape (m,)
        In mm above the waist.
    angles : ndarray, shape (panels, m)
        Turn of each panel, times the cosine of the tilt.
    positions : ndarray, shape (layers + 2, panels, m)
        Of flat cloths from the drafted one: skin side, every middle, outside.
    extra : ndarray, shape (layers, panels, m)
        What each layer needs beside its distance times the turn, in mm, the drafted one none.
    seams : ndarray, shape (layers, panels + 1, m)
        How far each layer lies from the drafted one at every seam and both ends, in mm.
    tape : ndarray, shape (m,)
        What a tape right round over all needs beside its distance times the turn, on all panels
        that are drawn, against the drafted layer.
    cuts : Cuts, optional
        What comes of cutting the outermost shell so, where bones lie under it.
    """

    sewn: Sewn
    turn: TurnOfCloth
    levels: FloatArray
    angles: FloatArray
    positions: FloatArray
    extra: FloatArray
    seams: FloatArray
    tape: FloatArray
    cuts: Cuts | None
    site: Site
    ridges: Ridges
    columns: Columns
    paths: tuple[Path, ...]

    @property
    def distances(self) -> FloatArray:
        """Distance of each layer's flat cloth from the drafted one, shape (layers, panels, m)."""
        return self.positions[1:-1]

    @cached_property
    def growth(self) -> Growth:
        """The same for the shift: averaged where something ends, smooth between the levels."""
        layers, panels, m = self.distances.shape
        pattern = self.turn.pattern
        ends = np.arange(panels)[:, None] + np.array([0, 1])
        backwards = [pattern.ends(panel)[0] == "back" for panel in range(panels)]
        ends[backwards] = ends[backwards][:, ::-1]
        flat = relaxed(self.levels, self.distances, RELAXED_MM)
        # How far a seam lies out besides the flat cloths of the panel.
        over = self.seams[:, ends.ravel()] - np.repeat(self.distances, 2, axis=1)
        reach = cloth_ends(self.turn)
        reach = np.concatenate([reach, np.repeat(reach, 2, axis=0)])
        ridged = np.concatenate([self.extra, over], axis=1)
        reach = np.broadcast_to(reach, (layers, *reach.shape))
        ridged = relaxed(self.levels, ridged, SMOOTHED_MM, reach)
        ridged[:, panels:] += np.repeat(flat, 2, axis=1)
        rows = np.concatenate([flat, ridged], axis=1).reshape(-1, m)
        waist = np.stack([np.interp(0.0, self.levels, row) for row in rows])
        return Growth(
            waist.reshape(layers, 4 * panels)[:, :panels],
            self.turn,
            Spline.smooth(self.levels, rows.T),
        )


def relaxed(
    levels: FloatArray, rows: FloatArray, over: float, ends: FloatArray | None = None
) -> FloatArray:
    """Numbers at evenly spaced levels, (..., m), each averaged over some mm either side.

    *ends*: from where to where there is cloth, (..., 2): only that is looked at, and what holds at
    its ends holds beyond.
    """
    step = float(levels[1] - levels[0])
    half = int(over / step)
    weights = 1.0 + np.cos(np.pi * np.arange(-half, half + 1) * step / over)
    none = np.zeros((*rows.shape[:-1], half))
    there = np.ones(rows.shape)
    if ends is not None:
        low, high = ends[..., :1] - 0.5 * step, ends[..., 1:] + 0.5 * step
        there = np.where((levels >= low) & (levels <= high), there, 0.0)

    def summed(values: FloatArray) -> FloatArray:
        padded = np.concatenate([none, values, none], axis=-1)
        windows = np.lib.stride_tricks.sliding_window_view(padded, 2 * half + 1, axis=-1)
        return np.asarray(windows @ weights)

    found = summed(rows * there) / np.maximum(summed(there), 1e-9)
    first = np.argmax(there, axis=-1, keepdims=True)
    last = len(levels) - 1 - np.argmax(there[..., ::-1], axis=-1, keepdims=True)
    return np.take_along_axis(found, np.clip(np.arange(len(levels)), first, last), axis=-1)


def cloth_ends(turn: TurnOfCloth) -> FloatArray:
    """From where to where each panel reaches, in mm above the waist, shape (panels, 2)."""
    ends = turn.profile.ends.reshape(-1, 2, 2)
    return np.stack([ends[:, :, 0].min(axis=1), ends[:, :, 1].max(axis=1)], axis=1)


def flat_growth(stack: Stack, turn: TurnOfCloth) -> Growth:
    """Growth of layers that lie flat on each other; bands end over `RELAXED_MM`."""
    names = [panel.name for panel in turn.pattern.panels]
    if not stack.changes_with_height:
        return Growth(stack.distances(names), turn)
    levels = turn.body.heights
    distances = stack.at_heights(names, levels)[0][1:-1]
    both = np.repeat(distances, 2, axis=1)
    whole = np.concatenate([distances, np.zeros_like(distances), both], axis=1)
    rows = relaxed(levels, whole.reshape(-1, len(levels)), RELAXED_MM)
    waist = np.stack([np.interp(0.0, levels, row) for row in rows]).reshape(len(distances), -1)
    return Growth(waist[:, : len(names)], turn, Spline.smooth(levels, rows.T))


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
    distances = positions[1:-1]
    widths = turn.profile.widths_at(levels)
    angles = np.maximum(turned * turn.growth_on(levels), 0.0)
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
        laid = _Laying.of(sewn, site, ridges, base, steps)
        own = laid.extra[drafted]
        if float(np.abs(own - needed).max()) < 1e-6:
            break
        needed = own
    extra = laid.extra - own
    cuts = cuts_over(sewn, *_round_the_waist(site, ridges, extra[-1]))
    if cuts is not None and cuts.best is not None:
        extra[list(cuts.outer)] *= cuts.best.longer / cuts.taut[0].longer
    if sewn.construction.fold_factor:
        folded = folds(sewn, distances, turn.pattern.full)
        extra += sewn.construction.fold_factor * (folded - folded[drafted])
    heights = laid.heights + distances.min(axis=1)[:, None]
    seams = heights - heights[drafted]
    tape = laid.tape() - own.sum(axis=0)
    return Lay(
        sewn,
        turn,
        levels,
        angles,
        positions,
        extra,
        seams,
        tape,
        cuts,
        site,
        ridges,
        laid.columns,
        laid.paths,
    )


def _round_the_waist(site: Site, ridges: Ridges, extra: FloatArray) -> tuple[int, float, float]:
    """Bones round the waist, the worn radius, and what the outermost layer needs there, in mm."""
    waist = int(np.argmin(np.abs(site.levels)))
    both = 1 if site.turn.pattern.full else 2
    count = both * ridges.bones_at(waist)
    drawn = both * float(site.face.bounds[waist, -1])
    radius = both * float(site.face.runs[waist, -1]) / drawn
    return count, radius, both * float(extra[:, waist].sum())


@dataclass(frozen=True, eq=False)
class _Laying:
    """Paths of all layers from the body outwards, on the columns that all ridges ask for."""

    sewn: Sewn
    site: Site
    ridges: Ridges
    base: FloatArray
    steps: FloatArray
    columns: Columns
    first: IntArray
    last: IntArray
    lines: dict[str, BoolArray]
    paths: tuple[Path, ...] = ()

    @classmethod
    def of(
        cls, sewn: Sewn, site: Site, ridges: Ridges, base: FloatArray, steps: FloatArray
    ) -> _Laying:
        columns, first, last = _columns(site, ridges, bool(steps.any()))
        lines = _lines(sewn, ridges, columns, first, last)
        bare = cls(sewn, site, ridges, base, steps, columns, first, last, lines)
        return replace(bare, paths=tuple(bare._all_layers()))

    def _all_layers(self) -> list[Path]:
        strength = self.sewn.strength
        first = strength if self.sewn.construction.body == "soft" else 0
        bare = Relief.bare(self.columns)
        flat = Path(bare, np.zeros((len(self.site.levels), self.site.builds.shape[1])))
        paths: list[Path] = []
        below, holds = flat, {"edges"}
        for layer in range(len(self.base)):
            shell = self.sewn.shell_of(layer)
            if shell is not None and shell.held == "fused":
                paths.append(below)
                continue
            own = {"edges"}
            if shell is not None:
                name = self.sewn.stack.names[layer]
                if shell.held == "seams" or shell.layers[0] != name:
                    own.add("seams")
                own |= {key for key in self.lines if name in key.split("\0")[1:]}
            between = self.ridges.between(layer - 1, layer)
            if self.sewn.construction.body == "soft":
                between = between[self.ridges.on[between] >= first]
            step = self.steps[layer] - (self.steps[layer - 1] if layer else 0.0)
            if len(between) == 0 and not step.any() and holds <= own:
                paths.append(below)
                continue
            relief = self._relief(below.relief, between, step)
            face = self.site.face.raised(self.base[layer][:, None])
            held = np.zeros(self.columns.psi.shape, dtype=np.bool_)
            for hold in own:
                if hold == "seams":
                    np.put_along_axis(held, self.columns.seams, True, axis=1)
                elif hold != "edges":
                    held |= self.lines[hold]
            if self.site.turn.pattern.full:
                self._hold_front(held)
            below, holds = taut(face, self.columns, relief, held), own
            paths.append(below)
        return paths

    def _hold_front(self, held: BoolArray) -> None:
        """Both halves are held at the centre front, where a seam lies there."""
        count = self.site.builds.shape[1]
        if count % 2 == 0:
            np.put_along_axis(held, self.columns.seams[:, [count // 2]], True, axis=1)

    def _summed(self, ridges: IntArray, values: FloatArray) -> FloatArray:
        """Sum over ridges of values, (m, q), on the intervals that each covers, (m, n - 1)."""
        m, n = self.columns.psi.shape
        ends = np.concatenate([self.first[:, ridges], self.last[:, ridges]], axis=1)
        ends += n * np.arange(m)[:, None]
        change = np.concatenate([values, -values], axis=1).ravel()
        steps = np.zeros(m * n) + np.bincount(ends.ravel(), change, m * n)
        return np.asarray(np.cumsum(steps.reshape(m, n), axis=1)[:, :-1])

    def _relief(self, below: Relief, between: IntArray, step: FloatArray | float) -> Relief:
        """What lies between two layers, on top of the inner one's path."""
        ridges, columns = self.ridges, self.columns
        thick = ridges.thick[:, between]
        added = self._summed(between, thick)
        # Sums that end are nothing, not nearly nothing.
        added[self._summed(between, (thick > 0.0).astype(np.float64)) == 0.0] = 0.0
        padded = np.pad(added, ((0, 0), (1, 1)))
        height = below.height + np.maximum(padded[:, :-1], padded[:, 1:])
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
        return Relief(height, higher, follows)

    @cached_property
    def extra(self) -> FloatArray:
        """What each layer is longer than its own flat face on each panel, (layers, panels, m)."""
        angles = np.diff(self.site.face.bounds, axis=1)
        over = self.steps.transpose(0, 2, 1) * angles
        return np.array([path.extra for path in self.paths]).transpose(0, 2, 1) - over.transpose(
            0, 2, 1
        )

    @cached_property
    def heights(self) -> FloatArray:
        """How high each layer rides at every seam and both ends, (layers, panels + 1, m)."""
        return np.array(
            [
                np.take_along_axis(path.relief.height, self.columns.seams, axis=1).T
                for path in self.paths
            ]
        )

    def tape(self) -> FloatArray:
        """What a tape over all needs beside its flat length, on the drawn panels, (m,)."""
        last = len(self.paths) - 1
        over = self._relief(self.paths[-1].relief, self.ridges.between(last, last + 1), 0.0)
        face = self.site.face.raised(
            (self.base[last] + self.site.builds[last].min(axis=0))[:, None]
        )
        columns, bounds = self.columns, face.bounds
        steps = (self.steps[last].T * np.diff(bounds, axis=1)).sum(axis=1)
        if not self.site.turn.pattern.full:
            # The tape goes on over the centre front: both halves are looked at.
            face, columns, over = _mirrored(face, columns, over)
        none = np.zeros(columns.psi.shape, dtype=np.bool_)
        whole = taut(face, columns, over, none).extra.sum(axis=1)
        return np.asarray(whole * (1.0 if self.site.turn.pattern.full else 0.5) - steps)


def _mirrored(face: Face, columns: Columns, relief: Relief) -> tuple[Face, Columns, Relief]:
    """A half section and its mirror image before it."""
    angles = np.diff(face.bounds, axis=1)
    both = np.concatenate([angles[:, ::-1], angles], axis=1)
    radii = np.concatenate([face.radii[:, ::-1], face.radii], axis=1)
    whole = Face.of(radii * both, both)
    middle = whole.bounds[:, [angles.shape[1]]]
    psi = np.concatenate([middle - columns.psi[:, ::-1], middle + columns.psi], axis=1)
    psi, count = _at_seams(whole, psi), columns.psi.shape[1]
    row = np.repeat(np.arange(len(psi)), psi.shape[1])
    panel = whole.panel_at(row, psi.ravel()).reshape(psi.shape)
    seams = np.concatenate(
        [count - 1 - columns.seams[:, :0:-1], [[count]] * len(psi), count + columns.seams[:, 1:]],
        axis=1,
    )
    height = np.concatenate([relief.height[:, ::-1], relief.height], axis=1)
    mid = relief.height[:, :1]
    between = np.concatenate([relief.between[:, ::-1], mid, relief.between], axis=1)
    yes = np.ones((len(psi), 1), dtype=np.bool_)
    follows = np.concatenate([relief.follows[:, ::-1], yes, relief.follows], axis=1)
    return whole, Columns.at(whole, psi, panel, seams), Relief(height, between, follows)


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


def _columns(site: Site, ridges: Ridges, stepped: bool) -> tuple[Columns, IntArray, IntArray]:
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
    if stepped:
        inner = np.linspace(0.0, 1.0, 13)[1:-1]
        first, turned = site.face.bounds[:, :-1], np.diff(site.face.bounds, axis=1)
        parts.append((first[:, :, None] + turned[:, :, None] * inner).reshape(len(first), -1))
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


def _lines(
    sewn: Sewn, ridges: Ridges, columns: Columns, first: IntArray, last: IntArray
) -> dict[str, BoolArray]:
    """Columns of the lines of channels, for each kind of bones that is stitched through."""
    lines: dict[str, BoolArray] = {}
    for number, bones in enumerate(sewn.construction.bones):
        if bones.stitched:
            held = np.zeros(columns.psi.shape, dtype=np.bool_)
            casings = np.flatnonzero(ridges.casing == number)
            for edge in (first, last):
                np.put_along_axis(held, edge[:, casings], True, axis=1)
            lines["\0".join([str(number), *bones.stitched])] = held
    return lines
