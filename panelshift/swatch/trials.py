"""Test pieces measured before and after: what making up takes from cloth, and what it gives.

Each says change = value * base. The base is the length before, for what takes or gives a part of
it: quilting, cording, rows of stitching, shrinkage; a strip that hangs from a weight. For channels
it is their number, as each of them takes something when its bone goes in. For n seams of two
cloths turned in together it is pi d n: pressed open, the outer cloth, d outside the inner one,
turns by pi/2 more on either side of a seam (pi and 0 to one side), and falls short by pi d times a
factor that only a seam made up can tell.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np

from ..errors import SwatchError
from ..stack.fabric import MOST_DRAWN_LARGER
from .slope import RULER_MM, SharedError, Slope, fit_slope, upwards

TrialKind = Literal["quilting", "cording", "stitching", "shrinkage", "give", "channels", "fold"]

TAKEN: Final[Mapping[TrialKind, str]] = {
    "quilting": "taken up by quilting",
    "cording": "taken up by cording",
    "stitching": "taken up by rows of stitching",
    "shrinkage": "lost by shrinking",
    "give": "given under 1 kg on a strip of 50 mm",
    "channels": "taken by each channel when its bone goes in",
    "fold": "fold factor of seams turned in together",
}
"""Kinds of trials, and what each measures."""

Way = Literal["", "girth", "length", "bias"]
"""The way the piece lay on the body: round it, or up and down; or half way between its threads."""

KEYS: Final[Mapping[tuple[TrialKind, Way], str]] = {
    ("fold", ""): "fold_factor",
    ("give", ""): "stretch",
    ("give", "girth"): "stretch",
    ("shrinkage", ""): "shrinkage",
    ("shrinkage", "length"): "shrinkage",
    ("shrinkage", "girth"): "shrinkage_width",
}
"""Keys of the job file that a kind of trial gives; what is taken up has others."""

LOAD: Final = 0.05
"""Standard uncertainty of a load and the strip's width, as a part of what the strip gives."""

MOST: Final[Mapping[TrialKind, float]] = {
    "quilting": 0.4,
    "cording": 0.4,
    "stitching": 0.2,
    "shrinkage": 0.3,
    "give": 0.5,
    "channels": 5.0,
    "fold": 1.0,
}
"""Beyond these a number is a slip more often than the cloth is odd (common practice, no source);
the fold's is its bound by geometry."""


@dataclass(frozen=True)
class Trial:
    """One test piece; lengths in mm.

    *layer*: the fabric, or the outer one of a fold, whose *inner* one is named besides. *before*
    and *after*: its length; for channels across all of them, from stitch line to stitch line; for a
    fold the ends of inner and outer cloth from where they lay together, so that `before - after`
    is what the outer falls short by. *count*: of channels or seams. *u_length*: standard
    uncertainty of each length, None for that of a ruler.

    Raises `SwatchError` if a number cannot be right.
    """

    kind: TrialKind
    layer: str
    before: float
    after: float
    way: Way = ""
    count: int = 1
    inner: str = ""
    u_length: float | None = None
    origin: str = ""

    def __post_init__(self) -> None:
        least = 0.0 if self.kind == "fold" else 10.0
        for label, value in (("before", self.before), ("after", self.after)):
            if not (math.isfinite(value) and least <= value <= 5000.0):
                raise self.fault(
                    f"the length {label} is {value:g} mm",
                    "Give lengths in mm, or with their unit (20 cm); a piece of 200 mm or more "
                    "shows most.",
                )
        if not 1 <= self.count <= 200:
            raise self.fault(f"{self.count} channels or seams", "Give how many were measured.")
        if self.u_length is not None and not (math.isfinite(self.u_length) and self.u_length > 0.0):
            raise self.fault(
                f"the uncertainty of a length is {self.u_length:g} mm",
                f"Give more than 0, or leave it out: a ruler's {RULER_MM:g} mm is then taken.",
            )
        if self.change < -3.0 * self.spread:
            more, less = ("shorter", "longer") if self.kind == "give" else ("longer", "shorter")
            raise self.fault(
                f"the piece is {more} after it ({self.after:g} mm) than before "
                f"({self.before:g} mm)",
                f"It only ever gets {less}: see whether the two are exchanged.",
            )

    @property
    def change(self) -> float:
        """What the piece lost in mm, or gained where it hung."""
        return self.after - self.before if self.kind == "give" else self.before - self.after

    @property
    def spread(self) -> float:
        """Standard uncertainty of the change in mm: two lengths are read."""
        return math.sqrt(2.0) * (RULER_MM if self.u_length is None else self.u_length)

    def fault(self, problem: str, remedy: str) -> SwatchError:
        """Return an error that says which piece is meant."""
        return SwatchError(problem, remedy=remedy, element=self.origin)


@dataclass(frozen=True, eq=False)
class TrialFit:
    """What test pieces of one kind say.

    *line*: a part of 1, mm a channel, or the fold factor.
    """

    trials: tuple[Trial, ...]
    line: Slope

    @property
    def kind(self) -> TrialKind:
        """What was tried."""
        return self.trials[0].kind

    @property
    def name(self) -> str:
        """Layer and kind in words."""
        first = self.trials[0]
        pair = f"{first.inner} to {first.layer}" if first.inner else first.layer
        way = {
            "": "",
            "girth": ", round the body",
            "length": ", up and down",
            "bias": ", on the bias",
        }[first.way]
        return f"{pair}: {TAKEN[first.kind]}{way}"

    @property
    def said(self) -> str:
        """What was found, in a line."""
        times, unit = {"channels": (1.0, " mm"), "fold": (1.0, "")}.get(self.kind, (100.0, " %"))
        value, spread, low, high = (
            times * number
            for number in (self.line.value, self.line.uncertainty, *self.line.interval)
        )
        return (
            f"{self.name}: {value:.2f}{unit}, 95 % between {low:.2f} and {high:.2f}{unit} "
            f"(uncertainty {spread:.2f}{unit}, from {len(self.trials)})"
        )

    @property
    def taken_up(self) -> float:
        """Part of a cut piece that sewing takes; 0 of what is no such trial."""
        if self.kind in ("quilting", "cording", "stitching"):
            return max(self.line.value, 0.0)
        if self.kind == "channels":
            count = sum(trial.count for trial in self.trials)
            return max(self.line.value, 0.0) * count / sum(trial.before for trial in self.trials)
        return 0.0

    @property
    def u_taken_up(self) -> float:
        """Its uncertainty for an entry: each is known as well as the fitted number is."""
        known = self.line.entry_uncertainty
        return self.taken_up * known / self.line.value if self.taken_up else 0.0

    def warnings(self) -> tuple[str, ...]:
        """What the maker should look at."""
        found = []
        if self.taken_up > MOST_DRAWN_LARGER:
            found.append("more than pieces can be drawn larger for: sew first, then cut")
        if len(self.trials) == 1:
            found.append("one piece only: nothing shows how far pieces differ")
        if not self.line.consistent:
            found.append("the pieces do not agree: measure them again")
        if self.line.interval[1] <= 0.0 or self.line.interval[0] <= 0.0:
            found.append("it cannot be told from nothing: take longer or more pieces")
        return tuple(f"{self.name}: {words}" for words in found)


def fit_trials(
    trials: Sequence[Trial], distance: float | None = None, u_distance: float = 0.0
) -> TrialFit:
    """Fit what test pieces of one kind, layer and way have in common.

    *distance*: between the middles of a fold's two cloths in mm, and its standard uncertainty.

    Raises `SwatchError` if there is none, they are of several kinds, a fold has no distance, or the
    result can hardly be right.
    """
    if not trials:
        raise SwatchError(
            "there is no piece", remedy="Measure one piece before and after at least."
        )
    first = trials[0]
    for trial in trials:
        if group_of(trial) != group_of(first):
            raise trial.fault(
                "pieces of several kinds are fitted together", "Fit each kind and layer by itself."
            )
    count = np.array([trial.count for trial in trials])
    none = np.zeros(len(trials))
    everywhere = np.ones((len(trials), len(trials)))
    shared: dict[str, SharedError] = {}
    base = np.array([trial.before for trial in trials])
    if first.kind == "channels":
        base = count
    elif first.kind == "give":
        shared["load"] = SharedError(none, LOAD * base, everywhere)
    elif first.kind == "fold":
        if distance is None or distance <= 0.0:
            raise first.fault(
                "how far the two cloths of a fold lie apart is not known",
                "Give the job file, or the thicknesses of both.",
            )
        base = math.pi * distance * count
        shared["distance"] = SharedError(none, math.pi * u_distance * count, everywhere)
    line = fit_slope(
        base,
        np.array([trial.change for trial in trials]),
        np.array([trial.spread for trial in trials]),
        shared,
        stated=any(trial.u_length is not None for trial in trials),
    )
    most = MOST[first.kind]
    if line.interval[0] > most:
        raise first.fault(
            f"{TrialFit(tuple(trials), line).name}: {line.value:.3g}, more than can be "
            f"({most:g} at most)",
            "Measure again, all in one unit or each with its own; for a fold see whether the two "
            "cloths lie as far apart as the job says, and were sewn as one.",
        )
    return TrialFit(tuple(trials), line)


@dataclass(frozen=True)
class JobEntry:
    """A key of the job file that test pieces give: of a fabric, or of the whole corset if empty."""

    layer: str
    key: str
    value: float
    uncertainty: float
    words: str = ""

    @property
    def line(self) -> str:
        """What to write into the job file."""
        if not self.layer:
            return (
                f"{self.key} = {self.value:.2f}   # in [construction], with {self.key}_uncertainty "
                f"= {upwards(self.uncertainty, 2)}"
            )
        words = f": {self.words}" if self.words else ""
        return f"{self.key} = {self.value:.4f}   # in the [[stack.fabric]] of {self.layer}{words}"


def job_entries(fits: Sequence[TrialFit]) -> list[JobEntry]:
    """What test pieces give a job.

    All that is sewn into a fabric takes up one part each way, one after the other:
    1 - (1 - a)(1 - b). Nothing where it is more than can be drawn larger.
    """
    entries = []
    for fit in fits:
        first, value = fit.trials[0], min(fit.line.value, 1.0)
        if (key := KEYS.get((fit.kind, first.way), "")) and value > 0.0:
            layer = "" if fit.kind == "fold" else first.layer
            entries.append(JobEntry(layer, key, value, min(fit.line.entry_uncertainty, 1.0)))
    found: dict[tuple[str, str], list[TrialFit]] = {}
    for fit in fits:
        if fit.taken_up > 0.0:
            key = "take_up_length" if fit.trials[0].way == "length" else "take_up"
            found.setdefault((fit.trials[0].layer, key), []).append(fit)
    for (layer, key), own in found.items():
        share = 1.0 - math.prod(1.0 - fit.taken_up for fit in own)
        if not 5e-5 <= share <= MOST_DRAWN_LARGER:
            continue
        words = ", ".join(fit.kind for fit in own)
        for fit in own:
            if fit.kind == "channels":
                apart = fit.line.value / fit.taken_up
                words += f" as close as on the piece, one every {apart:.3g} mm"
        if key == "take_up":
            spread = math.hypot(
                *(fit.u_taken_up * (1.0 - share) / (1.0 - fit.taken_up) for fit in own)
            )
            words += f"; take_up_uncertainty = {upwards(spread, 4)}"
        entries.append(JobEntry(layer, key, share, spread if key == "take_up" else 0.0, words))
    return entries


def group_of(trial: Trial) -> tuple[str, ...]:
    """What trials that are fitted together have in common."""
    return trial.kind, trial.inner, trial.layer, trial.way
