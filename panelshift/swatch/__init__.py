"""Swatches pinned round a former: what was read, the distance that follows, the printed strips."""

from .boned import BonedFit, BonedReading
from .distance import PairFit, fit_pair
from .pairs import (
    Comparison,
    bones_in_stack,
    compare,
    fit_in_stack,
    grouped,
    measured_by,
    trials_in_stack,
)
from .pinned import SwatchReading
from .recorded import Reading, only, read_csv
from .trials import Trial, TrialFit

__all__ = [
    "BonedFit",
    "BonedReading",
    "Comparison",
    "PairFit",
    "Reading",
    "SwatchReading",
    "Trial",
    "TrialFit",
    "bones_in_stack",
    "compare",
    "fit_in_stack",
    "fit_pair",
    "grouped",
    "measured_by",
    "only",
    "read_csv",
    "trials_in_stack",
]
