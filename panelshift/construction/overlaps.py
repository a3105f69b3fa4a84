"""Raw edges that lie over each other by little: two plies there are not yet as high as two.

Cloth comes down from a raw edge over some mm. Where plies meet from two sides and overlap by less,
what is drawn over them goes from the one to the other: it rises to both only as they overlap more,
so that it leaps nowhere between a hair's breadth of a gap and one of an overlap.
"""

from __future__ import annotations

import numpy as np

from ..outline import FloatArray


def full_width(plies: FloatArray, widths: FloatArray, slope: float) -> FloatArray:
    """How high plies count of which every one is the less the narrower all is that is as high.

    *plies*: height on each of n intervals at m levels, (m, n), and *widths*, theirs in mm: what is
    `slope` mm wide or wider counts fully, and what is half as wide a half. What has no width is
    passed over.
    """
    kept, none = plies.copy(), widths <= 0.0
    row, at = np.nonzero((widths < slope) & ~none & (plies > 0.0))
    high = np.pad(np.where(none, np.inf, plies), ((0, 0), (1, 1)))
    wide = np.pad(np.maximum(widths, 0.0), ((0, 0), (1, 1)))
    first, last = at + 1, at + 1
    level, run, found = plies[row, at], widths[row, at], np.zeros(len(row))
    while (narrow := (run < slope) & (level > 0.0)).any():
        # On to what is higher of both its neighbours, which is as wide as that and this together.
        before, behind = high[row, first - 1], high[row, last + 1]
        lower = np.minimum(np.maximum(before, behind), level)
        found += np.where(narrow, (level - lower) * run / slope, 0.0)
        level = np.where(narrow, lower, level)
        on = narrow & (level > 0.0)
        back = before >= behind
        first, last = first - (on & back), last + (on & ~back)
        run = run + np.where(on, np.where(back, wide[row, first], wide[row, last]), 0.0)
    kept[row, at] = found + level
    return kept
