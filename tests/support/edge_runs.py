"""Side edges as points: what checks by closed forms need of a profile."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from panelshift.outline import FloatArray
from panelshift.pattern.panel import EdgeName
from panelshift.pattern.profile import SIDES, Profile, Spots

PARTS = 10
"""Points of each piece: half a millimetre apart at most, nearly."""


@dataclass(frozen=True, eq=False)
class EdgeRun:
    """Points of a side edge in panel coordinates, in mm: u and v, which increases.

    `arc` is the arc length from the waist, negative below it.
    """

    arc: FloatArray
    u: FloatArray
    v: FloatArray

    @property
    def reach(self) -> tuple[float, float]:
        """Lowest and highest v in mm."""
        return float(self.v[0]), float(self.v[-1])


def edge_run(found: Profile, panel: int, edge: EdgeName) -> EdgeRun:
    """Points of one edge, at equal parameters of its pieces and at its end."""
    number = 2 * panel + SIDES.index(edge)
    pieces = np.arange(found.starts[number], found.starts[number + 1])
    spots = Spots(np.repeat(pieces, PARTS), np.tile(np.arange(PARTS) / PARTS, len(pieces)))
    (u, v), arc = found.point(spots), found.arc_at(spots)
    end = found.control[pieces[-1], 3]
    columns = np.append(arc, found.arcs[1, pieces[-1]]), np.append(u, end[0]), np.append(v, end[1])
    keep = np.concatenate([[True], np.diff(np.maximum.accumulate(columns[2])) > 0.0])
    return EdgeRun(*(column[keep] for column in columns))
