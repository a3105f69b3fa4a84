"""What pytest-benchmark found, as the report's tables ask for it."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np


@dataclass(frozen=True)
class Timing:
    """Median and interquartile range in seconds."""

    median: float
    iqr: float


@dataclass(frozen=True)
class Measured:
    """All benchmarks of one run, by the names of their functions."""

    timings: Mapping[str, Timing]
    facts: Mapping[str, Mapping[str, Any]]
    """What each benchmark says beside its time."""

    @classmethod
    def load(cls, path: Path) -> Measured:
        """Read the JSON file of a run."""
        entries = json.loads(path.read_text())["benchmarks"]
        return cls(
            {e["name"]: Timing(e["stats"]["median"], e["stats"]["iqr"]) for e in entries},
            {e["name"]: e["extra_info"] for e in entries},
        )

    def sizes(self, bench: str) -> list[Mapping[str, Any]]:
        """Facts of a benchmark that was made at several sizes, the smallest first."""
        found = [facts for name, facts in self.facts.items() if name.startswith(f"{bench}[")]
        return sorted(found, key=lambda facts: facts["panels"])


@dataclass(frozen=True)
class Exponent:
    """The slope of a log-log line, and the least and greatest slope between neighbours."""

    slope: float
    least: float
    greatest: float

    @classmethod
    def of(cls, sizes: list[float], seconds: list[float]) -> Exponent:
        """Fit a line by least squares.

        >>> str(Exponent.of([1.0, 10.0, 100.0], [0.5, 5.0, 5.0e3]))
        '2.00 (1.00 to 3.00)'
        """
        x, y = np.log(sizes), np.log(seconds)
        steps = np.diff(y) / np.diff(x)
        return cls(float(np.polyfit(x, y, 1)[0]), float(steps.min()), float(steps.max()))

    def __str__(self) -> str:
        return f"{self.slope:.2f} ({self.least:.2f} to {self.greatest:.2f})"
