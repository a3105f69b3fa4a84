"""What stands up from the cloths of a corset: allowances, bones, casings, strips along edges."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np

from ..body.turn import TurnOfCloth
from ..outline import FloatArray
from ..outline.bezier import IntArray
from ..pattern.panel import Panel
from ..pattern.profile import SIDES
from .channels import Channel, channels_of
from .sewing import Bones, Sewn, Shell, Strip
from .taut import BoolArray, Face

HELD_ON_MM: Final = 30.0
"""Bones that end this near to an edge make the cloth ride over them as far as the edge: between
a bone's end and the edge there is no room to come down."""


@dataclass(frozen=True, eq=False)
class Ridge:
    """One ridge at m levels: directions of its two edges and its height in mm, shapes (m,).

    It lies on the outer side of layer `on`, -1 being the skin. A `bar` does not bend across.
    `plies` is how many cloths it counts for, `kind` whose casing it is, by the bones' number.
    """

    on: int
    low: FloatArray
    high: FloatArray
    thick: FloatArray
    bar: bool = False
    plies: int = 0
    kind: int = -1


@dataclass(frozen=True, eq=False)
class Ridges:
    """All ridges together: arrays of shape (m, q), or (q,)."""

    on: IntArray
    low: FloatArray
    high: FloatArray
    thick: FloatArray
    bar: BoolArray
    plies: IntArray
    kind: IntArray

    @classmethod
    def of(cls, ridges: list[Ridge], levels: int) -> Ridges:
        """Put them together."""
        empty = np.zeros((levels, 0))
        low, high, thick = (
            np.column_stack([getattr(ridge, name) for ridge in ridges]) if ridges else empty
            for name in ("low", "high", "thick")
        )
        return cls(
            np.array([ridge.on for ridge in ridges], dtype=np.int64),
            low,
            high,
            thick,
            np.array([ridge.bar for ridge in ridges], dtype=np.bool_),
            np.array([ridge.plies for ridge in ridges], dtype=np.int64),
            np.array([ridge.kind for ridge in ridges], dtype=np.int64),
        )

    def between(self, inner: int, outer: int) -> IntArray:
        """Numbers of the ridges that lie outside layer `inner` and inside layer `outer`."""
        return np.flatnonzero((self.on >= inner) & (self.on < outer))


@dataclass(frozen=True, eq=False)
class Site:
    """Where ridges are to be found: the panels at m levels, and the faces of the layers on them.

    `face` is that of the drafted layer's middle, `outer`, (layers, m), how far the outer side of
    each layer lies from it, `builds`, (layers, panels, m), what each cloth adds in mm.
    """

    turn: TurnOfCloth
    levels: FloatArray
    face: Face
    outer: FloatArray
    builds: FloatArray

    def beside(
        self, psi: FloatArray, before: float, behind: float
    ) -> tuple[FloatArray, FloatArray]:
        """Directions of what begins and ends so many mm before and behind a direction, (m,).

        Widths are laid off on the drafted layer's face for all layers alike: what is as wide on
        several of them is then one column, and a face a few mm further out makes no difference.
        """
        run = self.face.run_at(np.arange(len(psi)), psi)
        # What begins at a seam begins there exactly.
        return (
            self.face.psi_at((run - before)[:, None])[:, 0] if before else psi,
            self.face.psi_at((run + behind)[:, None])[:, 0] if behind else psi,
        )

    def at_seam(self, seam: int, before: float, behind: float) -> tuple[FloatArray, FloatArray]:
        """The same beside a seam, by its number in order."""
        key = seam, before, behind
        if key not in self._at_seams:
            self._at_seams[key] = self.beside(self.face.bounds[:, seam], before, behind)
        return self._at_seams[key]

    @cached_property
    def _at_seams(self) -> dict[tuple[int, float, float], tuple[FloatArray, FloatArray]]:
        return {}

    def places(self, channel: Channel) -> FloatArray:
        """Direction of a channel's middle at every level."""
        panel, edges = channel.panel, self.turn.profile
        v = np.clip(self.levels, channel.heights[0], channel.heights[-1])
        both, edge = np.concatenate([v, v]), np.repeat([2 * panel, 2 * panel + 1], len(v))
        sides = edges.across(both, edges.at_heights(both, edge))[0].reshape(2, -1)
        part = (np.interp(v, channel.heights, channel.middles) - sides[0]) / (sides[1] - sides[0])
        if self.turn.pattern.ends(panel)[0] == "back":
            part = 1.0 - part
        first, last = self.face.bounds[:, panel], self.face.bounds[:, panel + 1]
        return np.asarray(first + np.clip(part, 0.0, 1.0) * (last - first))


def ridges_of(sewn: Sewn, site: Site) -> Ridges:
    """All ridges of a corset at every level."""
    found: list[Ridge] = []
    for shell in sewn.shells:
        found += _seams(sewn, shell, site)
    for kind, bones in enumerate(sewn.construction.bones):
        on = sewn.stack.names.index(bones.on)
        for channel in channels_of(site.turn.pattern, bones):
            found += _bone(on, kind, bones, channel, site)
    for strip in sewn.construction.strips:
        found += _strip(sewn, strip, site)
    return Ridges.of(found, len(site.levels))


def _seams(sewn: Sewn, shell: Shell, site: Site) -> Iterator[Ridge]:
    layers = [sewn.stack.names.index(name) for name in shell.layers]
    on = layers[0] - 1 if shell.lie == "inside" else layers[-1]
    pattern = site.turn.pattern
    count = len(pattern.panels)
    for seam in range(1, count):
        if pattern.full and 2 * seam == count:
            continue  # the centre front, where the busk goes
        sides = shell.plies
        if pattern.full and 2 * seam < count:
            sides = sides[::-1]  # the order comes from the back here
        for side, plies in enumerate(sides):
            by_width: dict[float, list[FloatArray]] = {}
            for ply in range(plies):
                for cloth, layer in enumerate(layers):
                    width = _trimmed(shell, cloth if max(sides) == 1 else ply)
                    # An allowance is of the cloth of both panels.
                    thick = site.builds[layer, seam - 1 : seam + 1].min(axis=0)
                    by_width.setdefault(width, []).append(thick)
            by_width.pop(0.0, None)
            for width, parts in by_width.items():
                own = (width, 0.0) if side == 0 else (0.0, width)
                low, high = site.at_seam(seam, *own)
                yield Ridge(on, low, high, np.sum(parts, axis=0), plies=len(parts))


def _trimmed(shell: Shell, ply: int) -> float:
    if not shell.graded:
        return shell.allowance
    return shell.graded[min(ply, len(shell.graded) - 1)]


def _bone(on: int, kind: int, bones: Bones, channel: Channel, site: Site) -> Iterator[Ridge]:
    psi = site.places(channel)
    there = _reaches(site, channel)
    half = 0.5 * channel.width
    # A casing of no thickness still has the lines that it is stitched along.
    low, high = site.beside(psi, half, half)
    casing = bones.casing * there
    yield Ridge(on, low, high, casing, plies=int(bones.casing > 0.0), kind=kind)
    half = 0.5 * bones.width
    if bones.bends:
        low, high = site.beside(psi, half, half)
    else:
        # A flat bar is as wide above the face as it is: it touches it in its middle.
        row = np.arange(len(psi))
        radius = site.face.radii[row, site.face.panel_at(row, psi)] + site.outer[on]
        turned = np.arctan2(half, radius + bones.height)
        low, high = psi - turned, psi + turned
    yield Ridge(on, low, high, bones.height * there, bar=not bones.bends)


def _reaches(site: Site, channel: Channel) -> FloatArray:
    """1 at the levels at which there is a bone, or cloth still rides over it; else 0."""
    panel = site.turn.pattern.panels[channel.panel]
    bottom, top = _ends(panel, float(channel.middles[0])), _ends(panel, float(channel.middles[-1]))
    low = -np.inf if channel.low - bottom[0] <= HELD_ON_MM else channel.low
    high = np.inf if top[1] - channel.high <= HELD_ON_MM else channel.high
    return ((site.levels >= low) & (site.levels <= high)).astype(np.float64)


def _ends(panel: Panel, u: float) -> tuple[float, float]:
    """Where the bottom and the top edge of a panel lie at u, in mm."""
    edges = [panel.frame.to_panel(panel.edge(name).flatten()) for name in ("bottom", "top")]
    low, high = (float(np.interp(u, *_along(edge))) for edge in edges)
    return low, high


def _along(points: FloatArray) -> tuple[FloatArray, FloatArray]:
    order = np.argsort(points[:, 0], kind="stable")
    return points[order, 0], points[order, 1]


def _strip(sewn: Sewn, strip: Strip, site: Site) -> Iterator[Ridge]:
    on = sewn.stack.names.index(strip.on) if strip.on else -1
    pattern = site.turn.pattern
    bounds, count = site.face.bounds, len(pattern.panels)
    whole = np.full(len(site.levels), strip.thickness)
    if strip.edge in ("top", "bottom"):
        ends = site.turn.profile.ends.reshape(count, len(SIDES), 2)
        for panel in range(count):
            if strip.edge == "top":
                there = site.levels >= ends[panel, :, 1].mean() - strip.width
            else:
                there = site.levels <= ends[panel, :, 0].mean() + strip.width
            yield Ridge(on, bounds[:, panel], bounds[:, panel + 1], whole * there, plies=1)
        return
    if strip.edge == "seams":
        places = [j for j in range(1, count) if not (pattern.full and 2 * j == count)]
    elif strip.edge == "centre_front":
        places = [count // 2] if pattern.full else [0]
    else:
        places = [0, count] if pattern.full else [count]
    for place in places:
        low, high = site.at_seam(place, strip.width, strip.width)
        yield Ridge(on, low, high, whole, plies=1)
