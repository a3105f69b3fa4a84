"""What stands up from the cloths of a corset: allowances, bones, casings, strips along edges."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, fields
from functools import cached_property
from typing import Final

import numpy as np

from ..body.turn import TurnOfCloth
from ..outline import FloatArray
from ..outline.bezier import IntArray
from ..pattern.panel import EdgeName
from ..pattern.profile import SIDES
from .channels import Channel, astride, channels_of, room_beside
from .sewing import Bones, Shell, Strip
from .sewn import Sewn
from .taut import BoolArray, Face

RUN_OUT_MM: Final = 24.0
"""Beyond a bone's end cloth comes down over at most so much: on a hip or a bust that curves with a
radius of 200 mm it lands sqrt(2 * 200 * 1.5) mm further on."""


@dataclass(frozen=True, eq=False)
class Ridges:
    """q ridges at m levels: directions of their two edges and their heights in mm, shapes (m, q).

    They lie on the outer side of the layers `on`, -1 being the skin; a `bar` does not bend across,
    and what lies `over` others there covers bones.
    `plies` is for how many cloths each counts; `casing` and `bone` say of which bones, by number,
    it is either, -1 of none; the other half has `shared` ones, which lie over the fold, together
    with this one; shapes (q,).
    """

    low: FloatArray
    high: FloatArray
    thick: FloatArray
    on: IntArray
    bar: BoolArray
    over: BoolArray
    plies: IntArray
    casing: IntArray
    bone: IntArray
    shared: BoolArray

    @classmethod
    def alike(
        cls,
        low: FloatArray,
        high: FloatArray,
        thick: FloatArray,
        on: int,
        *,
        bar: bool = False,
        over: bool = False,
        plies: int = 0,
        casing: int = -1,
        bone: int = -1,
        shared: Sequence[bool] | bool = False,
    ) -> Ridges:
        """Ridges that lie on one layer and are of one sort."""
        q = low.shape[1]
        thick = np.broadcast_to(thick, low.shape)
        return cls(
            low,
            high,
            thick,
            np.full(q, on),
            np.full(q, bar),
            np.full(q, over),
            np.full(q, plies),
            np.full(q, casing),
            np.full(q, bone),
            np.broadcast_to(shared, q),
        )

    @classmethod
    def together(cls, parts: list[Ridges], levels: int) -> Ridges:
        """All of them."""
        none = np.zeros((levels, 0))
        every = [cls.alike(none, none, none, 0), *parts]
        return cls(
            *(
                np.concatenate([getattr(part, item.name) for part in every], axis=-1)
                for item in fields(cls)
            )
        )

    def bones_round(self, level: int, kind: int | None = None, *, half: bool) -> int:
        """How many bones there are right round at a level, of all kinds or of one.

        *half*: whether these are the ridges of one half, which the other has as well.
        """
        own = self.bone >= 0 if kind is None else self.bone == kind
        there = own & (self.thick[level] > 0.0)
        return int((there * (2 - self.shared if half else 1)).sum())

    def between(self, inner: int, outer: int) -> IntArray:
        """Numbers of the ridges that lie outside layer `inner` and inside layer `outer`."""
        return np.flatnonzero((self.on >= inner) & (self.on < outer))


@dataclass(frozen=True, eq=False)
class Site:
    """Where ridges are to be found: the panels at m levels, and the faces of the layers on them.

    `face` is that of the drafted layer's middle, `outer`, (layers, m), how far the outer side of
    each layer lies from it, `builds`, (layers, places, m), what each cloth adds in mm: a panel with
    a slit has a place on each side of it.
    """

    turn: TurnOfCloth
    levels: FloatArray
    face: Face
    outer: FloatArray
    builds: FloatArray

    @cached_property
    def apart(self) -> BoolArray:
        """Whether each seam between two places is one of its own at every level, (seams, m).

        Beyond a gore's tip its two seams are one, or none where it stands in a slit.
        """
        return self._there[:-1] & self.real

    @cached_property
    def real(self) -> BoolArray:
        """Whether there is a seam between two places at all at every level, (seams, m)."""
        return self.turn.places.open_at(self.turn.profile, self.levels)

    @property
    def names(self) -> list[str]:
        """Of the panels, place by place."""
        return [self.turn.pattern.panels[k].name for k in self.turn.places.panel]

    @cached_property
    def _there(self) -> BoolArray:
        return self.turn.profile.there(self.levels)[self.turn.places.panel]

    @cached_property
    def sewn_builds(self) -> FloatArray:
        """`builds` as seams have them: where a gore is not, those of the panel behind it."""
        panels = self.turn.pattern.panels
        pointed = [k for k, panel in enumerate(self.turn.places.panel) if panels[panel].pointed]
        if not pointed:
            return self.builds
        builds, there = self.builds.copy(), self._there
        for k in reversed(pointed):
            builds[:, k] = np.where(there[k], builds[:, k], builds[:, k + 1])
        return builds

    def beside(
        self, psi: FloatArray, before: float, behind: float
    ) -> tuple[FloatArray, FloatArray]:
        """Directions of what begins and ends so many mm before and behind directions, (m, n).

        Widths are laid off on the drafted layer's face for all layers alike: what is as wide on
        several of them is then one column, and a face a few mm further out makes no difference.
        """
        row = np.repeat(np.arange(len(psi)), psi.shape[1])
        run = self.face.run_at(row, psi.ravel()).reshape(psi.shape)
        # What begins at a seam begins there exactly.
        return (
            self.face.psi_at(run - before) if before else psi,
            self.face.psi_at(run + behind) if behind else psi,
        )

    def places(self, channels: list[Channel]) -> tuple[FloatArray, IntArray]:
        """Directions of the middles of channels at every level, and the place that each lies in.

        Both of shape (m, channels).
        """
        pattern = self.turn.pattern
        panel = np.array([channel.panel for channel in channels], dtype=np.int64)
        ends = np.array([channel.middle[[0, -1], 1] for channel in channels]).reshape(-1, 2)
        v = np.clip(self.levels[:, None], *ends.T)
        middle = np.stack([np.interp(v[:, k], *c.middle.T[::-1]) for k, c in enumerate(channels)])
        sides, own = self._around(panel, middle, v)
        part = np.clip((middle - sides[0]) / (sides[1] - sides[0]), 0.0, 1.0).T
        backwards = np.array([pattern.ends(k)[0] == "back" for k in panel.tolist()])
        part = np.where(backwards, 1.0 - part, part)
        row = np.arange(len(self.levels))[:, None]
        first, last = self.face.bounds[row, own], self.face.bounds[row, own + 1]
        return first + part * (last - first), own

    def _around(
        self, panel: IntArray, middle: FloatArray, v: FloatArray
    ) -> tuple[FloatArray, IntArray]:
        """u of both sides of the places that lines lie in, and these: (2, k, m) and (m, k).

        *panel*: of each line, (k,). *middle*: its u, (k, m), at heights *v*, (m, k).
        """
        edges, places, (m, count) = self.turn.profile, self.turn.places, v.shape
        if places.lines is None:
            both = np.tile(v.T.ravel(), 2)
            edge = np.repeat(np.concatenate([2 * panel, 2 * panel + 1]), m)
            sides = edges.across(both, edges.at_heights(both, edge))[0].reshape(2, count, m)
            return sides, np.broadcast_to(panel, v.shape)
        sides, own = np.empty((2, count, m)), np.empty((m, count), dtype=np.int64)
        for k, u in enumerate(middle):
            mine = np.flatnonzero(places.panel == panel[k])
            ends = places.sides(edges, v[:, k]).reshape(-1, 2, m)[mine]
            # Of several places that which it lies in, or nearest to.
            nearest = np.argmin(np.maximum(ends[:, 0] - u, u - ends[:, 1]), axis=0)
            own[:, k], sides[:, k] = mine[nearest], ends[nearest, :, np.arange(m)].T
        return sides, own


def ridges_of(sewn: Sewn, site: Site) -> Ridges:
    """All ridges of a corset at every level."""
    found: list[Ridges] = []
    for shell in sewn.shells:
        found += _seams(sewn, shell, site)
    for kind, bones in enumerate(sewn.construction.bones):
        found += _bones(sewn.stack.names.index(bones.on), kind, bones, site)
    for strip in sewn.construction.strips:
        found += _strip(sewn, strip, site)
    return Ridges.together(found, len(site.levels))


def _seams(sewn: Sewn, shell: Shell, site: Site) -> Iterator[Ridges]:
    layers = [sewn.stack.names.index(name) for name in shell.layers]
    on = layers[0] - 1 if shell.lie == "inside" else layers[-1]
    full, names = site.turn.pattern.full, site.names
    count = len(names)
    # An allowance is of the cloth of both panels; shape (layers, seams, m).
    builds = site.sewn_builds
    thick = np.minimum(builds[:, :-1], builds[:, 1:]) * site.apart
    for layer in layers:
        # A piece of several panels has no seams within it.
        for group in sewn.stack.fabrics[layer].cut_in_one:
            thick[layer, sorted(map(names.index, group))[:-1]] = 0.0
    # Both halves drawn, the order comes from the back up to the centre front, where the busk goes.
    middle = count // 2 if full else 0
    busk = full and count % 2 == 0
    order = ((range(1, middle + (not busk)), -1), (range(middle + 1, count), 1))
    for seams, forward in order:
        own = np.array(seams, dtype=np.int64)
        if len(own) == 0:
            continue
        sides = shell.plies[::forward]
        for side, plies in enumerate(sides):
            by_width: dict[float, list[FloatArray]] = {}
            for ply in range(plies):
                for cloth, layer in enumerate(layers):
                    width = _trimmed(shell, cloth if max(sides) == 1 else ply)
                    by_width.setdefault(width, []).append(thick[layer, own - 1])
            by_width.pop(0.0, None)
            for width, parts in by_width.items():
                beside = (width, 0.0) if side == 0 else (0.0, width)
                low, high = site.beside(site.face.bounds[:, own], *beside)
                whole = np.sum(parts, axis=0).T
                over = shell.lie == "inside"
                yield Ridges.alike(low, high, whole, on, over=over, plies=len(parts))


def _trimmed(shell: Shell, ply: int) -> float:
    if not shell.graded:
        assert shell.allowance is not None  # a shell of a `Sewn`
        return shell.allowance
    return shell.graded[min(ply, len(shell.graded) - 1)]


def _bones(on: int, kind: int, bones: Bones, site: Site) -> Iterator[Ridges]:
    channels = channels_of(site.turn.pattern, bones)
    if not channels:
        return
    psi, place = site.places(channels)
    there = np.stack([_runs_out(site, channel) for channel in channels], axis=1)
    # A casing of no thickness still has the lines that it is stitched along.
    for width in sorted({channel.width for channel in channels}):
        own = np.array([channel.width == width for channel in channels])
        low, high = site.beside(psi[:, own], 0.5 * width, 0.5 * width)
        thick = bones.casing * there[:, own]
        plies = int(bones.casing > 0.0)
        yield Ridges.alike(low, high, thick, on, over=True, plies=plies, casing=kind)
    half = 0.5 * bones.width
    if bones.bends:
        low, high = site.beside(psi, half, half)
    else:
        # A flat bar is as wide above the face as it is: it touches it in its middle.
        radius = site.face.radii[np.arange(len(place))[:, None], place] + site.outer[on][:, None]
        turned = np.arctan2(half, radius + bones.height)
        low, high = psi - turned, psi + turned
    thick, shared = bones.height * there, [_over_fold(site.turn, channel) for channel in channels]
    yield Ridges.alike(low, high, thick, on, bar=not bones.bends, bone=kind, shared=shared)


def _over_fold(turn: TurnOfCloth, channel: Channel) -> bool:
    """Whether a channel of a half lies across the centre front, or a centre back that is closed."""
    pattern, last = turn.pattern, len(turn.pattern.panels) - 1
    ends: list[tuple[int, EdgeName]] = [(0, pattern.ends(0)[0])]
    if not turn.gap_angles.any():
        ends.append((last, pattern.ends(last)[1]))
    return not pattern.full and any(
        channel.panel == k and astride(pattern.panels[k], edge, channel.middle, channel.width)
        for k, edge in ends
    )


def _runs_out(site: Site, channel: Channel) -> FloatArray:
    """Part of a bone's height at every level: 1 along it, 0 at the edge where all is sewn together.

    From a bone's end taut cloth goes straight to that edge. On a face with straight generators each
    level between is the mean (Minkowski's) of the hull at the end and the bare face at the edge:
    perimeters add up, and what the cloth needs falls in proportion. So does a corner's
    (2 t)^1.5 / (3 sqrt(r)) if t falls as the part to the power of 2/3.
    """
    if not channel.drawn:
        return np.ones(len(site.levels))
    low, high = channel.middle[[0, -1], 1]
    rooms = room_beside(site.turn.pattern.panels[channel.panel], channel.middle)
    below, above = (min(max(room, 1.0), RUN_OUT_MM) for room in rooms)
    return _falling(np.maximum((low - site.levels) / below, (site.levels - high) / above))


def _falling(beyond: FloatArray) -> FloatArray:
    """Part of its height that a ridge has beyond its end, by parts of the way it runs out over."""
    return np.asarray(np.clip(1.0 - beyond, 0.0, 1.0) ** (2.0 / 3.0))


def _strip(sewn: Sewn, strip: Strip, site: Site) -> Iterator[Ridges]:
    on = sewn.stack.names.index(strip.on) if strip.on else -1
    pattern = site.turn.pattern
    bounds, owner = site.face.bounds, site.turn.places.panel
    count = len(owner)
    lowest = -np.inf if strip.low is None else strip.low
    highest = np.inf if strip.high is None else strip.high
    beyond = np.maximum(lowest - site.levels, site.levels - highest) / RUN_OUT_MM
    whole = strip.thickness * _falling(beyond)
    if strip.edge in ("top", "bottom"):
        ends = site.turn.profile.ends.reshape(-1, len(SIDES), 2).mean(axis=1)[owner]
        tips = [pattern.panels[k].pointed for k in owner]
        ends[[tip == "bottom" for tip in tips], 0] = -np.inf
        ends[[tip == "top" for tip in tips], 1] = np.inf
        levels = site.levels[:, None]
        beyond = (
            ends[:, 1] - strip.width - levels
            if strip.edge == "top"
            else levels - ends[:, 0] - strip.width
        )
        thick = whole[:, None] * _falling(beyond / RUN_OUT_MM)
        yield Ridges.alike(bounds[:, :-1], bounds[:, 1:], thick, on, plies=1)
        return
    if strip.edge == "seams":
        places = [j for j in range(1, count) if not (pattern.full and 2 * j == count)]
    elif strip.edge == "centre_front":
        places = [count // 2] if pattern.full else [0]
    else:
        places = [0, count] if pattern.full else [count]
    middles = bounds[:, places]
    ends = np.ones((1, len(site.levels)), dtype=np.bool_)
    apart = np.vstack([ends, site.apart, ends])
    if strip.edge == "centre_front" and pattern.full and count % 2:
        # The panel there is whole: no edge of its own lies at the centre front.
        middles, apart[places] = 0.5 * (middles + bounds[:, [count // 2 + 1]]), True
    low, high = site.beside(middles, strip.width, strip.width)
    yield Ridges.alike(low, high, (whole * apart[places]).T, on, plies=1)
