"""From a drawing to a pattern.

In: a Drawing and a Reading, which holds what the maker says of it.
Out: a Pattern of panels, seams and marks, with a ledger of all that was left out or settled.
"""

from .assembly import assemble
from .draft import Gore, Halves, NetOutline, Reading, StandsOn

__all__ = ["Gore", "Halves", "NetOutline", "Reading", "StandsOn", "assemble"]
