"""The places that panels take round the body: one each, and one more for every slit."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from typing import Final

import numpy as np
import numpy.typing as npt

from ..outline import FloatArray
from ..outline.bezier import IntArray
from ..outline.by_value import Sealed
from .edge_pieces import rising
from .pattern import Pattern
from .profile import SIDES, Profile

_CLOSED: Final = 1e-9
"""So near to its tip in mm a slit is not open yet."""


@dataclass(frozen=True, eq=False)
class Places(Sealed):
    """Panels, in order, as they lie round the body.

    A panel with a slit has a place before its gore and one behind it. Beyond the slit's tip the
    two are parted where the tip lies across the panel: together they turn as the panel does, from
    wherever that is.

    *panel*, *part*: ndarray of int, shape (places,). The panel of each, and which of its parts,
    counted from its front. *lines*: the slits, numbered panel by panel; None if there is none.
    """

    pattern: Pattern
    panel: IntArray
    part: IntArray
    lines: Profile | None = field(default=None)

    @classmethod
    def of(cls, pattern: Pattern) -> Places:
        """Those of all panels of a pattern."""
        slits = [(k, slit) for k, panel in enumerate(pattern) for slit in panel.slits]
        if not slits:
            every = np.arange(len(pattern))
            return cls(pattern, every, np.zeros_like(every))
        bare = cls(pattern, np.zeros(0, dtype=np.int64), np.zeros(0, dtype=np.int64))
        found: list[tuple[int, int]] = []
        for k, panel in enumerate(pattern):
            if k in bare.in_slits:
                continue
            own = [(k, 0)]
            for part, slit in enumerate(panel.slits, start=1):
                own += [(pattern.index(slit.piece), 0), (k, part)]
            found += own[::-1] if pattern.ends(k)[0] == "back" else own
        panel_of, part = np.array(found).T
        owner = np.array([k for k, _ in slits])
        lines = rising([slit.curve for _, slit in slits], owner, pattern.panels)
        return cls(pattern, panel_of, part, lines)

    @property
    def first(self) -> int:
        """Where those that are drawn begin in a ring: a half pattern's lie behind their mirror."""
        return 0 if self.pattern.full else len(self.panel)

    @cached_property
    def all_round(self) -> tuple[int, ...]:
        """Panels in the order of a ring, by their indices."""
        drawn = tuple(self.panel.tolist())
        return drawn if self.pattern.full else drawn[::-1] + drawn

    def columns(self, panel: int) -> IntArray:
        """A panel's own places in a ring, on the half that is drawn."""
        return self.first + np.flatnonzero(self.panel == panel)

    @cached_property
    def edges(self) -> IntArray:
        """Of the seams between places, those of each panel's front and back edge, (panels, 2).

        The first is that before the first of the drawn places.
        """
        own = [np.flatnonzero(self.panel == k) for k in range(len(self.pattern))]
        ends = np.array([(places[0], places[-1] + 1) for places in own])
        backwards = [self.pattern.ends(k)[0] == "back" for k in range(len(own))]
        ends[backwards] = ends[backwards][:, ::-1]
        return ends

    def by_panel(self, values: FloatArray) -> FloatArray:
        """Sums by panel, (..., panels), of what a ring has by place, (..., all places)."""
        return self.summed(values[..., self.first : self.first + len(self.panel)], -1)

    def summed(self, values: FloatArray, axis: int = -2) -> FloatArray:
        """Sums by panel of what is known by place, on the half that is drawn."""
        if self.lines is None:
            return values
        own = np.moveaxis(values, axis, 0)
        total = np.zeros((len(self.pattern), *own.shape[1:]))
        np.add.at(total, self.panel, own)
        return np.moveaxis(total, 0, axis)

    def open_at(self, edges: Profile, heights: FloatArray) -> npt.NDArray[np.bool_]:
        """Whether there is a seam between two places, (places - 1, m): none beyond a slit's tip."""
        slit = np.isin(self.panel, list(self.in_slits))
        there = ~slit[:, None] | edges.there(heights)[self.panel]
        return there[:-1] & there[1:]

    @cached_property
    def in_slits(self) -> frozenset[int]:
        """Gores that stand in slits, by their indices."""
        return frozenset(self.pattern.index(s.piece) for panel in self.pattern for s in panel.slits)

    @cached_property
    def slit_panels(self) -> IntArray:
        """Panel of each slit, as `lines` numbers them."""
        return np.array([k for k, panel in enumerate(self.pattern) for _ in panel.slits], np.int64)

    @cached_property
    def edges_in_slits(self) -> dict[int, int]:
        """Slit that each side edge of a gore is sewn to, by the edge's number in the profile."""
        pieces = [slit.piece for panel in self.pattern for slit in panel.slits]
        return {
            2 * self.pattern.index(piece) + side: number
            for number, piece in enumerate(pieces)
            for side in range(len(SIDES))
        }

    def sides(self, edges: Profile, heights: FloatArray) -> FloatArray:
        """u of the front and the back of each place at heights in mm, shape (2 places, m)."""
        whole = edges.sides(heights)
        if self.lines is None:
            return whole
        cuts = self._cuts(edges, heights, whole)
        rows = [cuts[k][part : part + 2] for k, part in zip(self.panel, self.part, strict=True)]
        return np.concatenate(rows)

    def _cuts(self, edges: Profile, heights: FloatArray, whole: FloatArray) -> list[FloatArray]:
        """For each panel u of its front edge, its slits and its back edge at heights."""
        assert self.lines is not None
        at_slits = self.lines.sides(heights)
        found = []
        for k, panel in enumerate(self.pattern):
            front, back = whole[2 * k], whole[2 * k + 1]
            own = at_slits[self.slit_panels == k]
            bare = np.zeros_like(own, dtype=np.bool_)
            for row, slit in enumerate(panel.slits):
                u, v = panel.frame.to_panel(slit.tip)
                low, high = edges.sides(np.array([v]))[2 * k : 2 * k + 2, 0]
                past = heights - v if slit.opens_at == "bottom" else v - heights
                bare[row] = past > -_CLOSED
                still = front + (u - low) / (high - low) * (back - front)
                own[row] = np.where(bare[row], still, own[row])
            # Where a slit is not open, it lies between those that are.
            least = np.maximum.accumulate(np.vstack([front, np.where(bare, -np.inf, own)]))
            most = np.vstack([np.where(bare, np.inf, own), back])[::-1]
            most = np.minimum.accumulate(most)[::-1]
            own = np.minimum(np.maximum(own, least[:-1]), most[1:])
            found.append(np.maximum.accumulate(np.vstack([front, own, back])))
        return found

    def widths(self, edges: Profile, heights: FloatArray) -> FloatArray:
        """Width in mm of each place at heights, shape (places, m)."""
        whole = edges.widths_at(heights)
        if self.lines is None:
            return whole
        sides = self.sides(edges, heights)
        several = np.array([bool(self.pattern.panels[k].slits) for k in self.panel])
        return np.where(several[:, None], sides[1::2] - sides[0::2], whole[self.panel])
