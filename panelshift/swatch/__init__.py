"""Swatches pinned round a former: what was read, the distance that follows, the printed strips."""

from .distance import PairFit, fit_pair
from .pairs import Comparison, compare, fit_in_stack, measured_by
from .pinned import SwatchReading
from .recorded import read_csv

__all__ = [
    "Comparison",
    "PairFit",
    "SwatchReading",
    "compare",
    "fit_in_stack",
    "fit_pair",
    "measured_by",
    "read_csv",
]
