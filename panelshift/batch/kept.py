"""What jobs that follow each other share: the pattern, its profile and how it turns.

The rows of a table mostly change a girth, a gap or a cloth of one draft. Reading the draft takes
longer than all the rest, and the profile of its edges and the turn of its panels follow.
"""

from __future__ import annotations

from dataclasses import dataclass

from ..body.turn import TurnOfCloth, turn_of_cloth
from ..job import Job
from ..pattern.pattern import Pattern
from ..pattern.profile import Profile, profile


@dataclass
class Kept:
    """The pattern read last, its profile, and the turn reckoned last from them.

    Each is known by a hash of all that decides it (see `record.Inputs`); a job with another
    hash, or with none as its files may change under it, gets nothing that was kept.
    """

    _drawn: str = ""
    _pattern: Pattern | None = None
    _edges: Profile | None = None
    _turned: str = ""
    _turn: TurnOfCloth | None = None

    def pattern(self, drawn: str) -> Pattern | None:
        """The pattern, if it was read from just the same."""
        return self._pattern if drawn and drawn == self._drawn else None

    def keep(self, drawn: str, pattern: Pattern) -> None:
        """Keep a pattern whose file is known not to have changed while it was read."""
        if drawn and drawn != self._drawn:
            self._drawn, self._pattern = drawn, pattern
            self._edges, self._turned, self._turn = None, "", None

    def turn(self, turned: str, job: Job) -> TurnOfCloth:
        """How the job's panels turn, as kept or reckoned anew."""
        if job.pattern is not self._pattern:
            return turn_of_cloth(job.pattern, job.body, job.classes, gap=job.gap)
        if self._turn is None or turned != self._turned:
            if self._edges is None:
                self._edges = profile(job.pattern)
            self._turn = turn_of_cloth(
                job.pattern, job.body, job.classes, gap=job.gap, edges=self._edges
            )
            self._turned = turned
        return self._turn
