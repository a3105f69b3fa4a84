"""Several sizes in one drawing: more outlines round each other than one panel has."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

import numpy as np

from ..outline.crossing import crossings
from .draft import Draft, FoundPanel
from .places import described

_SPREAD_MM: Final = 60.0
"""The largest size is no further from the smallest on either side of a panel."""


def tell_sizes(draft: Draft) -> None:
    """Say of each panel that more than two outlines lie round each other, and of what width.

    A panel has a net outline and a cut line at most: which of three is the net one cannot be told
    by their places.
    """
    for panel in draft.panels:
        if panel.by_place > 1:
            draft.ledger.fault(
                "several-outlines",
                f"{panel.ident}: {panel.by_place + 1} outlines lie round each other, as several "
                f"sizes do: {'; '.join(_with_waist(panel))}",
                panel.ident,
                *(shape.ident for shape in panel.companions),
                remedy="Leave out the layers of the other sizes (leave_layers in the job file), or "
                "their outlines by id (leave_out); or keep one size in the drawing.",
            )


def _with_waist(panel: FoundPanel) -> Iterator[str]:
    """The outlines of one panel, each with its width along the waistline."""
    net = panel.shapes[0]
    for shape, curve in ((net, panel.outline), *((s, s.curve) for s in panel.companions)):
        # A waistline drawn up to the smallest size lies across the others drawn on.
        found = crossings(curve, panel.waistline.curve, reach=_SPREAD_MM)
        width = ""
        if len(found) == 2:
            width = f", {np.hypot(*(found.points[1] - found.points[0])):.1f} mm at the waist"
        yield f"{described(shape)}{width}"
